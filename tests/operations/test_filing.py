"""Reports filed and replaced: frozen as they were, certified, one number each, marked when a record changes.

REPORT.md 1; JOB.md A 44-46, D 5, 18, 35, 40.
"""

import hashlib
import json
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest
from sqlmodel import select

from api.entities.audit import AuditEntry, AuditHead
from api.entities.authorities import Document
from api.entities.catches import CatchLine
from api.entities.filings import FiledReport
from api.entities.papers import FilingRecord
from api.entities.people import Organisation, Person
from api.exchange.snapshot import FILE_NAME, thaw
from api.operations import compliance, filing
from api.operations.accounts import NotAllowedError, add_account, set_roles
from api.operations.compliance import UnknownAuthorityError
from api.operations.filing import amend_report, file_report
from api.operations.filing_errors import (
    CertificationError,
    FilingError,
    RecordInMotionError,
    ReportConditionError,
    SupersededError,
    UnknownReportError,
)
from api.operations.gate import accept
from api.operations.importing import import_files
from api.operations.lots_told import AskedLots, list_lots
from api.operations.report_drafts import draft
from api.operations.reports_filed import filed_pdf, filed_reports
from api.operations.syncing import Operation, push
from api.operations.verifying import verify
from api.store.audit import first_broken
from api.store.files import DamagedFileError, path_of
from api.store.ids import new_id
from api.store.seasons import season_from
from api.store.unit_of_work import SYSTEM, Actor
from reports.pdf_text import attachments_of, lines_of, printed_figures
from tests import phones
from tests.builders import authority_file, trips_file, write_season
from tests.printed import text_of

PASSWORD = "wet sand under nine nails"
PHONE = Actor("ann", "phone-1")
LIMIT = authority_file()["conditions"][0]
REPORT = {
    "kind": "report",
    "number": "2",
    "text": "A report is due 30 days after the permit ends.",
    "due": "days after end",
    "days": 30,
}
WHO = {"name": "Maren Oye", "title": "Keeper of the record"}
NUMBERS = ("snapshot_sha256", "pdf_sha256", "revision", "replaces", "filed_at", "unresolved", "changes")


@pytest.fixture
def folder(tmp_path):
    """Give the folder of documents."""
    return tmp_path / "files"


@pytest.fixture
def office(cheap_hashes, store, tmp_path):
    """Give a store with a permit that asks for a report, the builders' trip, and an administrator."""
    return made(store, tmp_path)


def made(store, folder, *, conditions=(LIMIT, REPORT), trips=None):
    permit, file = write_season(folder, authority_file(conditions=list(conditions)), trips)
    import_files(store, folder / "files", [permit], [file], Actor())
    add_account(store, Actor(), login="maren", name="Maren", password=PASSWORD, roles=["administrator"])
    return store


def acting(store, name="Maren"):
    with store.reading() as session:
        return Actor(session.exec(select(Person.id).where(Person.name == name)).one())


def filed(store, folder, authority="permit", **more):
    return file_report(store, folder, acting(store), authority, **WHO, **more)


def listed(store, authority="permit"):
    return filed_reports(store, authority)[1]


def rows(store, table):
    with store.reading() as session:
        return list(session.exec(select(table)))


def outcomes(store, authority="permit"):
    with compliance.now(store) as now:
        return {one.number: one for one in now.under(authority)}


def corrected(store, **changes):
    """Amend the builders' one line, as a phone does after the trip was closed."""
    line = {"id": "L1", "taxon": "Galaxias maculatus", "fate": "kept", "count": 9, **changes}
    with store.reading() as session:
        version = session.get_one(CatchLine, "L1").version
    operation = amendment("line", line, version)
    (told,) = push(store, [operation], PHONE)
    assert told.answer == "stored"


def amendment(kind, record, based_on):
    return Operation(
        id=new_id(), kind=kind, record=record, parent="H1", based_on=based_on, why="named from the photographs"
    )


def late_trip(store, count=1, **more):
    trip = phones.trip("ann", depart="2028-03-02T07:00", back="2028-03-02T12:00", status="closed", **more)
    haul = phones.haul(trip, start="2028-03-02T08:00", end="2028-03-02T08:10")
    told = push(store, [trip, haul, phones.line(haul, count=count)], PHONE)
    assert [one.answer for one in told] == ["stored"] * 3
    return told[0].code


