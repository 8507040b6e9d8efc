"""Adds objects to a finished PDF as one more section: compressed object streams and a cross-reference stream.

The structure tree of a long report has tens of thousands of small objects. Passing each through the PDF library's
writer costs more than setting the pages; written here as text they cost little. ISO 32000-1:2008, 7.5.6 (incremental
updates), 7.5.7 (object streams), 7.5.8 (cross-reference streams).
"""

from __future__ import annotations

import hashlib
import re
import struct
import zlib

_PER_STREAM = 400  # objects in one stream: small enough to open quickly, large enough to pack well


def _last_xref(pdf: bytes) -> int:
    found = re.search(rb"startxref\s+(\d+)\s+%%EOF\s*\Z", pdf[-64:])
    if found is None:
        raise ValueError("The PDF does not end in a startxref line; it was cut short.")
    return int(found.group(1))


def _packed(numbers: list[int], bodies: list[str]) -> tuple[bytes, int, int]:
    """Return an object stream's data, the length of its index, and the number of its objects."""
    places, offset = [], 0
    for number, body in zip(numbers, bodies, strict=True):
        places.append(f"{number} {offset}")
        offset += len(body) + 1
    index = " ".join(places) + "\n"
    return zlib.compress((index + "\n".join(bodies)).encode("ascii")), len(index), len(bodies)


def _ranges(numbers: list[int]) -> list[tuple[int, int]]:
    """Sorted numbers as (first, count) ranges."""
    ranges: list[tuple[int, int]] = []
    for number in numbers:
        if ranges and sum(ranges[-1]) == number:
            ranges[-1] = (ranges[-1][0], ranges[-1][1] + 1)
        else:
            ranges.append((number, 1))
    return ranges


def append_objects(pdf: bytes, objects: dict[int, str], size: int, root: int, info: int, first_id: bytes) -> bytes:
    """Return the PDF with `objects` added or replaced: object number to its ASCII text; none may be a stream.

    `size` is the first number free after those in the PDF and in `objects`; `root` and `info` are the numbers of the
    catalogue and the information dictionary. The PDF must itself end in a cross-reference stream.
    """
    out = bytearray(pdf)
    if not out.endswith(b"\n"):
        out += b"\n"
    entries: dict[int, bytes] = {}
    numbers = sorted(objects)
    for start in range(0, len(numbers), _PER_STREAM):
        part = numbers[start : start + _PER_STREAM]
        data, index, count = _packed(part, [objects[number] for number in part])
        entries[size] = struct.pack(">BIH", 1, len(out), 0)
        for place, number in enumerate(part):
            entries[number] = struct.pack(">BIH", 2, size, place)
        head = f"{size} 0 obj\n<</Type/ObjStm/N {count}/First {index}/Filter/FlateDecode/Length {len(data)}>>\nstream\n"
        out += head.encode("ascii") + data + b"\nendstream\nendobj\n"
        size += 1
    here = len(out)
    entries[size] = struct.pack(">BIH", 1, here, 0)
    table = zlib.compress(b"".join(entries[number] for number in sorted(entries)))
    ranges = " ".join(f"{first} {count}" for first, count in _ranges(sorted(entries)))
    second_id = hashlib.sha256(out).hexdigest()[:32]
    head = (
        f"{size} 0 obj\n<</Type/XRef/Size {size + 1}/W[1 4 2]/Index[{ranges}]/Root {root} 0 R/Info {info} 0 R"
        f"/ID[<{first_id.hex()}><{second_id}>]/Prev {_last_xref(pdf)}"
        f"/Filter/FlateDecode/Length {len(table)}>>\nstream\n"
    )
    out += head.encode("ascii") + table + f"\nendstream\nendobj\nstartxref\n{here}\n%%EOF\n".encode("ascii")
    return bytes(out)
