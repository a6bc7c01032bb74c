"""The exported SPICE text: what it says, and what ngspice makes of the reference loop.

Sources beside each check: closed forms of the two-wire loop by Ohm's and Kirchhoff's laws, worked
by hand; ngspice runs the text as it stands.  Random circuits: tests/published.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.circuit.netlist import netlist
from diagnose.circuit.operating import Attachment, operating_point
from diagnose.errors import UnknownNameError
from diagnose.loops.kind import OPEN
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet
from spice import run_alone

ROOT = Path(__file__).parents[2]
BUS = 1 / (1 / 250 + 3 / 1e6)
"""250 ohm with three receivers of 1 Mohm, 249.813 ohm."""
SERIES = 0.5 + 0.001 + 300 + 20 + 20 + 0.001 + BUS
"""Everything in series with the transmitter: source, links, limiter, cores, bus."""

Changes = dict[tuple[str, str], float]


def b3() -> Loop:
    return load_sheet(ROOT / "tests" / "sheets" / "b3.toml")


def simulated(
    changes: Changes, process: float, meter: Attachment | None = None
) -> dict[str, float]:
    (printed,) = run_alone([netlist(b3(), changes, process, meter)])
    return printed


def sections(text: str) -> tuple[list[str], list[str]]:
    """Comment lines and the rest."""
    lines = text.splitlines()
    return [x for x in lines if x.startswith("*")], [x for x in lines if not x.startswith("*")]


# --- run by ngspice ------------------------------------------------------------------------------


@pytest.mark.spice
@pytest.mark.parametrize(("process", "current"), [(0.0, 4e-3), (0.5, 12e-3), (1.0, 20e-3)])
def test_healthy_loop(process: float, current: float) -> None:
    """I R over the bus: 4/12/20 mA are 1/3/5 V less the 0.075 % of the receivers."""
    printed = simulated({}, process)
    assert printed["i(vm_tx)"] == pytest.approx(current, abs=0.5e-6)  # leak of 50 Mohm
    assert printed["v(n_d)"] == pytest.approx(printed["i(vm_tx)"] * BUS, rel=1e-6)
    total = printed["i(vm_tx)"] * SERIES
    assert printed["v(n_tp)"] - printed["v(n_tn)"] == pytest.approx(24 - total, rel=1e-6)


@pytest.mark.spice
def test_starved_transmitter() -> None:
    """I = (Vs - 10) / (R + 2 / I_set) on a ramp of 2 V below 12 V: 11.59 mA at 18 V and 20 mA."""
    printed = simulated({("G1", "voltage"): 18.0}, 1.0)
    assert printed["i(vm_tx)"] == pytest.approx((18 - 10) / (SERIES + 2 / 20e-3), rel=1e-4)


@pytest.mark.spice
def test_short_across_the_transmitter() -> None:
    """Ohm's law round the loop."""
    short = 0.05
    printed = simulated({("I.TX", "resistance"): short}, 0.5)
    assert -printed["i(vm_g1)"] == pytest.approx(24 / (SERIES + short), rel=1e-6)


@pytest.mark.spice
@pytest.mark.parametrize("part", ["LK1", "W1+", "W1-", "A1"])
def test_open_loop(part: str) -> None:
    """No current, and the whole supply across the open part (transmitter leak of 50 Mohm)."""
    printed = simulated({(part, "resistance"): OPEN}, 0.5)
    assert abs(printed["i(vm_r1)"]) < 1e-9
    current = printed[f"i(vm_{ {'W1+': 'w1p', 'W1-': 'w1m'}.get(part, part.lower()) })"]
    assert current * OPEN == pytest.approx(24, rel=2e-3)  # insulation of 1 Tohm beside it


@pytest.mark.spice
def test_ohmmeter_across_the_sense_resistor() -> None:
    """1.2 V behind 10 kohm on 249.813 ohm, supply off: a voltage divider."""
    off = {("G1", "voltage"): 0.0, ("G1", "source_resistance"): 1e9}
    printed = simulated(off, 0.5, Attachment("d", "n", 1e-4, -1.2e-4))
    assert printed["v(n_d)"] == pytest.approx(1.2 * BUS / (1e4 + BUS), rel=1e-5)
    assert printed["i(vm_meter)"] == pytest.approx(-1.2 / (1e4 + BUS), rel=1e-5)


