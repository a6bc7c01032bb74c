"""The points of a score, and what a step does to a plant, worked on paper from the printed rule.

The rule (`diagnose.training.score.RULE`) promises: 30 less for a trip, 15 for an upset, 20 for a
step with something unsafe; 2 of 5 points for a step that opens the loop, 1 for one that moves its
signal; time in full up to half of the limit, none at the limit; care by the share arranged.
"""

from __future__ import annotations

import pytest

from diagnose.training.commands import do
from diagnose.training.drill import Drill
from diagnose.training.lookout import Look
from diagnose.training.path import path_of
from diagnose.training.safety import effects
from diagnose.training.score import (
    CALM,
    CARE,
    INFORMATION,
    RESTORED,
    TIME,
    VERDICT,
    Score,
    _care,
    _punctual,
    known,
    score_of,
)
from drill_stand import drill, engine


def scored(drill: Drill) -> tuple[Score, float]:
    """The score, and the share in which what a verdict carries counts."""
    passed, end = path_of(drill)
    score = score_of(drill, passed, end)
    return score, share(drill, score, end)


def share(drill: Drill, score: Score, end: Look) -> float:
    return min(1.0, known(drill, end) * 3) * min(1.0, score.right / 0.6)


def test_what_is_lost_is_lost_each_time() -> None:
    """One step that trips, upsets and is unsafe: 30 + 15 + 20."""
    d = drill()
    for line in ("V X21:7 X20:0", "set W3+.X21 lifted", "restore all", "verdict none", "close"):
        do(d, line)
    score, _ = scored(d)
    assert (score.trips, score.upsets, score.unsafe) == (1, 1, 1)
    assert score.lost == 65


def test_a_step_that_opens_costs_two_points_of_calm_and_one_that_moves_costs_one() -> None:
    arranged = ("operator", "bypass", "manual", "V X21:7 X20:0")
    for line, left in (("set W3+.X21 lifted", 3.0), ("set LT-214 driven 12 mA", 4.0)):
        d = drill()
        for word in (*arranged, line):
            do(d, word)
        opened = [step.interrupts for step in d.steps].count(True)
        moved = sum(step.disturbs and not step.interrupts for step in d.steps)
        assert (opened, moved) == ((1, 0) if left == 3.0 else (0, 1))
        do(d, "verdict none")
        score, earned = scored(d)
        assert score.calm == pytest.approx(left * earned)
        assert earned > 0


@pytest.mark.parametrize(("clock", "points"), [(0, 1), (30, 1), (45, 0.5), (60, 0), (90, 0)])
def test_time_counts_in_full_to_half_of_the_limit(clock: float, points: float) -> None:
    d = drill(minutes=60)
    d.clock = clock
    assert _punctual(d) == pytest.approx(points)


def test_care_is_the_share_that_was_arranged() -> None:
    """A wire lifted in the cabinet of a loop with trip and controller needs three things."""
    d = drill()
    do(d, "operator")
    do(d, "set W3+.X21 lifted")
    assert [len(step.needed) for step in d.steps if step.needed] == [3]
    assert _care(d) == pytest.approx(1 / 3)


def test_a_change_of_less_than_a_controller_acts_on_is_no_upset() -> None:
    """5 % of range moves a controller in automatic; 1 % is within its noise (common practice)."""
    loop = engine().loop
    before = {"LIC-214": 0.50}
    found = [[e.sort for e in effects(loop, before, {"LIC-214": now}, (), before)]
             for now in (0.51, 0.55)]  # fmt: skip
    assert found == [[], ["upset", "moved"]]


def test_a_lamp_that_goes_back_to_what_it_shows_usually_is_no_trip() -> None:
    """To put back what was altered turns the lamp again: the plant has tripped once, not twice."""
    loop = engine().loop
    dark, lit = {"LAHH-214": -1.0}, {"LAHH-214": 1.0}
    assert [e.sort for e in effects(loop, dark, lit, (), dark)][:1] == ["trip"]
    assert not [*effects(loop, lit, dark, (), dark)]


def full(**told: float) -> Score:
    """A score with all points that there are, but for what is said otherwise."""
    points: dict[str, float] = {
        "verdict": VERDICT, "information": INFORMATION, "time": TIME, "calm": CALM, "care": CARE,
        "restored": RESTORED, "lost": 0, "asked": 0, "right": 1, "minutes": 0, "readings": 0,
        "trips": 0, "upsets": 0, "unsafe": 0, "interruptions": 0, "grave": 0,
    }  # fmt: skip
    return Score(**{**points, **told})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("told", "total"),
    [({}, 100), ({"asked": 12}, 88), ({"lost": 65}, 35), ({"lost": 90, "asked": 20}, 0),
     ({"grave": 1}, 30), ({"grave": 2}, 10), ({"grave": 3}, 0), ({"grave": 9}, 0),
     ({"grave": 1, "lost": 80}, 20), ({"restored": 0}, 90)],
)  # fmt: skip
def test_the_whole_is_a_hundred_and_what_is_not_safe_is_capped(
    told: dict[str, float], total: float
) -> None:
    """The rule as it is printed: 30 with one grave step, 10 with two, 0 with more."""
    assert full(**told).total == pytest.approx(total)


def test_what_is_not_put_back_earns_nothing_for_putting_back() -> None:
    d = drill()
    for line in ("operator", "bypass", "manual", "V X21:7 X20:0", "set W3+.X21 lifted"):
        do(d, line)
    left, _ = scored(d)
    do(d, "restore all")
    do(d, "verdict none")
    back, earned = scored(d)
    assert left.restored == 0
    assert back.restored == pytest.approx(RESTORED * earned) and earned > 0
