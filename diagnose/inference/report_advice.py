"""The advised measurements, spelt out: what each would show, sound or faulty."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.advice import charge
from diagnose.inference.answer import Answer, quantiles
from diagnose.inference.candidates import permit
from diagnose.inference.cautions import cautions_for, needs_for
from diagnose.inference.measurement import Measurement, scale_of, states_of
from diagnose.inference.meters import FUNCTION_UNITS
from diagnose.inference.normal import below
from diagnose.inference.observe import is_rms
from diagnose.inference.ranking import Advice, Companion, Expects
from diagnose.inference.readings import describe
from diagnose.loops.states import LIT

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine

TOLD = 12
"""Groups whose outcome is spelt out for a measurement."""

MATTERS = 0.01
"""Share of the weight of its first member below which a member of a group is not counted."""


APART, NARROW, RARE = 0.5, 0.25, 0.05
"""Share of a whole range that is empty where outcomes are of two ways, width of each way against
the gap between them, and share of the points below which the rarer way is not told."""

Span = tuple[float, float, str]
"""Low and high end in SI, and the unit."""


def advise(answer: Answer, leading: Sequence[int]) -> tuple[Advice, ...]:
    """Candidates as steps: what each shows sound or faulty, what it costs and needs."""
    healthy = _healthy(answer, leading)
    steps = [_step(answer, n, spans) for n, spans in zip(leading, healthy, strict=True)]
    if steps:
        steps[0] = replace(steps[0], beside=tuple(_beside(answer, leading[0])))
    return tuple(steps)


def _beside(answer: Answer, n: int) -> Iterator[Companion]:
    """What else is worth reading where the walk to candidate ``n`` ends.

    Nothing that wants another caution or preparation than the step itself: these are shown once.
    """
    loop, candidates = answer.engine.loop, answer.adviser.candidates
    for m, more in answer.adviser.companions(n):
        first, also = candidates[n].measurement, candidates[m].measurement
        known = {*cautions_for(first, loop), *needs_for(first, loop)}
        if {*cautions_for(also, loop), *needs_for(also, loop)} <= known:
            yield Companion(also, describe(also, loop), more, candidates[m].minutes)


def _step(answer: Answer, n: int, healthy: tuple[Span, ...]) -> Advice:
    adviser, loop = answer.adviser, answer.engine.loop
    candidate = adviser.candidates[n]
    measurement = candidate.measurement
    return Advice(
        measurement=measurement,
        text=describe(measurement, loop),
        place=candidate.place,
        gain_bits=float(adviser.gains[n]),
        minutes=float(adviser.own_minutes(candidate)),
        interrupts_loop=candidate.interrupts,
        moves_signal=candidate.moves_signal,
        healthy=healthy[0],
        healthy_else=healthy[1] if len(healthy) > 1 else None,
        expects=tuple(_expects(answer, n)),
        cautions=cautions_for(measurement, loop),
        needs=needs_for(measurement, loop),
        again=adviser.again(n),
        charge=charge(candidate),
        permit=permit(loop, candidate.place, {*adviser.been, adviser.place}),
    )


def outcome(answer: Answer, n: int, state: bool, mean: Array, sd: Array, weight: Array) -> Span:
    """Middle 90 % of the outcomes of candidate ``n``; for a state the chance that it is lit."""
    return middle(answer.engine, answer.adviser.candidates[n].measurement, state, mean, sd, weight)


def middle(
    engine: Engine, measurement: Measurement, state: bool, mean: Array, sd: Array, weight: Array
) -> Span:
    """The same for any measurement; ``mean``, ``sd`` and ``weight`` (point,) of a belief."""
    if state:
        lit = float((below(mean / sd) * weight).sum() / weight.sum())
        states = states_of(measurement, engine.loop)
        return lit, lit, (states or LIT).on
    ends = np.concatenate([mean - 1.645 * sd, mean, mean + 1.645 * sd])
    low, high = quantiles(ends, np.tile(weight, 3), (0.05, 0.95))
    low = max(low, 0.0) if is_rms(measurement, engine.loop) else low
    if measurement.function == "ohm":
        low, high = (float(engine.meter.ohms(v)) for v in (low, high))
    scale = scale_of(measurement, engine.loop)
    unit = FUNCTION_UNITS.get(measurement.function, scale.unit)
    return scale.value(low), scale.value(high), unit


def _healthy(answer: Answer, leading: Sequence[int]) -> list[tuple[Span, ...]]:
    """What a sound loop would show, at the process values that are now believed.

    Where it may stand in two ways, such as on and off, each by itself, the likelier first.
    """
    if not leading:
        return []
    foresight = answer.adviser.foresight
    outlook, weight = foresight.healthy(leading), foresight.sound.weight
    found = []
    for k, n in enumerate(leading):
        state, mean, sd = outlook.side[k], outlook.mean[k], outlook.sd[k]
        ways = [np.arange(len(mean))] if state else two_ways(mean, sd, weight)
        found.append(
            tuple(outcome(answer, n, state, mean[own], sd[own], weight[own]) for own in ways)
        )
    return found


def two_ways(mean: Array, sd: Array, weight: Array) -> list[Array]:
    """Points whose outcomes lie on either side of a wide gap, the likelier first; else all of them.

    A range across the gap would name values that nothing shows.  Arrays (point,).
    """
    order, whole = np.argsort(mean, kind="stable"), np.arange(len(mean))
    low, high = (mean - 2 * sd)[order], np.maximum.accumulate((mean + 2 * sd)[order])
    gap, last, first = _gap(low, high, weight[order])
    if not gap or gap < APART * (high[-1] - low[0]):
        return [whole]
    wide = max(np.ptp(mean[order[: last + 1]]), np.ptp(mean[order[first:]]))
    if wide > NARROW * gap:  # a signal that stands here or there, and not on or off
        return [whole]
    sides = sorted((order[: last + 1], order[first:]), key=lambda own: -float(weight[own].sum()))
    share = float(weight[sides[1]].sum() / weight.sum())
    return sides if share >= RARE else sides[:1]


def _gap(low: Array, high: Array, weight: Array) -> tuple[float, int, int]:
    """The widest gap between ordered points, the last one below it and the first one above.

    What is rare may lie within: a contact on its way from off to on.
    """
    found, least = (0.0, 0, 0), RARE * weight.sum()
    for last in range(len(low) - 1):
        for first in range(last + 1, len(low)):
            if weight[last + 1 : first].sum() >= least:
                break
            found = max(found, (float(low[first] - high[last]), last, first))
    return found


def _expects(answer: Answer, n: int) -> Iterator[Expects]:
    """Outcomes under the leading hypothesis of each group, the most probable first."""
    adviser, belief = answer.adviser, answer.belief
    seen: set[int] = set()
    for number in np.argsort(-belief.probability, kind="stable"):
        group = int(adviser.group[number])
        rows = np.flatnonzero(adviser.points.h == number)
        if group in seen or not len(rows) or belief.probability[number] < 0.005:
            continue
        seen.add(group)
        h = answer.hypotheses[int(number)]
        low, high, unit = outcome(
            answer,
            n,
            adviser.outlook.side[n],
            adviser.outlook.mean[n][rows],
            adviser.outlook.sd[n][rows],
            adviser.points.weight[rows],
        )
        share = float(adviser.group_probability()[group])
        yield Expects(h.part, h.key[1], share, low, high, unit, _others(answer, int(number)))
        if len(seen) == TOLD:
            return


def _others(answer: Answer, first: int) -> int:
    """How many members matter in the group of hypothesis ``first``, its first member, beside it."""
    own = answer.belief.probability[answer.adviser.group == answer.adviser.group[first]]
    return int((own >= MATTERS * answer.belief.probability[first]).sum()) - 1
