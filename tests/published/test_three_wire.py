"""A three-wire transmitter, sound and broken.

Sources: Ohm's and Kirchhoff's laws and the 4-20 mA scale, worked on paper beside each number.
Which fault shows how: common practice, no source.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from diagnose.circuit.operating import OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_line
from diagnose.loops.kind import OPEN
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets" / "PT-322.toml"
Changes = dict[tuple[str, str], float]
LOAD = 3e3
"""What the transmitter draws itself, as a resistance (the sheet's default)."""


@cache
def loop() -> Loop:
    return load_sheet(SHEET)


@cache
def predictor() -> Predictor:
    return Predictor(loop())


@cache
def engine() -> Engine:
    return Engine(loop())


def point(changes: Changes, process: float = 0.5) -> OperatingPoint:
    return operating_point(loop(), changes, process, None, predictor())


def volts(found: OperatingPoint, a: str, b: str) -> float:
    return found.voltages[a] - found.voltages[b]


def signal(found: OperatingPoint) -> float:
    return volts(found, "X63:7", "X20:0")


def rank(*lines: str) -> Ranking:
    return engine().rank([parse_line(line, loop()) for line in lines], "cabinet")


def top(ranking: Ranking) -> tuple[str | None, str]:
    return ranking.hypotheses[0].part, ranking.hypotheses[0].fault


@pytest.mark.parametrize("process", [0.0, 0.25, 0.5, 0.75, 1.0])
def test_the_bus_stands_at_1_to_5_volts(process: float) -> None:
    """4-20 mA across 250 ohm; two receivers of 1 Mohm take 0.05 % of it."""
    assert signal(point({}, process)) == pytest.approx(1 + 4 * process, rel=1e-3)


@pytest.mark.parametrize("process", [0.0, 0.5, 1.0])
def test_plus_carries_signal_and_own_draw_and_common_the_draw_alone(process: float) -> None:
    """Kirchhoff's current law at the transmitter; its draw is about 24 V / 3 kohm = 8 mA."""
    found = point({}, process)
    plus, out = found.currents["W61+"], found.currents["W61.S"]
    common = found.currents["W61-"]
    assert plus == pytest.approx(out + common, abs=1e-6)
    assert out == pytest.approx(4e-3 + 16e-3 * process, rel=1e-3)
    assert common == pytest.approx(24 / LOAD, rel=0.01)


def test_a_lost_common_adds_the_draw_to_the_signal() -> None:
    """The draw comes back through the output: (V - 0.7 V - V_out) / 3 kohm on top of 12 mA."""
    found = point({("W61-.X63", "resistance"): OPEN})
    output = volts(found, "PT-322:2", "X20:0")
    added = (volts(found, "PT-322:1", "X20:0") - 0.7 - output) / (LOAD + 10)
    assert signal(found) == pytest.approx(250 * (12e-3 + added), rel=2e-3)
    assert added > 5e-3
    assert found.currents["W61-"] == pytest.approx(0, abs=1e-6)


def test_a_lost_plus_takes_everything() -> None:
    found = point({("W61+.X63", "resistance"): OPEN})
    assert signal(found) == pytest.approx(0, abs=1e-3)
    assert found.currents["F1"] == pytest.approx(0, abs=1e-6)


def test_a_lost_signal_wire_leaves_the_draw() -> None:
    found = point({("W61.S", "resistance"): OPEN})
    assert signal(found) == pytest.approx(0, abs=1e-3)
    assert found.currents["F1"] == pytest.approx(24 / LOAD, rel=0.01)
    assert volts(found, "PT-322:2", "X20:0") > 10


def test_a_dead_transmitter_draws_nothing() -> None:
    found = point({("PT-322", "alive"): 0.0, ("PT-322", "load"): OPEN})
    assert found.currents["F1"] == pytest.approx(0, abs=2e-6)
    assert volts(found, "PT-322:1", "PT-322:3") == pytest.approx(24, abs=0.01)


def test_swapped_wires_show_the_draw_whatever_the_process_does() -> None:
    """24 V over 3 kohm and 250 ohm: 7.4 mA, 1.84 V, always."""
    swapped = {("PT-322", "swapped"): 1.0, ("PT-322", "swapped_load"): LOAD}
    swapped |= {("PT-322", "load"): 100e9}
    for process in (0.0, 0.5, 1.0):
        found = point(swapped, process)
        assert signal(found) == pytest.approx(24 * 250 / (LOAD + 250), rel=0.01)
        assert found.currents["W61-"] == pytest.approx(4e-3 + 16e-3 * process, rel=1e-3)


def test_leakage_from_signal_to_common_steals_beside_the_sense_resistor() -> None:
    """1 kohm beside 250 ohm and the signal core takes about a fifth."""
    ohms = 250 + 0.12 * 24.5 + 0.015 * 24.5
    found = point({("I.PT-322.2", "resistance"): 1e3})
    assert signal(found) == pytest.approx(3.0 * 1e3 / (1e3 + ohms), rel=0.01)


def test_leakage_from_plus_to_signal_adds() -> None:
    """10 kohm over 24 V less the output's volts."""
    found = point({("I.PT-322.1", "resistance"): 10e3})
    added = volts(found, "PT-322:1", "PT-322:2") / 10e3
    assert signal(found) == pytest.approx(250 * (12e-3 + added), rel=2e-3)


def test_a_high_resistance_in_plus_clips() -> None:
    """700 ohm leave 24 - 28 mA x 0.7 kohm - 5 V < 8 V at the top, and enough at 25 %."""
    bad = {("W61+", "resistance"): 700.0}
    assert signal(point(bad, 0.25)) == pytest.approx(2.0, rel=1e-3)
    assert signal(point(bad, 1.0)) < 4.8
    assert point(bad, 1.0).regimes["PT-322"] == "starved"


# --- conclusions ------------------------------------------------------------------------------


def test_high_and_no_current_in_the_common_is_the_common() -> None:
    found = rank("complaint reads high", "V X63:7 X20:0 4.54", "clamp W61- 0.00", "PT-322 50 %")
    opens = {("W61-", "open"), ("W61-.X63", "open"), ("W61-.JB25", "open"), ("LK3", "open"),
             ("W62-", "open"), ("W62-.JB25", "open"), ("W62-.PT-322", "open"),
             ("X63.X20", "open")}  # fmt: skip
    assert sum(i.probability for i in found.hypotheses if (i.part, i.fault) in opens) > 0.9


def test_a_signal_that_is_the_draw_after_work_is_a_swap() -> None:
    found = rank(
        "context work", "complaint frozen", "V X63:7 X20:0 1.843", "clamp W61- 12.00",
        "PT-322 50 %",
    )  # fmt: skip
    assert top(found) == ("PT-322", "swapped")
