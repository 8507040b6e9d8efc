"""Old and new values of corrections in plain words, as a person reads them.

A correction keeps its values as text: what a person typed, or a record's own value, which is canonical JSON where
it is more than a word. Whatever is no such value is shown as it stands. People, sites and authorities are named,
times are told in one zone; nothing is rounded, so that two values that differ also read otherwise.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction
from typing import Any

from api.domain.calendar import spoken_time
from api.domain.measures import decimal_text
from api.exchange.count_text import UNKNOWN_WORD

NOTHING = "nothing"
"""Shown for a value that was not there."""

_NAMES = {
    "also_under": "also under",
    "clock_fast_s": "phone clock ahead",
    "device_start": "start by the phone clock",
    "in_sight": "holder in sight",
    "may_stand_under": "may stand under",
    "measured_as": "measured as",
    "name_as_written": "name as written",
    "one_of": "one of",
    "paper_record": "entered from paper",
    "raw_counted": "counted in a part",
    "raw_share": "part counted",
    "swept_m": "length swept",
}


@dataclass(frozen=True, slots=True)
class Naming:
    """How ids are named and in which zone times are told; ``unit`` is that of the record's count."""

    zone: str
    people: Mapping[str, str] = field(default_factory=dict)
    sites: Mapping[str, str] = field(default_factory=dict)
    authorities: Mapping[str, str] = field(default_factory=dict)
    unit: str = "individuals"


def field_words(name: str) -> str:
    """Give a record's field as people call it: "may stand under"."""
    return _NAMES.get(name, name.replace("_", " "))


def value_words(name: str, text: str, naming: Naming) -> str:
    """Give a correction's old or new value of a field in plain words."""
    if not text:
        return _ABSENT.get(name, NOTHING)
    if name in _PLAIN:
        return text
    if name in _TEXTS:
        return _TEXTS[name](text, naming)
    try:
        return _told(name, json.loads(text), naming) or text
    except (ValueError, RecursionError):
        return text


def _told(name: str, value: Any, naming: Naming) -> str:
    """Tell a value as its field holds it, else as it comes; "" for one that is best told as it was written."""
    if name in _VALUES:
        with suppress(KeyError, TypeError, ValueError, AttributeError, ArithmeticError):
            return _VALUES[name](value, naming)
    return _flat(value, naming) if isinstance(value, Mapping | list) else ""


def _flat(value: Any, naming: Naming) -> str:
    """Write any JSON value without its brackets."""
    match value:
        case Mapping():
            return ", ".join(f"{field_words(str(key))} {_flat(each, naming)}" for key, each in value.items()) or NOTHING
        case list():
            return "; ".join(_flat(each, naming) for each in value) or NOTHING
        case bool():
            return _yes(value, naming)
        case None:
            return NOTHING
    return str(value)


# --- texts


