"""The voltage budget of a loop, found from its circuit, against printed formulas and examples.

Source: device manuals (makers withheld) print R = (V - V_min) / I with I from 20 to 23.6 mA, and
the examples named in the cases; an open textbook, chapter "Troubleshooting current loops", has the
26 V loop.  Rows marked "arithmetic" are the same formula worked on paper.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from diagnose.circuit.budget import Budget, budgets
from diagnose.circuit.operating import operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet, load_type

B3 = Path(__file__).parents[1] / "sheets" / "b3.toml"

SERIES = """
[loop]
tag = "XT-1"
range = ["0 %", "100 %"]
reference = "n"

[[place]]
name = "cabinet"
minutes = 1

[[part]]
name = "G1"
kind = "supply"
pins = { plus = "p", minus = "n" }
voltage = "VOLTS V"
source_resistance = "1 mohm"
place = "cabinet"

[[part]]
name = "R1"
kind = "resistor"
pins = { a = "q", b = "n" }
resistance = "250 ohm"
place = "cabinet"

[[part]]
name = "TX"
kind = "two_wire_transmitter"
pins = { plus = "p", minus = "q" }
lift_off = "LIFT V"
fail_high = "AMPS mA"
place = "cabinet"
"""


def series(folder: Path, volts: float, lift_off: float, milliamperes: float, more="") -> Loop:
    """A supply, 250 ohm and a transmitter that signals failure with the current asked for."""
    text = SERIES.replace("VOLTS", f"{volts}").replace("LIFT", f"{lift_off}")
    path = folder / "XT-1.toml"
    path.write_text(text.replace("AMPS", f"{milliamperes}") + more)
    return load_sheet(path)


def at(found: tuple[Budget, ...], meaning: str) -> Budget:
    [item] = [item for item in found if meaning in item.meaning]
    return item


@pytest.mark.parametrize(
    ("supply", "lift_off", "milliamperes", "ohms"),
    [
        pytest.param(24, 12, 20.0, 600, id="arithmetic-20"),
        pytest.param(24, 12, 20.5, 585, id="arithmetic-20.5"),
        pytest.param(24, 12, 21.0, 571, id="arithmetic-21"),
        pytest.param(24, 12, 22.5, 533, id="arithmetic-22.5"),
        pytest.param(24, 12, 23.0, 522, id="arithmetic-23"),
        pytest.param(24, 10.5, 23.0, 43.5 * (24 - 10.5), id="manual-43.5(V-10.5)"),
        pytest.param(24, 11, 20.0, 650, id="manual-650"),
        pytest.param(24, 8, 20.0, 800, id="manual-800"),
    ],
)
def test_the_resistance_of_the_manuals(tmp_path, supply, lift_off, milliamperes, ohms):
    """250 ohm are there; what could come on top makes up what the manual allows."""
    found = at(budgets(series(tmp_path, supply, lift_off, milliamperes)), "failure")
    assert found.current == pytest.approx(milliamperes * 1e-3, rel=1e-4)
    assert 250 + found.nominal / found.current == pytest.approx(ohms, abs=0.6)


@pytest.mark.parametrize(
    ("supply", "lift_off", "milliamperes"),
    [pytest.param(15.5, 10, 22, id="manual-15.5V"), pytest.param(19, 18, 4, id="manual-19V")],
)
def test_250_ohm_fit_exactly_where_the_manual_works_it_out(
    tmp_path, supply, lift_off, milliamperes
):
    """10 V + 22 mA x 250 ohm = 15.5 V; 18 V + 4 mA x 250 ohm = 19 V."""
    found = at(budgets(series(tmp_path, supply, lift_off, milliamperes)), "failure")
    assert found.nominal == pytest.approx(0, abs=1e-3)


@pytest.mark.parametrize(("milliamperes", "volts"), [(4, 25), (20, 21)])
def test_the_textbook_loop_leaves_25_and_21_volts(tmp_path, milliamperes, volts):
    """26 V source, 250 ohm: the transmitter sees 25 V at 4 mA and 21 V at 20 mA."""
    found = at(budgets(series(tmp_path, 26, 10, milliamperes)), "failure")
    assert found.needed + found.nominal == pytest.approx(volts, abs=1e-3)


def test_a_shortage_is_told_in_full(tmp_path):
    """(24 - 20) V / 21 mA = 190 ohm; 250 are there: 60 too many, 1.25 V short."""
    found = at(budgets(series(tmp_path, 24, 20, 21)), "failure")
    assert found.nominal == pytest.approx(4 - 0.021 * 250, abs=1e-3)
    assert not found.holds


def test_the_reference_loop_reaches_full_scale_and_no_failure_current():
    """24 V, 300 + 20 + 20 + 250 = 590 ohm: 12.2 V at 20 mA; ngspice: 20.5 mA starve at 12 V."""
    found = budgets(load_sheet(B3))
    assert [item.nominal >= 0 for item in found] == [True, False, False]
    assert found[0].nominal == pytest.approx(0.194, abs=0.005)  # 3.7 mV of it are the receivers


WARM_CORE = """
[[part]]
name = "W1"
kind = "core"
pins = { a = "p", b = "t" }
length = "1000 m"
area = "0.75 mm2"
place = "cabinet"
"""


def behind_a_core(folder: Path, more: str = "") -> Loop:
    """The same loop with a kilometre of core between supply and transmitter."""
    return with_sink(
        series(folder, 24, 12, 21.5, WARM_CORE + more), pins={"plus": "t", "minus": "q"}
    )


def with_sink(loop: Loop, **changed) -> Loop:
    sink = loop.part("TX")
    parts = tuple(replace(part, **changed) if part is sink else part for part in loop.parts)
    return replace(loop, parts=parts)


def test_the_worst_case_is_the_sum_of_what_is_against_it(tmp_path):
    """Worked on paper: supply -2 %, sense +0.1 %, lift-off +3 %, output stage +0.1 %.

    1000 m of 0.75 mm2 are 24.5 ohm at 20 degC (IEC 60228), 6 % more by its tolerance, and
    1 + 0.00393 x 40 as much at 60 degC.
    """
    loop = behind_a_core(tmp_path)
    found = at(budgets(loop, 60.0), "failure")
    amperes = 0.0215 * 1.001
    core = 24.5 * (1 + 0.00393 * 40) + 0.06 * 24.5
    paper = 24 * 0.98 - amperes * (250 * 1.001 + core) - 12 * 1.03
    assert found.worst == pytest.approx(paper, abs=2e-3)
    assert found.room == pytest.approx(paper / 0.0215, rel=1e-3)


def test_a_cable_whose_resistance_holds_when_warm_is_not_warmed_twice(tmp_path):
    loop = behind_a_core(tmp_path, 'temperature = "60 degC"\n')
    assert at(budgets(loop, 60.0), "failure") == at(budgets(loop, 20.0), "failure")
    assert at(budgets(loop, 80.0), "failure").worst < at(budgets(loop, 60.0), "failure").worst


def test_a_cable_that_is_warm_already_is_warmed_by_the_rest_only(tmp_path):
    """As above, 24.5 ohm at 20 degC taken at 30 degC by the sheet: at 60 degC it is the same."""
    loop = behind_a_core(tmp_path, 'temperature = "30 degC"\n')
    found = at(budgets(loop, 60.0), "failure")
    amperes = 0.0215 * 1.001
    core = 24.5 * (1 + 0.00393 * 40) + 0.06 * 24.5 * (1 + 0.00393 * 10)
    paper = 24 * 0.98 - amperes * (250 * 1.001 + core) - 12 * 1.03
    assert found.worst == pytest.approx(paper, abs=2e-3)


@pytest.mark.parametrize("name", ["barrier-input", "isolator-input", "three-wire-input"])
def test_no_corner_of_the_tolerances_is_worse_than_the_worst_case(name):
    """Three hundred corners drawn at random, each solved with the real part."""
    loop = load_type(name)
    machine = Predictor(loop)
    worst = at(budgets(loop, 20.0, machine), "failure")
    sink = loop.part(worst.part)
    draw = np.random.default_rng(5)
    moved = {
        machine.wiring.index[part.name, key]: value + limit * draw.choice([-1.0, 1.0], 300)
        for part in loop.parts
        for key, limit in part.tolerances.items()
        for value in [part.values[key]]
    }
    index = {key: machine.wiring.index[sink.name, key] for key in sink.values}
    moved |= {index["failed"]: 1.0, index["failed_current"]: sink.values["fail_high"]}
    state = machine.solve(machine.columns(moved, 1.0), 300)
    wire = machine.wiring.wires[machine.wiring.wires_of[sink.name][0]]
    left = state.v[wire.a] - state.v[wire.b] - state.columns[index["lift_off"]]
    assert len(np.unique(left)) > 100
    assert left.min() >= worst.worst - 1e-6
    assert left.min() < worst.nominal


def with_lift_off(loop: Loop, volts: float) -> Loop:
    return with_sink(loop, values={**loop.part("TX").values, "lift_off": volts})


def test_12_volts_of_lift_off_do_not_fit_behind_a_barrier(tmp_path):
    """(24 - 12 - 0.5) V / 20 mA = 575 ohm; less a barrier of 330 ohm 245 ohm, below 250."""
    found = at(budgets(series(tmp_path, 24 - 0.5, 12, 20)), "failure")
    assert 250 + found.nominal / found.current - 330 == pytest.approx(245, abs=0.6)
    loop = with_lift_off(load_type("barrier-input"), 12.0)
    assert at(budgets(loop), "100 %").nominal < 0
    point = operating_point(loop, {}, 1.0)
    assert point.regimes["TX"] == "starved"
    assert point.currents["R1"] < 0.020


@pytest.mark.parametrize("volts", [8.0, 9.0, 9.5, 10.0, 10.8, 11.2, 12.0])
def test_the_budget_tells_who_starves(volts):
    """The ideal sink of the budget, and the real transmitter at 20 mA."""
    loop = with_lift_off(load_type("barrier-input"), volts)
    holds = at(budgets(loop), "100 %").nominal >= 0
    assert holds == (operating_point(loop, {}, 1.0).regimes["TX"] == "regulating")


@pytest.mark.parametrize("name", ["current-output", "positioner-output", "four-wire-input"])
def test_an_output_has_volts_to_spare_as_its_load_says(name):
    """What it could give less the volts across it at 20 mA, read off the real circuit."""
    loop = load_type(name)
    found = budgets(loop)[0]
    source = loop.part(found.part)
    point = operating_point(loop, {}, 1.0)
    plus, minus = (point.voltages[source.pins[pin]] for pin in ("plus", "minus"))
    gives = source.values["compliance"] - 0.020 * source.values.get("slope", 0.0)
    assert found.nominal == pytest.approx(gives - (plus - minus), abs=0.02)
    assert found.worst < found.nominal


def test_a_loop_that_sets_no_current_has_no_budget():
    assert budgets(load_type("rtd-input")) == ()
