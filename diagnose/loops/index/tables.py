"""Rows of cells out of a CSV file or a spreadsheet, whatever program wrote it."""

from __future__ import annotations

import csv
import datetime
import io
import re
import zipfile
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose.errors import DiagnoseError, did_you_mean
from diagnose.loops.names import shown

LARGEST = 50_000_000
UNPACKED = 500_000_000
"""Bytes of a file, and of what a packed one unpacks to; 2,000 loops need a hundredth of it."""

MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = 50_000, 300, 1_000
SEPARATORS = (";", ",", "\t", "|")
MOST_CELLS = 20_000_000
_REFERENCE = re.compile(rb"""<(?:\w+:)?c\b[^<>]*?\br\s*=\s*["']([A-Z]{1,3})([0-9]{1,7})["']""")
PACKED, COMPOUND = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"


class TableError(DiagnoseError):
    """A file that no table can be read from."""

    def __init__(self, path: Path, reason: str) -> None:
        self.path, self.reason = path, reason
        super().__init__(f"{shown(path, 200)}: {reason}")


class Exact(str):
    """A number as a spreadsheet holds it: its decimal mark is a point."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells as text, row by row, as long as each other; ``form`` says how the file was read."""

    path: Path
    rows: tuple[tuple[str, ...], ...]
    form: str

    @property
    def name(self) -> str:
        """The name of the file, fit for a message."""
        return shown(self.path.name, 80)


def read_grid(path: Path | str, sheet: str | None = None) -> Grid:
    """The table in a file: CSV with any usual separator and encoding, or a spreadsheet.

    ``sheet`` names the page of a spreadsheet; without it the first page that holds anything.

    Raises
    ------
    TableError
        The file is absent, too large, damaged, or has no such page.
    """
    path = Path(path)
    raw = _bytes(path)
    if raw.startswith((PACKED, COMPOUND)):
        return _workbook(path, raw, sheet)
    if sheet is not None:
        raise TableError(path, "it is a text file; it has no pages to choose from")
    return _text(path, raw)


def _bytes(path: Path) -> bytes:
    try:
        if not path.is_file():
            raise TableError(path, "there is no such file")
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise TableError(path, f"it cannot be read: {reason}") from error
    if len(raw) > LARGEST:
        raise TableError(path, f"it is larger than {LARGEST // 1_000_000} MB")
    return raw


# -- text ----------------------------------------------------------------------------------------


def _text(path: Path, raw: bytes) -> Grid:
    text, encoding = decoded(raw)
    if "\0" in text:
        raise TableError(path, "it is no text and no spreadsheet; save it as CSV or XLSX")
    separator = _separator(text)
    try:
        rows = list(_limited(path, csv.reader(io.StringIO(text), delimiter=separator)))
    except csv.Error as error:
        raise TableError(path, f"it is no CSV: {shown(error, 100)}") from error
    named = {"\t": "tab"}.get(separator, separator)
    return Grid(path, _even(rows), f"CSV, {encoding}, separated by {named}")


def decoded(raw: bytes) -> tuple[str, str]:
    """The text of a file and the name of its encoding: by its mark, else UTF-8, else CP1252."""
    for mark, encoding in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if raw.startswith(mark):
            return raw.decode(encoding, errors="replace"), "UTF-16"
    try:
        name = "UTF-8 with byte order mark" if raw.startswith(b"\xef\xbb\xbf") else "UTF-8"
        return raw.decode("utf-8-sig"), name
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace"), "CP1252"


def _separator(text: str) -> str:
    """The separator that cuts most of the first lines into as many cells: more than one, if any."""
    lines = [line for line in text.splitlines()[:200] if line.strip()][:60]

    def fit(separator: str) -> tuple[int, int]:
        widths = [len(row) for row in csv.reader(lines, delimiter=separator)]
        usual = max(set(widths), key=lambda width: (width > 1, widths.count(width), width))
        return (widths.count(usual) if usual > 1 else 0), usual

    return max(SEPARATORS, key=fit) if lines else ","


# -- spreadsheets --------------------------------------------------------------------------------


