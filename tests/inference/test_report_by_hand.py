"""What a repair is proved by, what is worth repairing and what is not tested, worked out on paper.

A limit of error is a rectangular distribution, hence the root of three (JCGM 100:2008, 4.3.7); a
proof reading may lie three standard deviations off (assumption).  Tolerances are those of the sheet
of LT-214: 250 ohm and the transmitter to 0.1 % each, four receivers of 1 Mohm on the bus, 2 mV of
stray volts; the meter has 0.1 % and 2 counts of 1 mV.
"""

from __future__ import annotations

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
