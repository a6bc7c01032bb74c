"""The uncertain parameters of a loop: those whose tolerance anybody could see, and displays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Column, State
from diagnose.circuit.wiring import Wiring
from diagnose.inference.measurement import Measurement
from diagnose.inference.meters import Meter
from diagnose.loops.loop import Loop, Part

UNSEEN = 2e-5
"""Tolerances that move no reachable voltage by this many volts are left out."""


@dataclass(frozen=True)
class Spread:
    """One uncertain parameter: its number and standard uncertainty (SI)."""

    number: int
    sd: float


Spreads = tuple[Spread, ...]


def tolerances(wiring: Wiring) -> Spreads:
    """All uncertain parameters of a circuit; what a display shows wrongly is none of them."""
    found = (
        Spread(number, wiring.parts[part].spread(name))
        for (part, name), number in wiring.index.items()
        if name != "accuracy"
    )
    return tuple(spread for spread in found if spread.sd > 0)


def spreads(machine: Predictor, meter: Meter) -> Spreads:
    """The uncertain parameters whose spread can be seen on the sound or the starved loop.

    Where no current flows, only the current of an ohmmeter shows that a resistance is uncertain.
    """
    wiring = machine.wiring
    every = tolerances(wiring)
    # What belongs to a driven part, such as its lift-off, shows only where the loop starves; what
    # belongs to a part without wires shows only on a display.
    kept = {
        number
        for (name, parameter), number in wiring.index.items()
        if (part := wiring.parts[name]).kind.driven
        or not part.pins
        or part.parameter(parameter).kept
        or _ohms(part, parameter, meter) > UNSEEN
    }
    state = each_moved(machine, every, (0.0, 0.5, 1.0))
    volts = np.stack([np.broadcast_to(v, (state.rows,)) for v in state.v])
    volts = volts.reshape(len(volts), 3, -1)
    shift = np.abs(volts - volts[:, :, :1]).max(axis=(0, 1))
    return tuple(
        spread
        for row, spread in enumerate(every, start=1)
        if shift[row] > UNSEEN or spread.number in kept
    )


def each_moved(machine: Predictor, some: Spreads, process: Sequence[float]) -> State:
    """The sound loop, then with each tolerance one standard deviation off: (process, 1 + spread).

    So at each process value, one after the other in rows.
    """
    rows = len(some) + 1
    at = np.repeat(process, rows)
    moved: dict[int, Column] = {}
    for row, spread in enumerate(some, start=1):
        column = np.full(len(at), machine.wiring.nominal[spread.number])
        column[row::rows] += spread.sd
        moved[spread.number] = column
    return machine.solve(machine.columns(moved, at), len(at))


def _ohms(part: Part, parameter: str, meter: Meter) -> float:
    """Volts by which the spread of a resistance moves an ohmmeter that is put across it."""
    if part.parameter(parameter).unit != "ohm" or parameter not in part.values:
        return 0.0
    behind = meter.ohm_resistance
    steep = meter.ohm_source * behind / (part.values[parameter] + behind) ** 2
    return steep * part.spread(parameter)


def systematic(loop: Loop, measurement: Measurement) -> tuple[str, float] | None:
    """Name and standard uncertainty of the lasting error of what a part shows, if it has one."""
    if measurement.function != "shows":
        return None
    part = loop.part(measurement.points[0])
    shows = part.kind.shows
    if shows is None:
        return None
    limit = part.values.get("accuracy", shows.accuracy)
    return part.name, limit / sqrt(3)
