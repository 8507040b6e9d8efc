"""Everybody the record names, with their accounts and their roles under authorities; and the sites it names."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import col, select

from api.entities.accounts import Account, AccountRoleHeld
from api.entities.authorities import AuthorityRole
from api.entities.people import Person
from api.entities.places import Site
from api.store.unit_of_work import Store


@dataclass(frozen=True, slots=True)
class RoleHeld:
    """What somebody is under an authority; days "" are the authority's own."""

    authority: str
    role: str
    first_day: str
    last_day: str


@dataclass(frozen=True, slots=True)
class PersonTold:
    """Somebody named in the record; ``login`` "" for who has no open account."""

    id: str
    name: str
    login: str
    roles: tuple[str, ...]
    held: tuple[RoleHeld, ...]


def list_sites(store: Store) -> list[tuple[str, str]]:
    """Give every site where is collected, by name: id and name."""
    with store.reading() as session:
        return [(one.id, one.name) for one in session.exec(select(Site).order_by(col(Site.name), col(Site.id)))]


def list_people(store: Store) -> list[PersonTold]:
    """Give everybody by name."""
    with store.reading() as session:
        logins = {one.person_id: one for one in session.exec(select(Account).where(col(Account.closed_at).is_(None)))}
        roles: dict[str, list[str]] = {}
        for one in session.exec(select(AccountRoleHeld).order_by(col(AccountRoleHeld.role))):
            roles.setdefault(one.account_id, []).append(one.role)
        held: dict[str, list[RoleHeld]] = {}
        newest = select(AuthorityRole).order_by(
            col(AuthorityRole.authority_id), col(AuthorityRole.version), col(AuthorityRole.place)
        )
        for row in session.exec(newest):
            told = RoleHeld(row.authority_id, row.role, row.first_day, row.last_day)
            held.setdefault(row.person_id, []).append(told)
        return [
            PersonTold(
                person.id,
                person.name,
                logins[person.id].login if person.id in logins else "",
                tuple(roles.get(logins[person.id].id, ())) if person.id in logins else (),
                tuple(dict.fromkeys(held.get(person.id, ()))),
            )
            for person in session.exec(select(Person).order_by(col(Person.name), col(Person.id)))
        ]
