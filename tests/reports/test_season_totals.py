"""Every keyed figure printed in the sample season's report, recomputed from the files in plain Python.

Only the PDF and the reading back of its figures are the program's. The files are read by tests/plain_sample.py, and
what each limit counts is written from the permit's words in tests/plain_limits.py; the scenario is invented.
"""

from __future__ import annotations

import json
import math
import re
import shutil
from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path
from statistics import fmean, stdev

import pytest

from api.cli import main
from reports.pdf_text import printed_figures
from tests.plain_limits import LIMITS
from tests.plain_sample import (
    AS_OF,
    FATES,
    GAINS,
    PERMIT,
    SAMPLE,
    Own,
    Plain,
    Row,
    decimals,
    number,
    own_of,
    read_plain,
    seconds,
    taxon_of,
)

WAYS = ("died", "released", "transferred", "sold", "voucher", "escaped", "used up", "presumed dead", "missing")

Figures = dict[str, str]


# --- how figures are written


def added(rows: Iterable[Row]) -> str:
    rows = list(rows)
    estimated = sum(row["best"] for row in rows if row["estimated"])
    text = number(sum(row["best"] for row in rows))
    return f"{text} ({number(estimated)} est.)" if estimated else text


def by(rows: Iterable[Row], key: Callable[[Row], str]) -> dict[str, list[Row]]:
    groups: dict[str, list[Row]] = {}
    for row in rows:
        groups.setdefault(key(row), []).append(row)
    return groups


# --- the season, the catch, the sizes


def season_figures(own: Own) -> Figures:
    worked = {haul["trip"] for haul in own.hauls}
    trips = [
        trip
        for trip in own.plain.trips
        if (trip["authority"] == PERMIT or trip["id"] in worked) and trip["status"] in ("open", "closed")
    ]
    return {
        "season/trips": str(len(trips)),
        "season/hauls": str(len(own.hauls)),
        "season/nil-hauls": str(sum(not haul["rows"] for haul in own.hauls)),
        "season/lines": str(len(own.rows)),
        "season/held": account(own.plain, own.animals)["held"],
        **by_fate("season", own.animals),
    }


def by_fate(key: str, rows: list[Row]) -> Figures:
    sums = {f"{key}/{fate}": added(row for row in rows if row["fate"] == fate) for fate in FATES}
    return {f"{key}/handled": added(rows), **sums}


def catch_figures(own: Own) -> Figures:
    found = by_fate("catch/all", own.animals)
    for taxon, rows in by(own.animals, taxon_of).items():
        found |= by_fate(f"catch/{taxon}", rows) | by_fate(f"place/{taxon}", rows)
        for site, there in by(rows, lambda row: own.plain.sites[row["site"]]).items():
            for month, then in by(there, lambda row: row["day"][:7]).items():
                found |= by_fate(f"place/{taxon}/{site}/{month}", then)
    return found


def size_figures(own: Own) -> Figures:
    found: Figures = {}
    for taxon, rows in by(own.animals, taxon_of).items():
        runs: dict[str, list[int]] = {}
        for measure, value in (pair for row in rows for pair in row["measured"]):
            runs.setdefault(measure, []).append(value)
        for measure, values in runs.items():
            key = f"sizes/{taxon}/{measure}"
            found |= {
                f"{key}/n": str(len(values)),
                f"{key}/of": added(rows),
                f"{key}/smallest": decimals(Fraction(min(values), 10), 1),
                f"{key}/mean": decimals(Fraction(sum(values), 10 * len(values)), 1),
                f"{key}/largest": decimals(Fraction(max(values), 10), 1),
            }
    return found


def material_figures(own: Own) -> Figures:
    kept = [row for row in own.rows if row["unit"] != "individuals" and row["fate"] == "kept"]
    return {
        f"material/{taxon}/{unit}": f"{number(sum(row['best'] for row in part))} {unit}"
        for taxon, rows in by(kept, taxon_of).items()
        for unit, part in by(rows, lambda row: row["unit"]).items()
    }


