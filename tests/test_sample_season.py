"""The sample season holds what its story says.

Expected outcomes are read from sample_trips/STORY.md, and totals are summed in plain Python over the
files themselves (tests/plain_sample.py), without the program's readers or rules. The scenario is invented: its
numbers are checked against each other, not against an outside source.
"""

from __future__ import annotations

import re
from collections import Counter
from datetime import date
from typing import get_args

import pytest

from api.domain.calendar import instant
from api.domain.conditions import AnyCondition
from api.domain.facts import Book
from api.domain.judge import Answer, Judgement, judge
from api.domain.trips import Season
from api.exchange.area_files import read_areas
from api.exchange.books import read_book, read_season
from tests.plain_sample import LICENCE, LINES, PERMIT, SAMPLE, loaded, summed

AUTHORITIES = [SAMPLE / "authority-1-collecting-permit.json", SAMPLE / "authority-2-recreational-licence.json"]
TRIPS = sorted(
    [
        *SAMPLE.glob("trips-*.json"),
        SAMPLE / "office-2027-28.json",
        SAMPLE / "trip-K28-03.xlsx",
        SAMPLE / "trip-K28-04-lines.csv",
    ]
)
AS_OF = instant("2028-07-14T12:00", "Australia/Hobart")


@pytest.fixture(scope="module")
def book() -> Book:
    found, faults = read_book(AUTHORITIES)
    assert list(faults) == []
    assert found is not None
    return found


@pytest.fixture(scope="module")
def season(book: Book) -> Season:
    found, faults = read_season(TRIPS, book)
    assert list(faults) == []
    return found


@pytest.fixture(scope="module")
def judgement(book: Book, season: Season) -> Judgement:
    return judge(book, season, AS_OF)


@pytest.fixture(scope="module")
def answers(judgement: Judgement) -> dict[tuple[str, str], Answer]:
    return {(answer.authority, answer.number): answer for answer in judgement.answers}


def tally_of(answer: Answer, about: str = "", label: str = "", version: int = 0) -> tuple[int, int]:
    """Give low and high of the one finding's tally that is meant."""
    found = [
        one.tally
        for one in answer.findings
        if one.tally is not None and about in one.about and one.label == label and version in (0, one.version)
    ]
    assert len(found) == 1, [(one.about, one.label, one.version) for one in answer.findings]
    return int(found[0].after.low), int(found[0].after.high)


# --- counts


def test_the_season_is_as_large_as_it_says() -> None:
    hauls = {(row["trip"], row["haul"]) for row in LINES}
    assert len(LINES) == 454
    assert len({row["trip"] for row in LINES}) == 20
    assert len(hauls) == 77  # and one haul with nothing in it
    assert Counter(row["fate"] for row in LINES).keys() == {"kept", "released", "dead", "lost"}


def test_readers_give_every_record_of_the_files(season: Season) -> None:
    assert len(season.trips) == 21
    assert Counter(trip.status for trip in season.trips) == {"closed": 20, "cancelled": 1}
    assert sum(len(trip.hauls) for trip in season.trips) == 78
    assert sum(len(haul.lines) for trip in season.trips for haul in trip.hauls) == len(LINES)
    assert [haul.id for trip in season.trips for haul in trip.hauls if not haul.lines] == ["K27-02-4"]
    office = loaded("office-2027-28.json")
    for key in ("notices", "incidents", "movements", "shared_totals", "corrections"):
        assert len(getattr(season, key)) == len(office[key]) > 0
    assert season.filings == ()


def test_the_permit_uses_every_kind_of_condition_and_is_amended_once(book: Book) -> None:
    permit = book.authority(PERMIT)
    kinds = {kind.__dataclass_fields__["kind"].default for kind in get_args(AnyCondition)}
    assert len(kinds) == 18
    assert {condition.kind for condition in permit.conditions} == kinds  # type: ignore[attr-defined]
    assert len(permit.conditions) == 51
    assert len(book.authority(LICENCE).conditions) == 13
    assert [len(one.conditions) for one in permit.amendments] == [3]


def test_the_permit_uses_what_limits_can_say() -> None:
    limits = [one for one in loaded(AUTHORITIES[0].name)["conditions"] if one["kind"] == "take limit"]
    bounds = [bound for one in limits for bound in one["limits"]]
    assert {bound["period"] for bound in bounds} >= {"day", "rolling days", "month", "permit year", "trip", "held"}
    assert {one.get("holder", "permit") for one in limits} >= {
        "permit",
        "person",
        "site",
        "area",
        "waterbody",
        "everybody",
    }
    assert {one.get("counts", "kept") for one in limits} == {"kept", "kept and dead", "handled"}
    assert {bound.get("operator", "at most") for bound in bounds} == {"at most", "fewer than"}
    for key in ("group", "unlisted", "each", "crew_cap", "after", "parts"):
        assert any(one.get(key) for one in limits), key
    assert any(bound.get("container") for bound in bounds)


