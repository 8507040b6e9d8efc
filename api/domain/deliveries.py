"""What is to be done with a record that a phone delivers: store, amend, keep both, or say that it is here already."""

from __future__ import annotations

from typing import Literal, TypeAlias

Deed: TypeAlias = Literal["store", "amend", "same", "conflict", "gone"]
"""*same*: it is here already with this content; *gone*: it amends what is not here."""

Answer: TypeAlias = Literal["stored", "already had", "refused", "conflict"]
"""What a phone is told of one operation."""


def deed_for(*, held: int | None, same: bool, based_on: int | None) -> Deed:
    """Decide on a record: ``held`` is the version that stands here (None: none), ``based_on`` the one it was made from.

    A record without ``based_on`` is new. A new record under an id that is taken, and an amendment of another
    version than the one that stands, are conflicts: both are kept and a person decides.
    """
    if held is None:
        return "store" if based_on is None else "gone"
    if same:
        return "same"
    return "amend" if based_on == held else "conflict"
