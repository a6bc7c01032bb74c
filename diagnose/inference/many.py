"""Many pairs of points at once: one pass through the circuit for all that a meter could span."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.circuit.predictor import MOST_ROUNDS
from diagnose.circuit.questions import strays
from diagnose.circuit.rows import Array, Attachment, Column, State, subset
from diagnose.inference.observe import Observer

Leads = dict[int, Array]
"""Node -> +1 where a meter's first lead is, -1 where its second is: (pair, 1) or (row,)."""


@dataclass
class Spanned:
    """Levels (pair, row) and slopes (pair, spread, row) of many pairs.

    ``unsettled`` (pair,) marks pairs in which some row found no regime: to be asked one by one.
    """

    level: Array
    slope: Array
    unsettled: Array


@dataclass
class _Load:
    """Circuits with the meter on: what it sees, node voltages, response to one ampere at it."""

    level: Array
    v: list[Column]
    probe: list[Column]


def span(
    observer: Observer, function: str, pairs: Sequence[tuple[str, str]], state: State, still: Array
) -> Spanned:
    """What a meter on volts or ``ohm`` shows across each pair, fitted there alone."""
    if observer.silent(function):
        nothing = np.zeros((len(pairs), len(observer.spreads), state.rows))
        return Spanned(nothing[:, 0], nothing, np.zeros(len(pairs), bool))
    node = observer.machine.wiring.node
    ends = np.array([(node[a], node[b]) for a, b in pairs])
    meter = observer.meter_of(function, *pairs[0])
    load = _load(observer, meter, state, _leads(ends[:, :1], ends[:, 1:]))
    shape = (len(pairs), state.rows)
    level = np.broadcast_to(load.level, shape).copy()
    slope = np.zeros((len(pairs), len(observer.spreads), state.rows))
    for place, value in _slopes(observer, state, load):
        slope[:, place] = value
    moved = strays(observer.machine, state, load.v, shape)
    unsettled = np.zeros(len(pairs), bool)
    if moved.any():
        pair, row = np.nonzero(moved)
        some, load, open_ = _settled(observer, meter, subset(state, row), ends[pair])
        level[pair, row] = load.level
        slope[pair, :, row] = 0.0
        for place, value in _slopes(observer, some, load):
            slope[pair, place, row] = value
        unsettled[pair[open_]] = True
    slope *= (still * np.array([spread.sd for spread in observer.spreads])).T
    if observer.unsigned(function):
        sign = np.where(level < 0, -1.0, 1.0)
        level, slope = level * sign, slope * sign[:, None]
    return Spanned(level, slope, unsettled)


def _settled(
    observer: Observer, meter: Attachment, state: State, ends: Array
) -> tuple[State, _Load, Array]:
    """Rows, each with the meter at its own two nodes, in the regimes into which it pushes them.

    Returns the rows without the meter in those regimes, the load, and where none was found.
    """
    machine, leads = observer.machine, _leads(ends[:, 0], ends[:, 1])
    load = _load(observer, meter, state, leads)
    for _ in range(MOST_ROUNDS):
        found = machine.fitting(replace(state, v=load.v))
        open_ = machine.differ(found, state.pieces)
        if not open_.any():
            break
        state = machine.held(state, found)
        load = _load(observer, meter, state, leads)
    return state, load, open_


def _leads(first: Array, second: Array) -> Leads:
    """Where the two leads of a meter are, the reference left out."""
    return {
        int(node): (first == node) * 1.0 - (second == node)
        for node in np.union1d(first, second)
        if node
    }


def _load(observer: Observer, meter: Attachment, state: State, leads: Leads) -> _Load:
    """Fit the meter: a rank-one change of the solved network, exact within the regime."""
    probe = observer.machine.respond(state, dict(leads))
    seen = _across(leads, probe)
    held = 1 + seen * meter.conductance
    level = (_across(leads, state.v) - meter.source * seen) / held
    current = meter.conductance * level + meter.source
    dead = [isinstance(w, float) for w in probe]
    v = [u if no else u - w * current for u, w, no in zip(state.v, probe, dead, strict=True)]
    return _Load(level, v, [w if no else w / held for w, no in zip(probe, dead, strict=True)])


def _across(leads: Leads, volts: Sequence[Column]) -> Array:
    """Voltage from the first lead to the second."""
    total: Array = np.zeros(1)
    for node, sign in leads.items():
        total = total + sign * volts[node]
    return total


def _slopes(observer: Observer, state: State, load: _Load) -> list[tuple[int, Column]]:
    """(number of the spread, derivative of what the meter sees by its parameter)."""
    loaded = replace(state, v=load.v)
    found = observer.adjoint(loaded, load.probe, observer.numbers)
    return [(observer.numbers.index(number), value) for number, value in found.items()]
