"""The mapping file: which column means what, which word is which loop type, what to assume."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from diagnose.errors import did_you_mean
from diagnose.library import type_names
from diagnose.loops.index.cells import COMMA, EITHER, POINT, known_unit
from diagnose.loops.index.fields import TABLES, field_of
from diagnose.loops.names import shown
from diagnose.loops.sheet_text import Problems, Table, read_table

MAPPING_FILE = "index.toml"
"""Its name in a plant folder."""

_SECTIONS = (*TABLES, "types", "letters", "units", "defaults", "reading")
Words = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Mapped:
    """How an index is to be read.

    ``columns``: table -> field -> heading.  ``types``: word of the index -> loop type; ``letters``:
    first letters of a tag -> loop type, where the index says nothing.  ``units``: field -> unit of
    its bare numbers.  ``defaults``: field -> text for all loops; ``by_type`` for those of one type.
    ``down``: fields in which an empty cell means the one above.
    """

    columns: Mapping[str, Words]
    types: Words = field(default_factory=dict)
    letters: Words = field(default_factory=dict)
    units: Words = field(default_factory=dict)
    defaults: Words = field(default_factory=dict)
    by_type: Mapping[str, Words] = field(default_factory=dict)
    down: tuple[str, ...] = ()
    decimal: str = ""

    def default(self, name: str, loop_type: str) -> str:
        """What to assume for a field; empty where the mapping says nothing."""
        return self.by_type.get(loop_type, {}).get(name, self.defaults.get(name, ""))


def read_mapping(path: Path) -> Mapped:
    """The mapping that a file describes.

    Raises
    ------
    SheetError
        Every problem of the file, with key and sentence.
    """
    problems = Problems(str(path))
    top = Table(problems, "", read_table(path))
    top.only(_SECTIONS)
    types = type_names(path.parent / "models")
    columns = {table: _columns(top, table) for table in TABLES if table in top.raw}
    if "tag" not in columns.get("index", {}):
        problems.add("index: tag", 'it is missing; write tag = "heading of the column of tags"')
    defaults, by_type = _defaults(top, types)
    reading = _sub(top, "reading")
    reading.only(("decimal", "fill_down"))
    found = Mapped(
        columns,
        _typed(top, "types", types),
        _typed(top, "letters", types),
        _units(top),
        defaults,
        by_type,
        _down(reading),
        _decimal(reading),
    )
    problems.check()
    return found


def _sub(top: Table, key: str) -> Table:
    value = top.raw.get(key, {})
    if not isinstance(value, dict):
        top.note(key, f"a table belongs here; write it as [{key}]")
        value = {}
    return Table(top.problems, key, value)


def _columns(top: Table, key: str) -> dict[str, str]:
    table = _sub(top, key)
    table.only([item.name for item in TABLES[key]])
    return {name: table.text(name, example="heading of the column") for name in table.raw}


def _typed(top: Table, key: str, types: tuple[str, ...]) -> dict[str, str]:
    table = _sub(top, key)
    found = {}
    for word in table.raw:
        name = table.text(word, example="two-wire-input")
        if name and name not in types:
            table.note(
                shown(word), f"there is no loop type '{shown(name)}'{did_you_mean(name, types)}"
            )
        found[word] = name
    return found


def _units(top: Table) -> dict[str, str]:
    table = _sub(top, "units")
    known = {item.name: item.unit for item in TABLES["index"] if item.unit}
    table.only(known)
    found = {name: table.text(name, example="m") for name in table.raw if name in known}
    for name, unit in found.items():
        if unit and not known_unit(unit, known[name]):
            table.note(name, f"'{shown(unit)}' is no unit of it; write for example {known[name]}")
    return found


def _defaults(top: Table, types: tuple[str, ...]) -> tuple[dict[str, str], dict[str, Words]]:
    table = _sub(top, "defaults")
    fields = [item.name for item in TABLES["index"] if item.name != "tag"]
    everywhere: dict[str, str] = {}
    by_type: dict[str, Words] = {}
    for key, value in table.raw.items():
        if isinstance(value, dict):
            if key not in types:
                table.note(shown(key), f"there is no such loop type{did_you_mean(key, types)}")
            inner = Table(top.problems, f"defaults: {shown(key)}", value)
            inner.only(fields)
            by_type[key] = {name: inner.text(name, example="120 m") for name in value}
        else:
            everywhere[key] = table.text(key, example="120 m")
    Table(top.problems, "defaults", everywhere).only(fields)
    return everywhere, by_type


def _down(reading: Table) -> tuple[str, ...]:
    names = reading.texts("fill_down", '["supply", "cabinet"]')
    known = [item.name for item in TABLES["index"]]
    for name in names:
        if name not in known:
            reading.note("fill_down", f"'{shown(name)}' is no column{did_you_mean(name, known)}")
    return names


def _decimal(reading: Table) -> str:
    mark = reading.text("decimal", "")
    if mark not in ("", POINT, COMMA, EITHER):
        reading.note("decimal", f"'{shown(mark)}' is none; write {POINT}, {COMMA} or {EITHER}")
    return mark


_HEAD = """\
# How the instrument index of this plant is read: what is meant = heading of its column.
# Headings under a merged one may be written "group / heading".  Other tables of this file:
#   [types]     word in the column of types = loop type;   [letters]  LT = "two-wire-input"
#   [units]     unit of numbers without one: length = "ft"
#   [defaults]  what to take for an empty cell; [defaults.two-wire-input] for one type
#   [reading]   decimal = "point", "comma" or "either"; fill_down = ["supply"]: empty means as above
"""


def mapping_text(mapped: Mapped) -> str:
    """A mapping file, commented."""
    return _HEAD + "\n".join(_lines(mapped)) + "\n"


def _lines(mapped: Mapped) -> Iterator[str]:
    for table, columns in mapped.columns.items():
        yield from ("", f"[{table}]")
        for name, heading in columns.items():
            text = json.dumps(heading, ensure_ascii=False)
            yield f"{name:<14} = {text:<28} # {_title(table, name)}"
    tables = {"types": mapped.types, "letters": mapped.letters, "units": mapped.units,
              "defaults": mapped.defaults}  # fmt: skip
    for key, words in tables.items():
        if words:
            yield from ("", f"[{key}]")
            yield from (f"{json.dumps(a, ensure_ascii=False)} = {json.dumps(b, ensure_ascii=False)}"
                        for a, b in words.items())  # fmt: skip


def _title(table: str, name: str) -> str:
    return field_of(table, name).title
