"""What a phone pulls besides trips: enough to show the papers and to check without signal, and nothing left empty.

FIELD.md 1 and "What the collector can see": the permit's own words, what is left, the crew, the areas.
"""

from dataclasses import replace

import pytest

from api.domain.facts import Book
from api.exchange.authority_json import authority_of
from api.exchange.snapshot import area_from_json
from api.exchange.taxa_json import taxa_of
from api.operations import allotting, gate, lots_told
from api.operations.accounts import add_account
from api.operations.documents import add_document
from api.operations.importing import import_files
from api.operations.people import list_people
from api.operations.pulling import pull
from api.operations.syncing import push
from api.store.books import current_book
from api.store.unit_of_work import Actor
from tests import phones
from tests.builders import SAMPLE, SAMPLE_AUTHORITIES, authority_file, trips_file, write_season

OFFICE = Actor("ann")
PDF = b"%PDF-1.7\nthe permit as issued\n"


@pytest.fixture
def season(cheap_hashes, store, tmp_path):
    """Give a store with the builders' permit, a published total, a trip and a curator."""
    papers = {"shared_totals": [{"authority": "permit", "condition": "1", "as_of": "2027-09-01T09:00", "total": 4}]}
    permit, trips = write_season(tmp_path, trips=trips_file(**papers))
    import_files(store, tmp_path / "files", [permit], [trips], Actor())
    add_account(store, Actor(), login="ines", name="Ines", password="wet sand under nine nails", roles=["curator"])
    return store


def pulled(store, kind, limit=1000):
    """Pull everything page by page; gives the changes of a kind by their ids."""
    found, cursor, more = {}, 0, True
    while more:
        page = pull(store, cursor, limit)
        found |= {one.id: one for one in page.changes if one.kind == kind}
        cursor, more = page.cursor, page.more
    return found


def curator(store):
    return Actor(next(one.id for one in list_people(store) if one.name == "Ines"))


def book_of(store):
    """Make the book from what was pulled, as a phone has to."""
    told = dict(pulled(store, "taxa")["taxa"].record)
    issued = told.pop("issued_names")
    taxa, faults = taxa_of(told, "pulled")
    assert faults == []
    areas = {one["id"]: area_from_json(one) for one in pulled(store, "areas")["areas"].record["areas"]}
    authorities = []
    for one in pulled(store, "authority").values():
        authority, faults = authority_of(one.record, "pulled", taxa, areas)
        assert faults == []
        authorities.append(authority)
    return Book(tuple(authorities), taxa, areas, issued_names=issued)


def test_the_whole_book_can_be_made_from_what_was_pulled(store, tmp_path):
    import_files(store, tmp_path / "files", SAMPLE_AUTHORITIES, [], Actor())
    with store.reading() as session:
        stands = current_book(session, store.shared)
    made = book_of(store)
    assert len(stands.authorities) > 1
    assert len(stands.areas) > 1
    assert {one.id: one for one in made.authorities} == {one.id: one for one in stands.authorities}
    assert (made.taxa, made.areas, made.issued_names) == (stands.taxa, stands.areas, stands.issued_names)
    # The words as issued are what the collector reads at the creek.
    texts = [clause.text for one in made.authorities for clause in one.conditions]
    assert texts
    assert all(texts)


def test_terms_keyed_anew_are_pulled_as_they_stand(season, tmp_path):
    authority = dict(pulled(season, "authority")["permit"].record)
    conditions = [{**authority["conditions"][0], "text": "Not more than 12 galaxias in a permit year."}]
    permit, _ = write_season(tmp_path, authority_file(conditions=conditions, number="XP 1a"))
    import_files(season, tmp_path / "files", [permit], [], Actor())
    newest = pulled(season, "authority")["permit"]
    assert (newest.version, newest.code) == (2, "XP 1a")
    assert newest.record["conditions"][0]["text"] == "Not more than 12 galaxias in a permit year."


def test_a_lot_is_pulled_through_every_decision(season, clock):
    lots_told.list_lots(season, lots_told.AskedLots())  # lots come to the gate when it is looked at
    (waiting,) = pulled(season, "acquisition").values()
    assert (waiting.version, waiting.code, waiting.parent, waiting.trip) == (1, "", "L1", "T1")
    assert waiting.record == {
        "id": waiting.id,
        "state": "waiting",
        "accession": None,
        "line": "L1",
        "taxon": "Galaxias maculatus",
        "authority": "permit",
        "unit": "individuals",
        "count": {"low": 9, "best": 9, "high": 9},
        "door_count": None,
        "decided_at": None,
        "decided_by": "",
        "reason": "",
        "onward": "",
    }
    who = curator(season)
    gate.hold(season, who, waiting.id, version=1, reason="the tank is being dried")
    gate.accept(season, who, waiting.id, version=2, door_count=8, reason="one less in the bucket")
    (accepted,) = pulled(season, "acquisition").values()
    told = lots_told.look_at(season, waiting.id)
    assert (accepted.version, accepted.code) == (3, told.accession)
    expected = {
        **waiting.record,
        "state": "accepted",
        "accession": told.accession,
        "door_count": 8,
        "decided_at": "2028-07-14T02:00:00Z",
        "decided_by": who.person,
        "reason": "one less in the bucket",
    }
    assert accepted.record == expected


