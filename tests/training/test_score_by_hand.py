"""The points of a score, and what a step does to a plant, worked on paper from the printed rule.

The rule (`diagnose.training.score.RULE`) promises: 30 less for a trip, 15 for an upset, 20 for a
step with something unsafe; 2 of 5 points for a step that opens the loop, 1 for one that moves its
signal; time in full up to half of the limit, none at the limit; care by the share arranged.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import pytest

from diagnose.inference.ranking import Ranked, Ranking
from diagnose.training.commands import do
from diagnose.training.drill import Drill
from diagnose.training.lookout import Keys, Look
from diagnose.training.path import Passed, path_of
from diagnose.training.safety import Effect, effects
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
    borne_out,
    information,
    known,
    narrowed,
    reached,
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


TRUE, BESIDE, OTHER = ("R1", "drift"), ("R1", "open"), ("G1", "sagging")


def seen(*chances: tuple[Keys, float]) -> Look:
    """What is known at one moment, each explanation a group of its own."""
    ranked = tuple(
        Ranked(*keys[0], "", "", chance, number, also=keys[1:])  # type: ignore[arg-type]
        for number, (keys, chance) in enumerate(chances, start=1)
    )
    return Look((), "", Ranking("LT-214", ranked, (), 0.0, 0.0, (), (), False), None, None, 0.0)


def judged(verdict: tuple[str | None, str], end: Look, before: Look | None = None) -> Score:
    """The score of a sound day's work on a resistor that drifts, for what is known at the end."""
    d = drill(faults=("R1:drift",))
    d.verdict = (verdict,)
    step = replace(do(d, "V X21:7 X20:0"), needed=(), missing=(), effects=(), mistakes=())
    d.steps[:], d.clock = [step], 0.0
    return score_of(d, [Passed(step, before or end, end)], end)


@pytest.mark.parametrize(
    ("chance", "counts"), [(0.9, 1.0), (0.34, 1.0), (0.25, 0.75), (1 / 6, 0.5), (0.0, 0.0)]
)
def test_a_guess_counts_in_proportion_to_what_the_readings_had_put_on_it(
    chance: float, counts: float
) -> None:
    """In full from one in three on; at one in six half of all that the verdict carries: 45 points
    for itself, 10 for time, 5 for calm, 10 for care, 10 for putting back.
    """
    score = judged(TRUE, seen(((TRUE,), chance), ((OTHER,), 1 - chance)))
    found = score.verdict, score.time, score.calm, score.care, score.restored
    assert found == pytest.approx([counts * points for points in (45, 10, 5, 10, 10)])


@pytest.mark.parametrize(
    ("verdict", "points", "carried"),
    [(TRUE, 45, 1), (BESIDE, 9, 1 / 3), (OTHER, 0, 0), ((None, "none"), 0, 0)],
)
def test_a_wrong_name_carries_no_more_than_its_share(
    verdict: tuple[str | None, str], points: float, carried: float
) -> None:
    """The right part in another group is two tenths of 45, and a third of the six tenths from which
    the rest counts in full: of 5 points for a calm plant, 5 / 3.
    """
    even = seen(*(((key,), 0.4) for key in (verdict, TRUE)[: 2 - (verdict == TRUE)]))
    score = judged(verdict, even)
    assert score.verdict == pytest.approx(points)
    assert score.calm == pytest.approx(5 * carried)
    assert score.restored == pytest.approx(10 * carried)


@pytest.mark.parametrize(
    ("before", "after", "share"),
    [(1 / 16, 1.0, 1.0), (1 / 16, 1 / 4, 0.5), (1 / 16, 1 / 16, 0.0), (1 / 16, 1 / 64, 0.0)],
)
def test_who_gives_up_is_paid_for_the_bits_that_were_won(
    before: float, after: float, share: float
) -> None:
    """From one in sixteen four bits are missing; one in four has won two of them, a half.

    Four tenths of 45 points are 18, and never more than that; six tenths carry the rest.
    """
    looks = [seen(((TRUE,), at), ((OTHER,), 1 - at)) for at in (after, before)]
    score = judged((None, "not found"), *looks)
    assert score.narrowed == pytest.approx(share)
    assert score.verdict == pytest.approx(18 * share)
    assert score.calm == pytest.approx(5 * share * 0.4 / 0.6)


