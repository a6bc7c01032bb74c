"""Explanations: the numbers are those of the operating point, the formulas those of a textbook.

Sources beside each check: Ohm's and Kirchhoff's laws worked by hand on the reference loop (24 V,
0.5 + 300 + 20 + 20 ohm, 250 ohm with three receivers of 1 Mohm, transmitter leak 50 Mohm).
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from diagnose.circuit.explain import Explanation, amperes, explain, explain_current
from diagnose.circuit.operating import Attachment, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.errors import UnknownNameError
from diagnose.loops.kind import OPEN
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet

ROOT = Path(__file__).parents[2]
BUS = 1 / (1 / 250 + 3 / 1e6)
SERIES = 0.5 + 0.001 + 300 + 20 + 20 + 0.001 + BUS
SHUNT = ("I.TX", "resistance")

Changes = dict[tuple[str, str], float]


@pytest.fixture(scope="module")
def machine() -> Predictor:
    return Predictor(load_sheet(ROOT / "tests" / "sheets" / "b3.toml"))


def why(machine: Predictor, changes: Changes, process: float, a: str, b: str = "n") -> Explanation:
    return explain(machine.loop, changes, process, (a, b), predictor=machine)


# --- what is said --------------------------------------------------------------------------------


def test_ohms_law_over_the_sense_resistor(machine: Predictor) -> None:
    """12 mA x 250 ohm; the three receivers take 9 uA of it: 11.99 mA, 2.998 V."""
    said = why(machine, {}, 0.5, "d")
    assert (said.formula, said.numbers, said.result) == (
        "I(R1) x R1", "11.99 mA x 250.0 ohm", "2.998 V",
    )  # fmt: skip
    assert said.lines[:3] == (
        "V(d) = I(R1) x R1", "V(d) = 11.99 mA x 250.0 ohm", "V(d) = 2.998 V",
    )  # fmt: skip
    assert said.value == pytest.approx(12e-3 * BUS, rel=1e-4)
    assert said.closed is None


def test_kirchhoff_round_the_loop(machine: Predictor) -> None:
    """The transmitter gets what the supply has left: 24 - 12 mA x 590.3 ohm = 16.92 V."""
    said = why(machine, {}, 0.5, "tp", "tn")
    assert said.quantity == "V(tp, tn)"
    assert said.formula.startswith("E(G1) - I(A1) x (")
    assert said.numbers.startswith("24.00 V - 12.00 mA x ")
    assert said.value == pytest.approx(24 - 12e-3 * SERIES, rel=1e-4)
    assert said.result == "16.92 V"


@pytest.mark.parametrize(("process", "left"), [(0.0, 25.0), (1.0, 21.0)])
def test_textbook_loop(machine: Predictor, process: float, left: float) -> None:
    """26 V and 250 ohm: the transmitter sees 25 V at 4 mA and 21 V at 20 mA.

    Worked example of an open textbook's chapter on troubleshooting current loops.
    """
    small = {("A1", "resistance"): 1e-3, ("W1+", "resistance"): 1e-3, ("W1-", "resistance"): 1e-3}
    bare = {("G1", "voltage"): 26.0, ("G1", "source_resistance"): 1e-3, **small}
    assert why(machine, bare, process, "tp", "tn").value == pytest.approx(left, abs=6e-3)


def test_regimes_are_named(machine: Predictor) -> None:
    """12 V lift-off, 2 V ramp below it, 20 mA asked for: 100 ohm of slope."""
    healthy = why(machine, {}, 0.5, "d").regimes
    assert "TX regulating: draws 12.00 mA whatever the voltage above 12.00 V" in healthy
    starved = why(machine, {("G1", "voltage"): 18.0}, 1.0, "d").regimes
    assert (
        "TX starved: acts as 10.00 V behind 100.0 ohm while its voltage is "
        "between 10.00 V and 12.00 V" in starved
    )
    limited = why(machine, {SHUNT: 0.05, ("G1", "current_limit"): 0.01}, 0.5, "d").regimes
    assert any(line.startswith("G1 limited: delivers 10.0") for line in limited)
    unpowered = why(machine, {("LK1", "resistance"): OPEN}, 0.5, "d").regimes
    assert any(line.startswith("TX off: draws next to nothing") for line in unpowered)


def test_across_an_open_link_the_way_round_is_told(machine: Predictor) -> None:
    said = why(machine, {("LK1", "resistance"): OPEN}, 0.5, "ps", "a")
    assert said.formula.startswith("E(G1)")
    assert said.value == pytest.approx(24.0, rel=2e-3)


def test_current_says_who_sets_it(machine: Predictor) -> None:
    said = explain_current(machine.loop, {}, 0.5, "R1", predictor=machine)
    assert said.formula == "V(d, n) / R1"
    assert said.numbers == "2.998 V / 250.0 ohm"
    assert said.notes == ("TX sets this current: 12.00 mA; 8.993 uA leaves on the way",)
    assert said.unit == "A"


def test_small_currents_keep_their_digits() -> None:
    assert [amperes(x) for x in (0.0, 12e-3, 3.715e-6, -2.4e-10)] == [
        "0.00 mA", "12.00 mA", "3.715 uA", "-0.24 nA",
    ]  # fmt: skip


# --- closed forms --------------------------------------------------------------------------------


def test_shunt_across_the_transmitter(machine: Predictor) -> None:
    """I = (I_set + Vs/x) / (1 + R/x) = (24 + 0.012 x) / (590.3 + x): 13.60 mA at 10 kohm."""
    said = explain_current(machine.loop, {SHUNT: 10e3}, 0.5, "W1-", predictor=machine)
    closed = said.closed
    assert closed is not None
    assert (closed.part, closed.parameter, closed.value, closed.d) == (*SHUNT, 10e3, 1.0)
    assert (closed.a, closed.b, closed.c) == pytest.approx((24.0, 0.012, SERIES), rel=1e-4)
    assert closed.result == pytest.approx(13.598e-3, abs=1e-6)
    assert "x = insulation of I.TX = 10.00 kohm" in closed.text


def test_sense_resistor_off_its_value(machine: Predictor) -> None:
    """About 12 mA into x beside three receivers and the transmitter's leak: I r x / (r + x)."""
    closed = why(machine, {("R1", "resistance"): 310.0}, 0.5, "d").closed
    assert closed is not None
    beside = 1 / (3 / 1e6 + 1 / 50e6)
    drawn = 12e-3 + 24 / 50e6  # with nothing but the leak in its way, 24 V drives this more
    assert (closed.b, closed.c) == pytest.approx((drawn * beside, beside), rel=1e-4)
    assert abs(closed.a) < 1e-9 * closed.b


