"""Older work orders from a CSV file: every line becomes a row, or is rejected with its reason.

Nothing is dropped or coerced in silence.  What the columns and codes mean: ``order_map``.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from diagnose.casework.events import ENDINGS
from diagnose.errors import did_you_mean
from diagnose.loops.names import TAG, name_fault, shown
from diagnose.review.order_map import CODED, NEEDED, OrderMap, fault_of, no_fault
from diagnose.review.refused import ReviewError
from diagnose.review.rows import CONFIRMED, OPEN, WORK_ORDER, CaseRow

LARGEST = 200_000_000
"""Bytes of one file."""


@dataclass(frozen=True, slots=True)
class Reject:
    """A line that became no row (1 is the first line of the file), and why."""

    line: int
    column: str
    reason: str


@dataclass(frozen=True, slots=True)
class Orders:
    """What a file gave: rows, rejected lines, and codes that no map knows, with their count.

    ``strangers`` are tags of which the plant has no sheet, with their lines.
    """

    rows: tuple[CaseRow, ...]
    rejects: tuple[Reject, ...]
    unmapped: Mapping[tuple[str, str], int]
    lines: int
    strangers: Mapping[str, int]


def read_orders(
    path: Path, how: OrderMap | None = None, plant: str = "", tags: Sequence[str] = ()
) -> Orders:
    """The work orders in a CSV file.

    ``tags`` are those of the plant: one that differs in capitals alone is taken as it is there.

    Raises
    ------
    ReviewError
        The file cannot be read, is no UTF-8 text, or lacks a column.
    """
    how = how or OrderMap()
    lines = csv.reader(io.StringIO(text_of(path)), delimiter=how.separator, strict=True)
    try:
        head = next(lines, [])
        places = _places(head, how, path)
        numbered = [(lines.line_num, cells) for cells in lines]
    except csv.Error as error:
        raise ReviewError(f"{shown(path, 200)}: line {lines.line_num}: {error}") from error
    return _Reading(how, plant, places, len(head), tags).all(numbered)


def text_of(path: Path) -> str:
    """The text of a file; ReviewError if it cannot be read, is too large, or is not UTF-8."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise ReviewError(f"{shown(path, 200)} cannot be read: {reason}") from error
    if len(raw) > LARGEST:
        raise ReviewError(f"{shown(path, 200)} is larger than {LARGEST // 10**6} MB; split it")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise ReviewError(
            f"{shown(path, 200)}: line {line} is not UTF-8; save it as that"
        ) from error


def _places(head: Sequence[str], how: OrderMap, path: Path) -> dict[str, int]:
    """Ours -> the number of the column."""
    known = {name.strip().casefold(): n for n, name in enumerate(head)}
    found = {
        ours: known[theirs.strip().casefold()]
        for ours, theirs in how.columns.items()
        if theirs.strip().casefold() in known
    }
    lacking = [name for name in NEEDED if name not in found]
    if lacking:
        there = [shown(cell, 40) for cell in head]
        raise ReviewError("\n".join(_no_column(name, how, path, there) for name in lacking))
    return found


def _no_column(name: str, how: OrderMap, path: Path, there: Sequence[str]) -> str:
    """What is told of a column that is needed, and how a column of another name is taken."""
    wanted = how.columns.get(name, name)
    cure = f'; if it has another name, say so with --map: [columns] {name} = "..."'
    return (
        f"{shown(path, 200)}: no column '{shown(wanted)}' for the {name}"
        f"{did_you_mean(wanted, there)}{cure}"
    )


class _RejectedError(Exception):
    def __init__(self, column: str, reason: str) -> None:
        self.column, self.reason = column, reason
        super().__init__(reason)


