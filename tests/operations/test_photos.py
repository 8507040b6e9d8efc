"""Photos come in parts and are kept as they came: nothing answered is lost, nothing that is no picture is kept."""

from __future__ import annotations

import errno
import hashlib
import itertools
import os
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import select

from api.entities.audit import AuditEntry
from api.entities.authorities import Document
from api.entities.photos import Photo
from api.entities.sync import Change
from api.exchange.pictures import PictureRefusedError
from api.operations import photos
from api.operations.importing import import_files
from api.operations.photos import (
    MOST_UNFINISHED,
    AnnouncedOtherwiseError,
    Announcement,
    BeyondSizeError,
    NoRoomError,
    OffsetError,
    OtherBytesError,
    PhotoTooLargeError,
    TooManyUnfinishedError,
    UnknownPhotoError,
    UnknownRecordError,
    WrongHashError,
    WrongOffsetError,
)
from api.operations.pulling import pull
from api.operations.syncing import push
from api.operations.trips import UnknownTripError
from api.store import files, parts
from api.store.audit import first_broken
from api.store.backups import back_up, restore
from api.store.engine import open_engine
from api.store.unit_of_work import Actor, Store
from tests import phones
from tests.builders import write_season
from tests.operations.test_syncing import EMPTY
from tests.photographs import PLANTED, bomb, camera_jpeg, camera_png

ANN, BEN = Actor("ann", "phone-1"), Actor("ben", "phone-2")
MOST = 20_000_000
PICTURE = camera_jpeg()


def mark_of(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


@dataclass(frozen=True)
class Creek:
    """A season with a trip, a haul and a line, and the folder of its files."""

    store: Store
    folder: Path
    trip: str
    haul: str
    line: str

    def announced(self, content=PICTURE, actor=ANN, most=MOST, **changes):
        photo = Announcement(
            sha256=mark_of(content), size=len(content), media_type="image/jpeg", of_kind="line", of_record=self.line
        )
        return photos.announce(self.store, self.folder, actor, replace(photo, **changes), most)

    def part(self, offset, part, content=PICTURE, actor=ANN):
        return photos.take_part(self.store, self.folder, actor, mark_of(content), offset, part)

    def delivered(self, content=PICTURE, step=1000, actor=ANN, **changes):
        """Deliver a photo as a phone does: ask, send, go on from where the server says."""
        standing = self.announced(content, actor, **changes)
        while not standing.whole:
            try:
                part = content[standing.offset : standing.offset + step]
                standing = self.part(standing.offset, part, content, actor)
            except WrongHashError:
                raise
            except OffsetError as told:
                standing = replace(standing, offset=told.offset)
        return standing

    def rows(self, table, *where):
        with self.store.reading() as session:
            return session.exec(select(table).where(*where)).all()

    def actions(self):
        return [one.action for one in self.rows(AuditEntry) if one.subject.startswith("photo ")]


@pytest.fixture
def creek(store, tmp_path):
    authority, trips = write_season(tmp_path, trips=EMPTY)
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul)
    push(store, [trip, haul, line], ANN)
    return Creek(store, tmp_path / "files", *(str(one.record["id"]) for one in (trip, haul, line)))


def kept_whole(creek, content=PICTURE):
    """Tell whether a photo is kept as the phone made it, with one document for it."""
    _, kept = photos.original(creek.store, creek.folder, mark_of(content))
    documents = creek.rows(Document, Document.sha256 == mark_of(content))
    return kept == content and [one.size for one in documents] == [len(content)] and parts.names(creek.folder) == set()


# --- delivered


def test_a_photo_in_parts_is_kept_byte_for_byte_and_shown_bare(creek):
    asked = creek.announced()
    assert (asked.offset, asked.size, asked.whole) == (0, len(PICTURE), False)
    offsets = []
    for begin in range(0, len(PICTURE), 700):
        standing = creek.part(begin, PICTURE[begin : begin + 700])
        offsets.append(standing.offset)
    assert offsets == [*range(700, len(PICTURE), 700), len(PICTURE)]
    assert standing.whole
    assert kept_whole(creek)
    assert all(one in PICTURE for one in PLANTED)
    shown = photos.shown(creek.store, creek.folder, mark_of(PICTURE))
    assert [one for one in PLANTED if one in shown] == []


def test_a_photo_in_one_part_is_kept(creek):
    creek.announced()
    assert creek.part(0, PICTURE).whole
    assert kept_whole(creek)


