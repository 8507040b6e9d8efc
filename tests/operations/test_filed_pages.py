"""What the pages of a filed report say of the filing itself: who certified it, on which day, and where the chain stood.

REPORT.md 1 and 3: frozen, the same bytes each time, with certification and signature.
"""

from datetime import UTC, datetime

import pytest

from api.entities.audit import AuditEntry, AuditHead
from api.exchange.snapshot import FILE_NAME, thaw
from api.operations import auditing, compliance, filing
from api.operations.accounts import add_account
from api.operations.filing import file_report
from api.operations.importing import import_files
from api.operations.people import list_people
from api.operations.reporting import frozen, report_pdf
from api.operations.reports_filed import filed_pdf
from api.operations.verifying import verify
from api.store.unit_of_work import Actor
from reports.pdf_text import attachments_of, lines_of, page_count
from tests.builders import write_season

PASSWORD = "wet sand under nine nails"
NAME, TITLE = "Maren Oye", "Keeper of the record"


@pytest.fixture
def office(cheap_hashes, store, tmp_path):
    """Give a store with the builders' permit (in Hobart, UTC+10 in July) and trip, and an administrator."""
    permit, trips = write_season(tmp_path)
    import_files(store, tmp_path / "files", [permit], [trips], Actor())
    add_account(store, Actor(), login="maren", name="Maren", password=PASSWORD, roles=["administrator"])
    return store


def filed(store, folder, name=NAME, title=TITLE):
    (maren,) = [one.id for one in list_people(store) if one.login == "maren"]
    told = file_report(store, folder / "files", Actor(maren), "permit", name=name, title=title)
    return told, filed_pdf(store, folder / "files", told.id)[1]


def box_of(pdf):
    """Give the printed lines of the page with the signature box."""
    pages = [lines_of(pdf, page) for page in range(page_count(pdf))]
    (found,) = [lines for lines in pages if "Signature" in lines]
    return found


def test_a_filed_report_prints_who_certified_it_and_the_day_where_the_authority_is(office, tmp_path, clock):
    clock.at = datetime(2028, 7, 14, 15, 0, tzinfo=UTC)  # one in the morning of the 15th in Hobart
    told, pdf = filed(office, tmp_path)
    text = " ".join(box_of(pdf))
    assert f"Name {NAME}" in text
    assert f"Title {TITLE}" in text
    assert "Signature Date filed 15 Jul 2028" in text
    assert told.filed_at == clock()
    assert verify(pdf) == []


def test_the_same_snapshot_gives_the_same_filed_report_byte_for_byte(office, tmp_path):
    _, pdf = filed(office, tmp_path)
    assert report_pdf(thaw(attachments_of(pdf)[FILE_NAME])) == pdf


def test_a_draft_keeps_an_empty_box(office):
    pdf = report_pdf(frozen(compliance.judged(office).checked, "permit"))
    text = " ".join(box_of(pdf))
    assert "Name Title Signature Date" in text
    assert "Date filed" not in text
    assert "certified" not in thaw(attachments_of(pdf)[FILE_NAME]).meta


def test_a_name_and_title_of_the_greatest_length_are_printed_whole(office, tmp_path):
    name, title = " ".join(["Ottoline"] * 22), " ".join(["Keeper"] * 28)  # 197 and 195 signs, the column takes 200
    _, pdf = filed(office, tmp_path, name, title)
    text = " ".join(box_of(pdf))
    assert f"Name {name} Title {title} Signature" in text
    assert verify(pdf) == []


def test_another_name_gives_another_fingerprint(office, tmp_path):
    _, pdf = filed(office, tmp_path)
    content = attachments_of(pdf)[FILE_NAME]
    other = report_pdf(thaw(content.replace(NAME.encode(), b"Maren Oyo")))
    assert "Name Maren Oyo" in " ".join(box_of(other))
    assert thaw(attachments_of(other)[FILE_NAME]).fingerprint != thaw(content).fingerprint


def test_where_midnight_comes_while_the_pages_are_set_the_day_is_the_one_of_filing(
    office, tmp_path, clock, monkeypatch
):
    clock.at = datetime(2028, 7, 14, 13, 59, 58, tzinfo=UTC)  # two seconds before midnight in Hobart
    set_pages, tries = filing.report_pdf, []

    def slowly(snapshot):
        tries.append(snapshot.meta["certified"]["day"])
        clock.forward(seconds=3)
        return set_pages(snapshot)

    monkeypatch.setattr(filing, "report_pdf", slowly)
    told, pdf = filed(office, tmp_path)
    assert tries == ["2028-07-14", "2028-07-15"]
    assert told.filed_at == datetime(2028, 7, 14, 14, 0, 4, tzinfo=UTC)
    assert "Date filed 15 Jul 2028" in " ".join(box_of(pdf))
    assert verify(pdf) == []


# --- where the audit chain stood


def feet_of(pdf):
    """Give what the foot of each page says of the audit."""
    return [[line for line in lines_of(pdf, page) if "Audit entry" in line] for page in range(page_count(pdf))]


def test_every_page_of_a_filed_report_bears_the_last_entry_before_it_was_filed(office, tmp_path):
    with office.reading() as session:
        head = session.get_one(AuditHead, 1)
        last = session.get_one(AuditEntry, head.seq)
        assert (last.hash, last.action) == (head.hash, "account opened")
    _, pdf = filed(office, tmp_path)
    meta = thaw(attachments_of(pdf)[FILE_NAME]).meta
    assert meta["audit"] == {"entry": last.seq, "hash": last.hash}
    pages = feet_of(pdf)
    assert len(pages) > 1
    expected = f"Audit entry {last.seq} SHA-256 {last.hash}"
    assert [expected in " ".join(found) for found in pages] == [True] * len(pages)
    anchored = auditing.anchored(office, last.hash)
    assert (anchored.holds, anchored.entry, anchored.broken) == (True, last.seq, None)
    assert anchored.stood > last.seq
    assert verify(pdf) == []


def test_a_draft_bears_no_audit_entry(office):
    pdf = report_pdf(frozen(compliance.judged(office).checked, "permit"))
    assert not any(feet_of(pdf))
