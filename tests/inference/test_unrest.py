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
from diagnose.inference.moving import UNREST
from diagnose.inference.unrest import RESTLESS, restless
from reference_loop import believed, engine

SWINGING = ("U1 50 %", "U1 57 %", "U1 48 %", "U1 44 %", "U1 52 %")


@pytest.mark.parametrize("apart", [0.04, 0.06, 0.10])
def test_two_looks_at_one_display_by_hand(apart: float) -> None:
    shows = engine().loop.part("U1").kind.shows
    assert shows is not None
    # resolution of the display and rounding of what is typed (a whole percent), both rectangular
    own = sqrt((shows.resolution**2 + 0.005**2) / 3)
    calm = norm.pdf(apart, scale=sqrt(2) * sqrt(own**2 + engine().loop.drift ** 2))
    rough = norm.pdf(apart, scale=sqrt(2) * sqrt(own**2 + UNREST**2))
    doubt = WORTHLESS["shows"]
    right, worthless = (1 - doubt) ** 2, 2 * doubt * (1 - doubt) * BROAD["shows"]
    # the process is uniform over the range in 96 of 100 calls; the unmodelled shows anything twice
    modelled, strange = 0.98 * 0.96, 0.02 * BROAD["shows"] ** 2
    assert engine().loop.shares.unmodelled == 0.02
    odds = RESTLESS / (1 - RESTLESS)
    odds *= modelled * (right * rough + worthless) + strange
    odds /= modelled * (right * calm + worthless) + strange
    belief = believed("U1 50 %", f"U1 {50 + 100 * apart:g} %")
    assert belief.restless == pytest.approx(odds / (1 + odds), abs=0.02)


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