def test_the_areas_are_sound_and_lie_in_open_sea() -> None:
    areas, faults = read_areas(SAMPLE / "areas.geojson")
    assert faults == []
    assert Counter(area.kind for area in areas) == {"permitted": 4, "closed": 2, "feature": 2}
    inlet = next(area.geometry for area in areas if area.id == "inlet")
    assert inlet.geom_type == "MultiPolygon"
    assert sum(len(part.interiors) for part in inlet.geoms) == 1  # type: ignore[attr-defined]
    shore, faults = read_areas(SAMPLE / "shoreline.geojson")
    assert faults == []
    for area in [*areas, *shore]:
        west, south, east, north = area.geometry.bounds
        # Open sea: from memory, Tasmania ends near 148.5 E and New Zealand begins near 166.4 E.
        assert 152 < west <= east < 156
        assert -43 < south <= north < -41


# --- outcomes


def expected() -> dict[tuple[str, str], str]:
    """Read the two tables of the story."""
    text = (SAMPLE / "STORY.md").read_text(encoding="utf-8")
    found = {}
    parts = re.split(r"^## Expected answers: ", text, flags=re.MULTILINE)[1:]
    for part, authority in zip(parts, (PERMIT, LICENCE), strict=True):
        for number, outcome in re.findall(r"^\| (term|[\d.]+) \| ([a-z ]+) \| [^|]+ \|$", part, flags=re.MULTILINE):
            found[authority, number] = outcome
    return found


def test_every_outcome_is_the_one_the_story_tells(judgement: Judgement) -> None:
    told = expected()
    assert len(told) == 51 + 13 + 2
    assert {(one.authority, one.number): one.outcome for one in judgement.answers} == told
    assert judgement.unassigned == ()


def test_the_season_is_mostly_met() -> None:
    assert Counter(expected().values()) == {"met": 49, "open": 9, "broken": 5, "not used": 3}


BROKEN = {
    "2.3": ["K27-10-1-a", "K27-10-1-c", "K27-10-2-a"],
    "3.4": ["K28-01-1-c"],
    "4.1": ["K27-09-1"],
    "5.1": ["K27-12"],
    "5.4": ["K27-08"],
}
OPEN = {
    (PERMIT, "3.1"): ["trip K28-08"],
    (PERMIT, "4.2"): ["haul K27-03-4"],
    (PERMIT, "4.3"): ["haul K27-03-4", "haul K28-06-1"],
    (PERMIT, "4.8"): ["haul K27-08-5"],
    (PERMIT, "6.3"): ["haul K27-12-4"],
    (PERMIT, "6.6"): ["trip K28-03", "trip K28-04", "trip K28-08"],
    (LICENCE, "7"): ["trip K28-02"],
}


@pytest.mark.parametrize(("number", "records"), BROKEN.items())
def test_broken_findings_rest_on_the_records_told(
    answers: dict[tuple[str, str], Answer], number: str, records: list[str]
) -> None:
    broken = [one for one in answers[PERMIT, number].findings if one.outcome == "broken"]
    assert len(broken) == 1
    assert set(broken[0].records) >= set(records)
    assert set(broken[0].over) <= set(broken[0].records)
    assert broken[0].over


@pytest.mark.parametrize(("key", "about"), OPEN.items())
def test_open_findings_speak_of_the_records_told(
    answers: dict[tuple[str, str], Answer], key: tuple[str, str], about: list[str]
) -> None:
    found = [one for one in answers[key].findings if one.outcome == "open"]
    assert sorted(one.about for one in found) == about
    assert all(one.settle for one in found)


def test_the_goby_is_the_one_limit_that_cannot_be_told(answers: dict[tuple[str, str], Answer]) -> None:
    found = [one.label for one in answers[PERMIT, "2.5"].findings if one.outcome == "open"]
    assert found == ["Pseudogobius olorum"]


def test_a_lowered_limit_that_was_passed_before_breaks_nothing(answers: dict[tuple[str, str], Answer]) -> None:
    found = [one for one in answers[PERMIT, "2.11"].findings if one.version == 2 and "Gannet Flat" in one.about]
    assert [one.outcome for one in found] == ["met"]
    assert found[0].tally is not None
    assert (found[0].tally.before.low, found[0].tally.here.high, found[0].tally.limit) == (28, 0, 25)


# --- totals by the files alone


def test_silversides_of_the_day_that_broke_the_limit(answers: dict[tuple[str, str], Answer]) -> None:
    own = summed("Atherinidae", ("kept", "dead"), day="2027-11-18")
    assert own == 62
    assert tally_of(answers[PERMIT, "2.3"], "day 18 Nov 2027", "per day") == (own, own)


def test_hardyheads_three_deep(answers: dict[tuple[str, str], Answer]) -> None:
    species = summed("Atherinosoma microstoma", ("kept", "dead"))
    genus = summed("Atherinosoma", ("kept", "dead"))
    family = summed("Atherinidae", ("kept", "dead"))
    genus_only = sum(row["count"] for row in LINES if row["taxon"] == "Atherinosoma" and row["fate"] == "kept")
    family_only = sum(row["count"] for row in LINES if row["taxon"] == "Atherinidae" and row["fate"] == "kept")
    assert (genus_only, family_only) == (6, 5)
    assert tally_of(answers[PERMIT, "2.1"], version=2) == (species, species + genus_only + family_only)
    assert tally_of(answers[PERMIT, "2.2"], version=2) == (genus, genus + family_only)
    assert tally_of(answers[PERMIT, "2.3"], "permit year", "per permit year", 2) == (family, family)