def _workbook(path: Path, raw: bytes, sheet: str | None) -> Grid:
    # python-calamine and not openpyxl: it knows merged cells, which openpyxl's read-only mode does
    # not, reads old XLS as well, and is loaded in a hundredth of a second.
    from python_calamine import CalamineError, CalamineWorkbook

    if raw.startswith(PACKED):
        _bounded(path, raw)
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(raw))
        page = _page(path, book, sheet)
        rows = [list(row) for row in _limited(path, page.to_python(skip_empty_area=False))]
        merged = page.merged_cell_ranges or []
    except (CalamineError, ValueError, OSError, EOFError) as error:
        raise TableError(path, f"it is no spreadsheet: {shown(error, 100)}") from error
    cells = [[_cell(value) for value in row] for row in rows]
    for (top, left), (bottom, right) in merged:
        _spread(cells, top, left, bottom, right)
    return Grid(path, _even(cells), f"page {shown(page.name)} of the spreadsheet")


def _bounded(path: Path, raw: bytes) -> None:
    """Refuse what unpacks to far more than any index, or stretches over far more cells.

    The reader lays a page out in full: one stray value in the last corner would take all memory.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as packed:
            if sum(item.file_size for item in packed.infolist()) > UNPACKED:
                raise TableError(path, f"it unpacks to more than {UNPACKED // 1_000_000} MB")
            names = packed.namelist()
            if "xl/workbook.xml" not in names:
                raise TableError(path, "it is no XLSX; save it as XLSX or CSV")
            pages = [name for name in names if name.startswith("xl/worksheets/")]
            if any(_cells(packed.read(name)) > MOST_CELLS for name in pages):
                raise TableError(
                    path, "a cell far below or beside its table holds something; delete that"
                )
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError, zlib.error) as error:
        raise TableError(path, "it is a damaged spreadsheet; save it again") from error


def _cells(page: bytes) -> int:
    """How many cells a page stretches over, by the references of those that it holds."""
    rows = columns = 0
    for letters, number in _REFERENCE.findall(page):
        rows = max(rows, int(number))
        columns = max(columns, sum((c - 64) * 26**n for n, c in enumerate(reversed(letters))))
    return rows * columns


def _page(path: Path, book: Any, name: str | None) -> Any:
    names = [str(each) for each in book.sheet_names]
    if name is not None:
        if name not in names:
            sentence = f"it has no page '{shown(name)}'{did_you_mean(name, names)}"
            raise TableError(path, sentence)
        return book.get_sheet_by_name(name)
    pages = (book.get_sheet_by_name(each) for each in names)
    found = next((page for page in pages if page.height), None)
    if found is None:
        raise TableError(path, "all its pages are empty")
    return found


def _cell(value: object) -> str:
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        return Exact(f"{value:.12g}")
    if isinstance(value, datetime.date | datetime.time | datetime.timedelta):
        return str(value)
    return str(value)


def _spread(cells: list[list[str]], top: int, left: int, bottom: int, right: int) -> None:
    """What is merged holds its text in all its cells; never more than the table has."""
    rows = cells[top : bottom + 1]
    if not rows or left >= len(rows[0]):
        return
    text = rows[0][left]
    for row in rows:
        for column in range(left, min(right + 1, len(row))):
            row[column] = text


# -- both ----------------------------------------------------------------------------------------


def _limited(path: Path, rows: Iterable[Sequence[Any]]) -> Iterable[Sequence[Any]]:
    for number, row in enumerate(rows):
        if number >= MOST_ROWS:
            raise TableError(path, f"it has more than {MOST_ROWS} rows; cut it in pieces")
        yield row[:MOST_COLUMNS]


def _even(rows: Sequence[Sequence[str]]) -> tuple[tuple[str, ...], ...]:
    """All rows as long as the longest, without the empty ones at the end; cells not too long."""
    cut = [[_short(cell) for cell in row] for row in rows]
    while cut and not any(cell.strip() for cell in cut[-1]):
        cut.pop()
    width = max(map(len, cut), default=0)
    return tuple((*row, *[""] * (width - len(row))) for row in cut)


def _short(cell: str) -> str:
    return cell if len(cell) <= LONGEST_CELL else cell[:LONGEST_CELL]
