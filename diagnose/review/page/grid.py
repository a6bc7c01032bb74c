"""Tables that sort, and numbers that name their cases."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from diagnose.review.page.markup import Markup, el, pct

Names = Sequence[str]

NONE = "–"
"""What stands where there is nothing to say."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What a table shows in one place; ``value`` is what it is sorted by, the text if None."""

    shown: object
    value: float | None = None
    number: bool = False


def figure(value: float | None, digits: int = 2) -> Cell:
    """A number to be read and sorted; None is told as nothing and sorts last."""
    if value is None:
        return Cell(NONE, None, True)
    return Cell(f"{value:,.{digits}f}", float(value), True)


def chance(value: float, digits: int) -> Cell:
    """A chance; one too small for its digits is told as less than the last of them."""
    least = 10.0**-digits
    return Cell(f"< {least:.{digits}f}", value, True) if value < least else figure(value, digits)


def percent(value: float | None) -> Cell:
    """A share as per cent."""
    return Cell(NONE, None, True) if value is None else Cell(pct(value), value, True)


def between(low: float | None, high: float | None, digits: int = 2) -> Cell:
    """An interval, sorted by its lower end."""
    if low is None and high is None:
        return Cell(NONE, None, True)
    shown = [NONE if end is None else f"{end:,.{digits}f}" for end in (low, high)]
    return Cell(" to ".join(shown), low, True)


def shares(low: float | None, high: float | None) -> Cell:
    """An interval of shares."""
    if low is None or high is None:
        return Cell(NONE, None, True)
    return Cell(f"{100 * low:.0f} to {pct(high)}", low, True)


@dataclass
class Tracer:
    """Knows the number of each case in the list at the end of the page."""

    numbers: Mapping[str, int] = field(default_factory=dict)

    def links(self, names: Names) -> Markup:
        """Links to the cases of a line, by their numbers in the list."""
        ordered = sorted(names, key=lambda name: self.numbers.get(name, 0))
        return el("span", *self._each(ordered), class_="links")

    def ranges(self, names: Names) -> Markup:
        """The same for paper, where nothing can be followed: ``3, 7 to 12``."""
        numbers = sorted(self.numbers[name] for name in names if name in self.numbers)
        runs: list[list[int]] = []
        for number in numbers:
            if runs and number == runs[-1][1] + 1:
                runs[-1][1] = number
            else:
                runs.append([number, number])
        told = [_run(*run) for run in runs]
        told += [name for name in names if name not in self.numbers]
        return el("span", ", ".join(told), class_="ranges", aria_hidden="true")

    def _each(self, names: Names) -> Iterator[object]:
        for count, name in enumerate(names):
            number = self.numbers.get(name)
            yield ", " if count else None
            yield name if number is None else el("a", number, href=f"#case-{number}", title=name)

    def count(self, value: int, names: Names, of: str = "cases") -> Cell:
        """A number that opens into the cases behind it."""
        if not names:
            return figure(value, 0)
        more = f" and {value - len(names):,} more" if value > len(names) else ""
        told = el("summary", el("span", f"{value:,}"), el("span", f" {of}", class_="unseen"))
        behind = self.links(names), self.ranges(names), more
        return Cell(el("details", told, *behind), float(value), True)


def _run(first: int, last: int) -> str:
    """Numbers that follow each other; two of them are not worth a word between."""
    if last <= first + 1:
        return ", ".join(map(str, dict.fromkeys((first, last))))
    return f"{first} to {last}"


def table(caption: str, heads: Sequence[str], rows: Sequence[Sequence[object]]) -> Markup:
    """A table whose columns sort by the script; the first column names the line.

    A table without lines says so.
    """
    if not rows:
        return el("p", f"{caption}: none.", class_="none")
    numbers = [_is_number(rows, column) for column in range(len(heads))]
    head = el("tr", *(el("th", text, scope="col", class_="number" if number else None)
                      for text, number in zip(heads, numbers, strict=True)))  # fmt: skip
    body = (el("tr", *_cells(row)) for row in rows)
    inner = el("table", el("caption", caption), el("thead", head), el("tbody", *body))
    return el("div", inner, class_="wide", role="group", aria_label=caption)


def folded(title: str, *children: object) -> Markup:
    """What few look for: closed under its title, on paper as well unless it was opened."""
    return el("details", el("summary", title), *children, class_="more")


TOKEN, PHRASE = 24, 15
"""Longest word, and longest few words, that stay on one line: a tag, a day, a verdict."""


def _whole(shown: object) -> str | None:
    """The class of a cell whose text is short enough not to be broken."""
    if isinstance(shown, Markup) or not isinstance(shown, str):
        return None
    return "whole" if len(shown) <= (PHRASE if " " in shown else TOKEN) else None


def spoken(name: str) -> str:
    """A name of the code as words: ``process_connection`` -> ``process connection``.

    A work order may leave out what it counts by, such as the loop type.
    """
    return name.replace("_", " ") or "not told"


def _is_number(rows: Sequence[Sequence[object]], column: int) -> bool:
    cell = rows[0][column]
    return isinstance(cell, Cell) and cell.number


def _cells(row: Sequence[object]) -> Iterator[Markup]:
    for column, cell in enumerate(row):
        it = cell if isinstance(cell, Cell) else Cell(cell)
        name, scope = ("td", None) if column else ("th", "row")
        yield el(name, it.shown, scope=scope, class_="number" if it.number else _whole(it.shown),
                 data_v=it.value)  # fmt: skip
