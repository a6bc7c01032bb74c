"""Two faults are thought of where one explains the readings but not the complaint.

Source: Ohm's law on the trade's loop: a supply 10 % low still carries a transmitter at 6 mA, so it
makes nothing read low.  That a blocked tapping does, whatever the supply, is common practice, no
source.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from diagnose.inference.continued import Beside, beside, grown, idle_in
from diagnose.inference.engine import Engine
from diagnose.inference.idle import idle_first
from diagnose.inference.pairs import Search
from diagnose.inference.readings import parse_lines
from diagnose.inference.trial import Trial
from diagnose.loops.plant import open_plant
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
    search = Search(engine().atlas, told.data, engine().priors(()), 0.0)
    assert search.find(belief) == ()
    assert atlas.ground.hypotheses == engine().hypotheses


def test_of_two_faults_the_one_that_does_not_show_goes_first() -> None:
    """A stuck positioner fixes both gauges; what the hand wheel beside it does, nobody sees.

    That a positioner which does not move makes nothing of its signal is common practice, no source.
    """
    loop = open_plant().load("FV-118")
    lines = ("PG1 0.685 with FIC-118 driven 50 %", "PG2 0.624")
    e = Engine(loop)
    told = e.sort(parse_lines(lines, loop))
    misfit = Search(e.atlas, told.data, e.priors(()), 0.0).misfit
    stuck, wheel = (e.hypothesis(key).number for key in (("FV-118", "stuck"), ("HW", "holds back")))
    trial = Trial(np.array([stuck, wheel]), np.array([wheel, stuck]), np.full((2, 3), 0.2))
    trial.z[:, :2] = [[0.06, 0.1], [0.1, 0.06]]
    found = idle_first(misfit, trial)
    assert found.a.tolist() == [wheel, wheel]
    assert found.b.tolist() == [stuck, stuck]
    assert found.z[:, :2].tolist() == [[0.1, 0.06], [0.1, 0.06]]


def test_only_the_one_of_two_that_does_not_show_is_put_first() -> None:
    """By numbers made up for it: fault 1 and 3 move no reading, fault 2 moves one by five standard
    deviations, fault 4 by four.  Where neither shows, or both do, the order is as it was.
    """
    moves = np.array([0.0, 0.0, 5.0, 0.1, 4.0])

    def off(trial: Trial) -> np.ndarray:
        shown = moves[trial.a] * trial.z[:, 0] + moves[trial.b] * trial.z[:, 1]
        return shown[:, None]

    misfit = SimpleNamespace(seen=lambda trial: trial, off=off)
    z = np.tile([0.2, 0.8, 0.5], (5, 1))
    trial = Trial(np.array([2, 1, 1, 3, 2]), np.array([1, 2, 3, 1, 4]), z)
    found = idle_first(misfit, trial)  # type: ignore[arg-type]
    assert found.a.tolist() == [1, 1, 1, 3, 2]
    assert found.b.tolist() == [2, 2, 3, 1, 4]
    assert found.z[:, 0].tolist() == [0.8, 0.2, 0.2, 0.2, 0.2]
    assert found.z[:, 1].tolist() == [0.2, 0.8, 0.8, 0.8, 0.8]


def test_faults_that_do_not_show_count_together() -> None:
    """Bayes' rule by hand: a second fault takes nothing off where it leaves the readings alone.

    Beside fault 1 stand four others, each pair with a prior of 2 % of that of fault 1: fault 2
    leaves the readings as they are at all of its severities, fault 3 at three of five, fault 4 at
    none, and fault 5 is weighed by itself.
    """
    alone, spoilt = 1.5, 1.5 + 2e3
    squares = np.full((4, 5, 4), spoilt)
    squares[0], squares[1, :3], squares[3] = alone, alone, alone
    one = Beside(1, 0.5, 0.5, np.array([2, 3, 4, 5]), squares, alone)
    faults = np.array([False, True, True, True, True, True])
    together = np.full((1, 6), 0.02)
    pairs = Trial(np.array([1, 1, 3, 4, 2]), np.array([2, 3, 1, 1, 3]), np.zeros((5, 3)))
    assert idle_in([one], pairs).tolist() == [True, True, True, False, False]
    more = np.expm1(grown([one], faults, together, {frozenset((1, 5))}))
    assert more[1] == pytest.approx(0.02 * (1 + 3 / 5))
    # what does not lead has as much beside it, all four of them; the sound loop has nothing
    assert more[2:] == pytest.approx(0.02 * (1 + 3 / 5 + 1))
    assert more[0] == 0


def test_what_makes_readings_fit_better_takes_no_more_off_than_nothing() -> None:
    """A share is one at most: a second fault that helps at two of five severities is unseen there,
    and leaves half of the likelihood, exp(-ln 2), at the others.
    """
    squares = np.full((1, 5, 4), 3.0 + 2 * np.log(2))
    squares[0, :2] = 1.0
    one = Beside(1, 0.5, 0.5, np.array([2]), squares, 3.0)
    assert one.unseen() == pytest.approx([(2 * 1 + 3 * 0.5) / 5])


def test_a_second_fault_is_one_of_another_part() -> None:
    """A supply that is dead is not low as well."""
    told = engine().sort(parse_lines(["V X21:4 X21:5 2.0"], engine().loop))
    misfit = Search(engine().atlas, told.data, engine().priors(()), 0.0).misfit
    supply = engine().hypothesis(G1)
    found = beside(misfit, engine().hypotheses, supply.number, 0.5, 0.5).others.tolist()
    faults = {h.number for h in engine().hypotheses if h.mode is not None}
    same = {h.number for h in engine().hypotheses if h.part == "G1"}
    assert len(same) >= 3
    assert found == sorted(faults - same)


def test_what_does_not_show_is_told_apart_from_what_is_alone() -> None:
    """Two readings that no single fault explains: every probability still adds up to one."""
    told = engine().sort(parse_lines(["V X21:4 X21:5 2.0", "LIC-214 80 %"], engine().loop))
    belief, _ = engine().believe(told)
    assert belief.probability.sum() + belief.unmodelled == pytest.approx(1.0, abs=1e-6)
    assert 0 < belief.unseen.sum() < 0.06
    assert (belief.unseen <= 0.06 * belief.probability[: len(belief.unseen)]).all()
