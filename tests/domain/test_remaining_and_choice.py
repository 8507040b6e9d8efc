"""Keep at most N more, and which authority a line should stand under. Scenario numbers are those of the job's reference."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from api.domain.choice import propose
from api.domain.clocks import ClockReading, as_shown, corrected
from api.domain.conditions import Bound, Prohibited, TakeLimit
from api.domain.counts import exactly
from api.domain.facts import Book, Facts
from api.domain.permits import Authority
from api.domain.remaining import Allowance, Situation, keep_at_most
from api.domain.taxa import Identification, Taxa, Taxon
from api.domain.trips import Haul, Line, Season, SharedTotal, Trip

AT = datetime(2027, 9, 1, 1, tzinfo=UTC)
TAXA = Taxa.of(
    [
        Taxon(id="Pisces", rank="class"),
        Taxon(id="Galaxias", rank="genus", parent="Pisces"),
        Taxon(id="Galaxias maculatus", rank="species", parent="Galaxias"),
        Taxon(id="Galaxias brevipinnis", rank="species", parent="Galaxias"),
        Taxon(id="Mugil cephalus", rank="species", parent="Pisces"),
    ]
)


def limit(number: str, taxon: str, amount: str, period: str = "permit year", **more: Any) -> TakeLimit:
    return TakeLimit(number=number, text="", taxa=(taxon,), limits=(Bound(amount=amount, period=period),), **more)


def authority(name: str, *conditions: Any) -> Authority:
    return Authority(
        id=name,
        kind="collecting permit",
        number=name,
        title="",
        issuer="",
        holder="",
        zone="Australia/Hobart",
        first_day="2027-07-01",
        last_day="2028-06-30",
        year_starts="07-01",
        conditions=conditions,
    )


def trip(*lines: Line, **more: Any) -> Trip:
    haul = Haul(id="H1", start=AT, end=AT, lines=lines)
    return Trip(id="T1", zone="Australia/Hobart", leader="ann", hauls=(haul,), **{"authority": "P", **more})


def kept(name: str, count: int, line: str, **more: Any) -> Line:
    return Line(id=line, taxon=name, count=exactly(count), fate="kept", **more)


def allowance(book: Book, season: Season, taxon: str, **more: Any) -> Allowance:
    facts = Facts.of(book, season, AT)
    now = Situation(at=AT, trip=season.trips[0], haul=season.trips[0].hauls[0], **more)
    return keep_at_most(facts, "P", Identification(taxon), now)


def test_d33_the_least_room_binds_and_an_uncertain_fish_counts_in_all_it_may_be() -> None:
    """D33: species 20, genus 30, all fish 100; 19, 28, 99 taken: keep at most 1, all fish binds."""
    book = Book(
        (
            authority(
                "P", limit("1", "Galaxias maculatus", "20"), limit("2", "Galaxias", "30"), limit("3", "Pisces", "100")
            ),
        ),
        TAXA,
    )
    lines = (kept("Galaxias maculatus", 19, "a"), kept("Galaxias brevipinnis", 9, "b"), kept("Mugil cephalus", 71, "c"))

    found = allowance(book, Season(trips=(trip(*lines),)), "Galaxias")
    assert found.more == 1
    assert found.binding is not None
    assert found.binding.number == "3"
    assert [(room.number, room.left.low, room.certain) for room in found.rooms] == [
        ("1", 1, False),
        ("2", 2, True),
        ("3", 1, True),
    ]


def test_what_may_have_been_taken_counts_as_taken() -> None:
    book = Book((authority("P", limit("1", "Galaxias maculatus", "20")),), TAXA)
    lines = (kept("Galaxias maculatus", 10, "a"), kept("Galaxias", 4, "b"))

    assert allowance(book, Season(trips=(trip(*lines),)), "Galaxias maculatus").more == 6


def test_lines_caught_later_do_not_count_yet() -> None:
    later = kept("Galaxias maculatus", 5, "b", at=datetime(2027, 9, 2, tzinfo=UTC))
    book = Book((authority("P", limit("1", "Galaxias", "20")),), TAXA)

    assert allowance(book, Season(trips=(trip(kept("Galaxias maculatus", 3, "a"), later),)), "Galaxias").more == 17


def test_another_day_gives_a_day_limit_back_but_not_the_year() -> None:
    book = Book((authority("P", limit("1", "Galaxias", "10", "day"), limit("2", "Galaxias", "15")),), TAXA)
    yesterday = kept("Galaxias maculatus", 10, "a", at=datetime(2027, 8, 30, tzinfo=UTC))

    found = allowance(book, Season(trips=(trip(yesterday),)), "Galaxias maculatus")
    assert (found.more, found.binding.number if found.binding else "") == (5, "2")


def test_a_rolling_window_forgets_what_is_older() -> None:
    rolling = TakeLimit(
        number="1", text="", taxa=("Galaxias",), limits=(Bound(amount="10", period="rolling days", days=7),)
    )
    lines = (
        kept("Galaxias", 4, "a", at=datetime(2027, 8, 25, 1, tzinfo=UTC)),
        kept("Galaxias", 3, "b", at=datetime(2027, 8, 26, 1, tzinfo=UTC)),
    )

    # Seven days up to 1 September begin with 26 August (Hobart dates).
    assert allowance(Book((authority("P", rolling),), TAXA), Season(trips=(trip(*lines),)), "Galaxias").more == 7


def test_a_prohibited_taxon_leaves_nothing() -> None:
    book = Book(
        (authority("P", Prohibited(number="9", text="", taxa=("Mugil cephalus",)), limit("1", "Pisces", "100")),), TAXA
    )

    found = allowance(book, Season(trips=(trip(),)), "Mugil cephalus")
    assert (found.more, found.binding.number if found.binding else "") == (0, "9")


def test_a_person_has_a_tally_of_their_own() -> None:
    book = Book((authority("P", limit("1", "Galaxias", "5", "day", holder="person")),), TAXA)
    season = Season(trips=(trip(kept("Galaxias", 4, "a", person="ann"), kept("Galaxias", 1, "b", person="ben")),))

    assert allowance(book, season, "Galaxias", person="ann").more == 1
    assert allowance(book, season, "Galaxias", person="ben").more == 4


def test_a_published_total_holds_the_own_take_up_to_its_moment() -> None:
    """Quota of 20 shared with others; 12 by all on 30 August, 3 of them ours; 2 more of ours since: 6 are left."""
    book = Book((authority("P", limit("1", "Galaxias", "20", holder="everybody")),), TAXA)
    lines = (
        kept("Galaxias maculatus", 3, "a", at=datetime(2027, 8, 29, tzinfo=UTC)),
        kept("Galaxias maculatus", 2, "b", at=datetime(2027, 8, 31, tzinfo=UTC)),
    )
    published = SharedTotal(authority="P", condition="1", as_of=datetime(2027, 8, 30, tzinfo=UTC), total=exactly(12))

    season = Season(trips=(trip(*lines),), shared_totals=(published,))
    assert allowance(book, season, "Galaxias maculatus").more == 6
    assert allowance(book, Season(trips=season.trips), "Galaxias maculatus").more == 0


def test_no_limit_means_no_number() -> None:
    assert (
        allowance(
            Book((authority("P", limit("1", "Galaxias", "5")),), TAXA), Season(trips=(trip(),)), "Mugil cephalus"
        ).more
        is None
    )


def test_a_line_goes_where_it_breaks_nothing() -> None:
    book = Book((authority("P", limit("1", "Galaxias", "5")), authority("Q", limit("1", "Galaxias", "50"))), TAXA)
    season = Season(trips=(trip(kept("Galaxias maculatus", 8, "a"), authority="", may_stand_under=("P", "Q")),))

    proposal = propose(book, season, Facts.of(book, season, AT))
    assert proposal.authority_of == {"a": "Q"}
    assert "under P it would break 1 condition(s) more" in proposal.why["a"]


def test_the_scarcer_limit_is_spared() -> None:
    """D18: killifish anyone may take on a licence, plus the permit."""
    book = Book((authority("P", limit("1", "Galaxias", "10")), authority("Q", limit("1", "Galaxias", "100"))), TAXA)
    season = Season(trips=(trip(kept("Galaxias maculatus", 4, "a"), authority="", may_stand_under=("P", "Q")),))

    proposal = propose(book, season, Facts.of(book, season, AT))
    assert proposal.authority_of == {"a": "Q"}
    assert "use more of what is scarce" in proposal.why["a"]


def test_lines_are_shared_out_where_one_authority_cannot_hold_them_all() -> None:
    book = Book((authority("P", limit("1", "Galaxias", "5")), authority("Q", limit("1", "Galaxias", "5"))), TAXA)
    lines = (kept("Galaxias maculatus", 5, "a"), kept("Galaxias maculatus", 4, "b"))
    season = Season(trips=(trip(*lines, authority="", may_stand_under=("P", "Q")),))

    proposal = propose(book, season, Facts.of(book, season, AT))
    assert set(proposal.authority_of.values()) == {"P", "Q"}


@pytest.mark.parametrize(("fast_s", "wrong"), [(3 * 3600 + 7 * 60, True), (119, False), (120, True), (-300, True)])
def test_d21_a_wrong_clock_is_noticed_and_the_hauls_keep_their_order(fast_s: int, wrong: bool) -> None:
    """D21: phone clock 3 h 07 min fast: offer the corrected time, keep the order of hauls, the original stays."""
    shown = [datetime(2027, 9, 1, 8, minute, tzinfo=UTC) for minute in (0, 25, 50)]
    reading = ClockReading(shown=shown[0], known=corrected(shown[0], fast_s))

    assert reading.wrong is wrong
    assert reading.fast_by.total_seconds() == fast_s
    assert sorted(corrected(at, fast_s) for at in shown) == [corrected(at, fast_s) for at in shown]


def test_d21_a_phone_in_the_wrong_zone_meant_another_instant() -> None:
    shown = as_shown(datetime(2027, 9, 1, 8), "Pacific/Auckland")  # noqa: DTZ001 - what a clock shows has no zone

    assert shown == datetime(2027, 8, 31, 20, tzinfo=UTC)
