"""Files that are still coming in, part by part, under the SHA-256 that the whole will have.

How much of a file counts as here is told by its row; what was written beyond that before a crash is written again.
"""

from __future__ import annotations

import os
import threading
from pathlib import Path

from api.store import files

_FOLDER = "parts"
_TURNS = tuple(threading.Lock() for _ in range(64))


def turn_of(sha256: str) -> threading.Lock:
    """Give the lock under which a file grows: whoever delivers the same one stands in one line."""
    return _TURNS[int(sha256[:8], 16) % len(_TURNS)]


def length(folder: Path, sha256: str) -> int:
    """Give how many bytes are here, 0 where there is no file."""
    path = _path(folder, sha256)
    return path.stat().st_size if path.is_file() else 0


def read(folder: Path, sha256: str, begin: int, number: int) -> bytes:
    """Give some of the bytes that are here."""
    if number <= 0:
        return b""
    with _path(folder, sha256).open("rb") as file:
        file.seek(begin)
        return file.read(number)


def write(folder: Path, sha256: str, begin: int, content: bytes) -> None:
    """Write bytes at a place; they are on the disk before this returns."""
    path = _path(folder, sha256)
    new = not path.is_file()
    if new:
        path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("xb" if new else "r+b") as file:
        file.seek(begin)
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    if new:
        files.settle(path.parent)
        files.settle(folder)


def drop(folder: Path, sha256: str) -> None:
    """Let go of what is here of a file."""
    _path(folder, sha256).unlink(missing_ok=True)


def names(folder: Path) -> set[str]:
    """Give the files of which something is here."""
    parts = folder / _FOLDER
    found = {one.name for one in parts.iterdir()} if parts.is_dir() else set()
    return {name for name in found if files.is_name(name)}


def _path(folder: Path, sha256: str) -> Path:
    # A name that is no SHA-256 is refused there, so that nothing leads out of the folder.
    return folder / _FOLDER / files.path_of(folder, sha256).name
