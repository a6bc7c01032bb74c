"""What is said of a process that moves while it is read, and what becomes of the readings by it.

Sources: Bayes' rule by hand over two looks at one display (noise of the moving process, one look
worthless), the normal density after scipy; that a process swings while it is read, and that it is
held by hand where it can be, is common practice, no source.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from scipy.stats import norm

from diagnose.errors import ReadingError
from diagnose.inference.answer import Answer
from diagnose.inference.data import BROAD, WORTHLESS
from diagnose.inference.doubts import doubts
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import CONTEXTS, Context, contexts_of
from diagnose.inference.moving import MOVING, UNREST, unrest
from diagnose.inference.readings import parse_line, parse_lines
from diagnose.loops.plant import open_plant
from diagnose.training.hiding import hide, scene_of
from diagnose.training.setting import DrillError, Setting
from reference_loop import believed, engine, stands_still


@pytest.mark.parametrize(
    ("line", "fact"),
    [
        ("moving", "moving"),
        ("moving 3 %", "moving 3 %"),
        ("context moving 2,5%", "moving 2.5 %"),
        ("Process moves by about 4 %", "moving 4 %"),
        ("the process does not hold still", "moving"),
        ("it swings +- 6 %", "moving 6 %"),
    ],
)
def test_it_is_said_in_the_words_of_the_trade(line: str, fact: str) -> None:
    found = parse_line(line, engine().loop)
    assert isinstance(found, Context)
    assert found.fact == fact
    again = parse_line(f"context {found.fact}", engine().loop)
    assert isinstance(again, Context)
    assert again.fact == fact


@pytest.mark.parametrize("line", ["moving 3 degC", "moving 0 %", "moving 90 %", "moving fast"])
def test_a_size_that_nobody_can_mean_is_refused(line: str) -> None:
    with pytest.raises(ReadingError, match=r"0\.1 to 20 %, such as: moving 3 %"):
        parse_line(line, engine().loop)


def test_what_has_two_states_does_not_move_by_a_share() -> None:
    two = open_plant().load("ZS-221")
    assert MOVING not in contexts_of(two)
    assert contexts_of(engine().loop) == CONTEXTS
    with pytest.raises(ReadingError, match="two states"):
        parse_line("moving 3 %", two)


def test_the_last_word_holds() -> None:
    assert unrest(["rain"]) is None
    assert unrest(["moving", "rain"]) == UNREST
    assert unrest(["moving", "moving 2 %"]) == pytest.approx(0.02)


@pytest.mark.parametrize(("size", "apart"), [(5, 0.10), (5, 0.15), (5, 0.40), (8, 0.25), (8, 0.50)])
def test_two_looks_at_one_display_by_hand(size: float, apart: float) -> None:
    """Either look is worthless, or the process has moved: the chance of the former.

    By hand what is shown moves as the process does, or not at all.  Where both explanations are as
    likely (0.20 to 0.30 apart at 5 %), a fault that makes it move by more counts as well.
    """
    shows = engine().loop.part("U1").kind.shows
    assert shows is not None
    # resolution of the display and rounding of what is typed (a whole percent), both rectangular
    own = (shows.resolution**2 + 0.005**2) / 3
    moved = norm.pdf(apart, scale=sqrt(2) * sqrt(own + (size / 100) ** 2))
    doubt = WORTHLESS["shows"]
    right, worthless = (1 - doubt) ** 2 * moved, 2 * doubt * (1 - doubt) * BROAD["shows"]
    due = worthless / ((1 - stands_still("U1 40 %")) * right + worthless)
    belief = believed(f"moving {size:g} %", "U1 40 %", f"U1 {40 + 100 * apart:g} %")
    assert belief.drift == pytest.approx(size / 100)
    assert belief.suspect.sum() / (1 - belief.unmodelled) == pytest.approx(due, abs=0.04)


def test_what_was_believed_of_a_process_at_rest_is_not_kept_for_one_that_moves() -> None:
    """Within one engine, whatever was asked before."""
    lines = "U1 50 %", "U2 53 %"
    at_rest = believed(*lines)
    moving = believed("moving 3 %", *lines)
    fresh = Engine(engine().loop)
    alone, _ = fresh.believe(fresh.sort(parse_lines(("moving 3 %", *lines), fresh.loop)))
    assert np.array_equal(moving.probability, alone.probability)
    assert moving.evidence == pytest.approx(alone.evidence, abs=1e-12)
    assert abs(moving.evidence - at_rest.evidence) > 0.1


def test_it_is_said_that_it_should_be_held() -> None:
    lines = parse_lines(("moving 3 %", "U1 50 %", "U2 51 %"), engine().loop)
    told = doubts(Answer.of(engine().look(lines)))["process"]
    assert told.startswith("it moves, so that each reading tells less; have the operator hold it")
    lines = parse_lines(("U1 50 %", "U1 57 %", "U1 48 %", "U1 44 %", "U1 52 %"), engine().loop)
    found = doubts(Answer.of(engine().look(lines)))["process"]
    assert found.startswith("it seems to move")
    assert "(moving 3 %); have the operator hold it" in found


def test_a_drill_on_two_states_is_not_told_that_it_moves() -> None:
    judge = Engine(open_plant().load("ZS-221"))
    with pytest.raises(DrillError, match=r"context: 'moving' is none of work, .*shared supply$"):
        hide(Setting("ZS-221", seed=3, contexts=(MOVING,)), judge)


def test_in_a_drill_that_says_so_the_process_moves() -> None:
    """Standard deviation of 400 draws, to four of its standard errors."""
    judge = engine()
    setting = Setting(judge.loop.tag, seed=3, faults=("R1:drift=260 ohm",), contexts=(MOVING,))
    scene = scene_of(setting, hide(setting, judge), judge)
    moved = [scene.drifted(number) - scene.process for number in range(400)]
    assert np.std(moved) == pytest.approx(UNREST, rel=4 / sqrt(2 * 400))
