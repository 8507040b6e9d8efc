"""What is written is read back the same: seasons, authorities, taxa, through canonical bytes."""

import math
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.domain.counts import Count, exactly
from api.domain.permits import Authority
from api.domain.places.positions import Fix
from api.domain.taxa import Taxa
from api.domain.trips import (
    Attestation,
    Cleaning,
    Correction,
    CrewMember,
    Filing,
    GearUse,
    Haul,
    Incident,
    Line,
    Measurement,
    Movement,
    Notice,
    Season,
    SharedTotal,
    Trip,
)
from api.domain.trips import Reading as MeterReading
from api.exchange.authority_json import KINDS, authority_of
from api.exchange.canonical import canonical
from api.exchange.json_text import read_json
from api.exchange.season_json import season_of
from api.exchange.season_out import authority_to_json, season_to_json, taxa_to_json, time_text
from api.exchange.taxa_json import taxa_of
from tests.exchange.example_records import AREAS, SEASON, book

BOOK = book()


def through_bytes(raw):
    found, faults = read_json(canonical(raw), "snapshot.json")
    assert faults == []
    return found


words = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=8)
moments = st.integers(0, 3 * 10**15).map(
    lambda micros: datetime(2000, 1, 1, tzinfo=UTC) + timedelta(microseconds=micros)
)
exact = st.fractions(0, 10**6, max_denominator=10**6)
taxa = st.sampled_from(sorted(BOOK.taxa.taxa))
flags = st.booleans()
maybe = st.none


def counts(amounts):
    three = st.tuples(amounts, amounts, amounts | st.just(math.inf)).map(sorted)
    return three.filter(lambda found: found[1] != math.inf).map(lambda found: Count(*found))


whole_counts = counts(st.integers(0, 10**6))
exact_counts = counts(exact)
numbers = st.decimals(-50, 50, places=2).map(str)
readings = st.builds(MeterReading, quantity=words, value=numbers, unit=words, at=maybe() | moments, note=words)
measurements = st.builds(
    Measurement,
    measure=st.sampled_from(["total length", "carapace width", "weight"]),
    values=st.lists(st.integers(1, 10**6), max_size=3).map(tuple),
    variant=words,
)
fixes = st.builds(
    Fix,
    lat=st.floats(-90, 90),
    lon=st.floats(-180, 180),
    radius_m=maybe() | st.floats(0.001, 10**5),
    confidence=st.floats(0.01, 0.99),
    source=words,
)
gear = st.builds(
    GearUse,
    gear=words,
    length_mm=maybe() | exact,
    mesh_mm=maybe() | exact,
    opening_mm=maybe() | exact,
    number=st.integers(1, 99),
    marked=maybe() | flags,
    tag=words,
)
under = st.sampled_from(["", "permit"])


@st.composite
def lines(draw, own_id):
    unit = draw(st.sampled_from(["individuals", "L", "g"]))
    raised = unit == "individuals" and draw(flags)
    return Line(
        id=own_id,
        taxon=draw(taxa),
        count=draw(whole_counts if unit == "individuals" else exact_counts),
        fate=draw(st.sampled_from(["kept", "released", "dead", "lost"])),
        unit=unit,
        doubt=draw(st.sampled_from(["", "cf.", "aff.", "?"])),
        one_of=draw(st.lists(taxa, max_size=2).map(tuple)),
        name_as_written=draw(words),
        method=draw(st.sampled_from(["counted", "by eye", "by volume", "by weight", "raised"])),
        stage=draw(words),
        sex=draw(words),
        authority=draw(under),
        person=draw(words),
        measured_as=draw(words),
        weight=draw(maybe() | exact_counts),
        measurements=draw(st.lists(measurements, max_size=2).map(tuple)),
        raw_counted=draw(st.integers(0, 500)) if raised else None,
        raw_share="1/5" if raised else "",
        note=draw(words),
        at=draw(maybe() | moments),
    )


@st.composite
def hauls(draw, own_id):
    start = draw(moments)
    length = draw(st.timedeltas(timedelta(0), timedelta(days=3)))
    return Haul(
        id=own_id,
        start=start,
        end=draw(st.sampled_from([None, start + length])),
        kind=draw(st.sampled_from(["haul", "set"])),
        gear=draw(maybe() | gear),
        site=draw(words),
        waterbody=draw(words),
        fixes=draw(st.lists(fixes, max_size=2).map(tuple)),
        authority=draw(under),
        also_under=draw(st.sampled_from([(), ("permit",)])),
        lines=tuple(draw(lines(f"{own_id}-{at}")) for at in range(draw(st.integers(0, 2)))),
        readings=draw(st.lists(readings, max_size=1).map(tuple)),
        checks=draw(st.sampled_from([(), (start, start + length / 2)])),
        lost=draw(flags),
        swept_m=draw(maybe() | exact),
        in_sight=draw(maybe() | flags),
        device_start=draw(maybe() | moments),
    )


