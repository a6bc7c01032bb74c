"""Density of a set of margins, with every choice of worthless readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import log, pi
from typing import Any

import numpy as np

from judge.gaussian import cholesky, log_cdf, log_orthant, norm, whiten
from judge.margins import Margin

SLACK = 5.0
"""Standard deviations by which other readings may shift a threshold in a bound."""


@dataclass(frozen=True)
class Choice:
    """Readings taken as sound: values first, then thresholds; and the weight of the choice."""

    values: tuple[int, ...]
    thresholds: tuple[int, ...]
    log_weight: float

    @property
    def order(self) -> list[int]:
        """All sound readings, values first."""
        return [*self.values, *self.thresholds]


def choices(margins: Sequence[Margin], most: int = 2, all_up_to: int = 4) -> list[Choice]:
    """All sets of at most ``most`` worthless readings (every set for few readings)."""
    n = len(margins)
    most = n if n <= all_up_to else most
    out = []
    for k in range(most + 1):
        for bad in combinations(range(n), k):
            good = [i for i in range(n) if i not in bad]
            weight = sum(log(margins[i].worthless * margins[i].spoilt) for i in bad)
            weight += sum(log(1 - margins[i].worthless) for i in good)
            out.append(
                Choice(
                    tuple(i for i in good if not margins[i].threshold),
                    tuple(i for i in good if margins[i].threshold),
                    weight,
                )
            )
    return out


def log_broad(margins: Sequence[Margin]) -> float:
    """Density of all readings when none of the modelled causes holds."""
    return sum(log(m.broad) for m in margins)


def peaks(
    choice: Choice, cov: np.ndarray, mean: np.ndarray, reaches: Sequence[np.ndarray], together: bool
) -> tuple[Any, list[Any]]:
    """Bound on the log density when the mean may move by the reaches, and their whitened lengths.

    The residual's length in units of its covariance cannot shrink by more than the length of the
    move (triangle inequality): the sum of the reaches if ``together``, else the longest.
    """
    v = list(choice.values)
    low = cholesky(cov[:, v][:, :, v])
    size = norm(whiten(low, [-mean[:, i] for i in v])) if v else 0.0
    lengths = [
        norm(whiten(low, [d[:, i] for i in v])) if v else np.zeros(len(mean)) for d in reaches
    ]
    radius = sum(lengths) if together else np.max([*lengths, np.zeros(len(mean))], axis=0)
    near = np.maximum(size - radius, 0.0)
    bound = choice.log_weight - 0.5 * near**2 - 0.5 * len(v) * log(2 * pi)
    bound = bound - sum((np.log(low[i][i]) for i in range(len(v))), start=np.zeros(len(mean)))
    for t in choice.thresholds:
        sd = np.sqrt(cov[:, t, t])
        moves = [np.abs(d[:, t]) for d in reaches]
        far = sum(moves) if together else np.max([*moves, 0 * sd], axis=0)
        bound = bound + log_cdf((mean[:, t] + far) / sd + SLACK)
        near_edge = np.abs(mean[:, t]) - far < 8 * sd
        lengths = [
            np.maximum(a, np.where(near_edge, m / sd, 0.0))
            for a, m in zip(lengths, moves, strict=True)
        ]
    return bound, lengths


def log_density(choice: Choice, cov: np.ndarray, means: Sequence[np.ndarray]) -> list[Any]:
    """Log density (with the weight of the choice) at several means for one covariance per row."""
    order, nv = choice.order, len(choice.values)
    low = cholesky(cov[:, order][:, :, order])
    rest = [row[nv:] for row in low[nv:]]
    scale = choice.log_weight - 0.5 * nv * log(2 * pi)
    scale = scale - sum((np.log(low[i][i]) for i in range(nv)), start=np.zeros(len(cov)))
    out = []
    for mean in means:
        z = whiten(low, [-mean[:, i] for i in choice.values])
        tops = [
            mean[:, t] + sum(low[nv + k][m] * z[m] for m in range(nv))
            for k, t in enumerate(choice.thresholds)
        ]
        out.append(scale - 0.5 * sum(x * x for x in z) + log_orthant(tops, rest))
    return out
