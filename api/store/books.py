"""The book (authorities, names, areas) from its rows, and a book into rows."""

from __future__ import annotations

from typing import Any

from sqlmodel import Session, col, func, select

from api.domain.facts import Book
from api.domain.permits import Authority
from api.domain.taxa import Taxa, Taxon
from api.entities.audit import AuditHead
from api.entities.authorities import AuthorityRecord, AuthorityRole, AuthorityVersion
from api.entities.people import Person
from api.entities.places import AreaRecord
from api.entities.sync import Change
from api.entities.taxa import IssuedName, TaxonRecord, TaxonSynonym
from api.exchange.authority_json import authority_of
from api.exchange.canonical import fingerprint
from api.exchange.faults import FaultyFileError
from api.exchange.season_out import authority_to_json
from api.exchange.snapshot import area_from_json, area_to_json
from api.store.ids import new_id
from api.store.seasons import rows_of
from api.store.unit_of_work import Work

AREA_FIELDS = ("id", "name", "kind", "edge_tolerance_m", "source", "drawn", "datum", "geometry")


def book_from(session: Session) -> Book:
    """Read the book as it stands: the newest terms of every authority, all names and areas.

    Raises FaultyFileError where stored terms no longer make an authority.
    """
    taxa = Taxa.of(_taxa(session))
    areas = {
        row["id"]: area_from_json({name: row[name] for name in AREA_FIELDS})
        for row in rows_of(session, AreaRecord, "place")
    }
    authorities = []
    for record, version in newest_terms(session):
        authority, faults = authority_of(version.terms, record.id, taxa, areas)
        if authority is None:
            raise FaultyFileError(faults)
        authorities.append(authority)
    issued = {row["taxon_id"]: row["name"] for row in rows_of(session, IssuedName, "taxon_id")}
    return Book(tuple(authorities), taxa, areas, issued_names=issued)


def current_book(session: Session, shared: dict[str, Any]) -> Book:
    """Give the book as it stands, read anew only when something in it changed."""
    kinds = ("authority", "taxa", "areas")
    head = session.get_one(AuditHead, 1).changes
    held: tuple[int, Book] | None = shared.get("book")
    # Only what came since the last look is asked for: of a long season there are very many changes.
    newer = select(Change.seq).where(col(Change.seq) > (held[0] if held else 0), col(Change.kind).in_(kinds)).limit(1)
    if held is None or head < held[0] or session.exec(newer).first() is not None:
        held = (head, book_from(session))
    shared["book"] = held = (max(head, held[0]), held[1])
    return held[1]


def newest_terms(session: Session) -> list[tuple[AuthorityRecord, AuthorityVersion]]:
    """Give every authority with its newest terms, in the organisation's own order."""
    newest = (
        select(AuthorityVersion.authority_id, func.max(AuthorityVersion.number).label("number"))
        .group_by(AuthorityVersion.authority_id)
        .subquery()
    )
    query = (
        select(AuthorityRecord, AuthorityVersion)
        .join(AuthorityVersion, col(AuthorityVersion.authority_id) == col(AuthorityRecord.id))
        .join(
            newest,
            (newest.c.authority_id == col(AuthorityVersion.authority_id))
            & (newest.c.number == col(AuthorityVersion.number)),
        )
        .order_by(col(AuthorityRecord.place))
    )
    return [(record, version) for record, version in session.exec(query)]


def _taxa(session: Session) -> list[Taxon]:
    synonyms: dict[str, list[str]] = {}
    for row in rows_of(session, TaxonSynonym, "taxon_id", "place"):
        synonyms.setdefault(row["taxon_id"], []).append(row["name"])
    return [
        Taxon(
            id=row["id"],
            rank=row["rank"],
            parent=row["parent_id"],
            common=row["common"],
            synonyms=tuple(synonyms.get(row["id"], ())),
            origin=row["origin"],
            note=row["note"],
        )
        for row in rows_of(session, TaxonRecord, "place")
    ]


