"""A doubtful reading is asked for once more, and what was looked at and found good is ruled out.

Sources: Bayes' rule by hand (one display in 200 is read wrongly, so of two that contradict one
is, and of two that agree neither); that a reading which the verdict hangs on is taken twice before
anything is opened is common practice, no source.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from diagnose.inference.advice import SURE, TRUSTED, WRONG_REPAIR, Adviser
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Cleared, Measurement
from diagnose.inference.readings import parse_lines
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).resolve().parents[1] / "sheets" / "b3.toml"
ODD = ("complaint reads low", "V d n 3.0", "U2 50 %", "U1 80 %")
DISPLAY = Measurement("shows", ("U1",))


@cache
def engine() -> Engine:
    return Engine(load_sheet(SHEET))


def looked(*lines: str) -> Adviser:
    told = engine().sort(parse_lines(lines, engine().loop))
    belief, atlas = engine().believe(told)
    return Adviser(engine(), atlas, belief, told, "cabinet", frozenset())


def again(adviser: Adviser) -> dict[Measurement, int]:
    """What is advised to be taken again, and the number of the reading."""
    numbers = {adviser.candidates[n].measurement: adviser.again(n) for n in adviser.order}
    return {measurement: number for measurement, number in numbers.items() if number}


def test_a_doubtful_reading_is_taken_again() -> None:
    adviser = looked(*ODD)
    assert adviser.belief.suspect[2] > TRUSTED
    assert again(adviser) == {DISPLAY: 3}


@pytest.mark.parametrize("second", ["U1 50 %", "U1 80 %"])
def test_one_that_was_confirmed_is_not(second: str) -> None:
    adviser = looked(*ODD, second)
    doubt = adviser.belief.suspect[2:]
    # Two that contradict: one of them is worthless. Two that agree: both are right.
    assert doubt.sum() == pytest.approx(float(second == "U1 50 %"), abs=0.01)
    assert not again(adviser)


def test_the_answer_tells_which_reading_took_the_place() -> None:
    ranking = engine().rank(parse_lines((*ODD, "U1 50 %"), engine().loop))
    (suspect,) = ranking.suspects
    assert (suspect.index, suspect.retaken) == (3, 4)
    ranking = engine().rank(parse_lines(ODD, engine().loop))
    assert [item.again for item in ranking.next].count(3) == 1
    assert [item.retaken for item in ranking.suspects] == [0]


def test_a_verdict_that_hangs_on_one_reading_waits_for_a_second_look() -> None:
    hanging = looked("complaint reads low", "V d n 3.0", "U2 50 %", "U3 50 %", "U1 0 %")
    settled = looked("complaint reads low", "V d n 3.0", "U2 50 %", "U3 50 %", "U1 0 %", "U1 0 %")
    for adviser in (hanging, settled):
        share = adviser.group_probability()
        rival = adviser.group[adviser.belief.weighted.cells.h] != int(share.argmax())
        weighted = adviser.belief.weighted
        wrong = np.exp(weighted.log[rival]) @ weighted.wrong[rival]
        due = share.max() >= SURE and wrong.max() * WRONG_REPAIR > 0.5  # minutes of a display
        assert (adviser.hinge is not None) == due
        assert adviser.resolved == (share.max() >= SURE and not due)
    assert settled.resolved


def test_what_was_found_good_is_ruled_out_and_nothing_else_changes() -> None:
    """P(h | not a) = P(h) / (1 - P(a)) for every other explanation."""
    said = parse_lines(("complaint reads low", "V d n 0.0"), engine().loop)
    before, _ = engine().believe(engine().sort(said))
    suspects = [h for h in engine().hypotheses if h.part and h.mode]
    first = max(suspects, key=lambda h: before.probability[h.number])
    assert first.part is not None
    after, _ = engine().believe(engine().sort([*said, Cleared(*first.key)]))  # type: ignore[arg-type]
    left = 1 - before.probability[first.number]
    due = before.probability / left
    due[first.number] = 0.0
    assert after.probability == pytest.approx(due, abs=1e-5)
    assert after.unmodelled == pytest.approx(before.unmodelled / left, abs=1e-5)
