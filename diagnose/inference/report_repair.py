"""What to inspect or change, in which order, and the readings that prove the repair."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.answer import Answer
from diagnose.inference.data import stray
from diagnose.inference.measurement import Applied, Measurement, scale_of
from diagnose.inference.meters import FUNCTION_UNITS
from diagnose.inference.observe import Sight
from diagnose.inference.proofs_by_command import proofs_by_command
from diagnose.inference.proofs_of_trip import proofs_of_trip
from diagnose.inference.ranking import Proof, Remedy
from diagnose.inference.readings import describe
from diagnose.inference.repair_order import repair_order, repair_problem
from diagnose.inference.spreads import systematic
from diagnose.inference.views import Points, sight
from diagnose.loops.states import States

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine

BAND = 3.0
"""Standard deviations either side that a proof reading may lie off: five points at two would
refuse about every fifth sound repair."""

WORTH_REPAIRING = 0.02
"""Chance of a fault above which its repair is listed."""

MOVES = 0.1
"""What is driven moves what proves it by more than this, as a share of range or in volts."""


def remedies(answer: Answer) -> Iterator[Remedy]:
    """Repairs in the order of probability per minute, walks counted: the quickest to the cure.

    Decreasing p/c is optimal when exactly one element has failed and each inspection proves one
    (J. Kadane and H. Simon, 1977; from memory); with walks, see ``repair_order``.
    """
    chance = fault_chances(answer)
    able = [
        h for h in answer.hypotheses if h.mode and not h.also and chance[h.key] > WORTH_REPAIRING
    ]
    if len(able) > 1:
        minutes, places = [h.mode.minutes for h in able if h.mode], [h.place for h in able]
        chances = np.array([chance[h.key] for h in able])
        chances /= max(float(chances.sum()), 1.0)
        loop, adviser = answer.engine.loop, answer.adviser
        problem = repair_problem(chances, minutes, places, loop, adviser.place, adviser.been)
        order = repair_order(problem)
        able = [able[n] for n in order]
    for h in able:
        assert h.mode is not None
        yield Remedy(
            h.part,
            h.mode.name,
            h.mode.remedy,
            h.place,
            chance[h.key],
            h.mode.minutes,
        )


def fault_chances(answer: Answer) -> dict[tuple[str | None, str], float]:
    """Chance of each fault (part, fault), alone or as one of two."""
    found: dict[tuple[str | None, str], float] = {}
    for h in answer.hypotheses:
        for key in (h.key, *h.also):
            found[key] = found.get(key, 0.0) + float(answer.belief.probability[h.number])
    return found


def proofs(engine: Engine) -> tuple[Proof, ...]:
    """The signal driven to its points by hand: what must then be read.

    Where it can be driven in two places, as on the input and on the output side of a control loop,
    each proves what is behind it.  An output that only switches is commanded on and off instead,
    a trip fed on either side of its trip point.
    """
    found = [proof for driven in _driven(engine) for proof in _driven_by(engine, driven)]
    return tuple(found) or proofs_by_command(engine) or proofs_of_trip(engine)


def _driven_by(engine: Engine, driven: Sequence[Applied]) -> tuple[Proof, ...]:
    """The first display, or the volts, that what is driven moves."""
    points = Points(np.zeros(1, int), *np.full((3, 1), 0.5))
    for told in _told(engine):
        wanted = [replace(told, condition=(applied,)) for applied in driven]
        seen = sight(engine.atlas, points, wanted)
        if np.ptp(seen.level[:, 0]) > MOVES:
            return _proved(engine, wanted, seen)
    return ()


def receivers(engine: Engine) -> tuple[Proof, ...]:
    """What every other display that follows the signal must show when it is driven to its ends.

    Going over them before a loop is given back is common practice, no source.
    """
    driven = next(_driven(engine), ())
    points = Points(np.zeros(1, int), *np.full((3, 1), 0.5))
    ends = (driven[0], driven[-1]) if len(driven) > 1 else ()
    first = next(_told(engine), None)
    found: list[Proof] = []
    for part in engine.loop.parts if ends else ():
        told = Measurement("shows", (part.name,))
        if part.kind.shows is None or told == first:
            continue
        wanted = [replace(told, condition=(applied,)) for applied in ends]
        seen = sight(engine.atlas, points, wanted)
        if part.kind.shows.what == "state":
            found += _stated(engine, wanted, seen, part.kind.shows.states)
        elif np.ptp(seen.level[:, 0]) > MOVES:
            found += _proved(engine, wanted, seen)
    return tuple(found)


def _stated(
    engine: Engine, wanted: Sequence[Measurement], seen: Sight, states: States
) -> Iterator[Proof]:
    """What a lamp or the like must be at each end, where it is sure to be one or the other."""
    level = seen.level[:, 0]
    sd = np.sqrt(_own(engine, wanted[0], level) + (seen.slope[:, :, 0] ** 2).sum(axis=1))
    if (np.abs(level) > BAND * sd).all():
        for measurement, lit in zip(wanted, (level > 0).astype(float), strict=True):
            text = describe(measurement, engine.loop)
            yield Proof(text, float(lit), float(lit), states.on, measurement)


def _proved(engine: Engine, wanted: Sequence[Measurement], seen: Sight) -> tuple[Proof, ...]:
    """What must be read at each point."""
    level = seen.level[:, 0]
    own = _own(engine, wanted[0], level)
    reach = BAND * np.sqrt(own + (seen.slope[:, :, 0] ** 2).sum(axis=1))
    scale = scale_of(wanted[0], engine.loop)
    unit = FUNCTION_UNITS.get(wanted[0].function, scale.unit)
    ends = zip(wanted, scale.value(level - reach), scale.value(level + reach), strict=True)
    return tuple(
        Proof(describe(measurement, engine.loop), float(low), float(high), unit, measurement)
        for measurement, low, high in ends
    )


def _driven(engine: Engine) -> Iterator[tuple[Applied, ...]]:
    """What is done at each point, for each part that can be driven to prove a repair."""
    for part in engine.loop.parts:
        q = SimpleNamespace(**part.values)
        found = tuple(
            Applied(part.name, action.name, value)
            for action in part.kind.actions
            if action.proves
            for value in action.proves(q)
        )
        if found:
            yield found


def _told(engine: Engine) -> Iterator[Measurement]:
    """The displays of what senses a signal, then the volts across it."""
    for part in engine.loop.parts:
        if part.kind.senses and part.kind.shows and part.kind.shows.what == "value":
            yield Measurement("shows", (part.name,))
    yield from (c.measurement for c in engine.candidates if _is_sense(c.measurement, engine))


def _own(engine: Engine, measurement: Measurement, level: Array) -> Array:
    """Variance that meter or display add."""
    lasting = systematic(engine.loop, measurement)
    if lasting is not None:
        return np.full_like(level, lasting[1] ** 2)
    gain, noise = engine.meter.uncertainties(measurement.function, level)
    return np.asarray(gain**2 + noise**2 + stray(engine.loop, measurement.function) ** 2)


def _is_sense(measurement: Measurement, engine: Engine) -> bool:
    if measurement.function != "V" or measurement.condition:
        return False
    pair = set(measurement.points)
    return any(part.kind.senses and set(part.pins.values()) == pair for part in engine.loop.parts)
