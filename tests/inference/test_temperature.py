"""Reasoning on temperature loops: readings, sensitivities, and what a technician would conclude.

Reasoning: common practice, no source.  Numbers: arithmetic on IEC 60751 and ITS-90 tables, as in
``published/test_temperature_arithmetic.py``.  A bound is a share of belief that the practice would
still accept; it is no figure of any source.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from diagnose.errors import ReadingError
from diagnose.inference.engine import Engine
from diagnose.inference.hypotheses import action_of
from diagnose.inference.measurement import Applied, Measurement, Reading
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import describe, parse_line
from diagnose.loops.sheet import load_sheet

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"
Keys = Iterable[tuple[str | None, str]]


@cache
def engine(tag: str) -> Engine:
    return Engine(load_sheet(SHEETS / f"{tag}.toml"))


def read(tag: str, line: str) -> Reading:
    found = parse_line(line, engine(tag).loop)
    assert isinstance(found, Reading)
    return found


def rank(tag: str, *lines: str) -> Ranking:
    known = engine(tag)
    return known.rank([parse_line(line, known.loop) for line in lines], "cabinet")


def chance(ranking: Ranking, keys: Keys) -> float:
    wanted = set(keys)
    return sum(r.probability for r in ranking.hypotheses if (r.part, r.fault) in wanted)


# --- readings ---------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["12.209 mV", "12.209mV", "0.012209 V", "12.209e-3 V"])
def test_millivolts_keep_their_digits(text: str) -> None:
    found = read("TE-140", f"V X40:+ X40:- {text}")
    assert found.value == pytest.approx(12.209e-3, abs=1e-12)


def test_millivolts_are_rounded_as_typed() -> None:
    assert read("TE-140", "V X40:+ X40:- 12.209 mV").rounding == pytest.approx(0.5e-6)


@pytest.mark.parametrize(("text", "share"), [("300 degC", 0.5), ("300", 0.5), ("572 degF", 0.5)])
def test_a_display_is_read_in_degrees(text: str, share: float) -> None:
    """300 degC = 572 degF, half of 0 to 600 degC; a bare number is in the display's unit."""
    assert read("TE-140", f"TI-140 {text}").value == pytest.approx(share)


def test_degrees_are_written_as_they_are_read() -> None:
    found = read("TE-140", "TI-140 432.5 degC")
    assert describe(found, engine("TE-140").loop) == "TI-140 432.5 degC"


@pytest.mark.parametrize("word", ["off", "unplugged"])
def test_ohms_are_read_with_the_card_unplugged(word: str) -> None:
    found = read("TT-131", f"ohm X31:1 X31:2 145.2 with TI-131 {word}")
    assert found.measurement.condition == (Applied("TI-131", "off"),)


@pytest.mark.parametrize(("tag", "card"), [("TT-131", "TI-131"), ("TE-140", "TI-140")])
def test_one_channel_is_taken_off_and_not_the_card(tag: str, card: str) -> None:
    """A card has eight channels, a trip among them (common practice, no source)."""
    action = action_of(engine(tag).loop, card, "off")
    assert action.title == "wires of the channel lifted off the card"
    assert action.interrupts and "open loop" in action.cautions


def test_ohms_of_a_live_card_are_refused() -> None:
    with pytest.raises(ReadingError, match="with supply off"):
        read("TT-131", "ohm X31:1 X31:2 145.2")


def test_ohms_between_all_three_leads_are_offered() -> None:
    off = (Applied("TI-131", "off"),)
    offered = {c.measurement for c in engine("TT-131").candidates}
    for pair in (("X31:1", "X31:2"), ("X31:1", "X31:3"), ("X31:2", "X31:3")):
        assert Measurement("ohm", pair, off) in offered


# --- sensitivities ----------------------------------------------------------------------------


@pytest.mark.parametrize("tag", ["TT-131", "TT-132", "TT-133", "TE-140"])
def test_sensitivities_of_a_bent_display(tag: str) -> None:
    """Derivatives by the adjoint rule and through the bend, against differences of the circuit."""
    known = engine(tag)
    display = Measurement("shows", (tag.replace("TT", "TI").replace("TE", "TI"),))
    observer, machine = known.observer, known.machine
    process, still = np.array([0.3]), np.ones((1, len(observer.spreads)), bool)
    columns = machine.columns({}, process)
    seen = observer.see(display, observer.base(columns, 1, ()), process, still)
    checked = 0
    for n, spread in enumerate(observer.spreads):
        step = 1e-3 * spread.sd
        moved = list(columns)
        moved[spread.number] = columns[spread.number] + step
        there = observer.level(display, observer.base(moved, 1, ()), process)
        slope = float(there[0] - seen.level[0]) / step * spread.sd
        assert float(seen.slope[0, n]) == pytest.approx(slope, rel=1e-3, abs=1e-8)
        checked += abs(slope) > 1e-6
    assert checked >= 2


def test_a_warm_cabinet_is_no_fault() -> None:
    """The millivolts fall, the display stays: the sensor at the terminals makes up for it."""
    found = rank("TE-140", "V X40:+ X40:- 19.40 mV", "TI-140 500 degC", "XT40 31 degC")
    assert found.hypotheses[0].part is None


# --- conclusions ------------------------------------------------------------------------------

AT_500 = ("TG-140 500 degC", "TH-140 60 degC", "XT40 25 degC")


