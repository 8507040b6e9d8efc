"""Pictures as cameras write them: with a place, a small copy and remarks beside the points, and lying on a side."""

from __future__ import annotations

import io
import random

from PIL import Image
from PIL.PngImagePlugin import PngInfo

RED, GREEN, BLUE, GREY = (220, 30, 30), (30, 200, 30), (30, 30, 220), (128, 128, 128)
CORNERS = (RED, GREEN, BLUE, GREY)
"""What is seen upper left, upper right, lower left and lower right, once the picture stands upright."""

PLACE = b"Reed Ford 42.3171S 153.6042E"
MAKER = b"Marrow Optics No 771"
REMARK = b"left bank below the ford"
SMALL_COPY = b"small copy of the picture"
FILM = b"a film of the moment before"
PLANTED = (PLACE, MAKER, REMARK, SMALL_COPY, FILM, b"Exif", b"GPS", b"ns.adobe.com")
"""Words that a camera wrote beside the points, and the names of what holds them."""

# Which side of what is seen the first stored row and the first stored column are.
# Source: JEITA CP-3451 (Exif 2.3), 4.6.4 A, tag 0x0112 (from memory).
_FIRST_ROW_AND_COLUMN = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


def upright(width: int = 64, height: int = 48, seed: int = 0) -> Image.Image:
    """Give a picture of four corners; the seed draws the points along its middle, so that no two have the same bytes."""
    picture = Image.new("RGB", (width, height))
    for place, colour in enumerate(CORNERS):
        x, y = place % 2 * (width // 2), place // 2 * (height // 2)
        picture.paste(colour, (x, y, x + width - width // 2, y + height - height // 2))
    dice = random.Random(seed)
    middle = Image.frombytes("RGB", (width, 16), dice.randbytes(width * 16 * 3))
    picture.paste(middle.crop((0, 0, width, min(16, height // 3))), (0, height // 2 - min(16, height // 3) // 2))
    return picture


def lying(seen: Image.Image, orientation: int) -> Image.Image:
    """Give the points as a camera stores them that was held so: row by row from the side that it calls its first."""
    row_side, column_side = _FIRST_ROW_AND_COLUMN[orientation]
    width, height = seen.size
    turned = row_side in ("left", "right")
    stored = Image.new("RGB", (height, width) if turned else (width, height))
    for row in range(stored.height):
        for column in range(stored.width):
            along, across = (column, row) if turned else (row, column)
            y = along if "top" in (row_side, column_side) else height - 1 - along
            x = across if "left" in (row_side, column_side) else width - 1 - across
            stored.putpixel((column, row), seen.getpixel((x, y)))
    return stored


def exif(orientation: int = 1) -> Image.Exif:
    """Give what a camera writes of itself, of the place and of how it was held."""
    told = Image.Exif()
    told[0x0112] = orientation
    told[0x010F] = MAKER.decode()
    place = told.get_ifd(0x8825)
    place[1], place[2], place[3], place[4] = "S", (42.0, 19.0, 1.5), "E", (153.0, 36.0, 15.1)
    place[28] = b"ASCII\0\0\0" + PLACE
    told.get_ifd(0x8769)[0x927C] = SMALL_COPY
    return told


def xmp() -> bytes:
    """Give what a program writes of the place (XMP)."""
    return (
        b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        b'<rdf:Description xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:GPSLatitude="42,19.03S">'
        + PLACE
        + b"</rdf:Description></rdf:RDF></x:xmpmeta>"
    )


def camera_jpeg(seed: int = 0, orientation: int = 1, width: int = 64, height: int = 48, quality: int = 92) -> bytes:
    """Give a JPEG with everything in it that must not be handed on, and a film behind its end."""
    out = io.BytesIO()
    stored = lying(upright(width, height, seed), orientation)
    stored.save(out, "JPEG", quality=quality, exif=exif(orientation), xmp=xmp(), comment=REMARK)
    return out.getvalue() + FILM


def camera_png(seed: int = 0, orientation: int = 1) -> bytes:
    """Give a PNG with the same in it."""
    texts = PngInfo()
    texts.add_text("Comment", REMARK.decode())
    texts.add_itxt("XML:com.adobe.xmp", xmp().decode())
    out = io.BytesIO()
    lying(upright(seed=seed), orientation).save(out, "PNG", pnginfo=texts, exif=exif(orientation))
    return out.getvalue() + FILM


def camera_webp(seed: int = 0, orientation: int = 1) -> bytes:
    """Give a WebP with the same in it."""
    out = io.BytesIO()
    stored = lying(upright(seed=seed), orientation)
    stored.save(out, "WEBP", quality=95, exif=exif(orientation), xmp=xmp() + REMARK)
    return out.getvalue() + FILM


def bomb(side: int = 30_000) -> bytes:
    """Give a PNG of a few hundred kilobytes that would unpack to more than a hundred megabytes of points."""
    out = io.BytesIO()
    Image.new("1", (side, side)).save(out, "PNG")
    return out.getvalue()


def corners_of(picture: Image.Image) -> list[tuple[int, int, int]]:
    """Give the colours in the middle of a picture's four quarters."""
    plain = picture.convert("RGB")
    return [
        plain.getpixel((plain.width * (1 + 2 * x) // 4, plain.height * (1 + 2 * y) // 4))
        for y in (0, 1)
        for x in (0, 1)
    ]


def near(one: tuple[int, int, int], other: tuple[int, int, int], most: int = 24) -> bool:
    """Tell whether two colours look the same; JPEG keeps none of them exactly."""
    return all(abs(left - right) <= most for left, right in zip(one, other, strict=True))
