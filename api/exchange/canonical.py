"""Canonical JSON (RFC 8785): the same content gives the same bytes, and so the same fingerprint.

Decimals and fractions are given as text: the standard's numbers are binary floats.
"""

from __future__ import annotations

import hashlib
from typing import Any

import rfc8785


def canonical(content: Any) -> bytes:
    """Give the canonical bytes (UTF-8) of a JSON value.

    Raises ValueError for what the standard cannot write: NaN, infinity, whole numbers beyond 2**53 - 1,
    text with half a character, and anything that is no JSON value (a Decimal, a date).
    """
    try:
        return bytes(rfc8785.dumps(content))
    except (rfc8785.CanonicalizationError, TypeError) as problem:
        raise ValueError(f"cannot be written as canonical JSON: {problem}; give decimals as text") from problem


def fingerprint(content: Any) -> str:
    """Give the SHA-256 of the canonical bytes, in hexadecimal."""
    return hashlib.sha256(canonical(content)).hexdigest()
