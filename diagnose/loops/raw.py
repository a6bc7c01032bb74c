"""The sections of a sheet as written, with places, parts and points by name."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from diagnose.loops.names import NAME, PLACE, TAG, name_fault
from diagnose.loops.sheet_text import MOST_ENTRIES, Problems, Table, kind_of

SECTIONS = ("loop", "shares", "place", "part", "point", "neighbour", "omit", "rename")
Entries = dict[str, dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Raw:
    """A sheet as written, with its entries by name; values are not checked yet."""

    loop: dict[str, Any]
    shares: dict[str, Any]
    places: Entries
    parts: Entries
    points: Entries
    neighbours: Entries
    omit: tuple[str, ...] = ()
    rename: Mapping[str, str] | None = None

    def content(self) -> dict[str, Any]:
        """Everything that makes the loop, as plain tables."""
        return {
            "loop": self.loop,
            "shares": self.shares,
            "place": self.places,
            "part": self.parts,
            "point": self.points,
            "neighbour": self.neighbours,
        }


def structure(table: dict[str, Any], problems: Problems) -> Raw:
    """Sort a TOML table into sections and entries by name; problems are noted."""
    top = Table(problems, "", table)
    top.only(SECTIONS)
    loop = _section(top, "loop")
    # Keys typed below [loop] belong to it in TOML; what is meant is clear.
    head = Table(
        problems, "", {**{k: loop.pop(k) for k in ("omit", "rename") if k in loop}, **table}
    )
    if "loop" not in table:
        problems.add("loop", "the sheet has no [loop] table; begin with one")
    return Raw(
        loop=loop,
        shares=_section(top, "shares"),
        places=_entries(top, "place", PLACE),
        parts=_entries(top, "part", NAME),
        points=_entries(top, "point", NAME),
        neighbours=_entries(top, "neighbour", TAG),
        omit=head.texts("omit", '["FV1", "FV2"]'),
        rename=head.table("rename", '{ TX = "LT-214" }'),
    )


def _section(top: Table, key: str) -> dict[str, Any]:
    value = top.raw.get(key, {})
    if isinstance(value, dict):
        return dict(value)
    top.note(key, f"{kind_of(value)} stands here; write it as a table, [{key}]")
    return {}


def _entries(top: Table, key: str, pattern: re.Pattern[str]) -> Entries:
    value = top.raw.get(key, [])
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        top.note(key, f"{kind_of(value)} stands here; write each {key} under its own [[{key}]]")
        return {}
    if len(value) > MOST_ENTRIES:
        top.note(key, f"there are {len(value)} of them; a sheet holds {MOST_ENTRIES} at most")
        return {}
    entries: Entries = {}
    for number, item in enumerate(value, 1):
        name = _entry_name(Table(top.problems, f"{key} {number}", item), pattern)
        if name in entries:
            top.problems.add(f"{key} {name}", f"this {key} is there twice; rename or remove one")
        elif name:
            entries[name] = {k: v for k, v in item.items() if k != "name"}
    return entries


_EXAMPLES = {PLACE: "cabinet", NAME: "X21:7", TAG: "LT-216"}


def _entry_name(table: Table, pattern: re.Pattern[str]) -> str:
    name = table.text("name", example=_EXAMPLES[pattern])
    fault = name_fault(pattern, name) if name else ""
    if fault:
        table.note("name", fault)
    return "" if fault else name


def nodes_of(parts: Entries) -> tuple[str, ...]:
    """The nodes on the pins of parts, in order of first mention."""
    pins = [part["pins"] for part in parts.values() if isinstance(part.get("pins"), dict)]
    return tuple(
        dict.fromkeys(node for table in pins for node in table.values() if isinstance(node, str))
    )
