"""What a trainee did: one record a command, and what is altered meanwhile."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from diagnose.inference.measurement import Applied, Condition, Jumper, Measurement, normal_condition
from diagnose.training.safety import UNSAFE, Effect

Item = Applied | Jumper


@dataclass(frozen=True, slots=True)
class Step:
    """One command and what came of it.

    ``sort`` is what it was: ``measured``, ``set``, ``restored``, ``arranged``, ``meter``,
    ``asked``, ``withdrawn``, ``waited``, ``moved``, ``noted``, ``verdict``, ``closed``.
    ``told`` is what the trainee saw; ``line`` the reading that it added to the evidence, with
    ``number``; ``needed`` and ``missing`` what had to be arranged and was not.  ``points`` is what
    asking cost, ``clock`` the minutes gone after it, ``evidence`` what counted before it.  ``new``
    is what was altered for the measurement: the rest of its condition stood already.
    """

    command: str
    sort: str
    told: tuple[str, ...]
    clock: float
    minutes: float = 0.0
    place: str = ""
    number: int = 0
    line: str = ""
    measurement: Measurement | None = None
    new: Condition = ()
    mistakes: tuple[str, ...] = ()
    needed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    effects: tuple[Effect, ...] = ()
    disturbs: bool = False
    interrupts: bool = False
    points: float = 0.0
    evidence: tuple[str, ...] = ()

    @property
    def unsafe(self) -> tuple[str, ...]:
        """The mistakes of this step that can hurt people or the plant."""
        return tuple(name for name in self.mistakes if name in UNSAFE)


def key_of(item: Item) -> str:
    """What can be in one state only: a part, or a pair of points."""
    return item.part if isinstance(item, Applied) else f"{item.a} {item.b}"


def merged(standing: Iterable[Item], given: Iterable[Item]) -> Condition:
    """What stands altered when more is done; a part that is set anew leaves its old state."""
    found = {key_of(item): item for item in standing}
    found.update({key_of(item): item for item in given})
    return normal_condition(found.values())