class _Reading:
    """One pass over the lines of a file."""

    def __init__(
        self,
        how: OrderMap,
        plant: str,
        places: Mapping[str, int],
        width: int,
        tags: Sequence[str],
    ) -> None:
        self.tags = {tag.casefold(): tag for tag in tags}
        self.strangers: dict[str, int] = {}
        self.how, self.plant, self.places, self.width = how, plant, places, width
        self.unmapped: dict[tuple[str, str], int] = {}
        self.seen: dict[str, tuple[int, list[str]]] = {}

    def all(self, numbered: Sequence[tuple[int, list[str]]]) -> Orders:
        rows, rejects = [], []
        for line, cells in numbered:
            if not any(cell.strip() for cell in cells):
                continue
            try:
                rows.append(self._row(line, cells))
            except _RejectedError as error:
                rejects.append(Reject(line, error.column, error.reason))
        return Orders(tuple(rows), tuple(rejects), self.unmapped, len(rows) + len(rejects),
                      self.strangers)  # fmt: skip

    def _row(self, line: int, cells: list[str]) -> CaseRow:
        if len(cells) != self.width:
            raise _RejectedError("", f"it has {len(cells)} cells; the head has {self.width}")
        said = {name: cells[n].strip() for name, n in self.places.items()}
        number = said["number"]
        if not number:
            raise _RejectedError("number", "it is empty")
        fault = name_fault(TAG, said["tag"])
        if fault:
            raise _RejectedError("tag", fault)
        day = self._day(said["day"])
        terms = dict(self._terms(said))
        self._once(line, number, cells)
        row = CaseRow(
            number,
            source=WORK_ORDER,
            plant=self.plant,
            tag=self._tag(said["tag"]),
            loop_type=said.get("loop_type", ""),
            day=day,
            opened=datetime(day.year, day.month, day.day),  # noqa: DTZ001 (a day has no hour)
            status=terms.get("status") or OPEN,
            place=said.get("place") or None,
            mode=terms.get("mode"),
            mechanism=terms.get("mechanism"),
            cause=terms.get("cause"),
            detection=terms.get("detection"),
            activity=terms.get("activity"),
            note=_note(said, terms),
        )
        return _with_fault(row, terms.get("fault"))

    def _tag(self, text: str) -> str:
        """A tag as the plant writes it; one that it has not stays as it is, and is counted."""
        tag = self.tags.get(text.casefold(), text)
        if self.tags and tag.casefold() not in self.tags:
            self.strangers[tag] = self.strangers.get(tag, 0) + 1
        return tag

    def _day(self, text: str) -> date:
        try:
            day = datetime.strptime(text, self.how.day).date()  # noqa: DTZ007
        except ValueError as error:
            example = date(2024, 1, 31).strftime(self.how.day)
            raise _RejectedError("day", f"'{shown(text)}' is no day such as {example}") from error
        if day > date.today() or day.year < 1900:  # noqa: DTZ011
            raise _RejectedError("day", f"{day} lies in the future, or before 1900")
        return day

    def _terms(self, said: Mapping[str, str]) -> Iterator[tuple[str, str]]:
        """Terms of codes; a code that no map knows stays as it is, and is counted."""
        for name in CODED:
            code = said.get(name, "")
            if not code:
                continue
            codes = self.how.codes.get(name, {})
            term = codes.get(code, code)
            if name == "status" and term not in (*ENDINGS, OPEN):
                near = did_you_mean(term, (*ENDINGS, OPEN))
                raise _RejectedError("status", f"'{shown(code)}' is no status{near}")
            if name == "fault" and fault_of(term) is None:
                raise _RejectedError("fault", no_fault(term))
            if codes and code not in codes:
                self.unmapped[name, code] = self.unmapped.get((name, code), 0) + 1
            yield name, term

    def _once(self, line: int, number: str, cells: list[str]) -> None:
        """A number counts once: the same line again is a duplicate, another one a contradiction."""
        if number in self.seen:
            first, before = self.seen[number]
            what = "repeats" if before == cells else "has the number of"
            raise _RejectedError("number", f"it {what} line {first} ('{shown(number)}')")
        self.seen[number] = line, cells


def _with_fault(row: CaseRow, fault: str | None) -> CaseRow:
    """A fault counts as confirmed where the order says so, else as suspected."""
    if fault is None:
        return row
    kind, mode = fault_of(fault) or ("", "")
    if row.status == CONFIRMED:
        return replace(row, kind=kind, fault=mode)
    return replace(row, suspect_kind=kind, suspect_fault=mode)


def _note(said: Mapping[str, str], terms: Mapping[str, str]) -> str:
    """The free text, and each code whose term is another word: the mapping loses nothing."""
    codes = [
        f"{name}: {said[name]}" for name in CODED if name in terms and terms[name] != said[name]
    ]
    return "; ".join(filter(None, [said.get("note", ""), *codes]))
