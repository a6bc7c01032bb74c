"""Interpolation in the nine nodes of a cell, and the halving of cells."""

from __future__ import annotations

import numpy as np


def quadratic(nine: np.ndarray, a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Biquadratic through nine nodes (N, 3, 3, n) at local coordinates in [0, 1] -> (N, n)."""
    wa = np.stack([(1 - a) * (1 - 2 * a), 4 * a * (1 - a), a * (2 * a - 1)], axis=1)
    wb = np.stack([(1 - b) * (1 - 2 * b), 4 * b * (1 - b), b * (2 * b - 1)], axis=1)
    return np.einsum("ri,rj,rijn->rn", wa, wb, nine)


def bilinear(nine: np.ndarray, a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Covariances between nine nodes (N, 3, 3, n, n): linear in each quarter, so always valid."""
    wa, wb = _hats(a), _hats(b)
    return np.einsum("ri,rj,rijnm->rnm", wa, wb, nine, optimize=True)


def _hats(a: np.ndarray) -> np.ndarray:
    return np.maximum(0.0, 1.0 - np.abs(2 * a[:, None] - np.arange(3)))


def halves(corner: np.ndarray, cut_u: np.ndarray, cut_p: np.ndarray) -> tuple[np.ndarray, ...]:
    """Children of cells: corners, number of the parent, place (a0, a1, b0, b1) in it."""
    out, source, place = [], [], []
    h, u0, u1, p0, p1 = corner.T
    um, pm = (u0 + u1) // 2, (p0 + p1) // 2
    for i in range(2):
        for k in range(2):
            rows = np.flatnonzero((cut_u | (i == 0)) & (cut_p | (k == 0)))
            cu, cp = cut_u[rows], cut_p[rows]
            a0, a1 = np.where(cu, i / 2, 0.0), np.where(cu, (i + 1) / 2, 1.0)
            b0, b1 = np.where(cp, k / 2, 0.0), np.where(cp, (k + 1) / 2, 1.0)
            lo_u = np.where(cu & (i == 1), um[rows], u0[rows])
            hi_u = np.where(cu & (i == 0), um[rows], u1[rows])
            lo_p = np.where(cp & (k == 1), pm[rows], p0[rows])
            hi_p = np.where(cp & (k == 0), pm[rows], p1[rows])
            out.append(np.stack([h[rows], lo_u, hi_u, lo_p, hi_p], axis=1))
            source.append(rows)
            place.append(np.stack([a0, a1, b0, b1], axis=1))
    return np.concatenate(out), np.concatenate(source), np.concatenate(place)
