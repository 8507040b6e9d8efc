"""One million fixes with a radius against 50 areas of 500 corners, beside the fastest bare way without one.

Run: python -m tests.bench.bench_areas (or python tests/bench/bench_areas.py from the project's folder).
Prints medians of several rounds in one run and their ratio; the ratio is what to watch, times move with the
machine.
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parents[2]))

from api.domain.places.areas import Fix, judge_fix, verdicts_among
from api.domain.places.bulk import INSIDE, judge_many

ROUNDS = 7
GOAL = 3.0


def areas(rng: np.random.Generator, count: int = 50, corners: int = 500) -> list[shapely.Polygon]:
    """Lobed areas, about a tenth of the region wide each, somewhere on a south-eastern coast."""
    made = []
    for _ in range(count):
        turn = np.linspace(0, 2 * np.pi, corners, endpoint=False)
        radius = 0.045 * (1 + 0.2 * np.sin(5 * turn + rng.uniform(0, 6)) + 0.02 * rng.standard_normal(corners))
        lon, lat = rng.uniform(150, 151), rng.uniform(-37, -36)
        made.append(shapely.Polygon(np.c_[lon + radius * np.cos(turn), lat + radius * np.sin(turn)]))
    return made


def bare(shapes: list[shapely.Polygon], lons: np.ndarray, lats: np.ndarray) -> int:
    """Bounds mask, then contains_xy on what is left: no radius, no distance."""
    hits = 0
    for shape in shapes:
        west, south, east, north = shape.bounds
        near = np.flatnonzero((lons >= west) & (lons <= east) & (lats >= south) & (lats <= north))
        hits += int(shapely.contains_xy(shape, lons[near], lats[near]).sum())
    return hits


def fresh(shapes: list[shapely.Polygon]) -> list[shapely.Polygon]:
    """Copies that nothing has been prepared or kept for."""
    return [shapely.from_wkb(shapely.to_wkb(shape)) for shape in shapes]


def timed(work) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    rng = np.random.default_rng(20260401)
    shapes = areas(rng)
    lons, lats = rng.uniform(150, 151, 1_000_000), rng.uniform(-37, -36, 1_000_000)
    radii = rng.uniform(3, 60, 1_000_000)
    bare_s, cold_s, warm_s = [], [], []
    for _ in range(ROUNDS):
        copies = fresh(shapes)
        for copy in copies:
            shapely.prepare(copy)
        bare_s.append(timed(lambda copies=copies: bare(copies, lons, lats)))
        copies = fresh(shapes)
        cold_s.append(timed(lambda copies=copies: judge_many(copies, lons, lats, radii)))
        warm_s.append(timed(lambda copies=copies: judge_many(copies, lons, lats, radii)))
    base = statistics.median(bare_s)
    verdicts = judge_many(shapes, lons, lats, radii)
    print(f"bare contains, no radius: {base:.3f} s, {bare(shapes, lons, lats):,} hits")
    for name, seconds in (("first use of the areas", cold_s), ("areas already known", warm_s)):
        middle = statistics.median(seconds)
        print(f"judge_many, {name}: {middle:.3f} s, {middle / base:.2f} times the bare way (goal {GOAL})")
    print(f"inside for certain {int((verdicts == INSIDE).sum()):,}, cannot tell {int((verdicts == 0).sum()):,}")
    single(shapes)


def single(shapes: list[shapely.Polygon]) -> None:
    """One fix: against one area near and far, and its verdicts against all of them."""
    west, south, *_ = shapes[0].bounds
    far = Fix(lat=south - 0.3, lon=west - 0.3, radius_m=20)
    near = Fix(lat=south, lon=west, radius_m=20)
    for name, work in (
        ("judge_fix, far from the area", lambda: judge_fix(shapes[0], far)),
        ("judge_fix, near the area", lambda: judge_fix(shapes[0], near)),
        ("verdicts_among 50 areas", lambda: verdicts_among(shapes, near)),
    ):
        work()
        spent = statistics.median(timed(lambda work=work: [work() for _ in range(200)]) / 200 for _ in range(ROUNDS))
        print(f"{name}: {spent * 1e6:.0f} us")


if __name__ == "__main__":
    main()
