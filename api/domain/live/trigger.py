"""What stood before each line, where a limit starts only beyond an amount."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from api.domain.counts import NOTHING, Count
from api.domain.reckoning.tallies import Entry, Spec, trigger_period


@dataclass(slots=True)
class _Row:
    """A line counted towards the amount beyond which a limit starts."""

    order: tuple[datetime, str, str]
    haul: str
    count: Count


@dataclass(slots=True, eq=False)
class Trigger:
    """What stood before each line, where a limit starts beyond an amount: a late trip changes all that followed."""

    spec: Spec
    before: dict[str, Count] = field(default_factory=dict)
    _rows: dict[date | None, list[_Row]] = field(default_factory=dict)
    _of_haul: dict[str, list[tuple[date | None, _Row]]] = field(default_factory=dict)
    _from: dict[date | None, tuple[datetime, str, str]] = field(default_factory=dict)

    def put(self, haul: str, whole: Iterable[Entry]) -> None:
        """Take a haul's lines in."""
        trigger = self.spec.condition.after
        if trigger is None:
            return
        for entry in whole:
            period = trigger_period(self.spec, trigger, entry.line)
            row = _Row(entry.line.capture, haul, entry.count)
            insort(self._rows.setdefault(period, []), row, key=_order)
            self._of_haul.setdefault(haul, []).append((period, row))
            self._mark(period, row)

    def take_out(self, haul: str) -> None:
        """Take a haul's lines out."""
        for period, row in self._of_haul.pop(haul, ()):
            rows = self._rows[period]
            del rows[bisect_left(rows, row.order, key=_order)]
            self.before.pop(row.order[2], None)
            self._mark(period, row)

    def _mark(self, period: date | None, row: _Row) -> None:
        stands = self._from.get(period)
        self._from[period] = row.order if stands is None else min(stands, row.order)

    def settle(self) -> set[str]:
        """Count anew from the first line changed on; gives the hauls of lines before which another sum stands now."""
        changed = set()
        for period, order in self._from.items():
            rows = self._rows[period]
            first = bisect_left(rows, order, key=_order)
            running = self.before[rows[first - 1].order[2]] + rows[first - 1].count if first else NOTHING
            for row in rows[first:]:
                line = row.order[2]
                if self.before.get(line) != running:
                    self.before[line] = running
                    changed.add(row.haul)
                running += row.count
        self._from.clear()
        return changed


def _order(row: _Row) -> tuple[datetime, str, str]:
    return row.order
