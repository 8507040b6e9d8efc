"""Whether something that had to be told was told, to whom, and in time."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Literal

from api.domain.facts import Facts

Told = Literal["in time", "late", "not yet due", "not told"]


def told(facts: Facts, authority: str, about: frozenset[str], to: str, since: datetime, hours: int) -> Told:
    """Tell how a report about any of these records stands at the moment of judging.

    A report that never was recorded counts as not told once its time has run out: the record is the proof.
    """
    until = since + timedelta(hours=hours)
    times = [
        incident.told
        for incident in facts.season.incidents
        if incident.authority == authority
        and incident.told is not None
        and incident.to.casefold() == to.casefold()
        and about & set(incident.about)
        and facts.has_come(incident.told)
    ]
    if times:
        return "in time" if min(times) <= until else "late"
    return "not told" if facts.is_over(until) else "not yet due"
