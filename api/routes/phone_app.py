"""The phone app as it was built into the package: its page, its worker and its hashed files."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

from fastapi import APIRouter, Response
from fastapi.responses import FileResponse

from api.routes.problems import ProblemError

router = APIRouter(tags=["phone app"])

BUILT = Path(__file__).parent / "built"
MEDIA_TYPES = {
    # Named here and not asked of the machine, whose own table may call a script plain text.
    ".html": "text/html",
    ".js": "text/javascript",
    ".css": "text/css",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".woff2": "font/woff2",
    ".webmanifest": "application/manifest+json",
}
PAGE = "index.html"
_HASHED = "assets"
_NEVER_CHANGES = "public, max-age=31536000, immutable"
_ASK_AGAIN = "no-cache"


@router.get(
    "/app/{path:path}",
    response_class=Response,
    responses={
        200: {
            "description": "A file of the app; its page for every address that is no file",
            "content": {kind: {} for kind in MEDIA_TYPES.values()},
        }
    },
)
def phone_app(path: str) -> FileResponse:
    """Hand out the phone app; open to everybody, since it holds nothing of the season."""
    name = _name_of(path)
    if name not in _names():
        raise ProblemError(404, _missing(name))
    file = BUILT / name
    kept = _NEVER_CHANGES if name.startswith(f"{_HASHED}/") else _ASK_AGAIN
    return FileResponse(file, media_type=MEDIA_TYPES[file.suffix], headers={"Cache-Control": kept})


def _name_of(path: str) -> str:
    """Give the file that an address asks for: the app finds its way from its page by itself."""
    asked = PurePosixPath(path)
    is_file = bool(asked.suffix) or asked.parts[:1] == (_HASHED,)
    return path if is_file else PAGE


def _names() -> frozenset[str]:
    """Give the names of all built files. A name that is asked for is looked up here and never made a path."""
    return frozenset(
        file.relative_to(BUILT).as_posix() for file in BUILT.rglob("*") if file.is_file() and file.suffix in MEDIA_TYPES
    )


def _missing(name: str) -> str:
    if name == PAGE:
        return "The phone app was not built. Install the package anew with pip, which builds it."
    return "There is no such file of the phone app; a newer version may have replaced it. Open the app anew."
