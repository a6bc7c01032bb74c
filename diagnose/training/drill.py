"""A drill: commands in, steps out; the plant, the meter and the clock are simulated.

Everything comes from the setting and the lines that were typed: a drill is kept as these, and
played again from them (``drill_record``).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from diagnose.casework.hunt_task import altered
from diagnose.circuit.rows import Attachment
from diagnose.errors import ReadingError
from diagnose.inference.ammeter import metered_at
from diagnose.inference.candidates import HOME, Candidate, candidate_of
from diagnose.inference.conditions import parse_condition
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Applied, Condition, Measurement
from diagnose.inference.meters import Meter
from diagnose.inference.readings import describe, parse_measurement
from diagnose.training.answering import Answers, clips
from diagnose.training.hiding import Hidden, hide, scene_of
from diagnose.training.lookout import Lookout
from diagnose.training.routes import stops, walk
from diagnose.training.safety import ARRANGEMENTS, Effect, effects, needs, unsafe_without
from diagnose.training.setting import DrillError, Setting
from diagnose.training.steps import Item, Step, key_of, merged
from diagnose.training.verdicts import VERDICTS, Key, verdict_of, verdict_words
from diagnose.training.virtual_meter import Shown, VirtualMeter


class Drill:
    """One drill as it goes; where its setting has logged readings, it is a replay of a case."""

    def __init__(
        self,
        setting: Setting,
        engine: Engine,
        meter: Meter | None = None,
        hidden: Hidden | None = None,
    ) -> None:
        self.setting, self.engine, self.loop = setting, engine, engine.loop
        self.lookout = Lookout(engine)
        self.hidden = hidden or hide(setting, engine)
        self.scene = scene_of(setting, self.hidden, engine)
        self.meter = VirtualMeter(
            meter or engine.meter, setting.seed, setting.lead, not self.hidden.blown,
            minds_jacks=setting.difficulty == 1,
        )  # fmt: skip
        self.answers = Answers(self.loop, setting.logged)
        self.steps: list[Step] = []
        self.place, self.clock = HOME, 0.0
        self.standing: Condition = ()
        self.done_at: dict[str, str] = {}
        self.records: set[str] = set()
        self.withdrawn: set[int] = set()
        self.verdict: tuple[Key, ...] = ()
        self.closed = False
        self._warned = ""
        self._hints = 0

    # -- what is known -----------------------------------------------------------------------------

    @property
    def opening(self) -> tuple[str, ...]:
        """What the trainee is told at the start, as evidence."""
        said = f"complaint {self.hidden.complaint}" if self.hidden.complaint else ""
        facts = (f"context {fact}" for fact in self.setting.contexts)
        return tuple(filter(None, (said, *facts)))

    @property
    def readings(self) -> list[Step]:
        """The steps that gave a reading, withdrawn ones included."""
        return [step for step in self.steps if step.line]

    @property
    def evidence(self) -> tuple[str, ...]:
        """All lines that count now."""
        lines = (s.line for s in self.readings if s.number not in self.withdrawn)
        return (*self.opening, *lines)

    def called(self, item: Item) -> str:
        """What an alteration is called in the list of what is open: ``W3+ wire lifted``."""
        return " ".join(reversed(altered(item, self.loop)))

    @property
    def items(self) -> tuple[str, ...]:
        """What is altered or arranged for a while and not yet put back."""
        deeds = (self.called(item) for item in self.standing)
        lasting = (word for word in ARRANGEMENTS if word in self.records)
        return (*deeds, *(word for word in lasting if ARRANGEMENTS[word].lasts))

    @property
    def over_time(self) -> bool:
        """Whether the time limit is reached."""
        return self.clock >= self.setting.minutes

    # -- measuring ---------------------------------------------------------------------------------

    def measure(self, text: str) -> Step:
        """Take a measurement, typed as a reading without its value."""
        if self.over_time:
            raise DrillError("the time is up: give your verdict, put back what is open, close")
        asked = self.measurement(text)
        condition = merged(self.standing, asked.condition)
        wanted = Measurement(asked.function, asked.points, condition)
        new = tuple(item for item in condition if item not in self.standing)
        given = Measurement(asked.function, asked.points, new)
        way = stops(self.loop, self.engine.candidates, wanted, new, self.place)
        known = frozenset(self.records)
        wants = needs(given, self.loop)
        self.warn(text, tuple(word for word in wants if word not in known))
        candidate = candidate_of(self.loop, given, way[-1])
        walked, place = walk(self.loop, self.place, way, self.been)
        minutes = candidate.minutes + walked
        minute, number = self.clock + minutes, len(self.readings) + 1
        shown = self.answers.read(self.meter, self.scene, wanted, minute, number)
        found = self.effects_of(wanted, shown)
        self.alter(condition, new, way)
        went = minutes, place
        return self._measured(text, wanted, candidate, went, shown, (wants, known, found))

    def alter(self, condition: Condition, new: Sequence[Item], way: Sequence[str]) -> None:
        """Let a condition stand; what is new in it was done at the places of the way."""
        self.standing = condition
        for number, item in enumerate(new):
            self.done_at[key_of(item)] = way[min(number, len(way) - 1)]

    def _measured(
        self,
        text: str,
        wanted: Measurement,
        candidate: Candidate,
        went: tuple[float, str],
        shown: Shown,
        safety: tuple[tuple[str, ...], frozenset[str], tuple[Effect, ...]],
    ) -> Step:
        wants, known, found = safety
        missing = tuple(word for word in wants if word not in known)
        mistakes = (*shown.mistakes, *unsafe_without(missing))
        number = len(self.readings) + 1 if shown.line else 0
        told = (f"{describe(wanted, self.loop)}: {shown.display}", *shown.remarks)
        minutes, place = went
        return self.add(
            text, "measured", told, minutes, place=place, number=number, line=shown.line,
            measurement=wanted, new=candidate.measurement.condition,
            mistakes=tuple(dict.fromkeys(mistakes)), needed=wants, missing=missing, effects=found,
            disturbs=candidate.moves_signal, interrupts=candidate.interrupts,
        )  # fmt: skip

    def measurement(self, text: str) -> Measurement:
        """What a line asks for; ohms on a live circuit can be asked for, as in the plant."""
        try:
            wanted = parse_measurement(text, self.loop)
        except ReadingError as refused:
            if text.split()[:1] != ["ohm"]:
                raise
            joint = " and " if " with " in text else " with "
            try:
                wanted = parse_measurement(f"{text}{joint}supply off", self.loop)
            except ReadingError:
                raise refused from None  # in the words that were typed
        if wanted.function != "ohm":
            return wanted
        typed = text.partition(" with ")[2]
        named = parse_condition(typed, self.loop) if typed.strip() else ()
        return Measurement("ohm", wanted.points, named)

    def warn(self, text: str, missing: tuple[str, ...]) -> None:
        """At the first step of the difficulty dial a careless step is stopped once."""
        if self.setting.difficulty == 1 and missing and self._warned != text:
            self._warned = text
            words = ", ".join(missing)
            raise DrillError(
                f"this step needs first: {words}. Arrange that (type the word), or type the line "
                "again to do it all the same"
            )

    def effects_of(self, wanted: Measurement, shown: Shown) -> tuple[Effect, ...]:
        """What the plant does, told at once: from what stands now to what is done."""
        minute, known = self.clock, self.records
        before = self.scene.displays(self.standing, minute)
        usual = self.scene.displays((), minute)
        states: list[tuple[Condition, tuple[Attachment, ...]]] = []
        if shown.opened:
            states.append((merged(self.standing, self._opened(wanted)), ()))
        low = self.meter.meter.volt_resistance("Vlow")
        clipped = shown.clips or clips(wanted, low)
        if wanted.condition != self.standing or clipped:
            states.append((wanted.condition, clipped))
        found: dict[str, Effect] = {}
        for condition, on in states:
            during = self.scene.displays(condition, minute, on)
            for effect in effects(self.loop, before, during, known, usual):
                found.setdefault(effect.sort, effect)
        return tuple(found.values())

    def _opened(self, wanted: Measurement) -> Condition:
        """The joint that is open while the meter is put in."""
        part = metered_at(wanted, self.loop)
        names = [action.name for action in part.kind.actions if action.interrupts]
        return tuple(Applied(part.name, name) for name in names[:1])

    # -- the end -----------------------------------------------------------------------------------

    def conclude(self, text: str) -> Step:
        """Give the verdict: ``R1 drift``, ``none``, two faults with ``and``, or ``not found``."""
        self.verdict = verdict_of(text, self.loop)
        names = " and ".join(verdict_words(part, fault) for part, fault in self.verdict)
        return self.add(f"verdict {text}", "verdict", (f"Your verdict: {names}.",))

    def close(self) -> Step:
        """End the drill; DrillError without a verdict."""
        if not self.verdict:
            raise DrillError(f"give your verdict first: {VERDICTS}")
        self.closed = True
        still = f"Left open: {', '.join(self.items)}." if self.items else "Everything is put back."
        return self.add("close", "closed", (still,))

    def ask(self, command: str, told: tuple[str, ...], points: float) -> Step:
        """Record that something was asked for, and what it cost."""
        return self.add(command, "asked", told, points=points)

    @property
    def been(self) -> set[str]:
        """Where the trainee has been: permits for these are at hand."""
        return {step.place for step in self.steps}

    def add(
        self, command: str, sort: str, told: tuple[str, ...], minutes: float = 0.0, **more: Any
    ) -> Step:
        """Record a step: the clock goes on, and the trainee stands where it was done."""
        before = self.evidence
        self.clock += minutes
        place = str(more.pop("place", "") or self.place)
        self.place = place
        step = Step(command, sort, told, self.clock, minutes, place, evidence=before, **more)
        self.steps.append(step)
        return step