# --- drafts


def test_a_draft_tells_what_is_not_resolved_in_plain_words(cheap_hashes, store, tmp_path):
    lines = [
        {"id": "L1", "taxon": "Galaxias maculatus", "fate": "kept", "count": 11},
        {"id": "L2", "taxon": "Galaxias brevipinnis", "fate": "kept", "count": "about 4"},
    ]
    trips = trips_file(lines)
    trips["trips"].append({"id": "T2", "leader": "ann", "depart": "2027-09-01T07:00", "hauls": []})
    stray = [{"id": "L9", "taxon": "Galaxias maculatus", "fate": "kept", "count": 2}]
    haul = {"id": "H9", "start": "2027-09-01T08:00", "end": "2027-09-01T08:10", "lines": stray}
    trips["trips"][1]["hauls"].append(haul)
    open_one = {"id": "T3", "leader": "ann", "authority": "permit", "status": "open", "depart": "2027-10-01T07:00"}
    trips["trips"].append({**open_one, "hauls": []})
    told = draft(made(store, tmp_path, trips=trips), "permit")
    assert (told.revision, told.replaces, told.conditions, told.changes) == (0, "", ("2",), ())
    assert [(one.condition, one.outcome) for one in told.unresolved] == [("1", "broken"), ("", "open"), ("", "open")]
    assert "kept" in told.unresolved[0].sentence
    assert told.unresolved[1].sentence == ("Catch line L9 (Galaxias maculatus, kept, 2) stands under no authority.")
    assert told.unresolved[2].sentence == "Trip T3 is not closed."
    assert all(one.settle for one in told.unresolved if one.outcome == "open")


def test_a_draft_writes_nothing(office):
    def last():
        return [(one.seq, one.changes) for one in rows(office, AuditHead)]

    before = last()
    told = draft(office, "permit")
    assert (told.unresolved, told.as_of) == ((), office.clock())
    assert (last(), rows(office, FiledReport)) == (before, [])


def test_an_unknown_authority_is_told(office, folder):
    for ask in (
        lambda: draft(office, "other"),
        lambda: filed_reports(office, "other"),
        lambda: filed(office, folder, "other"),
    ):
        with pytest.raises(UnknownAuthorityError, match="those here are permit"):
            ask()


# --- filing


def test_a_filed_report_is_kept_with_its_hash_and_answers_its_condition(office, folder, clock):
    assert outcomes(office)["2"].outcome == "not used"
    told = filed(office, folder)
    assert (told.revision, told.replaces, told.condition, told.affected) == (0, "", "2", False)
    assert (told.certified_name, told.certified_title) == ("Maren Oye", "Keeper of the record")
    assert (told.filed_by, told.filed_by_name, told.filed_at) == (acting(office).person, "Maren", clock())
    name, pdf = filed_pdf(office, folder, told.id)
    assert name == "season-report-permit-revision-0.pdf"
    assert hashlib.sha256(pdf).hexdigest() == told.pdf_sha256
    snapshot = thaw(attachments_of(pdf)[FILE_NAME])
    assert (snapshot.fingerprint, snapshot.facts.as_of) == (told.snapshot_sha256, clock())
    assert (snapshot.meta["revision"], snapshot.meta["replaces"], snapshot.meta["changes"]) == (0, "", [])
    assert snapshot.meta["demo"] is False
    assert verify(pdf) == []
    # The record holds the filing, its proof being the hash of what was handed in.
    (record,) = rows(office, FilingRecord)
    assert (record.id, record.authority, record.condition, record.by) == (told.filing, "permit", "2", told.filed_by)
    assert (record.proof, record.filed, record.accepted) == (told.pdf_sha256, clock(), None)
    clock.forward(minutes=1)
    answer = outcomes(office)["2"]
    assert (answer.outcome, answer.findings()[0].records) == ("met", (told.filing,))
    (document,) = [one for one in rows(office, Document) if one.sha256 == told.pdf_sha256]
    assert (document.name, document.media_type, document.size) == (name, "application/pdf", len(pdf))
    (entry,) = [one for one in rows(office, AuditEntry) if one.action == "report filed"]
    content = json.loads(entry.content)
    assert (entry.actor, entry.subject) == (told.filed_by, f"report {told.id}")
    assert (content["pdf"], content["snapshot"], content["certified by"]) == (
        told.pdf_sha256,
        told.snapshot_sha256,
        "Maren Oye",
    )
    with office.reading() as session:
        assert first_broken(session)[1] is None
    assert listed(office) == [told]


