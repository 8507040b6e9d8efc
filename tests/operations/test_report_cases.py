"""The scenario cases that speak of the report: nil statements, and what a later correction changes."""

from __future__ import annotations

import io

import pikepdf
import pytest

from api.domain.corrections import affected_filings, changes_since
from api.domain.facts import Facts
from api.exchange.snapshot import freeze
from api.operations.reporting import report_pdf
from reports.pdf_text import lines_of, printed_figures
from tests.domain.case_files import Case, book_of, every_case, moment, season_in

META = {"revision": 0, "replaces": "", "changes": [], "tool": "creekledger"}
STATEMENTS = {"no trips": "No collecting took place", "no catch": "nothing was caught and nothing was taken"}


def cases(check: str) -> list[Case]:
    return [case for case in every_case() if case.check == check]


def facts_of(case: Case) -> Facts:
    book = book_of(case)
    return Facts.of(book, season_in(case, book), moment(case, case.as_of))


@pytest.mark.parametrize("case", cases("nil"), ids=lambda case: case.name)
def test_nil_statements(case: Case) -> None:
    facts = facts_of(case)
    [expected] = case.raw["expect"]

    pdf = report_pdf(freeze(facts.book, facts.season, facts.as_of, expected["authority"], META))
    pages = len(pikepdf.open(io.BytesIO(pdf)).pages)
    first = " ".join(lines_of(pdf, 0))
    for name, words in STATEMENTS.items():
        assert (words in first) == (name == expected["statement"])
    figures = printed_figures(pdf)
    if expected["trips"]:
        assert figures["season/trips"] == str(expected["trips"])
        assert figures["season/hauls"] == str(expected["hauls"])
        assert figures["season/handled"] == str(expected["animals"])
    text = " ".join(" ".join(lines_of(pdf, page)) for page in range(pages))
    assert ("No haul was made." not in text) == expected["effort_table"]


@pytest.mark.parametrize("case", cases("amended_report"), ids=lambda case: case.name)
def test_a_correction_marks_the_filing_and_lists_the_change(case: Case) -> None:
    facts = facts_of(case)
    [expected] = case.raw["expect"]

    affected = affected_filings(facts)
    assert [filing.id for filing in affected] == expected["affected"]
    assert changes_since(facts, affected[0].authority, affected[0].filed) == expected["changes"]
    pdf = report_pdf(freeze(facts.book, facts.season, facts.as_of, affected[0].authority, META))
    text = " ".join(" ".join(lines_of(pdf, page)) for page in range(len(pikepdf.open(io.BytesIO(pdf)).pages)))
    assert "Ambassis \N{MINUS SIGN}12; Ambassis jacksoniensis +3; Ambassis marianus +9" in text


def test_there_are_such_cases() -> None:
    assert len(cases("nil")) >= 2
    assert len(cases("amended_report")) >= 1