def test_a_fault_counts_as_found_alone_or_as_one_of_two() -> None:
    """1/16 before; 1/8 by itself and 1/8 beside another are 1/4: two of four bits."""
    before = seen(((TRUE,), 1 / 16), ((OTHER,), 15 / 16))
    after = seen(((TRUE,), 1 / 8), ((OTHER, TRUE), 1 / 8), ((OTHER,), 3 / 4))
    assert judged((None, "not found"), after, before).narrowed == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("arranged", "sorts"), [((), ["upset", "moved"]), (("isolate",), ["moved"])]
)
def test_a_final_element_that_is_not_blocked_in_moves(
    arranged: tuple[str, ...], sorts: list[str]
) -> None:
    """The output of a controller to a valve, from 50 to 80 %: common practice, no source."""
    loop = replace(engine().loop, role=("output",))
    before = {"LIC-214": 0.50}
    found = [*effects(loop, before, {"LIC-214": 0.80}, arranged, before)]
    assert [effect.sort for effect in found] == sorts
    assert found[-1].text == "LIC-214 goes to 80 %."


@pytest.mark.parametrize(
    ("role", "arranged", "sorts"),
    [(("trip",), (), ["trip", "moved"]), (("trip",), ("bypass",), ["moved"]),
     (("control",), (), ["upset", "moved"]), (("control",), ("manual",), ["moved"]),
     (("control",), ("bypass",), ["upset", "moved"]), ((), (), ["moved"])],
)  # fmt: skip
def test_each_role_of_a_lost_signal_asks_for_its_own_arrangement(
    role: tuple[str, ...], arranged: tuple[str, ...], sorts: list[str]
) -> None:
    """-5 % is 3.2 mA, below the 3.6 mA to which a signal is live (NAMUR NE 43, from memory)."""
    loop = replace(engine().loop, role=role)
    before = {"LIC-214": 0.0}
    lost = [e.sort for e in effects(loop, before, {"LIC-214": -0.05}, arranged, before)]
    assert lost == sorts


@pytest.mark.parametrize(("level", "lost"), [(-0.02, False), (-0.03, True), (1.06, False)])
def test_a_trip_takes_a_signal_for_lost_beyond_3_6_and_21_ma(level: float, lost: bool) -> None:
    """3.6 mA is -2.5 % and 21 mA 106.25 % of a range of 4 to 20 mA."""
    loop = replace(engine().loop, role=("trip",))
    before = {"LIC-214": 0.50}
    found = [e.sort for e in effects(loop, before, {"LIC-214": level}, (), before)]
    assert ("trip" in found) is lost


def taken(share: float, bits: float | None, *mistakes: str) -> Passed:
    """A step that was worth ``share`` of the best one, from which ``bits`` could be learnt."""
    best = None if bits is None else SimpleNamespace(gain_bits=bits)
    before = replace(seen(), share=share, best=best)  # type: ignore[arg-type]
    step = replace(do(drill(), "V X21:7 X20:0"), mistakes=mistakes)
    return Passed(step, before, before)


@pytest.mark.parametrize(
    ("steps", "share"),
    [
        ([], 0.0),
        ([(1.0, 3.0)], 1.0),
        ([(1.0, 3.0), (0.5, 1.0)], 3.5 / 4),
        ([(0.5, 3.0), (1.0, 1.0)], 2.5 / 4),
        ([(1.0, 0.98), (0.0, None)], 0.98),
        ([(1.0, 0.98), (0.0, 0.01)], 0.98),
        ([(1.0, 1.0), (1.0, 1.0, "blown fuse")], 0.5),
        ([(1.0, 1.0), (1.0, 1.0, "no bypass")], 1.0),
    ],
)
def test_information_is_weighed_by_what_could_be_learnt(steps: list[Any], share: float) -> None:
    """(1 x 3 + 0.5 x 1) bits of 4; to idle where nothing can be learnt counts 0.02 bits, and a
    display that means nothing tells nothing.
    """
    assert information([taken(*step) for step in steps]) == pytest.approx(share)


def test_what_was_known_before_is_before_the_first_reading() -> None:
    """One in sixteen, one in four, certain: all four bits, not the last two."""
    d = drill(faults=("R1:drift",))
    looks = [seen(((TRUE,), at), ((OTHER,), 1 - at)) for at in (1 / 16, 1 / 4, 1.0)]
    steps = [Passed(taken(1, 1).step, a, b) for a, b in pairwise(looks)]
    assert narrowed(d, steps, looks[-1]) == pytest.approx(1.0)
    assert narrowed(d, steps[1:], looks[1]) == 0.0
    assert narrowed(d, steps, looks[1]) == pytest.approx(0.5)
    assert narrowed(d, [], looks[-1]) == 0.0


def test_of_two_hidden_faults_each_counts_half() -> None:
    """One is found for certain, and of the other nothing is known."""
    d = drill(faults=("R1:drift", "G1:sagging"))
    before = seen(((TRUE,), 1 / 16), ((OTHER,), 1 / 16), ((BESIDE,), 7 / 8))
    after = seen(((TRUE,), 1 - 1 / 16), ((TRUE, OTHER), 1 / 16))
    assert narrowed(d, [Passed(taken(1, 1).step, before, after)], after) == pytest.approx(0.5)


