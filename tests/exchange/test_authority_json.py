"""Authorities and taxa from raw objects: everything wrong is told at once, with its place and its mending."""

import json
from copy import deepcopy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.exchange.authority_json import KINDS, authority_of, issued_names
from api.exchange.faults import Fault
from api.exchange.json_text import read_json
from api.exchange.taxa_json import taxa_of
from tests.exchange.example_records import AREAS, AUTHORITY, TAXA, book, changed, texts

NAMES = book().taxa


def read(raw):
    return authority_of(raw, "permit.json", NAMES, AREAS)


def with_condition(**condition):
    raw = deepcopy(AUTHORITY)
    raw["conditions"].append({"number": "9", "text": "As printed.", **condition})
    return raw


def only_fault(raw):
    authority, faults = read(raw)
    assert authority is None
    assert len(faults) == 1, texts(faults)
    return faults[0]


def test_a_sound_authority_is_read_with_names_resolved():
    authority, faults = read(AUTHORITY)

    assert faults == []
    assert authority.conditions[0].taxa == ("Mugil cephalus",)
    assert authority.conditions[0].limits[0].amount == "40"
    assert authority.groups[0].taxa == ("Mugil cephalus", "Aldrichetta forsteri")
    assert authority.containers[0].litres == "20"


def test_numbers_keep_their_figures_where_text_is_wanted():
    raw, _ = read_json(b'{"kind": "attested", "number": 4.10, "text": "As printed."}', "permit.json")

    assert read(changed(AUTHORITY, conditions=[raw], amendments=[]))[0].conditions[0].number == "4.10"


def test_names_as_issued_are_kept_by_accepted_id():
    assert issued_names(AUTHORITY, NAMES) == {"Mugil cephalus": "Mugil dobula"}


def test_every_kind_of_condition_is_told_apart_by_its_word():
    # The kinds named in the design of the checks, and no other.
    assert len(KINDS) == 18
    for kind, shape in KINDS.items():
        assert shape.__dataclass_fields__["kind"].default == kind


@pytest.mark.parametrize(
    ("condition", "where", "what", "mend"),
    [
        ({"kind": "take limt"}, "conditions[3] (9): kind", "'take limt' is not known", "Did you mean 'take limit'?"),
        ({}, "conditions[3] (9): kind", "'kind' is missing", "'share limit'"),
        (
            {"kind": "take limit", "taxa": ["Mugilidae"], "limits": [{"amount": "4", "period": "dya"}]},
            "conditions[3] (9): limits[0].period",
            "'dya' is not a word known here",
            "Did you mean 'day'? Write one of 'haul', 'trip'",
        ),
        (
            {"kind": "take limit", "taxa": ["Mugilidae"], "limits": [{"amount": "4", "perid": "day"}]},
            "conditions[3] (9): limits[0]",
            "'period' is missing",
            "Add 'period'",
        ),
        (
            {"kind": "take limit", "taxa": ["Mugilidae"], "limits": [{"amount": "4 quarts", "period": "day"}]},
            "conditions[3] (9): limits[0]",
            "is it a dry or a liquid quart?",
            "",
        ),
        (
            {"kind": "take limit", "taxa": "Mugilidae", "limits": [{"amount": "4", "period": "day"}]},
            "conditions[3] (9): taxa",
            "A list is wanted here, but 'Mugilidae' was found",
            "square brackets",
        ),
        (
            {"kind": "take limit", "taxa": ["Mugil cefalus"], "limits": [{"amount": "4", "period": "day"}]},
            "conditions[3] (9): taxa[0]",
            "'Mugil cefalus' is not in the list of taxa",
            "Did you mean 'Mugil cephalus'?",
        ),
        (
            {
                "kind": "take limit",
                "group": "mullets",
                "limits": [{"amount": "4", "period": "day"}],
                "parts": [{"label": "large", "amount": "2", "taxa": ["Mugil"]}],
            },
            "conditions[3] (9): parts[0].taxa[0]",
            "'Mugil' is not in the list",
            "Write one of",
        ),
        (
            {"kind": "attested", "only": {"taxa": ["Galaxias"]}},
            "conditions[3] (9): only.taxa[0]",
            "'Galaxias' is not in the list",
            "Galaxias maculatus",
        ),
        (
            {"kind": "attested", "only": {"areas": ["inner bai"]}},
            "conditions[3] (9): only.areas[0]",
            "area",
            "inner bay",
        ),
        ({"kind": "attested", "only": {"persons": ["lu"]}}, "conditions[3] (9): only.persons[0]", "person 'lu'", "lou"),
        ({"kind": "prohibited taxon", "group": "mulets"}, "conditions[3] (9): group", "group 'mulets'", "'mullets'"),
        (
            {"kind": "area", "where": "outside", "areas": ["arm"]},
            "conditions[3] (9): areas[0]",
            "area 'arm'",
            "heron arm",
        ),
        ({"kind": "papers", "standing": ["consent"]}, "conditions[3] (9): standing[0]", "paper 'consent'", "landowner"),
        (
            {"kind": "people", "qualification": "boat tickets"},
            "conditions[3] (9): qualification",
            "Nobody listed holds",
            "Did you mean 'boat ticket'?",
        ),
        (
            {
                "kind": "take limit",
                "taxa": ["Mugilidae"],
                "limits": [{"amount": 2, "period": "day", "container": "tub"}],
            },
            "conditions[3] (9): limits[0].container",
            "container 'tub' is not known",
            "'round basket'",
        ),
        (
            {"kind": "take limit", "taxa": ["Mugilidae"], "holder": "area", "limits": [{"amount": 2, "period": "day"}]},
            "conditions[3] (9)",
            "no areas are named",
            "'only'",
        ),
        (
            {"kind": "attested", "whyy": "x"},
            "conditions[3] (9)",
            "The key 'whyy' is not known here",
            "Did you mean 'why'?",
        ),
        ({"kind": "attested", "text": " "}, "conditions[3] (9): text", "'text' is empty", "words as issued"),
        (
            {"kind": "people", "crew_max": "many"},
            "conditions[3] (9): crew_max",
            "A whole number is wanted",
            "without quotes",
        ),
        ({"kind": "people", "only_listed": "perhaps"}, "conditions[3] (9): only_listed", "True or false is wanted", ""),
    ],
)
def test_what_is_wrong_with_a_condition(condition, where, what, mend):
    if "perid" in str(condition):
        _, faults = read(with_condition(**condition))
        assert [fault.what for fault in faults][1:] == ["The key 'perid' is not known here."]
        fault = faults[0]
    else:
        fault = only_fault(with_condition(**condition))

    assert fault.where == where
    assert what in fault.what
    assert mend in fault.mend


