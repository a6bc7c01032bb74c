"""The normal distribution over arrays, and the integral of a Gaussian over a unit square."""

from __future__ import annotations

from functools import cache
from math import erf, exp, log, pi, sqrt

import numpy as np

from diagnose.circuit.rows import Array

LOG_2PI = log(2 * pi)
_END, _PER_UNIT = 9.0, 128
_BROAD = 1 / 400
"""Precision added in both directions, so that a flat direction stays a proper one."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(10)
_REACH = 4.5
"""Standard deviations covered when a peak lies inside the square."""


@cache
def _table() -> tuple[Array, ...]:
    """Cubic Hermite coefficients of the distribution function, one set for each grid step."""
    at = np.arange(-_END * _PER_UNIT, _END * _PER_UNIT + 1) / _PER_UNIT
    values = np.array([0.5 * (1 + erf(x / sqrt(2))) for x in at])
    slopes = np.array([exp(-x * x / 2) / sqrt(2 * pi) for x in at]) / _PER_UNIT
    gap = np.diff(values)
    first, last = slopes[:-1] - gap, gap - slopes[1:]
    return values[:-1], slopes[:-1], last - 2 * first, first - last


def below(x: Array) -> Array:
    """P(standard normal < x), absolute error under 1e-10 (cubic Hermite interpolation)."""
    constant, *rest = _table()
    # In place: for large arrays new memory costs more than the arithmetic.
    t = np.multiply(x, float(_PER_UNIT), out=np.empty(np.shape(x)))
    t += _END * _PER_UNIT
    np.clip(t, 0, len(constant) - 0.001, out=t)
    n = t.astype(int)
    t -= n
    result: Array = rest[-1].take(n)
    for coefficients in (rest[1], rest[0], constant):
        result *= t
        result += coefficients.take(n)
    return result


def whiten(covariance: Array, columns: Array) -> tuple[Array, Array]:
    """Cholesky factor applied: L^-1 columns, and log det L; shapes (cell, n, n), (cell, n, k).

    Loops over the few readings, not over the many cells.
    """
    n = covariance.shape[1]
    low = np.zeros_like(covariance)
    out = np.empty_like(columns)
    logdet = np.zeros(len(covariance))
    for i in range(n):
        for j in range(i):
            inner = np.einsum("cq,cq->c", low[:, i, :j], low[:, j, :j])
            low[:, i, j] = (covariance[:, i, j] - inner) / low[:, j, j]
        left = covariance[:, i, i] - np.einsum("cq,cq->c", low[:, i, :i], low[:, i, :i])
        low[:, i, i] = np.sqrt(np.maximum(left, 1e-14 * covariance[:, i, i] + 1e-300))
        logdet += np.log(low[:, i, i])
        known = np.einsum("cq,cqk->ck", low[:, i, :i], out[:, :i])
        out[:, i] = (columns[:, i] - known) / low[:, i, i, None]
    return out, logdet


def square(r: Array, u: Array, w: Array) -> tuple[Array, Array]:
    """log of the integral of exp(-|r - u s - w t|^2 / 2) over s, t in [0, 1], and sd of s.

    ``r``, ``u``, ``w`` have shape (cell, n), whitened.
    """
    along, across = np.einsum("cn,cn->c", u, u), np.einsum("cn,cn->c", w, w)
    both = np.einsum("cn,cn->c", u, w)
    sd = 1 / np.sqrt(np.maximum(along + _BROAD - both**2 / (across + _BROAD), _BROAD / 2))
    # The rule goes along the ridge: across it, all of it might lie between two nodes.
    turned = (along > across)[:, None]
    return _integral(r, np.where(turned, w, u), np.where(turned, u, w)), sd


def _integral(r: Array, u: Array, w: Array) -> Array:
    """The log of the integral, exact over t, over s by a Gauss rule across the peak.

    Neighbouring cells share an edge and so lose nothing between them.
    """
    a = np.einsum("cn,cn->c", u, u) + _BROAD
    c = np.einsum("cn,cn->c", w, w) + _BROAD
    b = np.einsum("cn,cn->c", u, w)
    p = np.einsum("cn,cn->c", u, r) + _BROAD / 2
    q = np.einsum("cn,cn->c", w, r) + _BROAD / 2
    rest = np.einsum("cn,cn->c", r, r) + _BROAD / 2
    steep = np.maximum(a - b * b / c, _BROAD / 2)
    peak = (p - b * q / c) / steep
    least = rest - q * q / c - steep * peak * peak
    sd = 1 / np.sqrt(steep)
    near = np.clip(peak, 0, 1)
    reach = _REACH * sd * sd / np.hypot(sd, peak - near)
    start, end = np.maximum(near - reach, 0), np.minimum(near + reach, 1)
    half = (end - start) / 2
    s = (start + end)[:, None] / 2 + half[:, None] * _NODES
    root = np.sqrt(c)[:, None]
    t = (q[:, None] - b[:, None] * s) / c[:, None]
    inside = below((1 - t) * root) - below(-t * root)
    offset = (s - peak[:, None]) ** 2
    lowest = np.min(offset, axis=1, keepdims=True)
    heights = np.exp(-0.5 * steep[:, None] * (offset - lowest)) * np.maximum(inside, 0)
    total = half * (heights @ _WEIGHTS)
    with np.errstate(divide="ignore"):
        value = np.log(total) - 0.5 * (least + steep * lowest[:, 0]) + 0.5 * np.log(2 * pi / c)
    result: Array = value
    return result
