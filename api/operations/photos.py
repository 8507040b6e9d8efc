"""Photos: announced by the SHA-256 of their bytes, delivered in parts, kept as they came, shown without their place.

What was answered stands on the disk. What a phone is told to have been kept whole was held against its hash and
could be read as a picture; until then the phone keeps its own.
"""

from __future__ import annotations

import errno
import hashlib
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import NoReturn

from sqlmodel import Session, col, func, or_, select
from sqlmodel.sql.expression import SelectOfScalar

from api.entities.catches import CatchLine
from api.entities.hauls import HaulRecord
from api.entities.photos import Photo
from api.entities.trips import TripRecord
from api.exchange.pictures import SHOWN_TYPE, PictureRefusedError, shown_copy
from api.operations.trips import trip_named
from api.store import files, parts
from api.store.documents import enter_document
from api.store.ids import new_id
from api.store.unit_of_work import Actor, Store, Work

MOST_UNFINISHED = 100
"""What one person may have begun and not brought to its end; a phone delivers one after another."""
GIVEN_UP_AFTER = timedelta(days=30)
"""What has not come to its end by then is let go of; the phone, which still has it, announces it again."""

_one_at_a_time = threading.Lock()
"""A whole photo fills much memory while it is unpacked: they wait for one another."""


class PhotoError(ValueError):
    """Something about a photo cannot be done; the text says why and how to mend it."""


class UnknownPhotoError(PhotoError):
    """There is no such photo; carries its SHA-256."""

    def __init__(self, sha256: str) -> None:
        self.sha256 = sha256
        super().__init__(f"there is no photo '{sha256[:80]}' here; announce it first")


class UnknownRecordError(PhotoError):
    """A photo shows a record that is not here; carries its kind and id."""

    def __init__(self, kind: str, record: str) -> None:
        self.kind, self.record = kind, record
        super().__init__(
            f"there is no {kind} '{record[:80]}' here; send the {kind} first, then announce the photo again"
        )


class PhotoTooLargeError(PhotoError):
    """A photo has more bytes than are taken; carries both numbers."""

    def __init__(self, size: int, most: int) -> None:
        self.size, self.most = size, most
        super().__init__(f"a photo holds at most {most} bytes, this one {size}; take it with a smaller resolution")


class AnnouncedOtherwiseError(PhotoError):
    """A photo was announced before with another size or media type."""

    def __init__(self) -> None:
        super().__init__(
            "a photo of this SHA-256 was announced with another size or media type; work them out anew from its bytes"
        )


class TooManyUnfinishedError(PhotoError):
    """Somebody has begun more photos than may be unfinished at once."""

    def __init__(self) -> None:
        super().__init__(f"{MOST_UNFINISHED} photos are begun and not finished; deliver those first")


class BeyondSizeError(PhotoError):
    """A part reaches beyond the size that was announced; carries that size."""

    def __init__(self, size: int) -> None:
        self.size = size
        super().__init__(f"the part reaches beyond the {size} bytes that were announced; send what is within them")


class OffsetError(PhotoError):
    """A part cannot be taken at its place; carries the offset to go on from."""

    def __init__(self, offset: int, text: str) -> None:
        self.offset = offset
        super().__init__(text)


class WrongOffsetError(OffsetError):
    """Between what is here and the part there is a gap."""

    def __init__(self, offset: int) -> None:
        super().__init__(offset, f"{offset} bytes are here, and the part begins behind them; go on from {offset}")


class OtherBytesError(OffsetError):
    """A part that came before came again with other bytes."""

    def __init__(self, offset: int) -> None:
        super().__init__(
            offset,
            f"other bytes are here already at that place; go on from {offset}, the hash of the whole will decide",
        )


class WrongHashError(OffsetError):
    """All bytes are here and are not what was announced; they were let go of."""

    def __init__(self) -> None:
        super().__init__(
            0,
            "the bytes are not those of the SHA-256 announced, and were let go of; reckon it anew and begin again at 0",
        )


class NoRoomError(PhotoError):
    """The server's disk is full."""

    def __init__(self) -> None:
        super().__init__("the server's disk is full; keep the photo, tell an administrator, and send it later")


