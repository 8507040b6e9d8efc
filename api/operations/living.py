"""The season of a store, judged as it grows: what was stored since the last look is read, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from threading import RLock

import structlog
from sqlmodel import Session, col, select

from api.domain.facts import Book
from api.domain.live.season import LiveSeason
from api.entities.audit import AuditHead
from api.entities.sync import Change
from api.store.books import current_book
from api.store.records import Names
from api.store.seasons import papers_from, season_from, shared_totals_from
from api.store.unit_of_work import Store

_PAPERS = ("notice", "incident", "movement", "filing")
_log = structlog.get_logger("creekledger.living")

_CLOCK_SLACK = timedelta(minutes=1)
_AT_ONCE = 500
"""So many trips are read in one query at most."""


@dataclass(slots=True)
class Living:
    """A store's season as it stands at a change; one thread at a time."""

    lock: RLock = field(default_factory=RLock)
    season: LiveSeason | None = None
    changes: int = 0
    _names: Names = field(default_factory=Names)

    def catch_up(self, store: Store) -> LiveSeason:
        """Take in what was stored since the last look, and judge as of now."""
        with store.reading() as session:
            head = session.get_one(AuditHead, 1).changes
            book = current_book(session, store.shared)
            as_of = store.clock()
            season = self.season
            if season is None or not self._follows(session, season, book, as_of, head):
                season = self._begin(session, book, as_of)
            self.changes = head
        season.look(max(as_of, season.base.as_of))
        return season

    def _follows(self, session: Session, season: LiveSeason, book: Book, as_of: datetime, head: int) -> bool:
        """Take in what changed; False where that cannot be done, and the season is to be begun anew."""
        if season.base.book is not book or as_of < season.base.as_of - _CLOCK_SLACK:
            return False
        return head == self.changes or self._read_changes(session, season)

    def _begin(self, session: Session, book: Book, as_of: datetime) -> LiveSeason:
        """Read the whole season."""
        self._names = Names()
        season = LiveSeason(book, as_of)
        stands = season_from(session, names=self._names)
        season.put_names(stands.people, stands.sites)
        season.put_totals(stands.shared_totals)
        for kind in _PAPERS:
            for paper in getattr(stands, f"{kind}s"):
                season.put_paper(kind, paper.id, paper)
        for trip in stands.trips:
            season.put_trip(trip.id, trip)
        self.season = season
        return season

    def _read_changes(self, session: Session, season: LiveSeason) -> bool:
        """Read what changed since the last look; False where a name that is in use changed."""
        rows = session.exec(
            select(Change.kind, Change.record, Change.trip_id).where(col(Change.seq) > self.changes)
        ).all()
        kinds = {kind for kind, _, _ in rows}
        trips = sorted({trip for kind, _, trip in rows if kind in ("trip", "haul", "line")})
        for start in range(0, len(trips), _AT_ONCE):
            read = season_from(session, trips[start : start + _AT_ONCE], names=self._names)
            if not season.put_names(read.people, read.sites):
                return False
            for trip in read.trips:
                season.put_trip(trip.id, trip)
        if "person" in kinds and not trips:
            named = season_from(session, [])
            if not season.put_names(named.people, named.sites):
                return False
        for kind in _PAPERS:
            ids = sorted({record for found, record, _ in rows if found == kind})
            for record, paper in papers_from(session, kind, ids, self._names).items() if ids else ():
                season.put_paper(kind, record, paper)
        if "papers" in kinds:
            season.put_totals(shared_totals_from(session))
        return True


def living(store: Store) -> Living:
    """Give the store's own living season, whatever it stands at."""
    found: Living = store.shared.setdefault("living", Living())
    return found


@contextmanager
def season_now(store: Store) -> Iterator[tuple[LiveSeason, str]]:
    """Hold the season as it stands now, and its mark: the same mark means the same findings.

    Nobody else may look while it is held, so hold it briefly.
    """
    own = living(store)
    with own.lock:
        season = own.catch_up(store)
        yield season, f"{own.changes}-{season.mark}"


def warm(store: Store) -> None:
    """Read and judge the season before anybody asks; from then on it follows what is stored."""
    own = living(store)
    with own.lock:
        own.catch_up(store)


def follow(store: Store) -> None:
    """Judge what was just stored, unless nobody asked for the season yet or somebody else is at it.

    What was stored is stored: a failure here is logged, and the season is begun anew when it is next asked for.
    """
    own = living(store)
    if own.season is None or not own.lock.acquire(blocking=False):
        return
    try:
        own.catch_up(store)
    except Exception:  # noqa: BLE001 - whatever it is, the records are stored and the answer stands
        own.season = None
        _log.exception("the season could not follow what was stored")
    finally:
        own.lock.release()
