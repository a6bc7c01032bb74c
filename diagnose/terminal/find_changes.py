"""``--fault``, ``--condition`` and ``--at``: what is moved off the healthy circuit."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from diagnose.circuit.rows import Attachment
from diagnose.circuit.wiring import Wiring
from diagnose.errors import DiagnoseError
from diagnose.inference.conditions import parse_condition
from diagnose.inference.fault_text import Fault, find_fault
from diagnose.inference.hypotheses import condition_moves, moves
from diagnose.inference.measurement import Condition, Jumper
from diagnose.inference.observe import JUMPER
from diagnose.inference.reading_text import describe_condition
from diagnose.inference.reading_values import fraction
from diagnose.loops.loop import Loop
from diagnose.quantities import format_quantity
from diagnose.terminal.arguments import UsageError

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Situation:
    """Everything that is moved: ``changes`` is (part, parameter) -> SI value."""

    process: float
    faults: tuple[Fault, ...] = ()
    condition: Condition = ()
    changes: dict[tuple[str, str], float] = field(default_factory=dict)
    jumper: Attachment | None = None

    def text(self, loop: Loop) -> str:
        """What is moved, in words."""
        faults = " and ".join(fault.text() for fault in self.faults) or "no fault"
        state = f", with {describe_condition(self.condition, loop)}" if self.condition else ""
        return f"{faults}, process at {format_quantity(self.process, '1')}{state}"


def situation(arguments: Namespace, loop: Loop) -> Situation:
    """What ``--fault``, ``--condition`` and ``--at`` ask for.

    A fault of a part that the condition takes out of the circuit (a transmitter replaced by a
    known sink) has no effect, as in the plant.
    """
    process = at(arguments.at, loop)
    faults = tuple(find_fault(text, loop) for text in arguments.fault)
    state = condition(arguments.condition, loop)
    wiring = Wiring(loop)
    moved, healed = condition_moves(wiring, state)
    changes = _faulty([fault for fault in faults if fault.part not in healed], wiring)
    changes |= {wiring.parameters[number]: value for number, value in moved.items()}
    return Situation(process, faults, state, changes, _jumper(state))


def _faulty(faults: Sequence[Fault], wiring: Wiring) -> dict[tuple[str, str], float]:
    changes: dict[tuple[str, str], float] = {}
    for fault in faults:
        part = wiring.parts[fault.part]
        for number, value in moves(wiring, part, fault.mode.changes, fault.severity):
            if wiring.parameters[number] in changes:
                raise UsageError(f"{fault.text()} and another fault move the same value; leave one")
            changes[wiring.parameters[number]] = float(value)
    return changes


def _jumper(state: Condition) -> Attachment | None:
    found = [item for item in state if isinstance(item, Jumper)]
    if len(found) > 1:
        raise UsageError("one jumper at a time can be computed here; leave one")
    return Attachment(found[0].a, found[0].b, 1 / JUMPER) if found else None


def at(text: str, loop: Loop) -> float:
    """A process value as a fraction of range: ``50 %``, ``50``, ``900 mm``."""
    value = _told("--at", text, lambda: fraction(text, loop.range))
    if not -0.5 <= value <= 1.5:
        raise UsageError(f"--at '{text}' is outside of -50 % to 150 % of range")
    return value


def levels(text: str, loop: Loop) -> tuple[float, ...]:
    """Several process values, separated by commas: ``0,50%,100``."""
    return tuple(at(piece, loop) for piece in text.split(",") if piece.strip()) or (at("", loop),)


def condition(texts: Sequence[str], loop: Loop) -> Condition:
    """The state that all ``--condition`` together describe."""
    text = " and ".join(texts)
    return _told("--condition", text, lambda: parse_condition(text, loop)) if text.strip() else ()


def _told(option: str, text: str, parse: Callable[[], T]) -> T:
    """What ``parse`` gives; its refusal names the option and the text."""
    try:
        return parse()
    except DiagnoseError as error:
        sentence = str(error) if repr(text) in str(error) else f"{text[:60]!r}: {error}"
        raise UsageError(f"{option}: {sentence}") from error