@dataclass(frozen=True, slots=True, kw_only=True)
class Announcement:
    """What a phone says of a photo before it sends any of it; ``made_at`` is by the phone's clock."""

    sha256: str
    size: int
    media_type: str
    of_kind: str
    of_record: str
    made_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """How much of a photo is here: ``offset`` is where to go on, ``whole`` whether it is kept for good."""

    sha256: str
    size: int
    offset: int
    whole: bool


@dataclass(frozen=True, slots=True)
class PhotoTold:
    """A photo of a record."""

    id: str
    sha256: str
    of_kind: str
    of_record: str
    media_type: str
    size: int
    received: int
    made_at: datetime | None
    begun_at: datetime
    begun_by: str
    whole_at: datetime | None


def announce(store: Store, folder: Path, actor: Actor, photo: Announcement, most_bytes: int) -> Standing:
    """Enter a photo of a record, or find it entered; gives how much of it is here.

    Raises PhotoTooLargeError, UnknownRecordError, AnnouncedOtherwiseError, TooManyUnfinishedError, and what
    ``take_part`` raises where all of it is here and was not looked at yet.
    """
    if photo.size > most_bytes:
        raise PhotoTooLargeError(photo.size, most_bytes)
    _give_up_old(store, folder, actor)
    with parts.turn_of(photo.sha256):
        _looked_up(store, folder, actor, photo.sha256)
        with store.writing(actor) as work:
            row = _entered(work, photo)
        return _standing_of(store, folder, actor, row)


def take_part(store: Store, folder: Path, actor: Actor, sha256: str, offset: int, content: bytes) -> Standing:
    """Take a part of a photo at its place; what came before may come again. The last one has the whole looked at.

    Raises UnknownPhotoError, BeyondSizeError, OffsetError (with where to go on), PictureRefusedError, NoRoomError.
    """
    with parts.turn_of(sha256):
        row = _looked_up(store, folder, actor, sha256)
        if row is None:
            raise UnknownPhotoError(sha256)
        if offset + len(content) > row.size:
            raise BeyondSizeError(row.size)
        if row.whole_at is None:
            here = _here(folder, row)
            if offset > here:
                raise WrongOffsetError(here)
            known = parts.read(folder, sha256, offset, min(len(content), here - offset))
            if not content.startswith(known):
                raise OtherBytesError(here)
            if len(known) < len(content):
                row = _grown(store, folder, actor, row, here, content[len(known) :])
        return _standing_of(store, folder, actor, row)


def photos_of(store: Store, named: str) -> list[PhotoTold]:
    """Give the photos of a trip (by its id or code), its hauls and its lines, in the order in which they were begun.

    Raises UnknownTripError.
    """
    with store.reading() as session:
        rows = session.exec(_of_trip(trip_named(session, named).id).order_by(col(Photo.begun_at), col(Photo.id)))
        return [_told(row) for row in rows]


def _of_trip(trip: str) -> SelectOfScalar[Photo]:
    hauls = select(HaulRecord.id).where(HaulRecord.trip_id == trip)
    lines = select(CatchLine.id).where(col(CatchLine.haul_id).in_(hauls))
    return select(Photo).where(
        or_(
            (col(Photo.of_kind) == "trip") & (col(Photo.of_record) == trip),
            (col(Photo.of_kind) == "haul") & col(Photo.of_record).in_(hauls),
            (col(Photo.of_kind) == "line") & col(Photo.of_record).in_(lines),
        )
    )


def shown(store: Store, folder: Path, sha256: str) -> bytes:
    """Give the copy of a photo (JPEG) that holds nothing but the picture.

    Raises UnknownPhotoError where it is not whole yet, DamagedFileError.
    """
    return files.kept(folder, _whole(store, sha256).shown_sha256 or "")


def original(store: Store, folder: Path, sha256: str) -> tuple[str, bytes]:
    """Give a photo's media type and its bytes as the phone made them, its place in it; errors as in ``shown``."""
    return _whole(store, sha256).media_type, files.kept(folder, sha256)


def _rows(session: Session, sha256: str) -> Sequence[Photo]:
    return session.exec(select(Photo).where(Photo.sha256 == sha256).order_by(col(Photo.id))).all()


