"""Photos: announced, delivered in parts, shown without their place; the originals are the administrator's."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from pydantic import BaseModel, Field
from starlette.requests import ClientDisconnect

from api.exchange.pictures import SHOWN_TYPE
from api.operations import photos
from api.operations.photos import Announcement, Standing
from api.routes.deps import Administrator, Reader, SettingsHere, StoreHere, Writer
from api.routes.problems import MEDIA_TYPE, ProblemError
from api.routes.shapes import PhoneTime, Sent
from api.settings import Settings

router = APIRouter(prefix="/api", tags=["photos"])

_SHA256 = "^[0-9a-f]{64}$"
_PART_TYPE = "application/octet-stream"

Mark = Annotated[str, Path(pattern=_SHA256, description="The SHA-256 of the photo as the phone made it")]

_PART: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "description": "The bytes of the part, taken whole or not at all",
        "content": {_PART_TYPE: {"schema": {"type": "string", "format": "binary"}}},
    }
}
_GO_ON: dict[int | str, dict[str, Any]] = {
    409: {
        "description": "The part is not taken; go on from the offset told (0: from the beginning)",
        "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/OffsetProblem"}}},
    }
}
_PICTURE: dict[int | str, dict[str, Any]] = {
    200: {"content": {SHOWN_TYPE: {}}, "description": "A JPEG that holds nothing but the picture"}
}
_ORIGINAL: dict[int | str, dict[str, Any]] = {
    200: {"content": {_PART_TYPE: {}}, "description": "The photo, byte for byte"}
}


class PhotoSent(Sent):
    """A photo that is going to come: its bytes' SHA-256 and size, what it shows, when the phone made it."""

    sha256: str = Field(pattern=_SHA256)
    size: int = Field(ge=1, le=2**31 - 1)
    media_type: Literal["image/jpeg", "image/png", "image/webp"]
    of_kind: Literal["trip", "haul", "line"]
    of_record: str = Field(min_length=1, max_length=64)
    made_at: PhoneTime | None = None


class StandingRead(BaseModel):
    """How much of a photo is here. ``whole``: kept for good; else go on at ``offset`` with parts of ``part_bytes``."""

    sha256: str
    size: int
    offset: int
    whole: bool
    part_bytes: int


class PhotoRead(BaseModel):
    """A photo of a record; it can be shown once ``whole_at`` is told."""

    id: str
    sha256: str
    of_kind: Literal["trip", "haul", "line"]
    of_record: str
    media_type: str
    size: int
    received: int
    made_at: datetime | None
    begun_at: datetime
    begun_by: str
    whole_at: datetime | None


async def part_of(request: Request, settings: SettingsHere) -> bytes:
    """Read the bytes of a part; raises ProblemError for another type, no length, or too many bytes."""
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != _PART_TYPE:
        raise ProblemError(415, f"A part of a photo comes as {_PART_TYPE}.")
    told = request.headers.get("content-length", "")
    if not told.isdecimal():
        raise ProblemError(411, "Say how many bytes the part has (Content-Length).")
    content = bytearray()
    try:
        async for piece in request.stream():
            content += piece
            if len(content) > settings.part_bytes:
                raise ProblemError(413, f"A part holds at most {settings.part_bytes} bytes; send smaller ones.")
    except ClientDisconnect:
        raise ProblemError(400, "The line broke within the part; nothing of it was taken.") from None
    if len(content) != int(told):
        raise ProblemError(400, "The part is not as long as it says; nothing of it was taken.")
    return bytes(content)


@router.post("/photos")
def announce_photo(body: PhotoSent, store: StoreHere, settings: SettingsHere, asking: Writer) -> StandingRead:
    """Announce a photo of a record, or ask again how much of it is here. The record has to be here first."""
    photo = Announcement(**body.model_dump())
    return _read(photos.announce(store, settings.files, asking.actor, photo, settings.most_photo_bytes), settings)


@router.patch("/photos/{sha256}", openapi_extra=_PART, responses=_GO_ON)
def add_part(
    sha256: Mark,
    store: StoreHere,
    settings: SettingsHere,
    asking: Writer,
    part: Annotated[bytes, Depends(part_of)],
    offset: Annotated[int, Query(ge=0, le=2**31 - 1)],
) -> StandingRead:
    """Take a part of a photo at an offset; the same part may come again.

    409 tells the offset to go on from: 0 where all bytes had come and their hash was another. 422 is final: what
    came is no picture; the phone keeps it.
    """
    return _read(photos.take_part(store, settings.files, asking.actor, sha256, offset, part), settings)


@router.get("/trips/{trip}/photos")
def list_photos(trip: str, store: StoreHere, _asking: Reader) -> list[PhotoRead]:
    """Give the photos of a trip, its hauls and its lines, also those that are still coming in."""
    return [PhotoRead.model_validate(one, from_attributes=True) for one in photos.photos_of(store, trip)]


@router.get("/photos/{sha256}", response_class=Response, responses=_PICTURE)
def show_photo(sha256: Mark, store: StoreHere, settings: SettingsHere, _asking: Reader) -> Response:
    """Show a photo: a copy made anew, upright, without place, time or anything else that a camera writes."""
    content = photos.shown(store, settings.files, sha256)
    headers = {"Content-Disposition": f'inline; filename="photo-{sha256[:12]}.jpg"'}
    return Response(content, media_type=SHOWN_TYPE, headers=headers)


@router.get("/photos/{sha256}/original", response_class=Response, responses=_ORIGINAL)
def read_original(sha256: Mark, store: StoreHere, settings: SettingsHere, _asking: Administrator) -> Response:
    """Hand a photo out as the phone made it: evidence, with the place that may stand in it."""
    media_type, content = photos.original(store, settings.files, sha256)
    ending = media_type.rpartition("/")[2]
    headers = {"Content-Disposition": f'attachment; filename="{sha256}.{ending}"', "ETag": f'"{sha256}"'}
    return Response(content, media_type=_PART_TYPE, headers=headers)


def _read(one: Standing, settings: Settings) -> StandingRead:
    return StandingRead(
        sha256=one.sha256, size=one.size, offset=one.offset, whole=one.whole, part_bytes=settings.part_bytes
    )
