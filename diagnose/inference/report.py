"""Puts belief and advice into the plain data that screens and scripts read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.cautions import cautions_for, needs_for
from diagnose.inference.foresight import Foresight, Points
from diagnose.inference.hypotheses import Hypothesis
from diagnose.inference.measurement import Applied, Measurement
from diagnose.inference.observe import OVERLOAD_LEVEL
from diagnose.inference.ranking import (
    Advice,
    Expects,
    Group,
    Proof,
    Ranked,
    Ranking,
    Remedy,
    Size,
    Suspect,
)
from diagnose.inference.readings import describe
from diagnose.inference.symptoms import FLOOR, SOUND

if TYPE_CHECKING:
    from diagnose.inference.advice import Adviser
    from diagnose.inference.atlas import Atlas
    from diagnose.inference.engine import Engine, Told
    from diagnose.inference.posterior import Belief

SHOWN = 3
"""Measurements spelt out as advice."""

TOLD = 6
"""Hypotheses whose outcome is spelt out for a measurement."""

SUSPICIOUS = 0.05
SOUND_TITLE = "loop electrically sound: the process, or nothing, is the cause"
PROVEN = (4e-3, 8e-3, 12e-3, 16e-3, 20e-3)
UNITS = {"V": "V", "Vlow": "V", "mA": "A", "clamp": "A", "ohm": "ohm", "shows": "1", "process": "1"}


@dataclass
class Answer:
    """All that an answer is composed of."""

    engine: Engine
    atlas: Atlas
    belief: Belief
    told: Told
    adviser: Adviser

    @property
    def hypotheses(self) -> tuple[Hypothesis, ...]:
        """All explanations in the running, pairs of faults included."""
        return self.atlas.ground.hypotheses


def compose(answer: Answer) -> Ranking:
    """The ranking of one set of evidence."""
    engine, belief, adviser = answer.engine, answer.belief, answer.adviser
    resolved = adviser.resolved
    ranked = tuple(_ranked(answer))
    advice = tuple(_advice(answer, n) for n in adviser.order[:SHOWN])
    return Ranking(
        tag=engine.loop.tag,
        hypotheses=ranked,
        groups=_groups(answer),
        unexplained=belief.unmodelled,
        sound=_sound(answer),
        suspects=_suspects(answer),
        next=advice,
        resolved=resolved,
        stop=_stop(resolved, bool(advice)),
        remedy=tuple(_remedy(answer)),
        proof=_proof(engine),
        untested=_untested(answer),
        assumptions=_assumptions(engine),
    )


def _stop(resolved: bool, more: bool) -> str:
    if resolved:
        return "one explanation holds 95 %: turn to the remedy, then prove the repair"
    return "" if more else "no measurement within reach is worth its minutes"


def _ranked(answer: Answer) -> Iterator[Ranked]:
    belief = answer.belief
    for number in np.argsort(-belief.probability, kind="stable"):
        h = answer.hypotheses[int(number)]
        yield Ranked(
            part=h.part,
            fault=h.key[1],
            title=h.mode.title if h.mode else SOUND_TITLE,
            place=h.place,
            probability=float(belief.probability[number]),
            group=int(answer.adviser.group[number]),
            size=_size(answer, h) if belief.probability[number] > 1e-3 else None,
            also=h.also,
        )


def _groups(answer: Answer) -> tuple[Group, ...]:
    adviser = answer.adviser
    weight = adviser.group_probability()
    found = []
    for number in np.argsort(-weight, kind="stable"):
        members = np.flatnonzero(adviser.group == number)
        if len(members) and weight[number] > 1e-6:
            order = members[np.argsort(-answer.belief.probability[members], kind="stable")]
            keys = tuple(answer.hypotheses[int(n)].key for n in order)
            found.append(Group(int(number), float(weight[number]), keys))
    return tuple(found)


def quantiles(values: Array, weight: Array, at: tuple[float, ...]) -> list[float]:
    """Weighted quantiles of ``values``."""
    order = np.argsort(values, kind="stable")
    steps = np.cumsum(weight[order]) - weight[order] / 2
    return [float(q) for q in np.interp(np.array(at) * weight.sum(), steps, values[order])]


def _size(answer: Answer, h: Hypothesis) -> Size | None:
    """Median and middle 90 % of the severity, as the value that the moved parameter takes."""
    mode, weighted = h.mode, answer.belief.weighted
    rows = np.flatnonzero(weighted.cells.h == h.number)
    if mode is None or mode.severity is None or not len(rows) or h.part is None:
        return None
    weight = np.exp(weighted.log[rows] - weighted.log[rows].max())
    reach = 1.2 * weighted.sd[rows] * weighted.cells.mass[rows]
    x = np.concatenate([weighted.x[rows] + side * reach for side in (-1, 0, 1)])
    found = quantiles(np.clip(x, 0, 1), np.tile(weight, 3), (0.5, 0.05, 0.95))
    middle, low, high = (_value(answer, h, value) for value in found)
    return Size(mode.severity.quantity, mode.severity.unit, middle, *sorted((low, high)))


def _value(answer: Answer, h: Hypothesis, x: float) -> float:
    """The parameter that the severity moves, at x."""
    wiring = answer.engine.machine.wiring
    moved, other = h.moves(wiring, x), h.moves(wiring, 1.0 if x < 0.5 else 0.0)
    return next(
        (float(a) for (_, a), (_, b) in zip(moved, other, strict=True) if a != b),
        float(h.severity(x)),
    )


def _sound(answer: Answer) -> float:
    """Probability that nothing electrical is wrong: sound, or the process connection."""
    return float(
        sum(
            answer.belief.probability[h.number]
            for h in answer.hypotheses
            if h.mode is None or (h.mode.group == "process connection" and not h.also)
        )
    )


def _suspects(answer: Answer) -> tuple[Suspect, ...]:
    told, chances = answer.told, answer.belief.suspect
    return tuple(
        Suspect(told.numbers[n], told.data[n].reading.text, float(chances[n]))
        for n in np.argsort(-chances, kind="stable")
        if chances[n] > SUSPICIOUS
    )


# -- advice ---------------------------------------------------------------------------------------


def _advice(answer: Answer, n: int) -> Advice:
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
        healthy=_healthy(answer, n),
        expects=tuple(_expects(answer, n)),
        cautions=cautions_for(measurement, loop),
        needs=needs_for(measurement, loop),
    )


def _range(
    answer: Answer, n: int, mean: Array, sd: Array, weight: Array
) -> tuple[float, float, str]:
    """Middle 90 % of outcomes in SI with their unit."""
    measurement = answer.adviser.candidates[n].measurement
    if answer.adviser.outlook.side[n]:
        from diagnose.inference.normal import below

        lit = float((below(mean / sd) * weight).sum() / weight.sum())
        return lit, lit, "lit"
    ends = np.concatenate([mean - 1.645 * sd, mean, mean + 1.645 * sd])
    low, high = quantiles(ends, np.tile(weight, 3), (0.05, 0.95))
    if measurement.function == "ohm":
        low, high = (
            float("inf") if v > OVERLOAD_LEVEL else float(max(np.expm1(v), 0)) for v in (low, high)
        )
    return low, high, UNITS[measurement.function]


def _healthy(answer: Answer, n: int) -> tuple[float, float, str]:
    """What a sound loop would show, at the process values that are now believed."""
    adviser = answer.adviser
    some = np.linspace(0, len(adviser.points) - 1, 24).astype(int)
    points = Points(
        np.zeros(24, int), np.full(24, 0.5), adviser.points.p[some], adviser.points.weight[some]
    )
    sound = Foresight(answer.atlas, answer.engine.meter, (), points)
    outlook = sound.look([adviser.candidates[n]])
    return _range(answer, n, outlook.mean[0], outlook.sd[0], points.weight)


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
        low, high, unit = _range(
            answer, n, adviser.outlook.mean[n][rows], adviser.outlook.sd[n][rows],
            adviser.points.weight[rows],
        )
        yield Expects(h.part, h.key[1], float(adviser.group_probability()[group]), low, high, unit)
        if len(seen) == TOLD:
            return


# -- remedy, proof, what was left out --------------------------------------------------------------


def _remedy(answer: Answer) -> Iterator[Remedy]:
    """Repairs in the order of probability per minute, which is the cheapest order to the cure.

    Decreasing p/c is optimal when exactly one element has failed and each inspection proves one
    (J. Kadane and H. Simon, 1977; from memory).
    """
    belief = answer.belief
    worth = [
        (belief.probability[h.number] / h.mode.minutes, h)
        for h in answer.hypotheses
        if h.mode is not None and belief.probability[h.number] > 0.02
    ]
    for _, h in sorted(worth, key=lambda pair: -pair[0]):
        assert h.mode is not None  # noqa: S101 - filtered above
        yield Remedy(
            h.part, h.mode.name, h.mode.remedy, h.place, float(belief.probability[h.number]),
            h.mode.minutes,
        )


def _proof(engine: Engine) -> tuple[Proof, ...]:
    """Five points with the transmitter driven: the voltage that receivers must then see."""
    part = next(iter(engine.machine.wiring.driven()), None)
    first = next((c for c in engine.candidates if _is_sense(c.measurement, engine)), None)
    if part is None or first is None:
        return ()
    found = []
    for current in PROVEN:
        condition = (Applied(part.name, "driven", current),)
        measurement = Measurement("V", first.measurement.points, condition)
        points = Points(np.zeros(1, int), np.full(1, 0.5), np.full(1, 0.5), np.ones(1))
        seer = Foresight(engine.atlas, engine.meter, (), points)
        level, slope = seer.see(measurement)
        gain, noise = engine.meter.uncertainties("V", level)
        sd = float(np.sqrt(gain**2 + noise**2 + (slope**2).sum(axis=1))[0])
        text = describe(measurement, engine.loop)
        found.append(Proof(text, float(level[0]) - 2 * sd, float(level[0]) + 2 * sd, "V"))
    return tuple(found)


def _is_sense(measurement: Measurement, engine: Engine) -> bool:
    if measurement.function != "V" or measurement.condition:
        return False
    pair = set(measurement.points)
    return any(
        part.kind.name == "resistor" and set(part.pins.values()) == pair
        for part in engine.loop.parts
    )


def _untested(answer: Answer) -> tuple[tuple[str, str], ...]:
    """Latent faults: unable to cause the complaint, and no reading has looked at them."""
    complaint = answer.told.complaint
    if complaint is None:
        return ()
    belief, engine = answer.belief, answer.engine
    sound = belief.probability[0] / engine.hypotheses[0].prior / SOUND[complaint]
    return tuple(
        (h.part, h.mode.name)
        for h in engine.hypotheses
        if h.mode is not None and h.part is not None
        and 0.5 * sound < belief.probability[h.number] / h.prior / FLOOR < 2 * sound
    )


def _assumptions(engine: Engine) -> tuple[str, ...]:
    return tuple(
        f"{part.name}: {', '.join(sorted(part.assumed))}"
        for part in engine.loop.parts
        if part.assumed
    )