def test_what_comes_and_goes_is_no_guess_once_the_readings_led_there() -> None:
    """Its readings gainsay each other: what they said when they led there most is the measure."""
    before, led, end = (seen(((TRUE,), at), ((OTHER,), 1 - at)) for at in (1 / 16, 1 / 4, 0.01))
    steps = [Passed(taken(1, 1).step, a, b) for a, b in ((before, led), (led, end))]
    steady, loose = (drill(faults=("R1:drift",), intermittent=way) for way in (False, True))
    for d in (steady, loose):
        d.verdict = (TRUE,)
    assert known(steady, end) == pytest.approx(0.01)
    assert borne_out(steady, steps, end) == pytest.approx(0.03)
    assert reached(loose, steps, end) == pytest.approx(0.5)  # two of four bits
    assert borne_out(loose, steps, end) == 1.0
    assert borne_out(loose, [], end) == 0.0  # nothing was read at all


def test_a_second_name_makes_no_knowledge_of_a_guess() -> None:
    """One fault is there: that either of two is has the chances of both, 1 in 100 and 3 in 100."""
    d = drill(faults=("R1:drift",))
    end = seen(((TRUE,), 0.01), ((OTHER,), 0.02), ((BESIDE, OTHER), 0.01), ((BESIDE,), 0.96))
    steps = [Passed(taken(1, 1).step, end, end)]
    d.verdict = (TRUE, OTHER)
    assert known(d, end) == pytest.approx(0.04)
    assert borne_out(d, steps, end) == pytest.approx(0.12)


def test_who_heard_the_answer_and_reads_nothing_does_not_pass() -> None:
    """Two faults, both named right, and no reading: knowing is no skill."""
    d = drill(faults=("R1:drift=310", "G1:sagging"), complaint="reads high")
    for line in ("verdict R1 drift and G1 sagging", "close"):
        do(d, line)
    assert score_of(d).right == 1
    assert score_of(d).total == 0


def test_a_display_read_while_the_loop_stands_driven_costs_no_second_drive() -> None:
    """Two glances with the same drive: the second is told by radio and costs its own minute."""
    d = drill(faults=("I.W3:leakage=10k",), complaint="reads high", seed=3)
    for word in ("operator", "bypass", "manual", "permit", "LT-214"):
        do(d, word)
    do(d, "V X21:7 X20:0 with LT-214 driven 12 mA")
    passed, _ = path_of(do_all(d, "LI-214"))
    first, second = passed[-2].step, passed[-1].step
    assert first.measurement and first.new == first.measurement.condition != ()
    assert second.measurement and second.measurement.condition and second.new == ()
    at = second.evidence, first.place, second.measurement, second.place
    whole, own = (d.lookout.look(*at, new).share for new in (None, second.new))
    assert own > 2 * whole > 0


def do_all(d: Drill, *lines: str) -> Drill:
    for line in lines:
        do(d, line)
    return d


@pytest.mark.parametrize(
    ("steps", "grave", "calm"),
    [
        ([{}], 0, 5), ([{"interrupts": True, "disturbs": True}], 0, 3),
        ([{"interrupts": True}, {"disturbs": True}, {}], 0, 2),
        ([{"interrupts": True}] * 3, 0, 0),
        ([{"effects": (Effect("trip", ""),)}], 1, 5),
        ([{"effects": (Effect("upset", ""), Effect("moved", ""))}], 0, 5),
        ([{"effects": (Effect("trip", ""),), "mistakes": ("no bypass",)}], 1, 5),
        ([{"mistakes": ("short",)}, {"effects": (Effect("trip", ""),)}], 2, 5),
        ([{"mistakes": ("wrong jack",)}], 0, 5),
    ],
)  # fmt: skip
def test_what_is_grave_and_what_is_not_calm(
    steps: list[dict[str, Any]], grave: int, calm: float
) -> None:
    """A step that is unsafe and trips the plant is one grave step; one that trips it with nothing
    left out is one as well.  Of 5 points for calm two are lost for each that opens the loop.
    """
    d, end = drill(faults=("R1:drift",)), seen(((TRUE,), 1.0))
    bare = {"needed": (), "missing": (), "effects": (), "mistakes": ()}
    one = replace(do(d, "V X21:7 X20:0"), **bare)
    d.steps[:] = [replace(one, **told) for told in steps]
    d.verdict = (TRUE,)
    score = score_of(d, [], end)
    assert (score.grave, score.calm) == (grave, calm)


def test_what_was_asked_costs_its_points() -> None:
    d, end = drill(faults=("R1:drift",)), seen(((TRUE,), 1.0))
    one = do(d, "V X21:7 X20:0")
    d.steps[:], d.verdict = [replace(one, points=points) for points in (3.0, 0.0, 4.0)], (TRUE,)
    score = score_of(d, [], end)
    assert score.asked == 7
    assert score.total == pytest.approx(replace(score, asked=0.0).total - 7)