# --- what has become of everything kept


def account(plain: Plain, rows: list[Row]) -> Figures:
    """Kept + gained = gone by any way + held. Everything of it was counted, so each is one number."""
    kept = [row for row in rows if row["fate"] == "kept"]
    assert not any(row["estimated"] for row in kept)
    lines = {row["line"] for row in kept}
    sums = dict.fromkeys(("gained", *WAYS), 0)
    for one in plain.movements:
        if one["line"] in lines and one["at"] <= AS_OF:
            sums["gained" if one["what"] in GAINS else one["what"]] += one["best"]
    come = sum(row["best"] for row in kept) + sums["gained"]
    held = come - sum(sums[way] for way in WAYS)
    assert held >= 0
    return {"kept": added(kept), "held": number(held)} | {name: number(amount) for name, amount in sums.items()}


def whereabouts_figures(own: Own) -> Figures:
    kept = [row for row in own.animals if row["fate"] == "kept"]
    everything = account(own.plain, kept)
    used = [way for way in WAYS if everything[way] != "0"]
    found: Figures = {}
    for taxon, rows in {"all": kept, **by(kept, taxon_of)}.items():
        figures = account(own.plain, rows)
        found |= {f"whereabouts/{taxon}/{name}": figures[name] for name in ("kept", "gained", *used, "held")}
    return found


# --- effort


def student(freedom: int) -> float:
    """Give the two-sided 95 % point of Student's t: its density added up (Simpson) until 0.475 is reached."""
    scale = math.exp(math.lgamma((freedom + 1) / 2) - math.lgamma(freedom / 2)) / math.sqrt(freedom * math.pi)

    def density(at: float) -> float:
        return scale * (1 + at * at / freedom) ** (-(freedom + 1) / 2)

    step, at, area = 1e-3, 0.0, 0.0
    while area < 0.475:
        area += step / 6 * (density(at) + 4 * density(at + step / 2) + density(at + step))
        at += step
    return at - (area - 0.475) / density(at)


# Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, column 0.975; figures from memory.
@pytest.mark.parametrize(("freedom", "point"), [(1, 12.706), (2, 4.303), (5, 2.571), (15, 2.131), (39, 2.023)])
def test_student_points_are_the_handbooks(freedom: int, point: float) -> None:
    assert round(student(freedom), 3) == point


def effort_figures(own: Own) -> Figures:
    found: Figures = {}
    for key, hauls in by(own.hauls, lambda haul: f"effort/{haul['gear']}/{haul['kind']}").items():
        catches = [sum(row["best"] for row in haul["rows"] if row["unit"] == "individuals") for haul in hauls]
        reach = student(len(hauls) - 1) * stdev(catches) / math.sqrt(len(hauls))
        mean = fmean(catches)
        found |= {
            f"{key}/number": str(len(hauls)),
            f"{key}/nothing": str(sum(not haul["rows"] for haul in hauls)),
            f"{key}/units": str(sum(haul["units"] for haul in hauls)),
            f"{key}/hours": decimals(Fraction(sum(map(seconds, hauls)), 3600), 1),
            f"{key}/rate": f"{mean:.1f} ({max(0, mean - reach):.1f} to {mean + reach:.1f})",
        }
    return found


def limit_figures(own: Own) -> Figures:
    """Print the gravest and fullest tally of each limit; equals must print the same, or none is the fullest."""
    found: Figures = {}
    for name, limit in LIMITS.items():
        tallies = list(limit.tallies(own))
        most = max(tally.weight for tally in tallies)
        (texts,) = {tally.texts() for tally in tallies if tally.weight == most}
        found |= {f"limits/{name}/{what}": text for what, text in zip(("taken", "used", "left"), texts, strict=True)}
    return found


