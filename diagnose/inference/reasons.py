"""What speaks for an explanation and what against it: each fact in bits, and what it predicted.

The weight of evidence of a fact is by how much it moves the odds of the explanation against all
others, in bits (A. M. Turing's and I. J. Good's measure; I. J. Good, "Probability and the Weighing
of Evidence", 1950, from memory).  In the order in which they were taken, facts add up exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log2
from typing import TYPE_CHECKING

import numpy as np

from diagnose.errors import DiagnoseError, UnknownNameError
from diagnose.inference.ammeter import metered_at
from diagnose.inference.atlas import Atlas
from diagnose.inference.candidates import Candidate
from diagnose.inference.drawn import draw, likeliest
from diagnose.inference.foresight import Foresight
from diagnose.inference.hypotheses import Hypothesis, condition_moves
from diagnose.inference.known import Known
from diagnose.inference.measurement import Cleared, Jumper, Measurement, Reading
from diagnose.inference.meters import FUNCTION_UNITS
from diagnose.inference.moving import beyond
from diagnose.inference.report_advice import Span, middle

if TYPE_CHECKING:
    from diagnose.circuit.explain import Explanation
    from diagnose.inference.engine import Engine, Evidence
    from diagnose.inference.posterior import Belief

CLEAR = 0.5
"""Bits from which a fact is said to speak for or against an explanation."""

LEAST = 1e-12
"""Probability below which none is told: odds stay finite."""

_POINTS = 60
"""Points of the belief at which a reading is predicted."""

_FORMULAS = 3
"""Readings, the weightiest first, whose formula is worked out."""


@dataclass(frozen=True, slots=True)
class Reason:
    """What one fact does to an explanation.

    ``index`` counts the facts from 1, in the order in which they were taken.  ``bits`` is by how
    much it moved the odds then; ``alone`` by how much they would fall without it, all others known.
    ``expected`` is what the explanation makes of the reading once the others are known, middle
    90 %, SI; None for what is no reading, or where nothing is left of the explanation.  ``why`` is
    the formula behind the prediction.
    """

    index: int
    text: str
    bits: float
    alone: float
    expected: Span | None = None
    why: Explanation | None = None


@dataclass(frozen=True, slots=True)
class Reasons:
    """All facts for and against one explanation; ``prior`` and ``posterior`` are log odds, bits."""

    part: str | None
    fault: str
    probability: float
    prior: float
    posterior: float
    facts: tuple[Reason, ...]


def reasons(engine: Engine, evidence: Sequence[Evidence], key: tuple[str | None, str]) -> Reasons:
    """What each fact says of the single fault (part, fault); ``(None, "none")`` is a sound loop.

    Raises UnknownNameError where the loop has no such fault.
    """
    engine = engine.at(evidence)
    h = _hypothesis(engine, key)
    steps = [_odds(engine.believe(engine.sort(evidence[:n]))[0], h) for n in range(len(evidence))]
    told = engine.sort(evidence)
    belief, whole = engine.believe(told)
    known = Known(whole, told.data, beyond(belief.drift, engine.loop))
    steps.append(_odds(belief, h))
    moved = np.diff(steps)
    order = np.argsort(-np.abs(moved), kind="stable").tolist()
    weightiest = [n for n in order if _has_formula(evidence[n])][:_FORMULAS]
    facts = []
    for n, item in enumerate(evidence):
        rest = [*evidence[:n], *evidence[n + 1 :]]
        without, atlas = engine.believe(engine.sort(rest))
        expected = why = None
        if isinstance(item, Reading) and item.sort != "impossible":
            expected = _expected(engine, atlas, without, rest, item.measurement, h)
            why = _formula(engine, belief, known, item.measurement, h) if n in weightiest else None
        alone = steps[-1] - _odds(without, h)
        facts.append(Reason(n + 1, _words(item), float(moved[n]), alone, expected, why))
    chance = float(belief.probability[h.number])
    return Reasons(*key, chance, steps[0], steps[-1], tuple(facts))


def _words(item: Evidence) -> str:
    return f"{item.part} {item.fault} found good" if isinstance(item, Cleared) else item.text


def _hypothesis(engine: Engine, key: tuple[str | None, str]) -> Hypothesis:
    known = {h.key: h for h in engine.hypotheses}
    if key not in known:
        names = (f"{part}:{fault}" if part else "sound" for part, fault in known)
        raise UnknownNameError("fault", f"{key[0] or ''}:{key[1]}".strip(":"), names)
    return known[key]


def _odds(belief: Belief, h: Hypothesis) -> float:
    """log2 of the odds of a hypothesis against everything else."""
    chance = min(max(float(belief.probability[h.number]), LEAST), 1 - LEAST)
    return log2(chance) - log2(1 - chance)


def _expected(
    engine: Engine,
    atlas: Atlas,
    belief: Belief,
    rest: Sequence[Evidence],
    measurement: Measurement,
    h: Hypothesis,
) -> Span | None:
    """What a measurement shows if ``h`` is the fault and the other facts are known."""
    own = np.flatnonzero(belief.weighted.cells.h == h.number)
    if measurement.function not in (*FUNCTION_UNITS, "shows", "process") or not len(own):
        return None
    told = engine.sort(rest)
    known = Known(atlas, told.data, beyond(belief.drift, engine.loop))
    points = draw(belief.weighted.some(own), known, _POINTS)
    trusted = [d for d, doubt in zip(told.data, belief.suspect, strict=True) if doubt < 0.5]
    wanted = [Candidate(measurement, "", 0.0, False, False)]
    seen = Foresight(atlas, engine.meter, points, wanted, trusted, belief.drift).outlook
    return middle(engine, measurement, seen.side[0], seen.mean[0], seen.sd[0], points.weight)


def _formula(
    engine: Engine, belief: Belief, known: Known, measurement: Measurement, h: Hypothesis
) -> Explanation | None:
    """The formula behind a reading of volts or of current, at the likeliest size of the fault."""
    from diagnose.circuit.explain import explain, explain_current

    function, points, condition = measurement.function, measurement.points, measurement.condition
    rows = np.flatnonzero(belief.weighted.cells.h == h.number)
    if not len(rows):
        return None
    x, process = likeliest(belief.weighted.some(rows), known)
    wiring = engine.machine.wiring
    names = {number: name for name, number in wiring.index.items()}
    set_, healed = condition_moves(wiring, condition)
    moves = dict([*h.moves(wiring, x, healed), *set_.items()])
    changes = {names[number]: float(value) for number, value in moves.items()}
    try:
        if function == "V":
            pair = (points[0], points[1])
            return explain(engine.loop, changes, process, pair, predictor=engine.machine)
        part = points[0] if function == "clamp" else metered_at(measurement, engine.loop).name
        return explain_current(engine.loop, changes, process, part, predictor=engine.machine)
    except DiagnoseError:
        return None


def _has_formula(item: Evidence) -> bool:
    """Volts and currents, and no jumper that no law knows."""
    if not isinstance(item, Reading) or item.measurement.function not in ("V", "mA", "clamp"):
        return False
    return not any(isinstance(part, Jumper) for part in item.measurement.condition)


__all__ = ["CLEAR", "Reason", "Reasons", "reasons"]
