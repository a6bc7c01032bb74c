"""Normal distribution functions and small Cholesky factors for many rows at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

_CHEB = (
    -1.26551223,
    1.00002368,
    0.37409196,
    0.09678418,
    -0.18628806,
    0.27886807,
    -1.13520398,
    1.48851587,
    -0.82215223,
    0.17087277,
)
"""Chebyshev fit of erfc, relative error below 1.2e-7 (Press et al., Numerical Recipes, 6.2)."""


DOUBT = 5.5
"""Beyond it a state is certain (2e-8)."""


def log_cdf(z: Any) -> Any:
    """Logarithm of the standard normal distribution function."""
    z = np.asarray(z, dtype=float)
    x = np.abs(z) / np.sqrt(2.0)
    t = 1.0 / (1.0 + 0.5 * x)
    poly = np.zeros_like(x)
    for c in reversed(_CHEB):
        poly = poly * t + c
    log_tail = np.log(0.5 * t) - x * x + poly
    return np.where(z < 0, log_tail, np.log1p(-np.exp(np.minimum(log_tail, -1e-300))))


def inverse_cdf(p: Any) -> Any:
    """Standard normal quantile: rational start (Abramowitz, Stegun 26.2.23), one Newton step."""
    p = np.clip(p, 1e-300, 1 - 1e-16)
    q = np.minimum(p, 1 - p)
    t = np.sqrt(-2 * np.log(q))
    z = t - (2.515517 + t * (0.802853 + t * 0.010328)) / (
        1 + t * (1.432788 + t * (0.189269 + t * 0.001308))
    )
    density = np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi)
    z = z + (np.exp(log_cdf(-z)) - q) / np.maximum(density, 1e-300)
    return np.where(p < 0.5, -z, z)


def cholesky(cov: np.ndarray) -> list[list[Any]]:
    """Lower factor of (rows, n, n) as lists of row arrays."""
    n = cov.shape[-1]
    low: list[list[Any]] = [[0.0] * n for _ in range(n)]
    for i in range(n):
        for k in range(i + 1):
            rest = cov[:, i, k] - sum(low[i][m] * low[k][m] for m in range(k))
            low[i][k] = np.sqrt(np.maximum(rest, 1e-300)) if i == k else rest / low[k][k]
    return low


def whiten(low: Sequence[Sequence[Any]], r: Sequence[Any]) -> list[Any]:
    """Solves ``low @ z = r`` by forward substitution; ``r`` as a list of row arrays."""
    z: list[Any] = []
    for i, value in enumerate(r):
        z.append((value - sum(low[i][m] * z[m] for m in range(i))) / low[i][i])
    return z


def norm(z: Sequence[Any]) -> Any:
    """Euclidean length over a list of row arrays."""
    return np.sqrt(sum(x * x for x in z))


def log_orthant(mean: Sequence[Any], low: Sequence[Sequence[Any]], points: int = 64) -> Any:
    """ln P(all x > 0) for x ~ N(mean, low low').

    Exact where no more than one of them is in doubt (within DOUBT standard deviations of the edge);
    the other rows by Genz's separation of variables on a shifted Richtmyer lattice
    (Genz 1992, J. Comput. Graph. Stat. 1:141).
    """
    n = len(mean)
    if n == 0:
        return 0.0
    scores = np.broadcast_arrays(*(mean[i] / norm(low[i][: i + 1]) for i in range(n)))
    out = sum(log_cdf(s) for s in scores)
    doubt = np.flatnonzero((sum(np.abs(s) < DOUBT for s in scores) > 1) & _tied(low))
    if len(doubt):
        rows = [m[doubt] for m in mean]
        factor = [[x[doubt] if np.ndim(x) else x for x in line] for line in low]
        out[doubt] = _genz(rows, factor, points)
    return out


def _tied(low: Sequence[Sequence[Any]]) -> Any:
    """Rows in which the variables are correlated."""
    tied: Any = False
    for i, line in enumerate(low):
        for k in range(i):
            tied = tied | (np.abs(line[k]) > 1e-4 * line[i])
    return tied


def _points(dimensions: int, points: int) -> list[tuple[tuple[float, ...], float]]:
    """Places in the unit cube and their weights: a Gauss rule in one dimension, else a lattice."""
    if dimensions == 1:
        x, w = np.polynomial.legendre.leggauss(16)
        return [((float(a),), float(b)) for a, b in zip(x / 2 + 0.5, w / 2, strict=True)]
    primes = np.sqrt([2, 3, 5, 7, 11, 13, 17, 19, 23][:dimensions])
    places = np.abs(2 * ((0.5 + (np.arange(points)[:, None] + 0.5) * primes) % 1.0) - 1)
    return [(tuple(place.tolist()), 1 / points) for place in places]


def _genz(mean: Sequence[Any], low: Sequence[Sequence[Any]], points: int) -> Any:
    total: Any = 0.0
    for place, weight in _points(len(mean) - 1, points):
        z: list[Any] = []
        chance: Any = 1.0
        for i in range(len(mean)):
            edge = -(mean[i] + sum(low[i][m] * z[m] for m in range(i))) / low[i][i]
            keep = np.exp(log_cdf(-edge))
            chance = chance * keep
            if i < len(mean) - 1:
                z.append(-inverse_cdf(np.maximum(place[i] * keep, 1e-300)))
        total = total + weight * chance
    return np.log(np.maximum(total, 1e-300))
