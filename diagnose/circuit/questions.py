"""Questions to a solved circuit: currents, derivatives, where a regime ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array, Column, State, picker

Slope = tuple[str, int, int, Column]
"""Derivative of a law: its letter (g or j), branch, parameter, value."""


def current(machine: Predictor, state: State, k: int) -> Column:
    """Current of branch k, from its pin a to its pin b."""
    wire = machine.wiring.wires[k]
    result: Column = state.g[k] * (state.v[wire.a] - state.v[wire.b]) + state.j[k]
    return result


def slopes(machine: Predictor, state: State, wanted: Sequence[int]) -> list[Slope]:
    """d g and d j of the laws in force: (letter, branch, parameter, slope), zeros left out."""
    key = tuple(wanted)
    if not key:
        return []
    if key not in state.notes:
        state.notes[key] = _slopes(machine, state, key)
    found: list[Slope] = state.notes[key]
    return found


def _slopes(machine: Predictor, state: State, wanted: tuple[int, ...]) -> list[Slope]:
    chosen = set(wanted)
    names = [n for n in machine.slope_tape().outputs if int(n.rsplit("_", 1)[1]) in chosen]
    needs, run = machine.slope_tape().program(names)
    found = []
    for name, value in zip(names, run(*picker(needs)(state.columns)), strict=True):
        letter, (k, piece, parameter) = name[1], map(int, name[2:].split("_"))
        if k in state.pieces:
            here = state.pieces[k] == piece
            if not here.any():
                continue
            value = value if here.all() else np.where(here, value, 0.0)
        found.append((letter, k, parameter, value))
    return found


def leaves(machine: Predictor, here: State, there: State) -> Array:
    """Where the regime of ``here`` ends on the straight way to the columns of ``there``.

    Returns the share of the way, in [0, 1], shape (rows,); exact as long as only sources
    differ between the two.
    """
    kept = machine.carried_on(here, there)
    way = np.ones(here.rows)
    for k in machine.bent:
        wire = machine.wiring.wires[k]
        start = here.v[wire.a] - here.v[wire.b]
        step = kept.v[wire.a] - kept.v[wire.b] - start
        for piece, end in enumerate(machine.ends(kept.laws, k)):
            below = here.pieces[k] == piece
            above = here.pieces[k] == piece + 1
            with np.errstate(divide="ignore", invalid="ignore"):
                share = np.divide(end - start, step)
            crossing = (below & (step > 0)) | (above & (step < 0))
            way = np.where(crossing & (share >= 0), np.minimum(way, share), way)
    return way


def strays(
    machine: Predictor, state: State, loaded: Sequence[Column], shape: tuple[int, int]
) -> Array:
    """Where sets of node voltages leave the regimes of ``state``: (set, row), as ``shape`` says."""
    gone = np.zeros(shape, bool)
    for k in machine.bent:
        wire = machine.wiring.wires[k]
        across = loaded[wire.a] - loaded[wire.b]
        number = np.zeros(shape, int)
        for end in machine.ends(state.laws, k):
            number += across > end
        gone |= number != state.pieces[k]
    return gone


def polish(machine: Predictor, state: State) -> State:
    """One step of iterative refinement: what Kirchhoff's law still misses is put right.

    A low-resistance attachment, or a supply that only insulation holds, leaves rounding of
    some microvolts; it matters to nobody with a meter, but a netlist run beside it shows it.
    """
    missing: dict[int, Column] = {}

    def flows(a: int, b: int, current: Column) -> None:
        missing[a] = missing.get(a, 0.0) - current
        missing[b] = missing.get(b, 0.0) + current

    for k, wire in enumerate(machine.wiring.wires):
        flows(wire.a, wire.b, current(machine, state, k))
    for fitted in state.attachments:
        a, b = machine.wiring.node[fitted.a], machine.wiring.node[fitted.b]
        flows(a, b, fitted.conductance * (state.v[a] - state.v[b]) + fitted.source)
    step = machine.respond(state, missing)
    v = [old + new for old, new in zip(state.v, step, strict=True)]
    if not state.attachments:
        return replace(state, v=v)
    last = state.attachments[-1]
    across = v[machine.wiring.node[last.a]] - v[machine.wiring.node[last.b]]
    return replace(state, v=v, attached=across)
