"""Plain warnings beside a ranking: readings that fit badly, a sheet that may be another loop's.

A ranking compares what the sheet allows.  Whether the sheet is right is another question, and one
that no ranking answers: it is asked here of the leading explanation.
"""

from __future__ import annotations

import numpy as np

from diagnose.inference.answer import Answer
from diagnose.inference.hypotheses import Hypothesis
from diagnose.inference.moving import unrest
from diagnose.inference.ranking import UNEXPLAINED
from diagnose.inference.surprise import SURPRISED, surprise
from diagnose.quantities import format_quantity

SHEET = "check that the sheet is this loop's: tag plate, resistor value, supply"

MOVES = "moves, so that each reading tells less"

SEEMS = (
    "seems to move by some percent of range between readings: watch a display for a minute and say "
    "so (moving 3 %)"
)

MISSED = (
    "it was to come in and did not; with the process on its safe side nothing that was read shows "
    "that it would now: prove it under its bypass before it is trusted"
)

LIKELY = 0.5
"""Belief that counts as more likely than not."""

NEAR = 2.0
"""A value up to so many times what the sheet says, or one so many times less, may be a wrong
sheet's (assumption); what lies further off is a fault."""


def doubts(answer: Answer) -> dict[str, str]:
    """Warnings by subject: ``fit``, ``rare``, ``sheet``, ``process``, ``trip``.

    Empty where all is well.
    """
    found: dict[str, str] = {}
    first = leading(answer)
    if answer.belief.unmodelled > UNEXPLAINED or first is None:
        found |= _unexplained(answer, first)
    elif first.also:
        found["fit"] = f"these readings fit no single fault on this sheet; {SHEET}"
    elif _surprise(answer, first) > SURPRISED:
        found["fit"] = f"even what fits best, fits these readings badly; {SHEET}"
    likely = float(answer.adviser.group_probability().max(initial=0.0)) >= LIKELY
    departures = departed(answer, first) if first and likely else ()
    if departures:
        found["sheet"] = f"{'; '.join(departures)} would read the same; {SHEET}"
    if answer.belief.drift > answer.engine.loop.drift:
        told = unrest(answer.told.facts) == answer.belief.drift
        found["process"] = (
            f"it {MOVES if told else SEEMS}; have the operator hold it if it can be held, and take "
            "together what belongs together"
        )
    if first is not None and first.part is None and _unseen(answer):
        found["trip"] = MISSED
    return found


def _unseen(answer: Answer) -> bool:
    """Whether a trip was missed and has not been seen to come in since."""
    trips = {(p.name,) for p in answer.engine.loop.parts if p.kind.tries is not None}
    lit = (d.measurement.points for d in answer.told.data if d.reading.sort == "lit")
    return answer.told.complaint == "no trip" and bool(trips) and trips.isdisjoint(lit)


def _unexplained(answer: Answer, first: Hypothesis | None) -> dict[str, str]:
    """Why nothing modelled is believed: nothing fits, or what fits is rare by its assumed rate."""
    if first is not None and first.mode is not None and _borne(answer, first):
        return {
            "rare": f"{first.part} {first.mode.name} fits all of these readings, rare as it "
            "is assumed to be: look for it before anything that is not on the sheet"
        }
    fit = "fit" if answer.belief.unmodelled > LIKELY else "may fit"
    return {"fit": f"these readings {fit} no fault on this sheet, alone or as one of two; {SHEET}"}


def _borne(answer: Answer, h: Hypothesis) -> bool:
    """Whether all readings are trusted under one fault and speak for it more than for none.

    That is so where its odds against what is not modelled have grown from those before any reading.
    """
    row, belief = _peak(answer, h), answer.belief
    if row is None or h.also or belief.weighted.wrong[row].any():
        return False
    grown = float(belief.probability[h.number]) * answer.engine.loop.shares.unmodelled
    return grown > h.prior * belief.unmodelled and _surprise(answer, h) <= SURPRISED


def leading(answer: Answer) -> Hypothesis | None:
    """The most probable member of the leading group; None if nothing modelled is left."""
    belief, group = answer.belief, answer.adviser.group
    if not belief.probability.any():
        return None
    number = int(answer.adviser.group_probability().argmax())
    own = np.flatnonzero(group == number)
    return answer.hypotheses[int(own[belief.probability[own].argmax()])]


def _peak(answer: Answer, h: Hypothesis) -> int | None:
    """The heaviest cell of an explanation."""
    weighted = answer.belief.weighted
    rows = np.flatnonzero(weighted.cells.h == h.number)
    return int(rows[weighted.log[rows].argmax()]) if len(rows) else None


def _surprise(answer: Answer, h: Hypothesis) -> float:
    row = _peak(answer, h)
    return 0.0 if row is None else surprise(answer.belief.weighted, row, answer.told.data)


def departed(answer: Answer, h: Hypothesis) -> tuple[str, ...]:
    """What an explanation makes of values that the sheet states, where a wrong sheet would do."""
    row, wiring = _peak(answer, h), answer.engine.machine.wiring
    if row is None:
        return ()
    names = {number: key for key, number in wiring.index.items()}
    found = []
    for number, value in h.moves(wiring, float(answer.belief.weighted.x[row])):
        part, parameter = names[number]
        stated = answer.engine.loop.part(part).parameter(parameter)
        due = float(wiring.nominal[number])
        told = stated.typed and stated.unit in ("V", "ohm") and due != 0
        if told and value != due and 1 / NEAR <= float(value) / due <= NEAR:
            seen, said = (format_quantity(x, stated.unit) for x in (float(value), due))
            found.append(f"{part} with {seen} where the sheet says {said}")
    return tuple(found)
