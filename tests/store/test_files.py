"""Files kept byte for byte under their SHA-256: whole or not at all, damage told, and no way out of the folder."""

import hashlib
import os
import stat
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlmodel import select

from api.entities.audit import AuditEntry
from api.entities.authorities import Document
from api.store import files
from api.store.audit import first_broken
from api.store.documents import keep_document
from api.store.files import DamagedFileError, keep, kept, path_of
from api.store.unit_of_work import Actor

ROOT = Path(__file__).resolve().parent.parent.parent

# FIPS 180-4; the two values as NIST's example files and countless tools give them (from memory, and by sha256sum).
SHA_OF_ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
SHA_OF_NOTHING = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def all_files(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


# --- kept as it was


@pytest.mark.parametrize("content", [b"abc", b"", b"\0\r\n\xff\xfe", bytes(range(256)) * 9000], ids=len)
def test_bytes_come_back_as_they_were(tmp_path, content):
    mark = keep(tmp_path, content)
    assert mark == hashlib.sha256(content).hexdigest()
    assert kept(tmp_path, mark) == content
    assert (tmp_path / mark[:2] / mark).read_bytes() == content


def test_the_name_is_the_sha_256(tmp_path):
    assert keep(tmp_path, b"abc") == SHA_OF_ABC
    assert keep(tmp_path, b"") == SHA_OF_NOTHING


def test_the_same_bytes_are_kept_once(tmp_path):
    mark = keep(tmp_path, b"abc")
    before = path_of(tmp_path, mark).stat()
    assert keep(tmp_path, b"abc") == mark
    after = path_of(tmp_path, mark).stat()
    assert all_files(tmp_path) == [f"ba/{mark}"]
    # Not even written again.
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)


def test_other_bytes_stand_beside_them(tmp_path):
    assert keep(tmp_path, b"abc") != keep(tmp_path, b"abd")
    assert len(all_files(tmp_path)) == 2


def test_the_same_bytes_from_many_threads_are_kept_once_and_whole(tmp_path):
    content = b"map of the inlet " * 60_000
    with ThreadPoolExecutor(8) as pool:
        (mark,) = set(pool.map(lambda _: keep(tmp_path, content), range(40)))
    assert all_files(tmp_path) == [f"{mark[:2]}/{mark}"]
    assert kept(tmp_path, mark) == content


def test_the_folder_is_made_where_there_is_none(tmp_path):
    folder = tmp_path / "data" / "files"
    assert kept(folder, keep(folder, b"abc")) == b"abc"


# --- damage


def flipped(content, place):
    return content[:place] + bytes([content[place] ^ 1]) + content[place + 1 :]


@pytest.mark.parametrize(
    "damage",
    [
        lambda content: flipped(content, 0),
        lambda content: flipped(content, len(content) - 1),
        lambda content: content[:-1],
        lambda content: content + b"\n",
        lambda _: b"",
    ],
    ids=["first bit", "last bit", "cut short", "a line end more", "emptied"],
)
def test_a_damaged_file_is_told(tmp_path, damage):
    mark = keep(tmp_path, b"the permit as issued")
    path = path_of(tmp_path, mark)
    path.write_bytes(damage(path.read_bytes()))
    with pytest.raises(DamagedFileError, match="is damaged or missing; bring it back from a backup") as told:
        kept(tmp_path, mark)
    assert told.value.sha256 == mark


@pytest.mark.parametrize("content", [b"the permit as issued", b""], ids=["some bytes", "no bytes"])
def test_a_missing_file_is_told(tmp_path, content):
    mark = keep(tmp_path, content)
    path_of(tmp_path, mark).unlink()
    with pytest.raises(DamagedFileError) as told:
        kept(tmp_path, mark)
    assert told.value.sha256 == mark


def test_a_file_that_was_never_kept_is_told(tmp_path):
    for mark in (SHA_OF_ABC, SHA_OF_NOTHING):
        with pytest.raises(DamagedFileError):
            kept(tmp_path, mark)


