"""Every kind that there is: the pieces of its law join, rise or stay level, and break nowhere.

Source: a network of continuous, never falling branch laws has one operating point (Duffin 1946,
from memory); so a law that jumps or falls would make two of a circuit, or none.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import exp, isfinite, log
from types import SimpleNamespace

import pytest

import diagnose.loops.kinds  # noqa: F401  (registers the kinds)
from diagnose.loops.kind import Branch, FaultMode, Kind, Parameter, Segment

SHARES = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)
GIVEN = (-0.1, 0.0, 0.3, 0.5, 1.0, 1.1)


def usual(item: Parameter) -> float:
    """The default; where a sheet must say a value, the middle of what it may say, by decades."""
    if item.default is not None:
        return item.default
    return exp((log(max(item.least or 0, 1e-3)) + log(item.most or 1e3)) / 2)


def sizes(mode: FaultMode) -> Iterator[float]:
    size = mode.severity
    for share in SHARES if size else (0.0,):
        if size and size.logarithmic:
            yield exp(log(size.low) + share * (log(size.high) - log(size.low)))
        else:
            yield size.low + share * (size.high - size.low) if size else 0.0


def states(kind: type[Kind]) -> Iterator[SimpleNamespace]:
    """The part sound and with each fault, at sizes over its range, wherever it is driven to."""
    nominal = {item.name: usual(item) for item in kind.parameters}
    moved = [{}]
    for mode in kind.modes:
        own = [c for c in mode.changes if c.of == "" or c.of[0] in "=*"]
        for size in sizes(mode):
            values = {c: nominal.get(c.of[1:] or c.parameter, 0.0) for c in own}
            moved.append({c.parameter: c.value(values[c], size) for c in own})
    for change in moved:
        one = {**nominal, **change}
        for given in handed(kind):
            yield SimpleNamespace(**{**one, **kind.drive(SimpleNamespace(**one), given), **change})


def handed(kind: type[Kind]) -> Iterator[object]:
    """What a part is given: the process value, or the signals that it follows, in their range."""
    for given in GIVEN if kind.driven else (0.0,):
        if len(kind.follows) > 1:
            yield (min(max(given, 0.0), 1.0),) * len(kind.follows)
        else:
            yield min(max(given, 0.0), 1.0) if kind.follows else given


def broken(branch: Branch, q: SimpleNamespace) -> list[str]:
    """What is wrong with the law of a branch in one state."""
    laws = [tuple(map(float, piece.law(q))) for piece in branch.segments]
    ends = [float(piece.until(q)) for piece in branch.segments if piece.until]
    found = [f"{piece.regime} falls" for piece, (g, _) in zip(branch.segments, laws, strict=True)
             if not (isfinite(g) and g >= 0)]  # fmt: skip
    found += ["pieces out of order"] * (ends != sorted(ends))
    for volts, ((g, j), (h, k)) in zip(ends, pairwise(laws), strict=True):
        apart = abs((g * volts + j) - (h * volts + k))
        if apart > 1e-9 + 1e-9 * max(abs(g * volts), abs(h * volts), abs(j), abs(k)):
            found.append(f"a jump of {apart:.3g} A at {volts:.4g} V")
    return found


@pytest.mark.parametrize("name", sorted(Kind.registry))
def test_pieces_of_a_law_join_and_never_fall(name: str) -> None:
    kind = Kind.registry[name]
    tried = list(states(kind))
    assert tried
    for branch in kind.branches:
        *bounded, last = branch.segments
        assert last.until is None
        assert all(piece.until for piece in bounded)
        for q in tried:
            assert broken(branch, q) == [], (branch.a, branch.b, q)


def piece(told: tuple[float, float, float | None]) -> Segment:
    slope, fixed, end = told
    return Segment("piece", lambda q: (slope, fixed), None if end is None else lambda q: end)


def test_a_jump_a_fall_and_a_wrong_order_are_seen() -> None:
    """1 S up to 1 V, then 2 S from nothing: 1 A and 2 A meet at 1 V (Ohm's law)."""

    def law(*pieces: tuple[float, float, float | None]) -> list[str]:
        return broken(Branch("a", "b", tuple(map(piece, pieces))), SimpleNamespace())

    assert law((1, 0, 1), (2, -1, None)) == []
    assert law((1, 0, 1), (2, 0, None)) == ["a jump of 1 A at 1 V"]
    assert law((1, 0, 1), (-1, 2, None)) == ["piece falls"]
    assert "pieces out of order" in law((0, 0, 2), (0, 0, 1), (0, 0, None))
