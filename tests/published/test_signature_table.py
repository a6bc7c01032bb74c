"""The reference loop under 38 faults, against numbers that a circuit simulator printed.

Source: computed with ngspice-39 on this circuit: 24 V behind 0.5 ohm, negative earthed by 1 mohm,
300 ohm limiter, 20 ohm cores, transmitter with full current from 12 V, off at 10 V and 50 Mohm
beside it, 250 ohm sense resistor in the return with three receivers of 1 Mohm; absent leaks and
open parts 1 Tohm (reltol 1e-6).  Numbers are printed to 1 uA and 1 mV, so that they hold to half
of that, and the simulator's own tolerance (1e-6 of 24 V) on top.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from diagnose.circuit.operating import OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).parents[1] / "sheets" / "b3.toml"
HALF_A_DIGIT = 0.5e-3 + 0.025e-3
Changes = dict[tuple[str, str], float]

R = "resistance"
ABSENT, OPEN, DEAD = 1e12, 1e12, 1e-3


def ma(milliamperes: float) -> Changes:
    """The transmitter asks for a fixed current."""
    return {("TX", "failed"): 1.0, ("TX", "failed_current"): milliamperes * 1e-3}


AT_12 = ma(12)
SENSE_IN_PLUS: Changes = {("LK1", R): 250.0, ("R1", R): DEAD}
FLOATING: Changes = {("E1", R): ABSENT}

# case, what is moved, then mA in the + and - leg, volts of supply, sense resistor, cabinet pair,
# transmitter, + core to earth, - core to earth
TABLE: list[tuple[str, Changes, str]] = [
    ("healthy 3.6", ma(3.6), "3.600 3.600 23.998 0.899 22.019 21.875 22.846 0.971"),
    ("healthy 4", ma(4), "4.000 4.000 23.998 0.999 21.799 21.638 22.718 1.079"),
    ("healthy 12", AT_12, "12.000 12.000 23.994 2.998 17.396 16.916 20.154 3.238"),
    ("healthy 20", ma(20), "20.000 20.000 23.990 4.996 12.994 12.194 17.590 5.396"),
    ("asked 20.5", ma(20.5), "20.353 20.353 23.990 5.084 12.800 11.986 17.477 5.491"),
    ("asked 21.5", ma(21.5), "20.488 20.488 23.990 5.118 12.725 11.906 17.434 5.528"),
    ("asked 22.5", ma(22.5), "20.612 20.612 23.990 5.149 12.657 11.832 17.394 5.561"),
    ("moisture 10k at 4", ma(4) | {("I.TX", R): 10e3},
     "6.044 6.044 23.997 1.510 20.674 20.432 22.063 1.631"),
    ("moisture 10k at 12", AT_12 | {("I.TX", R): 10e3},
     "13.598 13.598 23.993 3.397 16.517 15.973 19.642 3.669"),
    ("moisture 10k at 20", ma(20) | {("I.TX", R): 10e3},
     "20.453 20.453 23.990 5.110 12.744 11.926 17.445 5.519"),
    ("moisture 2k at 12", AT_12 | {("I.TX", R): 2e3},
     "18.531 18.531 23.991 4.629 13.802 13.061 18.061 5.000"),
    ("+ core leaks 10k", AT_12 | {("E.W1+", R): 10e3},
     "13.953 12.000 23.993 2.998 16.809 16.290 19.528 3.238"),
    ("+ core leaks 2k", AT_12 | {("E.W1+", R): 2e3},
     "20.685 12.000 23.990 2.998 14.786 14.132 17.370 3.238"),
    ("+ core leaks 10k, sense in +", AT_12 | SENSE_IN_PLUS | {("E.W1+", R): 10e3},
     "13.623 12.000 23.993 0.000 16.500 15.988 16.228 0.240"),
    ("- core leaks 10k", AT_12 | {("E.W1-", R): 10e3},
     "12.000 11.685 23.994 2.919 17.475 17.001 20.154 3.153"),
    ("- core leaks 1k", AT_12 | {("E.W1-", R): 1e3},
     "12.000 9.450 23.994 2.361 18.033 17.604 20.154 2.550"),
    ("- core earthed", AT_12 | {("E.W1-", R): DEAD},
     "12.000 0.000 23.994 0.000 20.394 20.154 20.154 0.000"),
    ("- core earthed, field earth +1 V",
     AT_12 | {("E.W1-", R): DEAD, ("E.W1-", "shift"): 1.0, ("E.W1+", "shift"): 1.0},
     "12.000 3.706 23.994 0.926 19.468 19.154 20.154 1.000"),
    ("floating, - core leaks 1k", AT_12 | FLOATING | {("E.W1-", R): 1e3},
     "12.000 12.000 23.994 2.998 17.396 16.916 16.916 0.000"),
    ("floating, both cores 10k", AT_12 | FLOATING | {("E.W1+", R): 10e3, ("E.W1-", R): 10e3},
     "12.822 12.822 23.994 3.203 16.944 16.431 8.216 -8.216"),
    ("short at the transmitter", AT_12 | {("I.TX", R): DEAD},
     "40.656 40.656 23.980 10.156 1.626 0.000 10.970 10.970"),
    ("short of the cores at the cabinet", AT_12 | {("I.W1", R): DEAD},
     "43.611 43.611 23.978 10.895 0.000 0.000 10.895 10.895"),
    ("+ core open", AT_12 | {("W1+", R): OPEN},
     "0.000 0.000 24.000 0.000 24.000 0.001 0.001 0.000"),
    ("- core open", AT_12 | {("W1-", R): OPEN},
     "0.000 0.000 24.000 0.000 24.000 0.002 24.000 23.998"),
    ("limiter blown", AT_12 | {("A1", R): OPEN},
     "0.000 0.000 24.000 0.000 0.001 0.001 0.001 0.000"),
    ("+200 ohm at 4", ma(4) | {("W1+", R): 220.0},
     "4.000 4.000 23.998 0.999 21.799 20.838 21.918 1.079"),
    ("+200 ohm at 12", AT_12 | {("W1+", R): 220.0},
     "12.000 12.000 23.994 2.998 17.396 14.516 17.754 3.238"),
    ("+200 ohm at 20", ma(20) | {("W1+", R): 220.0},
     "15.725 15.725 23.992 3.928 15.346 11.572 15.815 4.243"),
    ("supply 20 V at 12", AT_12 | {("G1", "voltage"): 20.0},
     "12.000 12.000 19.994 2.998 13.396 12.916 16.154 3.238"),
    ("supply 20 V at 20", ma(20) | {("G1", "voltage"): 20.0},
     "14.486 14.486 19.993 3.619 12.028 11.449 15.357 3.909"),
    ("supply 18 V at 20", ma(20) | {("G1", "voltage"): 18.0},
     "11.589 11.589 17.994 2.895 11.622 11.159 14.286 3.127"),
    ("receiver 1k", AT_12 | {("U1", "input_resistance"): 1e3},
     "12.000 12.000 23.994 2.399 17.995 17.515 20.154 2.639"),
    ("receiver 50 ohm", AT_12 | {("U1", "input_resistance"): 50.0},
     "12.000 12.000 23.994 0.500 19.894 19.414 20.154 0.740"),
    ("sense open", AT_12 | {("R1", R): OPEN},
     "0.042 0.042 24.000 13.979 10.009 10.007 23.987 13.980"),
    ("sense 262.5", AT_12 | {("R1", R): 262.5},
     "12.000 12.000 23.994 3.148 17.246 16.766 20.154 3.388"),
    ("sense shorted", AT_12 | {("R1", R): DEAD},
     "12.000 12.000 23.994 0.000 20.394 19.914 20.154 0.240"),
    ("second load at 20", ma(20) | {("W1-", R): 270.0},
     "14.889 14.889 23.993 3.719 15.807 11.489 19.228 7.739"),
    ("limiter 450 at 20", ma(20) | {("A1", R): 450.0},
     "16.660 16.660 23.992 4.162 12.332 11.666 16.161 4.495"),
]  # fmt: skip


@cache
def loop() -> Loop:
    return load_sheet(SHEET)


@cache
def predictor() -> Predictor:
    return Predictor(loop())


def point(changes: Changes) -> OperatingPoint:
    """The link in the return was no part of the simulated circuit: no resistance."""
    return operating_point(loop(), {("LK2", R): 1e-6} | changes, 0.5, None, predictor())


def row(changes: Changes) -> list[float]:
    """The columns of the table, mA and V."""
    found = point(changes)
    v = found.voltages
    pairs = [("ps", "n"), ("d", "n"), ("b", "c"), ("tp", "tn"), ("tp", "PE"), ("tn", "PE")]
    return [
        found.currents["LK1"] * 1e3,
        found.currents["LK2"] * 1e3,
        *(v[a] - v[b] for a, b in pairs),
    ]


def test_the_table_is_whole() -> None:
    assert len(TABLE) == len({name for name, _, _ in TABLE}) == 38


@pytest.mark.parametrize(("changes", "printed"), [pytest.param(c, p, id=n) for n, c, p in TABLE])
def test_row(changes: Changes, printed: str) -> None:
    assert row(changes) == pytest.approx([float(x) for x in printed.split()], abs=HALF_A_DIGIT)


# What the table teaches, as reasoning: each follows from the theorem named beside it.


def test_moisture_across_the_transmitter_is_a_sound_loop_at_another_current() -> None:
    """Substitution theorem: the rest of the loop cannot know how a current is made up."""
    wet = point(AT_12 | {("I.TX", R): 10e3})
    own = wet.voltages["tp"] - wet.voltages["tn"]
    sound = point(ma((wet.currents["TX"] + wet.currents["I.TX"] - own / 50e6) * 1e3))
    assert sound.voltages == pytest.approx(wet.voltages, abs=1e-6)
    assert wet.currents["LK2"] > 13.5e-3


def test_a_leak_of_the_plus_core_leaves_the_signal_right() -> None:
    """The sink decides what flows in the return; only the supply carries the leak."""
    sound, leaking = point(AT_12), point(AT_12 | {("E.W1+", R): 10e3})
    assert leaking.voltages["d"] == pytest.approx(sound.voltages["d"], rel=1e-5)
    assert leaking.currents["LK1"] - leaking.currents["LK2"] == pytest.approx(1.953e-3, abs=1e-6)


def test_one_leak_of_a_floating_loop_changes_nothing_and_the_second_does() -> None:
    """A single connection to earth closes no circuit."""
    sound = row(AT_12 | FLOATING)
    one = row(AT_12 | FLOATING | {("E.W1-", R): 1e3})
    both = row(AT_12 | FLOATING | {("E.W1-", R): 1e3, ("E.W1+", R): 1e3})
    assert one[:6] == pytest.approx(sound[:6], abs=1e-6)
    assert both[3] > sound[3] + 0.1


def test_a_receiver_shunt_is_the_same_as_a_low_sense_resistor() -> None:
    """Resistors side by side are one resistor."""
    shunted = row(AT_12 | {("U1", "input_resistance"): 1e3})
    drifted = row(AT_12 | {("R1", R): 1 / (1 / 250 + 1 / 1e3 - 1 / 1e6)})
    assert shunted == pytest.approx(drifted, abs=1e-9)


def test_two_shorts_tell_the_resistance_of_the_cores_between_them() -> None:
    """Ohm's law: the supply is the same, so that the difference of U/I is the cores, 40 ohm."""
    far, near = point(AT_12 | {("I.TX", R): DEAD}), point(AT_12 | {("I.W1", R): DEAD})
    loops = [24.0 / found.currents["LK1"] for found in (far, near)]
    assert loops[0] - loops[1] == pytest.approx(40.0, abs=0.01)
