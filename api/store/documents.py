"""Documents kept byte for byte: their rows, and their bytes in the data folder."""

from __future__ import annotations

from pathlib import Path

from api.entities.authorities import Document
from api.entities.columns import NAME_LENGTH
from api.exchange.printable import one_line
from api.store import files
from api.store.unit_of_work import Work


def keep_document(work: Work, folder: Path, content: bytes, name: str, media_type: str) -> str:
    """Keep a document; gives its SHA-256. The same bytes again are the same document.

    A name is the sender's and may be anything: it is put on one line and cut to what the table holds.
    """
    mark = files.keep(folder, content)
    enter_document(work, mark, one_line(name), media_type, len(content))
    return mark


def enter_document(work: Work, sha256: str, name: str, media_type: str, size: int) -> None:
    """Enter a document whose bytes are kept already: from then on it is in every backup."""
    if work.session.get(Document, sha256) is not None:
        return
    work.session.add(
        Document(
            sha256=sha256,
            name=name[:NAME_LENGTH],
            media_type=media_type,
            size=size,
            received_at=work.at,
            received_by=work.actor.person,
        )
    )
    work.note("document kept", f"document {sha256}", {"name": name, "size": size})
