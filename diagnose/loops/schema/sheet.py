"""JSON Schema of loop sheets and loop types, from the kinds and the keys that the loader takes.

A schema sees one file at a time: that a place exists, a pin is on a node or a circuit makes sense
is for ``check`` to say.  It never refuses what the loader takes.
"""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.library import models, type_names
from diagnose.loops.assemble import AREAS, LOOP_KEYS, ROLES, SHARES
from diagnose.loops.loop import EARTH
from diagnose.loops.names import NAME, PLACE, TAG
from diagnose.loops.raw import SECTIONS
from diagnose.loops.schema.part import part_defs
from diagnose.loops.schema.texts import Schema, end_of_range, line, named, one_of, quantity, table
from diagnose.loops.sheet_text import MOST_ENTRIES, read_table

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def sheet_schema() -> Schema:
    """The schema of a loop sheet, with or without a loop type."""
    typed = {"properties": {"loop": {"required": ["type"]}}, "required": ["loop"]}
    parts = {"part": _parts("whole_part"), "place": _WALKED}
    bare = {
        "properties": {"loop": {"required": ["tag", "range", "reference"]}, **parts},
        "required": ["part", "place"],
        "not": {"anyOf": [{"required": ["omit"]}, {"required": ["rename"]}]},
    }
    return {
        **head("sheet", "A loop sheet: one real loop of a plant."),
        **_sections(SECTIONS),
        "required": ["loop"],
        "if": typed,
        "then": {
            "properties": {"loop": {"required": ["tag"]}, "part": _parts("part")},
            "allOf": _parts_of_types(),
        },
        "else": bare,
        "$defs": part_defs(),
    }


def type_schema() -> Schema:
    """The schema of a loop type: whole parts, nothing to change, no type of its own."""
    sections = [name for name in SECTIONS if name not in ("omit", "rename")]
    found = {**head("type", "A loop type: a circuit pattern with default values.")}
    found |= _sections(sections)
    found["properties"]["part"] |= _parts("whole_part")
    found["properties"]["place"]["items"]["required"] = ["name", "minutes"]
    loop = found["properties"]["loop"]
    loop["properties"] = {
        key: value
        for key, value in loop["properties"].items()
        if key not in ("type", "omit", "rename")
    }
    loop["required"] = ["range", "reference"]
    return {**found, "required": ["loop", "place", "part"], "$defs": part_defs()}


def head(name: str, meaning: str) -> Schema:
    """What every schema of a file begins with."""
    return {
        "$schema": DIALECT,
        "$id": f"urn:diagnose:{name}",
        "title": name,
        "description": meaning,
        "type": "object",
        "additionalProperties": False,
    }


def _parts_of_types() -> list[Schema]:
    """For each shipped loop type the names of its parts, for an editor to offer."""
    found = []
    for name in type_names():
        parts = read_table(models() / f"{name}.toml").get("part", [])
        names = {"examples": [part["name"] for part in parts]}
        loop = {"loop": {"properties": {"type": {"const": name}}, "required": ["type"]}}
        items = {"properties": {"name": names}}
        then = {"part": {"items": items}, "omit": {"items": names}}
        found.append({"if": {"properties": loop}, "then": {"properties": then}})
    return found


def _sections(names: Sequence[str]) -> Schema:
    known = {
        "loop": _loop(),
        "shares": _shares(),
        "place": _entries(_place()),
        "part": _entries({}),
        "point": _entries(_point()),
        "neighbour": _entries(_neighbour()),
        "omit": _OMIT,
        "rename": _rename(),
    }
    return {"properties": {name: known[name] for name in names}}


def _parts(form: str) -> Schema:
    return {"items": {"$ref": f"#/$defs/{form}"}}


def _entries(item: Schema) -> Schema:
    return {"type": "array", "maxItems": MOST_ENTRIES, "items": item}


_WALKED: Schema = {"items": {"required": ["minutes"]}}
"""Places that no loop type describes."""

_OMIT: Schema = {
    "type": "array", "items": {"type": "string"}, "maxItems": MOST_ENTRIES,
    "description": "parts of the loop type that are not there; U2* is all that begin with U2",
    "examples": [["FV1", "FV2"]],
}  # fmt: skip


def _rename() -> Schema:
    name = named(NAME)
    return {
        "type": "object", "propertyNames": name, "additionalProperties": name,
        "maxProperties": MOST_ENTRIES,
        "description": "names of the loop type on the left, names of the plant on the right",
    }  # fmt: skip


def _loop() -> Schema:
    known = {
        "tag": named(TAG, "the tag of the loop", "LT-214"),
        "service": line("what it measures or moves"),
        "type": named(TAG, "the loop type that it is laid over", "two-wire-input")
        | {"examples": list(type_names())},
        "range": {
            "type": "array", "items": end_of_range(), "minItems": 2, "maxItems": 2,
            "description": "process value at 0 % and at 100 %, in one unit",
            "examples": [["0 mm", "1800 mm"]],
        },
        "reference": named(NAME, "the node that voltages are quoted against", "X20:0"),
        "role": {"type": "array", "items": one_of(ROLES), "maxItems": MOST_ENTRIES},
        "signalling": {"type": "boolean", "description": "a digital signal rides on the current"},
        "states": {"type": "boolean", "description": "the process has two states, 0 and 1"},
        "process_drift": quantity("1", "share of range by which the process moves meanwhile"),
        "stray": quantity("V", "stray volts in a reading, standard deviation", example="2 mV"),
    }  # fmt: skip
    assert known.keys() == set(LOOP_KEYS)
    return table({**known, "omit": _OMIT, "rename": _rename()})


def _shares() -> Schema:
    share = {"type": "number", "minimum": 0, "maximum": 1}
    return table(dict.fromkeys(SHARES, share)) | {
        "description": "how calls on this loop end; the four add up to 1"
    }


def _minutes(meaning: str) -> Schema:
    return {"type": "number", "minimum": 0, "maximum": 1440, "description": meaning}


def _place() -> Schema:
    return table(
        {
            "name": named(PLACE, "how parts and points call it", "cabinet"),
            "title": line("how people call it"),
            "minutes": _minutes("minutes to walk there from the cabinet room"),
            "area": one_of(AREAS, "selects cautions"),
            "setup": _minutes("minutes until a reading can be taken"),
            "permit": _minutes("minutes until somebody may work there: counted once in a hunt"),
        },
        ("name",),
    )


def _point() -> Schema:
    return table(
        {
            "name": named(NAME, "a node that a meter lead reaches", "X21:7")
            | {"not": {"const": EARTH}},
            "place": line(),
        },
        ("name",),
    )


def _neighbour() -> Schema:
    names = {"type": "array", "items": {"type": "string"}, "minItems": 1, "maxItems": MOST_ENTRIES}
    return table(
        {
            "name": named(TAG, "the tag of a loop that shares parts", "LT-216"),
            "through": names | {"description": "the parts that both loops use"},
            "title": line(),
        },
        ("name",),
    )
