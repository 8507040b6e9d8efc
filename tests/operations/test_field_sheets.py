"""The printed sheet of a trip: every number on the page is the operation's own, read back from the page as it stands."""

from __future__ import annotations

from datetime import timedelta

import pytest

from api.domain.remaining import Situation, keep_at_most
from api.domain.taxa import Identification
from api.domain.trips import Haul
from api.operations import allotting, demonstration
from api.operations.demonstration import BEGINS, PLANNED_TRIP
from api.operations.field_sheets import ROWS, sheet_material, sheet_pdf
from api.operations.importing import import_files
from api.operations.syncing import push
from api.operations.trips import UnknownTripError
from api.store.engine import open_engine
from api.store.unit_of_work import Actor, Store
from reports.pdf_text import lines_of, page_count
from tests import phones
from tests.builders import SAMPLE, authority_file, trips_file, write_season
from tests.conftest import Clock
from tests.plain_sample import LINES, taxon_of

OFFICE = Actor("ann")


@pytest.fixture(scope="module")
def demo(tmp_path_factory, sqlite_maker):
    """Give the store of a demo as it began."""
    store = Store(open_engine(sqlite_maker()), Clock(BEGINS))
    demonstration.set_up(store, tmp_path_factory.mktemp("demo") / "files", SAMPLE)
    yield store
    store.engine.dispose()


@pytest.fixture(scope="module")
def material(demo):
    return sheet_material(demo, PLANNED_TRIP)


@pytest.fixture(scope="module")
def pdf(material):
    return sheet_pdf(material)


@pytest.fixture(scope="module")
def pages(pdf):
    return [lines_of(pdf, page) for page in range(page_count(pdf))]


def limit_lines(pages):
    """Give the rows of the list of limits as they stand on the pages, each as one text."""
    lines = [line for page in pages for line in page]
    start = next(place for place, line in enumerate(lines) if line.startswith("No. Of what Limit"))
    end = next(place for place, line in enumerate(lines) if line.startswith("Given to trip: what"))
    rows: list[str] = []
    for line in lines[start + 1 : end]:
        number = line.split(" ", 1)[0]
        if number.count(".") == 1 and number.replace(".", "").isdigit():
            rows.append(line)
        elif rows and not line.startswith(("DEMO DATA", "Trip K", "What is left under", "No. Of what")):
            rows[-1] += f" {line}"
    return rows


def test_the_list_of_limits_is_what_the_operations_say(demo, material, pages):
    rows = limit_lines(pages)
    assert len(rows) == len(material.limits) == 33
    for row, limit in zip(rows, material.limits, strict=True):
        assert row.startswith(f"{limit.number} {limit.what}")
    # Of the tallies that trips share, the office's own rooms; nothing is taken under the new permit yet.
    rooms = {(one.pool.number, one.pool.label): one for one in allotting.rooms_of(demo, PLANNED_TRIP)}
    shared = [(row, one) for row, one in zip(rows, material.limits, strict=True) if (one.number, one.label) in rooms]
    assert len(shared) == len(rooms) == 22
    for row, limit in shared:
        room = rooms[limit.number, limit.label]
        assert limit.left.low == room.left + room.held
        said = row.split(" at most " if limit.operator == "at most" else " fewer than ")[1].split()
        numbers = [int(word) for word in said if word.isdigit()]
        assert numbers[:2] == [limit.limit, limit.left.low], row
        assert numbers[2:] == ([room.held] if room.held else []), row


def test_a_row_says_what_may_still_be_kept_of_it(demo, material, pages):
    page = pages[2]
    assert page[0] == f"{PLANNED_TRIP} \N{MIDDLE DOT} haul 1"
    with demo.reading() as session:
        facts, given = allotting.season_laid_out(session, demo), allotting.given_to(session, PLANNED_TRIP)
    trip = facts.trips[PLANNED_TRIP]
    for row in material.rows:
        at = page.index(row.taxon)
        situation = Situation(at=trip.depart, trip=trip, haul=Haul(id="", start=trip.depart))
        allowance = keep_at_most(facts, trip.authority, Identification(row.taxon), situation, given)
        assert page[at + 1] == facts.book.taxa.taxa[row.taxon].common
        assert page[at + 2] == str(allowance.more), row.taxon
        assert page[at + 3].split()[0] == allowance.binding.number, row.taxon
    # By hand: what the office gave of 2.1 and 2.7; 60 silversides a day; 50 shrimps each.
    assert [row.allowance.more for row in material.rows[:5]] == [12, 6, 50, 12, 60]
    assert "2.1 given about about about" in page
    assert "2.12 each about about about" in page


def test_its_rows_are_those_most_often_caught(material):
    # Counted in plain Python over the sample's files: tests/plain_sample.py.
    number: dict[str, int] = {}
    for line in LINES:
        number[taxon_of(line)] = number.get(taxon_of(line), 0) + 1
    rows = [row.taxon for row in material.rows]
    assert len(rows) == ROWS
    assert [number[taxon] for taxon in rows] == sorted(number.values(), reverse=True)[:ROWS]


