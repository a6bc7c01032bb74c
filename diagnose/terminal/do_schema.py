"""``schema``: the JSON Schema of a file, for an editor that completes and validates."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Callable, Mapping
from typing import Any

from diagnose.casework.case_schema import case_schema
from diagnose.errors import UnknownNameError
from diagnose.loops.schema.plant import plant_schema
from diagnose.loops.schema.sheet import sheet_schema, type_schema
from diagnose.terminal.outcome import SCHEMA, Outcome
from diagnose.terminal.table import table
from diagnose.training.lesson_schema import lesson_schema

NAMES: Mapping[str, tuple[str, Callable[[], dict[str, Any]]]] = {
    "sheet": ("a loop sheet, sheets/*.toml", sheet_schema),
    "type": ("a loop type, models/*.toml", type_schema),
    "plant": ("a plant file, plant.toml", plant_schema),
    "lesson": ("a lesson file, lessons/lessons.toml", lesson_schema),
    "case": ("one line of a case, cases/*.jsonl", case_schema),
}


def schema(arguments: Namespace) -> Outcome:
    """The schema of one sort of file; without a name, what there is."""
    name = arguments.name
    if name is None:
        rows = [(word, meaning) for word, (meaning, _) in NAMES.items()]
        data = {"schema": SCHEMA, "schemas": dict(rows)}
        return Outcome(data, lambda look: table(rows, look))
    if name not in NAMES:
        raise UnknownNameError("schema", name, NAMES)
    found = NAMES[name][1]()
    return Outcome(found, lambda look: json.dumps(found, indent=1).splitlines())
