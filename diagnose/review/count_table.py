"""Counts of failures as a table, causes down and populations across, as reports print them.

A column is headed by its population (``flow (873)``), the last line may be a total.  A column whose
causes do not add up to its total is reported; it is neither mended nor left out.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from diagnose.loops.names import shown
from diagnose.review.refused import ReviewError
from diagnose.review.statistics import rate_interval
from diagnose.review.tables import Estimate
from diagnose.review.work_orders import text_of

_TOTAL = re.compile(r"\s*(printed\s+)?(total|sum)\s*$", re.IGNORECASE)
_HEAD = re.compile(r"(?P<name>.*?)\s*\((?P<units>\d+)\)\s*$")
EMPTY = {"", "-"}
"""Cells that say that there was none."""


@dataclass(frozen=True, slots=True)
class CountColumn:
    """One population: its size, the counts by cause, the total as printed (None: not printed)."""

    name: str
    units: int
    counts: tuple[tuple[str, int], ...]
    printed: int | None

    @property
    def added(self) -> int:
        """What the causes add up to."""
        return sum(count for _, count in self.counts)

    @property
    def adds_up(self) -> bool:
        """Whether the printed total, if there is one, is what the causes add up to."""
        return self.printed is None or self.printed == self.added

    def rate(self, years: float, confidence: float) -> Estimate:
        """Failures per unit and year, from the printed total where there is one."""
        failures = self.added if self.printed is None else self.printed
        return rate_interval(failures, self.units * years, confidence)

    def problem(self) -> str:
        """A sentence where it does not add up; empty where it does."""
        if self.adds_up:
            return ""
        return f"{self.name}: the causes add up to {self.added}, the total says {self.printed}"


def read_counts(path: Path, separator: str = ",") -> tuple[CountColumn, ...]:
    """The columns of a table of counts in a CSV file.

    Raises
    ------
    ReviewError
        A head without its population, a cell that is no whole number, lines of unequal length.
    """
    where = shown(path, 200)
    lines = csv.reader(io.StringIO(text_of(path)), delimiter=separator)
    rows = [(lines.line_num, [cell.strip() for cell in cells]) for cells in lines]
    rows = [(number, cells) for number, cells in rows if any(cells)]
    if len(rows) < 2 or len(rows[0][1]) < 2:
        raise ReviewError(f"{where}: a head with populations and a line for each cause belong here")
    (_, head), *body = rows
    heads = [_head(cell, where) for cell in head[1:]]
    for number, cells in body:
        if len(cells) != len(head):
            raise ReviewError(
                f"{where}: line {number} has {len(cells)} cells; the head has {len(head)}"
            )
    return tuple(_column(n, name, units, body, where) for n, (name, units) in enumerate(heads, 1))


def _head(cell: str, where: str) -> tuple[str, int]:
    found = _HEAD.match(cell)
    if not found or not found["name"] or not int(found["units"]):
        raise ReviewError(f"{where}: '{shown(cell)}' names no population; write: flow (873)")
    return found["name"], int(found["units"])


def _column(
    place: int, name: str, units: int, body: Sequence[tuple[int, list[str]]], where: str
) -> CountColumn:
    counts: list[tuple[str, int]] = []
    printed = None
    for number, cells in body:
        count = _count(cells[place], f"{where}: line {number}, {name}")
        if _TOTAL.match(cells[0]):
            printed = count
        else:
            counts.append((cells[0], count))
    return CountColumn(name, units, tuple(counts), printed)


def _count(cell: str, where: str) -> int:
    if cell in EMPTY:
        return 0
    if not (cell.isascii() and cell.isdigit()):
        raise ReviewError(f"{where}: '{shown(cell)}' is no whole number, nor '-' for none")
    return int(cell)
