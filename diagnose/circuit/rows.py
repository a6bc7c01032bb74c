"""Columns, rows and states: the array side of the predictor.

A *column* holds one quantity, scalar or shape (rows,); scalars stay scalars, so that what does not
vary costs nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from operator import itemgetter
from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[Any]]
Column = float | Array
Pieces = dict[int, Array]
"""Segment number (row,) of every branch that has several."""


Picker = Callable[[Sequence[Column]], Sequence[Column]]
"""What picks some values out of many."""

Leads = dict[int, Array]
"""Node -> +1 where the first lead of a meter is, -1 where the second is: (row,), or (pair, 1)."""


@dataclass(frozen=True)
class Attachment:
    """A meter across two nodes: ``i = conductance * v + source`` from ``a`` to ``b``."""

    a: str
    b: str
    conductance: float
    source: float = 0.0


@dataclass
class State:
    """The operating points of many rows, and what is needed to ask about them.

    ``columns`` are the parameters; ``pieces[k]`` the segment number of branch k where it has
    several; ``g`` and ``j`` the straight laws in force; ``v`` the node voltages (meter fitted);
    ``attached`` the voltage across the last attachment; ``probes`` for each attachment the response
    of every node to one ampere driven into its ``a`` and out of its ``b``, fitted up to that one.
    ``laws`` are the segments of all branches at these columns; ``notes`` keeps what was derived
    from columns and pieces alone.
    """

    rows: int
    columns: list[Column]
    pieces: Pieces
    g: list[Column]
    j: list[Column]
    v: list[Column]
    factors: dict[str, Column]
    attached: Column = 0.0
    attachments: tuple[Attachment, ...] = ()
    probes: tuple[list[Column], ...] = ()
    laws: Sequence[Column] = ()
    notes: dict[tuple[int, ...], Any] = field(default_factory=dict)

    @property
    def size(self) -> int:
        """Bytes of all that has a value for each row."""
        every = [*self.columns, *self.g, *self.j, *self.v, *self.factors.values(), *self.laws]
        kept = {id(one): one.nbytes for one in every if isinstance(one, np.ndarray)}
        return sum(kept.values())


def distinct(numbers: Array) -> Array:
    """The different numbers in an array of whole numbers from 0 on, rising.

    As ``numpy.unique``, which loads masked arrays: a twentieth of the start of the program.
    """
    result: Array = np.flatnonzero(np.bincount(np.ravel(numbers)))
    return result


def among(numbers: Array, some: Array) -> Array:
    """Which of the numbers (whole, from 0 on) occur in ``some``; as ``numpy.isin``."""
    found = np.zeros(max(numbers.max(initial=0), some.max(initial=0)) + 1, bool)
    found[some] = True
    result: Array = found[numbers]
    return result


def leads(first: Array | int, second: Array | int) -> Leads:
    """Where the two leads of a meter are, by number of the node; the reference is left out."""
    a, b = np.asarray(first), np.asarray(second)
    nodes = distinct(np.concatenate([a.ravel(), b.ravel()]))
    return {int(node): (a == node) * 1.0 - (b == node) for node in nodes if node}


def across(leads: Leads, volts: Sequence[Column]) -> Array:
    """Voltage from the first lead to the second."""
    total: Array = np.zeros(1)
    for node, sign in leads.items():
        total = total + sign * volts[node]
    return total


def picker(names: Sequence[str]) -> Picker:
    """What picks values by the numbers in names (a letter, then the number), quickly."""
    numbers = [int(name[1:]) for name in names]
    if len(numbers) < 2:
        return lambda values: [values[number] for number in numbers]
    return itemgetter(*numbers)


def take(column: Column, rows: Array | slice) -> Column:
    """Some rows of a column; a scalar stays one."""
    return column if not isinstance(column, np.ndarray) or column.ndim == 0 else column[rows]


def spread(column: Column, count: int) -> Column:
    """A one-row column repeated ``count`` times; a scalar stays one."""
    return np.repeat(column, count) if isinstance(column, np.ndarray) and column.ndim else column


def choose(piece: Array, options: Sequence[Column]) -> Column:
    """For each row the option that ``piece`` (row,) names."""
    first = piece.flat[0] if piece.size else 0
    if (piece == first).all():
        return options[int(first)]
    return np.choose(piece, [np.broadcast_to(option, piece.shape) for option in options])


def merge_column(old: Column, new: Column, rows: Array, count: int) -> Column:
    """``old`` with ``rows`` replaced by ``new``; a scalar where nothing differs."""
    if old is new or (not isinstance(old, np.ndarray) and np.ndim(new) == 0 and old == new):
        return old
    full = np.array(np.broadcast_to(old, (count,)), dtype=float)
    full[rows] = new
    return full


def merge(state: State, part: State, rows: Array) -> State:
    """``state`` with some rows replaced by those of ``part``."""
    count = state.rows
    pieces = {k: piece.copy() for k, piece in state.pieces.items()}
    for k, piece in part.pieces.items():
        pieces[k][rows] = piece
    lists = {
        name: [
            merge_column(old, new, rows, count)
            for old, new in zip(getattr(state, name), getattr(part, name), strict=True)
        ]
        for name in ("g", "j", "v")
    }
    factors = {
        name: merge_column(old, part.factors[name], rows, count)
        for name, old in state.factors.items()
    }
    probes = tuple(
        [merge_column(old, new, rows, count) for old, new in zip(whole, piece, strict=True)]
        for whole, piece in zip(state.probes, part.probes, strict=True)
    )
    attached = merge_column(state.attached, part.attached, rows, count)
    return State(
        count,
        state.columns,
        pieces,
        lists["g"],
        lists["j"],
        lists["v"],
        factors,
        attached,
        state.attachments,
        probes,
        state.laws,
    )


def subset(state: State, rows: Array) -> State:
    """Some rows of a state, as a state of its own."""
    return _part(state, rows, len(rows))


def window(state: State, rows: slice, plain: bool = True) -> State:
    """Neighbouring rows of a state: looks at the same memory, and keeps the notes.

    What does not vary within them becomes a scalar where that is ``plain``: in many conditions side
    by side nearly everything varies, in one of them little.
    """
    some = _scalar if plain else take
    found = _part(state, rows, rows.stop - rows.start, some)
    found.notes = {
        key: [(*slope[:-1], some(slope[-1], rows)) for slope in slopes]
        for key, slopes in state.notes.items()
    }
    return found


def _scalar(column: Column, rows: Array | slice) -> Column:
    """Some rows of a column, as a scalar where they are all alike."""
    some = take(column, rows)
    if not isinstance(some, np.ndarray) or some.ndim == 0 or not some.size:
        return some
    first = some[0]
    return float(first) if first == some[-1] and bool((some == first).all()) else some


def unsolved(state: State, rows: Array) -> State:
    """Some rows of a state, to be solved anew: parameters, laws and regimes only."""
    return State(
        len(rows),
        _each(take, state.columns, rows),
        {k: piece[rows] for k, piece in state.pieces.items()},
        [],
        [],
        [],
        {},
        attachments=state.attachments,
        laws=_each(take, state.laws, rows),
    )


Taking = Callable[[Column, Array | slice], Column]


def _part(state: State, rows: Array | slice, count: int, some: Taking = take) -> State:
    return State(
        count,
        _each(some, state.columns, rows),
        {k: piece[rows] for k, piece in state.pieces.items()},
        _each(some, state.g, rows),
        _each(some, state.j, rows),
        _each(some, state.v, rows),
        dict(zip(state.factors, _each(some, state.factors.values(), rows), strict=True)),
        some(state.attached, rows),
        state.attachments,
        tuple(_each(some, probe, rows) for probe in state.probes),
        _each(some, state.laws, rows),
    )


def _each(some: Taking, columns: Iterable[Column], rows: Array | slice) -> list[Column]:
    """Some rows of many columns; scalars are not asked one by one."""
    return [some(one, rows) if isinstance(one, np.ndarray) else one for one in columns]
