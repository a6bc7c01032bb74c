"""``expect``: what a sound loop shows at every point, to be printed and taken along."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from diagnose.inference.expected import (
    Expected,
    ExpectedRow,
    ExpectedTable,
    expected_table,
    usual,
)
from diagnose.inference.reading_text import describe_condition
from diagnose.loops.loop import Loop
from diagnose.loops.states import STATES, States
from diagnose.quantities import format_quantity
from diagnose.terminal.as_json import Json, bounds, scaled
from diagnose.terminal.find_changes import condition, levels
from diagnose.terminal.find_evidence import named_place
from diagnose.terminal.find_loop import find_loop, meter_of, plant_of
from diagnose.terminal.naming import place_title
from diagnose.terminal.outcome import SCHEMA, Look, Outcome
from diagnose.terminal.table import grids, width
from diagnose.terminal.wording import in_one_unit, paragraph

HEAD = "Sound loop; +- is the widest band of meter, parts and displays, about 95 %."


def expect(arguments: Namespace) -> Outcome:
    """The table of expected readings of a sound loop in some condition."""
    plant = plant_of(arguments)
    loop = find_loop(arguments.loop, plant)
    at = usual(loop) if arguments.at is None else levels(arguments.at, loop)
    state = condition(arguments.condition, loop)
    found = expected_table(loop, meter_of(plant, arguments.meter), at, state)
    if arguments.place is not None:
        place = named_place(arguments.place, loop)
        found = replace(found, rows=tuple(row for row in found.rows if row.place == place))
    data = _json(found)
    if arguments.html is None:
        return Outcome(data, lambda look: render(found, loop, look))
    written = _written(arguments, found, loop)
    return Outcome({**data, "written": [written]}, lambda _: [f"Written: {written}"])


def _written(arguments: Namespace, found: ExpectedTable, loop: Loop) -> str:
    """Write the sheet to be printed: table and drawing, the latter at the middle of the values."""
    from diagnose.circuit.drawing import drawing
    from diagnose.inference.drawing_marks import marks_of
    from diagnose.inference.due import Basis
    from diagnose.terminal.drawing_page import MARK, expect_page
    from diagnose.terminal.write_file import write_file

    at = found.at[len(found.at) // 2]
    marks = marks_of(loop, meter_of(plant_of(arguments), arguments.meter), Basis(at, at, at))
    cells = [_row(row) for row in found.rows]
    page = expect_page(loop, found, cells, drawing(loop, marks))
    return str(write_file(arguments.html, page, MARK))


def _json(found: ExpectedTable) -> Json:
    return {
        "schema": SCHEMA,
        "tag": found.tag,
        "at": [{"value": scaled(value, "1"), "unit": "%"} for value in found.at],
        "rows": [
            {
                "measurement": row.text,
                "place": row.place,
                "values": [_cell(row, value) for value in row.values],
            }
            for row in found.rows
        ],
    }


def _cell(row: ExpectedRow, value: Expected) -> Json:
    found = bounds(value.low, value.high, row.unit)
    return {**found, "value": scaled(value.value, row.unit), "text": _texts(row, [value])[0]}


def render(found: ExpectedTable, loop: Loop, look: Look) -> Iterator[str]:
    """One table for each place; all the readings that can be taken there."""
    yield from paragraph(f"{loop.tag}, {loop.service}" if loop.service else loop.tag, look)
    if found.condition:
        yield from paragraph(f"With {describe_condition(found.condition, loop)}.", look)
    yield from paragraph(HEAD, look)
    head = ("reading", *(format_quantity(at, "1") for at in found.at), "", "+-")
    right = frozenset(range(1, len(found.at) + 1))
    for place, rows in groupby(found.rows, key=lambda row: row.place):
        yield ""
        yield look.strong(f"{place_title(place, loop)} ({place})")
        for number, (top, *some) in enumerate(_fitting(list(rows), head, look.width)):
            yield from [""] if number else []
            yield from grids(top, some, look, right)


def _fitting(
    rows: Sequence[ExpectedRow], head: Sequence[str], room: int
) -> Iterator[list[Sequence[str]]]:
    """The rows of one place as one table with its head; where it is too wide, words by themselves.

    Where even the numbers are too wide each has its unit beside it: columns may come apart.
    """
    whole = [head, *map(_row, rows)]
    if width(whole) <= room:
        yield whole
        return
    words = [_row(row)[:-2] for row in rows if row.unit in STATES]
    if words:
        yield [head[:-2], *words]
    numbers = [head, *(_row(row) for row in rows if row.unit not in STATES)]
    if width(numbers) > room:
        numbers[1:] = [
            (text, *(f"{value} {unit}" for value in values), "", band)
            for text, *values, unit, band in numbers[1:]
        ]
    if len(numbers) > 1:
        yield numbers


def _row(row: ExpectedRow) -> tuple[str, ...]:
    """The reading without its condition, which stands above; values, unit and band."""
    text = row.text.partition(" with ")[0]
    unit = "" if row.unit in STATES else in_one_unit([v.value for v in row.values], row.unit)[1]
    return (text, *_texts(row, row.values), unit, _band(row))


def _texts(row: ExpectedRow, values: Sequence[Expected]) -> list[str]:
    if row.unit in STATES:
        return [_state(value, STATES[row.unit]) for value in values]
    return in_one_unit([value.value for value in values], row.unit)[0]


def _state(value: Expected, states: States) -> str:
    """Near its set point a lamp may be lit or dark."""
    return "either" if value.low != value.high else states.word(value.value)


def _band(row: ExpectedRow) -> str:
    if row.unit in STATES:
        return ""
    widest = max(max(value.high - value.value, value.value - value.low) for value in row.values)
    digits = 3 if row.unit == "A" else 2  # two decimals of a milliampere, as its value has
    return format_quantity(widest, row.unit, digits) if widest < float("inf") else ""
