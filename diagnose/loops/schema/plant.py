"""JSON Schema of a plant file."""

from __future__ import annotations

from diagnose.loops.in_service import ALL
from diagnose.loops.names import PLACE, TAG
from diagnose.loops.plant import FUNCTIONS
from diagnose.loops.schema.sheet import head
from diagnose.loops.schema.texts import END, Schema, definitions, line, named, quantity, table


def plant_schema() -> Schema:
    """The schema of ``plant.toml``."""
    return {
        **head("plant", "A plant: its name, the meters of its shop, since when its loops run."),
        "properties": {"plant": _plant(), "meter": _meters(), "in-service": _in_service()},
        "required": ["plant"],
        "$defs": definitions(),
    }


def _plant() -> Schema:
    name = named(PLACE, "the name of the plant", "Larkmere resin works")
    return table({"name": name, "unit": line("the part of the works that it is")}, ("name",))


def _meters() -> Schema:
    counts = {
        "type": "number", "minimum": 0, "maximum": 10_000,
        "description": "counts of the last digit",
    }  # fmt: skip
    accuracy = table(
        {"percent": quantity("1", "limit of error, share of the reading"), "counts": counts},
        ("percent",),
    )
    functions = dict.fromkeys(FUNCTIONS, accuracy)
    return {
        "type": "object",
        "description": "the meters of the shop by name, as [meter.M-1]",
        "propertyNames": named(PLACE),
        "additionalProperties": table({"title": line("how people call it"), **functions}),
    }


def _in_service() -> Schema:
    """Days are TOML dates; to JSON Schema they are texts of the form of one."""
    day = {"type": "string", "pattern": f"^[0-9]{{4}}-[0-9]{{2}}-[0-9]{{2}}{END}"}
    both = {"type": "array", "prefixItems": [day, day], "minItems": 2, "maxItems": 2}
    return {
        "type": "object",
        "description": f"first day of each tag in service, or first and last; {ALL}: of the rest",
        "propertyNames": {"anyOf": [{"const": ALL}, named(TAG)]},
        "additionalProperties": {"anyOf": [day, both]},
    }
