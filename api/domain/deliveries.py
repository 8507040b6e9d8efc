"""What is to be done with a record that a phone delivers: store, amend, keep both, or say that it is here already."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal, TypeAlias

Deed: TypeAlias = Literal["store", "amend", "same", "conflict", "gone"]
"""*same*: it is here already with this content; *gone*: it amends what is not here."""

Answer: TypeAlias = Literal["stored", "already had", "refused", "conflict"]
"""What a phone is told of one operation."""

EnteredFrom: TypeAlias = Literal["screen", "paper"]
"""*screen*: entered where it happened; *paper*: typed later from a sheet."""


@dataclass(frozen=True, slots=True)
class DeviceClock:
    """What a phone's clock showed at an entry (``at``), and what was known of that clock then.

    ``ahead_s``: the seconds by which it was ahead of the server's (below 0: behind) when they were last compared,
    which was at ``known_at`` by the server's clock; both None for a phone that never compared them.
    """

    at: datetime
    ahead_s: int | None = None
    known_at: datetime | None = None


def deed_for(*, held: int | None, same: bool, based_on: int | None, counted_on: bool = False) -> Deed:
    """Decide on a record: ``held`` is the version that stands here (None: none), ``based_on`` the one it was made from.

    A record without ``based_on`` is new. A new record under an id that is taken, and an amendment of another
    version than the one that stands, are conflicts: both are kept and a person decides. ``counted_on`` says that
    what stands and what is offered each counted on from an older version: where both came to one number, that may
    be one animal seen by two people, or two animals.
    """
    if held is None:
        return "store" if based_on is None else "gone"
    if same and not counted_on:
        return "same"
    return "amend" if based_on == held else "conflict"
