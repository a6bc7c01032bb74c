"""``loops``: the sheets of a plant, and the loop types that sheets may name."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from diagnose.errors import DiagnoseError
from diagnose.library import type_names
from diagnose.loops.catalogue import catalogue
from diagnose.loops.loop import Loop
from diagnose.loops.plant import Plant
from diagnose.loops.sheet import load_type
from diagnose.terminal.do_find import reading_sheets
from diagnose.terminal.find_loop import plant_of
from diagnose.terminal.outcome import SCHEMA, Look, Outcome
from diagnose.terminal.table import grid
from diagnose.terminal.wording import count, paragraph


@dataclass(frozen=True, slots=True)
class Listed:
    """A loop or a loop type in a list; ``problem`` says why it cannot be used."""

    name: str
    type: str = ""
    service: str = ""
    range: str = ""
    problem: str = ""


def loops(arguments: Namespace) -> Outcome:
    """The sheets of the plant and the loop types that sheets may name."""
    plant = plant_of(arguments)
    cards = catalogue(plant, reading_sheets())
    sheets = [Listed(c.tag, c.type, c.service, c.range, c.problem) for c in cards.values()]
    types = [_listed_type(name) for name in type_names()]
    data = {
        "schema": SCHEMA,
        "plant": plant.name,
        "folder": str(plant.folder),
        "loops": [_json(item, "tag") for item in sheets],
        "types": [_json(item, "type") for item in types],
    }
    return Outcome(data, lambda look: _loops_lines(plant, sheets, types, look))


def _listed_type(name: str) -> Listed:
    try:
        return _facts(name, load_type(name))
    except DiagnoseError as error:
        return Listed(name, problem=str(error).splitlines()[0])


def _facts(name: str, loop: Loop) -> Listed:
    unit, low, high = loop.range
    return Listed(name, loop.type, loop.service, f"{low:g} to {high:g} {unit}")


def _json(item: Listed, key: str) -> dict[str, str]:
    found = {key: item.name, "service": item.service, "range": item.range}
    if key == "tag":
        found["type"] = item.type
    return {**found, "problem": item.problem} if item.problem else found


def _loops_lines(
    plant: Plant, sheets: Sequence[Listed], types: Sequence[Listed], look: Look
) -> Iterator[str]:
    unit = f", {plant.unit}" if plant.unit else ""
    yield from paragraph(f"{plant.name}{unit}: {count(len(sheets), 'loop')}.", look)
    yield ""
    rows = [(item.name, item.range, item.type, item.problem or item.service) for item in sheets]
    if rows:
        yield from grid(("tag", "range", "type", "service"), rows, look)
    else:
        text = "Start one by diagnose sheet new TAG, or make them by diagnose plant import FILE."
        yield from paragraph(text, look)
    yield ""
    kinds = [(item.name, item.problem or item.service) for item in types]
    yield from grid(("loop type", "is"), kinds, look)
