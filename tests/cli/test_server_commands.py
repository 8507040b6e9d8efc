"""The commands that keep a server, as a newcomer runs them one after another in an empty folder."""

import io
import socket
import subprocess
import sys

import pytest
from sqlalchemy import create_engine, text
from sqlmodel import select

from api import serving
from api.cli import main
from api.entities.audit import AuditEntry
from api.entities.people import Organisation
from api.operations.keeping import open_store, opened
from api.settings import Settings
from api.store.unit_of_work import Actor
from reports.pdf_text import lines_of
from tests.builders import write_season

pytestmark = pytest.mark.slow

PASSWORD = "wet sand under nine nails"


class Terminal(io.StringIO):
    """Somebody at a terminal who types the given lines."""

    def isatty(self):
        return True


@pytest.fixture
def run(tmp_path, monkeypatch, capsys, cheap_hashes):
    """Give a way to run a command on a data folder; gives its exit code, what it printed, and its complaints."""
    for name in ("DATA", "DATABASE", "HOST", "PORT"):
        monkeypatch.delenv(f"CREEKLEDGER_{name}", raising=False)
    monkeypatch.setattr(serving, "_log_as", lambda _kind: None)

    def one(*words, typed="", terminal=False, data=tmp_path / "data"):
        monkeypatch.setattr(sys, "stdin", Terminal(typed) if terminal else io.StringIO(typed))
        code = main([*map(str, words), "--data", str(data)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return one


@pytest.fixture
def served(monkeypatch):
    """Let ``serve`` start nothing; gives what it would have listened on."""
    begun = []
    monkeypatch.setattr(serving.uvicorn, "run", lambda _app, **more: begun.append((more["host"], more["port"])))
    return begun


def test_a_newcomer_gets_from_nothing_to_a_server(run, served, tmp_path):
    permit, trips = write_season(tmp_path)
    assert run("migrate")[0] == 0
    code, said, _ = run("import", permit, "--trips", trips)
    assert (code, said.split(",")[0]) == (0, "Taken in: 1 authority")
    assert run("user", "ann", "--name", "Ann Oake", "--role", "administrator", typed=f"{PASSWORD}\n")[0] == 0
    code, _, wrong = run("serve", "--port", "8799")
    assert code == 2
    assert 'creekledger organisation "NAME" --zone Region/City' in wrong
    assert served == []
    assert run("organisation", "Marrow Aquarium") == (
        0,
        "Marrow Aquarium, Australia/Hobart; nobody decides on their own catch.\n",
        "",
    )
    assert run("serve", "--port", "8799")[0] == 0
    assert served == [("127.0.0.1", 8799)]


def test_at_a_terminal_serve_asks_whose_record_it_is(run, served):
    code, said, _ = run("serve", "--port", "8799", typed="Marrow Aquarium\nPacific/Auckland\n", terminal=True)
    assert (code, served) == (0, [("127.0.0.1", 8799)])
    assert "Whose record is this?" in said
    assert run("organisation")[1].startswith("Marrow Aquarium, Pacific/Auckland;")


def test_the_organisation_is_shown_and_changed(run):
    assert run("organisation")[0] == 2
    assert run("organisation", "--own-catch", "yes")[0] == 2
    code, _, wrong = run("organisation", "Marrow Aquarium", "--zone", "Nowhere/Here")
    assert (code, "time zone as in" in wrong) == (2, True)
    assert run("organisation", "Marrow Aquarium", "--zone", "UTC")[0] == 0
    said = run("organisation", "--own-catch", "yes")[1]
    assert said == "Marrow Aquarium, UTC; curators may decide on their own catch.\n"
    assert run("organisation")[1] == said


def test_the_audit_is_held_against_the_hash_of_a_report(run, tmp_path):
    run("organisation", "Marrow Aquarium", "--zone", "UTC")
    run("organisation", "--own-catch", "yes")
    assert run("audit", "verify") == (0, "The audit chain stands: 2 entries.\n", "")
    with opened(open_store(Settings(data=tmp_path / "data"))) as store, store.reading() as session:
        (first, _) = session.exec(select(AuditEntry.hash).order_by(AuditEntry.seq)).all()
    code, said, _ = run("audit", "verify", "--anchor", first)
    assert code == 0
    assert said.splitlines()[1] == "The anchor holds: it is entry 1 of 2 that stand, as it was when it was printed."
    code, said, _ = run("audit", "verify", "--anchor", "0" * 64)
    assert (code, "The anchor is NOT in the chain" in said) == (1, True)
    code, said, wrong = run("audit", "verify", "--anchor", "12ab")
    assert (code, said, "'12ab' is no hash of an audit entry" in wrong) == (2, "", True)


def test_the_demo_is_served_to_this_machine_only(run, served, tmp_path, monkeypatch):
    with opened(open_store(Settings(data=tmp_path / "data"))) as store, store.writing(Actor()) as work:
        work.session.add(Organisation(name="Marrow Aquarium", zone="UTC", demo=True))
    monkeypatch.setenv("CREEKLEDGER_BEHIND_PROXY", "true")
    code, _, wrong = run("serve", "--port", "8799", "--host", "0.0.0.0")
    assert (code, served) == (2, [])
    assert "whose passwords everybody knows" in wrong
    assert run("serve", "--port", "8799")[0] == 0


def test_the_demo_keeps_its_data_in_the_folder_that_was_named(run, served, tmp_path):
    code, said, _ = run("demo", "--port", "8799")
    assert (code, served) == (0, [("127.0.0.1", 8799)])
    assert "Taking in the sample season" in said
    assert "login demo-administrator" in said
    code, said, _ = run("demo", "--port", "8799")
    assert (code, "Taking in" in said) == (0, False)
    assert run("audit", "verify")[0] == 0
    assert run("organisation")[1].startswith("Kelloran Aquarium")


def test_a_record_is_backed_up_and_restored_elsewhere(run, tmp_path):
    run("organisation", "Marrow Aquarium", "--zone", "UTC")
    archive, other = tmp_path / "season.zip", tmp_path / "other"
    assert run("backup", archive)[0] == 0
    kept = archive.read_bytes()
    code, _, wrong = run("backup", archive)
    assert (code, "There is such a file already" in wrong, archive.read_bytes() == kept) == (2, True, True)
    assert run("backup", archive, "--replace")[0] == 0
    code, said, _ = run("restore", archive, data=other)
    assert (code, said.endswith("the audit chain stands.\n")) == (0, True)
    assert run("organisation", data=other)[1].startswith("Marrow Aquarium, UTC")
    assert run("audit", "verify", data=other)[1] == run("audit", "verify")[1]
    code, _, wrong = run("restore", archive, data=other)
    assert (code, "restore into an empty one" in wrong) == (2, True)


def test_a_folder_that_is_not_there_is_no_empty_record(run, tmp_path):
    for words in (("audit", "verify"), ("backup", tmp_path / "out.zip")):
        code, said, wrong = run(*words, data=tmp_path / "misspelt")
        assert (code, said) == (2, "")
        assert "there is no record in" in wrong
    assert not (tmp_path / "misspelt").exists()
    assert not (tmp_path / "out.zip").exists()


def test_an_empty_database_is_no_record_either(run, postgresql_maker, tmp_path):
    emptied, file = postgresql_maker(), tmp_path / "empty.db"
    file.touch()
    engine = create_engine(emptied)
    with engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    engine.dispose()
    for address in (emptied, f"sqlite:///{file}"):
        code, _, wrong = run("audit", "verify", "--database", address)
        assert (code, "there is no record in" in wrong) == (2, True)
        assert run("migrate", "--database", address)[0] == 0
        assert run("audit", "verify", "--database", address)[:2] == (0, "The audit chain stands: 0 entries.\n")


def test_a_database_that_does_not_answer_is_told_in_a_line(run):
    code, _, wrong = run("migrate", "--database", "postgresql+psycopg://nobody@127.0.0.1:1/nothing")
    assert code == 2
    assert "the database cannot be reached" in wrong
    assert "Traceback" not in wrong


def test_a_backup_into_a_folder_that_is_not_there_is_told(run, tmp_path):
    run("migrate")
    code, _, wrong = run("backup", tmp_path / "nowhere" / "season.zip")
    assert (code, "The backup cannot be written (No such file or directory)" in wrong) == (2, True)


def test_the_data_folder_is_for_its_owner_alone(run, tmp_path):
    run("migrate")
    assert (tmp_path / "data").stat().st_mode & 0o077 == 0


def test_somebody_without_a_name_is_asked_for_one(run):
    code, _, wrong = run("user", "ann", "--role", "curator", typed=f"{PASSWORD}\n")
    assert (code, "It is not said who 'ann' is." in wrong, "--name" in wrong) == (2, True, True)


def test_settings_that_are_not_safe_are_told_in_plain_words(run):
    code, _, wrong = run("serve", "--host", "0.0.0.0")
    assert (code, "Value error" in wrong, "Phones need TLS" in wrong) == (2, False, True)


@pytest.fixture(scope="module")
def certificates(tmp_path_factory):
    """Give two certificates with their keys, made for this run."""
    folder = tmp_path_factory.mktemp("certificates")
    for name in ("one", "two"):
        how = ("openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost")
        out = ("-keyout", str(folder / f"{name}.key"), "-out", str(folder / f"{name}.pem"))
        subprocess.run([*how, *out], check=True, capture_output=True)
    return folder


@pytest.mark.parametrize(
    ("certificate", "key"), [("none.pem", "one.key"), ("one.key", "one.pem"), ("one.pem", "two.key")]
)
def test_a_certificate_that_cannot_be_used_stops_the_start(run, served, certificates, certificate, key):
    run("organisation", "Marrow Aquarium", "--zone", "UTC")
    files = ("--certificate", certificates / certificate, "--certificate-key", certificates / key)
    code, _, wrong = run("serve", "--port", "8799", *files)
    assert (code, served) == (2, [])
    assert "cannot be used" in wrong
    assert "the key that belongs to it" in wrong


def test_a_certificate_of_ones_own_is_served_under_the_machines_name(run, served, certificates):
    run("organisation", "Marrow Aquarium", "--zone", "UTC")
    files = ("--certificate", certificates / "one.pem", "--certificate-key", certificates / "one.key")
    code, said, _ = run("serve", "--port", "8799", "--host", "0.0.0.0", *files)
    assert (code, served) == (0, [("0.0.0.0", 8799)])
    assert f"Open https://{socket.gethostname()}:8799/" in said


def test_a_field_sheet_is_written_once_and_says_what_it_holds(run, tmp_path):
    permit, trips = write_season(tmp_path)
    out = tmp_path / "sheet.pdf"
    assert run("import", permit, "--trips", trips)[0] == 0
    code, said, _ = run("field-sheet", "T1", "--out", out, "--hauls", "2")
    assert (code, said) == (0, f"{out}: trip T1, 2 hauls, 1 taxon each.\n")
    assert lines_of(out.read_bytes(), 0)[0] == "Field sheet T1"
    code, _, wrong = run("field-sheet", "T1", "--out", out)
    assert code == 2
    assert "There is such a file already. Give another name, or --replace" in wrong
    assert run("field-sheet", "T1", "--out", out, "--replace")[0] == 0


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("T99", "--out", "sheet.pdf"), "there is no trip 'T99'"),
        (
            ("T1", "--out", "sheet.pdf", "--hauls", "0"),
            "--hauls: A sheet cannot have 0 hauls. Give a number from 1 to 12.",
        ),
        (
            ("T1", "--out", "sheet.pdf", "--rows", "81"),
            "--rows: A sheet cannot have 81 rows. Give a number from 1 to 80.",
        ),
        (("T1", "--out", "missing/sheet.pdf"), "The sheet cannot be written"),
    ],
)
def test_a_field_sheet_that_cannot_be_is_refused(run, tmp_path, monkeypatch, words, told):
    monkeypatch.chdir(tmp_path)
    permit, trips = write_season(tmp_path)
    assert run("import", permit, "--trips", trips)[0] == 0
    code, _, wrong = run("field-sheet", *words)
    assert code == 2
    assert told in wrong
    assert not list(tmp_path.rglob("*.pdf"))
