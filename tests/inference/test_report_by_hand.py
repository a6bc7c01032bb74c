"""What a repair is proved by, what is worth repairing and what is not tested, worked out on paper.

A limit of error is a rectangular distribution, hence the root of three (JCGM 100:2008, 4.3.7); a
proof reading may lie three standard deviations off (assumption).  Tolerances are those of the sheet
of LT-214: 250 ohm and the transmitter to 0.1 % each, four receivers of 1 Mohm on the bus, 2 mV of
stray volts; the meter has 0.1 % and 2 counts of 1 mV.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import sqrt
from types import SimpleNamespace

import numpy as np
import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Proof, Ranking
from diagnose.inference.readings import parse_line
from diagnose.inference.report_repair import fault_chances, receivers
from diagnose.loops.plant import open_plant

BUS = 1 / (1 / 250 + 4 / 1e6)
"""The sense resistor with four receivers across it, ohm: 249.75."""


@cache
def engine() -> Engine:
    return Engine(open_plant().load("LT-214"))


@cache
def rank(*lines: str) -> Ranking:
    return engine().rank([parse_line(line, engine().loop) for line in lines])


def limits(proof: Proof) -> tuple[float, float]:
    """The middle of what is due, and how far off it may lie."""
    return (proof.high + proof.low) / 2, (proof.high - proof.low) / 2


def test_volts_of_a_proof_are_ohms_law_within_three_standard_deviations() -> None:
    """At 20 mA 4.995 V +- 16.5 mV: three times 0.1 % of 5 V, 2 counts, and 2 mV of stray volts."""
    driven = (4, 8, 12, 16, 20)
    assert [p.text for p in engine().proof] == [
        f"V X21:7 X20:0 with LT-214 driven {ma} mA" for ma in driven
    ]
    for ma, proof in zip(driven, engine().proof, strict=True):
        due, reach = limits(proof)
        volts = ma * 1e-3 * BUS
        sd = sqrt(3 * (volts * 1e-3) ** 2 / 3 + (2e-3) ** 2 / 3 + (2e-3) ** 2)
        assert due == pytest.approx(volts, abs=3e-4)
        assert reach == pytest.approx(3 * sd, rel=0.01)


def test_each_receiver_is_proved_at_both_ends_by_its_own_accuracy() -> None:
    """0.25 % of range for the controller, 0.5 % for the recorder; 0.1 % of 5 V on a span of 4 V for
    resistor and transmitter.  The lamp of a trip at half range is dark at 4 mA and lit at 20 mA.
    """
    found = {proof.text: proof for proof in receivers(engine())}
    for name, accuracy in (("LIC-214", 0.0025), ("LI-214", 0.0025), ("LR-214", 0.005)):
        for ma in (4, 20):
            proof = found[f"{name} with LT-214 driven {ma} mA"]
            due, reach = limits(proof)
            volts = ma * 1e-3 * BUS
            sd = sqrt(accuracy**2 / 3 + 2 * (volts * 1e-3 / 4) ** 2 / 3)
            assert due == pytest.approx((volts - 1) / 4, abs=1e-4)
            assert reach == pytest.approx(3 * sd, rel=0.01)
            assert proof.unit == "1"
    lamp = [found[f"LAHH-214 with LT-214 driven {ma} mA"] for ma in (4, 20)]
    assert [(proof.low, proof.high, proof.unit) for proof in lamp] == [(0, 0, "lit"), (1, 1, "lit")]
    assert len(found) == 8


@pytest.mark.parametrize(("direction", "volts"), [(1.0, (2.96, 3.04)), (-1.0, (3.04, 2.96))])
def test_a_trip_is_proved_from_its_safe_side_high_or_low(
    direction: float, volts: tuple[float, float]
) -> None:
    """3 V to 20 mV: three standard deviations are 35 mV, rounded away from the trip point to 40.

    The lamp is dark on the safe side; the controller beside it reads a quarter of the volts beyond
    1 V, less 0.05 % for what two inputs of 1 Mohm draw from 250 ohm, to 0.25 % of range.
    """
    loop = open_plant().load("LAHH-214")
    parts = tuple(
        replace(part, values={**part.values, "direction": direction}) if part.name == "K1" else part
        for part in loop.parts
    )
    found = {proof.text: proof for proof in Engine(replace(loop, parts=parts)).proof}
    order = dict.fromkeys(float(text.split()[-2]) for text in found)
    assert tuple(order) == volts
    lamps = [found[f"K1 with B1 fed {fed:g} V"].low for fed in volts]
    assert lamps == [0.0, 1.0]
    for fed in volts:
        due, reach = limits(found[f"LIC-214 with B1 fed {fed:g} V"])
        assert due == pytest.approx((fed * (1 - 0.0005) - 1) / 4, abs=2e-5)
        assert reach == pytest.approx(3 * 0.0025 / sqrt(3), rel=0.01)


def test_the_chance_of_a_fault_is_that_alone_and_as_one_of_two() -> None:
    """Alone 0.3; beside another 0.2 and 0.05: 0.55 in all, and what is beside it has its own."""
    a, b, c = ("R1", "drift"), ("G1", "low"), ("W3+", "open")
    answer = SimpleNamespace(
        hypotheses=[
            SimpleNamespace(number=n, key=key, also=also)
            for n, (key, also) in enumerate([(a, ()), (b, ()), (a, (b,)), (c, (a,))])
        ],
        belief=SimpleNamespace(probability=np.array([0.3, 0.1, 0.2, 0.05])),
    )
    found = fault_chances(answer)  # type: ignore[arg-type]
    assert found == pytest.approx({a: 0.55, b: 0.30, c: 0.05})


def test_what_is_worth_a_repair_is_listed_once_and_nothing_else() -> None:
    """Two per cent make it worth a look (assumption); a repair of a pair is the repair of each."""
    found = rank("complaint reads high", "V X21:7 X20:0 3.406", "LT-214 50 %")
    chance: dict[tuple[str | None, str], float] = {}
    for one in found.hypotheses:
        for key in ((one.part, one.fault), *one.also):
            if key[0] is not None:
                chance[key] = chance.get(key, 0.0) + one.probability
    listed = {(item.part, item.fault): item.probability for item in found.remedy}
    assert len(listed) == len(found.remedy) > 2
    assert listed == pytest.approx({key: p for key, p in chance.items() if p > 0.02})
    assert any(0.005 < p < 0.02 for p in chance.values())


def test_what_the_complaint_tells_nothing_of_is_not_tested_until_a_reading_looks_at_it() -> None:
    """An open wire makes no display read high; nor does a trip.  Volts on the bus clear the wire,
    since there is current, and know nothing of the trip.
    """
    before = rank("complaint reads high").untested
    after = rank("complaint reads high", "V X21:7 X20:0 3.406", "LT-214 50 %").untested
    wire, trip, high = ("W3+", "open"), ("LAHH-214", "stuck on"), ("R1", "open")
    assert {wire, trip} <= {*before}
    assert high not in before
    assert trip in after
    assert wire not in after
    assert rank("V X21:7 X20:0 3.406").untested == ()


# --- a reading that is not trusted ----------------------------------------------------------------

AT_HALF = ("LG-214 50 %", "LIC-214 50.0 %", "LR-214 50 %", "V X21:7 X20:0 2.998")
"""Sight glass, displays and volts of a sound loop at half range: 12 mA, 24 V at the supply."""

FUSE, POINT, LEADS = "meter fuse blown", "decimal point slipped?", "leads swapped?"


@pytest.mark.parametrize(
    ("line", "slip"),
    [
        ("mA X21:4 0.00", FUSE), ("mA X21:4 0.07 mA", FUSE), ("mA X21:4 0.15 mA", ""),
        ("mA X21:4 2.00 mA", ""), ("clamp W3+ 1.20 mA", POINT),
        ("V LR-214:+ LR-214:- 0.300", POINT), ("V G1:+ G1:- 2.40", POINT),
        ("V G1:+ G1:- 2.15", ""), ("V G1:+ G1:- 2.70", ""), ("V G1:- G1:+ -2.40", POINT),
        ("V G1:+ G1:- -24.0", LEADS), ("V G1:- G1:+ 24.0", LEADS), ("V G1:+ G1:- -5", ""),
        ("V G1:+ G1:- 5", ""), ("V LR-214:+ LR-214:- -4.5", ""),
    ],
)  # fmt: skip
def test_a_slip_is_named_where_it_would_explain_the_reading(line: str, slip: str) -> None:
    """24 V are due: 2.40 is a tenth of it within 5 % and 2.15 is not; a minus is a matter of the
    leads where the volts are right but for it.  A meter whose fuse is blown shows nothing but a few
    counts of 10 uA, which is less than 0.1 mA (common practice, no source).
    """
    (found,) = rank(*AT_HALF, line).suspects
    assert (found.index, found.text) == (5, line)
    assert found.reason.startswith(slip) and bool(found.reason) == bool(slip)


def test_what_was_taken_again_since_is_told_by_its_number() -> None:
    """The last one that is trusted, and nothing where the same slip was made twice."""
    good, bad = "V G1:+ G1:- 24.0", "V G1:+ G1:- 2.40"
    assert [(s.index, s.retaken) for s in rank(*AT_HALF, bad).suspects] == [(5, 0)]
    assert [(s.index, s.retaken) for s in rank(*AT_HALF, bad, good).suspects] == [(5, 6)]
    again = rank(*AT_HALF, "V G1:+ G1:- 24.02", bad, good).suspects
    assert [(s.index, s.retaken) for s in again] == [(6, 7)]


# --- what is believed, in short -------------------------------------------------------------------


def test_sound_is_the_loop_without_a_fault_and_what_stands_before_its_first_wire() -> None:
    """A blocked impulse line is no electrical fault; two faults of which one is, are."""
    found = rank(*AT_HALF)
    alone = {(r.part, r.fault): r.probability for r in found.hypotheses if not r.also}
    process = [h.key for h in engine().hypotheses
               if h.mode and h.mode.group == "process connection"]  # fmt: skip
    assert ("T1", "blocked") in process
    assert found.sound == pytest.approx(alone[None, "none"] + sum(alone[key] for key in process))
    assert found.resolved is False or "look at" in found.stop


def test_a_trip_whose_input_is_lost_is_not_sound() -> None:
    """The signal of another loop comes by wire: its want is found with a meter."""
    trip = Engine(open_plant().load("LAHH-214"))
    lines = ("LG-214 50 %", "LIC-214 -10 %", "V X26:1 X26:2 0.000")
    found = trip.rank([parse_line(line, trip.loop) for line in lines])
    lost = sum(r.probability for r in found.hypotheses if r.part == "B1")
    assert lost > 0.5
    assert found.sound < 0.05
