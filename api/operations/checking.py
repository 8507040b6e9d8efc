"""Checking a season of files against authority files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from api.domain.choice import Proposal, assigned, propose
from api.domain.facts import Book, ConflictingRecordsError, Facts, known_by
from api.domain.judge import Judgement, judge_facts
from api.domain.reckoning.hauls import worst
from api.domain.slips import slips
from api.domain.trips import Season
from api.domain.vocabulary import Outcome
from api.exchange.books import read_book, read_season
from api.exchange.faults import Fault, FaultyFileError


@dataclass(frozen=True, slots=True)
class Loaded:
    """Files read: what is good in them, and everything that is wrong with them."""

    book: Book
    season: Season
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Checked:
    """A season judged, with the authorities proposed for lines that bore none.

    ``faults`` are those of files that were used in part; ``later`` the trips left out because they began
    after the moment judged; ``notes`` what reads oddly and may be a slip. ``from_paper`` are the trips of which phones
    said that something was entered from paper.
    """

    facts: Facts
    judgement: Judgement
    proposal: Proposal
    faults: tuple[Fault, ...] = ()
    later: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    from_paper: tuple[str, ...] = ()

    @property
    def outcome(self) -> Outcome:
        """The gravest outcome; what was left out of a faulty file leaves it open at best."""
        found = self.judgement.outcome
        return worst([found, "open"]) if self.faults else found


def load(authorities: Sequence[Path], trips: Sequence[Path]) -> Loaded:
    """Read authority and trip files; raises FaultyFileError where no authority can be read at all."""
    book, faults = read_book(authorities)
    if book is None:
        raise FaultyFileError(faults)
    season, season_faults = read_season(trips, book)
    return Loaded(book, season, (*faults, *season_faults))


def check(loaded: Loaded, as_of: datetime, *, partial: bool = False) -> Checked:
    """Judge what was loaded as of a moment (UTC).

    A file with faults is used only with ``partial``; otherwise FaultyFileError carries every one.
    """
    if loaded.faults and not partial:
        raise FaultyFileError(loaded.faults)
    season, later = known_by(loaded.season, as_of)
    try:
        facts = Facts.of(loaded.book, season, as_of)
    except ConflictingRecordsError as problem:
        raise FaultyFileError([Fault("trips", problem.record, str(problem), "")]) from problem
    proposal = propose(loaded.book, season, facts)
    if proposal.authority_of:
        facts = Facts.of(loaded.book, assigned(season, proposal.authority_of), as_of)
    return Checked(facts, judge_facts(facts), proposal, loaded.faults, later, slips(facts))
