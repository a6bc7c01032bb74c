"""Cells over (severity coordinate, process), split until the circuit is smooth inside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Any

import numpy as np

from judge.evidence import Choice, peaks
from judge.model import Model
from judge.patches import halves, quadratic
from judge.slices import NEAR
from judge.world import process_prior

UNIT = 4096
"""Finest division of a first cell: twelve halvings."""
PRUNE = log(1e-9)


@dataclass(frozen=True)
class Fineness:
    """Cells at the start, allowed bend and box size (standard deviations), share not worth more."""

    u_cells: int
    p_cells: int
    bend: float
    step: float
    gauss: int
    floor: float

    @property
    def edges(self) -> np.ndarray:
        """Process values at the edges of the first cells; prior steps, saturations among them."""
        return np.array([-0.1, -0.0125, *np.linspace(0, 1, self.p_cells + 1), 1.03125, 1.1])


@dataclass
class Leaves:
    """Cells by integer corners ``(h, u0, u1, p0, p1)`` and the nine nodes of each (N, 3, 3)."""

    corner: np.ndarray
    node: np.ndarray

    def __len__(self) -> int:
        return len(self.corner)

    def only(self, rows: np.ndarray) -> Leaves:
        """Some of them."""
        return Leaves(self.corner[rows], self.node[rows])


class Cells:
    """The solved nodes of all hypotheses, and the cells between them."""

    def __init__(
        self, model: Model, sets: Sequence[Choice], fineness: Fineness, lowest: float
    ) -> None:
        self.model, self.sets, self.fineness = model, sets, fineness
        self.edges = fineness.edges
        self.reference = lowest
        self.prior = process_prior(model.loop)
        self.slices = model.slices.count + 1
        sized = np.array([h.severity is not None for h in model.cases])
        prior = np.log([max(h.prior, 1e-300) for h in model.cases])
        self.sized = np.repeat(sized, self.slices)
        self.log_prior = (prior[:, None] + model.slices.log_weight).ravel()
        n = len(model.margins)
        self.keys = np.zeros(0, dtype=np.int64)
        self.slot = np.zeros(0, dtype=np.int64)
        self.mean, self.cov = np.zeros((0, n)), np.zeros((0, n, n))
        self.near, self.code = np.zeros(0), np.zeros(0, dtype=int)

    def first(self) -> Leaves:
        """The first cells: each whole, or in slices where a bend may lie in it."""
        cells = self.nine(self._grid())
        if self.slices == 1:
            return cells
        bent = self._bent(cells)
        sliced = np.concatenate(
            [cells.corner[bent] + [k, 0, 0, 0, 0] for k in range(1, self.slices)]
        )
        return self.nine(np.concatenate([cells.corner[~bent], sliced]))

    def _bent(self, cells: Leaves) -> np.ndarray:
        """Cells in which a transmitter may be at a bend: close to it, or on both sides of it."""
        near, code = self.near[cells.node], self.code[cells.node]
        several = code.max(axis=(1, 2)) > code.min(axis=(1, 2))
        return np.asarray((near.min(axis=(1, 2)) < NEAR) | several)

    def _grid(self) -> np.ndarray:
        out = []
        for h in range(0, len(self.sized), self.slices):
            sized = self.sized[h]
            us = range(self.fineness.u_cells) if sized else [None]
            for i in us:
                u0, u1 = (0, 0) if i is None else (i * UNIT, (i + 1) * UNIT)
                out += [(h, u0, u1, k * UNIT, (k + 1) * UNIT) for k in range(len(self.edges) - 1)]
        return np.array(out, dtype=np.int64)

    def nodes(self, h: np.ndarray, u: np.ndarray, p: np.ndarray) -> np.ndarray:
        """Numbers of the nodes at integer coordinates, solving the new ones."""
        key = ((h << 40) | (u << 20) | p).ravel()
        fresh = self._fresh(key)
        if len(fresh):
            self._solve(fresh)
        return self.slot[np.searchsorted(self.keys, key)].reshape(np.shape(h))

    def _fresh(self, key: np.ndarray) -> np.ndarray:
        """Keys not solved yet, each once (by sorting: faster than numpy's hashing)."""
        sort = np.sort(key)
        sort = sort[np.r_[True, sort[1:] != sort[:-1]]]
        at = np.searchsorted(self.keys, sort)
        known = at < len(self.keys)
        known[known] = self.keys[at[known]] == sort[known]
        return sort[~known]

    def _solve(self, fresh: np.ndarray) -> None:
        mask = (1 << 20) - 1
        u = ((fresh >> 20) & mask) / (UNIT * self.fineness.u_cells)
        p = np.interp((fresh & mask) / UNIT, np.arange(len(self.edges)), self.edges)
        case = fresh >> 40
        mean, cov, near, code = self.model.predict(case // self.slices, u, p, case % self.slices)
        slots = len(self.mean) + np.arange(len(fresh))
        keys, slot = np.concatenate([self.keys, fresh]), np.concatenate([self.slot, slots])
        order = np.argsort(keys)
        self.keys, self.slot = keys[order], slot[order]
        self.mean = np.concatenate([self.mean, mean])
        self.cov = np.concatenate([self.cov, cov])
        self.near = np.concatenate([self.near, near])
        self.code = np.concatenate([self.code, code])

    def nine(self, corner: np.ndarray) -> Leaves:
        """The nine nodes of cells."""
        h, u0, u1, p0, p1 = corner.T
        us = np.stack([u0, (u0 + u1) // 2, u1], axis=1)[:, :, None]
        ps = np.stack([p0, (p0 + p1) // 2, p1], axis=1)[:, None, :]
        us, ps = np.broadcast_arrays(us, ps)
        hs = np.broadcast_to(h[:, None, None], us.shape)
        return Leaves(corner, self.nodes(hs, us, ps))

    def log_area(self, corner: np.ndarray) -> np.ndarray:
        """Log of the prior mass of cells, prior of the hypothesis included."""
        h, u0, u1, p0, p1 = corner.T
        width = np.where(self.sized[h], (u1 - u0) / (UNIT * self.fineness.u_cells), 1.0)
        low, high = (np.interp(x / UNIT, np.arange(len(self.edges)), self.edges) for x in (p0, p1))
        middle = (low + high) / 2
        density = sum(share / (b - a) * ((middle > a) & (middle < b)) for a, b, share in self.prior)
        return self.log_prior[h] + np.log(width * (high - low) * density)

    def place(self, corner: np.ndarray, box: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Edges (rows, 2) of boxes inside cells, in u and in p."""
        _, u0, u1, p0, p1 = corner.T
        u = (u0[:, None] + (u1 - u0)[:, None] * box[:, :2]) / (UNIT * self.fineness.u_cells)
        whole = ~self.sized[corner[:, 0]]
        u[whole] = [0.0, 1.0]
        p = (p0[:, None] + (p1 - p0)[:, None] * box[:, 2:]) / UNIT
        return u, np.interp(p, np.arange(len(self.edges)), self.edges)

    def bound(self, cells: Leaves) -> np.ndarray:
        """Bound on the log mass of cells, over all choices of worthless readings."""
        best = np.full(len(cells), -np.inf)
        nine = self.mean[cells.node]
        for i, k in ((1, 1), (0, 0), (0, 2), (2, 0), (2, 2)):
            here = self.cov[cells.node[:, i, k]]
            reaches = [1.2 * (nine[:, a, b] - nine[:, i, k]) for a in range(3) for b in range(3)]
            for choice in self.sets:
                got, _ = peaks(choice, here, nine[:, i, k], reaches, together=False)
                best = np.maximum(best, got)
        return best + self.log_area(cells.corner)

    def bends(self, cells: Leaves, parent: np.ndarray | None, place: np.ndarray | None) -> Any:
        """How far the middle nodes leave the straight line along u and p; the parent's miss."""
        nine, cov = self.mean[cells.node], self.cov[cells.node]
        by_u = [nine[:, 1, k] - (nine[:, 0, k] + nine[:, 2, k]) / 2 for k in range(3)]
        by_p = [nine[:, k, 1] - (nine[:, k, 0] + nine[:, k, 2]) / 2 for k in range(3)]
        miss = []
        if parent is not None and place is not None:
            miss = [self._miss(nine, parent, place, i, k) for i in range(3) for k in range(3)]
        whole = self.sets[0]
        _, lengths = peaks(whole, cov[:, 1, 1], nine[:, 1, 1], [*by_u, *by_p, *miss], True)
        longest = [np.max(lengths[:3], axis=0), np.max(lengths[3:6], axis=0)]
        missed = np.max(lengths[6:], axis=0) if miss else np.full(len(cells), np.inf)
        return longest[0], longest[1], missed, *_spread_bends(cov)

    def _miss(
        self, nine: np.ndarray, parent: np.ndarray, place: np.ndarray, i: int, k: int
    ) -> np.ndarray:
        a = place[:, 0] + (place[:, 1] - place[:, 0]) * i / 2
        b = place[:, 2] + (place[:, 3] - place[:, 2]) * k / 2
        return nine[:, i, k] - quadratic(self.mean[parent], a, b)

    def refine(self) -> Leaves:
        """Splits cells until they are smooth or do not matter."""
        cells = self.first()
        parent = place = None
        done: list[Leaves] = []
        while len(cells):
            bound = self.bound(cells)
            self._raise_reference(cells)
            keep = bound > self.reference + PRUNE
            cells, bound = cells.only(keep), bound[keep]
            if parent is not None and place is not None:
                parent, place = parent[keep], place[keep]
            if not len(cells):
                break
            u, p, missed, su, sp = self.bends(cells, parent, place)
            most = self.fineness.bend
            rough = ((np.maximum(u, p) > most) & (missed > most)) | (np.maximum(su, sp) > 2 * most)
            c = cells.corner
            cut_u = ((u > most) | (su > 2 * most)) & (c[:, 2] - c[:, 1] >= 4)
            cut_p = ((p > most) | (sp > 2 * most)) & (c[:, 4] - c[:, 3] >= 4)
            worth = bound > self.reference + log(self.fineness.floor)
            split = rough & worth & (cut_u | cut_p)
            done.append(cells.only(~split))
            corner, source, place = halves(c[split], cut_u[split], cut_p[split])
            parent = cells.node[split][source]
            cells = self.nine(corner) if len(corner) else Leaves(corner, parent)
        return Leaves(
            np.concatenate([d.corner for d in done]), np.concatenate([d.node for d in done])
        )

    def _raise_reference(self, cells: Leaves) -> None:
        """A cautious estimate of the evidence: the middle nodes, divided by a hundred."""
        mean, cov = self.mean[cells.node[:, 1, 1]], self.cov[cells.node[:, 1, 1]]
        logs = np.stack([peaks(c, cov, mean, [0 * mean], True)[0] for c in self.sets])
        mass = np.logaddexp.reduce(logs, axis=0) + self.log_area(cells.corner)
        self.reference = max(self.reference, float(np.logaddexp.reduce(mass)) - log(100))


def _spread_bends(cov: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Relative departure of the middle variances from a straight line, along u and along p."""
    var = np.einsum("rijkk->rijk", cov)
    along_u = np.abs(var[:, 1] - (var[:, 0] + var[:, 2]) / 2) / var[:, 1]
    along_p = np.abs(var[:, :, 1] - (var[:, :, 0] + var[:, :, 2]) / 2) / var[:, :, 1]
    return along_u.max(axis=(1, 2)), along_p.max(axis=(1, 2))
