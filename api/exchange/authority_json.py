"""A permit or licence from a raw object: every fault at once, names resolved to accepted ids.

The keys are the field names of the dataclasses in ``api.domain.permits`` and ``api.domain.conditions``;
conditions are told apart by "kind".
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any, get_args

from api.domain.conditions import AnyCondition, Condition, Only, TakeLimit
from api.domain.permits import Amendment, Authority, NamedGroup
from api.domain.taxa import Taxa, UnknownTaxonError
from api.exchange.authority_checks import Draft, Placed, authority_faults, texts
from api.exchange.checked_shapes import checked, joined
from api.exchange.faults import Fault
from api.exchange.plain_words import choice, fault_of, shown

FORMAT = "creekledger authority 1"
FILE_KEYS = ("format", "taxa", "areas")
"""Keys of an authority file that are not the authority's own."""

KINDS: dict[str, type[Condition]] = {
    str(field.default): shape for shape in get_args(AnyCondition) for field in fields(shape) if field.name == "kind"
}
"""The kinds of condition by the word that tells them apart."""

_TAXA_LISTS = ("taxa", "part_taxa")


def authority_of(
    raw: object, file: str, taxa: Taxa | None, areas: Collection[str] | None
) -> tuple[Authority | None, list[Fault]]:
    """Read one authority, or tell everything that is wrong with it; never raises for what ``raw`` holds.

    ``areas`` are the ids of the areas that its conditions may name. Names of other authorities
    (``in_common_with``, ``under``) are looked at where the whole book is known. With None for taxa or areas
    (whose own file is faulty) names are not looked at, and there is no authority without taxa.
    """
    if not isinstance(raw, Mapping):
        what = f"An object with the authority's fields is wanted, but {shown(raw)} was found."
        return None, [Fault(file, "", what, "Write an object in braces, { }.")]
    own = {str(key): value for key, value in raw.items() if key not in FILE_KEYS}
    draft = Draft(file, dict(own))
    faults = _format_faults(raw, file)
    conditions = _conditions(draft, own.get("conditions"), 0, faults)
    amendments = _amendments(draft, faults)
    told = authority_faults(draft, areas)
    own |= {"conditions": conditions, "amendments": amendments}
    # The class itself refuses one thing at a time and without its place; what is told already is not told twice.
    authority, wrong = checked(Authority, own, file, "", FILE_KEYS, with_own_refusal=not told)
    faults += wrong + told
    if taxa is not None:
        faults += _name_faults(draft, taxa)
    if authority is None or faults or taxa is None:
        return None, faults
    return _resolved(authority, taxa), []


def issued_names(raw: object, taxa: Taxa) -> dict[str, str]:
    """Give the names as issued, by accepted id, where the authority's page writes another name."""
    found: dict[str, str] = {}
    for name in _names_in(raw):
        try:
            accepted = taxa.resolve(name)
        except UnknownTaxonError:
            continue
        if accepted != name.strip():
            found.setdefault(accepted, name.strip())
    return found


def _names_in(raw: object) -> Iterator[str]:
    """Give every taxon name written anywhere in a raw authority."""
    if isinstance(raw, Mapping):
        for key, value in raw.items():
            if key in _TAXA_LISTS and isinstance(value, Sequence) and not isinstance(value, str):
                yield from (name for name in value if isinstance(name, str))
            elif key != "format":
                yield from _names_in(value)
    elif isinstance(raw, list | tuple):
        for value in raw:
            yield from _names_in(value)


def _format_faults(raw: Mapping[Any, Any], file: str) -> list[Fault]:
    written = raw.get("format")
    if written in (None, FORMAT):
        return []
    return [Fault(file, "format", f"The format {shown(written)} is not an authority's.", f"Write '{FORMAT}'.")]


def _conditions(draft: Draft, raw: object, version: int, faults: list[Fault]) -> tuple[Condition, ...]:
    """Read a list of conditions; a faulty one is left out, so that the rest can be looked at."""
    before = f"amendments[{version - 1}]: " if version else ""
    if raw is None and not version:
        faults.append(Fault(draft.file, "", "'conditions' is missing.", "Add the list of conditions."))
        return ()
    if not isinstance(raw, list | tuple):
        what = f"A list of conditions is wanted, but {shown(raw)} was found."
        faults.append(Fault(draft.file, f"{before}conditions", what, "Write a list in square brackets, [ ]."))
        return ()
    for place, entry in enumerate(raw):
        where = condition_place(before, place, entry)
        condition, wrong = _condition(entry, draft.file, where)
        faults += wrong
        if condition is not None:
            draft.placed.append(Placed(version, where, condition))
    return tuple(one.condition for one in draft.placed if one.version == version)


def condition_place(before: str, place: int, entry: object) -> str:
    """Name the place of a condition: its position in the list, and its number where it has one."""
    number = entry.get("number") if isinstance(entry, Mapping) else None
    return f"{before}conditions[{place}]" + (f" ({number})" if number not in (None, "") else "")