def test_a_folder_in_place_of_a_file_is_told(tmp_path):
    path_of(tmp_path, SHA_OF_ABC).mkdir(parents=True)
    with pytest.raises(DamagedFileError):
        kept(tmp_path, SHA_OF_ABC)


def test_keeping_the_right_bytes_again_mends_a_damaged_file(tmp_path):
    mark = keep(tmp_path, b"the permit as issued")
    path_of(tmp_path, mark).write_bytes(b"the permit as changed")
    assert keep(tmp_path, b"the permit as issued") == mark
    assert kept(tmp_path, mark) == b"the permit as issued"
    assert all_files(tmp_path) == [f"{mark[:2]}/{mark}"]


# --- names


@pytest.mark.parametrize(
    "name",
    [
        "../../etc/passwd",
        "/etc/passwd",
        "..",
        "",
        "ba",
        SHA_OF_ABC[:-1],
        SHA_OF_ABC + "0",
        SHA_OF_ABC.upper(),
        SHA_OF_ABC[:-1] + "\n",
        SHA_OF_ABC[:-1] + "g",
        SHA_OF_ABC[:-1] + "\u0661",
        SHA_OF_ABC[:-1] + "\0",
        "../" * 21 + "a",
        "aa/../../" + "b" * 55,
        ("../" * 10 + "etc/passwd").ljust(64, "0"),
    ],
)
def test_what_is_no_sha_256_is_refused(tmp_path, name):
    for ask in (kept, path_of):
        with pytest.raises(ValueError, match="is no SHA-256 in hexadecimal"):
            ask(tmp_path, name)


def test_a_file_outside_the_folder_is_never_given(tmp_path):
    secret = tmp_path / "secret"
    secret.write_bytes(b"abc")
    folder = tmp_path / "files"
    folder.mkdir()
    for name in ("../secret", str(secret), f"{'../' * 19}/secret", f"{'./' * 28}../secre"):
        with pytest.raises(ValueError, match="is no SHA-256"):
            kept(folder, name)


# --- written whole or not at all


class StopError(Exception):
    pass


@pytest.mark.parametrize("stop", [StopError, KeyboardInterrupt, OSError])
@pytest.mark.parametrize("where", ["fsync", "replace"])
def test_an_error_before_the_renaming_leaves_nothing_under_the_name(tmp_path, monkeypatch, stop, where):
    def fail(*_):
        raise stop

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", fail) if where == "fsync" else patch.setattr(Path, "replace", fail)
        with pytest.raises(stop):
            keep(tmp_path, b"abc")
    assert all_files(tmp_path) == []
    with pytest.raises(DamagedFileError):
        kept(tmp_path, SHA_OF_ABC)
    assert kept(tmp_path, keep(tmp_path, b"abc")) == b"abc"


_CRASH = """
import os, sys
from pathlib import Path
from api.store import files

def die(*_):
    os._exit(9)

where, folder = sys.argv[1], Path(sys.argv[2])
if where == "before renaming":
    Path.replace = die
else:
    os.fsync = die
files.keep(folder, b"abc" * 100_000)
"""


@pytest.mark.parametrize("where", ["before renaming", "before all is on the disk"])
def test_a_process_that_dies_before_the_renaming_leaves_nothing_under_the_name(tmp_path, where):
    done = subprocess.run(
        [sys.executable, "-c", _CRASH, where, tmp_path],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=False,
    )
    assert done.returncode == 9
    content = b"abc" * 100_000
    mark = hashlib.sha256(content).hexdigest()
    assert not path_of(tmp_path, mark).exists()
    with pytest.raises(DamagedFileError):
        kept(tmp_path, mark)
    # What it left is told by its name, and is in nobody's way.
    assert [Path(one).name.startswith("draft-") for one in all_files(tmp_path)] == [True]
    assert kept(tmp_path, keep(tmp_path, content)) == content


