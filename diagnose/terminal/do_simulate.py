"""``simulate`` and ``netlist``: the circuit with given changes, as numbers or for a simulator."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence

from diagnose.circuit.operating import OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.inference.fault_text import Fault
from diagnose.loops.loop import Loop
from diagnose.terminal.as_json import Json, number, scaled
from diagnose.terminal.find_changes import Situation, situation
from diagnose.terminal.find_loop import find_loop, plant_of
from diagnose.terminal.indications import Indication, indications
from diagnose.terminal.outcome import SCHEMA, Outcome
from diagnose.terminal.render_circuit import render


def simulate(arguments: Namespace) -> Outcome:
    """The operating point of the loop with faults and conditions put in."""
    loop = find_loop(arguments.loop, plant_of(arguments))
    moved = situation(arguments, loop)
    machine = Predictor(loop)
    point = operating_point(loop, moved.changes, moved.process, moved.jumper, machine)
    seen = tuple(indications(machine, point))
    return Outcome(
        as_json(loop, moved, point, seen),
        lambda look: render(loop, moved.text(loop), point, seen, look),
    )


def netlist(arguments: Namespace) -> Outcome:
    """The same circuit as the text of a SPICE netlist."""
    from diagnose.circuit.netlist import netlist as spice

    loop = find_loop(arguments.loop, plant_of(arguments))
    moved = situation(arguments, loop)
    text = spice(loop, moved.changes, moved.process, moved.jumper)
    data = {"schema": SCHEMA, "tag": loop.tag, "netlist": text}
    return Outcome(data, lambda _: text.splitlines())


def as_json(
    loop: Loop, moved: Situation, point: OperatingPoint, seen: Sequence[Indication]
) -> Json:
    """The object that ``--json`` prints: volts to the reference, amperes, what is shown."""
    return {
        "schema": SCHEMA,
        "tag": loop.tag,
        "process": {"value": scaled(moved.process, "1"), "unit": "%"},
        "faults": [_fault(fault) for fault in moved.faults],
        "voltages": {name: number(value) for name, value in point.voltages.items()},
        "currents": {name: number(value) for name, value in point.currents.items()},
        "indications": {item.part: _shown(item) for item in seen},
        "regimes": dict(point.regimes),
    }


def _fault(fault: Fault) -> Json:
    found: Json = {"part": fault.part, "fault": fault.mode.name}
    scale = fault.mode.size
    if scale is not None and fault.value is not None:
        unit = "%" if scale.unit == "1" else scale.unit
        value = scaled(fault.value, scale.unit)
        found["severity"] = {"quantity": scale.quantity, "unit": unit, "value": value}
    return found


def _shown(item: Indication) -> Json:
    if item.lit is not None:
        return {"value": item.text(), "unit": "state"}
    unit = "%" if item.unit == "1" else item.unit
    return {"value": scaled(item.value, item.unit), "unit": unit}
