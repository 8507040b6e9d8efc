from __future__ import annotations

import numpy as np
import pytest
import shapely

from api.domain.places.areas import (
    Area,
    Fix,
    distance_to_m,
    judge_fix,
    together,
)
from api.domain.places.bulk import judge_many
from api.domain.places.ellipsoid import WGS84
from tests.domain.waters import ONWARD, SPLIT, SQUARE, at, creek, moved

BOX = shapely.box(-75, 45, -74.99, 45.01)
CODES = {"inside": 1, "cannot tell": 0, "outside": -1}


def test_distance_to_a_point_a_line_and_an_area_has_low_best_and_high():
    lon, lat = moved(150.0, -36.0, 90, 100)
    gap = distance_to_m(shapely.Point(150, -36), at(lon, lat, 12))
    assert (gap.low_m, gap.best_m, gap.high_m) == pytest.approx((88, 100, 112), abs=0.01)
    jetty = shapely.LineString([(150, -36.01), (150, -35.99)])
    assert distance_to_m(jetty, at(lon, lat, 12)).best_m == pytest.approx(100, abs=0.01)
    lease = Area("l", "Lease", shapely.box(149.99, -36.01, 150, -35.99), edge_tolerance_m=8)
    gap = distance_to_m(lease, at(lon, lat, 12))
    assert (gap.low_m, gap.best_m, gap.high_m) == pytest.approx((80, 100, 120), abs=0.01)


def test_distance_within_a_feature_is_zero_and_unknown_radius_leaves_the_ends_open():
    assert distance_to_m(SQUARE, at(150.01, -36.01)).high_m == 0
    gap = distance_to_m(SQUARE, Fix(lat=-36.01, lon=150.03))
    assert (gap.low_m, gap.high_m) == (None, None)
    assert gap.best_m == pytest.approx(WGS84.inv(150.03, -36.01, 150.02, -36.01)[2], abs=0.1)


def test_a_haul_is_as_near_as_its_nearest_stretch():
    point = shapely.Point(150.01, -36.0)
    gap = distance_to_m(point, [at(150.0, -36.001), at(150.02, -36.001)])
    assert gap.best_m == pytest.approx(WGS84.inv(150.01, -36.0, 150.01, -36.001)[2], abs=0.05)
    assert gap.low_m == pytest.approx(gap.best_m - 5, abs=1e-9)


def test_areas_taken_together_lose_their_inner_edge():
    west = Area("w", "West", shapely.box(150, -36.01, 150.01, -36), edge_tolerance_m=2, kind="permitted")
    east = Area("e", "East", shapely.box(150.01, -36.01, 150.02, -36), edge_tolerance_m=4, kind="permitted")
    both = together([west, east])
    fix = at(150.01, -36.005, 100)
    assert judge_fix(west, fix).verdict == "cannot tell"
    assert judge_fix(both, fix).verdict == "inside"
    assert (both.edge_tolerance_m, both.kind) == (4, "permitted")
    with pytest.raises(ValueError, match="no area to join"):
        together([])


def test_many_fixes_at_once_get_the_verdicts_of_one_by_one():
    rng = np.random.default_rng(8)
    places = [
        creek(),
        Area("s", "S", SQUARE, edge_tolerance_m=15),
        SPLIT,
        ONWARD,
        shapely.box(-180, -90, 180, -80),
        shapely.box(148, -38, 152, -34),
        shapely.box(179.5, -17, 179.99, -16),
    ]
    centres = [(150.12, -36.21), (150.01, -36.01), (180, -16.95), (180, -16.95), (20, -80), (150, -36), (180, -16.5)]
    lons = np.concatenate([rng.normal(lon, 0.04, 120) for lon, _ in centres])
    lons = (lons + 180) % 360 - 180
    lats = np.clip(np.concatenate([rng.normal(lat, 0.04, 120) for _, lat in centres]), -90, 90)
    radii = 10 ** rng.uniform(0, 5.3, len(lons))
    radii[::50] = np.nan
    verdicts = judge_many(places, lons, lats, radii)
    for row, place in zip(verdicts, places, strict=True):
        alone = [
            CODES[judge_fix(place, Fix(lat=lat, lon=lon, radius_m=None if np.isnan(r) else r)).verdict]
            for lon, lat, r in zip(lons.tolist(), lats.tolist(), radii.tolist(), strict=True)
        ]
        assert row.tolist() == alone
        assert {-1, 0, 1} >= set(alone) > {0}


@pytest.mark.parametrize(
    ("lons", "lats", "radii"),
    [([150, 151], [-36], [5]), ([150], [-91], [5]), ([np.nan], [-36], [5]), ([150], [-36], [0])],
)
def test_many_fixes_with_impossible_values_are_refused(lons, lats, radii):
    with pytest.raises(ValueError):
        judge_many([SQUARE], np.array(lons), np.array(lats), np.array(radii))
