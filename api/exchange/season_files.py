"""Seasons from files and folders: trips files and tables, put together as one season.

In a folder, files of other kinds (authorities, taxa, areas, snapshots) are passed over; a file whose kind
nobody knows is told. The same trip in two files is one trip; two that differ are a fault.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from api.domain.facts import Book
from api.domain.trips import Season
from api.exchange import authority_json, season_json, taxa_json
from api.exchange.faults import Fault
from api.exchange.gpx import attach_tracks
from api.exchange.json_text import read_json
from api.exchange.plain_words import shown
from api.exchange.season_json import Records, records_of
from api.exchange.season_merge import Register
from api.exchange.season_references import reference_faults

_READ = (".json", ".csv", ".tsv", ".xlsx", ".xlsm")
_OTHER_KINDS = frozenset({authority_json.FORMAT, taxa_json.FORMAT, "creekledger snapshot 1"})


def read_season(paths: Sequence[Path], book: Book) -> tuple[Season, list[Fault]]:
    """Read trips files, tables and folders of them: everything good as one season, and every fault.

    Never raises for what files hold.
    """
    faults: list[Fault] = []
    register = Register(faults)
    units: dict[str, str] = {}
    left_out: set[str] = set()
    told: set[Path] = set()
    for path, in_folder in _files(paths, faults):
        records, wrong = _records(path, book, in_folder)
        faults += wrong
        if records is not None or wrong:
            told.add(path.parent)
        if records is not None:
            register.add_season(records.season, records.origins, path.name)
            units |= records.movement_units
            left_out |= records.left_out
    faults += [_no_trips(path) for path in paths if path.is_dir() and path not in told]
    season, wrong = reference_faults(register.season(), book, register.origins, units, left_out)
    return season, faults + wrong


def _no_trips(folder: Path) -> Fault:
    """Tell of a folder without any record: a wrong folder must not pass for a season without trips."""
    mend = "Give the folder that holds them, or a trips file with an empty 'trips' if no collecting took place."
    return Fault(str(folder), "", "No trips file was found in this folder.", mend)


def _files(paths: Sequence[Path], faults: list[Fault]) -> list[tuple[Path, bool]]:
    """Give the files to read, in order, each once, and whether each was found in a folder."""
    found: dict[Path, bool] = {}
    for path in paths:
        if path.is_dir():
            entries = [one for one in sorted(path.iterdir()) if one.is_file() and not one.name.startswith((".", "~$"))]
            for one in entries:
                if one.suffix.lower() in _READ:
                    found.setdefault(one, True)
        elif path.suffix.lower() in _READ:
            found[path] = False
        elif not path.suffix and not path.exists():
            faults.append(Fault(str(path), "", "There is no such file or folder.", "Look at its name and place."))
        else:
            mend = "Give a trips file (.json), a table (.csv, .xlsx) or a folder of them."
            faults.append(Fault(path.name, "", f"Files ending in {shown(path.suffix)} are not read as trips.", mend))
    if all(path.suffix.lower() == ".json" for path in found):
        return list(found.items())
    from api.exchange.tables import first_of_each_set  # noqa: PLC0415 - costs start-up that most runs never need

    return [(path, found[path]) for path in first_of_each_set(found)]


def _records(path: Path, book: Book, in_folder: bool) -> tuple[Records | None, list[Fault]]:
    if path.suffix.lower() != ".json":
        return _from_table(path, book)
    try:
        content = path.read_bytes()
    except OSError as problem:
        what = f"The file cannot be opened ({problem.strerror})."
        return None, [Fault(path.name, "", what, "Look at its name and place.")]
    raw, faults = read_json(content, path.name)
    if faults:
        return None, faults
    if in_folder and _is_other_kind(raw):
        return None, []
    if not isinstance(raw, Mapping) or raw.get("format") != season_json.FORMAT:
        found = raw.get("format") if isinstance(raw, Mapping) else raw
        what = f"This is no trips file: its format is {shown(found)}."
        return None, [Fault(path.name, "format", what, f"Write '{season_json.FORMAT}', or leave the file out.")]
    wrong = attach_tracks(raw, path)
    records, faults = records_of(raw, path.name, book)
    return records, wrong + faults


def _is_other_kind(raw: Any) -> bool:
    """Tell whether a file is of a kind that belongs in the folder, but holds no trips."""
    if not isinstance(raw, Mapping):
        return False
    return raw.get("format") in _OTHER_KINDS or raw.get("type") in ("FeatureCollection", "Feature")


def _from_table(path: Path, book: Book) -> tuple[Records, list[Fault]]:
    from api.exchange.tables import read_tables  # noqa: PLC0415 - as above

    raw, rows, faults = read_tables(path, book)
    faults += attach_tracks(raw, path, rows)
    records, wrong = records_of(raw, path.name, book, rows)
    return records, faults + wrong
