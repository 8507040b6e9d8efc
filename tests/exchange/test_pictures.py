"""What is shown of a photo: the picture, upright, and nothing else; what is no picture is refused."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageFile

from api.exchange.pictures import LONGEST_SIDE, MOST_POINTS, MOST_SCANS, PictureRefusedError, shown_copy
from tests import photographs
from tests.photographs import CORNERS, PLANTED, camera_jpeg, camera_png, camera_webp, corners_of, near

CAMERAS = {"image/jpeg": camera_jpeg, "image/png": camera_png, "image/webp": camera_webp}

# ITU-T T.81, Table B.1: the markers that a baseline picture needs, and APP0 (JFIF 1.02, where the density stands).
PLAIN_MARKERS = {0xD8, 0xE0, 0xDB, 0xC0, 0xC4, 0xDA, 0xD9}


def markers_of(content):
    """Give the markers of a JPEG with their segments, and what stands behind its end. Source: ITU-T T.81, B.1.1."""
    assert content[:2] == b"\xff\xd8"
    found, place = [(0xD8, b"")], 2
    while True:
        assert content[place] == 0xFF
        marker, place = content[place + 1], place + 2
        if marker == 0xD9:
            return [*found, (marker, b"")], content[place:]
        (length,) = struct.unpack(">H", content[place : place + 2])
        found.append((marker, content[place + 2 : place + length]))
        place += length
        if marker == 0xDA:
            while content[place] != 0xFF or content[place + 1] in (0x00, *range(0xD0, 0xD8)):
                place += 1


def opened(content):
    return Image.open(io.BytesIO(content))


# --- nothing but the picture


@pytest.mark.parametrize("media_type", CAMERAS)
def test_nothing_that_a_camera_wrote_beside_the_points_is_in_what_is_shown(media_type):
    taken = CAMERAS[media_type]()
    # The test can fail: it is all in there before, and readable.
    assert opened(taken).getexif().get_ifd(0x8825)[1] == "S"
    assert all(one in taken for one in (photographs.PLACE, photographs.MAKER, photographs.REMARK, photographs.FILM))
    shown = shown_copy(taken, media_type)
    assert [one for one in PLANTED if one in shown] == []
    markers, behind = markers_of(shown)
    assert {marker for marker, _ in markers} == PLAIN_MARKERS
    assert behind == b""
    (jfif,) = [segment for marker, segment in markers if marker == 0xE0]
    # JFIF 1.02: identifier, version, density; the last two bytes are the sides of a small copy, of which there is none.
    assert (jfif[:5], len(jfif), jfif[-2:]) == (b"JFIF\0", 14, b"\0\0")
    assert dict(opened(shown).getexif()) == {}


def test_no_colour_profile_is_handed_on():
    # A profile may bear a name, a serial number and a time of its own.
    out = io.BytesIO()
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    photographs.upright().save(out, "JPEG", icc_profile=profile)
    assert b"ICC_PROFILE" in out.getvalue()
    assert b"ICC_PROFILE" not in shown_copy(out.getvalue(), "image/jpeg")


def test_of_a_jpeg_with_more_pictures_behind_the_first_only_the_first_is_shown():
    # CIPA DC-007 (multi-picture format), which many phones write.
    out = io.BytesIO()
    other = Image.new("RGB", (64, 48), "yellow")
    photographs.upright().save(out, "MPO", save_all=True, append_images=[other])
    assert opened(out.getvalue()).n_frames == 2
    shown = opened(shown_copy(out.getvalue(), "image/jpeg"))
    assert shown.format == "JPEG"
    assert all(near(*pair) for pair in zip(corners_of(shown), CORNERS, strict=True))


# --- upright, bounded, in its colours


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("media_type", CAMERAS)
def test_a_picture_stands_upright_however_the_camera_was_held(media_type, orientation):
    shown = opened(shown_copy(CAMERAS[media_type](orientation=orientation), media_type))
    assert shown.size == (64, 48)
    assert all(near(*pair) for pair in zip(corners_of(shown), CORNERS, strict=True)), corners_of(shown)


@pytest.mark.parametrize(
    ("size", "seen"),
    [
        ((4096, 1024), (2048, 512)),
        ((1024, 4096), (512, 2048)),
        ((5000, 1000), (2048, 410)),
        ((LONGEST_SIDE, 10), (LONGEST_SIDE, 10)),
        ((10, 10), (10, 10)),
        ((4000, 1), (2048, 1)),
    ],
    ids=str,
)
def test_what_is_shown_is_bounded_and_never_larger_than_it_was(size, seen):
    for name, media_type in (("JPEG", "image/jpeg"), ("PNG", "image/png")):
        out = io.BytesIO()
        Image.new("RGB", size, "teal").save(out, name)
        assert opened(shown_copy(out.getvalue(), media_type)).size == seen


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "I;16"])
def test_every_kind_of_points_is_shown(mode):
    grey = {"I;16": 40_000, "1": 1, "LA": (156, 255), "P": 0, "RGBA": (156, 156, 156, 255)}.get(mode, 156)
    picture = Image.new(mode, (20, 20), grey)
    if mode == "P":
        picture.putpalette([156, 156, 156] * 256)
    out = io.BytesIO()
    picture.save(out, "PNG")
    shown = opened(shown_copy(out.getvalue(), "image/png"))
    expected = 255 if mode == "1" else 156  # 40000 of 65535 is 156 of 255
    assert shown.mode == "RGB"
    assert near(shown.getpixel((10, 10)), (expected,) * 3, most=2)


def test_what_is_see_through_becomes_white():
    out = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    assert near(opened(shown_copy(out.getvalue(), "image/png")).getpixel((10, 10)), (255, 255, 255), most=2)


def swapped_profile():
    """Give a profile by which red light is called blue and blue red: sRGB's, two names of its table exchanged."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return profile.replace(b"rXYZ", b"----").replace(b"bXYZ", b"rXYZ").replace(b"----", b"bXYZ")


