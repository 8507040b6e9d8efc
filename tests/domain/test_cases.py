"""Every case in tests/cases against the core: the same files are run against the phone's own checks."""

from __future__ import annotations

import math
from datetime import datetime
from fractions import Fraction
from typing import Any

import pytest

from api.domain.choice import propose
from api.domain.clocks import ClockReading, as_shown, corrected
from api.domain.counts import Amount, Count
from api.domain.facts import Facts
from api.domain.judge import RULES, TERM, Judgement, judge
from api.domain.remaining import Situation, keep_at_most
from api.domain.rules.finding import Finding
from api.domain.taxa import Identification
from api.exchange.authority_json import issued_names
from api.exchange.count_text import parse_count
from api.exchange.faults import FaultyFileError
from tests.domain.case_files import Case, book_of, case_files, cases_of, every_case, moment, season_in, taxa

SORTS = ("under", "at", "over", "over despite uncertainty", "cannot tell", "not used")
SELECT = ("about", "label", "version")
KNOWN = frozenset(
    {"authority", "number", "outcome", *SELECT, "after", "left", "before", "limit", "over", "records", "says",
     "settle", "near"}
)  # fmt: skip

CHECKED_HERE = {"judge", "fault", "keep_at_most", "assign", "count_text", "clock", "issued_names"}
CHECKED_WITH_THE_REPORT = {"nil", "amended_report"}

AWKWARD = (
    "rolling window of seven consecutive days",
    "pounds and at most a percent of the landing, lower after a cumulative figure in the year",
    "alternatives inside one size rule (24 inches fork length or 5 lb, five smaller allowed)",
    "a size that is a weight",
    "individuals per area of water",
    (
        "a default for everything unlisted (35 of each unlisted invertebrate) against a permit where unlisted means "
        "forbidden"
    ),
    "a sub-limit inside an aggregate (20 of which 12)",
    "two aggregates by family group, different by island",
    "a limit for a size class only",
    "a number as an average over two years",
    "a number as a word (no more than necessary)",
    "one taxon with different limits by water",
    "one south of a point between two dates, three otherwise",
    "boat limits with a cap, not a sum",
    "a quota shared by everybody",
    "the first fifteen dug count whatever their size",
    "both end dates included",
    "two periods at once",
    "the opening day of another season as the end of this one",
    "closed on a weekday unless a holiday falls on it",
    "hours relative to sunrise by gear and month",
    "a notice window with both ends",
    "animals still held after expiry",
    "students excluded from their school's permit",
    "persons listed only if they work out of sight of the holder",
    "amendment by signature or by replacement",
    "an amendment that lists only changes",
    "one application per taxonomic group",
    "tidal lines as legal edges",
    "a site defined by effort",
    "areas by county or watershed",
    "fate bound after capture",
    "vouchers by size",
    "deaths as a percent of captures with a second single-number trigger",
)
"""What the survey of real permits listed as awkward (CONDITIONS.md), word for word."""


def cases_with(check: str) -> list[Any]:
    return [pytest.param(case, id=case.name) for case in every_case() if case.check == check]


@pytest.mark.parametrize("case", cases_with("judge"))
def test_the_judge_answers_as_expected(case: Case) -> None:
    book = book_of(case)
    judgement = judge(book, season_in(case, book), moment(case, case.as_of))
    matched = [finding for expected in case.raw["expect"] for finding in [the_finding(case, judgement, expected)]]
    for expected, finding in zip(case.raw["expect"], matched, strict=True):
        assert not set(expected) - KNOWN, f"unknown words in what is expected: {set(expected) - KNOWN}"
        assert told(finding, expected) == wanted(expected), shown([finding])
    assert list(judgement.unassigned) == case.raw.get("unassigned", [])
    if case.raw.get("only_expected"):
        others = [one for one in judgement.findings if one.number != TERM and one not in matched]
        assert not others, f"more was found than expected:\n{shown(others)}"


def the_finding(case: Case, judgement: Judgement, expected: dict[str, Any]) -> Finding:
    """Give the one finding that an expectation speaks of."""
    authority = expected.get("authority", case.authorities[0]["id"])
    number = expected.get("number", "1")
    found = [
        one
        for one in judgement.findings
        if (one.authority, one.number) == (authority, number)
        and expected.get("about", "") in one.about
        and expected.get("label", one.label) == one.label
        and expected.get("version", one.version) == one.version
    ]
    if len(found) > 1 and "records" in expected:
        found = [one for one in found if list(one.records) == expected["records"]]
    assert len(found) == 1, f"one finding wanted for {expected}, found:\n{shown(judgement.findings)}"
    return found[0]


def shown(findings: Any) -> str:
    return "\n".join(
        f"{one.authority} {one.number} v{one.version} [{one.label}] {one.about}: {one.outcome} - {one.sentence} "
        f"{one.settle} records {one.records} over {one.over} near {one.near} {one.tally}"
        for one in findings
    )


def wanted(expected: dict[str, Any]) -> dict[str, Any]:
    """Give what is expected of a finding, numbers made exact, beside what only picks it out."""
    return {
        key: [amount(one) for one in value] if key in ("after", "left", "before") else
        amount(value) if key == "limit" else
        True if key in ("says", "settle") else value
        for key, value in expected.items()
        if key not in ("authority", "number", *SELECT)
    }  # fmt: skip


