"""A photo made anew for showing: upright, of a bounded size, with nothing in it but the picture itself.

What a camera writes beside the picture (place, time, serial numbers, a small copy) is not taken out piece by
piece: the points are drawn into a new picture, which never had any of it.
"""

from __future__ import annotations

import io

from PIL import Image, ImageCms, ImageOps
from PIL.JpegImagePlugin import JpegImageFile
from PIL.MpoImagePlugin import MpoImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.WebPImagePlugin import WebPImageFile

LONGEST_SIDE = 2048
"""The longer side of what is shown, in points, at the most."""
MOST_POINTS = 64_000_000
"""A picture of more points is refused before it is unpacked; it would fill the memory."""
MOST_SCANS = 100
"""A JPEG is drawn scan over scan; cameras write one or about ten, and a bomb hundreds of thousands."""

SHOWN_TYPE = "image/jpeg"
_QUALITY = 85
_KINDS: dict[str, tuple[type[Image.Image], ...]] = {
    "image/jpeg": (JpegImageFile, MpoImageFile),
    "image/png": (PngImageFile,),
    "image/webp": (WebPImageFile,),
}
"""What may come, by its media type. MPO is a JPEG with more pictures behind the first, as many phones write it."""
_DECODERS = (JpegImageFile.format, PngImageFile.format, WebPImageFile.format)


class PictureRefusedError(ValueError):
    """The bytes are no picture that can be shown; the text says why and what to do."""


def shown_copy(content: bytes, media_type: str) -> bytes:
    """Give the copy to be shown (JPEG, sRGB) of a picture that is said to be of a media type.

    Raises PictureRefusedError for what is damaged, no picture, another one than it is said to be, or too large.
    """
    if media_type not in _KINDS:
        raise PictureRefusedError(f"a photo is JPEG, PNG or WebP, not '{media_type[:40]}'; take it as JPEG")
    if media_type == "image/jpeg" and content.count(b"\xff\xda") > MOST_SCANS:
        raise PictureRefusedError("the photo is a JPEG of more scans than a camera writes; save it anew as JPEG")
    try:
        with Image.open(io.BytesIO(content), formats=_DECODERS) as picture:
            _refuse_other(picture, media_type)
            return _drawn_anew(picture)
    except PictureRefusedError:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as problem:
        raise _too_large() from problem
    except Exception as problem:
        # Decoders meet foreign bytes here, and fail in every way there is; whatever it was, it is no picture.
        raise PictureRefusedError(
            "the photo is damaged, or no picture that can be read; look at it on the phone and take it again"
        ) from problem


def _refuse_other(picture: Image.Image, media_type: str) -> None:
    if not isinstance(picture, _KINDS[media_type]):
        raise PictureRefusedError(
            f"the photo is said to be {media_type}, and its bytes are {picture.format}; announce it as what it is"
        )
    if picture.width * picture.height > MOST_POINTS:
        raise _too_large()


def _too_large() -> PictureRefusedError:
    return PictureRefusedError(
        f"the photo has more than {MOST_POINTS // 1_000_000} million points; take it with a smaller resolution"
    )


def _drawn_anew(picture: Image.Image) -> bytes:
    # A large JPEG is unpacked at a half, a quarter or an eighth, as long as that is no smaller than what is shown.
    scale = LONGEST_SIDE / max(picture.size)
    if scale < 1:
        picture.draft(None, (round(picture.width * scale), round(picture.height * scale)))
    upright = ImageOps.exif_transpose(picture)
    plain = _in_plain_colours(upright)
    plain.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)
    bare = Image.new("RGB", plain.size)
    bare.paste(plain)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()


def _in_plain_colours(picture: Image.Image) -> Image.Image:
    """Give a picture in the colours that every screen takes for granted; what is see-through becomes white."""
    profile = picture.info.get("icc_profile")
    if picture.has_transparency_data:
        layered = picture.convert("RGBA")
        flat = Image.new("RGB", layered.size, "white")
        flat.paste(layered, mask=layered.getchannel("A"))
    elif picture.mode.startswith("I"):
        # Sixteen bits of grey: the upper eight of them are what can be shown.
        flat = picture.convert("I").point(lambda value: value / 256).convert("L").convert("RGB")
    elif picture.mode == "CMYK":
        return _translated(picture, profile) or picture.convert("RGB")
    else:
        flat = picture.convert("RGB")
    return _translated(flat, profile) or flat


def _translated(picture: Image.Image, profile: bytes | None) -> Image.Image | None:
    """Translate colours that were written by a profile of the camera's; None where there is none that fits."""
    if not profile:
        return None
    try:
        own, screen = ImageCms.ImageCmsProfile(io.BytesIO(profile)), ImageCms.createProfile("sRGB")
        return ImageCms.profileToProfile(picture, own, screen, outputMode="RGB")
    except (ImageCms.PyCMSError, OSError):
        return None
