"""The commands that keep a server, as a newcomer runs them one after another in an empty folder."""

import io
import sys

import pytest
from sqlmodel import select

from api import serving
from api.cli import main
from api.entities.audit import AuditEntry
from api.entities.people import Organisation
from api.operations.keeping import open_store
from api.settings import Settings
from api.store.unit_of_work import Actor
from tests.builders import write_season

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

    def one(*words, typed="", terminal=False):
        monkeypatch.setattr(sys, "stdin", Terminal(typed) if terminal else io.StringIO(typed))
        code = main([*map(str, words), "--data", str(tmp_path / "data")])
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
    with open_store(Settings(data=tmp_path / "data")).reading() as session:
        (first, _) = session.exec(select(AuditEntry.hash).order_by(AuditEntry.seq)).all()
    code, said, _ = run("audit", "verify", "--anchor", first)
    assert code == 0
    assert said.splitlines()[1] == "The anchor holds: it is entry 1 of 2 that stand, as it was when it was printed."
    code, said, _ = run("audit", "verify", "--anchor", "0" * 64)
    assert (code, "The anchor is NOT in the chain" in said) == (1, True)
    code, said, wrong = run("audit", "verify", "--anchor", "12ab")
    assert (code, said, "'12ab' is no hash of an audit entry" in wrong) == (2, "", True)


def test_the_demo_is_served_to_this_machine_only(run, served, tmp_path, monkeypatch):
    with open_store(Settings(data=tmp_path / "data")).writing(Actor()) as work:
        work.session.add(Organisation(name="Marrow Aquarium", zone="UTC", demo=True))
    monkeypatch.setenv("CREEKLEDGER_BEHIND_PROXY", "true")
    code, _, wrong = run("serve", "--port", "8799", "--host", "0.0.0.0")
    assert (code, served) == (2, [])
    assert "whose passwords everybody knows" in wrong
    assert run("serve", "--port", "8799")[0] == 0
