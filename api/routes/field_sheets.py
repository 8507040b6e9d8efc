"""The printed sheet of a trip."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response

from api.operations import field_sheets
from api.routes.deps import Reader, StoreHere

router = APIRouter(prefix="/api", tags=["field sheets"])


@router.get(
    "/trips/{trip}/field-sheet",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}, "description": "The field sheet, to be printed"}},
)
def print_field_sheet(
    trip: str,
    store: StoreHere,
    _asking: Reader,
    hauls: Annotated[int, Query(ge=1, le=field_sheets.MOST_HAULS)] = field_sheets.HAULS,
    rows: Annotated[int, Query(ge=1, le=field_sheets.MOST_ROWS)] = field_sheets.ROWS,
) -> Response:
    """Give a sheet to write on at the creek for a trip (id or code).

    It has room for so many ``hauls``, each with ``rows`` taxa in the phone's order, and says what every limit leaves.
    """
    material = field_sheets.sheet_material(store, trip, hauls=hauls, rows=rows)
    name = "".join(char for char in material.trip.id if char.isascii() and (char.isalnum() or char in "-_"))
    return Response(
        field_sheets.sheet_pdf(material),
        media_type="application/pdf",
        headers={"Content-Disposition": f'attachment; filename="field-sheet-{name}.pdf"'},
    )
