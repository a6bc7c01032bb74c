"""What was known before and after every step of a drill, recomputed from the readings alone."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.inference.candidates import HOME
from diagnose.training.drill import Drill
from diagnose.training.lookout import Look
from diagnose.training.steps import Step


@dataclass(frozen=True)
class Passed:
    """One measuring step with what was known before and after it."""

    step: Step
    before: Look
    after: Look

    @property
    def worthless(self) -> bool:
        """Whether a mistake made the display mean nothing."""
        return bool({"short", "wrong jack", "blown fuse", "live ohms"} & set(self.step.mistakes))

    @property
    def share(self) -> float:
        """What it was worth against the best step, 0 to 1; nothing if it meant nothing."""
        return 0.0 if self.worthless else self.before.share


def path_of(drill: Drill) -> tuple[list[Passed], Look]:
    """Every measuring step of a drill, and what is known at its end."""
    measured = [step for step in drill.steps if step.sort == "measured"]
    starts, place = [], HOME
    for step in drill.steps:
        if step in measured:
            starts.append((step, place))
        place = step.place
    look = drill.lookout.look
    looks = [look(step.evidence, at, step.measurement, step.place, step.new) for step, at in starts]
    end = look(drill.evidence, place)
    after = [*looks[1:], end] if looks else []
    return [Passed(s, b, a) for s, b, a in zip(measured, looks, after, strict=True)], end
