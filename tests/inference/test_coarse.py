"""The best place of two faults between the points of a coarse grid.

Source: a trilinear function written out here, and its inverse by hand.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from diagnose.inference.coarse import _between
from diagnose.inference.outliers import Outliers
from diagnose.inference.trial import grid_of

AXES = np.array([0.1, 0.5, 0.9]), np.array([0.0, 0.5, 1.0])
GRID = grid_of(AXES, True, True)
PRICE = 18.0


def levels(z: np.ndarray) -> np.ndarray:
    """Three readings at places (point, 3), steep and hanging together."""
    x, y, p = z.T
    return np.stack([9e3 * x + 2e3 * x * y, 5e3 * y - 1e3 * p, 4e3 * p + 3e3 * x * p], axis=1)


def misfit(wanted: np.ndarray, price: float = np.inf) -> Any:
    """Readings of standard deviation 1; to call one of them worthless costs ``price`` squares."""
    outliers = object.__new__(Outliers)
    outliers._whiten, outliers._precision = np.eye(3), np.ones(3)
    outliers._price = np.full(3, price)
    return SimpleNamespace(
        outliers=outliers,
        off=lambda level: wanted - level,
        squares=lambda off, level: np.einsum("rn,rn->r", off, off) - outliers.worst(off)[1],
    )


@pytest.mark.parametrize("place", [(0.33, 0.61, 0.27), (0.1, 0.9, 0.5), (0.87, 0.13, 0.99)])
def test_a_place_between_the_points_is_met(place: tuple[float, float, float]) -> None:
    wanted = levels(np.array([place]))[0]
    found, squares = _between(misfit(wanted), levels(GRID)[None], GRID)
    assert found[0] == pytest.approx(place, abs=0.02)
    # On the points themselves nothing fits: a thousand standard deviations.
    on_points = ((wanted - levels(GRID)) ** 2).sum(axis=1).min()
    assert squares[0] < max(on_points, 1.0) / 50


def test_a_reading_that_can_be_explained_is_not_called_worthless() -> None:
    # source: by hand: the second reading alone says where y is, whatever it costs to leave it out
    place = np.array([[0.5, 0.83, 0.5]])
    found, squares = _between(misfit(levels(place)[0], PRICE), levels(GRID)[None], GRID)
    assert found[0] == pytest.approx(place[0], abs=0.02)
    assert squares[0] < PRICE


def test_a_reading_that_cannot_be_is_left_out() -> None:
    # source: by hand: the two others fit between the points, the second nowhere
    wanted = levels(np.array([[0.35, 0.65, 0.3]]))[0] + [0.0, 4e4, 0.0]
    _, squares = _between(misfit(wanted, PRICE), levels(GRID)[None], GRID)
    others = ((wanted - levels(GRID))[:, [0, 2]] ** 2).sum(axis=1).min()
    assert squares[0] < PRICE + others / 50
