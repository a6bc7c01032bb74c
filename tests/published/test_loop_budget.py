"""The voltage budget of a two-wire loop against printed formulas and worked examples.

Source: device manuals (makers withheld) print R = (V - V_min) / I with I from 20 to 23.6 mA, and
the examples named in the cases; an open textbook, chapter "Troubleshooting current loops", has the
26 V loop.  Rows marked "arithmetic" are the same formula worked on paper.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.circuit.graph import check
from diagnose.circuit.operating import operating_point
from diagnose.loops.budget import Budget, allowed_resistance, budgets
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet, load_type

B3 = Path(__file__).parents[1] / "sheets" / "b3.toml"


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
def test_the_formula_of_the_manuals(supply, lift_off, milliamperes, ohms):
    assert allowed_resistance(supply, lift_off, milliamperes * 1e-3) == pytest.approx(ohms, abs=0.6)


@pytest.mark.parametrize(
    ("supply", "lift_off", "milliamperes"),
    [pytest.param(15.5, 10, 22, id="manual-15.5V"), pytest.param(19, 18, 4, id="manual-19V")],
)
def test_250_ohm_fit_exactly_where_the_manual_works_it_out(supply, lift_off, milliamperes):
    """10 V + 22 mA x 250 ohm = 15.5 V; 18 V + 4 mA x 250 ohm = 19 V."""
    assert allowed_resistance(supply, lift_off, milliamperes * 1e-3) == pytest.approx(250)


def test_the_textbook_loop_leaves_25_and_21_volts():
    """26 V source, 250 ohm: the transmitter sees 25 V at 4 mA and 21 V at 20 mA."""
    for milliamperes, volts in ((4, 25), (20, 21)):
        assert allowed_resistance(26, volts, milliamperes * 1e-3) == pytest.approx(250)


def at(found: tuple[Budget, ...], meaning: str) -> Budget:
    return next(item for item in found if item.meaning == meaning)


def test_the_reference_loop_reaches_full_scale_and_no_failure_current():
    """24 V, 300 + 20 + 20 + 250 = 590 ohm: 12.2 V at 20 mA; ngspice: 20.5 mA starve at 12 V."""
    loop = load_sheet(B3)
    found = budgets(loop, check(loop).path)
    assert [item.holds for item in found] == [True, False, False]
    full = at(found, "100 %")
    assert full.allowed == pytest.approx(600)
    assert full.present == pytest.approx(590, abs=1)
    assert full.left == pytest.approx(0.194, abs=0.005)  # 3.7 mV of it are the receivers


def with_lift_off(loop: Loop, volts: float) -> Loop:
    sink = loop.part("TX")
    other = replace(sink, values={**sink.values, "lift_off": volts})
    return replace(loop, parts=tuple(other if part is sink else part for part in loop.parts))


def test_12_volts_of_lift_off_do_not_fit_behind_a_barrier():
    """(24 - 12 - 0.5) V / 20 mA = 575 ohm; less a barrier of 330 ohm 245 ohm, below 250."""
    assert allowed_resistance(24, 12, 0.020, 0.5) - 330 == pytest.approx(245)
    loop = with_lift_off(load_type("barrier-input"), 12.0)
    full = at(budgets(loop, check(loop).path), "100 %")
    assert not full.holds
    point = operating_point(loop, {}, 1.0)
    assert point.regimes["TX"] == "starved"
    assert point.currents["R1"] < full.current


@pytest.mark.parametrize("volts", [8.0, 9.0, 9.5, 10.0, 10.8, 11.2, 12.0])
def test_budget_and_circuit_agree_on_who_starves(volts):
    """Two ways to the same: the formula of the manuals, and the operating point at 20 mA."""
    loop = with_lift_off(load_type("barrier-input"), volts)
    full = at(budgets(loop, check(loop).path), "100 %")
    assert full.holds == (operating_point(loop, {}, 1.0).regimes["TX"] == "regulating")


def test_a_loop_without_a_two_wire_transmitter_has_no_such_budget():
    loop = load_type("barrier-input")
    path = [name for name in check(loop).path if name != "TX"]
    assert budgets(loop, path) == ()
