"""A hidden fault drawn from the priors, with the complaint that it would raise."""

from __future__ import annotations

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.errors import DiagnoseError
from diagnose.inference.atlas import Atlas
from diagnose.inference.cells import Cells, Peak
from diagnose.inference.complaints import complaints
from diagnose.inference.engine import Engine
from diagnose.inference.hypotheses import Pair
from diagnose.inference.symptoms import SOUND, Symptoms, floor
from diagnose.inference.world import World

NOTICED = 0.05
"""Chance of any complaint below which nobody calls: such a fault is drawn again."""

TRIES = 10_000
"""Draws before it is said that no fault of the loop is ever noticed."""


def draw(
    engine: Engine,
    seed: int,
    faults: int = 1,
    fault: tuple[str | None, str] | None = None,
    tilt: Array | None = None,
) -> tuple[World, str]:
    """A loop with a fault from the priors, and its complaint; the same seed gives the same.

    With two ``faults`` both are electrical, of different parts.  ``fault`` (part, mode) is the one
    that is hidden, if it is not to be drawn; ``tilt`` (hypothesis,) multiplies the priors by which
    one is drawn.  Raises DiagnoseError where no such fault of the loop
    is ever noticed.
    """
    rng = np.random.default_rng(seed)
    prior = np.array([h.prior if fault in (None, h.key) else 0.0 for h in engine.hypotheses])
    prior = prior if tilt is None else prior * tilt
    if not prior.any():
        raise DiagnoseError(f"{engine.loop.tag} has no such fault: {fault}")
    for _ in range(TRIES):
        h, atlas = engine.hypotheses[int(rng.choice(len(prior), p=prior / prior.sum()))], None
        if faults == 2:
            h = _two(engine, rng)
            atlas = engine.atlas.extended((h,))
        x, p = float(rng.random()), _process(engine, rng)
        world = World(engine.observer, (atlas or engine.atlas).ground, h, x, p, rng)
        chances = complaint_chances(engine, h.number, x, p, atlas)
        total = sum(chances.values())
        if total > NOTICED:
            names = list(chances)
            weights = np.array([chances[name] for name in names]) / total
            return world, names[int(rng.choice(len(names), p=weights))]
    raise DiagnoseError(f"no fault of {engine.loop.tag} raises a complaint: it has no display")


def _two(engine: Engine, rng: np.random.Generator) -> Pair:
    """Two electrical faults of different parts, each by its prior."""
    able = [h for h in engine.hypotheses if h.mode is not None and h.mode.group == "electrical"]
    prior = np.array([h.prior for h in able])
    while True:
        first, second = (able[n] for n in rng.choice(len(able), 2, p=prior / prior.sum()))
        if first.part != second.part:
            number, x = len(engine.hypotheses), float(rng.random())
            return Pair(number, second.part, second.mode, 0.0, second.place, first, x)


def _process(engine: Engine, rng: np.random.Generator) -> float:
    """Within the range; at one of its ends where the loop knows only two states."""
    return float(rng.integers(2)) if engine.loop.states else float(rng.uniform(0, 1))


def complaint_chances(
    engine: Engine, number: int, x: float, p: float, atlas: Atlas | None = None
) -> dict[str, float]:
    """Chance of each complaint at one point of one hypothesis, without the floor.

    ``atlas`` is one that knows the hypothesis, by default the engine's.
    """
    if number == 0:
        return {name: SOUND[name] for name in complaints(engine.loop)}
    atlas = atlas or engine.atlas
    cell, s, t = _cell_at(atlas, number, x, p)
    sharp = 1e12 * np.eye(2)[None]
    peak = Peak(s, t, s, sharp, s, s, s)
    found = {}
    for name in complaints(engine.loop):
        log = Symptoms(name, engine.baseline).cells(atlas, cell, peak)
        found[name] = max(float(np.exp(log)[0]) - floor(name), 0.0)
    return found


def _cell_at(atlas: Atlas, number: int, x: float, p: float) -> tuple[Cells, Array, Array]:
    """The one cell that holds a point, and where in it the point lies."""
    lines, cells = atlas.lines, atlas.cells
    within = (lines.x[cells.low] <= x) & (x <= lines.x[cells.high])
    within = (cells.h == number) & (within | (cells.low == cells.high))
    low, high = cells.p[:, [0, 2]].min(axis=1), cells.p[:, [1, 3]].max(axis=1)
    cell = cells.some(np.flatnonzero(within & (low <= p) & (p <= high))[:1])
    left, right = lines.x[cell.low], lines.x[cell.high]
    s = np.where(right > left, (x - left) / np.maximum(right - left, 1e-12), 0.5)
    bottom = (1 - s) * cell.p[:, 0] + s * cell.p[:, 2]
    top = (1 - s) * cell.p[:, 1] + s * cell.p[:, 3]
    t = np.clip((p - bottom) / np.maximum(top - bottom, 1e-12), 0, 1)
    return cell, s, t