@st.composite
def trips(draw, own_id):
    depart = draw(moments)
    word = st.builds(
        Attestation,
        authority=st.just("permit"),
        condition=st.just("4.1"),
        person=words,
        at=moments,
        kept=st.sampled_from(["kept", "not kept", "did not arise"]),
        reason=words,
    )
    cleaning = st.builds(Cleaning, at=moments, method=words, minutes=maybe() | exact, done=flags)
    crew = st.builds(CrewMember, person=words, role=st.sampled_from(["holder", "student", "observer"]))
    return Trip(
        id=own_id,
        zone=draw(st.sampled_from(["UTC", "Australia/Hobart", "Australia/Lord_Howe"])),
        leader=draw(words),
        authority=draw(under),
        may_stand_under=draw(st.sampled_from([(), ("permit",)])),
        status=draw(st.sampled_from(["planned", "open", "closed", "cancelled"])),
        depart=draw(st.sampled_from([None, depart])),
        back=draw(st.sampled_from([None, depart + timedelta(hours=3)])),
        crew=draw(st.lists(crew, max_size=2).map(tuple)),
        hauls=tuple(draw(hauls(f"{own_id}-{at}")) for at in range(draw(st.integers(0, 2)))),
        readings=draw(st.lists(readings, max_size=1).map(tuple)),
        cleanings=draw(st.lists(cleaning, max_size=1).map(tuple)),
        attestations=draw(st.lists(word, max_size=1).map(tuple)),
        papers=draw(maybe() | st.lists(words, max_size=2).map(tuple)),
        paper_record=draw(flags),
        clock_fast_s=draw(st.integers(-9999, 9999)),
        note=draw(words),
    )


@st.composite
def seasons(draw):
    trip = draw(trips("T"))
    every = [line for haul in trip.hauls for line in haul.lines]
    born = Movement(
        id="born", at=draw(moments), what="born", count=draw(whole_counts), taxon=draw(taxa), authority="permit"
    )
    gone = [
        Movement(
            id=f"gone {line.id}",
            at=draw(moments),
            what=draw(st.sampled_from(["died", "released", "presumed dead"])),
            count=draw(whole_counts if line.unit == "individuals" else exact_counts),
            line=line.id,
            consent=draw(words),
        )
        for line in every
    ]
    common = {"authority": "permit", "condition": "4.1"}
    return Season(
        trips=(trip,),
        notices=(
            Notice(id="N", authority="permit", trip="T", to=draw(words), sent=draw(moments), cancels=draw(flags)),
        ),
        incidents=(Incident(id="I", authority="permit", about=("T",), to=draw(words), told=draw(maybe() | moments)),),
        movements=(born, *gone),
        filings=(Filing(id="F", filed=draw(moments), accepted=draw(maybe() | flags), **common),),
        shared_totals=(SharedTotal(as_of=draw(moments), total=draw(exact_counts), **common),),
        corrections=(
            Correction(record="L", field="count", old="1", new="2", by="kim", at=draw(moments), why=draw(words)),
        ),
    )


@settings(max_examples=150, deadline=None)
@given(seasons())
def test_a_season_is_read_back_the_same(season):
    found, faults = season_of(through_bytes(season_to_json(season)), "snapshot.json", BOOK)

    assert faults == []
    assert found == season


def test_the_sample_season_is_read_back_the_same_with_people_and_sites():
    raw = {**SEASON, "people": {"kim": "Kim Arden", "lou": "Lou Marsh"}, "sites": {"jetty": "Old jetty"}}
    season, faults = season_of(raw, "night.json", BOOK)
    assert faults == []

    assert season_of(through_bytes(season_to_json(season)), "snapshot.json", BOOK) == (season, [])


def test_the_same_season_gives_the_same_bytes_whatever_zone_its_times_came_in():
    east = timezone(timedelta(hours=10))
    one, other = (
        Season(trips=(Trip(id="T", zone="Australia/Hobart", leader="kim", depart=depart),))
        for depart in (datetime(2027, 6, 11, 11, 30, tzinfo=UTC), datetime(2027, 6, 11, 21, 30, tzinfo=east))
    )

    assert canonical(season_to_json(one)) == canonical(season_to_json(other))
    assert season_to_json(one)["trips"][0]["depart"] == "2027-06-11T11:30:00Z"