def _whole(store: Store, sha256: str) -> Photo:
    with store.reading() as session:
        for row in _rows(session, sha256):
            if row.whole_at is not None:
                return row
    raise UnknownPhotoError(sha256)


def _entered(work: Work, photo: Announcement) -> Photo:
    """Find the row of a photo and its record, or make it."""
    trip = _trip_of(work.session, photo.of_kind, photo.of_record)
    same = _rows(work.session, photo.sha256)
    if any((one.size, one.media_type) != (photo.size, photo.media_type) for one in same):
        raise AnnouncedOtherwiseError
    for one in same:
        if (one.of_kind, one.of_record) == (photo.of_kind, photo.of_record):
            return one
    if not any(one.whole_at for one in same):
        _refuse_too_many(work)
    row = Photo(
        id=new_id(),
        sha256=photo.sha256,
        of_kind=photo.of_kind,
        of_record=photo.of_record,
        media_type=photo.media_type,
        size=photo.size,
        taken_at=photo.made_at,
        begun_at=work.at,
        begun_by=work.actor.person,
    )
    work.note("photo announced", f"photo {row.id}", _noted(row))
    for one in same[:1]:
        row.received = one.received
        if one.whole_at is not None and one.shown_sha256 is not None:
            _keep_row(work, row, one.shown_sha256, trip)
    work.session.add(row)
    return row


def _refuse_too_many(work: Work) -> None:
    mine = (Photo.begun_by == work.actor.person, col(Photo.whole_at).is_(None))
    if work.session.exec(select(func.count()).select_from(Photo).where(*mine)).one() >= MOST_UNFINISHED:
        raise TooManyUnfinishedError


def _trip_of(session: Session, kind: str, record: str) -> str:
    """Give the trip that a record is of; raises UnknownRecordError."""
    queries = {
        "trip": select(TripRecord.id).where(TripRecord.id == record),
        "haul": select(HaulRecord.trip_id).where(HaulRecord.id == record),
        "line": select(HaulRecord.trip_id)
        .join(CatchLine, col(CatchLine.haul_id) == col(HaulRecord.id))
        .where(CatchLine.id == record),
    }
    trip = session.exec(queries[kind]).first() if kind in queries else None
    if trip is None:
        raise UnknownRecordError(kind, record)
    return trip


def _here(folder: Path, row: Photo) -> int:
    """Give how much of a photo is here: what was answered, unless the disk has less (as after a restored backup)."""
    return min(row.received, parts.length(folder, row.sha256))


def _grown(store: Store, folder: Path, actor: Actor, row: Photo, here: int, content: bytes) -> Photo:
    """Write what is new of a part, and after that say that it is here."""
    with _room():
        parts.write(folder, row.sha256, here, content)
    with store.writing(actor) as work:
        rows = _rows(work.session, row.sha256)
        if not rows:
            raise UnknownPhotoError(row.sha256)
        for one in rows:
            if one.whole_at is None:
                one.received = here + len(content)
    return rows[0]


def _standing_of(store: Store, folder: Path, actor: Actor, row: Photo) -> Standing:
    """Tell how much is here, and look at the whole once it is all here."""
    if row.whole_at is not None:
        parts.drop(folder, row.sha256)
        return Standing(row.sha256, row.size, row.size, whole=True)
    here = _here(folder, row)
    if here < row.size:
        return Standing(row.sha256, row.size, here, whole=False)
    with _one_at_a_time, _room():
        _finish(store, folder, actor, row)
    return Standing(row.sha256, row.size, row.size, whole=True)


