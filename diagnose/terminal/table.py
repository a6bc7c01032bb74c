"""Columns of text, aligned; numbers to the right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.terminal.outcome import Look
from diagnose.terminal.wording import folded

GAP = "  "


def table(
    rows: Sequence[Sequence[str]], look: Look, right: frozenset[int] = frozenset()
) -> Iterator[str]:
    """Rows as aligned lines; the last column is wrapped where the screen is narrow.

    ``right`` names the columns whose text stands to the right.
    """
    if not rows:
        return
    last = len(rows[0]) - 1
    widths = [max(len(row[n]) for row in rows) for n in range(last + 1)]
    indent = sum(widths[:last]) + len(GAP) * last
    room = max(20, look.width - indent)
    for row in rows:
        head = GAP.join(_cell(row[n], widths[n], n in right) for n in range(last))
        tail = _cell(row[last], min(widths[last], room), last in right)
        # A cell that stands to the right keeps its blanks; only longer text is folded.
        pieces = [tail] if len(tail) <= room else folded(tail, room)
        yield f"{head}{GAP}{pieces[0]}" if head else pieces[0]
        for piece in pieces[1:]:
            yield " " * indent + piece


def width(rows: Sequence[Sequence[str]]) -> int:
    """Characters across of rows as aligned lines."""
    widths = _widths(rows)
    return sum(widths) + len(GAP) * (len(widths) - 1)


def _widths(rows: Sequence[Sequence[str]]) -> list[int]:
    return [max(len(row[n]) for row in rows) for n in range(len(rows[0]))]


def _cell(text: str, width: int, right: bool) -> str:
    return text.rjust(width) if right else text.ljust(width)


def grid(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    look: Look,
    right: frozenset[int] = frozenset(),
) -> Iterator[str]:
    """A table with a head and a rule under it."""
    lines = list(table([head, *rows], look, right))
    yield look.strong(lines[0].rstrip())
    yield "-" * min(look.width, max(len(line.rstrip()) for line in lines))
    yield from lines[1:]


def grids(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    look: Look,
    right: frozenset[int] = frozenset(),
) -> Iterator[str]:
    """A table; where the screen is too narrow, its columns in blocks, each with the first one."""
    widths = _widths([head, *rows])
    for number, block in enumerate(blocks(widths, look.width)):
        yield from [""] if number else []
        numbers = frozenset(k for k, n in enumerate(block) if n in right)
        some = [[row[n] for n in block] for row in rows]
        yield from grid([head[n] for n in block], some, look, numbers)


def blocks(widths: Sequence[int], room: int) -> Iterator[list[int]]:
    """Columns by number, as many at a time as there is room for; the first stands in each."""
    block, used = [0], widths[0]
    for n, width in enumerate(widths[1:], 1):
        if used + len(GAP) + width > room and len(block) > 1:
            yield block
            block, used = [0], widths[0]
        block.append(n)
        used += len(GAP) + width
    yield block
