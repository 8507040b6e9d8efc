"""Files kept byte for byte under their SHA-256: written whole or not at all, never overwritten."""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path


class DamagedFileError(ValueError):
    """A kept file no longer has the content it is named after; carries the name."""

    def __init__(self, sha256: str) -> None:
        self.sha256 = sha256
        super().__init__(f"the kept file {sha256} is damaged or missing; bring it back from a backup")


def keep(folder: Path, content: bytes) -> str:
    """Keep bytes; gives their SHA-256 (hex). The file is on the disk before this returns.

    A file of that name that was damaged meanwhile is made whole again.
    """
    name = hashlib.sha256(content).hexdigest()
    path = path_of(folder, name)
    if not path.is_file() or path.read_bytes() != content:
        _write(path, content)
    # A new name lasts only once its folder is on the disk too; so it is also where another thread just made it.
    settle(path.parent)
    settle(folder)
    return name


def _write(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, draft = tempfile.mkstemp(dir=path.parent, prefix="draft-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(draft).replace(path)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise


def settle(folder: Path) -> None:
    """Bring a folder's list of names to the disk, where the system lets folders be opened."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def kept(folder: Path, sha256: str) -> bytes:
    """Give the bytes kept under a name; raises DamagedFileError where they are not what was kept."""
    path = path_of(folder, sha256)
    content = path.read_bytes() if path.is_file() else None
    if content is None or hashlib.sha256(content).hexdigest() != sha256:
        raise DamagedFileError(sha256)
    return content


def path_of(folder: Path, sha256: str) -> Path:
    """Give where a file is kept; raises ValueError for what is no SHA-256."""
    if not is_name(sha256):
        raise ValueError(f"'{sha256[:80]}' is no SHA-256 in hexadecimal")
    return folder / sha256[:2] / sha256


def is_name(text: str) -> bool:
    """Tell whether a text is a SHA-256 in hexadecimal."""
    return len(text) == 64 and set(text) <= set("0123456789abcdef")
