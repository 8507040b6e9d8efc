"""The paragraph Monotony of CHECKS, tried on the engine alone over seeded seasons.

More kept animals mend nothing, one line written as two is the same take, uploads may come in any order and
twice, better counts never turn a clear answer round, and every sum follows from the records it names.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from api.domain.counts import Count
from api.domain.judge import Judgement, judge
from api.domain.trips import Line, Season
from tests.oracle.seasons import SEASONS, seasons

pytestmark = pytest.mark.slow

# Three thousand take two minutes; beyond, the agreement of the two judges is the better use of the time.
SEEDS = range(min(SEASONS, 3000))
ON_KEPT = ("take limit", "size limit", "stage and sex", "prohibited taxon")


def _lines(season: Season) -> list[Line]:
    return [line for trip in season.trips for haul in trip.hauls for line in haul.lines]


def _changed(season: Season, change: Callable[[Line], tuple[Line, ...]]) -> Season:
    """The season with every line put through ``change``."""
    trips = tuple(
        replace(
            trip,
            hauls=tuple(
                replace(haul, lines=tuple(new for line in haul.lines for new in change(line))) for haul in trip.hauls
            ),
        )
        for trip in season.trips
    )
    return replace(season, trips=trips)


def _outcomes(judgement: Judgement) -> dict[tuple[str, str], str]:
    return {(answer.authority, answer.number): answer.outcome for answer in judgement.answers}


def _tallies(judgement: Judgement) -> Counter:
    return Counter(
        (finding.authority, finding.number, finding.version, finding.outcome, finding.about, finding.label,
         finding.tally.limit, finding.tally.before, finding.tally.here, finding.tally.after)
        for finding in judgement.findings
        if finding.kind == "take limit" and finding.tally is not None
    )  # fmt: skip


def test_more_kept_animals_mend_no_broken_limit() -> None:
    broken = 0
    for seed in SEEDS:
        dice = random.Random(seed)
        book, season, as_of = seasons(seed)
        kept = [line.id for line in _lines(season) if line.fate == "kept" and line.unit == "individuals"]
        if not kept:
            continue
        chosen, more = dice.choice(kept), dice.randint(1, 3)

        def fuller(line: Line, chosen: str = chosen, more: int = more) -> tuple[Line, ...]:
            if line.id != chosen:
                return (line,)
            count = line.count
            return (replace(line, count=Count(count.low + more, count.best + more, count.high + more)),)

        before = judge(book, season, as_of)
        after = _outcomes(judge(book, _changed(season, fuller), as_of))
        for answer in before.answers:
            if answer.kind in ON_KEPT and answer.outcome == "broken":
                broken += 1
                assert after[answer.authority, answer.number] == "broken", (seed, answer.number)
    assert broken > 30, "too few broken limits to show anything"


def _halves(line: Line, dice: random.Random) -> tuple[Line, ...]:
    """The line as two with the same sum, low, best and high; what was measured stays with the first."""
    count = line.count
    low = dice.randint(0, int(count.low))
    best = low + dice.randint(0, int(count.best - count.low))
    high = best + dice.randint(0, int(count.high - count.best))
    first = Count(low, best, high)
    second = Count(count.low - low, count.best - best, count.high - high) if _fits(count, first) else None
    if second is None or first.high == 0 or second.high == 0:
        return (line,)
    weights: tuple[Count | None, Count | None] = (None, None)
    if line.weight is not None:
        half = Count(*(Fraction(amount) / 2 for amount in (line.weight.low, line.weight.best, line.weight.high)))
        weights = (half, half)
    return (
        replace(line, count=first, weight=weights[0]),
        replace(line, id=f"{line.id}+", count=second, weight=weights[1]),
    )


def _splitter(chosen: str, dice: random.Random) -> Callable[[Line], tuple[Line, ...]]:
    return lambda line: _halves(line, dice) if line.id == chosen else (line,)


def _fits(whole: Count, part: Count) -> bool:
    return 0 <= whole.low - part.low <= whole.best - part.best <= whole.high - part.high


def test_one_line_written_as_two_changes_no_answer() -> None:
    split = 0
    for seed in SEEDS:
        dice = random.Random(seed)
        book, season, as_of = seasons(seed)
        told = {record for incident in season.incidents for record in incident.about}
        told |= {movement.line for movement in season.movements}
        free = [
            line.id
            for line in _lines(season)
            if line.unit == "individuals" and line.count.high > 1 and line.id not in told and not line.measurements
        ]
        if not free:
            continue
        halved = _changed(season, _splitter(dice.choice(free), dice))
        if halved == season:
            continue
        split += 1
        one, two = judge(book, season, as_of), judge(book, halved, as_of)
        assert _outcomes(one) == _outcomes(two), seed
        assert _tallies(one) == _tallies(two), seed
    assert split > 60, "too few lines were split to show anything"


@pytest.mark.parametrize("way", ["reordered", "repeated", "hauls reordered"])
def test_the_order_and_the_repeating_of_uploads_change_no_answer(way: str) -> None:
    for seed in SEEDS:
        dice = random.Random(seed)
        book, season, as_of = seasons(seed)
        trips = list(season.trips)
        if way == "repeated":
            trips += dice.choices(trips, k=2) if trips else []
        if way == "hauls reordered":
            trips = [replace(trip, hauls=tuple(dice.sample(trip.hauls, len(trip.hauls)))) for trip in trips]
        dice.shuffle(trips)
        rest = {
            name: tuple(dice.sample(getattr(season, name), len(getattr(season, name))))
            for name in ("notices", "incidents", "movements", "filings", "shared_totals")
        }
        again = replace(season, trips=tuple(trips), **rest)
        first, second = judge(book, season, as_of), judge(book, again, as_of)
        assert first.answers == second.answers, seed
        assert sorted(first.unassigned) == sorted(second.unassigned), seed


def test_a_better_count_turns_no_clear_answer_round() -> None:
    clear = 0
    for seed in SEEDS:
        dice = random.Random(seed)
        book, season, as_of = seasons(seed)
        loose = [line.id for line in _lines(season) if line.unit == "individuals" and not line.count.exact]
        if not loose:
            continue
        chosen = dice.choice(loose)

        def surer(line: Line, chosen: str = chosen, dice: random.Random = dice) -> tuple[Line, ...]:
            if line.id != chosen:
                return (line,)
            low = dice.randint(int(line.count.low), int(line.count.high))
            high = dice.randint(low, int(line.count.high))
            best = min(max(line.count.best, low), high)
            return (replace(line, count=Count(low, best, high)),)

        before = _outcomes(judge(book, season, as_of))
        after = _outcomes(judge(book, _changed(season, surer), as_of))
        for where, outcome in before.items():
            clear += outcome in ("met", "broken")
            assert {outcome, after[where]} != {"met", "broken"}, (seed, where)
    assert clear > 400, "too few clear answers to show anything"


def test_every_sum_follows_from_the_records_it_names() -> None:
    summed = 0
    for seed in SEEDS:
        book, season, as_of = seasons(seed)
        lines = {line.id: line for line in _lines(season)}
        for finding in judge(book, season, as_of).findings:
            tally = finding.tally
            if finding.kind != "take limit" or tally is None or "held at " in finding.about:
                continue
            where = (seed, finding.number, finding.about, finding.label)
            assert set(finding.records) <= set(lines), where
            assert tally.after == tally.before + tally.here, where
            if ", since " in finding.about or tally.before.high == float("inf"):
                continue  # the published total of a shared quota, or an amount nobody recorded, stands before
            low, high = _span([lines[record] for record in finding.records], tally.unit)
            assert tally.after.low <= low, where
            assert tally.after.high <= high, where
            if not _sized(book, finding):
                summed += 1
                assert tally.after.high == high, where
    assert summed > 300, "too few sums to show anything"


def _span(lines: list[Line], unit: str) -> tuple:
    """The least and the most that lines may come to in a unit; what was recorded otherwise may be anything."""
    low, high = 0, 0
    for line in lines:
        amount = line.count if line.unit == unit else line.weight if unit == "g" else None
        if line.count.high == 0:
            continue
        low += 0 if amount is None else amount.low
        high += float("inf") if amount is None else amount.high
    return low, high


def _sized(book, finding) -> bool:
    """Whether any version of the condition counts by a size class or beyond a total, so that a line may count in part."""
    permit = book.authority(finding.authority)
    every = [*permit.conditions, *(one for change in permit.amendments for one in change.conditions)]
    same = [one for one in every if one.number == finding.number and one.kind == "take limit"]
    return any(one.only.size or one.after or any(part.size for part in one.parts) for one in same)
