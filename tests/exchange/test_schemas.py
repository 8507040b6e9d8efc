"""The schemas of the files: sound by the standard's own meta-schema, true to the readers, blind to nothing.

The validator of the jsonschema package is the reference for JSON Schema 2020-12.
"""

import json
from copy import deepcopy
from dataclasses import fields
from pathlib import Path
from typing import get_args

import pytest
from jsonschema import Draft202012Validator

from api.domain.conditions import AnyCondition
from api.domain.trips import Line, Season, Trip
from api.exchange.authority_json import KINDS, authority_of
from api.exchange.schemas import SchemaName, schema
from api.exchange.season_json import season_of
from tests.exchange.example_records import AREAS, AUTHORITY, SEASON, TAXA, book
from tests.exchange.test_season_out import OF_EVERY_KIND

NAMES = get_args(SchemaName)
SAMPLES = sorted((Path(__file__).parents[2] / "sample_trips").glob("*.json"))


def errors(name, raw):
    return [error.message for error in Draft202012Validator(schema(name)).iter_errors(raw)]


@pytest.mark.parametrize("name", NAMES)
def test_each_is_a_schema_of_the_dialect_it_names(name):
    found = schema(name)

    Draft202012Validator.check_schema(found)
    assert found["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    assert found["title"]
    assert found["properties"]["format"]["const"].startswith(f"creekledger {name} ")
    json.dumps(found)


@pytest.mark.parametrize(("name", "raw"), [("authority", AUTHORITY), ("taxa", TAXA), ("trips", SEASON)])
def test_sound_files_are_sound_by_their_schema(name, raw):
    assert errors(name, raw) == []


def test_there_are_sample_files_of_every_kind():
    kinds = {json.loads(path.read_text("utf-8"))["format"].split()[1] for path in SAMPLES}

    assert kinds == set(NAMES)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_the_sample_files_are_sound_by_their_schema(path):
    raw = json.loads(path.read_text("utf-8"))

    assert errors(raw["format"].split()[1], raw) == []


def test_every_kind_of_condition_is_in_the_schema_and_is_told_apart():
    definitions = schema("authority")["$defs"]

    assert {definitions[shape.__name__]["properties"]["kind"]["const"] for shape in KINDS.values()} == set(KINDS)
    assert len(definitions["Condition"]["oneOf"]) == len(get_args(AnyCondition)) == 18
    for one in OF_EVERY_KIND:
        condition = {"number": "1", "text": "As printed.", **one}
        assert errors("authority", {**AUTHORITY, "conditions": [condition]}) == []
        assert errors("authority", {**AUTHORITY, "conditions": [{**condition, "kind": "no such"}]})
        assert errors("authority", {**AUTHORITY, "conditions": [{**condition, "no such": 1}]})
        untold = {key: value for key, value in condition.items() if key != "kind"}
        assert errors("authority", {**AUTHORITY, "conditions": [untold]})


def test_every_field_of_a_record_is_in_the_schema():
    definitions = schema("trips")["$defs"]

    for shape, extra in ((Line, set()), (Trip, set())):
        assert set(definitions[shape.__name__]["properties"]) == {field.name for field in fields(shape)} | extra
    assert set(schema("trips")["properties"]) == {field.name for field in fields(Season)} | {"format", "zone"}


def test_descriptions_are_the_docstrings_own():
    definitions = schema("trips")["$defs"]

    assert definitions["Trip"]["description"].startswith("One outing under one leader.")
    assert "None when nobody noted it" in definitions["Trip"]["properties"]["papers"]["description"]


def broken_authorities():
    for change in (
        {"kind": "permit"},
        {"yeer": 1},
        {"conditions": [{"number": "1", "text": "t"}]},
        {
            "conditions": [
                {"kind": "take limit", "number": "1", "text": "t", "limits": [{"amount": "4", "period": "dya"}]}
            ]
        },
        {"people": "kim"},
    ):
        yield {**AUTHORITY, **change}
    without = deepcopy(AUTHORITY)
    del without["issuer"]
    yield without


def test_what_the_schema_refuses_the_reader_refuses_too():
    for raw in broken_authorities():
        assert errors("authority", raw)
        assert authority_of(raw, "permit.json", book().taxa, AREAS)[1]


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("fate", "keptt"),
        ("sexx", "f"),
        ("count", []),
        ("count", -1),
        ("at", "11.6.2027"),
        ("measurements", [{"values": [3]}]),
    ],
)
def test_what_the_schema_refuses_in_a_line_the_reader_refuses_too(key, value):
    raw = deepcopy(SEASON)
    raw["trips"][0]["hauls"][0]["lines"][1][key] = value

    assert errors("trips", raw)
    assert season_of(raw, "night.json", book())[1]


@pytest.mark.parametrize("count", [12, "about 200", {"low": 1, "high": 3}])
def test_counts_in_every_form_are_sound(count):
    raw = deepcopy(SEASON)
    raw["trips"][0]["hauls"][0]["lines"][1]["count"] = count

    assert errors("trips", raw) == []


def test_a_schema_is_a_copy_of_its_own():
    schema("taxa")["properties"].clear()

    assert "taxa" in schema("taxa")["properties"]