def all_figures(folder: Path) -> Figures:
    own = own_of(read_plain(folder))
    sections = (
        season_figures,
        limit_figures,
        catch_figures,
        effort_figures,
        size_figures,
        whereabouts_figures,
        material_figures,
    )
    return {key: text for section in sections for key, text in section(own).items()}


# --- the report


def report_of(folder: Path, out: Path) -> Figures:
    authorities = sorted(map(str, folder.glob("authority-*.json")))
    assert main(["report", *authorities, "--trips", str(folder), "--as-of", AS_OF, "--out", str(out)]) == 0
    return printed_figures(out.read_bytes())


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Figures:
    return report_of(SAMPLE, tmp_path_factory.mktemp("report") / "season.pdf")


@pytest.fixture(scope="module")
def expected() -> Figures:
    return all_figures(SAMPLE)


def test_every_printed_figure_follows_from_the_files(printed: Figures, expected: Figures) -> None:
    assert printed.keys() == expected.keys()
    differing = {key: (printed[key], text) for key, text in expected.items() if printed[key] != text}
    assert differing == {}


def test_the_report_is_full_of_figures(printed: Figures) -> None:
    sections = {key.split("/")[0] for key in printed}
    assert sections == {"season", "limits", "catch", "place", "effort", "sizes", "whereabouts", "material"}
    assert len(printed) == 2964


# --- one animal more

HARDYHEAD = "Atherinosoma microstoma"
ONE_MORE = (
    *("season/handled", "season/kept", "season/held", "season/lines"),
    *(f"{key}/{fate}" for key in ("catch/all", f"catch/{HARDYHEAD}") for fate in ("handled", "kept")),
    *(
        f"place/{HARDYHEAD}{where}/{fate}"
        for where in ("", "/Merrin Jetty beach/2027-07")
        for fate in ("handled", "kept")
    ),
    f"sizes/{HARDYHEAD}/total length/of",
    *(f"whereabouts/{taxon}/{what}" for taxon in ("all", HARDYHEAD) for what in ("kept", "held")),
)
"""The sums that grow by one: their first number does."""
OTHERS_THEN = {
    "effort/seine/haul/rate": "130.8 (82.8 to 178.7)",  # 5230 animals in 40 hauls; 5229 before
    "limits/2.1//taken": "137 to 148",
    "limits/2.1//used": "91 to 99 %",
    "limits/2.1//left": "2 to 13",
    "limits/2.2//taken": "160 to 165",  # still 80 to 82 %: 82.5 goes to the even digit
    "limits/2.2//left": "35 to 40",
    "limits/2.3/per permit year/taken": "297",  # 82.5 % here too
    "limits/2.3/per permit year/left": "63",
}


def with_one_more(folder: Path) -> None:
    """Add a hardyhead kept at Merrin Jetty beach in July to the first haul of the season."""
    path = folder / "trips-2027-winter.json"
    content = json.loads(path.read_text(encoding="utf-8"))
    haul = content["trips"][0]["hauls"][0]
    assert haul["id"] == "K27-01-1"
    haul["lines"].append({"id": "K27-01-1-z", "taxon": HARDYHEAD, "count": 1, "fate": "kept"})
    path.write_text(json.dumps(content), encoding="utf-8")


def test_one_animal_more_changes_the_figures_it_belongs_to(printed: Figures, expected: Figures, tmp_path: Path) -> None:
    folder = tmp_path / "season"
    shutil.copytree(SAMPLE, folder)
    with_one_more(folder)
    then = report_of(folder, tmp_path / "changed.pdf")
    changed = {key: text for key, text in then.items() if printed.get(key) != text}
    grown = {key: re.sub(r"^\d+", lambda found: str(int(found[0]) + 1), printed[key]) for key in ONE_MORE}
    assert then.keys() == printed.keys()
    assert changed == grown | OTHERS_THEN
    recomputed = all_figures(folder)
    assert changed == {key: text for key, text in recomputed.items() if expected[key] != text}