def test_bytes_and_names_are_brought_to_the_disk_in_that_order(tmp_path, monkeypatch):
    steps = []
    fsync, replace = os.fsync, Path.replace

    def noting_fsync(handle):
        steps.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "bytes")
        fsync(handle)

    def noting_replace(draft, target):
        steps.append("rename")
        return replace(draft, target)

    monkeypatch.setattr(os, "fsync", noting_fsync)
    monkeypatch.setattr(Path, "replace", noting_replace)
    keep(tmp_path, b"abc")
    assert steps == ["bytes", "rename", "folder", "folder"]
    keep(tmp_path, b"abc")
    assert steps[4:] == ["folder", "folder"]


# --- documents


def test_a_document_is_a_row_a_file_and_an_entry(store, tmp_path):
    with store.writing(Actor("maren")) as work:
        mark = keep_document(work, tmp_path, b"abc", "permit.pdf", "application/pdf")
    with store.reading() as session:
        row = session.get_one(Document, mark)
        assert (row.name, row.media_type, row.size, row.received_by) == ("permit.pdf", "application/pdf", 3, "maren")
        assert row.received_at == store.clock()
        entry = session.get_one(AuditEntry, 1)
        assert (entry.action, entry.subject) == ("document kept", f"document {SHA_OF_ABC}")
        assert entry.content == '{"name":"permit.pdf","size":3}'
    assert kept(tmp_path, mark) == b"abc"


def test_the_same_document_again_is_no_second_one(store, tmp_path):
    with store.writing(Actor("maren")) as work:
        first = keep_document(work, tmp_path, b"abc", "permit.pdf", "application/pdf")
        assert keep_document(work, tmp_path, b"abc", "copy.pdf", "application/pdf") == first
    with store.writing(Actor("odin")) as work:
        assert keep_document(work, tmp_path, b"abc", "again.pdf", "application/pdf") == first
    with store.reading() as session:
        assert [one.name for one in session.exec(select(Document))] == ["permit.pdf"]
        assert first_broken(session) == (1, None)


def test_a_document_of_a_transaction_that_failed_is_kept_when_it_comes_again(store, tmp_path):
    def attempt():
        with store.writing(Actor("maren")) as work:
            keep_document(work, tmp_path, b"abc", "permit.pdf", "application/pdf")
            raise StopError

    with pytest.raises(StopError):
        attempt()
    with store.reading() as session:
        assert session.exec(select(Document)).all() == []
        assert first_broken(session) == (0, None)
    with store.writing(Actor("maren")) as work:
        mark = keep_document(work, tmp_path, b"abc", "permit.pdf", "application/pdf")
    with store.reading() as session:
        assert session.get_one(Document, mark).size == 3


@pytest.mark.parametrize(
    ("given", "kept_as"),
    [
        ("chart é.pdf", "chart é.pdf"),
        ("x" * 300 + ".pdf", "x" * 200),
        ("a\nb\0c\x1b[31m.pdf", "a b?c?[31m.pdf"),
        ("half \ud83d a letter.pdf", "half ? a letter.pdf"),
        ("", ""),
    ],
    ids=["letters", "too long", "steering", "half a letter", "none"],
)
def test_a_document_may_come_under_any_name(store, tmp_path, given, kept_as):
    with store.writing(Actor("maren")) as work:
        mark = keep_document(work, tmp_path, b"abc", given, "application/pdf")
    with store.reading() as session:
        assert session.get_one(Document, mark).name == kept_as
        assert first_broken(session) == (1, None)


def test_a_kept_document_that_was_damaged_is_mended_when_it_comes_again(store, tmp_path):
    with store.writing(Actor("maren")) as work:
        mark = keep_document(work, tmp_path, b"abc", "permit.pdf", "application/pdf")
    files.path_of(tmp_path, mark).write_bytes(b"abd")
    with store.writing(Actor("maren")) as work:
        keep_document(work, tmp_path, b"abc", "permit.pdf", "application/pdf")
    assert kept(tmp_path, mark) == b"abc"
