"""Where the nodes of a line stand beside those on its bends: process values, (line, node)."""

from __future__ import annotations

import numpy as np

from diagnose.circuit.rows import Array

BEFORE, BETWEEN, AFTER = 4, 1, 2
"""Cells up to the first bend of the circuit, to the second, and beyond."""

NODES = 5 + BEFORE + BETWEEN + AFTER

SOONER = 0.025
"""By how much a bend comes earlier, share of range, in a circuit with a milliampere meter in it.

About 4 ohm on 250 and more take some 2 % of the current that is left; a node stands before that.
"""


def stand_on_the_whole(p: Array, rows: Array) -> None:
    """Put nodes on 0, 1 and between where no bend divides a line, in place.

    What is read there may be a curve, a thermometer's: near 0 and 1, where the prior of the process
    leaps, it is then taken as it is, and not off a chord.
    """
    p[rows, 1 : 1 + BEFORE] = np.linspace(0, 1, BEFORE)


def stand_before(p: Array, rows: Array) -> None:
    """Put a node ``SOONER`` before the first bend of rows, in place; between, all is straight.

    Else what is uncertain beyond a bend would loosen a reading in the whole cell before it, where
    the meter alone has brought the bend inside.
    """
    share = np.linspace(0, 1, BEFORE)
    first, stop = p[rows, 1, None], p[rows, 1 + BEFORE, None] - SOONER
    p[rows, 1 : 1 + BEFORE] = first + (stop - first) * share


def stand_on_ends(p: Array) -> None:
    """Put nodes on 0 and 1 as well, in place: there the prior of two states leaps.

    The cells before the first bend and those after the last are one fewer each.
    """
    share = np.linspace(0, 1, BEFORE)
    first, bend = p[:, 1].copy(), p[:, 1 + BEFORE].copy()
    p[:, 2 : 2 + BEFORE] = first[:, None] + (bend - first)[:, None] * share
    p[:, 1] = 0.0
    share = np.linspace(0, 1, AFTER)
    start, last = p[:, -2 - AFTER].copy(), p[:, -2].copy()
    p[:, -2 - AFTER : -2] = start[:, None] + (last - start)[:, None] * share
    p[:, -2] = 1.0
    p.sort(axis=1)
