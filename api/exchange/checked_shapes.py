"""Raw objects into the domain's frozen dataclasses, with every fault in plain words.

The dataclasses know nothing of this: the checking library reads their type hints here, at the edge.
Numbers may stand where text is wanted ("amount": 40), keys that a class does not know are faults.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from pydantic import ConfigDict, TypeAdapter, ValidationError, with_config
from pydantic_core import ErrorDetails

from api.exchange.faults import Fault
from api.exchange.plain_words import capital, choice, halves, listed, nearest, shown

Shape = TypeVar("Shape")

_CONFIG = ConfigDict(extra="forbid", coerce_numbers_to_str=True, allow_inf_nan=False)

_WANTED = {
    "string_type": ("text", "Write text in quotes."),
    "string_sub_type": ("text", "Write text in quotes."),
    "int_type": ("a whole number", "Write a whole number without quotes."),
    "int_parsing": ("a whole number", "Write a whole number without quotes."),
    "int_from_float": ("a whole number", "Write a whole number without quotes."),
    "int_parsing_size": ("a whole number", "Write a whole number of a few digits."),
    "float_type": ("a number", "Write a number without quotes."),
    "float_parsing": ("a number", "Write a number without quotes."),
    "finite_number": ("a number", "Write a number of ordinary size."),
    "bool_type": ("true or false", "Write true or false without quotes."),
    "bool_parsing": ("true or false", "Write true or false without quotes."),
    "tuple_type": ("a list", "Write a list in square brackets, [ ], also where it has one entry."),
    "dataclass_type": ("an object", "Write an object in braces, { }."),
    "dataclass_exact_type": ("an object", "Write an object in braces, { }."),
}


def checked(
    shape: type[Shape],
    raw: object,
    file: str,
    where: str,
    known_keys: Iterable[str] = (),
    *,
    with_own_refusal: bool = True,
) -> tuple[Shape | None, list[Fault]]:
    """Make a dataclass of a raw object, or tell everything that is wrong with it.

    ``where`` is the place of the object in its file, "" for the whole file; ``known_keys`` are keys that
    the file's format has beside the class's own (for the suggestion only). Without ``with_own_refusal``
    what the class's own last look refuses is not told: the caller has told it better.
    """
    hint: Any = shape
    try:
        return adapter_of(hint).validate_python(raw), []
    except ValidationError as problems:
        details = problems.errors(include_url=False)
        return None, [
            _fault(shape, file, where, detail, known_keys)
            for detail in details
            if with_own_refusal or detail["loc"] or detail["type"] != "value_error"
        ]


@lru_cache(maxsize=128)
def adapter_of(shape: Any) -> TypeAdapter[Any]:
    """Give the checking adapter of a dataclass, after marking it and all within it as closed to other keys."""
    _close(shape, set())
    return TypeAdapter(shape)


def _close(hint: Any, seen: set[Any]) -> None:
    """Mark every dataclass that a type hint leads to."""
    for part in get_args(hint):
        _close(part, seen)
    if not (isinstance(hint, type) and is_dataclass(hint)) or hint in seen:
        return
    seen.add(hint)
    with_config(_CONFIG)(hint)
    for inner in get_type_hints(hint).values():
        _close(inner, seen)


def keys_of(shape: Any) -> tuple[str, ...]:
    """Give the keys that a dataclass knows, in its own order."""
    return tuple(field.name for field in fields(shape))


def path_text(steps: Iterable[int | str]) -> str:
    """Write the steps to a place as in "limits[0].period"."""
    text = ""
    for step in steps:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text


def joined(where: str, path: str) -> str:
    """Put a path within a record behind the record's own place."""
    return f"{where}: {path}" if where and path else where or path


def _fault(shape: Any, file: str, where: str, detail: ErrorDetails, known_keys: Iterable[str]) -> Fault:
    kind, steps = detail["type"], detail["loc"]
    place = joined(where, path_text(steps))
    found = detail["input"]
    if kind == "missing":
        return Fault(file, joined(where, path_text(steps[:-1])), f"'{steps[-1]}' is missing.", f"Add '{steps[-1]}'.")
    if kind == "unexpected_keyword_argument":
        inner = class_at(shape, steps[:-1])
        known = [*(keys_of(inner) if inner else ()), *known_keys]
        return unknown_key(file, joined(where, path_text(steps[:-1])), str(steps[-1]), known)
    if kind == "literal_error":
        words = re.findall(r"'([^']*)'", detail["ctx"]["expected"])
        return Fault(file, place, f"{capital(shown(found))} is not a word known here.", choice(str(found), words))
    if kind == "value_error":
        return Fault(file, place, *halves(detail["ctx"]["error"]))
    wanted, mend = _WANTED.get(kind, ("something else", f"{detail['msg']}."))
    return Fault(file, place, f"{capital(wanted)} is wanted here, but {shown(found)} was found.", mend)


def unknown_key(file: str, where: str, key: str, known: Iterable[str]) -> Fault:
    """Tell of a key that has no place there, and of the nearest one that has."""
    every = list(known)
    near = nearest(key, every)
    mend = f"Did you mean '{near}'?" if near else f"The keys known here are {listed(every)}."
    return Fault(file, where, f"The key {shown(key)} is not known here.", mend)


def class_at(hint: Any, steps: Iterable[int | str]) -> Any:
    """Follow steps through the type hints of a dataclass; None where they lead to something else."""
    here = hint
    for step in steps:
        here = _dataclass_in(here)
        if here is None:
            return None
        if isinstance(step, str):
            here = get_type_hints(here).get(step)
    return _dataclass_in(here)


def _dataclass_in(hint: Any) -> Any:
    """Give the dataclass that a hint is, or holds as in ``X | None`` and ``tuple[X, ...]``."""
    if get_origin(hint) is None:
        return hint if isinstance(hint, type) and is_dataclass(hint) else None
    return next((found for part in get_args(hint) if (found := _dataclass_in(part)) is not None), None)