def test_crabs_and_females_among_them(answers: dict[tuple[str, str], Answer]) -> None:
    crabs = summed("Paragrapsus gaimardii")
    females = summed("Paragrapsus gaimardii", sex="female")
    not_sexed = summed("Paragrapsus gaimardii", sex="")
    assert not_sexed == 2
    assert tally_of(answers[PERMIT, "2.7"], version=2) == (crabs, crabs)
    assert tally_of(answers[PERMIT, "2.7"], label="females", version=2) == (females, females + not_sexed)


def test_shrimps_by_person_over_midnight(answers: dict[tuple[str, str], Answer]) -> None:
    for person, name, day, spoken in (
        ("i-calloway", "Ines Calloway", "2027-10-02", "2 Oct 2027"),
        ("i-calloway", "Ines Calloway", "2027-10-03", "3 Oct 2027"),
        ("j-pereira", "Jonty Pereira", "2027-10-02", "2 Oct 2027"),
        ("j-pereira", "Jonty Pereira", "2027-10-03", "3 Oct 2027"),
    ):
        own = summed("Palaemonidae", person=person, day=day)
        assert own > 0
        assert tally_of(answers[PERMIT, "2.12"], f"{name}: day {spoken}") == (own, own)
    bait = summed("Palaemonidae", authority=LICENCE, person="j-pereira", day="2028-03-14")
    assert bait == 54
    assert tally_of(answers[LICENCE, "5"]) == (bait, bait)


def test_shell_and_sand_by_their_containers(answers: dict[tuple[str, str], Answer]) -> None:
    litres = {one["name"]: int(one["litres"]) for one in loaded(AUTHORITIES[0].name)["containers"]}
    for taxon, container, number in (("shell, clean", "shell crate", "2.19"), ("sand", "sand pail", "2.20")):
        words = [row["count"] for row in LINES if row["taxon"] == taxon and row["fate"] == "kept"]
        own = sum(int(count.removesuffix(container)) for count in words) * litres[container]
        label = "per permit year" if number == "2.19" else ""
        assert tally_of(answers[PERMIT, number], "permit year", label, 2) == (own, own)


def test_oysters_on_top_of_the_published_total(answers: dict[tuple[str, str], Answer]) -> None:
    last = max(loaded("office-2027-28.json")["shared_totals"], key=lambda one: one["as_of"])
    after = sum(
        row["count"]
        for row in LINES
        if row["taxon"] == "Ostrea angasi" and row["fate"] == "kept" and row["day"] > last["as_of"][:10]
    )
    found = [one.tally for one in answers[PERMIT, "2.17"].findings if one.tally is not None]
    assert found[-1].after.low == last["total"] + after == 474


def test_every_trip_under_the_permit_has_its_notices() -> None:
    notices = loaded("office-2027-28.json")["notices"]
    told = Counter((one["trip"], one["to"]) for one in notices if not one.get("cancels"))
    trips = {row["trip"] for row in LINES} - {"K28-02"} | {"K27-04"}
    assert told == {(trip, to): 1 for trip in trips for to in ("Office of Estuary Fisheries", "Merrin Harbour Office")}
    assert {one["trip"] for one in notices if one.get("cancels")} == {"K27-04"}


def test_more_never_leaves_than_was_there() -> None:
    """By the files alone: what left of a line is no more than what was kept of it and what it gained."""
    kept = {}
    for path in sorted(SAMPLE.glob("trips-*.json")):
        for trip in loaded(path.name)["trips"]:
            for haul in trip.get("hauls", []):
                kept |= {one["id"]: one["count"] for one in haul["lines"]} if haul.get("lines") else {}
    balance: Counter[str] = Counter()
    moved = [one for one in loaded("office-2027-28.json")["movements"] if isinstance(one["count"], int)]
    for one in moved:
        balance[one["line"]] += one["count"] if one["what"] in ("born", "found", "given") else -one["count"]
    in_json = {line: change for line, change in balance.items() if line in kept}
    assert len(in_json) > 15
    for line, change in in_json.items():
        assert kept[line] + change >= 0, line


def test_the_days_of_the_story_are_what_they_are_called() -> None:
    assert date(2027, 11, 28).strftime("%A") == "Sunday"
    assert [date(2027, 11, day).strftime("%A") for day in (5, 8)] == ["Friday", "Monday"]
    # Clocks went forward in that zone on 3 October 2027: one hour less between the two.
    begins, ends = (instant(text, "Australia/Hobart") for text in ("2027-10-03T01:35", "2027-10-03T03:20"))
    assert (ends - begins).total_seconds() == 45 * 60
