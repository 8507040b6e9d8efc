"""Take limits: how much of something may be taken, in a period, by a holder."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from api.domain.calendar import end_of_day, spoken_day, spoken_time
from api.domain.conditions import TakeLimit
from api.domain.counts import NOTHING, UNKNOWN, Amount, Count, is_near, left_of, outcome_of
from api.domain.facts import Facts
from api.domain.permits import Clause
from api.domain.reckoning.buckets import Bucket, Key, buckets_of, in_period, period_last_day
from api.domain.reckoning.holdings import Moment, held_after, held_tallies
from api.domain.reckoning.sums import Sums
from api.domain.reckoning.tallies import Entry, Spec, specs_of
from api.domain.reckoning.wording import amount_words, count_words, limit_words
from api.domain.rules.finding import Finding, Proof, Tally, finding_for
from api.domain.trips import Movement
from api.domain.vocabulary import Outcome

Lines = Callable[[], tuple[Sequence[Entry], Sequence[Entry]]]
"""Looks up the lines of a standing: those before it, and its own, in order of capture."""


@dataclass(frozen=True, slots=True)
class Standing:
    """One tally at one stretch: what stood before (``earlier`` of its own lines), and what was taken in it."""

    spec: Spec
    holder: str
    period: str
    before: Count
    earlier: Sums
    here: Sums
    lines: Lines


def standing_of(
    spec: Spec, holder: str, period: str, earlier: Sequence[Entry], here: Sequence[Entry], known: Count = NOTHING
) -> Standing:
    """Give the standing of these lines, on top of what is known from elsewhere."""
    before = Sums.of(earlier)
    return Standing(spec, holder, period, known + before.count, before, Sums.of(here), lambda: (earlier, here))


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a take limit over every tally it holds."""
    if not isinstance(clause.condition, TakeLimit):
        return []
    findings: list[Finding] = []
    for spec in specs_of(clause):
        if spec.period == "held":
            findings.extend(_judge_held(facts, spec))
            continue
        for bucket in buckets_of(facts, spec):
            findings.extend(finding_of(standing) for standing in _standings(facts, spec, bucket))
    return findings


def _standings(facts: Facts, spec: Spec, bucket: Bucket) -> list[Standing]:
    if spec.period == "rolling days":
        return _rolling(facts, spec, bucket)
    earlier, here = _split(spec.clause, bucket.entries)
    period = period_words(spec, bucket.key)
    if spec.holder == "everybody":
        return _shared(facts, spec, bucket, period)
    if not here and not (earlier and runs_on(spec, bucket.key)):
        return []
    return [standing_of(spec, holder_words(facts, spec, bucket.key), period, earlier, here)]


def _split(clause: Clause, entries: list[Entry]) -> tuple[list[Entry], list[Entry]]:
    """Split a tally at the moment the version began; drop what came after it ended."""
    if clause.begins is None and clause.ends is None:
        return [], entries
    earlier = [entry for entry in entries if clause.begins is not None and entry.line.at < clause.begins]
    here = [entry for entry in entries if clause.holds_at(entry.line.at)]
    return earlier, here


def runs_on(spec: Spec, key: Key) -> bool:
    """Tell whether a tally begun before a version still runs when the version begins."""
    begins = spec.clause.begins
    if begins is None:
        return False
    if spec.period == "term":
        return True
    last = period_last_day(spec, key.first_day)
    return last is not None and end_of_day(last, spec.clause.authority.zone) > begins


def _rolling(facts: Facts, spec: Spec, bucket: Bucket) -> list[Standing]:
    """Give a standing for each day with take: the window of N days that ends with it."""
    zone = spec.clause.authority.zone
    days: dict[date, list[Entry]] = {}
    for entry in bucket.entries:
        days.setdefault(entry.line.day(zone), []).append(entry)
    standings = []
    for day in sorted(days):
        before = [day - timedelta(days=ago) for ago in range(spec.bound.days - 1, 0, -1)]
        earlier = [entry for other in before for entry in days.get(other, ())]
        before_version, here = _split(spec.clause, days[day])
        if not here:
            continue
        earlier = [*earlier, *before_version]
        standings.append(
            standing_of(spec, holder_words(facts, spec, bucket.key), window_words(spec, day), earlier, here)
        )
    return standings


