"""What a drill taught, step by step: facts that are recomputed from the readings, no words yet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import SimpleNamespace

from diagnose.circuit.explain import Explanation, explain, explain_current
from diagnose.circuit.rows import Attachment
from diagnose.errors import DiagnoseError
from diagnose.inference.ammeter import metered_at
from diagnose.inference.hypotheses import condition_moves, moves
from diagnose.inference.measurement import Jumper, Measurement
from diagnose.inference.observe import JUMPER
from diagnose.loops.kind import Shows
from diagnose.loops.loop import Part
from diagnose.quantities import format_quantity
from diagnose.training.drill import Drill
from diagnose.training.lookout import Keys, Look
from diagnose.training.path import Passed, path_of
from diagnose.training.score import Score, score_of

WORTH_TELLING = 0.02
"""Probability below which an explanation was none that anybody had in mind."""

VOLTS = ("V", "Vlow", "VAC")
"""Functions that read volts, through a resistance of the meter."""

LOADED, STRAY = 0.1, 0.1
"""Share, and volts besides, by which a meter must alter what it reads before it is told."""

NOTHING = ("0.0 mV / ", "-0.0 mV / ")
"""How the numbers of a current through a joint begin: what lies across it is rounded away."""

GONE, GROWN = 0.2, 1.5
"""An explanation is ruled out at this share of what it was, or speaks louder at so much more."""


@dataclass(frozen=True)
class Moved:
    """What one reading did to one group of explanations.

    ``low`` and ``high`` are what its first member would have shown in nine cases of ten, SI;
    ``more`` counts further members.
    """

    keys: Keys
    more: int
    before: float
    after: float
    low: float
    high: float
    unit: str

    @property
    def ruled_out(self) -> bool:
        """Whether the reading speaks against it so much that it is out of the running."""
        return self.after <= GONE * self.before

    @property
    def grown(self) -> bool:
        """Whether the reading speaks for it."""
        return self.after >= GROWN * self.before


@dataclass(frozen=True)
class Lesson:
    """One step told: what it did, why the reading was what it was, what would have been best.

    ``truth`` explains the reading from what was really wrong; ``rival`` what the first explanation
    that it ruled out would have given.
    """

    passed: Passed
    moved: tuple[Moved, ...]
    truth: Explanation | None
    rival: Explanation | None

    @property
    def ruled_out(self) -> tuple[Moved, ...]:
        """What the reading ruled out."""
        return tuple(item for item in self.moved if item.ruled_out)

    @property
    def grown(self) -> tuple[Moved, ...]:
        """What the reading speaks for."""
        return tuple(item for item in self.moved if item.grown and item.after >= WORTH_TELLING)


@dataclass(frozen=True)
class Debrief:
    """A whole drill looked back upon."""

    drill: Drill
    lessons: tuple[Lesson, ...]
    end: Look
    score: Score


def debrief_of(drill: Drill) -> Debrief:
    """Look back upon a drill."""
    passed, end = path_of(drill)
    lessons = tuple(_lesson(drill, one) for one in passed)
    return Debrief(drill, lessons, end, score_of(drill, passed, end))


def _lesson(drill: Drill, passed: Passed) -> Lesson:
    moved = () if passed.worthless or not passed.step.line else tuple(_moved(passed))
    wanted = passed.step.measurement
    truth = rival = None
    if wanted is not None and not passed.worthless:
        truth = why(drill, wanted, _true(drill, passed.step.clock), drill.hidden.process)
        truth = truth and _loaded(truth, drill, wanted, passed.step.clock)
        gone = {item.keys for item in moved if item.ruled_out}
        example = next((e for e in passed.before.examples if e.keys in gone), None)
        if example is not None:
            rival = why(drill, wanted, dict(example.changes), example.process)
    return Lesson(passed, moved, truth, rival)


def _moved(passed: Passed) -> Iterator[Moved]:
    """Every group that was in the running, with what the step made of it."""
    before, after = passed.before, passed.after.probability
    if before.chosen is None:
        return
    for item in before.chosen.expects:
        keys = _keys(before, (item.part, item.fault))
        group = before.groups[keys]
        members = [k for k, number in before.groups.items() if number == group]
        was = sum(before.probability[k] for k in members)
        if was >= WORTH_TELLING:
            now = sum(after.get(k, 0.0) for k in members)
            yield Moved(keys, item.more, was, now, item.low, item.high, item.unit)


def _keys(look: Look, key: tuple[str | None, str]) -> Keys:
    """The explanation that an expectation was spelt for: the most probable that begins so."""
    found = [keys for keys in look.probability if keys[0] == key]
    return max(found, key=lambda keys: look.probability[keys])


def _true(drill: Drill, minute: float) -> dict[tuple[str, str], float]:
    """The parameters that the hidden faults move."""
    wiring = drill.engine.machine.wiring
    changes: dict[tuple[str, str], float] = {}
    for fault in drill.hidden.faults if drill.scene.present(minute) else ():
        part = wiring.parts[fault.part]
        for number, value in moves(wiring, part, fault.mode.changes, fault.severity):
            changes[wiring.parameters[number]] = float(value)
    return changes


def why(
    drill: Drill, wanted: Measurement, changes: Mapping[tuple[str, str], float], process: float
) -> Explanation | None:
    """Formula and numbers of a reading under some changes; None where it is no voltage or current.

    The sum is that of the circuit without the meter, which is told apart where it matters.
    """
    loop, machine = drill.loop, drill.engine.machine
    by_hand, healed = condition_moves(machine.wiring, wanted.condition)
    kept = {pair: value for pair, value in changes.items() if pair[0] not in healed}
    kept.update({machine.wiring.parameters[n]: float(v) for n, v in by_hand.items()})
    jumpers = [i for i in wanted.condition if isinstance(i, Jumper)]
    clip = Attachment(jumpers[0].a, jumpers[0].b, 1 / JUMPER) if jumpers else None
    try:
        if wanted.function == "clamp":
            return explain_current(loop, kept, process, wanted.points[0], clip,
                                   predictor=machine, closed=False)  # fmt: skip
        if wanted.function == "mA":
            part = metered_at(wanted, loop)
            found = explain_current(loop, kept, process, part.name, clip,
                                    predictor=machine, closed=False)  # fmt: skip
            return _as_metered(found, part, wanted)
        points = _points(drill, wanted)
        if points is None:
            return None
        return explain(loop, kept, process, points, clip, predictor=machine, closed=False)
    except DiagnoseError:
        return None


def _loaded(found: Explanation, drill: Drill, wanted: Measurement, minute: float) -> Explanation:
    """Volts of what hangs on next to nothing, with what the meter itself makes of them."""
    if wanted.function not in VOLTS:
        return found
    ohms = drill.meter.meter.volt_resistance(wanted.function)
    shown = drill.scene.level(wanted, minute)
    if abs(shown - found.value) <= LOADED * abs(found.value) + STRAY:
        return found
    told = (
        f"that is without the meter: its own {format_quantity(ohms, 'ohm')} between the leads "
        f"bring it to {format_quantity(shown, 'V')}"
    )
    return replace(found, notes=(*found.notes, told))


def _as_metered(found: Explanation, part: Part, wanted: Measurement) -> Explanation:
    """A current as the meter in its place counts it.

    Of a joint the formula divides nothing by nearly nothing; what sets its current, the notes say.
    """
    if found.numbers.startswith(NOTHING):
        found = replace(found, formula=found.result, numbers=found.result)
    if (wanted.points[0], wanted.points[-1]) == tuple(part.pins.values())[:2]:
        return found
    turned = f"your meter counts it the other way round: {format_quantity(-found.value, 'A')}"
    return replace(found, notes=(*found.notes, turned))


def _points(drill: Drill, wanted: Measurement) -> tuple[str, str] | None:
    """The two points whose voltage a reading tells, if it tells one."""
    points: Sequence[str] = wanted.points
    if wanted.function == "shows":
        part = drill.loop.part(wanted.points[0])
        shows = part.kind.shows
        leaders = len(drill.engine.machine.wiring.leaders(part))
        if shows is None or not _follows_volts(shows, part, leaders):
            return None
        points = tuple(part.pins.values())
    elif wanted.function not in VOLTS:
        return None
    return (points[0], points[1]) if len(points) >= 2 else None


def _follows_volts(shows: Shows, part: Part, leaders: int) -> bool:
    """Whether what is shown depends on the voltage across the part at all.

    A part that follows several others is given as many signals, one or none a single value.
    """
    given = (0.5,) * leaders if leaders > 1 else 0.5
    gain, _ = shows.level(SimpleNamespace(**part.values), given)
    return bool(gain)