def test_its_figures_are_those_of_the_balance(office, folder):
    late_trip(office, count=3)
    with compliance.now(office) as now:
        (balance,) = now.balances("permit")
    tally = balance.findings[0].tally
    assert (tally.after.best, tally.left.best) == (12, 0)
    figures = printed_figures(filed_pdf(office, folder, filed(office, folder).id)[1])
    assert figures["limits/1//taken"] == str(tally.after.best)
    assert figures["limits/1//left"] == str(tally.left.best)
    assert figures["season/kept"] == str(tally.after.best)


def test_what_was_not_resolved_is_kept_with_the_report(office, folder):
    late_trip(office, count=3)
    expected = draft(office, "permit").unresolved
    told = filed(office, folder)
    assert [one.condition for one in told.unresolved] == ["1"]
    assert told.unresolved == expected
    # It stands as it was, also when the record is put right.
    corrected(office, count=2)
    assert outcomes(office)["1"].outcome == "met"
    assert listed(office)[0].unresolved == expected


def test_only_an_administrator_files_and_never_the_machine(office, folder):
    add_account(office, Actor(), login="ines", name="Ines", password=PASSWORD, roles=["curator", "collector"])
    told = filed(office, folder)
    for actor in (acting(office, "Ines"), Actor("ann"), Actor(SYSTEM)):
        with pytest.raises(NotAllowedError, match="may not file reports"):
            file_report(office, folder, actor, "permit", **WHO)
        with pytest.raises(NotAllowedError, match="may not file reports"):
            amend_report(office, folder, actor, told.id, **WHO)
    assert len(rows(office, FiledReport)) == 1


@pytest.mark.parametrize(
    ("name", "title", "missing"), [("", "Head", "name"), (" \n", "Head", "name"), ("Ada", "", "title")]
)
def test_a_report_is_certified_by_name_and_title(office, folder, name, title, missing):
    with pytest.raises(CertificationError, match=f"give their {missing}") as refused:
        file_report(office, folder, acting(office), "permit", name=name, title=title)
    assert refused.value.missing == missing
    assert rows(office, FiledReport) == []


def test_where_several_conditions_ask_for_a_report_one_is_named(cheap_hashes, store, tmp_path, folder):
    second = {**REPORT, "number": "3", "days": 60}
    made(store, tmp_path, conditions=[LIMIT, REPORT, second])
    assert draft(store, "permit").conditions == ("2", "3")
    with pytest.raises(ReportConditionError, match="those that do are 2, 3"):
        filed(store, folder)
    with pytest.raises(ReportConditionError, match="condition '1' asks for no report"):
        filed(store, folder, condition="1")
    told = filed(store, folder, condition="3")
    store.clock.forward(minutes=1)
    assert {number: one.outcome for number, one in outcomes(store).items() if number in "23"} == {
        "2": "not used",
        "3": "met",
    }
    assert amend_report(store, folder, acting(store), told.id, **WHO).condition == "3"


def test_where_no_condition_asks_for_a_report_one_can_be_filed_all_the_same(cheap_hashes, store, tmp_path, folder):
    made(store, tmp_path, conditions=[LIMIT])
    assert filed(store, folder).condition == ""
    with pytest.raises(ReportConditionError, match="none; leave it out"):
        filed(store, folder, condition="9")


def test_a_season_without_trips_is_filed_as_a_nil_return(cheap_hashes, store, tmp_path, folder):
    made(store, tmp_path, trips=trips_file() | {"trips": []})
    pdf = filed_pdf(store, folder, filed(store, folder).id)[1]
    assert "No collecting took place under this authority" in text_of(pdf)
    assert verify(pdf) == []


