"""The prior of cells: of the severity, and of the process where the readings put it.

The density of the process leaps where the range ends, and hardly any cell ends just there.  In a
cell that holds such a leap the density is the mean over what the readings say of the process.
Shapes: (cell,).
"""

from __future__ import annotations

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.cells import UNIFORM, Cells, Peak, value_at
from diagnose.inference.grid import KNOTS, cumulative
from diagnose.inference.normal import below

_BROAD = 1 / 400
"""Precision added, so that a direction of which nothing is known stays a proper one."""

_FAR = 4.5
"""Standard deviations outside of a cell beyond which a peak counts as no further off."""


def log_prior(cells: Cells, peak: Peak, pull: Array) -> Array:
    """log of the prior of each cell: of its hypothesis' severity, and of the process in it.

    ``pull`` (cell, 2) is the slope of the log density of the readings at the peak, along (s, t):
    other than 0 where the peak is held at the edge of its cell.
    """
    low = value_at(cells.p, peak.s, np.zeros(len(cells)))
    high = value_at(cells.p, peak.s, np.ones(len(cells)))
    mass = cumulative(high, cells.states) - cumulative(low, cells.states)
    for knot in KNOTS[1:-1]:
        rows = np.flatnonzero((low < knot) & (knot < high))
        if len(rows):
            some = peak.some(rows)
            mass[rows] = _mean_mass(cells.states, low[rows], high[rows], some, pull[rows, 1])
    result: Array = np.log(np.maximum(cells.mass * mass, 1e-300))
    return result


def room(cells: Cells, peak: Peak) -> Array:
    """By how much the log prior of a cell may rise where its peak moves: cells grow and narrow."""
    count = len(cells)
    here, *ends = (_mass(cells, s) for s in (peak.s, np.zeros(count), np.ones(count)))
    most = np.max([here, *ends], axis=0)
    result: Array = np.log(np.maximum(most, 1e-300) / np.maximum(here, 1e-300))
    return result


def _mass(cells: Cells, s: Array) -> Array:
    """Prior share of the process values between the edges of each cell at a severity."""
    low = cumulative(value_at(cells.p, s, np.zeros(len(cells))), cells.states)
    high = cumulative(value_at(cells.p, s, np.ones(len(cells))), cells.states)
    result: Array = high - low
    return result


def _mean_mass(states: bool, low: Array, high: Array, peak: Peak, pull: Array) -> Array:
    """Mean density of the process under what the readings say of it, times the width."""
    width = high - low
    known = peak.precision[:, 1, 1] - UNIFORM
    precision = known + _BROAD
    sd = width / np.sqrt(precision)
    mean = low + width * (pull + known * peak.t + _BROAD / 2) / precision
    mean = np.clip(mean, low - _FAR * sd, high + _FAR * sd)
    ends = [low, *(np.clip(knot, low, high) for knot in KNOTS[1:-1]), high]
    chance = np.diff([below((end - mean) / sd) for end in ends], axis=0)
    density = np.diff(cumulative(np.array(KNOTS), states)) / np.diff(KNOTS)
    result: Array = width * (density @ chance) / chance.sum(axis=0)
    return result
