"""Terminal lists and cable lists: further tables that go with an index."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import isclose

from diagnose.errors import QuantityError, did_you_mean
from diagnose.loops.index.cells import name_text, quantity_text
from diagnose.loops.index.fields import field_of
from diagnose.loops.index.roles import ROLES, Roles
from diagnose.loops.index.rows import PROBLEM, UNUSED, Entry
from diagnose.loops.index.wanted import Wanted
from diagnose.loops.names import NAME, name_fault, shown
from diagnose.quantities import find_unit, parse_quantity

WORDS = {
    "+": "plus", "pos": "plus", "positive": "plus", "p": "plus",
    "-": "minus", "neg": "minus", "negative": "minus", "common": "minus", "com": "minus",
    "s": "signal", "sig": "signal", "out": "signal",
    "l": "live", "line": "live", "n": "neutral",
}  # fmt: skip
"""What terminal lists call a core (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Cable:
    """A row of a cable list."""

    entry: Entry
    said: Mapping[str, str]


def key_of(name: str) -> str:
    """A name without case and separators: ``JB 9`` and ``jb-9`` are one."""
    return re.sub(r"[\s\-_.]", "", name).casefold()


def cables_of(rows: Iterable[Entry], mark: str, units: Mapping[str, str]) -> dict[str, Cable]:
    """The cables of a list by name; of a cable that is there twice, told differently, none."""
    found: dict[str, Cable] = {}
    for entry in rows:
        if not entry.good:
            continue
        name = entry.cells.get("cable", "")
        if not name:
            entry.reject("cable", "the row names no cable")
            continue
        said = _cable_values(entry, mark, units)
        first = found.setdefault(key_of(_named(name)), Cable(entry, said))
        if first.entry is not entry:
            _twice(name, first, entry, said)
    return {name: cable for name, cable in found.items() if cable.entry.good}


def _named(name: str) -> str:
    try:
        return name_text(name, "cable")
    except ValueError:
        return name


def _cable_values(entry: Entry, mark: str, units: Mapping[str, str]) -> dict[str, str]:
    said = {}
    for name in ("length", "core_area"):
        cell, field = entry.cells.get(name, ""), field_of("cables", name)
        try:
            if cell:
                unit = units.get(name, field.unit)
                said[name] = quantity_text(cell, mark, unit, field.most)
        except QuantityError as error:
            entry.note(name, PROBLEM, f"{error}; it is left out")
    return said


def _twice(name: str, first: Cable, entry: Entry, said: Mapping[str, str]) -> None:
    row = first.entry.number
    if said == first.said:
        entry.reject("cable", f"{shown(name)} stands in row {row} already, with the same values")
        return
    entry.reject("cable", f"{shown(name)} stands in row {row} with other values; keep one of them")
    if first.entry.good:
        first.entry.reject(
            "cable", f"{shown(name)} stands in row {entry.number} with other values; keep one"
        )


def apply_cables(entry: Entry, cables: Mapping[str, Cable], units: Mapping[str, str]) -> set[str]:
    """Lengths and cross-sections of the list put into the cells of a row; the cables it names."""
    used = set()
    for field, length in (("cable", "length"), ("branch", "branch_length")):
        name = entry.cells.get(field, "")
        key = key_of(_named(name))
        if not name or not cables:
            continue
        if key not in cables:
            entry.note(field, PROBLEM, f"{shown(name)} is not in the cable list")
            continue
        used.add(key)
        told = cables[key].said
        pairs = [(length, "length"), ("core_area", "core_area")][: 2 if field == "cable" else 1]
        for own, other in pairs:
            if other in told:
                _take(entry, own, told[other], units)
    return used


def _take(entry: Entry, name: str, text: str, units: Mapping[str, str]) -> None:
    """The list knows its cables; where the index tells something else, that is said."""
    own = entry.cells.get(name, "")
    field = field_of("index", name)
    if own and not _alike(own, text, units.get(name, field.unit)):
        entry.note(name, PROBLEM, f"'{shown(own)}' here, {text} in the cable list; that is taken")
    entry.cells[name] = text


def _alike(own: str, text: str, unit: str) -> bool:
    """Whether two texts mean the same within a per cent: feet were rounded."""
    try:
        base = find_unit(unit)
        one, two = (quantity_text(each, "either", unit) for each in (own, text))
        values = [parse_quantity(each, base[0] if base else unit) for each in (one, two)]
    except QuantityError:
        return False
    return isclose(*values, rel_tol=0.01)


def apply_terminals(
    rows: Sequence[Entry], loops: Mapping[str, Wanted], strips: Mapping[str, str]
) -> None:
    """Terminals of a list given to the loops; ``loops`` and their ``strips`` by ``key_of`` tag."""
    owners: dict[str, tuple[str, int]] = {}
    for entry in rows:
        if entry.good:
            key = key_of(entry.tag)
            if not entry.tag:
                entry.reject("tag", "the row has no tag")
            elif key not in loops:
                known = did_you_mean(entry.tag, [loop.tag for loop in loops.values()])
                entry.reject("tag", f"no sheet is made for {shown(entry.tag)}{known[:120]}")
            else:
                _land(entry, loops[key], strips.get(key, ""), owners)


def _land(entry: Entry, loop: Wanted, strip: str, owners: dict[str, tuple[str, int]]) -> None:
    cores = ROLES.get(loop.type, Roles()).cores
    word = entry.cells.get("core", "")
    core = WORDS.get(word.casefold(), word)
    found = next((name for name in cores if name.casefold() == core.casefold()), None)
    if found is None:
        known = f"; it has {', '.join(cores)}" if cores else ""
        entry.reject("core", f"a {loop.type} has no core '{shown(word)}'{known}")
        return
    ends = zip(
        cores[found], (("strip", "terminal", strip), ("box", "box_terminal", "")), strict=True
    )
    for old, (block, number, usual) in ends:
        name = _terminal(entry, block, number, usual)
        if name and not old:
            entry.note(number, UNUSED, f"a {loop.type} has no terminal for it")
        elif name and _free(entry, number, name, loop, owners):
            loop.rename[old] = name


def _terminal(entry: Entry, block: str, number: str, usual: str) -> str:
    """``X101:17`` from two cells or from one; empty where nothing is said or it is no name."""
    cell = entry.cells.get(number, "")
    if not cell:
        return ""
    try:
        own = entry.cells.get(block) or usual
        name = cell if ":" in cell else f"{name_text(own, block)}:{cell}"
    except ValueError as error:
        entry.note(block, PROBLEM, f"{error}; the terminal is left out")
        return ""
    name = re.sub(r"\s+", "", name)
    fault = name_fault(NAME, name)
    if fault:
        entry.note(number, PROBLEM, f"{fault}; the terminal is left out")
    return "" if fault else name


def _free(
    entry: Entry, field: str, name: str, loop: Wanted, owners: dict[str, tuple[str, int]]
) -> bool:
    """Whether nobody has the terminal yet; the first row that names it has it."""
    tag, row = owners.setdefault(name.casefold(), (loop.tag, entry.number))
    if (tag, row) == (loop.tag, entry.number):
        return True
    entry.reject(field, f"terminal {name} is that of {tag} already, row {row}")
    return False
