"""Quadrature inside solved cells: boxes no wider than the readings resolve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Any

import numpy as np

from judge.cells import Cells, Fineness, Leaves
from judge.evidence import Choice, log_density, peaks
from judge.patches import bilinear, quadratic

PRUNE = log(1e-8)
DEEPEST = 16
CHUNK = 20_000


def integrate(
    cells: Cells,
    leaves: Leaves,
    sets: Sequence[Choice],
    fineness: Fineness,
    record: list[Used] | None = None,
) -> tuple[np.ndarray, int]:
    """Log of prior times evidence per hypothesis, and the number of boxes; these in ``record``."""
    logs = np.full(len(cells.sized), -np.inf)
    count = 0
    log_area = cells.log_area(leaves.corner)
    for start in range(0, len(leaves), CHUNK):
        rows = np.arange(start, min(start + CHUNK, len(leaves)))
        boxes = np.tile([0.0, 1.0, 0.0, 1.0], (len(rows), 1))
        job = _Pass(cells, leaves, log_area, sets, fineness, logs, record)
        count += _descend(job, rows, boxes, 0)
    return np.logaddexp.reduce(logs.reshape(-1, cells.slices), axis=1), count


@dataclass(frozen=True)
class Used:
    """Boxes of an integration: hypothesis, u and p of their edges, log mass by choice."""

    h: np.ndarray
    u: np.ndarray
    p: np.ndarray
    log_mass: np.ndarray


class _Pass:
    """What every box of one integration needs."""

    def __init__(
        self,
        cells: Cells,
        leaves: Leaves,
        log_area: np.ndarray,
        sets: Sequence[Choice],
        fineness: Fineness,
        logs: np.ndarray,
        record: list[Used] | None,
    ) -> None:
        self.record = record
        self.cells, self.leaves, self.log_area = cells, leaves, log_area
        self.sets, self.fineness, self.logs = sets, fineness, logs
        self.rule = [
            (x / 2 + 0.5, w / 2)
            for x, w in zip(*np.polynomial.legendre.leggauss(fineness.gauss), strict=True)
        ]


def _descend(job: _Pass, leaf: np.ndarray, box: np.ndarray, depth: int) -> int:
    count = 0
    while len(leaf):
        if len(leaf) > 2 * CHUNK:
            half = len(leaf) // 2
            return (
                count
                + _descend(job, leaf[:half], box[:half], depth)
                + _descend(job, leaf[half:], box[half:], depth)
            )
        nine = job.cells.mean[job.leaves.node[leaf]]
        cov = _middle_cov(job, leaf, box)
        bounds, wide_u, wide_p = _measure(job, nine, cov, box)
        size = (box[:, 1] - box[:, 0]) * (box[:, 3] - box[:, 2])
        mass = bounds + (job.log_area[leaf] + np.log(size))[:, None]
        live = mass > job.cells.reference + PRUNE
        step = job.fineness.step
        wide_u = np.max(np.where(live, wide_u, 0.0), axis=1)
        wide_p = np.max(np.where(live, wide_p, 0.0), axis=1)
        some = live.any(axis=1)
        ready = some & (((wide_u <= step) & (wide_p <= step)) | (depth >= DEEPEST))
        count += int(ready.sum())
        if ready.any():
            _collect(job, leaf[ready], box[ready], nine[ready], cov[ready], live[ready])
        split = some & ~ready
        leaf, box = _split(leaf[split], box[split], wide_u[split] > step, wide_p[split] > step)
        depth += 1
    return count


def _middle_cov(job: _Pass, leaf: np.ndarray, box: np.ndarray) -> np.ndarray:
    nine = job.cells.cov[job.leaves.node[leaf]]
    return bilinear(nine, (box[:, 0] + box[:, 1]) / 2, (box[:, 2] + box[:, 3]) / 2)


def _measure(job: _Pass, nine: np.ndarray, cov: np.ndarray, box: np.ndarray) -> tuple[Any, ...]:
    """Bound per choice, and the width of the box in standard deviations along u and p."""
    a0, a1, b0, b1 = box.T
    am, bm = (a0 + a1) / 2, (b0 + b1) / 2
    middle = quadratic(nine, am, bm)
    du = (quadratic(nine, a1, bm) - quadratic(nine, a0, bm)) / 2
    dp = (quadratic(nine, am, b1) - quadratic(nine, am, b0)) / 2
    found = [peaks(c, cov, middle, [1.1 * du, 1.1 * dp], True) for c in job.sets]
    return (
        np.stack([f[0] for f in found], axis=1),
        2 * np.stack([f[1][0] for f in found], axis=1),
        2 * np.stack([f[1][1] for f in found], axis=1),
    )


def _split(
    leaf: np.ndarray, box: np.ndarray, cut_u: np.ndarray, cut_p: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Halves boxes along the directions asked for."""
    leaf, box, cut_p = np.r_[leaf, leaf[cut_u]], _halved(box, cut_u, 0), np.r_[cut_p, cut_p[cut_u]]
    return np.r_[leaf, leaf[cut_p]], _halved(box, cut_p, 2)


def _halved(box: np.ndarray, cut: np.ndarray, side: int) -> np.ndarray:
    """First halves in place, second halves appended."""
    first, second = box.copy(), box[cut].copy()
    middle = (second[:, side] + second[:, side + 1]) / 2
    first[cut, side + 1] = middle
    second[:, side] = middle
    return np.concatenate([first, second])


def _collect(
    job: _Pass,
    leaf: np.ndarray,
    box: np.ndarray,
    nine: np.ndarray,
    cov: np.ndarray,
    live: np.ndarray,
) -> None:
    """Adds the mass of boxes to their hypotheses: a Gauss rule in each box and live choice."""
    a0, a1, b0, b1 = box.T
    grid = [
        (a0 + (a1 - a0) * x, b0 + (b1 - b0) * y, log(w * v))
        for x, w in job.rule
        for y, v in job.rule
    ]
    means = [quadratic(nine, a, b) for a, b, _ in grid]
    size = job.log_area[leaf] + np.log((a1 - a0) * (b1 - b0))
    hypothesis = job.leaves.corner[leaf, 0]
    masses = np.full((len(leaf), len(job.sets)), -np.inf)
    for k, choice in enumerate(job.sets):
        rows = np.flatnonzero(live[:, k])
        if len(rows):
            found = log_density(choice, cov[rows], [m[rows] for m in means])
            logs = [d + weight for d, (_, _, weight) in zip(found, grid, strict=True)]
            mass = np.logaddexp.reduce(np.stack(logs), axis=0) + size[rows]
            np.logaddexp.at(job.logs, hypothesis[rows], mass)
            masses[rows, k] = mass
    if job.record is not None:
        u, p = job.cells.place(job.leaves.corner[leaf], box)
        job.record.append(Used(hypothesis, u, p, masses))
