"""Books from files: authorities with the taxa and areas they name, put together and looked at as a whole.

Several authorities may share one file of taxa or areas; each file is read once. Every fault of every file is
collected before anything is said.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from api.domain.conditions import HoldingRule, TakeLimit
from api.domain.facts import Book
from api.domain.permits import Authority
from api.domain.places.answers import Area
from api.domain.taxa import Taxa, Taxon
from api.exchange import authority_json, taxa_json
from api.exchange.area_files import read_areas
from api.exchange.faults import Fault
from api.exchange.json_text import read_json
from api.exchange.plain_words import capital, choice, nearest, shown
from api.exchange.season_files import read_season

__all__ = ["read_book", "read_season"]


@dataclass(slots=True)
class _Shelf:
    """What the files of a book gave so far."""

    faults: list[Fault] = field(default_factory=list)
    authorities: list[tuple[str, Mapping[str, Any]]] = field(default_factory=list)
    taxa: list[tuple[str, list[Taxon]]] = field(default_factory=list)
    areas: dict[str, Area] = field(default_factory=dict)
    seen: set[Path] = field(default_factory=set)
    taxa_broken: bool = False
    areas_broken: bool = False

    def fault(self, file: str, where: str, what: str, mend: str) -> None:
        """Take down what is wrong with a place."""
        self.faults.append(Fault(file, where, what, mend))


def read_book(paths: Sequence[Path]) -> tuple[Book | None, list[Fault]]:
    """Read authority files with the taxa and areas they name: the book, or None and everything that is wrong.

    A folder stands for the authority files in it. Never raises for what files hold.
    """
    shelf = _Shelf()
    for path in _authority_paths(paths):
        _take_in(path, shelf)
    if not shelf.authorities and not shelf.faults:
        shelf.fault(", ".join(path.name for path in paths), "", "There is no authority.", "Give an authority file.")
    taxa = _taxa(shelf)
    areas = None if shelf.areas_broken else frozenset(shelf.areas)
    read: list[tuple[str, Authority]] = []
    names: dict[str, str] = {}
    for file, raw in shelf.authorities:
        authority, faults = authority_json.authority_of(raw, file, taxa, areas)
        shelf.faults += faults
        if authority is not None and taxa is not None:
            read.append((file, authority))
            names |= {key: name for key, name in authority_json.issued_names(raw, taxa).items() if key not in names}
    _look_across(read, shelf)
    if shelf.faults or taxa is None:
        return None, shelf.faults
    return Book(tuple(authority for _, authority in read), taxa, shelf.areas, names), []


def _authority_paths(paths: Sequence[Path]) -> Iterator[Path]:
    """Give the files to read: those named, and those of a named folder that say they are authorities."""
    for path in paths:
        if not path.is_dir():
            yield path
            continue
        for entry in sorted(path.glob("*.json")):
            raw, faults = _json(entry)
            # A broken file may be an authority: it is read again and its faults are told.
            if faults or (isinstance(raw, Mapping) and raw.get("format") == authority_json.FORMAT):
                yield entry


def _json(path: Path) -> tuple[Any, list[Fault]]:
    """Read a file as JSON, or tell why it cannot be."""
    try:
        content = path.read_bytes()
    except OSError as problem:
        what = f"The file cannot be opened ({problem.strerror})."
        return None, [Fault(path.name, "", what, "Look at its name and place.")]
    return read_json(content, path.name)


def _take_in(path: Path, shelf: _Shelf) -> None:
    """Take in an authority file and what it names."""
    if path.resolve() in shelf.seen:
        return
    shelf.seen.add(path.resolve())
    raw, faults = _json(path)
    shelf.faults += faults
    if faults:
        return
    if not isinstance(raw, Mapping) or raw.get("format") != authority_json.FORMAT:
        found = raw.get("format") if isinstance(raw, Mapping) else raw
        what = f"This is no authority file: its format is {shown(found)}."
        shelf.fault(path.name, "format", what, f"Write '{authority_json.FORMAT}'.")
        return
    shelf.authorities.append((path.name, raw))
    for entry in _as_entries(raw.get("taxa")):
        if isinstance(entry, str):
            _taxa_file(entry, path, shelf)
    inline = [entry for entry in _as_entries(raw.get("taxa")) if not isinstance(entry, str)]
    if inline:
        _add_taxa(inline[0] if _is_file(inline[0]) else inline, path.name, shelf)
    if raw.get("taxa") is None:
        shelf.taxa_broken = True
        shelf.fault(path.name, "taxa", "'taxa' is missing.", "Name the file of taxa, as 'taxa.json', or list them.")
    for at, entry in enumerate(_as_entries(raw.get("areas"))):
        _areas_of(entry, path, f"areas[{at}]" if isinstance(raw["areas"], list) else "areas", shelf)


def _as_entries(written: Any) -> list[Any]:
    if written is None:
        return []
    return list(written) if isinstance(written, list | tuple) else [written]


def _is_file(entry: Any) -> bool:
    return isinstance(entry, Mapping) and "format" in entry


def _beside(name: str, path: Path, where: str, shelf: _Shelf) -> Path | None:
    """Give a file named in another one: relative to it, and there."""
    if Path(name).is_absolute() or not name.strip():
        shelf.fault(
            path.name, where, f"{shown(name)} is not a path beside this file.", "Write a path such as 'taxa.json'."
        )
        return None
    found = path.parent / name
    if not found.is_file():
        near = choice(found.name, sorted(entry.name for entry in path.parent.iterdir()), "Look at its name and place.")
        shelf.fault(path.name, where, f"The file '{name}' is not there.", near)
        return None
    return found


def _taxa_file(name: str, path: Path, shelf: _Shelf) -> None:
    found = _beside(name, path, "taxa", shelf)
    if found is None:
        shelf.taxa_broken = True
    elif found.resolve() not in shelf.seen:
        shelf.seen.add(found.resolve())
        raw, faults = _json(found)
        shelf.faults += faults
        if faults:
            shelf.taxa_broken = True
        else:
            _add_taxa(raw, found.name, shelf)


def _add_taxa(raw: Any, file: str, shelf: _Shelf) -> None:
    taxa, faults = taxa_json.taxon_list(raw, file)
    shelf.taxa.append((file, taxa))
    shelf.faults += faults
    shelf.taxa_broken |= bool(faults)


def _taxa(shelf: _Shelf) -> Taxa | None:
    """Put all taxa together; None where any of their files has a fault."""
    if shelf.taxa_broken:
        return None
    taxa, faults = taxa_json.joined_taxa(shelf.taxa)
    shelf.faults += faults
    return taxa


def _areas_of(entry: Any, path: Path, where: str, shelf: _Shelf) -> None:
    """Take in areas from a file that is named, or from a feature collection that stands there."""
    if isinstance(entry, Mapping):
        areas, faults = _inline_areas(entry, path.name, where)
        file = path.name
    elif isinstance(entry, str):
        found = _beside(entry, path, where, shelf)
        if found is None:
            shelf.areas_broken = True
            return
        if found.resolve() in shelf.seen:
            return
        shelf.seen.add(found.resolve())
        areas, faults = read_areas(found)
        file = found.name
    else:
        shelf.areas_broken = True
        mend = "Write a path such as 'areas.geojson', or a feature collection."
        shelf.fault(path.name, where, f"{capital(shown(entry))} stands where areas are wanted.", mend)
        return
    shelf.areas_broken |= bool(faults)
    shelf.faults += faults
    for area in areas:
        if shelf.areas.setdefault(area.id, area) != area:
            what = f"The area '{area.id}' is in two files, and they differ."
            shelf.fault(file, area.id, what, "Give one of them an id of its own.")


def _inline_areas(collection: Mapping[Any, Any], file: str, where: str) -> tuple[list[Area], list[Fault]]:
    """Read a feature collection through the reader of area files, which takes a file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "areas.geojson"
        path.write_text(json.dumps(collection, default=float), "utf-8")
        areas, faults = read_areas(path)
    placed = [replace(one, file=file, where=f"{where}: {one.where}" if one.where else where) for one in faults]
    return areas, placed