def _shared(facts: Facts, spec: Spec, bucket: Bucket, period: str) -> list[Standing]:
    """Give a standing for each stretch between two published totals of a quota that others share."""
    every = facts.published(spec.clause.authority.id, spec.condition.number)
    published = [entry for entry in every if in_period(spec, bucket.key, entry.as_of)]
    moments: list[datetime | None] = [None, *(entry.as_of for entry in published)]
    standings = []
    for place, moment in enumerate(moments):
        until = moments[place + 1] if place + 1 < len(moments) else None
        own = [
            entry
            for entry in bucket.entries
            if (moment is None or entry.line.at > moment) and (until is None or entry.line.at <= until)
        ]
        earlier, here = _split(spec.clause, own)
        if here:
            known = published[place - 1].total if place else UNKNOWN
            words = since_words(spec, period, moment)
            standings.append(standing_of(spec, holder_words(facts, spec, bucket.key), words, earlier, here, known))
    return standings


def finding_of(standing: Standing) -> Finding:
    """Judge one standing."""
    spec = standing.spec
    here = standing.here.count
    after = standing.before + here
    outcome = outcome_of(standing.before, here, spec.amount, spec.operator)
    tally = Tally(
        limit=spec.amount,
        operator=spec.operator,
        unit=spec.unit,
        before=standing.before,
        here=here,
        after=after,
        left=left_of(after, spec.amount, spec.operator, whole=spec.whole),
        estimated=standing.earlier.estimated + standing.here.estimated,
    )
    return finding_for(
        spec.clause,
        outcome,
        about_words(standing.holder, standing.period),
        _sentence(standing, tally, outcome),
        settle=_settle(standing, outcome),
        records=Proof(lambda: _records(standing)),
        over=Proof(lambda: _over(standing)) if outcome != "met" else (),
        near=outcome != "broken" and is_near(after, spec.amount, spec.operator, whole=spec.whole),
        tally=tally,
        label=spec.label,
    )


def _records(standing: Standing) -> Iterator[str]:
    earlier, here = standing.lines()
    yield from (entry.line.line.id for entry in earlier)
    yield from (entry.line.line.id for entry in here)


def _over(standing: Standing) -> tuple[str, ...]:
    """Give the lines that went over the limit for certain, else those that may have."""
    spec = standing.spec
    _, entries = standing.lines()
    for bound in ("low", "high"):
        running: Amount = getattr(standing.before, bound)
        over = []
        for entry in entries:
            add: Amount = getattr(entry.count, bound)
            running += add
            if add and (running > spec.amount or (spec.operator == "fewer than" and running == spec.amount)):
                over.append(entry.line.line.id)
        if over:
            return tuple(over)
    return ()


def about_words(holder: str, period: str) -> str:
    """Name a tally: whose it is and over which period."""
    return f"{holder}: {period}" if holder else period


def holder_words(facts: Facts, spec: Spec, key: Key) -> str:
    """Give the holder of a tally by name where the record holds one, the taxon, and the haul or trip it is of."""
    known = {
        "person": facts.season.people.get(key.holder, key.holder),
        "site": facts.season.sites.get(key.holder, key.holder),
        "area": facts.book.areas[key.holder].name if key.holder in facts.book.areas else key.holder,
    }.get(spec.holder, key.holder)
    return " ".join(part for part in (known, key.name, key.record) if part)


def window_words(spec: Spec, day: date) -> str:
    """Name the run of days that ends with one."""
    return f"{spec.bound.days} days up to {spoken_day(day)}"


def since_words(spec: Spec, period: str, moment: datetime | None) -> str:
    """Name the stretch of a period since a published total."""
    return f"{period}, since {spoken_time(moment, spec.clause.authority.zone)}" if moment else period


def period_words(spec: Spec, key: Key) -> str:
    """Name a tally's period in words."""
    first = key.first_day
    if spec.period in ("haul", "trip"):
        return f"this {spec.period}"
    if first is None:
        return "whole term"
    if spec.period == "day":
        return f"day {spoken_day(first)}"
    if spec.period == "month":
        return first.strftime("%B %Y")
    last = period_last_day(spec, first)
    return f"{spec.period} {spoken_day(first)} to {spoken_day(last)}" if last else spoken_day(first)


def what_words(spec: Spec) -> str:
    """Name what a limit speaks of."""
    condition = spec.condition
    if spec.taxa:
        return " and ".join(spec.taxa)
    if condition.group:
        return spec.clause.version.groups[condition.group].title
    if condition.unlisted:
        return "each taxon not listed" if spec.by_name else "taxa not listed"
    return ", ".join(condition.taxa)


_BASIS_WORDS = {"kept": "kept", "kept and dead": "kept or died", "handled": "handled"}


