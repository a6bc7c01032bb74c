"""The best place of pairs of faults on a coarse grid, levels being straight between its points.

Sharp readings fit nowhere on the points of a grid: what counts is whether they lie between them.
Shapes: (cell,) or (cell, …), where a cell is a box of the grid of one pair.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.misfit import Misfit
from diagnose.inference.trial import Axes, Trial, grid_of, parts, rounded

BLOCK = 8000
"""Rows solved at once: more would not stay in the processor's cache."""

TURNS = 2
"""Steps to the best place in a cell."""

_CORNERS = np.array(list(product((0, 1), repeat=3)))


def best_places(
    misfit: Misfit, couples: tuple[Array, Array], sized: Array, axes: Axes
) -> tuple[Trial, Array]:
    """Each pair at its best place on a grid, and the sum of squares there: (pair,).

    ``sized`` tells of each hypothesis whether it has a severity.
    """
    z, best = np.empty((len(couples[0]), 3)), np.empty(len(couples[0]))
    for kind in product((True, False), repeat=2):
        here = (sized[couples[0]] == kind[0]) & (sized[couples[1]] == kind[1])
        grid = grid_of(axes, *kind)
        for rows in parts(np.flatnonzero(here), BLOCK // len(grid)):
            a, b = couples[0][rows], couples[1][rows]
            points = np.repeat(a, len(grid)), np.repeat(b, len(grid)), np.tile(grid, (len(a), 1))
            level = misfit.seen(Trial(*points))
            z[rows], best[rows] = _between(misfit, level.reshape(len(a), len(grid), -1), grid)
    return Trial(*couples, z), best


def _between(misfit: Misfit, level: Array, grid: Array) -> tuple[Array, Array]:
    """Best places (pair, 3) and squares (pair,); ``level`` (pair, point, reading)."""
    marks = [np.unique(grid[:, k]) for k in range(3)]
    corner = _corners(tuple(len(axis) for axis in marks))
    pairs, cells = len(level), len(corner)
    box = level[:, corner].reshape(pairs * cells, 8, -1)
    s, squares = _inside(misfit, box)
    squares = squares.reshape(pairs, cells)
    place = rounded(squares).argmin(axis=1)
    s = s.reshape(pairs, cells, 3)[np.arange(pairs), place]
    low, high = grid[corner[place, 0]], grid[corner[place, 7]]
    return low + s * (high - low), squares[np.arange(pairs), place]


def _corners(shape: tuple[int, ...]) -> Array:
    """Numbers of the points at the corners of each cell of a grid: (cell, 8)."""
    first = np.indices([max(n - 1, 1) for n in shape]).reshape(3, -1).T
    at = np.minimum(first[:, None] + _CORNERS, np.array(shape) - 1)
    result: Array = np.ravel_multi_index(tuple(at.transpose(2, 0, 1)), shape)
    return result


def _inside(misfit: Misfit, box: Array) -> tuple[Array, Array]:
    """The best place (cell, 3) in each cell and its squares; ``box`` (cell, 8, reading).

    Sought with all readings and with one left out as worthless: the one that is left out pulls
    no more, though the second fault might well explain it.
    """
    off = misfit.off(box)
    places, squares = [], []
    for strict in (True, False):
        s = np.full((len(box), 3), 0.5)
        for _ in range(TURNS):
            here, slope = _at(off, s)
            if not strict:
                bad = misfit.outliers.worst(here)
                here = misfit.outliers.without(here, bad)
                slope = np.stack([misfit.outliers.without(one, bad) for one in slope])
            normal = np.einsum("krn,lrn->rkl", slope, slope)
            normal[:, range(3), range(3)] += 1e-6 * np.einsum("rkk->rk", normal) + 1e-6
            step = np.linalg.solve(normal, -np.einsum("krn,rn->rk", slope, here)[:, :, None])
            s = np.clip(s + step[:, :, 0], 0.0, 1.0)
        places.append(s)
        squares.append(misfit.squares(_at(off, s)[0], _at(box, s)[0]))
    better = squares[1] < squares[0]
    return np.where(better[:, None], places[1], places[0]), np.minimum(*squares)


def _at(corner: Array, s: Array) -> tuple[Array, Array]:
    """Values (cell, n) at places of cells, and slopes along the three ways (3, cell, n)."""
    weight, way = np.stack([1 - s, s], axis=2), np.array([-1.0, 1.0])
    ways = [np.where((np.arange(3) == k)[:, None], way, weight) for k in range(3)]
    both = np.stack([weight, *ways], axis=1)
    share = (both[:, :, 0, :, None, None] * both[:, :, 1, None, :, None]) * both[
        :, :, 2, None, None
    ]
    found = (share.reshape(len(s), 4, 8) @ corner).transpose(1, 0, 2)
    return found[0], found[1:]