def test_colours_that_a_profile_gives_are_translated():
    # ICC.1:2022, 8.3.3: rXYZ and bXYZ are the lights that red and blue points stand for.
    out = io.BytesIO()
    Image.new("RGB", (20, 20), (255, 0, 0)).save(out, "PNG", icc_profile=swapped_profile())
    red, green, blue = opened(shown_copy(out.getvalue(), "image/png")).getpixel((10, 10))
    assert blue > 240
    assert red < 15 > green


def test_a_damaged_profile_takes_no_picture_away():
    out = io.BytesIO()
    Image.new("RGB", (20, 20), (200, 0, 0)).save(out, "PNG", icc_profile=b"no profile at all")
    assert near(opened(shown_copy(out.getvalue(), "image/png")).getpixel((10, 10)), (200, 0, 0))


# --- refused


def other_format(name):
    out = io.BytesIO()
    photographs.upright().save(out, name)
    return out.getvalue()


def claiming(side):
    """Give a PNG that says it is of some side and holds next to nothing."""

    def chunk(name, content):
        return (
            struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))
        )  # PNG 1.2, 3.2

    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")


def many_scans():
    """Give a JPEG of which one scan is there again and again."""
    content = other_format("JPEG")
    begin = content.index(b"\xff\xda")
    return content[:-2] + content[begin:-2] * MOST_SCANS + content[-2:]


@pytest.mark.parametrize(
    ("content", "media_type", "why"),
    [
        (b"", "image/jpeg", "no picture that can be read"),
        (b"not a picture", "image/jpeg", "no picture that can be read"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "image/png", "no picture that can be read"),
        (b"%PDF-1.7\n", "image/jpeg", "no picture that can be read"),
        (b"\xff\xd8\xff", "image/jpeg", "no picture that can be read"),
        (camera_jpeg()[: -len(photographs.FILM) - 400], "image/jpeg", "damaged"),
        (camera_png()[:400], "image/png", "damaged"),
        (camera_webp()[:200], "image/webp", "damaged"),
        (other_format("GIF"), "image/png", "no picture that can be read"),
        (other_format("TIFF"), "image/jpeg", "no picture that can be read"),
        (other_format("BMP"), "image/jpeg", "no picture that can be read"),
        (camera_jpeg(), "image/png", "its bytes are JPEG; announce it as what it is"),
        (camera_png(), "image/jpeg", "its bytes are PNG; announce it as what it is"),
        (camera_png(), "image/webp", "its bytes are PNG; announce it as what it is"),
        (camera_jpeg(), "image/heic", "a photo is JPEG, PNG or WebP"),
        (claiming(100_000), "image/png", "more than 64 million points"),
        (claiming(8001), "image/png", "more than 64 million points"),
        (claiming(8000), "image/png", "damaged"),
        (many_scans(), "image/jpeg", "more scans than a camera writes"),
    ],
    ids=lambda one: f"{one[:12]!r} {len(one)}" if isinstance(one, bytes) else one,
)
def test_what_is_no_picture_as_it_was_announced_is_refused(content, media_type, why):
    with pytest.raises(PictureRefusedError, match=why):
        shown_copy(content, media_type)


def test_a_picture_with_too_many_points_is_refused_before_it_is_unpacked(monkeypatch):
    content = photographs.bomb()
    assert len(content) < 250_000
    assert MOST_POINTS < 30_000**2

    def unpack(*_):
        raise AssertionError("it was unpacked")

    monkeypatch.setattr(ImageFile.ImageFile, "load", unpack)
    with pytest.raises(PictureRefusedError, match="more than 64 million points"):
        shown_copy(content, "image/png")


SOUND = {media_type: make() for media_type, make in CAMERAS.items()}


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    media_type=st.sampled_from(sorted(SOUND)),
    place=st.integers(0, 2000),
    damage=st.binary(min_size=1, max_size=8),
    cut=st.integers(0, 300),
)
def test_a_damaged_picture_is_shown_bare_or_refused_and_nothing_else(media_type, place, damage, cut):
    content = bytearray(SOUND[media_type])
    place %= len(content)
    content[place : place + len(damage)] = damage
    try:
        shown = shown_copy(bytes(content[: len(content) - cut]), media_type)
    except PictureRefusedError:
        return
    markers, behind = markers_of(shown)
    assert {marker for marker, _ in markers} == PLAIN_MARKERS
    assert behind == b""
