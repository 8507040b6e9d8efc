"""Canonical JSON against the reference data of RFC 8785 (source and reference library beside each vector)."""

import json
import struct
from decimal import Decimal
from hashlib import sha256
from pathlib import Path

import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st

from api.exchange.canonical import canonical, fingerprint

VECTORS = [
    vector
    for vector in json.loads((Path(__file__).parents[1] / "vectors" / "formats.json").read_text("utf-8"))
    if vector["id"].startswith("fmt.jcs.")
]
TEXTS = [vector for vector in VECTORS if "json" in vector["inputs"]]
NUMBERS = [vector for vector in VECTORS if "ieee754_hex" in vector["inputs"]]
# JSON values without what the standard cannot write.
VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.text(st.characters(codec="utf-8"), max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(st.characters(codec="utf-8")), inner, max_size=4)
    ),
    max_leaves=12,
)


def test_all_ten_vectors_of_the_standard_are_used():
    assert len(TEXTS) == 5
    assert len(NUMBERS) == 5
    assert len(VECTORS) == 10


@pytest.mark.parametrize("vector", TEXTS, ids=lambda vector: vector["id"])
def test_reference_texts(vector):
    content = json.loads(vector["inputs"]["json"])

    assert canonical(content) == vector["expected"]["canonical"].encode()
    assert fingerprint(content) == vector["expected"]["sha256"]


@pytest.mark.parametrize("vector", NUMBERS, ids=lambda vector: vector["id"])
def test_reference_numbers(vector):
    (number,) = struct.unpack(">d", bytes.fromhex(vector["inputs"]["ieee754_hex"]))

    assert canonical(number).decode() == vector["expected"]


@settings(max_examples=500)
@given(VALUES)
def test_the_short_way_writes_what_the_reference_library_writes(value):
    assert canonical(value) == rfc8785.dumps(value)


@pytest.mark.parametrize(
    "value",
    ['\u2028\x7f/\\"', "".join(map(chr, range(32))), {"b": [1, -0, True, None], "a": {"": "\U0001f600"}}, (1, ("x",))],
)
def test_escapes_and_order_are_those_of_the_reference_library(value):
    assert canonical(value) == rfc8785.dumps(value)


def test_keys_are_sorted_by_utf_16_units():
    # RFC 8785, 3.2.3: the sorting example; a character beyond the basic plane sorts by its surrogates.
    content = {"\u20ac": 1, "\r": 2, "\ufb33": 3, "1": 4, "\U0001f600": 5, "\u0080": 6, "\u00f6": 7}

    assert list(json.loads(canonical(content)).values()) == [2, 4, 6, 7, 1, 5, 3]


@settings(deadline=None)
@given(VALUES)
def test_same_content_same_bytes_whatever_the_order(content):
    def turned(value):
        if isinstance(value, dict):
            return {key: turned(value[key]) for key in reversed(list(value))}
        return [turned(entry) for entry in value] if isinstance(value, list) else value

    assert canonical(turned(content)) == canonical(content)
    assert json.loads(canonical(content)) == content
    assert fingerprint(content) == sha256(canonical(content)).hexdigest()


@pytest.mark.parametrize("content", [float("nan"), float("inf"), 2**53, "\ud800", Decimal("0.1"), {1: "a key"}, {"a"}])
def test_what_the_standard_cannot_write_is_refused(content):
    with pytest.raises(ValueError, match="canonical JSON"):
        canonical([content])