def _finish(store: Store, folder: Path, actor: Actor, row: Photo) -> None:
    """Hold all bytes against their hash, make the copy to be shown, keep both; or let go of them and say why."""
    content = parts.read(folder, row.sha256, 0, row.size)
    if hashlib.sha256(content).hexdigest() != row.sha256:
        _start_anew(store, folder, actor, row.sha256)
    try:
        copy = shown_copy(content, row.media_type)
    except PictureRefusedError as refusal:
        _let_go(store, folder, actor, row.sha256, "photo refused", str(refusal))
        raise
    # These very bytes were held against the hash: whatever happens to the parts now, no others are kept.
    files.keep(folder, content)
    shown_sha256 = files.keep(folder, copy)
    with store.writing(actor) as work:
        rows = _rows(work.session, row.sha256)
        if not rows:
            raise UnknownPhotoError(row.sha256)
        short = row.sha256[:12]
        enter_document(work, row.sha256, f"photo {short}", row.media_type, row.size)
        enter_document(work, shown_sha256, f"photo {short} as shown", SHOWN_TYPE, len(copy))
        for one in rows:
            if one.whole_at is None:
                _keep_row(work, one, shown_sha256, _trip_of(work.session, one.of_kind, one.of_record))
    parts.drop(folder, row.sha256)


def _keep_row(work: Work, row: Photo, shown_sha256: str, trip: str) -> None:
    row.received, row.shown_sha256, row.whole_at = row.size, shown_sha256, work.at
    work.note("photo kept", f"photo {row.id}", {**_noted(row), "shown": shown_sha256})
    work.changed("photo", row.id, 1, trip)


def _start_anew(store: Store, folder: Path, actor: Actor, sha256: str) -> NoReturn:
    with store.writing(actor) as work:
        for one in _unfinished(work, sha256):
            one.received = 0
            work.note("photo had another hash", f"photo {one.id}", _noted(one))
    parts.drop(folder, sha256)
    raise WrongHashError


def _let_go(store: Store, folder: Path, actor: Actor, sha256: str, action: str, why: str) -> None:
    with store.writing(actor) as work:
        for one in _unfinished(work, sha256):
            work.note(action, f"photo {one.id}", {**_noted(one), "why": why})
            work.session.delete(one)
    parts.drop(folder, sha256)


def _unfinished(work: Work, sha256: str) -> list[Photo]:
    return [one for one in _rows(work.session, sha256) if one.whole_at is None]


def _looked_up(store: Store, folder: Path, actor: Actor, sha256: str) -> Photo | None:
    """Find a photo. That it is whole is taken back where the disk has lost it: who asks may be the last to have it."""
    with store.reading() as session:
        found = next(iter(_rows(session, sha256)), None)
    if found is None or found.whole_at is None:
        return found
    try:
        for name in (sha256, found.shown_sha256 or ""):
            files.kept(folder, name)
    except files.DamagedFileError as damage:
        with store.writing(actor) as work:
            for one in _rows(work.session, sha256):
                one.received, one.shown_sha256, one.whole_at = 0, None, None
                work.note("photo asked for again", f"photo {one.id}", {**_noted(one), "damaged": damage.sha256})
                found = one
    return found


def _give_up_old(store: Store, folder: Path, actor: Actor) -> None:
    """Let go of photos that never came to their end, and of parts that belong to none."""
    with store.reading() as session:
        rows = session.exec(select(Photo.sha256, Photo.begun_at).where(col(Photo.whole_at).is_(None))).all()
    last = store.clock() - GIVEN_UP_AFTER
    wanted = {sha256 for sha256, begun in rows if begun >= last}
    for sha256 in sorted(({sha256 for sha256, _ in rows} | parts.names(folder)) - wanted):
        with parts.turn_of(sha256):
            with store.reading() as session:
                anew = any(one.whole_at is None and one.begun_at >= last for one in _rows(session, sha256))
            if not anew:
                _let_go(store, folder, actor, sha256, "photo given up", "it did not come to its end")


def _noted(row: Photo) -> dict[str, str | int]:
    """Give what the audit tells of a photo: nothing that stands within its bytes."""
    return {"sha256": row.sha256, "of": f"{row.of_kind} {row.of_record}", "size": row.size}


def _told(row: Photo) -> PhotoTold:
    return PhotoTold(
        row.id,
        row.sha256,
        row.of_kind,
        row.of_record,
        row.media_type,
        row.size,
        row.received,
        row.taken_at,
        row.begun_at,
        row.begun_by,
        row.whole_at,
    )


@contextmanager
def _room() -> Iterator[None]:
    """Tell a full disk as what it is."""
    try:
        yield
    except OSError as problem:
        if problem.errno in (errno.ENOSPC, errno.EDQUOT):
            raise NoRoomError from problem
        raise