def test_extension_reversed_at_both_ends() -> None:
    """The head reads as it should, 18.2 mV; the card reads twice the difference too little."""
    found = rank(
        "TE-140", *AT_500, "V X40:+ X40:- 16.8 mV", "V TE-140:+ TE-140:- 18.2 mV", "TI-140 432 degC"
    )
    assert chance(found, [("W40", "reversed"), ("W40", "wrong type")]) > 0.8
    assert chance(found, [("W40", "reversed")]) > chance(found, [("W40", "wrong type")])


def test_copper_cable() -> None:
    """No millivolts are added on the way from the head to the card."""
    found = rank(
        "TE-140", *AT_500, "V X40:+ X40:- 18.2 mV", "V TE-140:+ TE-140:- 18.2 mV", "TI-140 466 degC"
    )
    assert chance(found, [("W40", "copper"), ("W40", "wrong type")]) > 0.7


def test_cold_junction() -> None:
    """Right millivolts, wrong display: the card or its sensor."""
    found = rank("TE-140", *AT_500, "V X40:+ X40:- 19.6 mV", "TI-140 530 degC")
    card = [("XT40", "sensor wrong"), ("TI-140", "scaling"), ("TI-140", "set for another type")]
    assert chance(found, [*card, ("TI-140", "frozen")]) > 0.9
    assert chance(found, [("XT40", "sensor wrong")]) > 0.2


def test_burnt_out() -> None:
    found = rank("TE-140", "TI-140 660 degC", "complaint reads high", "V X40:+ X40:- 100 mV")
    opens = [(r.part, r.fault) for r in found.hypotheses if r.fault in ("open", "high resistance")]
    assert chance(found, opens) > 0.95
    assert chance(found, [("TE-140", "open")]) > 0.3


def test_swapped_at_the_card_and_not_in_the_head() -> None:
    found = rank("TE-140", "V X40:+ X40:- -11.2 mV", "V TE-140:+ TE-140:- 9.8 mV", *AT_500[1:])
    assert chance(found, [("X40", "reversed")]) > 0.9


def test_ohms_find_the_open_lead_of_a_resistance_thermometer() -> None:
    """A-B open, B-C whole: the element or lead A; A-B whole, B-C open: lead C."""
    single = rank(
        "TT-131", "TI-131 220 degC", "ohm X31:1 X31:2 OL with TI-131 off",
        "ohm X31:2 X31:3 5.6 with TI-131 off",
    )  # fmt: skip
    a_side = [("TE-131", "open")]
    a_side += [(f"W31A{end}", "open") for end in ("", ".TE-131", ".X31")]
    assert chance(single, a_side) > 0.9
    paired = rank(
        "TT-131", "TI-131 113 degC", "ohm X31:1 X31:2 144 with TI-131 off",
        "ohm X31:2 X31:3 OL with TI-131 off",
    )  # fmt: skip
    c_side = [(f"W31C{end}", "open") for end in ("", ".TE-131", ".X31")]
    assert chance(paired, [*c_side, ("TE-131.BC", "open")]) > 0.9


def test_wet_head() -> None:
    """Ohms below the table for what the gauge says, and rain."""
    found = rank(
        "TT-131", "context rain", "complaint reads low", "TG-131 100 degC", "TI-131 80 degC",
        "ohm X31:1 X31:2 136.5 with TI-131 off", "ohm X31:2 X31:3 5.6 with TI-131 off",
    )  # fmt: skip
    wet = [(part, "leakage") for part in ("I.TE-131", "I.AB", "I.AC", "E.TE-131", "E.A")]
    assert chance(found, wet) > 0.5


def test_a_sound_loop_is_called_sound() -> None:
    lines = ("V TI-131:A TI-131:B 138.5 mV", "TI-131 100 degC", "TG-131 100 degC")
    assert rank("TT-131", *lines).hypotheses[0].part is None


# --- proof ------------------------------------------------------------------------------------


def test_a_resistance_box_proves_five_points() -> None:
    """IEC 60751: 100.00, 119.40, 138.51, 157.33 and 175.86 ohm at 0, 50, 100, 150 and 200 degC."""
    proof = rank("TT-131", "TI-131 100 degC").proof
    said = [item.text.removeprefix("TI-131 with TE-131 replaced ") for item in proof]
    assert said == ["100 ohm", "119.4 ohm", "138.51 ohm", "157.33 ohm", "175.86 ohm"]
    for item, due in zip(proof, (0, 50, 100, 150, 200), strict=True):
        assert item.unit == "degC"
        assert item.low < due < item.high
        assert item.high - item.low < 4


def test_a_calibrator_proves_five_points() -> None:
    proof = rank("TE-140", "TI-140 300 degC").proof
    for item, due in zip(proof, (0, 150, 300, 450, 600), strict=True):
        assert item.text == f"TI-140 with TE-140 replaced {due} degC"
        assert item.low < due < item.high


def test_an_ohmmeter_on_a_pt100_sways_with_the_process() -> None:
    """IEC 60751 by hand: 100 ohm (1 + 3.9083e-3 t - 5.775e-7 t^2) at 80 and 120 of 0 to 200 degC.

    The ohms are volts to the engine: 1.2 V behind 10 kohm, the meter that stands in for any.
    """
    known = engine("TT-131")
    assert known.loop.range == ("degC", 0.0, 200.0)
    ohms = [100 * (1 + 3.9083e-3 * t - 5.775e-7 * t**2) for t in (80.0, 120.0)]
    volts = [1.2 * r / (r + 10e3) for r in ohms]
    (element,) = [
        c.measurement
        for c in known.candidates
        if c.measurement.function == "ohm" and c.measurement.points == ("TE-131:A", "TE-131:B")
    ]
    found = known.atlas.sound.sway(element)
    assert found == pytest.approx((volts[1] - volts[0]) / 0.2, rel=0.01)
