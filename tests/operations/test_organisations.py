"""Whose record it is: named once by an administrator, changed with a trace, asked for where it is missing."""

import json

import pytest
from sqlmodel import select

from api.entities.audit import AuditEntry
from api.operations import demonstration
from api.operations.accounts import NotAllowedError, add_account
from api.operations.importing import import_files
from api.operations.organisations import (
    OrganisationMissingError,
    OrganisationOfDemoError,
    OrganisationRefusedError,
    organisation,
    set_organisation,
)
from api.operations.people import list_people
from api.store.audit import first_broken
from api.store.unit_of_work import Actor
from tests.builders import SAMPLE, write_season

SYSTEM = Actor()


def entries(store):
    with store.reading() as session:
        found = session.exec(select(AuditEntry).where(AuditEntry.subject == "organisation 1").order_by(AuditEntry.seq))
        return [(one.action, one.actor, json.loads(one.content)) for one in found]


def test_where_there_is_none_it_says_how_to_name_one(store):
    with pytest.raises(OrganisationMissingError, match="an administrator names it: creekledger organisation"):
        organisation(store)
    with pytest.raises(OrganisationMissingError):
        set_organisation(store, SYSTEM, own_catch_approved=True)


def test_it_is_named_once_and_what_changes_later_is_kept_old_and_new(store):
    named = set_organisation(store, SYSTEM, name="  Marrow\n Aquarium ", zone="Australia/Hobart")
    assert (named.name, named.zone, named.own_catch_approved, named.demo) == (
        "Marrow Aquarium",
        "Australia/Hobart",
        False,
        False,
    )
    assert organisation(store) == named
    changed = set_organisation(store, SYSTEM, own_catch_approved=True)
    assert (changed.name, changed.zone, changed.own_catch_approved) == ("Marrow Aquarium", "Australia/Hobart", True)
    assert organisation(store) == changed
    assert entries(store) == [
        ("organisation named", "system", {"name": ["", "Marrow Aquarium"]}),
        ("organisation changed", "system", {"own_catch_approved": [False, True]}),
    ]
    # The same again changes nothing and leaves no trace.
    assert set_organisation(store, SYSTEM, name="Marrow Aquarium", own_catch_approved=True) == changed
    assert len(entries(store)) == 2
    with store.reading() as session:
        assert first_broken(session) == (2, None)


def test_its_first_zone_is_that_of_the_first_authority(store, tmp_path):
    with pytest.raises(OrganisationRefusedError, match="zone cannot be ''"):
        set_organisation(store, SYSTEM, name="Marrow Aquarium")
    permit, trips = write_season(tmp_path)
    import_files(store, tmp_path / "files", [permit], [trips], SYSTEM)
    assert set_organisation(store, SYSTEM, name="Marrow Aquarium").zone == "Australia/Hobart"


@pytest.mark.parametrize(
    ("name", "zone", "part"),
    [
        ("", "UTC", "name"),
        (" \n", "UTC", "name"),
        ("x" * 201, "UTC", "name"),
        ("no\0thing", "UTC", "name"),
        ("Marrow", "Nowhere/At all", "zone"),
        ("Marrow", "../etc", "zone"),
    ],
)
def test_what_cannot_stand_is_refused_and_leaves_nothing(store, name, zone, part):
    with pytest.raises(OrganisationRefusedError) as refused:
        set_organisation(store, SYSTEM, name=name, zone=zone)
    assert refused.value.part == part
    with pytest.raises(OrganisationMissingError):
        organisation(store)
    assert entries(store) == []


def test_only_an_administrator_changes_it(cheap_hashes, store):
    for role in ("administrator", "curator"):
        add_account(store, SYSTEM, login=f"the-{role}", name=role, password="wet sand under nine nails", roles=[role])
    people = {one.name: one.id for one in list_people(store)}
    with pytest.raises(NotAllowedError, match="may not change the organisation"):
        set_organisation(store, Actor(people["curator"]), name="Marrow", zone="UTC")
    set_organisation(store, Actor(people["administrator"]), name="Marrow", zone="UTC")
    assert [actor for _, actor, _ in entries(store)] == [people["administrator"]]


def test_the_demo_is_put_into_no_record_of_its_own(store, tmp_path):
    assert demonstration.is_set_up(store) is False
    permit, trips = write_season(tmp_path)
    import_files(store, tmp_path / "files", [permit], [trips], SYSTEM)
    with pytest.raises(OrganisationOfDemoError, match="a record of its own"):
        demonstration.is_set_up(store)
    set_organisation(store, SYSTEM, name="Marrow Aquarium")
    with pytest.raises(OrganisationOfDemoError):
        demonstration.is_set_up(store)


def test_the_demo_knows_itself_again(cheap_hashes, store, tmp_path):
    demonstration.set_up(store, tmp_path / "files", SAMPLE)
    assert demonstration.is_set_up(store) is True
    assert organisation(store).demo is True
    assert set_organisation(store, SYSTEM, own_catch_approved=True).demo is True