def test_a_lot_of_material_keeps_its_count_exactly(season):
    trip = phones.trip("ann", status="closed")
    haul = phones.haul(trip)
    shell = phones.line(haul, taxon="shell, clean", count="7/2 L")
    assert [one.answer for one in push(season, [trip, haul, shell], OFFICE)] == ["stored"] * 3
    lots_told.list_lots(season, lots_told.AskedLots())
    lots = [one.record for one in pulled(season, "acquisition").values() if one.record["unit"] == "L"]
    assert [(one["count"], one["line"]) for one in lots] == [
        ({"low": "7/2", "best": "7/2", "high": "7/2"}, shell.record["id"])
    ]


def test_an_allotment_is_pulled_as_it_stands(season, clock):
    trip = phones.trip("ann", status="planned", depart="2027-10-01T07:00")
    assert push(season, [trip], OFFICE)[0].answer == "stored"
    told = allotting.grant(season, OFFICE, trip.record["id"], authority="permit", number="1", amount=1)
    (open_one,) = pulled(season, "allotment").values()
    assert (open_one.id, open_one.parent, open_one.trip) == (told.id, trip.record["id"], trip.record["id"])
    named = {name: open_one.record[name] for name in ("authority", "number", "label", "name", "first_day", "unit")}
    assert named == {name: getattr(told, name) for name in named}
    assert (open_one.record["amount"], open_one.record["state"], open_one.record["ended_at"]) == (1, "open", None)
    allotting.reclaim(season, OFFICE, told.id, "never came back")
    (taken,) = pulled(season, "allotment").values()
    changed = {"state": "reclaimed", "why": "never came back", "ended_at": "2028-07-14T02:00:00Z"}
    assert (taken.version, taken.record) == (2, {**open_one.record, **changed})


def test_papers_are_pulled_by_name_and_hash(season, tmp_path):
    told = add_document(season, tmp_path / "files", OFFICE, "permit", PDF, name="permit.pdf", title="As issued")
    (paper,) = pulled(season, "document").values()
    assert paper.record == {
        "sha256": told.sha256,
        "name": "permit.pdf",
        "media_type": "application/pdf",
        "size": len(PDF),
        "received_at": "2028-07-14T02:00:00Z",
        "received_by": "ann",
        "of": [{"authority": "permit", "title": "As issued"}],
    }


def test_totals_of_shared_quotas_and_corrections_are_pulled(season):
    (papers,) = pulled(season, "papers").values()
    (total,) = papers.record["shared_totals"]
    assert total == {
        "authority": "permit",
        "condition": "1",
        "as_of": "2027-08-31T23:00:00Z",
        "total": {"low": 4, "best": 4, "high": 4},
    }
    line = phones.line(phones.haul(phones.trip("ann")), id="L1", count=7)
    line = replace(line, parent="H1", based_on=1, why="recounted from the photographs")
    assert push(season, [line], OFFICE)[0].answer == "stored"
    (papers,) = pulled(season, "papers").values()
    (correction,) = papers.record["corrections"]
    assert (correction["record"], correction["field"], correction["by"]) == ("L1", "count", "ann")


def test_nothing_is_pulled_without_its_content(season, tmp_path):
    add_document(season, tmp_path / "files", OFFICE, "permit", PDF, name="permit.pdf", title="As issued")
    trip = phones.trip("ann", status="planned", depart="2027-10-01T07:00")
    push(season, [phones.person(), trip], OFFICE)
    allotting.grant(season, OFFICE, trip.record["id"], authority="permit", number="1", amount=1)
    every = {"taxa", "authority", "trip", "haul", "line", "papers", "acquisition", "document", "person", "allotment"}
    lots_told.list_lots(season, lots_told.AskedLots())
    whole = pull(season, 0).changes
    assert {one.kind for one in whole} == every
    assert [one.kind for one in whole if one.record is None] == []
    # Page by page it is the same.
    for kind in every:
        assert {one.id: one.record for one in whole if one.kind == kind} == {
            key: one.record for key, one in pulled(season, kind, limit=2).items()
        }


def test_the_sample_season_is_pulled_whole(store, tmp_path):
    import_files(store, tmp_path / "files", SAMPLE_AUTHORITIES, [SAMPLE], Actor())
    lots_told.list_lots(store, lots_told.AskedLots())
    empty, kinds, cursor, more = [], set(), 0, True
    while more:
        page = pull(store, cursor)
        kinds |= {one.kind for one in page.changes}
        empty += [(one.kind, one.id) for one in page.changes if one.record is None]
        cursor, more = page.cursor, page.more
    assert empty == []
    assert {"areas", "taxa", "authority", "notice", "incident", "movement", "papers", "acquisition"} <= kinds