def test_what_is_whole_is_told_so_and_not_taken_again(creek):
    creek.delivered()
    assert creek.announced().whole
    # A part of another tab that comes late.
    assert creek.part(0, PICTURE[:100]).whole
    assert creek.actions() == ["photo announced", "photo kept"]
    assert kept_whole(creek)


def test_after_a_lost_answer_a_phone_asks_and_goes_on(creek):
    creek.announced()
    creek.part(0, PICTURE[:1000])  # the answer is lost
    assert creek.announced().offset == 1000
    assert creek.part(1000, PICTURE[1000:]).whole
    assert kept_whole(creek)


def test_a_part_that_comes_again_is_harmless_also_when_it_reaches_further(creek):
    creek.announced()
    creek.part(0, PICTURE[:1000])
    assert creek.part(0, PICTURE[:1000]).offset == 1000
    assert creek.part(200, PICTURE[200:700]).offset == 1000
    assert creek.part(1000, b"").offset == 1000
    assert creek.part(500, PICTURE[500:1500]).offset == 1500
    assert creek.delivered().whole
    assert kept_whole(creek)


def test_a_part_behind_a_gap_is_not_taken_and_told_where_to_go_on(creek):
    creek.announced()
    creek.part(0, PICTURE[:1000])
    with pytest.raises(WrongOffsetError, match="go on from 1000") as told:
        creek.part(1001, PICTURE[1001:1100])
    assert told.value.offset == 1000
    assert creek.announced().offset == 1000
    assert parts.length(creek.folder, mark_of(PICTURE)) == 1000


def test_other_bytes_at_a_place_are_told_and_do_not_stay(creek):
    creek.announced()
    creek.part(0, PICTURE[:1000])
    with pytest.raises(OtherBytesError) as told:
        creek.part(900, PICTURE[900:999] + b"?" + PICTURE[1000:1100])
    assert told.value.offset == 1000
    assert creek.delivered().whole
    assert kept_whole(creek)


def test_a_part_beyond_what_was_announced_is_not_taken(creek):
    creek.announced()
    with pytest.raises(BeyondSizeError, match=f"beyond the {len(PICTURE)} bytes"):
        creek.part(0, PICTURE + b"!")
    assert creek.announced().offset == 0


def test_a_part_of_a_photo_that_nobody_announced_is_told(creek):
    with pytest.raises(UnknownPhotoError, match="announce it first"):
        creek.part(0, PICTURE[:10])
    assert parts.names(creek.folder) == set()


# --- another hash, no picture


def test_bytes_of_another_hash_are_let_go_of_and_the_phone_begins_anew(creek):
    creek.announced()
    wrong = PICTURE[:500] + b"?" + PICTURE[501:]
    creek.part(0, wrong[:1000])
    with pytest.raises(WrongHashError, match="begin again at 0") as told:
        creek.part(1000, wrong[1000:])
    assert told.value.offset == 0
    assert parts.names(creek.folder) == set()
    assert not files.path_of(creek.folder, mark_of(wrong)).exists()
    assert creek.announced().offset == 0
    assert creek.delivered().whole
    assert kept_whole(creek)
    assert creek.actions() == ["photo announced", "photo had another hash", "photo kept"]


@pytest.mark.parametrize(
    ("content", "media_type", "why"),
    [
        (bomb(), "image/png", "more than 64 million points"),
        (b"the photo of a crab", "image/jpeg", "no picture that can be read"),
        (PICTURE[:2000], "image/jpeg", "damaged"),
        (camera_png(), "image/jpeg", "its bytes are PNG"),
    ],
    ids=["bomb", "no picture", "damaged", "lying"],
)
def test_what_is_no_picture_is_refused_and_nothing_of_it_is_kept(creek, content, media_type, why):
    creek.announced(content, media_type=media_type)
    with pytest.raises(PictureRefusedError, match=why):
        creek.part(0, content, content)
    assert parts.names(creek.folder) == set()
    assert not files.path_of(creek.folder, mark_of(content)).exists()
    assert creek.rows(Photo) == []
    assert creek.actions() == ["photo announced", "photo refused"]
    (entry,) = creek.rows(AuditEntry, AuditEntry.action == "photo refused")
    assert why in entry.content
    # The phone, which has it still, may ask again and gets the answer again.
    assert creek.announced(content, media_type=media_type).offset == 0
    with pytest.raises(PictureRefusedError, match=why):
        creek.part(0, content, content)


# --- what it shows