@pytest.mark.parametrize(
    ("changes", "where", "what"),
    [
        ({"format": "creekledger trips 1"}, "format", "not an authority's"),
        ({"zone": "Hobart"}, "zone", "not a time zone"),
        ({"year_starts": "July"}, "year_starts", "not a day of the year"),
        ({"first_day": "1 January 2027"}, "first_day", "not a date"),
        ({"first_day": "2028-01-01", "amendments": []}, "last_day", "ends (2027-12-31) before it begins"),
        ({"kind": "permit"}, "kind", "not a word known here"),
        ({"id": ""}, "id", "empty"),
        ({"isued_on": "2027-01-01"}, "", "'isued_on' is not known here"),
        ({"reference_lat": "south"}, "reference_lat", "A number is wanted"),
        ({"amendments": {}}, "amendments", "list of amendments is wanted"),
        (
            {"containers": [{"name": "creel", "litres": "0"}, {"name": "round basket", "litres": 20}]},
            "containers[0]",
            "above 0",
        ),
        ({"people": [{"id": "kim", "name": "K", "role": "boss"}]}, "people[0].role", "'boss' is not a word"),
        (
            {
                "people": [
                    {"id": "kim", "name": "K", "role": "holder", "first_day": "2027-02-01", "last_day": "2027-01-01"}
                ]
            },
            "people[0]: last_day",
            "before the first",
        ),
        (
            {"people": [{"id": "kim", "name": name, "role": "named"} for name in "KL"]},
            "people[1]",
            "'kim' is used twice",
        ),
    ],
)
def test_what_is_wrong_with_the_frame(changes, where, what):
    fault = only_fault(changed(AUTHORITY, **changes))

    assert fault.where == where
    assert what in fault.what


@pytest.mark.parametrize(
    ("amendments", "where", "what"),
    [
        ([{"number": "A", "from_moment": "2027-07-01"}] * 2, "amendments[1]", "amendment number 'A' is used twice"),
        ([{"number": "A", "from_moment": "in July"}], "amendments[0]: from_moment", "not a date and time"),
        (
            [{"number": "A", "from_moment": "2026-07-01T00:00"}],
            "amendments[0]: from_moment",
            "outside the authority's term",
        ),
        (
            [{"number": "A", "from_moment": "2028-01-01T00:00"}],
            "amendments[0]: from_moment",
            "outside the authority's term",
        ),
        ([{"number": "A", "from_moment": "2027-10-03T02:30"}], "amendments[0]: from_moment", "clocks were put forward"),
        (
            [{"number": "A", "from_moment": "2027-07-01T00:00"}, {"number": "B", "from_moment": "2027-06-01T00:00"}],
            "amendments[1]: from_moment",
            "before the one listed above",
        ),
        (
            [{"number": "A", "from_moment": "2027-07-01T00:00", "withdrawn": ["4.3"]}],
            "amendments[0]: withdrawn[0]",
            "withdraws condition '4.3', which is not there",
        ),
        (
            [
                {
                    "number": "A",
                    "from_moment": "2027-07-01T00:00",
                    "conditions": [{"kind": "gear", "number": "7", "text": "t"}],
                }
            ],
            "amendments[0]: conditions[0] (7)",
            "'gear' is missing",
        ),
    ],
)
def test_what_is_wrong_with_an_amendment(amendments, where, what):
    fault = only_fault(changed(AUTHORITY, amendments=amendments))

    assert fault.where == where
    assert what in fault.what


