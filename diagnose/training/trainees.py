"""Simulated trainees: one follows the advice, one half-splits, one guesses, one is unsafe."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from diagnose.inference.measurement import Measurement, volts_of
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import describe
from diagnose.training.commands import do
from diagnose.training.drill import Drill
from diagnose.training.policies import POLICIES
from diagnose.training.safety import needs

MOST = 14
"""Readings after which a simulated trainee gives up."""

GUESSES = 2
"""Readings that the one who guesses takes."""

Trainee = Callable[[Drill, np.random.Generator], None]


def careful(drill: Drill, text: str) -> None:
    """Put back what the step does not ask for, arrange what it needs, mind the meter, take it.

    Where the time is up by then, it is left.
    """
    wanted = drill.measurement(text)
    for item in drill.standing:
        if item not in wanted.condition:
            do(drill, f"restore {drill.called(item)}")
    for word in needs(wanted, drill.loop):
        if word not in drill.records:
            do(drill, word)
    if wanted.function == "mA":
        ready_meter(drill)
    elif wanted.function in ("V", "Vlow", "VAC", "ohm") and drill.meter.jack != "V":
        do(drill, "jack V")
    if drill.over_time:
        return
    do(drill, text)
    if drill.meter.jack != "V":
        do(drill, "jack V")


def ready_meter(drill: Drill) -> None:
    """Prove the fuse once, put a new one in if it is blown, move the lead."""
    proved = [step for step in drill.steps if step.command == "fuse"]
    if not proved:
        do(drill, "fuse")
        if not drill.meter.whole:
            do(drill, "new fuse")
    if drill.meter.jack != "mA":
        do(drill, "jack mA")


def finish(drill: Drill, verdict: str, tidy: bool = True) -> None:
    """Give the verdict, put everything back, close."""
    do(drill, f"verdict {verdict}")
    if tidy and drill.items:
        do(drill, "restore all")
    do(drill, "close")


def said(ranking: Ranking) -> str:
    """The verdict that a ranking suggests: the first of its leading group."""
    first = ranking.hypotheses[0]
    lead = max(ranking.groups, key=lambda group: group.probability)
    for item in ranking.hypotheses:
        if item.group == lead.number:
            first = item
            break
    keys = ((first.part, first.fault), *first.also)
    return " and ".join("none" if part is None else f"{part}:{fault}" for part, fault in keys)


def advised(drill: Drill, rng: np.random.Generator | None) -> None:
    """Follow the advice, with every arrangement, until it says that enough is known."""
    for _ in range(MOST):
        seen = drill.lookout.look(drill.evidence, drill.place)
        if seen.best is None or drill.over_time:
            break
        careful(drill, seen.best.text)
    finish(drill, said(drill.lookout.look(drill.evidence, drill.place).ranking))


def half_split(drill: Drill, rng: np.random.Generator) -> None:
    """The habit of the trade: of the undisturbing volts, the one that halves the suspects."""
    taken: set[Measurement] = set()
    for _ in range(MOST):
        adviser = drill.lookout.answer(drill.evidence, drill.place).adviser
        left = [c for c in adviser.candidates if c.measurement not in taken]
        step = POLICIES["half-split"](drill.engine, adviser, left, rng)
        if adviser.resolved or step is None or drill.over_time:
            break
        taken.add(step.measurement)
        careful(drill, describe(step.measurement, drill.loop))
    finish(drill, said(drill.lookout.look(drill.evidence, drill.place).ranking))


def guess(drill: Drill, rng: np.random.Generator) -> None:
    """Read something or other, then name a fault by how often it comes."""
    quiet = [c for c in drill.engine.candidates if not c.moves_signal]
    for _ in range(GUESSES):
        step = quiet[int(rng.integers(len(quiet)))]
        careful(drill, describe(step.measurement, drill.loop))
    weight = np.array([h.prior for h in drill.engine.hypotheses])
    h = drill.engine.hypotheses[int(rng.choice(len(weight), p=weight / weight.sum()))]
    finish(drill, "none" if h.part is None else f"{h.part}:{h.key[1]}")


def unsafe(drill: Drill, rng: np.random.Generator) -> None:
    """Follow the advice, but arrange nothing, mind no jack, put nothing back.

    Its habits: the lead stays where the last current left it, so that the first volts are a short;
    then ohms on whatever is live.
    """
    do(drill, "jack mA")
    for text in _habits(drill):
        if not drill.over_time:
            do(drill, text)
        do(drill, "jack V")
    for _ in range(MOST):
        seen = drill.lookout.look(drill.evidence, drill.place)
        if seen.best is None or drill.over_time:
            break
        if drill.measurement(seen.best.text).function == "mA" and drill.meter.whole:
            do(drill, "jack mA")
        step = do(drill, seen.best.text)
        if (
            not step.line and not drill.over_time
        ):  # nothing came of it: the lead goes back, and it is tried again
            do(drill, "jack V")
            do(drill, seen.best.text)
    finish(drill, said(drill.lookout.look(drill.evidence, drill.place).ranking), tidy=False)


def _habits(drill: Drill) -> list[str]:
    """Volts across the first points of the cabinet, then ohms across them."""
    volts = volts_of(drill.loop)
    for c in drill.engine.candidates:
        if c.measurement.function == volts and not c.measurement.condition:
            a, b = c.measurement.points
            return [f"{volts} {a} {b}", f"ohm {a} {b}"]
    return []


TRAINEES: dict[str, Trainee] = {
    "advice": advised,
    "half-split": half_split,
    "guess": guess,
    "unsafe": unsafe,
}
"""Simulated trainees by name, in the order in which they should score."""