def test_amounts_are_written_exactly():
    line = Line(id="L", taxon="eelgrass wrack", count=Count(Fraction(1, 3), 2, math.inf), unit="L", weight=exactly(5))
    haul = Haul(
        id="H",
        start=datetime(2027, 6, 11, tzinfo=UTC),
        lines=(line,),
        gear=GearUse(gear="net", mesh_mm=Fraction(127, 20)),
    )

    written = season_to_json(Season(trips=(Trip(id="T", zone="UTC", leader="kim", hauls=(haul,)),)))["trips"][0][
        "hauls"
    ][0]

    assert written["lines"][0]["count"] == {"low": "1/3", "best": 2, "high": "unknown"}
    assert written["gear"]["mesh_mm"] == "127/20 mm"


def test_a_time_without_an_offset_is_refused():
    with pytest.raises(ValueError, match="no offset"):
        time_text(datetime.fromisoformat("2027-06-11T21:30"))


def test_the_authority_is_read_back_the_same():
    (authority,) = BOOK.authorities

    assert authority_of(through_bytes(authority_to_json(authority)), "s.json", BOOK.taxa, AREAS) == (authority, [])


# One of every kind, with the fields that have a form of their own.
OF_EVERY_KIND = [
    {
        "kind": "take limit",
        "taxa": ["Mugilidae"],
        "holder": "person",
        "limits": [
            {"amount": "5 lb", "period": "rolling days", "days": 7, "operator": "fewer than"},
            {"amount": "2", "period": "season", "dates": {"first": "07-01", "last": "09-30", "name": "winter"}},
        ],
        "parts": [{"label": "large", "amount": "1", "size": {"measure": "total length", "smallest": "3 1/2 in"}}],
        "crew_cap": "9",
        "after": {"amount": "3000 lb", "period": "term"},
        "only": {"areas": ["heron arm"], "dates": [{"first": "2027-02-01", "last": "2027-03-01"}], "persons": ["kim"]},
    },
    {"kind": "share limit", "percent": "2.5", "part_fates": ["dead", "lost"], "smallest_sample": 20},
    {"kind": "size limit", "taxa": ["Mugilidae"], "rules": [{"measure": "weight", "largest": "5 lb", "inside": False}]},
    {"kind": "stage and sex", "taxa": ["Mugilidae"], "stages": ["egg-bearing"]},
    {"kind": "prohibited taxon", "unlisted": True, "report_within_hours": 24, "report_to": "duty officer"},
    {"kind": "gear", "gear": [{"gear": "seine", "length_max": "12 m", "soak_hours": "1.5", "marked": True}]},
    {"kind": "area", "where": "keep away", "areas": ["inner bay"], "distance": "50 m"},
    {"kind": "season", "closed_weekdays": ["Sunday"], "except_dates": ["2027-06-13"], "ends_before": ""},
    {"kind": "time of day", "hours": [{"start": "sunrise", "end": "sunset-30", "months": [6, 7]}]},
    {"kind": "people", "only_listed": True, "present": ["holder"], "assistants_max": 0},
    {"kind": "notice", "to": ["duty officer"], "hours_before": "24", "proof_kept": True},
    {"kind": "encounter and stop", "percent": "5", "per": "day"},
    {"kind": "disposition", "barred": ["sold"], "vouchers": 2, "vouchers_by": "2027-12-01"},
    {"kind": "cleaning", "methods": [{"method": "dried", "minutes": "60"}]},
    {"kind": "report", "due": "date in year", "date": "02-29", "following_year": True},
    {"kind": "papers", "carried": ["the permit"], "standing": ["landowner's consent"]},
    {"kind": "holding", "days_after_end": 30},
    {"kind": "attested", "per": "term", "why": "no machine can tell"},
]


def test_every_kind_of_condition_is_read_back_the_same():
    conditions = [{"number": str(at), "text": "As printed.", **one} for at, one in enumerate(OF_EVERY_KIND)]
    (sample,) = BOOK.authorities
    raw = {**authority_to_json(sample), "conditions": conditions}
    raw["amendments"] = [{"number": "A", "from_moment": "2027-07-01T00:00", "people": [], "conditions": conditions[:1]}]

    authority, faults = authority_of(raw, "permit.json", BOOK.taxa, AREAS)

    assert faults == []
    assert isinstance(authority, Authority)
    assert {one["kind"] for one in OF_EVERY_KIND} == set(KINDS)
    assert authority.amendments[0].people == ()
    assert authority_of(through_bytes(authority_to_json(authority)), "s.json", BOOK.taxa, AREAS) == (authority, [])


def test_taxa_are_read_back_the_same():
    found, faults = taxa_of(through_bytes(taxa_to_json(BOOK.taxa)), "taxa.json")

    assert faults == []
    assert isinstance(found, Taxa)
    assert found == BOOK.taxa