def test_a_photo_shows_a_trip_a_haul_or_a_line_and_is_found_by_the_trip(creek):
    made = datetime(2027, 8, 1, 8, 5, tzinfo=UTC)
    creek.delivered(camera_jpeg(1), of_kind="trip", of_record=creek.trip)
    creek.delivered(camera_jpeg(2), of_kind="haul", of_record=creek.haul)
    creek.delivered(camera_jpeg(3), made_at=made)
    creek.announced(camera_jpeg(4))
    told = photos.photos_of(creek.store, creek.trip)
    assert [(one.of_kind, one.of_record) for one in told] == [
        ("trip", creek.trip),
        ("haul", creek.haul),
        ("line", creek.line),
        ("line", creek.line),
    ]
    assert [one.whole_at is not None for one in told] == [True, True, True, False]
    assert [one.made_at for one in told] == [None, None, made, None]
    assert {one.begun_by for one in told} == {"ann"}


def test_photos_of_another_trip_are_not_among_them(creek):
    other = phones.trip("ben")
    push(creek.store, [other], BEN)
    creek.delivered()
    assert photos.photos_of(creek.store, str(other.record["id"])) == []


def test_a_photo_of_a_record_that_is_not_here_waits_on_the_phone(creek):
    for kind, record in (("line", "none"), ("haul", creek.line), ("trip", creek.haul), ("person", "ann")):
        with pytest.raises(UnknownRecordError, match=f"send the {kind} first"):
            creek.announced(of_kind=kind, of_record=record)
    assert creek.rows(Photo) == []
    with pytest.raises(UnknownTripError, match="there is no trip 'none'"):
        photos.photos_of(creek.store, "none")


def test_a_photo_may_come_after_its_trip_was_closed(creek):
    trip = phones.trip("ann", status="closed", back="2027-08-01T12:00")
    haul = phones.haul(trip)
    line = phones.line(haul)
    push(creek.store, [trip, haul, line], ANN)
    assert creek.delivered(of_record=str(line.record["id"])).whole


def test_a_photo_that_is_here_shows_a_second_record_at_once(creek):
    creek.delivered()
    assert creek.announced(of_kind="haul", of_record=creek.haul).whole
    assert [one.of_kind for one in photos.photos_of(creek.store, creek.trip) if one.whole_at] == ["line", "haul"]
    assert kept_whole(creek)


def test_a_photo_of_two_records_that_is_still_coming_in_comes_once(creek):
    creek.announced()
    creek.part(0, PICTURE[:1000])
    assert creek.announced(of_kind="haul", of_record=creek.haul).offset == 1000
    assert creek.part(1000, PICTURE[1000:]).whole
    assert [one.received for one in photos.photos_of(creek.store, creek.trip) if one.whole_at] == [len(PICTURE)] * 2


def test_phones_pull_a_photo_once_it_is_whole(creek):
    before = pull(creek.store, 0).cursor
    creek.announced()
    assert pull(creek.store, before).changes == ()
    creek.delivered()
    (one,) = pull(creek.store, before).changes
    (row,) = creek.rows(Photo)
    assert (one.kind, one.id, one.trip, one.parent, one.version) == ("photo", row.id, creek.trip, creek.line, 1)
    assert one.record == {
        "id": row.id,
        "sha256": mark_of(PICTURE),
        "of_kind": "line",
        "of_record": creek.line,
        "media_type": "image/jpeg",
        "size": len(PICTURE),
        "made_at": None,
    }


def test_no_word_of_the_place_is_in_what_the_audit_tells(creek):
    creek.delivered()
    told = " ".join(
        f"{one.action} {one.subject} {one.content}" for one in creek.rows(AuditEntry) if "photo" in one.action
    )
    assert mark_of(PICTURE) in told
    assert not any(one.decode() in told for one in PLANTED)
    with creek.store.reading() as session:
        assert first_broken(session)[1] is None


# --- bounds


def test_a_photo_with_too_many_bytes_is_told_before_any_of_them_is_sent(creek):
    with pytest.raises(PhotoTooLargeError, match=f"at most {len(PICTURE) - 1} bytes, this one {len(PICTURE)}"):
        creek.announced(most=len(PICTURE) - 1)
    assert creek.rows(Photo) == []
    assert creek.announced(most=len(PICTURE)).offset == 0


def test_the_same_hash_with_another_size_or_type_is_a_problem(creek):
    creek.announced()
    for changes in ({"size": len(PICTURE) + 1}, {"media_type": "image/png"}):
        with pytest.raises(AnnouncedOtherwiseError, match="another size or media type"):
            creek.announced(**changes)
    assert creek.delivered().whole