@pytest.mark.spice
def test_current_limit_and_reversed_wires() -> None:
    """A limit of 10 mA on a short of 40 mA; a diode of 0.7 V when wired backwards."""
    limited = simulated({("I.TX", "resistance"): 0.05, ("G1", "current_limit"): 0.010}, 0.5)
    assert -limited["i(vm_g1)"] == pytest.approx(0.010, rel=2e-3)  # 1 uS of slope, 6 V below
    turned = simulated({("TX", "alive"): 0.0, ("TX", "turned"): 0.1}, 0.5)
    assert turned["v(n_tp)"] - turned["v(n_tn)"] == pytest.approx(0.7 + 10 * 0.0388, rel=0.02)


@pytest.mark.spice
def test_every_fault_mode_converges_to_the_operating_point(plant: Path) -> None:
    """ngspice on every mode at the middle of its range, full scale: where starving begins."""
    loop = load_sheet(plant / "sheets" / "LT-214.toml")
    asked: list[Changes] = []
    for part in loop.parts:
        for mode in part.kind.modes:
            size = mode.severity
            middle = (size.low + size.high) / 2 if size else 0.0
            asked.append(
                {
                    (part.name, change.parameter): change.value(
                        part.values[change.of[1:] or change.parameter], middle
                    )
                    for change in mode.changes
                    if change.of != "to"
                }
            )
    printed = run_alone([netlist(loop, changes, 1.0) for changes in asked])
    assert len(asked) > 90
    for changes, seen in zip(asked, printed, strict=True):
        point = operating_point(loop, changes, 1.0)
        bus = point.voltages["X21:7"]
        assert seen["v(n_x21_7)"] == pytest.approx(bus, rel=1e-6, abs=1e-6), changes
        supply = point.currents["G1"]
        assert seen["i(vm_g1)"] == pytest.approx(supply, rel=1e-6, abs=1e-9), changes


# --- the text ------------------------------------------------------------------------------------


def test_head_says_what_it_is() -> None:
    meter = Attachment("d", "n", 1e-7)
    comments, _ = sections(netlist(b3(), {("R1", "resistance"): 310.0}, 0.25, meter))
    head = "\n".join(comments)
    assert comments[0].startswith("* B3")
    assert "* process value: 25 % of range" in head
    assert "* changed: R1 resistance = 310.0" in head
    assert "* meter from d to n: i = 1e-07 v + 0.0" in head
    assert "* changed: nothing" in netlist(b3(), {}, 0.5)


def test_same_circuit_same_text() -> None:
    """The order in which changes were made does not matter."""
    changes = {("R1", "resistance"): 310.0, ("G1", "voltage"): 20.0}
    turned = dict(reversed(changes.items()))
    assert netlist(b3(), changes, 0.5) == netlist(b3(), turned, 0.5)


def test_every_node_and_part_is_there_and_printed(plant: Path) -> None:
    loop = load_sheet(plant / "sheets" / "LT-214.toml")
    comments, rest = sections(netlist(loop, {}, 0.5))
    listed = [line.split()[1:] for line in comments if line.startswith("*   ")]
    assert [node for _, node in listed] == list(loop.nodes)
    assert listed[0] == ["0", loop.reference]
    for spice, _ in listed[1:]:
        assert re.fullmatch(r"[a-z0-9_]+", spice)
        assert f"print v({spice})" in rest
    ammeters = [line.split()[0] for line in rest if line.startswith("Vm_")]
    assert [f"print i({name.lower()})" for name in ammeters] == [x for x in rest if "i(vm_" in x]
    assert len(ammeters) == sum(len(part.kind.branches) for part in loop.parts)


def test_names_that_a_simulator_cannot_tell_apart_get_numbers() -> None:
    """SPICE folds case and takes no ``-`` or ``:``; ``meter`` is kept for the meter."""
    loop = b3()
    names = {"U1": "R.1", "U2": "r-1", "U3": "Meter"}
    parts = tuple(replace(p, name=names.get(p.name, p.name)) for p in loop.parts)
    _, rest = sections(netlist(replace(loop, parts=parts), {}, 0.5, Attachment("d", "n", 1e-7)))
    elements = [line.split()[0].lower() for line in rest if line[:1] in "VHRBI"]
    assert len(elements) == len(set(elements))
    assert {"vm_r_1", "vm_r_1_2", "vm_meter", "vm_meter_2"} <= set(elements)


def test_unknown_names_are_refused_in_one_line() -> None:
    with pytest.raises(UnknownNameError, match="no parameter called 'R1 resistence'; did you mean"):
        netlist(b3(), {("R1", "resistence"): 1.0}, 0.5)
    with pytest.raises(UnknownNameError, match="no node called 'dd'"):
        netlist(b3(), {}, 0.5, Attachment("dd", "n", 1e-7))