def test_a_report_of_the_demo_says_that_it_is_one(office, folder):
    with office.writing(Actor()) as work:
        work.session.add(Organisation(name="Marrow Aquarium", zone="Australia/Hobart", demo=True))
    assert "Not a report to be filed" in text_of(filed_pdf(office, folder, filed(office, folder).id)[1])


# --- replacing


def test_a_correction_marks_the_report_and_leaves_it_as_it_was(office, folder, clock):
    # JOB.md D 40: filed PDF unchanged, hash still matches. D 5: old name kept, filed report marked "affected".
    told = filed(office, folder)
    before = filed_pdf(office, folder, told.id)
    clock.forward(days=200)
    corrected(office, taxon="Galaxias brevipinnis")
    corrected(office, taxon="Galaxias brevipinnis", count=7)
    (now,) = listed(office)
    assert (now.affected, now.since) == (
        True,
        (
            "catch of Galaxias brevipinnis +7",
            "catch of Galaxias maculatus \N{MINUS SIGN}9",
            "amended: L1 (taxon), L1 (count)",
        ),
    )
    assert [getattr(now, name) for name in NUMBERS] == [getattr(told, name) for name in NUMBERS]
    after = filed_pdf(office, folder, told.id)
    assert after == before
    assert hashlib.sha256(after[1]).hexdigest() == told.pdf_sha256
    assert verify(after[1]) == []
    assert draft(office, "permit").changes == now.since


def test_a_revision_names_what_it_replaces_and_what_changed(office, folder, clock):
    first = filed(office, folder)
    original = filed_pdf(office, folder, first.id)[1]
    clock.forward(days=3)
    corrected(office, count=6)
    told = amend_report(office, folder, acting(office), first.id, name="Ada Stroud", title="Director")
    assert (told.revision, told.replaces, told.certified_name) == (1, first.id, "Ada Stroud")
    assert told.changes == "catch of Galaxias maculatus \N{MINUS SIGN}3; amended: L1 (count)"
    pdf = filed_pdf(office, folder, told.id)[1]
    assert pdf != original
    assert thaw(attachments_of(pdf)[FILE_NAME]).meta["replaces"].endswith(first.snapshot_sha256)
    page = " ".join(lines_of(pdf, 0))
    assert "Revision 1" in page
    assert "Replaces the original, filed 14 Jul 2028 12:00, snapshot" in page
    assert "catch of Galaxias maculatus \N{MINUS SIGN}3" in page
    # Both stand, both can be had, both hold against their own data; and each has its own figures.
    assert filed_pdf(office, folder, first.id)[1] == original
    assert (verify(original), verify(pdf)) == ([], [])
    assert [printed_figures(one)["limits/1//taken"] for one in (original, pdf)] == ["9", "6"]
    with compliance.now(office) as now:
        (balance,) = now.balances("permit")
    assert printed_figures(pdf)["limits/1//taken"] == str(balance.findings[0].tally.after.best)
    newest, oldest = listed(office)
    assert (newest.id, newest.affected) == (told.id, False)
    assert (oldest.id, oldest.affected) == (first.id, True)
    assert filed_reports(office, "permit", start=1, limit=1) == (2, [oldest])
    assert [one.revision for one in rows(office, FiledReport)] == [0, 1]
    assert len(rows(office, FilingRecord)) == 2


def test_a_trip_that_comes_after_the_filing_marks_it_too(office, folder, clock):
    filed(office, folder)
    clock.forward(hours=1)
    code = late_trip(office)
    late_trip(office, authority=None, may_stand_under=[])
    (now,) = listed(office)
    assert now.since == (f"added: {code}",)
    # A line added to a trip that was reported on is named by itself.
    line = {"taxon": "Galaxias maculatus", "fate": "released", "count": 2, "id": "new-line"}
    (told,) = push(office, [amendment("line", line, None)], PHONE)
    assert listed(office)[0].since == (f"added: {code}, {told.code}",)


