"""The list of taxa from a raw object: {"format": "creekledger taxa 1", "taxa": [...]} or the bare list."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from api.domain.taxa import Taxa, Taxon
from api.exchange.checked_shapes import checked, unknown_key
from api.exchange.faults import Fault
from api.exchange.plain_words import choice, fault_of, shown

FORMAT = "creekledger taxa 1"
_KEYS = ("format", "taxa")


def taxa_of(raw: object, file: str) -> tuple[Taxa | None, list[Fault]]:
    """Read the list of taxa, or tell everything that is wrong with it; never raises for what ``raw`` holds."""
    taxa, faults = taxon_list(raw, file)
    together, wrong = joined_taxa([(file, taxa)], _raw_ids(raw) if faults else ())
    return (None if faults else together), faults + wrong


def _raw_ids(raw: object) -> list[str]:
    """Give the ids as written, of faulty taxa too: they are no missing parents."""
    entries = raw.get("taxa") if isinstance(raw, Mapping) else raw
    listed = entries if isinstance(entries, list | tuple) else []
    return [str(entry.get("id")) for entry in listed if isinstance(entry, Mapping)]


def taxon_list(raw: object, file: str) -> tuple[list[Taxon], list[Fault]]:
    """Read single taxa, not yet looked at together."""
    faults: list[Fault] = []
    entries = raw
    if isinstance(raw, Mapping):
        if raw.get("format") != FORMAT:
            what = f"The format {shown(raw.get('format'))} is not a list of taxa."
            faults.append(Fault(file, "format", what, f"Write '{FORMAT}'."))
        faults += [unknown_key(file, "", str(key), _KEYS) for key in raw if key not in _KEYS]
        entries = raw.get("taxa")
    if not isinstance(entries, Sequence) or isinstance(entries, str):
        what = f"A list of taxa is wanted, but {shown(entries)} was found."
        faults.append(Fault(file, "taxa", what, "Write a list in square brackets, [ ]."))
        return [], faults
    taxa: list[Taxon] = []
    for place, entry in enumerate(entries):
        name = entry.get("id") if isinstance(entry, Mapping) else None
        where = f"taxa[{place}] ({name})" if isinstance(name, str) else f"taxa[{place}]"
        taxon, wrong = checked(Taxon, entry, file, where)
        if taxon is not None and not taxon.id.strip():
            wrong.append(Fault(file, where, "The taxon has no name.", "Give its scientific name as 'id'."))
        faults += wrong
        if taxon is not None and not wrong:
            taxa.append(taxon)
    return taxa, faults


def joined_taxa(
    lists: Sequence[tuple[str, Sequence[Taxon]]], also_listed: Collection[str] = ()
) -> tuple[Taxa | None, list[Fault]]:
    """Put lists from several files together; the same taxon twice, word for word, is one.

    ``also_listed`` are ids that stand in a file but could not be read: as parents they are not missing.
    """
    held: dict[str, Taxon] = {}
    names: dict[str, str] = {}
    faults: list[Fault] = []
    files: dict[str, str] = {}
    for file, taxa in lists:
        for taxon in taxa:
            if held.get(taxon.id) == taxon and files[taxon.id] != file:
                continue
            if taxon.id in held:
                faults.append(Fault(file, taxon.id, "This taxon is listed twice.", "Keep one of the two."))
                continue
            held[taxon.id], files[taxon.id] = taxon, file
            for name in (taxon.id, *taxon.synonyms):
                other = names.setdefault(name.casefold(), taxon.id)
                if other != taxon.id:
                    what = f"The name '{name}' stands for both '{other}' and '{taxon.id}'."
                    faults.append(Fault(file, taxon.id, what, "Keep it with the one it belongs to."))
    faults += _parent_faults(held, files, also_listed)
    if faults:
        return None, faults
    if also_listed:
        return None, []
    try:
        return Taxa.of(held.values()), []
    except ValueError as problem:
        return None, [fault_of(lists[0][0] if lists else "", "", problem)]


def _parent_faults(held: Mapping[str, Taxon], files: Mapping[str, str], also_listed: Collection[str]) -> list[Fault]:
    faults = []
    in_circles: set[str] = set()
    for taxon in held.values():
        if taxon.parent is not None and taxon.parent not in held and taxon.parent not in also_listed:
            what = f"The parent '{taxon.parent}' is not in the list of taxa."
            mend = choice(taxon.parent, held) or "Add it to the list, or leave the parent out."
            faults.append(Fault(files[taxon.id], f"{taxon.id}: parent", what, mend))
        circle = _circle_from(taxon.id, held)
        if circle and not in_circles.intersection(circle):
            in_circles.update(circle)
            what = f"The parents run in a circle: {' > '.join([*circle, circle[0]])}."
            faults.append(Fault(files[taxon.id], f"{taxon.id}: parent", what, "Correct the parent of one of them."))
    return faults


def _circle_from(start: str, held: Mapping[str, Taxon]) -> list[str]:
    """Give the circle that a taxon's parents lead back into the taxon itself by, or nothing."""
    line = [start]
    here = held[start].parent
    while here is not None and here in held and here not in line:
        line.append(here)
        here = held[here].parent
    return line if here == start else []