def test_somebody_begins_so_many_photos_and_no_more_until_some_are_whole(creek):
    # Announcements alone, without bytes, of photos that nobody has.
    for number in range(MOST_UNFINISHED - 1):
        creek.announced(b"%d" % number)
    creek.announced()
    with pytest.raises(TooManyUnfinishedError, match="deliver those first"):
        creek.announced(b"one more")
    assert creek.announced(b"one more", BEN).offset == 0
    creek.delivered()
    assert creek.announced(b"yet another").offset == 0


def test_what_never_came_to_its_end_is_given_up_after_thirty_days(creek, clock):
    other, stray = camera_jpeg(1), "ab" * 32
    creek.announced()
    creek.part(0, PICTURE[:1000])
    parts.write(creek.folder, stray, 0, b"of no photo")
    clock.forward(days=20)
    creek.announced(other)
    creek.part(0, other[:500], other)
    # What belongs to no row is gone, what is younger than that stays.
    assert parts.names(creek.folder) == {mark_of(PICTURE), mark_of(other)}
    assert creek.announced().offset == 1000
    clock.forward(days=11)
    assert creek.announced(other).offset == 500
    assert parts.names(creek.folder) == {mark_of(other)}
    assert creek.actions()[-1] == "photo given up"
    assert creek.delivered().whole
    assert kept_whole(replace(creek)) is False  # the other one is still coming in
    creek.delivered(other)
    assert kept_whole(creek)
    assert kept_whole(creek, other)


# --- the disk


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT])
def test_on_a_full_disk_nothing_is_answered_that_is_not_kept(creek, monkeypatch, number):
    creek.announced()
    creek.part(0, PICTURE[:1000])

    def full(_):
        raise OSError(number, "full")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(NoRoomError, match="disk is full; keep the photo"):
            creek.part(1000, PICTURE[1000:2000])
    assert creek.announced().offset == 1000
    with monkeypatch.context() as patch:
        patch.setattr(files, "keep", lambda *_: full(0))
        with pytest.raises(NoRoomError):
            creek.part(1000, PICTURE[1000:])
    assert creek.announced().whole
    assert kept_whole(creek)


def test_bytes_are_on_the_disk_before_they_are_said_to_be_here(creek, monkeypatch):
    creek.announced()
    seen = []
    fsync = os.fsync

    def noting(handle):
        seen.append(creek.rows(Photo)[0].received)
        fsync(handle)

    monkeypatch.setattr(os, "fsync", noting)
    creek.part(0, PICTURE[:1000])
    # The bytes, and (for a new name) its folder and the one above.
    assert seen == [0, 0, 0]
    creek.part(1000, PICTURE[1000:2000])
    assert seen[3:] == [1000]


def test_bytes_that_were_written_but_never_answered_are_written_again(creek):
    creek.announced()
    creek.part(0, PICTURE[:1000])
    # The server died after the writing: half of it is there, and is not what was meant.
    parts.write(creek.folder, mark_of(PICTURE), 1000, b"\0" * 700)
    assert creek.announced().offset == 1000
    assert creek.delivered().whole
    assert kept_whole(creek)


class StopError(Exception):
    pass


@pytest.mark.parametrize("place", ["shown_copy", "enter_document", "_keep_row"])
def test_a_photo_that_was_all_here_when_the_server_died_is_looked_at_when_asked_for(creek, monkeypatch, place):
    def die(*_):
        raise StopError

    creek.announced()
    with monkeypatch.context() as patch:
        patch.setattr(photos, place, die)
        with pytest.raises(StopError):
            creek.part(0, PICTURE)
    assert creek.rows(Photo)[0].whole_at is None
    with pytest.raises(UnknownPhotoError):
        photos.shown(creek.store, creek.folder, mark_of(PICTURE))
    assert creek.announced().whole
    assert kept_whole(creek)


@pytest.mark.parametrize("which", ["original", "shown"])
@pytest.mark.parametrize("damage", [lambda path: path.unlink(), lambda path: path.write_bytes(b"?")])
def test_a_kept_photo_that_the_disk_lost_is_asked_for_again(creek, which, damage):
    creek.delivered()
    (row,) = creek.rows(Photo)
    damage(files.path_of(creek.folder, row.sha256 if which == "original" else row.shown_sha256))
    assert creek.announced().whole is False
    assert creek.delivered().whole
    assert kept_whole(creek)
    assert photos.shown(creek.store, creek.folder, mark_of(PICTURE))[:2] == b"\xff\xd8"


