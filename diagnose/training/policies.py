"""Ways to choose the next measurement: the advice, the habits of the trade, and chance."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from diagnose.inference.advice import MINUTES_PER_BIT, SURE, Adviser
from diagnose.inference.candidates import Candidate
from diagnose.inference.engine import Engine
from diagnose.inference.planning import BREADTH, SHORTLIST, planned

NOTHING, RULED_OUT = 1e-3, 0.01
"""Bits below which a step tells nothing; chance below which none of the modelled is ruled out."""

Policy = Callable[[Engine, Adviser, Sequence[Candidate], np.random.Generator], Candidate | None]
"""Engine, what it sees ahead, what was not read yet, luck -> the next step; None to stop."""


def _advised(
    engine: Engine, adviser: Adviser, left: Sequence[Candidate], rng: np.random.Generator
) -> Candidate | None:
    """What the tool advises; where it would stop by value, the most telling step all the same.

    It ends where nothing is left to tell, and none of the modelled faults is no longer in question.
    """
    if adviser.order:
        return adviser.candidates[adviser.order[0]]
    known = _numbers(adviser)
    most = max((adviser.gains[known[c.measurement]] for c in left), default=0.0)
    if most < NOTHING and adviser.belief.unmodelled < RULED_OUT:
        return None
    return _most_telling(engine, adviser, left, rng)


def _most_telling(
    engine: Engine, adviser: Adviser, left: Sequence[Candidate], rng: np.random.Generator
) -> Candidate | None:
    """The step that tells most, whatever it costs; of those that tell the same, the quickest."""
    known = _numbers(adviser)

    def most(c: Candidate) -> tuple[float, float]:
        n = known[c.measurement]
        return round(float(adviser.gains[n]), 3), -float(adviser.minutes[n])

    return max(left, key=most, default=None)


def _per_minute(
    engine: Engine, adviser: Adviser, left: Sequence[Candidate], rng: np.random.Generator
) -> Candidate | None:
    """The step that tells most per minute, looking no further."""
    known = _numbers(adviser)

    def worth(c: Candidate) -> float:
        n = known[c.measurement]
        return float(adviser.gains[n] / adviser.minutes[n])

    return max(left, key=worth, default=None)


def _ahead(*breadth: int) -> Policy:
    """The leading step that costs least in the end, seen some steps ahead."""

    def choose(
        engine: Engine, adviser: Adviser, left: Sequence[Candidate], rng: np.random.Generator
    ) -> Candidate | None:
        some = adviser.leading(SHORTLIST)
        n = planned(adviser, some, SURE, MINUTES_PER_BIT, breadth) if len(some) > 1 else None
        return _advised(engine, adviser, left, rng) if n is None else adviser.candidates[n]

    return choose


def _half_split(
    engine: Engine, adviser: Adviser, left: Sequence[Candidate], rng: np.random.Generator
) -> Candidate | None:
    """The habit of the trade: of the undisturbing volts, the one that halves the suspects best."""
    plain = ("V", "VAC", "shows")
    volts = [c for c in left if c.measurement.function in plain and not c.moves_signal]
    known = _numbers(adviser)
    present = adviser.given.present
    alive = adviser.given.of(present[adviser.belief.probability[present] > 0.01])

    def halves(c: Candidate) -> float:
        told = alive[known[c.measurement]]
        side = told[: len(told) // 2].sum(axis=0) > 0.5
        return abs(float(side.mean()) - 0.5) if len(side) else 1.0

    return min(volts or left, key=halves, default=None)


def _fixed_order(
    engine: Engine, adviser: Adviser, left: Sequence[Candidate], rng: np.random.Generator
) -> Candidate | None:
    """Cabinet first, then outwards, in the order of the sheet; what disturbs comes last."""
    places = {place.name: place.minutes for place in engine.loop.places}
    return min(left, key=lambda c: (c.moves_signal, places[c.place]), default=None)


def _random(
    engine: Engine, adviser: Adviser, left: Sequence[Candidate], rng: np.random.Generator
) -> Candidate | None:
    return left[int(rng.integers(len(left)))] if left else None


def _numbers(adviser: Adviser) -> dict[object, int]:
    return {c.measurement: n for n, c in enumerate(adviser.candidates)}


POLICIES: dict[str, Policy] = {
    "advice": _advised,
    "gain": _most_telling,
    "gain per minute": _per_minute,
    "one step ahead": _ahead(5, 1, 1, 1, 1, 1),
    "two steps ahead": _ahead(*BREADTH),
    "half-split": _half_split,
    "fixed order": _fixed_order,
    "random": _random,
}
"""Policies by name, the advice first."""
