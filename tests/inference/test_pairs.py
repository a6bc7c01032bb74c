"""Two faults are thought of where one explains the readings but not the complaint.

Source: Ohm's law on the trade's loop: a supply 10 % low still carries a transmitter at 6 mA, so it
makes nothing read low.  That a blocked tapping does, whatever the supply, is common practice, no
source.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from diagnose.inference.engine import Engine
from diagnose.inference.pairs import Search
from diagnose.inference.readings import parse_lines
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets" / "LT-214.toml"
AMPERES, SUPPLY = 6.18e-3, 21.5
LOW_SUPPLY = (
    f"V X21:5 PE {250 * AMPERES:.3f}",
    f"V X21:4 PE {SUPPLY - 301 * AMPERES:.2f}",
    f"clamp W3- {AMPERES * 1e3:.2f}",
    f"V X21:1 X21:3 {301 * AMPERES:.3f}",
    f"V G1:+ X20:0 {SUPPLY:.2f}",
    "V X20:0 G1:- 0.0000",
)
T1, G1 = ("T1", "blocked"), ("G1", "low")


@cache
def engine() -> Engine:
    return Engine(load_sheet(SHEET))


def chances(*lines: str) -> dict[frozenset[tuple[str | None, str]], float]:
    """Probability of each explanation, by the faults that it names."""
    ranking = engine().rank(parse_lines(lines, engine().loop))
    return {frozenset([(h.part, h.fault), *h.also]): h.probability for h in ranking.hypotheses}


def test_the_low_supply_leaves_the_transmitter_enough() -> None:
    lift_off = engine().loop.part("LT-214").values["lift_off"]
    assert lift_off + 5 < SUPPLY - (301 + 250 + 10) * AMPERES


def test_without_a_complaint_the_low_supply_is_all() -> None:
    found = chances(*LOW_SUPPLY)
    assert found[frozenset([G1])] > 0.5
    assert found.get(frozenset([G1, T1]), 0.0) < 0.02


def test_with_one_it_is_not_enough() -> None:
    found = chances("complaint reads low", *LOW_SUPPLY)
    assert found[frozenset([G1, T1])] > 0.3
    assert found[frozenset([G1])] < 0.5


def test_the_gauge_beside_it_then_tells_of_the_tapping() -> None:
    found = chances("complaint reads low", *LOW_SUPPLY, "LG-214 90 %")
    tapping = [p for faults, p in found.items() if len(faults) == 2 and "T1" in dict(faults)]
    assert sum(tapping) > 0.85


def test_lamps_alone_are_no_cause_to_look_for_two() -> None:
    told = engine().sort(parse_lines(["LAHH-214 dark", "LAHH-214 lit"], engine().loop))
    belief, atlas = engine().believe(told)
    search = Search(engine().atlas, told.data, engine().priors(()), engine().loop.drift)
    assert search.find(belief) == ()
    assert atlas.ground.hypotheses == engine().hypotheses
