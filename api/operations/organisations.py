"""Whose record this is: the organisation's name, its zone, and whether somebody may approve what they caught."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace

from sqlmodel import Session, col, select

from api.domain.calendar import zone_named
from api.entities.authorities import AuthorityRecord
from api.entities.columns import ID_LENGTH, NAME_LENGTH
from api.entities.people import Organisation
from api.operations.accounts import must_administer
from api.store.unit_of_work import Actor, Store


class OrganisationError(ValueError):
    """Something about the organisation cannot be done; the text says what, and how to mend it."""


class OrganisationMissingError(OrganisationError):
    """Nobody has said yet whose record this is."""

    def __init__(self) -> None:
        super().__init__(
            "this store has no organisation yet; an administrator names it: "
            'creekledger organisation "NAME" --zone Region/City'
        )


class OrganisationRefusedError(OrganisationError):
    """A name or a zone cannot stand; carries which part and what was given."""

    def __init__(self, part: str, given: str, mend: str) -> None:
        self.part, self.given = part, given
        super().__init__(f"the organisation's {part} cannot be '{given[:80]}'; {mend}")


class OrganisationOfDemoError(OrganisationError):
    """The store holds the demo, or the demo was asked for on a store that holds a real record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrganisationTold:
    """The organisation. ``own_catch_approved``: a curator may decide on lots that they themselves collected."""

    name: str
    zone: str
    own_catch_approved: bool
    demo: bool


def organisation(store: Store) -> OrganisationTold:
    """Give the organisation; raises OrganisationMissingError."""
    with store.reading() as session:
        row = session.get(Organisation, 1)
    if row is None:
        raise OrganisationMissingError
    return _told(row)


def set_organisation(
    store: Store,
    actor: Actor,
    *,
    name: str | None = None,
    zone: str | None = None,
    own_catch_approved: bool | None = None,
) -> OrganisationTold:
    """Name the organisation, or change what is given of it (None leaves it); what changed is audited, old and new.

    Where no zone is given at first, it is that of the first authority. Raises accounts.NotAllowedError,
    OrganisationMissingError where there is none yet and no name is given, OrganisationRefusedError.
    """
    with store.writing(actor) as work:
        must_administer(work.session, actor, "change the organisation")
        row = work.session.get(Organisation, 1)
        if row is None:
            if name is None:
                raise OrganisationMissingError
            row = Organisation(name="", zone=_first_zone(work.session) if zone is None else zone)
        old = _told(row)
        new = replace(
            old,
            name=old.name if name is None else _clean_name(name),
            zone=_clean_zone(old.zone if zone is None else zone),
            own_catch_approved=old.own_catch_approved if own_catch_approved is None else own_catch_approved,
        )
        if new != old:
            row.name, row.zone, row.own_catch_approved = new.name, new.zone, new.own_catch_approved
            work.session.add(row)
            was, now = asdict(old), asdict(new)
            changes = {part: [was[part], now[part]] for part in now if was[part] != now[part]}
            work.note("organisation changed" if old.name else "organisation named", "organisation 1", changes)
        return new


def _told(row: Organisation) -> OrganisationTold:
    return OrganisationTold(name=row.name, zone=row.zone, own_catch_approved=row.own_catch_approved, demo=row.demo)


def _first_zone(session: Session) -> str:
    """Give the zone of the first authority, "" where none is here."""
    query = select(AuthorityRecord.zone).order_by(col(AuthorityRecord.place)).limit(1)
    return session.exec(query).first() or ""


def _clean_name(name: str) -> str:
    tidy = " ".join(name.split())
    if not tidy or not tidy.isprintable() or len(tidy) > NAME_LENGTH:
        raise OrganisationRefusedError("name", name, f"give 1 to {NAME_LENGTH} printable characters")
    return tidy


def _clean_zone(zone: str) -> str:
    mend = "give a time zone as in 'Pacific/Auckland' or 'UTC'"
    try:
        zone_named(zone)
    except ValueError as problem:
        raise OrganisationRefusedError("zone", zone, mend) from problem
    if len(zone) > ID_LENGTH:
        raise OrganisationRefusedError("zone", zone, mend)
    return zone