def told(finding: Finding, expected: dict[str, Any]) -> dict[str, Any]:
    """Give the same things of a finding."""
    tally = finding.tally
    found: dict[str, Any] = {
        "outcome": finding.outcome,
        "over": list(finding.over),
        "records": list(finding.records),
        "near": finding.near,
        "says": holds(finding.sentence, expected.get("says", "")),
        "settle": holds(finding.settle, expected.get("settle", "")),
    }
    if tally is not None:
        found |= {"limit": tally.limit}
        found |= {key: bounds(getattr(tally, key)) for key in ("after", "left", "before")}
    return {key: found.get(key) for key in wanted(expected)}


def holds(text: str, parts: str | list[str]) -> bool:
    return all(part in text for part in ([parts] if isinstance(parts, str) else parts))


def bounds(count: Count) -> list[Amount]:
    return [count.low, count.best, count.high]


def amount(written: Any) -> Amount:
    return math.inf if written == "unknown" else Fraction(str(written))


@pytest.mark.parametrize("case", cases_with("fault"))
def test_what_cannot_be_recorded_is_refused_in_words(case: Case) -> None:
    book = book_of(case)
    with pytest.raises(FaultyFileError) as refused:
        season_in(case, book)
    for expected in case.raw["expect"]:
        assert expected["fault"] in str(refused.value)


@pytest.mark.parametrize("case", cases_with("keep_at_most"))
def test_keep_at_most_names_the_limit_that_binds(case: Case) -> None:
    book = book_of(case)
    season = season_in(case, book)
    facts = Facts.of(book, season, moment(case, case.as_of))
    for expected in case.raw["expect"]:
        trip = season.trips[-1]
        situation = Situation(
            at=moment(case, expected["at"]), trip=trip, haul=trip.hauls[-1], person=expected.get("person", "")
        )
        allowance = keep_at_most(facts, case.authorities[0]["id"], Identification(expected["taxon"]), situation)
        binding = allowance.binding.number if allowance.binding else None
        assert (allowance.more, binding) == (expected["more"], expected.get("binding")), expected


@pytest.mark.parametrize("case", cases_with("assign"))
def test_each_line_is_proposed_the_authority_that_spares_most(case: Case) -> None:
    book = book_of(case)
    season = season_in(case, book)
    proposal = propose(book, season, Facts.of(book, season, moment(case, case.as_of)))
    for expected in case.raw["expect"]:
        assert proposal.authority_of == expected["lines"]
        for line, part in expected.get("why", {}).items():
            assert part in proposal.why[line]


@pytest.mark.parametrize("case", cases_with("count_text"))
def test_counts_are_read_as_people_write_them(case: Case) -> None:
    for expected in case.raw["expect"]:
        litres = {name: Fraction(text) for name, text in expected.get("containers", {}).items()}
        found = parse_count(expected["text"], litres)
        assert bounds(found.count) == [amount(one) for one in expected["count"]]
        for word in ("unit", "method", "raw_counted", "raw_share", "measured_as"):
            if word in expected:
                assert getattr(found, word) == expected[word], word


@pytest.mark.parametrize("case", cases_with("clock"))
def test_a_wrong_clock_is_put_right_by_one_offset(case: Case) -> None:
    for expected in case.raw["expect"]:
        shown_at = as_shown(datetime.fromisoformat(expected["shown"]), expected["phone_zone"])
        reading = ClockReading(shown_at, moment(case, expected["known"]))
        assert (reading.fast_by.total_seconds(), reading.wrong) == (expected["fast_s"], expected["wrong"])
        for shown_local, true in expected["moments"]:
            put_right = corrected(
                as_shown(datetime.fromisoformat(shown_local), expected["phone_zone"]), expected["fast_s"]
            )
            assert put_right == moment(case, true)


@pytest.mark.parametrize("case", cases_with("issued_names"))
def test_the_name_as_issued_is_kept_beside_the_accepted_one(case: Case) -> None:
    by_id = {authority["id"]: authority for authority in case.authorities}
    for expected in case.raw["expect"]:
        assert issued_names(by_id[expected["authority"]], taxa()) == expected["names"]


def test_every_check_is_made_somewhere() -> None:
    assert {case.check for case in every_case()} == CHECKED_HERE | CHECKED_WITH_THE_REPORT


@pytest.mark.parametrize("phrase", AWKWARD)
def test_every_awkward_condition_is_judged_or_attested_with_a_reason(phrase: str) -> None:
    own = [case for case in cases_of("awkward") if case.raw["phrase"] == phrase]
    assert own
    for case in own:
        kinds = {condition["kind"] for entry in case.authorities for condition in entry["conditions"]}
        assert kinds != {"attested"} or len(case.raw["why"]) > 20, "an attested case says why no machine can judge it"


def test_no_awkward_case_stands_under_a_phrase_that_is_not_listed() -> None:
    assert {case.raw["phrase"] for case in cases_of("awkward")} == set(AWKWARD)


@pytest.mark.parametrize("kind", [kind for kind, _ in RULES])
def test_every_kind_has_every_sort_of_case(kind: str) -> None:
    sorts = {case.raw.get("sort") for case in every_case() if case.kind == kind and case.check == "judge"}
    assert sorts == set(SORTS)


def test_every_case_says_where_its_answer_comes_from() -> None:
    for case in every_case():
        assert len(case.raw["source"]) > 8, case.name
        assert case.raw["expect"], case.name


@pytest.mark.parametrize("stem", case_files())
def test_every_case_has_a_name_of_its_own(stem: str) -> None:
    names = [case.raw["name"] for case in cases_of(stem)]
    assert len(set(names)) == len(names)
