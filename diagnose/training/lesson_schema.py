"""JSON Schema of a lesson file, from the keys and words that its reader takes."""

from __future__ import annotations

from diagnose.inference.measurement import CONTEXTS
from diagnose.loops.schema.sheet import head
from diagnose.loops.schema.texts import END, Schema, definitions, line, one_of, quantity, table
from diagnose.loops.sheet_text import MOST_ENTRIES
from diagnose.training.handout import HIDDEN, NAMED, PACKED
from diagnose.training.lessons import DRILL_KEYS, ORDERS, TOP_KEYS
from diagnose.training.setting import DIFFICULTIES, DRAWS, VISIBLE


def lesson_schema() -> Schema:
    """The schema of ``lessons/lessons.toml``."""
    return {
        **head("lesson", "Lessons: the drills that a trainer sets, and who passes."),
        "properties": {
            "class": _class(),
            "drill": {"type": "array", "minItems": 1, "items": _drill()},
        },
        "required": ["drill"],
        "$defs": definitions(),
    }


def _class() -> Schema:
    known = {
        "title": line("what the class is about"),
        "order": one_of(ORDERS, "whether the drills are done in the order of the file"),
        **_usual(),
    }
    assert known.keys() == set(TOP_KEYS)
    return table(known) | {"description": "what holds for every drill that does not say otherwise"}


def _usual() -> Schema:
    """What a drill says for itself or leaves to its class."""
    return {
        "visible": one_of(VISIBLE, "whether ranking and advice are seen"),
        "pass": _number(0, 100, "the score that passes"),
        "minutes": _number(5, 10_000, "time limit, simulated minutes"),
        "difficulty": _whole(min(DIFFICULTIES), max(DIFFICULTIES), "1 to 3: how plain it is"),
    }


def _drill() -> Schema:
    words = {"type": "array", "maxItems": MOST_ENTRIES}
    known = {
        "name": line("how the drill is called", empty=False, example="moisture"),
        "loop": line("a tag or a loop type", empty=False, example="LT-214"),
        "sheet": {"type": "string", "pattern": f"^[^/\\\\\\u0000-\\u001f]*\\.toml{END}",
                  "description": "in place of a loop: a sheet that lies beside this file"},
        "title": line("what it is about"),
        "story": line("what the trainee is told"),
        "faults": words | {"items": {"type": "string"}, "examples": [["R1:drift=310 ohm"]],
                           "description": "what is wrong; without it a fault is drawn"},
        "draw": one_of(DRAWS, "how the fault is drawn"),
        "seed": _whole(0, 2**31 - 1, "the same seed gives a class the same fault"),
        "intermittent": {"type": "boolean"},
        "process": quantity("1", "the true process value", bare=True, example="45 %"),
        "complaint": line("what is complained of", example="reads low"),
        "context": words | {"items": one_of(CONTEXTS), "description": "what goes on around it"},
        "lead": one_of(("V", "mA"), "the jack in which the lead of the meter is found"),
        "fuse": one_of(("whole", "blown"), "the fuse of the meter"),
        PACKED: {"type": "string", "pattern": f"^[A-Za-z0-9+/]+={{0,2}}{END}",
                 "description": "written by lessons --pack, in place of "
                                + ", ".join((*NAMED, *HIDDEN))},
        **_usual(),
    }  # fmt: skip
    assert known.keys() == {*DRILL_KEYS, PACKED}
    set_or_drawn = {"required": ["faults", "draw"], "properties": {
        "faults": {"minItems": 1}, "draw": {"const": "none"}}}  # fmt: skip
    twice = {"required": [PACKED], "anyOf": [{"required": [key]} for key in HIDDEN]}
    either = [{"required": ["loop"]}, {"required": ["sheet"]}]
    named = [{"required": ["name"]}, {"required": [PACKED]}]
    neither = {"anyOf": [set_or_drawn, twice]}
    return table(known) | {"anyOf": named, "oneOf": either, "not": neither}


def _number(least: float, most: float, meaning: str) -> Schema:
    return {"type": "number", "minimum": least, "maximum": most, "description": meaning}


def _whole(least: int, most: int, meaning: str) -> Schema:
    return _number(least, most, meaning) | {"type": "integer"}