def test_a_line_moved_to_another_authority_marks_the_reports_of_both(cheap_hashes, store, tmp_path, folder, clock):
    # JOB.md D 18: moving lines between authorities later needs a correction and a re-check of both.
    made(store, tmp_path)
    licence = authority_file(id="licence", kind="fishing licence", number="RL 7", conditions=[LIMIT])
    path = tmp_path / "authority-2.json"
    path.write_text(json.dumps(licence), encoding="utf-8")
    import_files(store, folder, [path], [], Actor())
    for authority in ("permit", "licence"):
        filed(store, folder, authority)
    clock.forward(minutes=1)
    corrected(store, authority="licence")
    assert listed(store, "permit")[0].since == (
        "catch of Galaxias maculatus \N{MINUS SIGN}9",
        "amended: L1 (authority)",
    )
    assert listed(store, "licence")[0].since == ("catch of Galaxias maculatus +9", "amended: L1 (authority)")


def test_an_animal_found_at_the_door_marks_a_report_filed_before(office, folder, clock):
    add_account(office, Actor(), login="ines", name="Ines", password=PASSWORD, roles=["curator"])
    filed(office, folder)
    clock.forward(minutes=5)
    (lot,) = list_lots(office, AskedLots())[1]
    # Lots and decisions by themselves change nothing that a report tells.
    assert listed(office)[0].since == ()
    accept(office, acting(office, "Ines"), lot.id, version=1, door_count=11, reason="two more in the net")
    assert listed(office)[0].since == ("catch of Galaxias maculatus +2", "amended: L1 (count)")


def test_a_report_that_was_replaced_cannot_be_replaced_again(office, folder, clock):
    first = filed(office, folder)
    second = amend_report(office, folder, acting(office), first.id, **WHO)
    assert second.changes == "nothing in trips, hauls and catch lines"
    with pytest.raises(
        SupersededError, match=r"Maren has replaced this report: revision 1 was filed 2028-07-14"
    ) as told:
        amend_report(office, folder, acting(office), first.id, **WHO)
    assert (told.value.revision, told.value.by, told.value.at) == (1, "Maren", clock())
    assert len(rows(office, FiledReport)) == 2


@pytest.mark.parametrize("named", ["nothing", "no\0thing", ""])
def test_an_unknown_report_is_told(office, folder, named):
    with pytest.raises(UnknownReportError):
        amend_report(office, folder, acting(office), named, **WHO)
    with pytest.raises(UnknownReportError):
        filed_pdf(office, folder, named)


def test_a_filed_report_whose_file_was_damaged_is_not_given_out(office, folder):
    told = filed(office, folder)
    path = path_of(folder, told.pdf_sha256)
    path.write_bytes(path.read_bytes()[:-1])
    with pytest.raises(DamagedFileError, match="bring it back from a backup"):
        filed_pdf(office, folder, told.id)


# --- at the same time


def at_once(*deeds):
    """Do things in threads that begin together; gives what each gave, or the error it raised."""
    begin = threading.Barrier(len(deeds))

    def run(deed):
        begin.wait(timeout=30)
        try:
            return deed()
        except FilingError as error:
            return error

    with ThreadPoolExecutor(len(deeds)) as pool:
        return list(pool.map(run, deeds))


def test_filing_twice_at_once_gives_two_revisions(office, folder):
    for number in range(3):
        both = at_once(lambda: filed(office, folder), lambda: filed(office, folder))
        assert sorted(one.revision for one in both) == [2 * number, 2 * number + 1]
        first, second = sorted(both, key=lambda one: one.revision)
        assert second.replaces == first.id
    every = sorted(rows(office, FiledReport), key=lambda one: one.revision)
    assert [one.revision for one in every] == list(range(6))
    assert [one.replaces for one in every] == [None, *[one.id for one in every[:-1]]]
    assert len({one.pdf_sha256 for one in every}) == 6
    assert all(verify(filed_pdf(office, folder, one.id)[1]) == [] for one in every[-2:])


def test_two_that_replace_one_report_at_once_are_told_apart(office, folder):
    first, maren = filed(office, folder), acting(office)
    both = at_once(*[lambda: amend_report(office, folder, maren, first.id, **WHO)] * 2)
    (told,) = [one for one in both if isinstance(one, SupersededError)]
    assert told.revision == 1
    assert [one.revision for one in rows(office, FiledReport)] == [0, 1]


