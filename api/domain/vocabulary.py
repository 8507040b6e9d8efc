"""The closed word lists that records and conditions are written in.

Every word is the trade's own or a plain one of ours; a list here is the only place where it is spelled.
"""

from __future__ import annotations

from typing import Literal, TypeAlias, get_args

Outcome: TypeAlias = Literal["met", "broken", "open", "not used"]
"""The answer to one condition. *open*: what is recorded cannot tell. *not used*: no record touches it."""

Fate: TypeAlias = Literal["kept", "released", "dead", "lost"]
"""What became of an animal in the haul: kept alive, put back alive, died in the field, escaped uncounted."""

Basis: TypeAlias = Literal["kept", "kept and dead", "handled"]
"""What a limit counts. *handled* is every animal captured or touched, whatever became of it."""

BASIS_FATES: dict[str, frozenset[str]] = {
    "kept": frozenset({"kept"}),
    "kept and dead": frozenset({"kept", "dead"}),
    "handled": frozenset({"kept", "released", "dead", "lost"}),
}

Period: TypeAlias = Literal[
    "haul", "trip", "day", "rolling days", "month", "calendar year", "permit year", "season", "term", "held"
]

Holder: TypeAlias = Literal["permit", "person", "site", "area", "waterbody", "container", "everybody"]
"""Whose tally a limit speaks of; *everybody* is a quota shared with people outside the organisation."""

Operator: TypeAlias = Literal["at most", "fewer than"]

Role: TypeAlias = Literal["holder", "deputy", "named", "assistant", "student", "observer"]
"""What a person is under an authority, or was on a trip. An observer does not handle animals."""

AccountRole: TypeAlias = Literal["collector", "curator", "administrator", "inspector"]
"""What somebody may do here. A person may hold several; an inspector only reads."""

ACCOUNT_ROLES: tuple[str, ...] = get_args(AccountRole)

Doubt: TypeAlias = Literal["", "cf.", "aff.", "?"]
"""The qualifier of a name (open nomenclature). A qualified name is certain only one rank up."""

Rank: TypeAlias = Literal[
    "species", "genus", "family", "order", "class", "phylum", "kingdom", "subspecies", "group", "material"
]

Method: TypeAlias = Literal["counted", "by eye", "by volume", "by weight", "raised"]

Gone: TypeAlias = Literal[
    "died", "released", "transferred", "sold", "voucher", "escaped", "used up", "presumed dead", "missing"
]
"""The ways in which an animal or material leaves what is held."""

Gained: TypeAlias = Literal["born", "given", "found"]
"""The ways in which what is held grows without take from the wild."""
