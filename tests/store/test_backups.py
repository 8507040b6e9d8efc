"""A backup made while others write comes back whole, into either engine; a damaged one is refused."""

from __future__ import annotations

import threading
import zipfile

import pytest
from sqlalchemy import text

from api.operations.compliance import judged
from api.operations.importing import import_files
from api.operations.syncing import push
from api.store import files
from api.store.audit import first_broken
from api.store.backups import BadBackupError, NotEmptyError, back_up, restore
from api.store.engine import open_engine
from api.store.seasons import season_from
from api.store.unit_of_work import Actor, Store
from tests import phones
from tests.builders import SAMPLE, SAMPLE_AUTHORITIES, write_season
from tests.operations.test_syncing import EMPTY


def restored(archive, folder, clock, url=""):
    engine = open_engine(url or f"sqlite:///{folder / 'restored.db'}")
    restore(archive, engine, folder / "files")
    return Store(engine, clock)


def test_the_sample_season_comes_back_with_the_same_answers(store, tmp_path, clock):
    import_files(store, tmp_path / "files", SAMPLE_AUTHORITIES, [SAMPLE], Actor())
    saved = back_up(store, tmp_path / "files", tmp_path / "season.zip")
    assert saved.rows["catch_line"] == 454
    assert saved.files == 2
    (tmp_path / "new").mkdir()
    again = restored(tmp_path / "season.zip", tmp_path / "new", clock)
    with store.reading() as session, again.reading() as other:
        assert season_from(other) == season_from(session)
        assert first_broken(other) == first_broken(session)
        marks = session.connection().execute(text("SELECT sha256 FROM document")).scalars().all()
    assert all(files.kept(tmp_path / "new" / "files", mark) for mark in marks)
    assert judged(again).checked.judgement == judged(store).checked.judgement
    again.engine.dispose()


def test_a_backup_moves_a_season_from_one_engine_to_the_other(postgresql_maker, tmp_path, clock):
    first = Store(open_engine(postgresql_maker()), clock)
    import_files(first, tmp_path / "files", SAMPLE_AUTHORITIES, [SAMPLE], Actor())
    back_up(first, tmp_path / "files", tmp_path / "one.zip")
    (tmp_path / "new").mkdir()
    second = restored(tmp_path / "one.zip", tmp_path / "new", clock)
    with first.reading() as session, second.reading() as other:
        assert season_from(other) == season_from(session)
    first.engine.dispose()
    second.engine.dispose()


def test_a_backup_during_writes_holds_one_moment(store, tmp_path, clock):
    authority, trips = write_season(tmp_path, trips=EMPTY)
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    stop = threading.Event()
    trip = phones.trip("ann")
    push(store, [trip], Actor("ann"))

    def write():
        while not stop.is_set():
            haul = phones.haul(trip)
            push(store, [haul, phones.line(haul), phones.line(haul)], Actor("ann"))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for place in range(3):
            back_up(store, tmp_path / "files", tmp_path / f"{place}.zip")
    finally:
        stop.set()
        writer.join()
    sizes = []
    for place in range(3):
        folder = tmp_path / f"new-{place}"
        folder.mkdir()
        again = restored(tmp_path / f"{place}.zip", folder, clock)
        with again.reading() as session:
            assert first_broken(session)[1] is None
            (found,) = season_from(session).trips
        # No haul without its lines: a haul and its two lines came in one transaction.
        assert all(len(haul.lines) == 2 for haul in found.hauls)
        sizes.append(len(found.hauls))
        again.engine.dispose()
    assert sizes == sorted(sizes)


@pytest.fixture
def archive(store, tmp_path):
    authority, trips = write_season(tmp_path)
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    back_up(store, tmp_path / "files", tmp_path / "season.zip")
    (tmp_path / "new").mkdir()
    return tmp_path / "season.zip"


def repacked(archive, out, change):
    with zipfile.ZipFile(archive) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            content = change(name, old.read(name))
            if content is not None:
                new.writestr(name, content)
    return out


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda name, content: content.replace(b'"kept"', b'"dead"') if "catch_line" in name else content, "damaged"),
        (lambda name, content: None if "catch_line" in name else content, "missing"),
        (lambda name, content: content[:-1] if name.startswith("files/") else content, "damaged"),
        (lambda name, content: None if name == "manifest.json" else content, "manifest.json"),
        (lambda name, content: b"{" if name == "manifest.json" else content, "manifest.json"),
        (
            lambda name, content: content.replace(b"backup 1", b"backup 9") if name == "manifest.json" else content,
            "format",
        ),
    ],
)
def test_a_damaged_backup_is_refused(archive, tmp_path, clock, change, told):
    other = repacked(archive, tmp_path / "other.zip", change)
    with pytest.raises(BadBackupError, match=told):
        restored(other, tmp_path / "new", clock)


def test_what_is_no_archive_is_refused(tmp_path, clock):
    path = tmp_path / "no.zip"
    path.write_bytes(b"not a zip")
    with pytest.raises(BadBackupError, match="no backup"):
        restored(path, tmp_path, clock)


def test_a_backup_goes_into_an_empty_place_only(archive, tmp_path, clock, sqlite_maker):
    with pytest.raises(NotEmptyError, match="there is a database already"):
        restored(archive, tmp_path / "new", clock, sqlite_maker())
    (tmp_path / "new" / "files").mkdir()
    (tmp_path / "new" / "files" / "something").write_text("in the way")
    with pytest.raises(NotEmptyError, match="not empty"):
        restored(archive, tmp_path / "new", clock)


def test_a_backup_that_fails_leaves_nothing_behind(store, tmp_path):
    authority, trips = write_season(tmp_path)
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    for path in (tmp_path / "files").rglob("*"):
        if path.is_file():
            path.write_bytes(b"damaged")
    with pytest.raises(files.DamagedFileError):
        back_up(store, tmp_path / "files", tmp_path / "season.zip")
    assert list(tmp_path.glob("season.zip*")) == []
