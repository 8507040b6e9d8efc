"""Taking authority files and a season of files into the store; nothing is taken in while a file has a fault."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sqlmodel import select

from api.domain.facts import Book
from api.domain.trips import Season, Trip
from api.entities.papers import (
    CorrectionRecord,
    FilingRecord,
    IncidentRecord,
    MovementRecord,
    NoticeRecord,
    SharedTotalRecord,
)
from api.entities.people import Person
from api.entities.places import Site
from api.exchange.books import read_book, read_season
from api.exchange.faults import Fault, FaultyFileError
from api.store import records
from api.store.books import book_from, write_areas, write_authority, write_issued_names, write_taxa
from api.store.documents import keep_document
from api.store.ids import new_id
from api.store.limits import unkeepable
from api.store.records import Names
from api.store.seasons import Stamp, season_from, write_haul, write_line, write_trip
from api.store.unit_of_work import Actor, Store, Work

SOURCE = "import"


@dataclass(frozen=True, slots=True)
class Taken:
    """What an import added; what was there already is not counted."""

    authorities: int = 0
    taxa: int = 0
    areas: int = 0
    trips: int = 0
    lines: int = 0
    papers: int = 0


def import_files(store: Store, folder: Path, authorities: Sequence[Path], trips: Sequence[Path], actor: Actor) -> Taken:
    """Read files and take them in, in one transaction; raises FaultyFileError with every fault of every file.

    ``folder`` is where documents are kept. Authority files that are given stand beside those already there.
    """
    book, faults = read_book(authorities) if authorities else (None, [])
    if faults:
        raise FaultyFileError(faults)
    with store.writing(actor) as work:
        taken = take_book(work, book) if book is not None else Taken()
        for path in authorities:
            _keep_source(work, folder, path)
        work.flush()
        if not trips:
            return taken
        season, season_faults = read_season(trips, book_from(work.session))
        if season_faults:
            raise FaultyFileError(season_faults)
        added = take_season(work, season)
        return replace(added, authorities=taken.authorities, taxa=taken.taxa, areas=taken.areas)


def _keep_source(work: Work, folder: Path, path: Path) -> None:
    if path.is_file():
        content = path.read_bytes()
        keep_document(work, folder, content, path.name, "application/json")


def take_book(work: Work, book: Book) -> Taken:
    """Take in names, areas and authorities; an authority whose terms changed gets a new version."""
    taxa, areas = write_taxa(work, book.taxa), write_areas(work, book)
    work.flush()
    write_issued_names(work, book.issued_names)
    for kind, added in (("taxa", taxa), ("areas", areas)):
        if added:
            work.note(f"{kind} taken in", kind, {"number": added})
            work.changed(kind, kind, 1)
    keyed = 0
    for authority in book.authorities:
        number = write_authority(work, authority)
        if number is not None:
            keyed += 1
            work.note(
                "authority keyed in", f"authority {authority.id}", {"version": number, "number": authority.number}
            )
            work.changed("authority", authority.id, number)
    return Taken(authorities=keyed, taxa=taxa, areas=areas)


def take_season(work: Work, season: Season) -> Taken:
    """Take in a season; the same record again is nothing new, another one under the same id is a fault."""
    stands = season_from(work.session)
    clashes = [*_clashes(season, stands), *_unkeepable(season)]
    if clashes:
        raise FaultyFileError(clashes)
    _people(work, season)
    for site, name in season.sites.items():
        if work.session.get(Site, site) is None:
            work.insert(Site, {"id": site, "name": name})
    known = {trip.id for trip in stands.trips}
    stamp = Stamp(work.at, SOURCE)
    new = [trip for trip in season.trips if trip.id not in known]
    lines = 0
    for trip in new:
        lines += take_trip(work, trip, stamp)
    papers = _papers(work, season, stands, stamp)
    return Taken(trips=len(new), lines=lines, papers=papers)


def _clashes(season: Season, stands: Season) -> Iterable[Fault]:
    """Tell of every record that is there already and says something else."""
    for kind in ("trips", "notices", "incidents", "movements", "filings"):
        known = {one.id: one for one in getattr(stands, kind)}
        for one in getattr(season, kind):
            if one.id in known and known[one.id] != one:
                what = f"'{one.id}' is in the store already and says something else."
                yield Fault(kind, one.id, what, "Amend the record in the store, or give this one an id of its own.")


def _unkeepable(season: Season) -> Iterable[Fault]:
    """Tell of every text and number that no column can hold."""
    for trip in season.trips:
        yield from unkeepable(trip, trip.id)
    for kind in ("notices", "incidents", "movements", "filings", "corrections"):
        for place, one in enumerate(getattr(season, kind)):
            yield from unkeepable(one, f"{kind}[{place}]")
    for kind in ("people", "sites"):
        yield from unkeepable(getattr(season, kind), kind)


def _people(work: Work, season: Season) -> None:
    """Add everybody that the season names; who has no name there goes by the id."""
    named = dict(season.people)
    for trip in season.trips:
        for person in _named_in(trip):
            named.setdefault(person, person)
    known = set(work.session.exec(select(Person.id)).all())
    for person, name in named.items():
        if person and person not in known:
            work.insert(Person, {"id": person, "name": name, "left_on": None, "added_at": work.at})
    work.flush()


def _named_in(trip: Trip) -> Iterable[str]:
    yield trip.leader
    yield from (member.person for member in trip.crew)
    yield from (one.person for one in trip.attestations)
    for haul in trip.hauls:
        yield haul.person
        yield from (line.person for line in haul.lines)


def take_trip(work: Work, trip: Trip, stamp: Stamp) -> int:
    """Write a whole trip under the ids it bears; gives its number of catch lines."""
    write_trip(work, trip, trip.id, stamp)
    work.changed("trip", trip.id, 1, trip.id)
    lines = 0
    for place, haul in enumerate(trip.hauls):
        write_haul(work, haul, haul.id, trip.id, place, stamp)
        work.changed("haul", haul.id, 1, trip.id)
        for at, line in enumerate(haul.lines):
            write_line(work, line, line.id, haul.id, at, stamp)
            work.changed("line", line.id, 1, trip.id)
            lines += 1
    work.note("trip imported", f"trip {trip.id}", {"hauls": len(trip.hauls), "lines": lines})
    return lines


def _papers(work: Work, season: Season, stands: Season, stamp: Stamp) -> int:
    """Write notices, incidents, movements, filings, totals and corrections that are not there yet."""
    names = Names()
    makers = (
        ("notice", NoticeRecord, "notices", lambda one: records.notice_row(one, names)),
        ("incident", IncidentRecord, "incidents", lambda one: records.incident_row(one, names)),
        ("movement", MovementRecord, "movements", lambda one: records.movement_row(one, names)),
        ("filing", FilingRecord, "filings", records.filing_row),
    )
    count = 0
    for kind, table, name, row in makers:
        known = {one.id for one in getattr(stands, name)}
        for one in getattr(season, name):
            if one.id not in known:
                work.insert(table, {**stamp.row, **row(one)})
                work.changed(kind, one.id, 1)
                count += 1
    totals = [one for one in season.shared_totals if one not in stands.shared_totals]
    for place, total in enumerate(totals, start=len(stands.shared_totals)):
        work.insert(SharedTotalRecord, {"id": new_id(), "place": place, **records.shared_total_row(total)})
    corrections = [one for one in season.corrections if one not in stands.corrections]
    for place, correction in enumerate(corrections, start=len(stands.corrections)):
        work.insert(CorrectionRecord, {"id": new_id(), "place": place, **records.correction_row(correction, names)})
    if totals or corrections:
        # They hang on no record that is pulled, but what was judged before them is out of date.
        work.changed("papers", "season", 1)
    if count or totals or corrections:
        work.note("papers imported", "season", {"records": count + len(totals) + len(corrections)})
    return count + len(totals) + len(corrections)
