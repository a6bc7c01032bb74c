"""Rates of faults that a site has learned: ``priors.toml`` in the plant folder.

The file is written by ``diagnose priors --write`` and may be written by hand::

    [priors]
    written = 2025-01-31
    failures = 57

    [[rate]]
    kind = "core"
    mode = "open"
    rate = 1.7           # in the unit of the assumed rates: a weight among the faults of a loop
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from diagnose.errors import did_you_mean
from diagnose.loops.kind import FaultMode, Kind
from diagnose.loops.loop import Loop
from diagnose.loops.names import shown
from diagnose.loops.sheet_text import Problems, Table, kind_of, read_table

FILE = "priors.toml"

FURTHEST = 20.0
"""How far a rate may lie from the assumed one, as a factor either way."""

_TOLD = ("written", "tool", "plants", "first", "last", "cases", "failures", "strength", "note")
_KEYS = ("kind", "mode", "rate", "assumed", "confirmed", "expected", "low", "high", "years")


@dataclass(frozen=True, slots=True)
class SiteRates:
    """Rates by (kind, mode) in the unit of ``FaultMode.rate``; empty where there is no file.

    ``failures`` is how many confirmed ones they rest on, ``written`` the day as text.
    """

    rates: Mapping[tuple[str, str], float] = field(default_factory=dict)
    failures: int = 0
    written: str = ""

    def of(self, loop: Loop) -> dict[tuple[str, str], float]:
        """The rates of a loop by (part, mode), as the engine takes them."""
        return {
            (part.name, mode.name): self.rates[part.kind.name, mode.name]
            for part in loop.parts
            for mode in part.kind.modes
            if (part.kind.name, mode.name) in self.rates
        }

    def __str__(self) -> str:
        day = f", written {self.written}" if self.written else ""
        return f"rates of faults are the site's own ({FILE}: {self.failures} failures{day})"


def site_rates(folder: Path) -> SiteRates:
    """The rates in the ``priors.toml`` of a plant folder; none where it has no such file.

    Raises
    ------
    SheetError
        The file has mistakes: all of them, each with its key and what would be right.
    """
    path = folder / FILE
    return read_rates(path) if path.is_file() else SiteRates()


def read_rates(path: Path) -> SiteRates:
    """The rates in a file; SheetError for its mistakes."""
    import diagnose.loops.kinds  # noqa: F401  (registers the kinds)

    problems = Problems(str(path))
    top = Table(problems, "", read_table(path))
    top.only(("priors", "rate"))
    head = Table(problems, "priors", _mapping(top, "priors"))
    head.only(_TOLD)
    entries = top.raw.get("rate", [])
    if not isinstance(entries, list):
        top.note("rate", f"{kind_of(entries)} stands here; write [[rate]]")
        entries = []
    rates: dict[tuple[str, str], float] = {}
    for number, entry in enumerate(entries, 1):
        table = Table(problems, f"rate {number}", entry if isinstance(entry, dict) else {})
        _add(table, rates)
    failures = int(head.number("failures", 0, 10**9, "57"))
    problems.check()
    return SiteRates(rates, failures, str(head.raw.get("written", "")))


def _mapping(top: Table, key: str) -> dict[str, Any]:
    value = top.raw.get(key, {})
    if isinstance(value, dict):
        return value
    top.note(key, f"a table belongs here; write it as [{key}]")
    return {}


def _add(table: Table, rates: dict[tuple[str, str], float]) -> None:
    table.only(_KEYS)
    kind, name = table.text("kind", example="core"), table.text("mode", example="open")
    mode = _mode(table, kind, name)
    rate = table.number("rate", -1.0, 1e9, "1.7")
    if mode is None:
        return
    if "rate" not in table.raw:
        table.note("rate", "it is missing; write rate = 1.7")
    elif not mode.rate / FURTHEST <= rate <= mode.rate * FURTHEST:
        low, high = mode.rate / FURTHEST, mode.rate * FURTHEST
        table.note("rate", f"{rate:g} is not between {low:g} and {high:g}, {FURTHEST:g} times the "
                   "assumed rate either way")  # fmt: skip
    elif (kind, name) in rates:
        table.note("mode", f"'{name}' of '{kind}' has a rate already")
    else:
        rates[kind, name] = rate


def _mode(table: Table, kind: str, name: str) -> FaultMode | None:
    law = Kind.registry.get(kind)
    if law is None:
        near = did_you_mean(kind, Kind.registry)
        table.note("kind", f"no kind is called '{shown(kind)}'{near}")
        return None
    found = {mode.name: mode for mode in law.modes}
    if name not in found:
        table.note("mode", f"'{kind}' does not fail so{did_you_mean(name, found)}")
    return found.get(name)