def test_it_says_whose_it_is_and_when_it_was_printed(pages):
    front = " ".join(pages[0])
    for words in (
        "Trip K28-10 Day 14 Jul 2028 Leaves at (planned) 12:30 Leader Ines Calloway",
        "Ines Calloway (deputy), Jonty Pereira (named), Mei Tanabe (assistant)",
        "collecting permit AM/CP 28-131",
        "Office of Estuary Fisheries, 12 Jul 2028 09:10; Merrin Harbour Office, 12 Jul 2028 09:20",
        "What is left, as of 12:00, 14 July 2028",
        "Demo data. Invented people, place, permit and catch.",
        "turn-back time before the tide",
        "open cut",
        "Local law, your safety officer, your doctor",
    ):
        assert words in front
    for number, page in enumerate(pages, start=1):
        assert any(line.endswith(f"Page {number} of {len(pages)}") for line in page)
        assert any(line.startswith("DEMO DATA \N{MIDDLE DOT} Trip K28-10") for line in page)


def test_each_haul_is_a_page_with_its_sums(pages):
    hauls = pages[2:]
    assert [page[0] for page in hauls] == [f"K28-10 \N{MIDDLE DOT} haul {number}" for number in (1, 2, 3, 4)]
    for page in hauls:
        assert "All encountered = kept + released + dead + lost, uncounted" in page
        assert any("Nothing caught" in line for line in page)
        assert sum(line.count("about") for line in page) == 3 * (ROWS + 3)


def test_the_same_minute_gives_the_same_bytes_and_a_later_one_says_so(demo, pdf):
    clock = demo.clock
    try:
        clock.forward(seconds=31)
        assert sheet_pdf(sheet_material(demo, PLANNED_TRIP)) == pdf
        clock.forward(seconds=31)
        later = sheet_pdf(sheet_material(demo, PLANNED_TRIP))
    finally:
        clock.at = BEGINS
    assert "What is left, as of 12:01, 14 July 2028" in lines_of(later, 0)


def test_a_permit_that_is_over_leaves_no_number(demo):
    material = sheet_material(demo, "K28-09")
    assert (material.in_force, material.limits) == (False, ())
    pdf = sheet_pdf(material)
    assert "Out of term. The authority does not stand" in " ".join(lines_of(pdf, 0))
    # It goes on counting hauls where the trip's own record stops.
    last = page_count(pdf) - 4
    assert lines_of(pdf, last)[0] == f"K28-09 \N{MIDDLE DOT} haul {len(material.trip.hauls) + 1}"
    assert "see list" not in " ".join(lines_of(pdf, last))


def test_an_unknown_trip_is_refused(demo):
    with pytest.raises(UnknownTripError, match="there is no trip 'K28-99'"):
        sheet_material(demo, "K28-99")


# --- on a phone's trip, on both engines


@pytest.fixture
def season(store, clock, tmp_path):
    """Give a store with a permit of 10 galaxias a year of which 3 are kept, on the morning after."""
    clock.at = clock.at.replace(year=2027, month=8, day=2, hour=0)
    line = {"id": "L1", "taxon": "Galaxias maculatus", "fate": "kept", "count": 3}
    authority, trips = write_season(tmp_path, authority_file(), trips_file([line]))
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    return store


def planned(store, **changes):
    trip = phones.trip("ann", status="planned", **changes)
    assert [told.answer for told in push(store, [trip], OFFICE)] == ["stored"]
    return str(trip.record["id"])


def row_of(store, trip):
    """Give what the first row of a sheet says: taxon, number, why."""
    material = sheet_material(store, trip)
    page = lines_of(sheet_pdf(material), page_count(sheet_pdf(material)) - 1)
    at = page.index("Galaxias maculatus")
    return page[at + 2], page[at + 3].removesuffix(" about about about")


def test_by_id_or_code_it_says_what_the_trip_was_given_and_then_to_stop(season, clock):
    trip = planned(season, depart=(clock.at + timedelta(hours=1)).isoformat())
    assert row_of(season, trip) == ("7", "1")
    allotting.grant(season, OFFICE, trip, authority="permit", number="1", amount=2)
    assert row_of(season, trip) == ("2", "1 given")
    code = sheet_material(season, trip).trip.id
    assert sheet_pdf(sheet_material(season, code)) == sheet_pdf(sheet_material(season, trip))


def test_a_trip_without_authority_place_or_hour_has_its_sheet(season):
    trip = planned(season, depart=None, authority="")
    material = sheet_material(season, trip)
    assert (material.authority, material.limits) == (None, ())
    front = " ".join(lines_of(sheet_pdf(material), 0))
    assert "none named for this trip" in front
    assert "The trip names no authority, so no limit can be reckoned for it." in front
    assert [row.taxon for row in material.rows] == ["Galaxias maculatus"]
    assert material.rows[0].allowance is None


def test_a_limit_on_a_day_is_that_of_the_day_of_the_trip(store, clock, tmp_path):
    # Nine of ten a day were kept on the first of August; the clock stands at that day's afternoon (UTC+10).
    clock.at = clock.at.replace(year=2027, month=8, day=1, hour=4)
    daily = {**authority_file()["conditions"][0], "limits": [{"amount": "10", "period": "day"}]}
    authority, trips = write_season(tmp_path, authority_file(conditions=[daily]))
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    assert row_of(store, planned(store, depart="2027-08-01T15:00+10:00")) == ("1", "1")
    assert row_of(store, planned(store, depart="2027-08-02T07:00+10:00")) == ("10", "1")