def _time(text: str, naming: Naming) -> str:
    """Tell a time with its offset in the zone, to the second where seconds were recorded; others as they stand."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return text
    if at.tzinfo is None:
        return text
    spoken = spoken_time(at, naming.zone)
    if not at.second and not at.microsecond:
        return spoken
    parts = f".{at.microsecond:06d}".rstrip("0") if at.microsecond else ""
    return f"{spoken}:{at.second:02d}{parts}"


def _person(text: str, naming: Naming) -> str:
    return naming.people.get(text, _text(text))


def _site(text: str, naming: Naming) -> str:
    return naming.sites.get(text, text)


def _authority(text: str, naming: Naming) -> str:
    return naming.authorities.get(text, _text(text))


def _swept(text: str, _naming: Naming) -> str:
    number, _, unit = text.partition(" ")
    try:
        return f"{decimal_text(Fraction(number))} {unit}".strip()
    except (ValueError, ZeroDivisionError):
        return text


def _size(text: str, naming: Naming) -> str:
    """Tell a size of gear that is kept in millimetres: from a metre on in metres, as people say it of a net."""
    number, _, unit = text.partition(" ")
    try:
        metres = Fraction(number) / 1000
    except (ValueError, ZeroDivisionError):
        return text
    return f"{decimal_text(metres)} m" if unit == "mm" and metres >= 1 else _swept(text, naming)


# --- values


def _number(value: Any) -> str:
    """Write an amount of a record, a whole number or a fraction as text, as a decimal number."""
    if isinstance(value, bool) or not isinstance(value, int | str):
        raise TypeError(value)
    exact = Fraction(value)
    written = decimal_text(exact)
    return written if Fraction(written) == exact else str(exact)


def _count(value: Any, naming: Naming) -> str:
    return _amount(value, "" if naming.unit == "individuals" else f" {naming.unit}")


def _weight(value: Any, _naming: Naming) -> str:
    return _amount(value, " g")


def _amount(value: Any, unit: str) -> str:
    """Write a count as people do: "12", "about 200 (150-260)", "at least 5", "unknown"."""
    if not isinstance(value, Mapping):
        return f"{_number(value)}{unit}"
    low, best, high = (value[name] for name in ("low", "best", "high"))
    if high == UNKNOWN_WORD:
        # With no bound above, best is whatever was written; it is told where it says more than low.
        if _number(best) != _number(low):
            return f"about {_number(best)}{unit} (at least {_number(low)})"
        return UNKNOWN_WORD if _number(low) == "0" else f"at least {_number(low)}{unit}"
    if low == high:
        return f"{_number(best)}{unit}"
    return f"about {_number(best)}{unit} ({_number(low)}-{_number(high)})"


def _yes(value: Any, _naming: Naming) -> str:
    if not isinstance(value, bool):
        raise TypeError(value)
    return "yes" if value else "no"


def _seconds(value: Any, _naming: Naming) -> str:
    return f"{_number(value)} s"


def _whole(value: Any, _naming: Naming) -> str:
    return _number(value)


def _several(writer: Callable[[Any, Naming], str], between: str = "; ") -> Callable[[Any, Naming], str]:
    def write(value: Any, naming: Naming) -> str:
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise TypeError(value)
        return between.join(writer(each, naming) for each in value) or "none"

    return write


def _word(value: Any, _naming: Naming) -> str:
    return _text(value)


def _text(value: Any) -> str:
    """Give a word or a number as text; raises TypeError for what holds more."""
    if not isinstance(value, str | int | float):
        raise TypeError(value)
    return str(value)


def _extras(one: Mapping[str, Any], *parts: str) -> str:
    """Give what stands in brackets behind a part, and a note behind that."""
    told = ", ".join(part for part in parts if part)
    note = _text(one.get("note", ""))
    return (f" ({told})" if told else "") + (f", note: {note}" if note else "")


def _gear(value: Any, naming: Naming) -> str:
    parts = [_text(value["gear"])]
    for name, word in (("length_mm", "length"), ("mesh_mm", "mesh"), ("opening_mm", "opening")):
        if name in value:
            parts.append(f"{word} {_size(value[name], naming)}")
    if "number" in value:
        parts.append(f"{_number(value['number'])} of them")
    if "marked" in value:
        parts.append("marked" if value["marked"] else "not marked")
    if "tag" in value:
        parts.append(f"tag {_text(value['tag'])}")
    return ", ".join(parts)


def _fix(value: Any, _naming: Naming) -> str:
    radius, confidence = value.get("radius_m"), value.get("confidence")
    within = "" if radius is None else f"within {_float(radius)} m"
    sure = "" if confidence is None else f"{_float(round(confidence * 100, 9))} % sure"
    return f"{_float(value['lat'])}, {_float(value['lon'])}" + _extras({}, within, sure, _text(value.get("source", "")))


def _float(value: float) -> str:
    """Write a float in full, without a needless ".0"."""
    return repr(float(value)).removesuffix(".0")


def _member(value: Any, naming: Naming) -> str:
    return f"{_person(value['person'], naming)} ({_text(value['role'])})"


def _cleaning(value: Any, naming: Naming) -> str:
    minutes = f"{_number(value['minutes'])} min" if "minutes" in value else ""
    done = "" if value.get("done", True) else "not done"
    who = _person(_text(value.get("person", "")), naming)
    told = f"{_text(value['method'])}, {_time(value['at'], naming)}"
    return told + _extras(value, done, minutes, _text(value.get("gear", "")), who)


def _statement(value: Any, naming: Naming) -> str:
    about = f"{_authority(value['authority'], naming)} {_text(value['condition'])}: {_text(value['kept'])}"
    reason = f", reason: {_text(value['reason'])}" if value.get("reason") else ""
    return f"{about} ({_person(value['person'], naming)}, {_time(value['at'], naming)}){reason}"


def _reading(value: Any, naming: Naming) -> str:
    at = _time(value["at"], naming) if "at" in value else ""
    told = " ".join(_text(value[part]) for part in ("quantity", "value", "unit")).strip()
    return told + _extras(value, at, _text(value.get("instrument", "")))


def _run(value: Any, _naming: Naming) -> str:
    return f"{_text(value['measure'])} {', '.join(value['values'])}" + _extras({}, _text(value.get("variant", "")))


_ABSENT = {"lost": "no", "paper_record": "no", "cancels": "no", "clock_fast_s": "0 s"}
"""What a field says that a record leaves out because it stands at its default."""

_PLAIN = frozenset(
    {
        "cause", "channel", "condition", "consent", "container", "covers", "doubt", "fate", "kind", "line", "measured_as",
        "method", "name", "name_as_written", "note", "photo", "proof", "raw_share", "reason", "sex", "stage", "status",
        "taxon", "text", "to", "trip", "unit", "waterbody", "what", "zone",
    }
)  # fmt: skip
"""Fields that hold words, whatever they look like."""

_TEXTS: dict[str, Callable[[str, Naming], str]] = {
    **dict.fromkeys(
        ("at", "back", "depart", "device_start", "end", "filed", "replied", "sent", "start", "told"), _time
    ),
    **dict.fromkeys(("person", "leader", "by"), _person),
    "site": _site,
    "authority": _authority,
    "swept_m": _swept,
}

_VALUES: dict[str, Callable[[Any, Naming], str]] = {
    "count": _count,
    "weight": _weight,
    "measurements": _several(_run),
    "raw_counted": _whole,
    "clock_fast_s": _seconds,
    **dict.fromkeys(("lost", "in_sight", "paper_record", "cancels", "accepted"), _yes),
    **dict.fromkeys(("one_of", "papers", "content", "about"), _several(_word, ", ")),
    **dict.fromkeys(("may_stand_under", "also_under"), _several(_authority, ", ")),
    "crew": _several(_member, ", "),
    "gear": _gear,
    "arrived": _fix,
    "fixes": _several(_fix),
    "checks": _several(_time, ", "),
    "cleanings": _several(_cleaning),
    "attestations": _several(_statement),
    "readings": _several(_reading),
}
