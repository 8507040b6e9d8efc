"""The papers of authorities, byte for byte."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, File, Form, Response, UploadFile
from pydantic import BaseModel

from api.operations import documents
from api.routes.deps import Administrator, Reader, SettingsHere, StoreHere

router = APIRouter(prefix="/api", tags=["authorities"])


class DocumentRead(BaseModel):
    """A paper of an authority; its SHA-256 is its name."""

    sha256: str
    title: str
    name: str
    media_type: str
    size: int
    received_at: datetime
    received_by: str


@router.get("/authorities/{authority}/documents")
def list_documents(authority: str, store: StoreHere, _asking: Reader) -> list[DocumentRead]:
    """Give the papers of an authority in the order in which they came."""
    return [DocumentRead.model_validate(one, from_attributes=True) for one in documents.documents_of(store, authority)]


@router.post("/authorities/{authority}/documents", status_code=201)
def add_document(
    authority: str,
    store: StoreHere,
    settings: SettingsHere,
    asking: Administrator,
    file: Annotated[UploadFile, File(description="PDF, PNG or JPEG")],
    title: Annotated[str, Form(max_length=200)] = "",
) -> DocumentRead:
    """Keep a paper of an authority: the permit as issued, an amendment, a map."""
    content = file.file.read()
    told = documents.add_document(
        store, settings.files, asking.actor, authority, content, name=file.filename or "", title=title
    )
    return DocumentRead.model_validate(told, from_attributes=True)


@router.get(
    "/documents/{sha256}",
    response_class=Response,
    responses={200: {"content": {"application/octet-stream": {}}, "description": "The paper, byte for byte"}},
)
def read_document(sha256: str, store: StoreHere, settings: SettingsHere, _asking: Reader) -> Response:
    """Hand a paper out as it came; it is named after its SHA-256."""
    told, content = documents.document(store, settings.files, sha256)
    ending = told.media_type.rpartition("/")[2]
    headers = {"Content-Disposition": f'attachment; filename="{sha256}.{ending}"', "ETag": f'"{sha256}"'}
    return Response(content, media_type="application/octet-stream", headers=headers)