def _sentence(standing: Standing, tally: Tally, outcome: Outcome) -> str:
    spec = standing.spec
    limit = limit_words(tally.limit, tally.operator, tally.unit)
    what = what_words(spec) if not spec.label or spec.taxa else f"{what_words(spec)} ({spec.label})"
    taken = count_words(tally.after, tally.unit, tally.estimated)
    start = f"{what}: {_BASIS_WORDS[spec.condition.counts]} {taken}, {limit} allowed"
    start += f" ({about_words(standing.holder, standing.period)})"
    if outcome == "broken":
        over = tally.after.low - tally.limit
        return (
            f"{start}: over by {amount_words(over, tally.unit)}."
            if over
            else f"{start}: it must stay under the limit, and reaches it."
        )
    if tally.here == NOTHING and tally.before.low > tally.limit:
        return f"{start}: already above the new limit when it came, 0 left."
    if outcome == "open":
        return f"{start}: whether the limit was kept cannot be told."
    short = "under " if tally.operator == "fewer than" and not spec.whole else ""
    return f"{start}: {short}{count_words(tally.left, tally.unit)} left."


def _settle(standing: Standing, outcome: Outcome) -> str:
    if outcome != "open":
        return ""
    spec = standing.spec
    if spec.holder == "everybody" and standing.before.high == float("inf"):
        return "Enter the running total of the shared quota as published on the day."
    reasons = []
    doubtful = standing.earlier.doubtful + standing.here.doubtful
    if doubtful:
        reasons.append(f"a sure name, place, stage or holder for the lines that may count{_named(standing, doubtful)}")
    if standing.earlier.inexact or standing.here.inexact:
        reasons.append("an exact count in place of the estimate")
    if standing.earlier.unbounded or standing.here.unbounded:
        reasons.append(f"the amount in {spec.unit} of the lines recorded otherwise")
    return f"Needs {'; '.join(reasons) or 'an exact count of what was taken before'}."


def _named(standing: Standing, doubtful: int) -> str:
    """Name the lines in doubt where they are few."""
    if doubtful > 5:
        return ""
    earlier, here = standing.lines()
    return f" ({', '.join(entry.line.line.id for entry in (*earlier, *here) if entry.count.low == 0)})"


def _judge_held(facts: Facts, spec: Spec) -> list[Finding]:
    """Judge a limit on what is held at once, each tally at the worst moment at which something came in."""
    return [
        finding
        for bucket, gains in held_tallies(facts, spec)
        if (finding := held_in(facts, spec, bucket, gains)) is not None
    ]


Worst = tuple[int, Amount, Moment, Count]
"""The worst moment so far: its gravity, the most held, the moment, and what was held before it."""


def worse(facts: Facts, spec: Spec, worst: Worst | None, moment: Moment, before: Count) -> Worst | None:
    """Give the worse of the worst moment so far and another; only moments at which something came in count."""
    if not (moment.added.high and spec.clause.holds_at(moment.at) and facts.has_come(moment.at)):
        return worst
    outcome = outcome_of(before, moment.added, spec.amount, spec.operator)
    rank = ("met", "open", "broken").index(outcome)
    if worst is None or (rank, moment.held.high) > worst[:2]:
        return rank, moment.held.high, moment, before
    return worst


def held_in(facts: Facts, spec: Spec, bucket: Bucket, gains: list[tuple[Movement, Count]]) -> Finding | None:
    """Judge one tally of what is held; None where nothing came in while the version held."""
    worst: Worst | None = None
    before = NOTHING
    for moment in held_after(facts, bucket.entries, gains, spec.unit):
        worst = worse(facts, spec, worst, moment, before)
        before = moment.held
    if worst is None:
        return None
    lines = tuple(entry.line.line.id for entry in bucket.entries)
    return held_finding(spec, holder_words(facts, spec, bucket.key), worst[2], worst[3], lines)


def held_finding(spec: Spec, holder: str, moment: Moment, before: Count, lines: Sequence[str]) -> Finding:
    """Judge what was held at one moment, after what had been held before it."""
    here = moment.added
    outcome = outcome_of(before, here, spec.amount, spec.operator)
    held = moment.held
    tally = Tally(
        limit=spec.amount,
        operator=spec.operator,
        unit=spec.unit,
        before=before,
        here=here,
        after=held,
        left=left_of(held, spec.amount, spec.operator, whole=spec.whole),
    )
    when = spoken_time(moment.at, spec.clause.authority.zone)
    sentence = (
        f"Held at once{f' ({holder})' if holder else ''}: {count_words(held, spec.unit)} on {when}, "
        f"{limit_words(spec.amount, spec.operator, spec.unit)} allowed."
    )
    return finding_for(
        spec.clause,
        outcome,
        about_words(holder, f"held at {when}"),
        sentence,
        settle="Needs a head-count of what is held, with sure names." if outcome == "open" else "",
        records=lines,
        over=(moment.record,) if outcome == "broken" else (),
        near=outcome != "broken" and is_near(held, spec.amount, spec.operator, whole=spec.whole),
        tally=tally,
        label=spec.label,
    )