def test_a_change_while_the_pages_are_set_is_in_the_report(office, folder, monkeypatch):
    set_pages, made_from = filing.report_pdf, []

    def interrupted(snapshot):
        made_from.append(len(snapshot.facts.lines))
        if len(made_from) < 3:
            # A phone delivers: were the transaction held while pages are set, this would wait for ever.
            late_trip(office)
        return set_pages(snapshot)

    monkeypatch.setattr(filing, "report_pdf", interrupted)
    told = filed(office, folder)
    assert made_from == [1, 2, 3]
    pdf = filed_pdf(office, folder, told.id)[1]
    assert (printed_figures(pdf)["season/lines"], verify(pdf)) == ("3", [])
    assert len(rows(office, FiledReport)) == len(rows(office, FilingRecord)) == 1
    assert listed(office)[0].since == ()


def test_a_record_that_never_stands_still_is_not_filed(office, folder, monkeypatch):
    set_pages, tries = filing.report_pdf, []

    def interrupted(snapshot):
        tries.append(1)
        late_trip(office)
        return set_pages(snapshot)

    monkeypatch.setattr(filing, "report_pdf", interrupted)
    with pytest.raises(RecordInMotionError, match="nothing was filed") as refused:
        filed(office, folder)
    assert refused.value.tries == len(tries) == filing.MOST_TRIES
    assert (rows(office, FiledReport), rows(office, FilingRecord)) == ([], [])


def test_an_administrator_who_is_one_no_more_when_the_pages_are_set_files_nothing(office, folder, monkeypatch):
    add_account(office, Actor(), login="ada", name="Ada", password=PASSWORD, roles=["administrator"])
    set_pages = filing.report_pdf

    def interrupted(snapshot):
        set_roles(office, Actor(), "maren", ["collector"])
        return set_pages(snapshot)

    monkeypatch.setattr(filing, "report_pdf", interrupted)
    with pytest.raises(NotAllowedError):
        filed(office, folder)
    assert rows(office, FiledReport) == []


@pytest.mark.parametrize("fails", ["keep_document", "new_id"])
def test_a_filing_that_fails_leaves_no_part_of_it(office, folder, monkeypatch, fails):
    def broken(*_args, **_more):
        raise RuntimeError("the power went")

    monkeypatch.setattr(filing, fails, broken)
    with pytest.raises(RuntimeError):
        filed(office, folder)
    monkeypatch.undo()
    assert (rows(office, FiledReport), rows(office, FilingRecord)) == ([], [])
    assert [one for one in rows(office, Document) if one.media_type == "application/pdf"] == []
    assert filed(office, folder).revision == 0


# --- time


def test_a_report_on_the_last_day_is_in_time_and_one_after_it_is_late(office, folder, clock):
    # Due 30 July 2028, a Sunday, as the permit says it (JOB.md D 35); the day ends at 14:00 UTC there.
    clock.at = datetime(2028, 7, 30, 14, 0, tzinfo=UTC)
    told = filed(office, folder)
    assert [(one.condition, one.outcome) for one in told.unresolved] == [("2", "broken")]
    clock.forward(minutes=1)
    assert outcomes(office)["2"].outcome == "broken"
    assert "handed in late" in outcomes(office)["2"].findings()[0].sentence


def test_a_report_a_minute_before_the_day_is_over_is_in_time(office, folder, clock):
    clock.at = datetime(2028, 7, 30, 13, 59, tzinfo=UTC)
    filed(office, folder)
    clock.forward(days=2)
    assert outcomes(office)["2"].outcome == "met"


def test_what_a_report_was_made_from_can_be_judged_again(office, folder):
    # JOB.md A 46: the record behind a cell. The snapshot alone gives the findings that were filed.
    late_trip(office, count=3)
    told = filed(office, folder)
    snapshot = thaw(attachments_of(filed_pdf(office, folder, told.id)[1])[FILE_NAME])
    broken = [one.sentence for one in snapshot.judgement.findings if one.outcome == "broken"]
    assert broken == [one.sentence for one in told.unresolved]
    with office.reading() as session:
        assert snapshot.facts.season.trips == season_from(session).trips
