"""Why an explanation stands where it stands.

Sources: the rules of probability (weights of evidence add up in log odds: I. J. Good, "Probability
and the Weighing of Evidence", 1950, from memory); one current runs through a series loop
(Kirchhoff), 9.45 mA x 250 ohm = 2.36 V (Ohm).
"""

from __future__ import annotations

from functools import cache
from math import log2
from pathlib import Path

import pytest

from diagnose.errors import UnknownNameError
from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_line
from diagnose.inference.reasons import Reasons, reasons
from diagnose.loops.plant import open_plant
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).resolve().parents[1] / "sheets" / "b3.toml"
LEAK = ("complaint reads low", "V d n 2.361", "clamp TX 12.00", "mA LK2 9.45")


@cache
def engine() -> Engine:
    return Engine(load_sheet(SHEET))


@cache
def why(part: str | None, fault: str) -> Reasons:
    return reasons(engine(), [parse_line(line, engine().loop) for line in LEAK], (part, fault))


@pytest.mark.parametrize("key", [("E.W1-", "leakage"), ("R1", "drift"), (None, "none")])
def test_bits_add_up_from_prior_to_posterior(key: tuple[str | None, str]) -> None:
    found = why(*key)
    told = engine().rank([parse_line(line, engine().loop) for line in LEAK])
    chance = next(r.probability for r in told.hypotheses if (r.part, r.fault) == key and not r.also)
    prior = next(h.prior for h in engine().hypotheses if h.key == key)
    assert found.probability == pytest.approx(chance)
    assert found.prior == pytest.approx(log2(prior / (1 - prior)), abs=5e-3)
    assert found.prior + sum(f.bits for f in found.facts) == pytest.approx(found.posterior)
    if 1e-9 < chance < 1 - 1e-9:
        assert found.posterior == pytest.approx(log2(chance / (1 - chance)), abs=1e-6)


def test_the_current_in_the_minus_leg_speaks_for_the_leak_and_against_the_resistor() -> None:
    leak, drift = why("E.W1-", "leakage"), why("R1", "drift")
    assert leak.facts[3].bits > 2
    assert leak.facts[3].alone > 2
    assert drift.facts[3].bits < -5
    low, high, unit = drift.facts[3].expected or (0.0, 0.0, "")
    assert unit == "A"
    assert 11.7e-3 < low < 12e-3 < high < 12.3e-3  # what the clamp read at the transmitter
    low, high, _ = leak.facts[3].expected or (0.0, 0.0, "")
    assert low < 9.45e-3 < high  # 2.361 V / 250 ohm


def test_a_milliampere_reading_is_explained_whichever_lead_comes_first() -> None:
    """The current of the sound loop, 12 mA, with the formula behind it."""
    loop = engine().loop
    ends = next(c.measurement.points for c in engine().candidates if c.measurement.function == "mA")
    for a, b in (ends, ends[::-1]):
        lines = ("V d n 3.000", "clamp TX 12.00", f"mA {a} {b} 12.00 mA")
        said = [parse_line(line, loop) for line in lines]
        why = reasons(engine(), said, (None, "none")).facts[2].why
        assert why is not None
        assert abs(why.value) == pytest.approx(12e-3, rel=0.02)


@pytest.mark.parametrize("key", [("E.W1-", "leakage"), ("R1", "drift")])
def test_the_three_weightiest_readings_are_explained_by_a_formula(key: tuple[str, str]) -> None:
    """Three of the five that have one, by how far they move the odds either way (a choice of the
    project: a page of formulas is read by nobody).  What somebody else tells of the process, and a
    complaint, have none.
    """
    lines = ("complaint reads low", "V d n 2.361", "clamp TX 12.00", "mA LK2 9.45", "V a n 23.99",
             "process 50 %", "V tp PE 20.15")  # fmt: skip
    said = [parse_line(line, engine().loop) for line in lines]
    facts = reasons(engine(), said, key).facts
    able = [fact for fact in facts if fact.text[0] in "Vmc" and not fact.text.startswith("comp")]
    assert len(able) == 5
    most = sorted(able, key=lambda fact: -abs(fact.bits))[:3]
    assert {fact.index for fact in facts if fact.why} == {fact.index for fact in most}


def test_a_fact_alone_is_weighed_with_all_others_known() -> None:
    """Two readings of the same volts: each moves little once the other is known, and the first of
    them much when it was taken (Bayes' rule: what is known already tells nothing).
    """
    lines = ("V d n 3.000", "V d n 3.000")
    said = [parse_line(line, engine().loop) for line in lines]
    first, second = reasons(engine(), said, ("R1", "short")).facts
    assert first.bits < -3
    assert abs(second.bits) < abs(first.bits)
    assert first.alone == pytest.approx(second.alone, abs=1e-6)
    assert second.bits == pytest.approx(second.alone, abs=1e-6)  # it came last


def test_a_sound_loop_would_have_shown_3_volts() -> None:
    """12.00 mA x 250 ohm, told by the formula; the complaint predicts no reading."""
    sound = why(None, "none")
    assert sound.facts[0].expected is None
    assert sound.facts[1].why is not None
    assert "R1" in sound.facts[1].why.formula
    assert sound.posterior < -4  # a worthless reading of the clamp is 1 in 100


def test_an_unknown_fault_is_one_line() -> None:
    with pytest.raises(UnknownNameError, match="no fault called 'R1:melted'"):
        reasons(engine(), [], ("R1", "melted"))


def test_the_formula_gives_what_is_predicted_where_leak_and_level_are_tied() -> None:
    """The current in the 250 ohm is what its volts say, however the leak and the level share it.

    The formula stood beside that curve: 3.841 V where 3.876 to 3.913 V were predicted.
    """
    loop = open_plant().load("LIC-214")
    said = ("complaint erratic", "LI-214 72.5 %", "LI-214A 72.0 %", "V X21:3 X20:0 19.43",
            "V X21:5 X20:0 3.905", "V X21:7 X20:0 3.886")  # fmt: skip
    found = reasons(Engine(loop), [parse_line(line, loop) for line in said], ("I.W4", "leakage"))
    checked = [fact for fact in found.facts if fact.why and fact.expected]
    assert len(checked) >= 2
    for fact in checked:
        low, high, unit = fact.expected or (0.0, 0.0, "")
        assert unit == "V"
        assert low <= (fact.why.value if fact.why else 0.0) <= high