def test_a_part_of_a_kept_photo_that_the_disk_lost_is_not_answered_as_if_it_were_here(creek):
    creek.delivered()
    files.path_of(creek.folder, mark_of(PICTURE)).unlink()
    assert creek.part(0, PICTURE[:1000]).offset == 1000
    assert creek.part(1000, PICTURE[1000:]).whole
    assert kept_whole(creek)


def test_a_backup_carries_photos_and_asks_again_for_what_was_still_coming_in(creek, tmp_path, clock):
    other = camera_jpeg(1)
    creek.delivered()
    creek.announced(other)
    creek.part(0, other[:1000], other)
    back_up(creek.store, creek.folder, tmp_path / "season.zip")
    (tmp_path / "new").mkdir()
    engine = open_engine(f"sqlite:///{tmp_path / 'new' / 'restored.db'}")
    restore(tmp_path / "season.zip", engine, tmp_path / "new" / "files")
    again = replace(creek, store=Store(engine, clock), folder=tmp_path / "new" / "files")
    assert photos.original(again.store, again.folder, mark_of(PICTURE)) == ("image/jpeg", PICTURE)
    shown = photos.shown(creek.store, creek.folder, mark_of(PICTURE))
    assert photos.shown(again.store, again.folder, mark_of(PICTURE)) == shown
    assert again.announced().whole
    assert again.announced(other).offset == 0
    with pytest.raises(WrongOffsetError) as told:
        again.part(1000, other[1000:], other)
    assert told.value.offset == 0
    assert again.delivered(other).whole
    assert kept_whole(again, other)
    engine.dispose()


# --- at once


def test_many_tabs_and_phones_deliver_the_same_photo_at_once_and_it_is_kept_once(creek):
    begin = threading.Barrier(6)

    def deliver(number):
        begin.wait()
        return creek.delivered(step=150 + 170 * number, actor=(ANN, BEN)[number % 2])

    with ThreadPoolExecutor(6) as pool:
        assert all(one.whole for one in pool.map(deliver, range(6)))
    assert kept_whole(creek)
    assert len(creek.rows(Photo)) == 1
    assert len(creek.rows(Change, Change.kind == "photo")) == 1
    assert creek.actions() == ["photo announced", "photo kept"]
    with creek.store.reading() as session:
        assert first_broken(session)[1] is None


def test_different_photos_at_once_do_not_meet(creek):
    many = [camera_jpeg(number) for number in range(8)]
    with ThreadPoolExecutor(4) as pool:
        assert all(one.whole for one in pool.map(lambda one: creek.delivered(one, step=700), many))
    assert all(kept_whole(creek, one) for one in many)


def test_beside_a_phone_that_sends_other_bytes_the_right_photo_comes_through(creek):
    wrong = PICTURE[:500] + b"?" + PICTURE[501:]
    creek.announced()
    creek.part(0, wrong[:2000])
    with pytest.raises(WrongHashError):
        creek.delivered(actor=BEN)
    assert creek.delivered(actor=BEN).whole
    assert kept_whole(creek)


# --- any cutting into parts

_seeds = itertools.count(1000)
"""No two plays deliver the same photo: the second would find it here."""

STEPS = st.lists(
    st.tuples(
        st.integers(-900, 300),  # where the part begins, from where the phone believes the server to be
        st.integers(0, 1500),  # how long it is
        st.sampled_from(["answered", "answer lost", "asks first"]),
    ),
    max_size=25,
)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(steps=STEPS)
def test_however_a_photo_is_cut_and_repeated_it_comes_out_as_it_was(creek, steps):
    content = camera_jpeg(next(_seeds))
    here = believed = creek.announced(content).offset
    whole = False
    for jump, length, fate in steps:
        if fate == "asks first":
            standing = creek.announced(content)
            assert (standing.offset, standing.whole) == (here, whole)
            believed = here
        begin = min(len(content), max(0, believed + jump))
        part = content[begin : begin + length]
        if begin > here:
            with pytest.raises(WrongOffsetError) as told:
                creek.part(begin, part, content)
            assert told.value.offset == here
            believed = here
            continue
        standing = creek.part(begin, part, content)
        here = max(here, begin + len(part))
        whole = here == len(content)
        assert (standing.offset, standing.whole) == (here, whole)
        if fate != "answer lost":
            believed = here
    assert creek.delivered(content).whole
    assert photos.original(creek.store, creek.folder, mark_of(content)) == ("image/jpeg", content)
    assert parts.names(creek.folder) == set()
