"""What the pages of a report say."""

from __future__ import annotations

import io

import pikepdf

from reports.pdf_text import lines_of


def text_of(pdf: bytes) -> str:
    """Give the text of every page of a PDF."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        pages = len(document.pages)
    return " ".join(" ".join(lines_of(pdf, page)) for page in range(pages))
