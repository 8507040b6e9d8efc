"""A backup: every table of one snapshot and every kept file, in one archive that either engine can take in.

The archive is an ordinary zip: ``manifest.json`` (the step of the tables, rows and SHA-256 of each table, the
names of the files), ``tables/NAME.jsonl`` and ``files/NAME``. It is made while others write.
"""

from __future__ import annotations

import hashlib
import json
import math
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, DateTime, Engine, Float, MetaData, Table, delete, func, insert, select

from api.store import files
from api.store.engine import WRITES
from api.store.migrating import migrate, step_of
from api.store.unit_of_work import Store

FORMAT = "creekledger backup 1"
_MANIFEST = "manifest.json"
_STEPS = "alembic_version"
_BATCH = 1000


class BadBackupError(ValueError):
    """The archive is no backup, or was damaged; the message says where."""


class NotEmptyError(ValueError):
    """The place to restore into holds data already."""


@dataclass(frozen=True, slots=True)
class Saved:
    """What a backup holds: rows by table, and kept files."""

    rows: dict[str, int]
    files: int


def back_up(store: Store, folder: Path, out: Path) -> Saved:
    """Write a backup of a store and its folder of files; ``out`` stands whole or not at all."""
    draft = out.with_name(out.name + ".part")
    step = step_of(store.engine)
    try:
        with store.reading() as session, zipfile.ZipFile(draft, "w", zipfile.ZIP_DEFLATED) as archive:
            connection = session.connection()
            tables = {table.name: _write_table(connection, table, archive) for table in _tables(connection)}
            kept = [row[0] for row in connection.exec_driver_sql("SELECT sha256 FROM document ORDER BY sha256")]
            for name in kept:
                archive.writestr(f"files/{name}", files.kept(folder, name))
            made = store.clock().isoformat()
            manifest = {"format": FORMAT, "step": step, "made_at": made, "tables": tables, "files": kept}
            archive.writestr(_MANIFEST, json.dumps(manifest, indent=1, sort_keys=True))
        draft.replace(out)
    except BaseException:
        draft.unlink(missing_ok=True)
        raise
    return Saved({name: one["rows"] for name, one in tables.items()}, len(kept))


def restore(archive_path: Path, engine: Engine, folder: Path) -> Saved:
    """Take a backup into an empty database and an empty folder, and bring its tables to the newest step.

    Everything is held against the manifest before it is kept. Raises BadBackupError and NotEmptyError.
    """
    try:
        archive = zipfile.ZipFile(archive_path)
    except (OSError, zipfile.BadZipFile) as problem:
        raise BadBackupError(f"{archive_path.name} is no backup ({problem})") from problem
    with archive:
        manifest = _manifest(archive)
        if step_of(engine):
            raise NotEmptyError("there is a database already; restore into an empty one")
        if folder.exists() and any(folder.iterdir()):
            raise NotEmptyError(f"the folder {folder.name} is not empty; restore into an empty one")
        _restore_files(archive, manifest["files"], folder)
        migrate(engine, manifest["step"])
        with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
            for table in _tables(connection):
                _read_table(connection, table, archive, manifest["tables"].get(table.name))
    migrate(engine)
    return Saved({name: one["rows"] for name, one in manifest["tables"].items()}, len(manifest["files"]))


def _tables(connection: Connection) -> list[Table]:
    """Give the tables as they are in the database, those that others refer to first."""
    found = MetaData()
    found.reflect(connection)
    return [table for table in found.sorted_tables if table.name != _STEPS]


def _write_table(connection: Connection, table: Table, archive: zipfile.ZipFile) -> dict[str, Any]:
    mark, rows = hashlib.sha256(), 0
    query = select(table).order_by(*table.primary_key.columns)
    with archive.open(f"tables/{table.name}.jsonl", "w", force_zip64=True) as out:
        for row in connection.execution_options(yield_per=_BATCH).execute(query).mappings():
            line = json.dumps({name: _plain(value) for name, value in row.items()}, sort_keys=True) + "\n"
            content = line.encode("utf-8")
            out.write(content)
            mark.update(content)
            rows += 1
    return {"rows": rows, "sha256": mark.hexdigest()}


def _plain(value: Any) -> Any:
    """Write a value of a row as JSON; instants in UTC, no bound as a word."""
    if isinstance(value, datetime):
        return (value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)).isoformat()
    return "inf" if isinstance(value, float) and math.isinf(value) else value


def _manifest(archive: zipfile.ZipFile) -> dict[str, Any]:
    try:
        manifest: dict[str, Any] = json.loads(archive.read(_MANIFEST))
    except (KeyError, ValueError, zipfile.BadZipFile) as problem:
        raise BadBackupError("the archive has no readable manifest.json: this is no backup") from problem
    if manifest.get("format") != FORMAT:
        raise BadBackupError(f"the archive's format is not '{FORMAT}'")
    return manifest


def _restore_files(archive: zipfile.ZipFile, names: Iterable[str], folder: Path) -> None:
    for name in names:
        content = _member(archive, f"files/{name}")
        if hashlib.sha256(content).hexdigest() != name:
            raise BadBackupError(f"the file {name} in the archive was damaged")
        files.keep(folder, content)


def _member(archive: zipfile.ZipFile, name: str) -> bytes:
    try:
        return archive.read(name)
    except (KeyError, zipfile.BadZipFile) as problem:
        raise BadBackupError(f"{name} is missing from the archive or damaged") from problem


def _read_table(connection: Connection, table: Table, archive: zipfile.ZipFile, told: dict[str, Any] | None) -> None:
    """Take a table's rows in; what a fresh database put there gives way."""
    if told is None:
        raise BadBackupError(f"the table {table.name} is missing from the backup")
    content = _member(archive, f"tables/{table.name}.jsonl")
    if hashlib.sha256(content).hexdigest() != told["sha256"]:
        raise BadBackupError(f"the table {table.name} in the archive was damaged")
    if table.name == "audit_head":
        connection.execute(delete(table))
    rows = [_typed(table, json.loads(line)) for line in content.splitlines()]
    for batch in _batches(_parents_first(table, rows)):
        connection.execute(insert(table), batch)
    stood = connection.execute(select(func.count()).select_from(table)).scalar_one()
    if stood != told["rows"]:
        raise BadBackupError(f"the table {table.name} should have {told['rows']} rows and has {stood}")


def _typed(table: Table, row: dict[str, Any]) -> dict[str, Any]:
    for column in table.columns:
        value = row.get(column.name)
        if isinstance(column.type, DateTime) and value is not None:
            moment = datetime.fromisoformat(value)
            row[column.name] = moment if column.type.timezone else moment.replace(tzinfo=None)
        elif isinstance(column.type, Float) and value == "inf":
            row[column.name] = math.inf
    return row


def _parents_first(table: Table, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Put rows that refer to rows of their own table behind those."""
    own = next((key for key in table.foreign_keys if key.column.table is table), None)
    if own is None:
        return rows
    key, parent = own.column.name, own.parent.name
    by_key = {row[key]: row for row in rows}
    done: dict[Any, dict[str, Any]] = {}
    for row in rows:
        line: list[dict[str, Any]] = []
        here: dict[str, Any] | None = row
        while here is not None and here[key] not in done:
            line.append(here)
            here = by_key.get(here[parent])
        done.update((one[key], one) for one in reversed(line))
    return list(done.values())


def _batches(rows: list[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    for start in range(0, len(rows), _BATCH):
        yield rows[start : start + _BATCH]
