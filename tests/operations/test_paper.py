"""From the sheet to the report: what was entered from paper is kept as told, and the report says so."""

from dataclasses import replace

import pytest

from api.entities.sync import Receipt
from api.operations import compliance
from api.operations.accounts import add_account
from api.operations.conflicts import conflicts, settle
from api.operations.filing import file_report
from api.operations.importing import import_files
from api.operations.paper import trips_from_paper
from api.operations.reporting import frozen, laid_out, report_pdf
from api.operations.reports_filed import filed_pdf
from api.operations.syncing import push
from api.operations.verifying import verify
from api.store.seasons import season_from
from api.store.unit_of_work import Actor
from reports.pdf_text import lines_of, page_count
from tests import phones
from tests.builders import write_season
from tests.served import PASSWORD

PHONE = Actor("ann", "phone-1")
WORDS = "entered from paper, in whole or in part"


@pytest.fixture
def season(store, tmp_path):
    permit, trips = write_season(tmp_path)
    import_files(store, tmp_path / "files", [permit], [trips], Actor())
    return store


def from_paper(operation):
    return replace(operation, entered_from="paper")


def on_screen(operation):
    return replace(operation, entered_from="screen")


def taken(store, *operations):
    return [told.answer for told in push(store, operations, PHONE)]


def told_in_the_report(store):
    """Give the sentence of the report about paper, "" for none; the report has to stand its own check."""
    pdf = report_pdf(frozen(compliance.judged(store).checked, "permit"))
    assert verify(pdf) == []
    text = " ".join(line for page in range(page_count(pdf)) for line in lines_of(pdf, page))
    return text.split(WORDS)[1].split(".")[0] if WORDS in text else ""


def marked(store):
    with store.reading() as session:
        return trips_from_paper(session)


@pytest.mark.parametrize("typed", ["trip", "haul", "line"])
def test_a_trip_is_told_whatever_of_it_was_typed_from_the_sheet(season, typed):
    trip = phones.trip("ann", status="closed", back="2027-08-01T12:00")
    haul = phones.haul(trip)
    line = phones.line(haul, count=1)
    other = phones.trip("ann")
    batch = [from_paper(one) if one.kind == typed else on_screen(one) for one in (trip, haul, line)]
    assert taken(season, *batch, on_screen(other)) == ["stored"] * 4
    assert marked(season) == ("T27-001",)
    assert told_in_the_report(season) == ": T27-001"
    with season.reading() as session:
        # The record itself stands as it was sent.
        assert [one.paper_record for one in season_from(session).trips] == [False, False, False]
        kept = session.get_one(Receipt, {"trip": trip, "haul": haul, "line": line}[typed].id)
        assert kept.entered_from == "paper"


def test_what_was_recorded_on_a_screen_is_not_told(season):
    trip = phones.trip("ann", status="closed", back="2027-08-01T12:00")
    assert taken(season, on_screen(trip), on_screen(phones.haul(trip))) == ["stored"] * 2
    assert marked(season) == ()
    assert told_in_the_report(season) == ""
    assert "from_paper" not in frozen(compliance.judged(season).checked, "permit").meta


def test_a_record_that_says_so_itself_is_told_as_well(season):
    # A spreadsheet typed from wet paper marks its trip; so may a phone.
    trip = phones.trip("ann", status="closed", back="2027-08-01T12:00", paper_record=True)
    assert taken(season, on_screen(trip)) == ["stored"]
    assert told_in_the_report(season) == ": T27-001"


def test_what_was_refused_is_not_told(season):
    trip = phones.trip("ann", status="closed", back="2027-08-01T12:00")
    assert taken(season, on_screen(trip)) == ["stored"]
    assert taken(season, from_paper(phones.haul(trip, person="nobody"))) == ["refused"]
    assert marked(season) == ()


@pytest.mark.parametrize(("take", "expected"), [("stands", ()), ("offered", ("T27-001",))])
def test_of_two_versions_the_one_that_a_person_let_stand_decides(season, take, expected):
    trip = phones.trip("ann")
    assert taken(season, on_screen(trip), on_screen(phones.amended(trip, 1, note="from the screen"))) == ["stored"] * 2
    assert taken(season, from_paper(phones.amended(trip, 1, note="from the sheet"))) == ["conflict"]
    assert marked(season) == ()
    (kept,) = conflicts(season)
    settle(season, PHONE, kept.id, take, "looked at the sheet")
    assert marked(season) == expected


def test_the_snapshot_carries_it_so_that_the_same_pages_come_again(season):
    trip = phones.trip("ann", status="closed", back="2027-08-01T12:00")
    assert taken(season, from_paper(trip)) == ["stored"]
    snapshot = frozen(compliance.judged(season).checked, "permit")
    assert snapshot.meta["from_paper"] == ["T27-001"]
    assert laid_out(snapshot) == laid_out(snapshot)
    assert report_pdf(snapshot) == report_pdf(snapshot)


def test_a_filed_report_says_so(cheap_hashes, season, tmp_path):
    trip = phones.trip("ann", status="closed", back="2027-08-01T12:00")
    haul = phones.haul(trip)
    assert taken(season, on_screen(trip), from_paper(haul)) == ["stored"] * 2
    add_account(season, Actor(), login="office", person="ann", password=PASSWORD, roles=["administrator"])
    filed = file_report(season, tmp_path / "files", Actor("ann"), "permit", name="Ann Oake", title="Curator")
    _, pdf = filed_pdf(season, tmp_path / "files", filed.id)
    assert verify(pdf) == []
    text = " ".join(line for page in range(page_count(pdf)) for line in lines_of(pdf, page))
    assert f"1 trip {WORDS}: T27-001." in text
