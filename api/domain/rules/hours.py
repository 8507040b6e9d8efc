"""Time of day: clock hours and hours counted from sunrise and sunset, in the authority's zone."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

from api.domain.calendar import local_day, spoken_time, zone_named
from api.domain.conditions import Hours, TimeOfDay, read_hour
from api.domain.daylight import MARGIN, daylight, daylight_about
from api.domain.facts import Facts, HaulFact
from api.domain.permits import Authority, Clause
from api.domain.reckoning.hauls import hauls_for, softened, worst
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import Fit
from api.domain.vocabulary import Outcome

Window = tuple[datetime, datetime, bool, bool]
"""Start and end of allowed hours (UTC), and whether each end hangs on the sun."""


_ROUGHLY = MARGIN + timedelta(minutes=1)
_ROUGH_UP_TO = 60.0
"""Degrees of latitude up to which the sun of a tenth-degree square is good to a minute."""


class _NoSunError(Exception):
    """The sun does not rise or set that day, or there is no place to reckon it for."""


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a time-of-day condition over each haul that its hours speak of."""
    condition = clause.condition
    if not isinstance(condition, TimeOfDay):
        return []
    findings = []
    for fact, fit in hauls_for(facts, clause):
        entries = [entry for entry in condition.hours if _speaks(clause, entry, fact)]
        if entries:
            findings.append(_finding(facts, clause, fact, fit, entries))
    return findings


def _speaks(clause: Clause, entry: Hours, fact: HaulFact) -> bool:
    month = local_day(fact.haul.start, clause.authority.zone).month
    gear = fact.haul.gear.gear if fact.haul.gear else ""
    return (not entry.months or month in entry.months) and (not entry.gear or not gear or gear in entry.gear)


def _spans(fact: HaulFact, facts: Facts) -> tuple[list[tuple[datetime, datetime]], str]:
    """Give the stretches of work, and what is missing: a set is worked at its setting, looks and lift."""
    haul = fact.haul
    if haul.kind == "set":
        points = [haul.start, *haul.checks, *([haul.end] if haul.end else [])]
        return [(point, point) for point in points], ""
    if haul.end is None:
        del facts
        return [(haul.start, haul.start)], "the end of the haul was not recorded"
    return [(haul.start, haul.end)], ""


def _finding(facts: Facts, clause: Clause, fact: HaulFact, fit: Fit, entries: list[Hours]) -> Finding:
    spans, missing = _spans(fact, facts)
    answers = [_span_answer(clause.authority, fact, entries, span) for span in spans]
    outcome = worst([answer[0] for answer in answers])
    why = next((words for found, words in answers if found == outcome), "")
    if missing and outcome == "met":
        outcome, why = "open", missing
    if any(entry.gear for entry in entries) and fact.haul.gear is None and outcome != "met":
        outcome, why = "open", "the gear was not recorded"
    outcome = softened(outcome, fit)
    return finding_for(
        clause,
        outcome,
        f"haul {fact.haul.id}",
        f"Haul {fact.haul.id}: {why}.",
        settle=f"Needs the exact time or place: {why}." if outcome == "open" else "",
        records=(fact.haul.id,),
        over=(fact.haul.id,) if outcome == "broken" else (),
    )


def _span_answer(
    authority: Authority, fact: HaulFact, entries: list[Hours], span: tuple[datetime, datetime]
) -> tuple[Outcome, str]:
    """Judge one stretch against the entries; lying wholly in one window of one entry suffices."""
    zone = authority.zone
    when = f"{spoken_time(span[0], zone)} to {spoken_time(span[1], zone)}"
    if span[0] == span[1]:
        when = spoken_time(span[0], zone)
    allowed = " or ".join(f"{entry.start} to {entry.end}" for entry in entries)
    day = local_day(span[0], zone)
    best: Outcome = "broken"
    unknown = ""
    for entry in entries:
        for anchor in (day, day - timedelta(days=1)):
            try:
                found = _against(authority, fact, entry, anchor, span)
            except _NoSunError as problem:
                unknown = str(problem)
                break
            if found == "met":
                return "met", f"{when} is within {allowed}"
            best = found if best == "broken" else best
    if unknown:
        return "open", unknown
    if best == "open":
        return (
            "open",
            f"{when} is within {int(MARGIN.total_seconds() // 60)} minutes of an end of {allowed}: too near to tell",
        )
    return "broken", f"{when} is not within {allowed}"


def _against(
    authority: Authority, fact: HaulFact, entry: Hours, anchor: date, span: tuple[datetime, datetime]
) -> Outcome:
    """Judge a stretch against the window that begins on a day; roughly first, exactly where it is near an end."""
    lat, _ = _where(authority, fact) if _needs_sun(entry) else (0.0, 0.0)
    if _needs_sun(entry) and abs(lat) <= _ROUGH_UP_TO:
        rough = window_on(authority, fact, entry, anchor, rough=True)
        if all(abs(moment - end) > _ROUGHLY for moment in span for end in rough[:2]):
            return _lies_in(rough, span)
    return _lies_in(window_on(authority, fact, entry, anchor), span)


def _needs_sun(entry: Hours) -> bool:
    return "sun" in entry.start.lower() or "sun" in entry.end.lower()


def _lies_in(window: Window, span: tuple[datetime, datetime]) -> Outcome:
    """Judge a stretch against one window; near an end that hangs on the sun it cannot be told."""
    start, end, sun_start, sun_end = window
    slack_start = MARGIN if sun_start else timedelta()
    slack_end = MARGIN if sun_end else timedelta()
    if span[0] >= start + slack_start and span[1] <= end - slack_end:
        return "met"
    if span[0] >= start - slack_start and span[1] <= end + slack_end:
        return "open"
    return "broken"


def window_on(authority: Authority, fact: HaulFact, entry: Hours, day: date, *, rough: bool = False) -> Window:
    """Give the window of an entry that begins on a local day; it may end on the next.

    ``rough`` takes the sun of the tenth-degree square, good to a minute, which is quick.
    """
    start, sun_start = _moment(authority, fact, entry.start, day, rough)
    end, sun_end = _moment(authority, fact, entry.end, day, rough)
    if end <= start:
        end, sun_end = _moment(authority, fact, entry.end, day + timedelta(days=1), rough)
    return start, end, sun_start, sun_end


def _moment(authority: Authority, fact: HaulFact, text: str, day: date, rough: bool) -> tuple[datetime, bool]:
    word, minutes = read_hour(text)
    if word == "clock":
        zone = zone_named(authority.zone)
        if minutes == 24 * 60:
            return datetime.combine(day + timedelta(days=1), time(0), zone).astimezone(UTC), False
        return datetime.combine(day, time(minutes // 60, minutes % 60), zone).astimezone(UTC), False
    lat, lon = _where(authority, fact)
    sun = (
        daylight_about(lat, lon, day, authority.zone)
        if rough
        else daylight(lat, lon, day, authority.zone, twilight=False)
    )
    at = sun.sunrise if word == "sunrise" else sun.sunset
    if at is None:
        raise _NoSunError(f"the sun {sun.state} there on that day")
    return at + timedelta(minutes=minutes), True


def _where(authority: Authority, fact: HaulFact) -> tuple[float, float]:
    if fact.haul.fixes:
        return fact.haul.fixes[0].lat, fact.haul.fixes[0].lon
    if authority.reference_lat is None or authority.reference_lon is None:
        raise _NoSunError("no position was recorded and the authority has no place of reference for the sun")
    return authority.reference_lat, authority.reference_lon