def write_taxa(work: Work, taxa: Taxa) -> int:
    """Add the taxa that are not there yet, parents first; gives how many were added."""
    known = set(work.session.exec(select(TaxonRecord.id)).all())
    new = [taxon for taxon in taxa.taxa.values() if taxon.id not in known]
    places = {taxon.id: place for place, taxon in enumerate(new, start=len(known))}
    for taxon in _parents_first(taxa):
        if taxon.id in known:
            continue
        row: dict[str, Any] = {
            "id": taxon.id,
            "place": places[taxon.id],
            "rank": taxon.rank,
            "parent_id": taxon.parent,
            "common": taxon.common,
            "origin": taxon.origin,
            "note": taxon.note,
        }
        work.insert(TaxonRecord, row)
        for at, name in enumerate(taxon.synonyms):
            work.insert(TaxonSynonym, {"name": name, "taxon_id": taxon.id, "place": at})
    return len(new)


def _parents_first(taxa: Taxa) -> list[Taxon]:
    done: dict[str, Taxon] = {}

    def take(taxon: Taxon) -> None:
        if taxon.id in done:
            return
        if taxon.parent is not None:
            take(taxa.taxa[taxon.parent])
        done[taxon.id] = taxon

    for taxon in taxa.taxa.values():
        take(taxon)
    return list(done.values())


def write_areas(work: Work, book: Book) -> int:
    """Add the areas that are not there yet; gives how many were added."""
    known = set(work.session.exec(select(AreaRecord.id)).all())
    new = [area for area in book.areas.values() if area.id not in known]
    for place, area in enumerate(new, start=len(known)):
        work.insert(AreaRecord, {"place": place, **area_to_json(area)})
    return len(new)


def write_issued_names(work: Work, names: dict[str, str]) -> None:
    """Add the names that authorities print for accepted ones."""
    known = set(work.session.exec(select(IssuedName.taxon_id)).all())
    for taxon, name in names.items():
        if taxon not in known:
            work.insert(IssuedName, {"taxon_id": taxon, "name": name})


def write_authority(work: Work, authority: Authority, note: str = "") -> int | None:
    """Key an authority in: a first version, or a later one where its terms changed; gives its number, None if same."""
    session = work.session
    terms = authority_to_json(authority)
    mark = fingerprint(terms)
    record = session.get(AuthorityRecord, authority.id)
    fields = {
        name: getattr(authority, name)
        for name in ("kind", "number", "title", "issuer", "holder", "zone", "first_day", "last_day")
    }
    if record is None:
        place = session.exec(select(func.count()).select_from(AuthorityRecord)).one()
        session.add(AuthorityRecord(id=authority.id, place=place, **fields))
        number = 1
    else:
        newest = session.exec(
            select(AuthorityVersion)
            .where(AuthorityVersion.authority_id == authority.id)
            .order_by(col(AuthorityVersion.number).desc())
        ).first()
        if newest is not None and newest.sha256 == mark:
            return None
        number = newest.number + 1 if newest is not None else 1
        for name, value in fields.items():
            setattr(record, name, value)
    session.flush()
    session.add(
        AuthorityVersion(
            id=new_id(),
            authority_id=authority.id,
            number=number,
            terms=terms,
            sha256=mark,
            keyed_at=work.at,
            keyed_by=work.actor.person,
            note=note,
        )
    )
    _write_roles(work, authority)
    session.flush()
    return number


def _write_roles(work: Work, authority: Authority) -> None:
    """Draw the people of an authority anew from its terms."""
    session = work.session
    for old in session.exec(select(AuthorityRole).where(AuthorityRole.authority_id == authority.id)):
        session.delete(old)
    session.flush()
    lists = [authority.people, *(one.people for one in authority.amendments)]
    for version, people in enumerate(lists, start=1):
        for place, one in enumerate(people or ()):
            if session.get(Person, one.id) is None:
                session.add(Person(id=one.id, name=one.name, added_at=work.at))
                session.flush()
            session.add(
                AuthorityRole(
                    id=new_id(),
                    authority_id=authority.id,
                    version=version,
                    place=place,
                    person_id=one.id,
                    role=one.role,
                    first_day=one.first_day,
                    last_day=one.last_day,
                    qualifications=[{"name": held.name, "last_day": held.last_day} for held in one.qualifications],
                )
            )
