"""JSON Schema of one record of a case: one line of a case file, from the classes of events."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import diagnose.casework.events  # noqa: F401  (registers the events)
from diagnose.casework.checks import LONGEST, MOST, Rates, Top
from diagnose.casework.record import HEAD, KEYS, SCHEMA, Event, can_lack, types_of
from diagnose.loops.kind import Kind
from diagnose.loops.loop import Place, Point, Shares
from diagnose.loops.names import NAME, PLACE, TAG
from diagnose.loops.record import FORM
from diagnose.loops.schema.sheet import head
from diagnose.loops.schema.texts import END, Schema, named, one_of, table
from diagnose.loops.sheet_text import LONGEST_TEXT, MOST_ENTRIES

_PLAIN = "[^\\u0000-\\u0008\\u000b-\\u001f\\u007f-\\u009f]"
_TEXT: Schema = {"type": "string", "maxLength": LONGEST, "pattern": f"^{_PLAIN}*$"}
_NUMBER: Schema = {"type": "number"}
_WHOLE: Schema = {"type": "integer", "minimum": 1}
_PAIR = {"type": "array", "prefixItems": [_TEXT, _TEXT], "minItems": 2, "maxItems": 2}
_MOMENT = (
    "^[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:[.,][0-9]{1,6})?)?"
    f"(?:Z|[+\\-][0-9]{{2}}:?[0-9]{{2}}(?::?[0-9]{{2}})?){END}"
)


def _maybe(schema: Schema) -> Schema:
    return {"anyOf": [{"type": "null"}, schema]}


def _row(*columns: Schema) -> Schema:
    row = {"type": "array", "prefixItems": list(columns), "minItems": len(columns)}
    return {"type": "array", "maxItems": MOST, "items": {**row, "maxItems": len(columns)}}


FIELDS: Mapping[Any, Schema] = {
    str: _TEXT,
    str | None: _maybe(_TEXT),
    float: _NUMBER,
    float | None: _maybe(_NUMBER),
    int: _WHOLE,
    bool: {"type": "boolean"},
    Mapping[str, Any]: {"type": "object"},
    Top: _row(_maybe(_TEXT), _TEXT, {"type": "array", "items": _PAIR}, _NUMBER),
    Rates: _row(_TEXT, _TEXT, _NUMBER),
    tuple[int, ...]: {"type": "array", "maxItems": MOST, "items": _WHOLE},
}
"""Type of a field -> its schema; the same types that ``checks.CHECKS`` reads."""


def case_schema() -> Schema:
    """The schema of a record; the first one of a case has the event ``opened``."""
    events = [
        {
            "if": {"properties": {"event": {"const": word}}, "required": ["event"]},
            "then": _event(kind),
        }
        for word, kind in sorted(Event.registry.items())
    ]
    found = head("case", "One record of a case: one line of a case file.")
    del found["additionalProperties"]
    return {
        **found,
        "properties": _heading(),
        "required": list(HEAD),
        "allOf": events,
        "$defs": {"sheet": _sheet()},
    }


def _heading() -> Schema:
    """What stands at the head of every record."""
    return {
        "schema": {"type": "integer", "minimum": 1, "maximum": SCHEMA},
        "number": {"type": "integer", "minimum": 1, "description": "1 is the first record"},
        "event": one_of(sorted(Event.registry), "what happened"),
        "at": {"type": "string", "pattern": _MOMENT, "description": "time with offset from UTC"},
    }


def _event(kind: type[Event]) -> Schema:
    known = types_of(kind.word)
    keys = {item.name: KEYS.get(item.name, item.name) for item in fields(kind)}
    own = {keys[name]: FIELDS[known[name]] for name in keys}
    needed = [keys[item.name] for item in fields(kind) if not can_lack(item)]
    if "sheet" in own:
        own["sheet"] = {"$ref": "#/$defs/sheet"}
    told = (kind.__doc__ or "").splitlines()[0]
    return table({**dict.fromkeys(HEAD, True), **own}, needed) | {"description": told}


def _sheet() -> Schema:
    """The copy of a sheet: everything of a loop, values in SI."""
    line = {"type": "string", "maxLength": LONGEST_TEXT}
    numbers = {"type": "object", "additionalProperties": _NUMBER}
    texts = {"type": "object", "additionalProperties": line}
    part = table(
        {
            "name": named(NAME), "kind": one_of(sorted(Kind.registry)), "pins": texts,
            "values": numbers, "place": line, "references": texts, "tolerances": numbers,
            "assumed": _many(line), "title": line, "shown_at": line, "facts": numbers,
        },
        ("name", "kind", "pins", "values", "place", "references", "tolerances", "assumed", "title"),
    )  # fmt: skip
    neighbour = table({"tag": named(TAG), "through": _many(line), "title": line})
    known: Schema = {
        "form": {"const": FORM}, "tag": named(TAG), "service": line, "type": line,
        "reference": line, "signalling": {"type": "boolean"}, "states": {"type": "boolean"},
        "drift": _NUMBER, "stray": _NUMBER,
        "range": {"type": "array", "prefixItems": [line, _NUMBER, _NUMBER], "minItems": 3},
        "role": _many(line), "shares": table({f.name: _NUMBER for f in fields(Shares)}),
        "neighbours": _many(neighbour),
        "places": _many(table({f.name: True for f in fields(Place)} | {"name": named(PLACE)})),
        "points": _many(table({f.name: True for f in fields(Point)} | {"name": line})),
        "parts": _many(part),
    }  # fmt: skip
    later = {"states", "stray", "neighbours"}
    return {"type": "object", "properties": known, "required": sorted(known.keys() - later)}


def _many(item: Schema) -> Schema:
    return {"type": "array", "maxItems": MOST_ENTRIES, "items": item}
