"""A process that does not hold still is told from a display that is wrong.

Sources: Bayes' rule by hand over the ways in which two looks at one display can differ (noise of a
steady process, a restless process, one look worthless, nothing modelled), the normal density after
scipy; that a level swings by some percent while it is read is common practice, no source.
"""

from __future__ import annotations

from math import log, sqrt

import pytest
from scipy.stats import norm

from diagnose.inference.data import BROAD, WORTHLESS
from diagnose.inference.measurement import Reading
from diagnose.inference.moving import UNREST
from diagnose.inference.readings import parse_lines
from diagnose.inference.unrest import RESTLESS, restless
from judge.posterior import drawn_posterior
from reference_loop import believed, engine, stands_still

SWINGING = ("U1 50 %", "U1 57 %", "U1 48 %", "U1 44 %", "U1 52 %")


@pytest.mark.parametrize("apart", [0.04, 0.06, 0.10])
def test_two_looks_at_one_display_by_hand(apart: float) -> None:
    shows = engine().loop.part("U1").kind.shows
    assert shows is not None
    # resolution of the display and rounding of what is typed (a whole percent), both rectangular
    own = sqrt((shows.resolution**2 + 0.005**2) / 3)
    calm = norm.pdf(apart, scale=sqrt(2) * sqrt(own**2 + engine().loop.drift ** 2))
    rough = norm.pdf(apart, scale=sqrt(2) * sqrt(own**2 + UNREST**2))
    held, still = stands_still("U1 50 %"), norm.pdf(apart, scale=sqrt(2) * own)
    calm, rough = ((1 - held) * way + held * still for way in (calm, rough))
    doubt = WORTHLESS["shows"]
    right, worthless = (1 - doubt) ** 2, 2 * doubt * (1 - doubt) * BROAD["shows"]
    # the process is uniform over the range in 96 of 100 calls; the unmodelled shows anything twice
    modelled, strange = 0.98 * 0.96, 0.02 * BROAD["shows"] ** 2
    assert engine().loop.shares.unmodelled == 0.02
    odds = RESTLESS / (1 - RESTLESS)
    odds *= modelled * (right * rough + worthless) + strange
    odds /= modelled * (right * calm + worthless) + strange
    belief = believed("U1 50 %", f"U1 {50 + 100 * apart:g} %")
    # what follows the process by less than it moves lies between
    assert belief.restless == pytest.approx(odds / (1 + odds), abs=0.04)


def test_what_is_cut_off_from_the_process_does_not_swing() -> None:
    number = engine().hypothesis(("T1", "blocked")).number
    assert believed("U1 50 %").probability[number] > 0.2
    assert believed(*SWINGING).probability[number] < 1e-6


@pytest.mark.parametrize("lines", [SWINGING[:3], ("U1 62 %", "U2 54 %", "V d n 2.9")])
def test_the_judge_says_the_same(lines: tuple[str, ...]) -> None:
    """Draws through the whole circuit, each reading swaying as it does under the fault drawn."""
    readings = [item for item in parse_lines(lines, engine().loop) if isinstance(item, Reading)]
    drawn, belief = drawn_posterior(engine().loop, readings), believed(*lines)
    assert belief.drift == UNREST
    for h in engine().hypotheses:
        due = drawn.probabilities[h.part, h.mode.name if h.mode else "none"]
        assert belief.probability[h.number] == pytest.approx(due, abs=0.02)


def test_what_swings_is_the_process_and_no_look_is_distrusted() -> None:
    belief = believed(*SWINGING)
    assert belief.restless > 0.95
    assert belief.drift == UNREST
    assert belief.suspect.max() < 0.05


def test_what_holds_still_is_not_restless() -> None:
    belief = believed("U1 50 %", "U2 50 %", "U1 50 %", "V d n 3.0")
    assert belief.restless < RESTLESS
    assert belief.drift == engine().loop.drift


def test_one_look_far_off_is_distrusted_and_the_process_is_not() -> None:
    belief = believed("U1 50 %", "U2 50 %", "U1 95 %", "U1 50 %", "V d n 3.0")
    assert belief.restless < 0.05
    assert belief.suspect[2] > 0.95


def test_odds_are_those_of_bayes() -> None:
    assert restless(0.0) == pytest.approx(RESTLESS)
    assert restless(log((1 - RESTLESS) / RESTLESS)) == pytest.approx(0.5)
    assert restless(-1e6) == pytest.approx(0.0, abs=1e-9)
