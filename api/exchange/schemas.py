"""JSON Schema (2020-12) of the three kinds of file, made from the dataclasses that read them.

An editor given the schema suggests keys and words while a file is written. The readers say more: what must
hold between records is looked at there. Titles and descriptions are the dataclasses' own.
"""

from __future__ import annotations

import re
from copy import deepcopy
from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from api.domain.conditions import AnyCondition
from api.domain.counts import Count
from api.domain.permits import Authority
from api.domain.taxa import Taxon
from api.domain.trips import Season
from api.exchange import authority_json, season_json, taxa_json
from api.exchange.checked_shapes import adapter_of

SchemaName = Literal["authority", "taxa", "trips"]
DIALECT = "https://json-schema.org/draft/2020-12/schema"

_TIME = r"^\d{4}-\d\d-\d\d[T ]\d\d:\d\d"
_NUMBER: JsonSchemaValue = {"type": ["number", "string"]}
_TEXT_OR_NUMBER: JsonSchemaValue = {"type": ["string", "number"]}
_PATHS_OR = {
    "anyOf": [
        {"type": "string", "description": "A path beside this file."},
        {"type": "array", "items": {"type": ["string", "object"]}, "description": "Paths, or what they would hold."},
        {"type": "object", "description": "What the file would hold."},
    ]
}


def schema(name: SchemaName) -> dict[str, Any]:
    """Give the schema of one kind of file; raises KeyError for a name that is not one of the three."""
    return deepcopy({"authority": _authority, "taxa": _taxa, "trips": _trips}[name]())


class _Plain(GenerateJsonSchema):
    """Schemas as people write the files: numbers for text and text for numbers, local times, counts in words."""

    def str_schema(self, schema: core_schema.StringSchema) -> JsonSchemaValue:
        """Give text, where a number stands for its digits."""
        del schema
        return dict(_TEXT_OR_NUMBER)

    def float_schema(self, schema: core_schema.FloatSchema) -> JsonSchemaValue:
        """Give a number, also in quotes."""
        del schema
        return dict(_NUMBER)

    def datetime_schema(self, schema: core_schema.DatetimeSchema) -> JsonSchemaValue:
        """Give a local time, or one with its offset."""
        del schema
        words = "Local, as 2027-06-11T21:30, or with an offset."
        return {"type": "string", "pattern": _TIME, "description": words}

    def dataclass_schema(self, schema: core_schema.DataclassSchema) -> JsonSchemaValue:
        """Give a record, with what its docstring says of each field."""
        shape = schema["cls"]
        if shape is Count:
            return _count_schema()
        made = super().dataclass_schema(schema)
        for field, own in made.get("properties", {}).items():
            words = _said_of(field, shape.__doc__ or "")
            if words:
                own["description"] = words
        return made


def _count_schema() -> JsonSchemaValue:
    bound = {"type": ["number", "string"]}
    three = {"low": bound, "best": bound, "high": bound}
    return {
        "title": "Count",
        "description": "12, 'about 200', 'about 200 (180-240)', '180-240', '120 in 1/5', '2 round basket', '3.5 L', "
        "or an object with low, best and high.",
        "anyOf": [
            {"type": "number", "minimum": 0},
            {"type": "string", "minLength": 1},
            {"type": "object", "properties": three, "required": ["low", "high"], "additionalProperties": False},
        ],
    }


def _said_of(field: str, words: str) -> str:
    """Give the sentences of a class's docstring that speak of a field."""
    sentences = re.split(r"(?<=\.)\s+(?=[A-Z`])", " ".join(words.split()))
    return " ".join(sentence for sentence in sentences if f"``{field}``" in sentence).replace("``", "'")


def _generated(adapter: TypeAdapter[Any]) -> dict[str, Any]:
    """Generate a schema, without the one note on form that no validator knows."""
    made: dict[str, Any] = adapter.json_schema(schema_generator=_Plain)
    plain: dict[str, Any] = _without_fraction_form(made)
    return plain


def _without_fraction_form(node: Any) -> Any:
    if isinstance(node, dict):
        return {
            key: _without_fraction_form(value)
            for key, value in node.items()
            if (key, value) != ("format", "fraction") and key != "discriminator"
        }
    return [_without_fraction_form(entry) for entry in node] if isinstance(node, list) else node


def _file(title: str, file_format: str, made: dict[str, Any], more: dict[str, Any]) -> dict[str, Any]:
    """Frame a record's schema as that of a file."""
    properties = {"format": {"const": file_format, "description": "Tells the kind of file."}, **more}
    return {
        **made,
        "$schema": DIALECT,
        "title": title,
        "properties": {**properties, **made.get("properties", {})},
        "required": ["format", *made.get("required", [])],
        "additionalProperties": False,
    }


@lru_cache(maxsize=1)
def _authority() -> dict[str, Any]:
    made = _generated(adapter_of(Authority))
    shapes: list[Any] = list(authority_json.KINDS.values())
    for shape in shapes:
        adapter_of(shape)  # closes the class to other keys before its schema is made
    kinds = _generated(TypeAdapter(Annotated[AnyCondition, Field(discriminator="kind")]))
    definitions = {**made.pop("$defs"), **kinds.pop("$defs")}
    definitions["Condition"] = {"title": "Condition", "description": "One condition; 'kind' tells which.", **kinds}
    for shape in shapes:
        own = definitions[shape.__name__]
        own["required"] = ["kind", *own.get("required", [])]
    more = {"taxa": _PATHS_OR, "areas": _PATHS_OR}
    return {**_file("Authority file", authority_json.FORMAT, made, more), "$defs": definitions}


@lru_cache(maxsize=1)
def _taxa() -> dict[str, Any]:
    taxon = _generated(adapter_of(Taxon))
    listed = {"properties": {"taxa": {"type": "array", "items": {"$ref": "#/$defs/Taxon"}}}, "required": ["taxa"]}
    made = {"type": "object", "description": "The names in use and what stands below what.", **listed}
    return {**_file("Taxa file", taxa_json.FORMAT, made, {}), "$defs": {"Taxon": taxon}}


@lru_cache(maxsize=1)
def _trips() -> dict[str, Any]:
    made = _generated(adapter_of(Season))
    definitions = made["$defs"]
    definitions["Trip"]["required"].remove("zone")  # the file's own holds where a trip has none
    definitions["Measurement"]["properties"]["values"]["items"] = {
        **_NUMBER,
        "description": "Millimetres (weights: grams) unless a unit is written, as '3 1/2 in'.",
    }
    line = definitions["Line"]
    line["required"].remove("count")
    line["anyOf"] = [{"required": ["count"]}, {"required": ["raw_counted", "raw_share"]}]
    definitions["Haul"]["properties"]["track"] = {
        "type": ["string", "object"],
        "description": "A track (.gpx) beside this file that gives the fixes of a haul without its own.",
    }
    zone = {"type": "string", "description": "Time zone of trips without their own, as 'Australia/Hobart'."}
    return _file("Trips file", season_json.FORMAT, made, {"zone": zone})