def test_added_resistance_starves_the_loop(machine: Predictor) -> None:
    """I = (24 - 10) / (R + 100 + x) when starved at 20 mA: V over the bus = BUS x I."""
    closed = why(machine, {("LK2", "resistance"): 200.0}, 1.0, "d").closed
    assert closed is not None
    rest = SERIES - 0.001 + 100
    assert closed.a == pytest.approx(BUS * 14, rel=1e-4)
    assert closed.c == pytest.approx(rest, rel=1e-4)
    assert closed.result == pytest.approx(BUS * 14 / (rest + 200), rel=1e-4)


def test_a_source_moves_the_answer_in_a_straight_line(machine: Predictor) -> None:
    closed = why(machine, {("G1", "voltage"): 20.0}, 0.5, "tp", "tn").closed
    assert closed is not None
    assert closed.d == 0.0
    assert closed.c == 1.0
    assert closed.b == pytest.approx(1.0, rel=1e-4)


def test_a_sensor_fault_is_told_by_the_current_it_asks_for(machine: Predictor) -> None:
    """Zero error of 20 % at 50 %: 15.2 mA; a volt over the bus for each 1/249.8 A."""
    closed = why(machine, {("TX", "zero_error"): 0.2}, 0.5, "d").closed
    assert closed is not None
    assert closed.parameter == "demand"
    assert closed.value == pytest.approx(15.2e-3)
    assert closed.b == pytest.approx(BUS, rel=1e-4)


def test_another_symbol_can_be_asked_for(machine: Predictor) -> None:
    symbol = ("U1", "input_resistance")
    said = explain(machine.loop, {}, 0.5, ("d", "n"), symbol=symbol, predictor=machine)
    assert said.closed is not None
    assert said.closed.c == pytest.approx(1 / (1 / 250 + 2 / 1e6), rel=1e-4)  # what U1 sees


def test_every_fault_is_explained_to_the_digit(plant: Path) -> None:
    """Own invariant: sum of terms, closed form and operating point are one number, to 1 nV."""
    loop = load_sheet(plant / "sheets" / "LT-214.toml")
    machine, rng = Predictor(loop), random.Random(214)
    meter = Attachment("X21:7", "X20:0", 1e-7)
    told = 0
    for part in loop.parts:
        for mode in part.kind.modes:
            size = mode.severity
            middle = (size.low * size.high) ** 0.5 if size and size.logarithmic else 0.3
            changes = {
                (part.name, change.parameter): change.value(
                    part.values[change.of[1:] or change.parameter], middle
                )
                for change in mode.changes
                if change.of != "to"
            }
            a, b = rng.sample(loop.nodes, 2)
            process = rng.random()
            said = explain(loop, changes, process, (a, b), meter, predictor=machine)
            point = operating_point(loop, changes, process, meter, machine)
            right = point.voltages[a] - point.voltages[b]
            assert said.value == pytest.approx(right, rel=1e-9, abs=1e-9), (changes, a, b)
            if said.closed:
                told += 1
                assert said.closed.result == pytest.approx(right, rel=1e-9, abs=1e-9), said.lines
    assert told > 60


def test_currents_are_explained_to_the_digit(plant: Path) -> None:
    loop: Loop = load_sheet(plant / "sheets" / "LT-214.toml")
    machine = Predictor(loop)
    changes = {("R1", "resistance"): 320.0, ("W3+.X21", "resistance"): 500.0}
    point = operating_point(loop, changes, 0.9, None, machine)
    for part, current in point.currents.items():
        said = explain_current(loop, changes, 0.9, part, predictor=machine)
        assert said.value == pytest.approx(current, rel=1e-9, abs=1e-12)
        assert said.closed is not None
        assert said.closed.result == pytest.approx(current, rel=1e-9, abs=1e-9)


def test_unknown_names_are_refused(machine: Predictor) -> None:
    with pytest.raises(UnknownNameError, match="no point called 'tq'; known: PE, a, b"):
        why(machine, {}, 0.5, "tq")
    with pytest.raises(UnknownNameError, match="no part with a current called 'LG'"):
        explain_current(machine.loop, {}, 0.5, "LG", predictor=machine)
    with pytest.raises(UnknownNameError, match="no parameter called 'R1 ohms'"):
        explain(machine.loop, {}, 0.5, ("d", "n"), symbol=("R1", "ohms"), predictor=machine)