def test_a_group_that_only_an_amendment_brings_is_not_known_before():
    late = {"id": "late", "title": "late", "taxa": ["Mugilidae"]}
    ban = {"kind": "prohibited taxon", "number": "8", "text": "None.", "group": "late"}
    amendment = {"number": "A", "from_moment": "2027-07-01T00:00", "groups": [late], "conditions": [ban]}
    sound = changed(AUTHORITY, amendments=[amendment])
    early = changed(sound, conditions=[*AUTHORITY["conditions"], {**ban, "number": "6"}])

    assert read(sound)[1] == []
    assert only_fault(early).where == "conditions[3] (6): group"


def test_all_faults_come_at_once():
    raw = with_condition(kind="gear", gear=[])
    raw["conditions"].insert(0, {"kind": "no such", "number": "1"})
    raw["conditions"].append({"kind": "attested", "number": "4.1", "text": "t", "only": {"taxa": ["Mugil"]}})
    raw |= {"zone": "Hobart", "holdr": "x", "year_starts": "1 July"}
    del raw["issuer"]

    _, faults = read(raw)

    assert sorted(fault.where for fault in faults) == [
        "",
        "",
        "conditions[0] (1): kind",
        "conditions[4] (9)",
        "conditions[5]",
        "conditions[5] (4.1): only.taxa[0]",
        "year_starts",
        "zone",
    ]


@pytest.mark.parametrize("raw", [None, [], "permit", 3, {}, {"conditions": 3}, {"conditions": [3, None, []]}])
def test_whatever_stands_there_is_told_not_raised(raw):
    authority, faults = read(raw)

    assert authority is None
    assert faults
    assert all(fault.what for fault in faults)


def test_a_number_in_the_place_of_a_name_is_told_as_one_that_nobody_knows():
    groups = [{"id": "mullets", "name": "Mullets", "taxa": ["Mugil cephalus", 0, True, 1.5]}]
    amendments = [{"number": "A", "from_moment": "2027-08-01T00:00", "withdrawn": [None, 1.5]}]
    raw, _ = read_json(json.dumps(changed(AUTHORITY, groups=groups, amendments=amendments)).encode(), "permit.json")
    _, faults = read(raw)
    told = {fault.where: fault.what for fault in faults}
    assert told["groups[0]: taxa[1]"] == "'0' is not in the list of taxa."
    assert told["groups[0]: taxa[3]"] == "'1.5' is not in the list of taxa."
    assert "'1.5'" in told["amendments[0]: withdrawn[1]"]


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-5, 3000)
    | st.floats(allow_nan=False)
    | st.sampled_from(["", "x", "2027-01-01"]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from([*AUTHORITY, "only", "limits"]), inner, max_size=3)
    ),
    max_leaves=6,
)


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_no_damage_makes_it_fall(data):
    """Anything in the place of anything: either a sound authority or faults that all name the file."""
    raw = deepcopy(AUTHORITY)
    target = raw
    while True:
        keys = list(target) if isinstance(target, dict) else list(range(len(target)))
        key = data.draw(st.sampled_from(keys))
        if isinstance(target[key], dict | list) and target[key] and data.draw(st.booleans()):
            target = target[key]
            continue
        target[key] = data.draw(JSON)
        break

    authority, faults = read(raw)

    assert (authority is None) == bool(faults)
    assert all(isinstance(fault, Fault) and fault.file == "permit.json" for fault in faults)


def test_taxa_all_faults_at_once():
    taxa = changed(TAXA)["taxa"]
    taxa += [
        {"id": "Gobiidae", "rank": "fmily"},
        {"id": "Afurcagobius tamarensis", "rank": "species", "parent": "Gobiidae"},
        {"id": "Mugilidae", "rank": "family"},
        {"id": "A", "rank": "genus", "parent": "B"},
        {"id": "B", "rank": "genus", "parent": "A"},
        {"id": "Mugil curema", "rank": "species", "parent": "Mugillidae", "synonyms": ["mugil DOBULA"]},
        {"rank": "species"},
    ]

    found, faults = taxa_of({"format": "creekledger taxa 1", "taxa": taxa}, "taxa.json")

    assert found is None
    assert texts(faults) == [
        "taxa[6] (Gobiidae): rank: 'fmily' is not a word known here.",
        "taxa[12]: 'id' is missing.",
        "Mugilidae: This taxon is listed twice.",
        "Mugil curema: The name 'mugil DOBULA' stands for both 'Mugil cephalus' and 'Mugil curema'.",
        "A: parent: The parents run in a circle: A > B > A.",
        "Mugil curema: parent: The parent 'Mugillidae' is not in the list of taxa.",
    ]
    assert "Mugilidae" in faults[-1].mend


def test_a_bare_list_of_taxa_is_read_too():
    assert taxa_of(TAXA["taxa"], "permit.json") == taxa_of(TAXA, "taxa.json")


@pytest.mark.parametrize("raw", [None, {}, {"taxa": 3}, {"format": "creekledger taxa 1", "taxa": "x"}, [None], 3])
def test_what_is_no_list_of_taxa_is_told(raw):
    found, faults = taxa_of(raw, "taxa.json")

    assert found is None
    assert faults