def _condition(raw: object, file: str, where: str) -> tuple[Condition | None, list[Fault]]:
    if not isinstance(raw, Mapping):
        what = f"A condition is wanted, but {shown(raw)} was found."
        return None, [Fault(file, where, what, "Write an object in braces, { }.")]
    kind = raw.get("kind")
    shape = KINDS.get(kind) if isinstance(kind, str) else None
    if shape is None:
        what = "'kind' is missing." if "kind" not in raw else f"The kind {shown(kind)} is not known."
        return None, [Fault(file, joined(where, "kind"), what, choice(str(kind or ""), KINDS))]
    condition, faults = checked(shape, raw, file, where)
    if condition is not None:
        for key in ("number", "text"):
            if not getattr(condition, key).strip():
                what = f"The condition's '{key}' is empty."
                mend = "Give the clause's number." if key == "number" else "Give the words as issued."
                faults.append(Fault(file, joined(where, key), what, mend))
    return condition, faults


def _amendments(draft: Draft, faults: list[Fault]) -> tuple[Amendment, ...]:
    raw = draft.own.get("amendments", [])
    if not isinstance(raw, list | tuple):
        what = f"A list of amendments is wanted, but {shown(raw)} was found."
        faults.append(Fault(draft.file, "amendments", what, "Write a list in square brackets, [ ]."))
        return ()
    read: list[Amendment] = []
    for place, entry in enumerate(raw):
        own: object = entry
        if isinstance(entry, Mapping):
            own = {**entry, "conditions": _conditions(draft, entry.get("conditions", []), place + 1, faults)}
        amendment, wrong = checked(Amendment, own, draft.file, f"amendments[{place}]")
        faults += wrong
        if amendment is not None:
            read.append(amendment)
    return tuple(read)


def _name_faults(draft: Draft, taxa: Taxa) -> list[Fault]:
    """Tell of every taxon name that the list of taxa does not hold."""
    faults: list[Fault] = []
    for one in draft.placed:
        for path, name in _taxa_of_condition(one.condition):
            faults += _name_fault(name, draft.file, joined(one.where, path), taxa)
    for where, group in draft.groups():
        for at, name in texts(group.get("taxa")):
            faults += _name_fault(name, draft.file, joined(where, f"taxa[{at}]"), taxa)
    return faults


def _taxa_of_condition(condition: Condition) -> Iterator[tuple[str, str]]:
    """Give the taxon names of a condition with their paths."""
    for key in _TAXA_LISTS:
        for at, name in enumerate(getattr(condition, key, ())):
            yield f"{key}[{at}]", name
    for at, name in enumerate(condition.only.taxa):
        yield f"only.taxa[{at}]", name
    if isinstance(condition, TakeLimit):
        for place, part in enumerate(condition.parts):
            for at, name in enumerate(part.taxa):
                yield f"parts[{place}].taxa[{at}]", name


def _name_fault(name: str, file: str, where: str, taxa: Taxa) -> list[Fault]:
    try:
        taxa.resolve(name)
    except UnknownTaxonError as problem:
        mend = choice(name, known_names(taxa)) or "Add it to the list of taxa."
        return [replace(fault_of(file, where, problem), mend=mend)]
    return []


def known_names(taxa: Taxa) -> list[str]:
    """Give every name in use: accepted ones and synonyms."""
    return [name for taxon in taxa.taxa.values() for name in (taxon.id, *taxon.synonyms)]


def _resolved(authority: Authority, taxa: Taxa) -> Authority:
    """Put the accepted id for every name, in conditions and groups."""
    return replace(
        authority,
        conditions=tuple(_resolved_condition(each, taxa) for each in authority.conditions),
        groups=_resolved_groups(authority.groups, taxa),
        amendments=tuple(
            replace(
                each,
                conditions=tuple(_resolved_condition(one, taxa) for one in each.conditions),
                groups=_resolved_groups(each.groups, taxa),
            )
            for each in authority.amendments
        ),
    )


def _resolved_groups(groups: Sequence[NamedGroup], taxa: Taxa) -> tuple[NamedGroup, ...]:
    return tuple(replace(group, taxa=_accepted(group.taxa, taxa)) for group in groups)


def _resolved_condition(condition: Condition, taxa: Taxa) -> Condition:
    changes: dict[str, Any] = {
        key: _accepted(getattr(condition, key), taxa) for key in _TAXA_LISTS if hasattr(condition, key)
    }
    if condition.only != Only():
        changes["only"] = replace(condition.only, taxa=_accepted(condition.only.taxa, taxa))
    if isinstance(condition, TakeLimit):
        changes["parts"] = tuple(replace(part, taxa=_accepted(part.taxa, taxa)) for part in condition.parts)
    return replace(condition, **changes)


def _accepted(names: Sequence[str], taxa: Taxa) -> tuple[str, ...]:
    """Give accepted ids, each once: two names of one taxon are one."""
    return tuple(dict.fromkeys(taxa.resolve(name) for name in names))
