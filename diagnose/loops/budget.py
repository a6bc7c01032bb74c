"""The voltage budget of a two-wire loop: which resistance its supply and transmitter allow.

``R_max = (supply - drops - lift-off) / current``, the form that device manuals print.  20 mA only
proves the measuring range; a failure signalled high needs the budget at the failure current.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from diagnose.loops.loop import Loop, Part

CURRENTS = (
    ("full_current", "100 %"),
    ("saturation_high", "saturation"),
    ("fail_high", "failure signalled high"),
)
"""The currents that a loop should be able to carry, and what each is for."""


@dataclass(frozen=True, slots=True)
class Budget:
    """One current of a loop: the resistance that may be in series, ohm, and what there is.

    ``left`` is what stays for the transmitter beyond its lift-off voltage, V; negative: it starves.
    """

    meaning: str
    current: float
    allowed: float
    present: float
    left: float

    @property
    def holds(self) -> bool:
        """Whether the loop can carry this current."""
        return self.present <= self.allowed


def allowed_resistance(supply: float, lift_off: float, current: float, drops: float = 0.0) -> float:
    """Largest series resistance, ohm, at a current in A; voltages in V, ``drops`` of diodes."""
    return (supply - drops - lift_off) / current


def budgets(loop: Loop, path: Iterable[str]) -> tuple[Budget, ...]:
    """The budget at full scale, saturation and failure, from nominal values of the sheet.

    ``path`` names the parts that the loop current passes, supply and transmitter among them.
    Empty where no part of it has a lift-off voltage.
    """
    parts = [loop.part(name) for name in path]
    sink = next((part for part in parts if "lift_off" in part.values), None)
    if sink is None:
        return ()
    supply, drops = (_sum(parts, name) for name in ("voltage", "drop"))
    present = _sum(parts, "resistance") + _sum(parts, "source_resistance")
    return tuple(
        _budget(meaning, sink.values[name], supply - drops - sink.values["lift_off"], present)
        for name, meaning in CURRENTS
    )


def _budget(meaning: str, current: float, volts: float, present: float) -> Budget:
    allowed = allowed_resistance(volts, 0.0, current)
    return Budget(meaning, current, allowed, present, volts - current * present)


def _sum(parts: Iterable[Part], name: str) -> float:
    return sum(part.values.get(name, 0.0) for part in parts)
