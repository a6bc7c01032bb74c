"""Puts belief and advice into the plain data that screens and scripts read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import log10
from typing import TYPE_CHECKING

import numpy as np

from diagnose.inference.answer import Answer, quantiles
from diagnose.inference.behind import behind
from diagnose.inference.beyond import beyond
from diagnose.inference.doubts import doubts
from diagnose.inference.free import free
from diagnose.inference.hypotheses import Hypothesis
from diagnose.inference.measurement import states_of
from diagnose.inference.proof_sees import fewest, unseen
from diagnose.inference.ranking import Group, Ranked, Ranking, Size, Suspect
from diagnose.inference.report_advice import advise
from diagnose.inference.report_repair import remedies
from diagnose.inference.symptoms import SOUND, floor
from diagnose.loops.loop import Loop
from diagnose.loops.states import SOUNDS

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine

SHOWN = 3
"""Measurements spelt out as advice."""

SUSPICIOUS = 0.05
"""Chance of being worthless above which a reading is called distrusted."""

SOUND_TITLE = "loop electrically sound: the process, or nothing, is the cause"


def compose(answer: Answer) -> Ranking:
    """The ranking of one set of evidence."""
    engine, belief, adviser = answer.engine, answer.belief, answer.adviser
    resolved = adviser.resolved
    ranked = tuple(_ranked(answer))
    advice = advise(answer, adviser.leading(SHOWN))
    repairs = tuple(remedies(answer))
    put_right = [(item.part, item.fault) for item in repairs] if resolved or not advice else []
    proof = fewest(engine, put_right, engine.proof)
    return Ranking(
        tag=engine.loop.tag,
        hypotheses=ranked,
        groups=_groups(answer),
        unexplained=belief.unmodelled,
        sound=_sound(answer),
        suspects=_suspects(answer),
        next=advice,
        resolved=resolved,
        stop=_stop(resolved, bool(advice), _sound(answer), engine.loop),
        remedy=repairs,
        proof=proof,
        unseen=unseen(engine, put_right, proof),
        untested=_untested(answer),
        assumptions=_assumptions(engine),
        notes=doubts(answer) if answer.told.data else {},
        free=free(answer),
        behind=behind(answer) if put_right else 0.0,
    )


def _stop(resolved: bool, more: bool, sound: float, loop: Loop) -> str:
    if resolved and sound >= 0.5:
        return f"no further reading is needed: look at {beyond(loop)}"
    if resolved:
        return "no further reading is needed: turn to the remedy, then prove the repair"
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


def _size(answer: Answer, h: Hypothesis) -> Size | None:
    """Median and middle 90 % of the severity, as the value that the moved parameter takes."""
    mode, weighted = h.mode, answer.belief.weighted
    rows = np.flatnonzero(weighted.cells.h == h.number)
    if mode is None or mode.size is None or not len(rows) or h.part is None:
        return None
    weight = np.exp(weighted.log[rows] - weighted.log[rows].max())
    reach = 1.2 * weighted.sd[rows] * weighted.cells.mass[rows]
    x = np.concatenate([weighted.x[rows] + side * reach for side in (-1, 0, 1)])
    found = quantiles(np.clip(x, 0, 1), np.tile(weight, 3), (0.5, 0.05, 0.95))
    middle, low, high = (size_at(answer, h, value) for value in found)
    return Size(mode.size.quantity, mode.size.unit, middle, *sorted((low, high)))


def size_at(answer: Answer, h: Hypothesis, x: float) -> float:
    """What the parameter that the severity moves becomes at ``x``, SI; 0 where it moves none."""
    wiring = answer.engine.machine.wiring
    moved, other = h.moves(wiring, x), h.moves(wiring, 1.0 if x < 0.5 else 0.0)
    return next(
        (float(a) for (_, a), (_, b) in zip(moved, other, strict=True) if a != b),
        float(h.severity(x)),
    )


def _sound(answer: Answer) -> float:
    """Probability that nothing electrical is wrong: sound, or the process connection.

    A signal that another loop fails to give comes by wire: a trip without its input is not sound.
    """
    wired = {part.name for part in answer.engine.loop.parts if part.pins}
    return float(
        sum(
            answer.belief.probability[h.number]
            for h in answer.hypotheses
            if h.mode is None
            or (h.mode.group == "process connection" and not h.also and h.part not in wired)
        )
    )


def _suspects(answer: Answer) -> tuple[Suspect, ...]:
    told, chances = answer.told, answer.belief.suspect
    return tuple(
        Suspect(
            told.numbers[n],
            told.data[n].reading.text,
            float(chances[n]),
            _mistake(answer, int(n)),
            _retaken(answer, int(n)),
            answer.adviser.too_much(told.data[n].measurement),
        )
        for n in np.argsort(-chances, kind="stable")
        if chances[n] > SUSPICIOUS
    )


def _retaken(answer: Answer, n: int) -> int:
    """Number of the last trusted reading of the same thing; 0 where there is none."""
    told, chances = answer.told, answer.belief.suspect
    same = [
        told.numbers[m]
        for m, datum in enumerate(told.data)
        if datum.measurement == told.data[n].measurement and chances[m] <= SUSPICIOUS
    ]
    return same[-1] if same else 0


def _mistake(answer: Answer, n: int) -> str:
    """A slip that would explain a distrusted reading, given what the others say."""
    datum, adviser = answer.told.data[n], answer.adviser
    function, seen = datum.measurement.function, datum.reading.value
    if states_of(datum.measurement, answer.engine.loop) is SOUNDS and datum.reading.sort == "dark":
        return "silenced by somebody? What it did before that counts"
    turned = replace(datum.measurement, points=datum.measurement.points[::-1])
    places = [
        (k, 1 if c.measurement == datum.measurement else -1)
        for k, c in enumerate(adviser.candidates)
        if c.measurement in (datum.measurement, turned)
    ]
    if function == "mA" and abs(seen) < 1e-4:
        return (
            "meter fuse blown, or a lead in the wrong jack? Test the fuse first: ohms from the V "
            "jack to the mA jack"
        )
    if not places or datum.side or function not in ("V", "Vlow", "VAC", "mA", "clamp"):
        return ""
    place, sign = places[0]
    low, due, high = sorted(sign * np.quantile(adviser.outlook.mean[place], (0.2, 0.5, 0.8)))
    slack = 0.05 * abs(due)
    if seen * due < 0 and low * high > 0 and low - slack < -seen < high + slack:
        return "leads swapped? The sign is the wrong way round"
    if seen * due > 0 and abs(abs(log10(seen / due)) - 1) < 0.02:
        return "decimal point slipped? Ten times the other way would fit"
    return ""


def _untested(answer: Answer) -> tuple[tuple[str, str], ...]:
    """Latent faults: unable to cause the complaint, and no reading has looked at them."""
    complaint = answer.told.complaint
    if complaint is None:
        return ()
    belief, engine = answer.belief, answer.engine
    sound = belief.probability[0] / engine.hypotheses[0].prior / SOUND[complaint]
    latent = max(sound * floor(complaint), 1e-300)
    return tuple(
        (h.part, h.mode.name)
        for h in engine.hypotheses
        if h.mode is not None
        and h.part is not None
        and 0.5 < belief.probability[h.number] / h.prior / latent < 2
    )


def _assumptions(engine: Engine) -> tuple[str, ...]:
    return tuple(
        f"{part.name}: {', '.join(sorted(part.assumed))}"
        for part in engine.loop.parts
        if part.assumed
    )
