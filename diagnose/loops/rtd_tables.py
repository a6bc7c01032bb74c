"""Platinum resistance thermometers: resistance from temperature and back, classes of tolerance.

IEC 60751 as two secondary pages reproduce it alike: ``R = R0 (1 + A t + B t^2)`` from 0 degC up,
with ``+ C (t - 100) t^3`` in the bracket below.  Temperatures in degC, resistances as a ratio to
that at 0 degC.
"""

from __future__ import annotations

from typing import Any

from diagnose.loops.arrays import np

A, B, C = 3.9083e-3, -5.775e-7, -4.183e-12
LOWEST, HIGHEST = -200.0, 850.0
"""Beyond these the curve goes on as a straight line, degC."""

CLASSES = ("AA", "A", "B", "C")
"""Tolerance classes in the order of the numbers that stand for them in a parameter."""

_LIMITS = ((0.1, 0.0017), (0.15, 0.002), (0.3, 0.005), (0.6, 0.01))


def ratio(celsius: Any) -> Any:
    """Resistance as a share of that at 0 degC."""
    held = np.clip(celsius, LOWEST, HIGHEST)
    return _curve(held) + slope(held) * (celsius - held)


def slope(celsius: Any) -> Any:
    """d ratio / d temperature, 1/K."""
    t = np.clip(celsius, LOWEST, HIGHEST)
    cold = np.minimum(t, 0.0)
    return A + 2 * B * t + C * (4 * cold**3 - 300 * cold**2)


def temperature(share: Any) -> Any:
    """The inverse of ``ratio``: solved above 0 degC, by Newton's rule below."""
    root = np.sqrt(np.maximum(A * A - 4 * B * (1 - share), (A + 2 * B * HIGHEST) ** 2))
    t = (root - A) / (2 * B)
    for _ in range(4):
        t = t - (ratio(t) - share) / slope(t)
    return t


def tolerance(grade: Any, celsius: Any) -> Any:
    """Limit of error of a class (by its number), K."""
    kelvins, share = _LIMITS[int(np.ravel(grade)[0])]
    return kelvins + share * np.abs(celsius)


def _curve(t: Any) -> Any:
    cold = np.minimum(t, 0.0)
    return 1 + A * t + B * t * t + C * (cold - 100) * cold**3
