"""The papers an authority was keyed from, kept byte for byte: taken in, listed, handed out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlmodel import col, select

from api.entities.authorities import AuthorityDocument, AuthorityRecord, Document
from api.entities.columns import NAME_LENGTH
from api.operations.compliance import UnknownAuthorityError
from api.store import files
from api.store.documents import keep_document
from api.store.unit_of_work import Actor, Store


class UnknownDocumentError(ValueError):
    """There is no such document; carries what was asked for."""

    def __init__(self, sha256: str) -> None:
        self.sha256 = sha256
        super().__init__(f"there is no document '{sha256[:80]}'; take one from an authority's list")


class DocumentRefusedError(ValueError):
    """A document cannot be taken; the text says why."""


@dataclass(frozen=True, slots=True)
class DocumentTold:
    """A document of an authority."""

    sha256: str
    title: str
    name: str
    media_type: str
    size: int
    received_at: datetime
    received_by: str


_KINDS = {b"%PDF-": "application/pdf", b"\x89PNG": "image/png", b"\xff\xd8\xff": "image/jpeg"}
"""What may be kept as a paper, by its first bytes; what a browser would run is none of it."""


def add_document(
    store: Store, folder: Path, actor: Actor, authority: str, content: bytes, *, name: str, title: str
) -> DocumentTold:
    """Keep a paper of an authority; the same bytes again are the same document.

    Raises UnknownAuthorityError; DocumentRefusedError for what is no PDF, PNG or JPEG.
    """
    kind = next((media for begin, media in _KINDS.items() if content.startswith(begin)), "")
    if not kind:
        raise DocumentRefusedError(
            "a paper is kept as PDF, PNG or JPEG, and this is none of them; scan or print it to PDF"
        )
    tidy = "".join(sign if sign.isprintable() else " " for sign in name).strip()[:NAME_LENGTH] or "document"
    with store.writing(actor) as work:
        if work.session.get(AuthorityRecord, authority) is None:
            known = work.session.exec(select(AuthorityRecord.id).order_by(col(AuthorityRecord.place))).all()
            raise UnknownAuthorityError(authority, known)
        mark = keep_document(work, folder, content, tidy, kind)
        work.session.flush()
        link = work.session.get(AuthorityDocument, (authority, mark))
        if link is None:
            work.session.add(AuthorityDocument(authority_id=authority, sha256=mark, title=title[:NAME_LENGTH]))
            work.note("document added", f"authority {authority}", {"sha256": mark, "title": title[:NAME_LENGTH]})
            work.changed("document", mark, 1)
        row = work.session.get_one(Document, mark)
        return _told(row, link.title if link else title[:NAME_LENGTH])


def documents_of(store: Store, authority: str) -> list[DocumentTold]:
    """Give the papers of an authority in the order in which they came."""
    query = (
        select(Document, AuthorityDocument.title)
        .join(AuthorityDocument, col(AuthorityDocument.sha256) == col(Document.sha256))
        .where(AuthorityDocument.authority_id == authority)
        .order_by(col(Document.received_at), col(Document.sha256))
    )
    with store.reading() as session:
        return [_told(row, title) for row, title in session.exec(query)]


def document(store: Store, folder: Path, sha256: str) -> tuple[DocumentTold, bytes]:
    """Give a paper with its bytes, held against their hash; raises UnknownDocumentError and DamagedFileError."""
    with store.reading() as session:
        linked = session.exec(select(AuthorityDocument).where(AuthorityDocument.sha256 == sha256)).first()
        row = session.get(Document, sha256) if linked is not None else None
    if row is None or linked is None:
        raise UnknownDocumentError(sha256)
    return _told(row, linked.title), files.kept(folder, sha256)


def _told(row: Document, title: str) -> DocumentTold:
    return DocumentTold(row.sha256, title, row.name, row.media_type, row.size, row.received_at, row.received_by)
