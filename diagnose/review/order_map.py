"""What the columns and the codes of a company's work orders mean: a map, in TOML.

::

    [columns]                     # ours = theirs; without a map, theirs have our names
    number = "Order"
    day    = "Reported on"
    tag    = "Location"
    mode   = "Failure code"

    [format]
    day       = "%d.%m.%Y"
    separator = ";"

    [mode]                        # code = term; likewise mechanism, cause, detection, activity,
    "K1" = "no output"            # status, and fault = "kind: fault mode"
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from diagnose.casework.events import ENDINGS
from diagnose.errors import did_you_mean
from diagnose.loops.kind import Kind
from diagnose.loops.names import shown
from diagnose.loops.sheet_text import Problems, Table, read_table
from diagnose.review.rows import OPEN
from diagnose.review.vocabulary import FIELDS

NEEDED = ("number", "day", "tag")
KNOWN = (*NEEDED, "loop_type", "place", "status", "fault", *FIELDS, "note")
CODED = ("status", "fault", *FIELDS)


@dataclass(frozen=True, slots=True)
class OrderMap:
    """How a file is to be read: ``columns`` ours -> theirs, ``codes`` field -> code -> term."""

    columns: Mapping[str, str] = field(default_factory=lambda: {name: name for name in KNOWN})
    codes: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    day: str = "%Y-%m-%d"
    separator: str = ","


def read_map(path: Path) -> OrderMap:
    """The map in a file; SheetError for its mistakes."""
    problems = Problems(str(path))
    top = Table(problems, "", read_table(path))
    top.only(("columns", "format", *CODED))
    columns = top.table("columns", 'columns = { number = "Order" }')
    Table(problems, "columns", columns).only(KNOWN)
    for name in NEEDED:
        if name not in columns:
            problems.add(f"columns: {name}", f'it is missing; write {name} = "their name"')
    style = Table(problems, "format", top.table("format", 'format = { day = "%d.%m.%Y" }'))
    style.only(("day", "separator"))
    day, separator = style.text("day", "%Y-%m-%d"), style.text("separator", ",")
    if len(separator) != 1 and separator != "tab":
        style.note("separator", 'write one sign, such as ";", or "tab"')
    codes = {name: top.table(name, f'{name} = {{ "K1" = "term" }}') for name in CODED}
    for code, meaning in codes["fault"].items():
        if fault_of(meaning) is None:
            problems.add(f"fault: {shown(code)}", no_fault(meaning))
    for code, meaning in codes["status"].items():
        if meaning not in (*ENDINGS, OPEN):
            near = did_you_mean(meaning, (*ENDINGS, OPEN))
            problems.add(f"status: {shown(code)}", f"no case stands '{shown(meaning)}'{near}")
    problems.check()
    return OrderMap(columns, codes, day, "\t" if separator == "tab" else separator)


def fault_of(term: str) -> tuple[str, str] | None:
    """``core: open`` as (kind, fault mode); None if no kind fails so."""
    import diagnose.loops.kinds  # noqa: F401  (registers the kinds)

    kind, _, mode = (word.strip() for word in term.partition(":"))
    law = Kind.registry.get(kind)
    return (kind, mode) if law and mode in {item.name for item in law.modes} else None


def no_fault(term: str) -> str:
    """Why a term is no fault, and what is near it."""
    kind, _, mode = (word.strip() for word in term.partition(":"))
    if kind not in Kind.registry:
        near = did_you_mean(kind, Kind.registry)
        return f"'{shown(term)}' is no 'kind: fault mode' such as 'core: open'{near}"
    modes = [item.name for item in Kind.registry[kind].modes]
    return f"'{kind}' does not fail as '{shown(mode)}'{did_you_mean(mode, modes)}"
