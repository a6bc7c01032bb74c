"""Rows of a table as fields, and what is said of each row in the report."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from diagnose.loops.index.cells import cleaned
from diagnose.loops.index.headings import Columns, plain_heading
from diagnose.loops.index.tables import Grid

DEFAULT, READ_AS, PROBLEM, UNUSED, DIFFERS = "default", "read as", "problem", "unused", "differs"
"""What a note tells: something assumed, mended, wrong, of no use, or other than it was."""

NEW, CHANGED, SAME, KEPT, REJECTED, USED, SKIPPED = (
    "new", "changed", "unchanged", "kept", "rejected", "used", "skipped",
)  # fmt: skip
"""What became of a row: a sheet new, changed, as it was, or kept because it was edited by hand."""


@dataclass(frozen=True, slots=True)
class Note:
    """One thing said of a row: the column, what kind of thing, and a sentence."""

    column: str
    kind: str
    text: str


@dataclass(slots=True)
class Entry:
    """One row of a table: its number in the file, its cells by field, and what is said of it."""

    table: str
    number: int
    cells: dict[str, str]
    labels: Mapping[str, str]
    notes: list[Note] = field(default_factory=list)
    result: str = USED

    @property
    def tag(self) -> str:
        """The tag as far as it is known."""
        return self.cells.get("tag", "")

    def note(self, name: str, kind: str, text: str) -> None:
        """Say something about the column of a field."""
        self.notes.append(Note(self.labels.get(name, name), kind, text))

    def reject(self, name: str, text: str) -> None:
        """The row cannot be used, and why."""
        self.note(name, PROBLEM, text)
        self.result = REJECTED

    @property
    def good(self) -> bool:
        """Whether the row is used so far."""
        return self.result not in (REJECTED, SKIPPED)


def entries(
    grid: Grid, table: str, columns: Columns, down: tuple[str, ...] = ()
) -> Iterator[Entry]:
    """The rows below the headings; blank ones are passed over, titles between them skipped."""
    above: dict[str, str] = {}
    heads = {name: plain_heading(cleaned(grid.rows[columns.row][at]))
             for name, at in columns.at.items()}  # fmt: skip
    for index in range(columns.row + 1, len(grid.rows)):
        row = grid.rows[index]
        if not any(cell.strip() for cell in row):
            continue
        # A hyphen says nothing, but not where it is the sign of a core.
        cells = {
            name: row[at].strip() if name == "core" else cleaned(row[at])
            for name, at in columns.at.items()
        }
        entry = Entry(table, index + 1, cells, columns.labels)
        if _repeated(cells, heads):
            entry.result = SKIPPED
            entry.note("", UNUSED, "the headings stand here once more")
        elif len({cell.strip() for cell in row if cell.strip()}) == 1:
            entry.result = SKIPPED
            entry.note("", UNUSED, "a title between the rows")
        else:
            for name in down:
                if name in cells:
                    cells[name] = above[name] = cells[name] or above.get(name, "")
        yield entry


def _repeated(cells: Mapping[str, str], heads: Mapping[str, str]) -> bool:
    same = [name for name, cell in cells.items() if cell and plain_heading(cell) == heads[name]]
    return len(same) >= max(1, len([cell for cell in cells.values() if cell]) - 1)
