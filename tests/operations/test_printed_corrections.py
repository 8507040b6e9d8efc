"""What phones amended after a trip was closed, as the season report prints it: in words, never as a record's JSON."""

import json

import pytest

from api.operations import compliance
from api.operations.importing import import_files
from api.operations.reporting import frozen, report_pdf
from api.operations.syncing import push
from api.operations.verifying import verify
from api.store.unit_of_work import Actor
from reports.document import Table
from reports.pdf_text import lines_of, page_count
from reports.season.build import season_report
from reports.season.material import Edition, Material
from tests import phones
from tests.builders import authority_file, write_season

PHONE = Actor("ann", "phone-1")
WHY = "the paper sheet says so"


@pytest.fixture
def season(store, tmp_path):
    """Give a store with the builders' season, and a closed trip of a phone that was amended in three places."""
    permit, trips = write_season(tmp_path)
    licence = tmp_path / "authority-2.json"
    licence.write_text(
        json.dumps(authority_file(id="licence", kind="fishing licence", number="XL 7")), encoding="utf-8"
    )
    import_files(store, tmp_path / "files", [permit, licence], [trips], Actor())
    trip = phones.trip("ann", status="closed", depart="2028-03-02T07:00", back="2028-03-02T12:00")
    haul = phones.haul(trip, start="2028-03-02T08:00", end="2028-03-02T08:10")
    line = phones.line(haul, count=12, note="[12]")
    gear = {"gear": "seine", "length_mm": "12 m", "mesh_mm": "6 mm"}
    amended = [
        phones.amended(line, 1, WHY, count="about 200 (150-260)", note="recounted"),
        phones.amended(haul, 1, WHY, end="2028-03-02T08:25", gear=gear),
        phones.amended(trip, 1, WHY, papers=["permit", "notice"], paper_record=True),
    ]
    told = push(store, [trip, haul, line, *amended], PHONE)
    assert [one.answer for one in told] == ["stored"] * 6
    return store


def corrections(store, under="permit"):
    """Give the rows of a report's table of corrections: record, what, old, new, why."""
    checked = compliance.judged(store).checked
    authority = checked.facts.book.authority(under)
    blocks = season_report(Material.of(authority, checked.facts, checked.judgement, Edition(fingerprint="0"))).blocks
    (table,) = [one for one in blocks if isinstance(one, Table) and str(one.caption).startswith("Records amended")]
    return [tuple(cell.text for cell in (*row.cells[:4], row.cells[5])) for row in table.rows]


def test_the_report_tells_old_and_new_in_words(season):
    assert sorted(corrections(season)) == [
        ("T28-001", "entered from paper", "no", "yes", WHY),
        ("T28-001", "papers", "nothing", "permit, notice", WHY),
        ("T28-001-1", "end", "2 Mar 2028 08:10", "2 Mar 2028 08:25", WHY),
        ("T28-001-1", "gear", "seine, length 12 m", "seine, length 12 m, mesh 6 mm", WHY),
        ("T28-001-1-a", "count", "12", "about 200 (150-260)", WHY),
        ("T28-001-1-a", "method", "counted", "by eye", WHY),
        ("T28-001-1-a", "note", "[12]", "recounted", WHY),
    ]


def test_no_json_is_printed_and_the_report_verifies(season):
    pdf = report_pdf(frozen(compliance.judged(season).checked, "permit"))
    pages = [" ".join(lines_of(pdf, page)) for page in range(page_count(pdf))]
    assert not any("{" in page or '"low"' in page for page in pages)
    assert verify(pdf) == []


def test_each_report_tells_the_corrections_of_its_own_authority(season):
    trip = phones.trip("ann", authority="licence", status="closed", depart="2028-03-09T07:00", back="2028-03-09T12:00")
    haul = phones.haul(trip, start="2028-03-09T08:00", end="2028-03-09T08:10")
    line, other = phones.line(haul, count=2), phones.line(haul, count=7, authority="permit")
    before = corrections(season)
    amended = [phones.amended(line, 1, WHY, count=3), phones.amended(other, 1, WHY, count=8)]
    told = push(season, [trip, haul, line, other, *amended], PHONE)
    assert [one.answer for one in told] == ["stored"] * 6
    assert corrections(season, "licence") == [("T28-002-1-a", "count", "2", "3", WHY)]
    assert corrections(season) == [*before, ("T28-002-1-b", "count", "7", "8", WHY)]


def test_what_was_taken_from_under_an_authority_is_told_in_both_reports(season):
    trip = phones.trip("ann", status="closed", depart="2028-03-09T07:00", back="2028-03-09T12:00")
    haul = phones.haul(trip, start="2028-03-09T08:00", end="2028-03-09T08:10")
    line = phones.line(haul, count=2)
    before = corrections(season)
    push(season, [trip, haul, line, phones.amended(haul, 1, WHY, authority="licence")], PHONE)
    (moved,) = corrections(season, "licence")
    assert moved[:2] == ("T28-002-1", "authority")
    assert corrections(season) == [*before, moved]