def _look_across(read: Sequence[tuple[str, Authority]], shelf: _Shelf) -> None:
    """See that authorities have ids of their own and name only each other."""
    ids = [str(raw.get("id")) for _, raw in shelf.authorities]
    for at, (file, raw) in enumerate(shelf.authorities):
        if str(raw.get("id")) in ids[:at]:
            shelf.fault(file, "id", f"Two authorities bear the id {shown(raw.get('id'))}.", "Give each its own.")
    for file, authority in read:
        parts = [("", authority.conditions)]
        parts += [(f"amendments[{at}]: ", each.conditions) for at, each in enumerate(authority.amendments)]
        for before, conditions in parts:
            for at, condition in enumerate(conditions):
                where = f"{before}conditions[{at}] ({condition.number})"
                names: tuple[str, ...] = ()
                if isinstance(condition, TakeLimit):
                    names, key = condition.in_common_with, "in_common_with"
                elif isinstance(condition, HoldingRule) and condition.under:
                    names, key = (condition.under,), "under"
                for name in names:
                    _known_authority(name, ids, file, f"{where}: {key}", shelf)


def _known_authority(name: str, ids: Collection[str], file: str, where: str, shelf: _Shelf) -> None:
    if name not in ids:
        near = nearest(name, ids)
        mend = (f"Did you mean '{near}'? " if near else "") + "Give that authority's file too, or mend the name."
        shelf.fault(file, where, f"The authority '{name}' is not among those given.", mend)
