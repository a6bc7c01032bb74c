"""Tolerances that only a fault lets anybody see.

A terminal of five milliohms, give or take half of it, is nothing to a loop of twenty milliamperes;
where an earth fault drives amperes through it, it is some millivolts.
"""

from __future__ import annotations

import numpy as np

from diagnose.circuit.questions import slopes
from diagnose.circuit.rows import Array, Column
from diagnose.inference.ground import Ground
from diagnose.inference.spreads import Spreads, tolerances

SEEN = 1e-3
"""Volts by which such a tolerance must move a voltage: the last digit that most meters show."""

SERIES = 1e4
"""Ohms up to which a resistance counts as one in series: what is beyond is insulation."""

SEVERITIES, PROCESS = (0.02, 0.5, 0.98), (0.05, 0.95)
"""Where faults are looked at: a current is largest at one end or the other."""


def uncovered(ground: Ground, known: Spreads) -> Spreads:
    """The resistances beyond ``known`` whose tolerance some fault lets be seen.

    They move no voltage by more than their own drop does: current times standard uncertainty.
    """
    wiring, have = ground.machine.wiring, {spread.number for spread in known}
    some = {
        spread.number: spread
        for spread in tolerances(wiring)
        if spread.number not in have and _in_series(ground, spread.number)
    }
    most = _most(ground, tuple(some)) if some else {}
    return tuple(some[number] for number, slope in most.items() if slope * some[number].sd > SEEN)


def _in_series(ground: Ground, number: int) -> bool:
    wiring = ground.machine.wiring
    part, name = wiring.parameters[number]
    return wiring.parts[part].parameter(name).unit == "ohm" and wiring.nominal[number] < SERIES


def _most(ground: Ground, numbers: tuple[int, ...]) -> dict[int, float]:
    """Volts per ohm of some resistances, beside the fault that drives most current through each."""
    count = len(ground.hypotheses)
    h, x, process = (
        one.ravel() for one in np.meshgrid(np.arange(count), SEVERITIES, PROCESS, indexing="ij")
    )
    machine = ground.machine
    state = machine.solve(ground.columns(h, x, process), len(h))
    still = dict(zip(numbers, ground.still(h, numbers, ()).T, strict=True))
    lost: dict[tuple[int, int], Column] = {}
    for letter, k, number, slope in slopes(machine, state, numbers):
        wire = machine.wiring.wires[k]
        amperes = slope * (state.v[wire.a] - state.v[wire.b]) if letter == "g" else slope
        lost[k, number] = lost.get((k, number), 0.0) + amperes
    found = dict.fromkeys(numbers, 0.0)
    for (k, number), amperes in lost.items():
        volts: Array = np.abs(amperes / state.g[k]) * still[number]
        found[number] = max(found[number], float(volts.max()))
    return found
