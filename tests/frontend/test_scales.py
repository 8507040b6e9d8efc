"""One type scale, one spacing scale, one set of corners: the app's styles use the theme's names and no sizes of their own."""

from __future__ import annotations

import re

import pytest

from tests.builders import SAMPLE

SOURCES = SAMPLE.parent / "frontend" / "src"
STYLES = sorted(one for one in SOURCES.rglob("*") if one.suffix in (".css", ".svelte"))
OWN_SIZE = {
    "type": re.compile(r"font-size: (?!var\(--type-|inherit;|100%;)[^;]+;"),
    "corners": re.compile(r"border-radius: (?!var\(--corner|50%|999px|0;)[^;]+;"),
    # What a bar of buttons covers is no step of a scale, nor is a measure in the width of the letters themselves.
    "space": re.compile(r"(?<!scroll-)\b(?:gap|row-gap|column-gap|(?:margin|padding)[a-z-]*): [^;]*\d(?:px|rem)[^;]*;"),
}


ALIGNED = re.compile(r"calc\([^;]*\)")
"""What stands in line with a sign or a column beside it is reckoned from that one's width."""


def own_sizes(what: str, style: str) -> list[str]:
    return OWN_SIZE[what].findall(ALIGNED.sub("", style))


@pytest.mark.parametrize("what", OWN_SIZE)
def test_no_style_has_a_size_of_its_own(what):
    found = [(str(style.relative_to(SOURCES)), own_sizes(what, style.read_text("utf-8"))) for style in STYLES]
    assert len(found) > 80
    assert [one for one in found if one[1]] == []


def test_the_measure_finds_what_is_of_its_own():
    written = "a { font-size: 1.9rem; border-radius: 10px; padding: 0 2px; gap: var(--space-1); scroll-margin: 11rem; }"
    assert [len(own_sizes(what, written)) for what in OWN_SIZE] == [1, 1, 1]
