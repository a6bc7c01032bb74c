"""Whether a loop can carry its currents: the volts left where a current is set.

Found from the circuit of the sheet itself.  The part that sets the current is made ideal, so that
it carries the current whatever is left for it; what is then left beyond what the real one needs is
to spare.  20 mA only proves the measuring range: a failure that is signalled high needs the budget
at the failure current.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.questions import current
from diagnose.circuit.rows import Array, Column, State
from diagnose.loops.conductor_tables import at_temperature
from diagnose.loops.loop import Loop, Part

WARM = 50.0
"""Temperature of cables in the worst case where nobody says another, degC (common practice)."""

CURRENTS = (
    ("full_current", "100 %"),
    ("saturation_high", "saturation"),
    ("fail_high", "a failure signalled high"),
)
"""The currents that a transmitter should be able to draw, and what each is for."""

_SINK = {"lift_off", "ramp", "failed", "failed_current", *(name for name, _ in CURRENTS)}
_SOURCE = {"compliance", "demand"}
_FIXED = {"failed", "failed_current", "full_current"}
_NOTHING, _ENDLESS = 1e-3, 1e4


@dataclass(frozen=True, slots=True)
class Budget:
    """One current (A) of the part that sets it, and the volts to spare there; negative: short.

    ``needed`` is what the part needs, ``nominal`` and ``worst`` what is left beyond that with the
    values of the sheet, and with every tolerance against it, cables warm and the supply low.
    """

    part: str
    meaning: str
    current: float
    needed: float
    nominal: float
    worst: float

    @property
    def holds(self) -> bool:
        """Whether the loop can carry this current in the worst case."""
        return self.worst >= 0

    @property
    def room(self) -> float:
        """Resistance that could come on top in the worst case, ohm; negative: too much by so much.

        The form that manuals print: ``(supply - drops - needed) / current`` less what is there.
        """
        return self.worst / self.current


@dataclass(frozen=True, slots=True)
class _Setter:
    """A part that sets currents: what makes it ideal, the currents, how volts to spare are read."""

    part: Part
    ideal: dict[str, float]
    needs: str
    currents: tuple[tuple[str, float], ...]
    spare: Callable[[State, list[Column]], Array]


def budgets(loop: Loop, warm: float = WARM, machine: Predictor | None = None) -> tuple[Budget, ...]:
    """The budget of every part of a loop that sets a current, at each current that it should set.

    ``warm`` is the temperature of cables in the worst case, degC.  Empty where no part has a
    lift-off or a compliance voltage.
    """
    machine = machine or Predictor(loop)
    return tuple(
        budget for setter in _setters(machine) for budget in _budgets(machine, setter, warm)
    )


def _setters(machine: Predictor) -> Iterator[_Setter]:
    for part in machine.loop.parts:
        if part.values.keys() >= _SINK:
            yield _sink(machine, part)
        elif part.values.keys() >= _SOURCE:
            yield _source(machine, part)


def _sink(machine: Predictor, part: Part) -> _Setter:
    """A transmitter that draws a current while its terminals hold the lift-off voltage."""
    number = machine.wiring.index[part.name, "lift_off"]

    def spare(state: State, real: list[Column]) -> Array:
        return _across(machine, state, part) - real[number]

    ideal = {"failed": 1.0, "ramp": _NOTHING, "lift_off": 2 * _NOTHING}
    currents = tuple((meaning, part.values[name]) for name, meaning in CURRENTS)
    return _Setter(part, ideal, "lift_off", currents, spare)


def _source(machine: Predictor, part: Part) -> _Setter:
    """An output that gives a current until its compliance voltage is used up."""
    wire = machine.wiring.wires[machine.wiring.wires_of[part.name][0]]
    end = wire.law.segments[0].until
    number = machine.wiring.index[part.name, "compliance"]
    assert end is not None

    def spare(state: State, real: list[Column]) -> Array:
        columns = list(state.columns)
        columns[number] = real[number]
        found: Array = end(machine.wiring.of(part, columns)) - _across(machine, state, part)
        return found

    fixed = part.values.keys() >= _FIXED
    ideal = {"compliance": _ENDLESS, **({"failed": 1.0} if fixed else {})}
    current_ = part.values["full_current"] if fixed else 0.0
    return _Setter(part, ideal, "compliance", ((CURRENTS[0][1], current_),), spare)


def _across(machine: Predictor, state: State, part: Part) -> Array:
    wire = machine.wiring.wires[machine.wiring.wires_of[part.name][0]]
    return np.broadcast_to(state.v[wire.a] - state.v[wire.b], (state.rows,))


def _budgets(machine: Predictor, setter: _Setter, warm: float) -> Iterator[Budget]:
    """Each tolerance both ways on warm cables, then all the worse way; beside the nominal values.

    Which way is the worse one is found at the largest current.
    """
    nominal = machine.wiring.nominal
    limits, hot = _limits(machine), _warmed(machine, warm)
    moved = dict(hot)
    for n, (number, limit) in enumerate(limits):
        column = np.full(2 * len(limits) + 1, hot.get(number, nominal[number]))
        column[[2 * n, 2 * n + 1]] += (limit, -limit)
        moved[number] = column
    amperes = np.array([current for _, current in setter.currents])
    _, each = _solved(machine, setter, moved, np.full(2 * len(limits) + 1, amperes.max()))
    worse = np.where(each[:-1:2] <= each[1:-1:2], 1.0, -1.0)
    worst = dict(hot)
    for sign, (number, limit) in zip(worse, limits, strict=True):
        worst[number] = hot.get(number, nominal[number]) + sign * limit
    both: dict[int, Column] = {
        number: np.repeat([nominal[number], value], len(amperes)) for number, value in worst.items()
    }
    state, found = _solved(machine, setter, both, np.tile(amperes, 2))
    through = current(machine, state, machine.wiring.wires_of[setter.part.name][0])
    through = np.broadcast_to(np.abs(through), (state.rows,))
    needed, count = setter.part.values[setter.needs], len(amperes)
    for n, (meaning, _) in enumerate(setter.currents):
        left, least = float(found[n]), float(found[count + n])
        yield Budget(setter.part.name, meaning, float(through[n]), needed, left, least)


def _solved(
    machine: Predictor, setter: _Setter, moved: dict[int, Column], amperes: Array
) -> tuple[State, Array]:
    """The circuit with the part ideal, and the volts that the real one would have to spare."""
    index, part = machine.wiring.index, setter.part
    real = machine.columns(moved, 1.0)
    ideal = {**moved, **{index[part.name, key]: value for key, value in setter.ideal.items()}}
    if "failed" in setter.ideal:
        ideal[index[part.name, "failed_current"]] = amperes
    state = machine.solve(machine.columns(ideal, 1.0), len(amperes))
    return state, np.broadcast_to(setter.spare(state, real), (len(amperes),))


def _warmed(machine: Predictor, warm: float) -> dict[int, Column]:
    """Resistances of copper at the temperature of the worst case; none where it is the cooler."""
    found: dict[int, Column] = {}
    for part in machine.loop.parts:
        own = part.facts.get("temperature", 20.0)
        if part.kind.copper and warm > own:
            number = machine.wiring.index[part.name, part.kind.copper]
            factor = at_temperature(1.0, warm) / at_temperature(1.0, own)
            found[number] = machine.wiring.nominal[number] * factor
    return found


def _limits(machine: Predictor) -> list[tuple[int, float]]:
    """(number of the parameter, limit of error) of everything that has a tolerance."""
    return [
        (machine.wiring.index[part.name, name], limit)
        for part in machine.loop.parts
        for name, limit in part.tolerances.items()
        if limit
    ]


__all__ = ["CURRENTS", "WARM", "Budget", "budgets"]
