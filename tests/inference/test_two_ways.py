"""What a sound loop would show where it stands on or off: each by itself, no value in between.

By hand: a contact that is open half of the time shows 0 V or 24 V, and 12 V never.
"""

import numpy as np
import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_lines
from diagnose.inference.report_advice import two_ways
from diagnose.loops.plant import open_plant


def ways(mean: list[float], weight: list[float] | None = None) -> list[list[int]]:
    some = np.array(mean)
    share = np.ones(len(some)) if weight is None else np.array(weight)
    return [sorted(own.tolist()) for own in two_ways(some, np.full(len(some), 0.05), share)]


def test_on_and_off_are_two_and_the_likelier_comes_first() -> None:
    assert ways([24.0, 0.0, 24.0, 0.1, 24.1]) == [[0, 2, 4], [1, 3]]
    assert ways([24.0, 0.0], [1.0, 3.0]) == [[1], [0]]


def test_a_signal_that_may_stand_anywhere_is_one() -> None:
    assert ways([1.0, 2.0, 3.0, 4.0, 5.0]) == [[0, 1, 2, 3, 4]]
    assert ways([3.0]) == [[0]]
    assert ways([1.9, 3.0, 4.0, 7.5, 7.9]) == [
        [0, 1, 2, 3, 4]
    ]  # what may be, and what a display says


def test_what_is_rare_is_left_out() -> None:
    assert ways([0.0, 24.0], [99.0, 1.0]) == [[0]]
    assert ways([24.0, 0.0, 11.0], [60.0, 37.0, 3.0]) == [[0], [1]]  # on its way
    assert ways([24.0, 0.0, 11.0], [50.0, 37.0, 13.0]) == [[0, 1, 2]]


@pytest.mark.parametrize(
    ("tag", "functions"), [("LSL-216", {"V"}), ("ZS-221", {"V"}), ("XV-221", {"clamp"})]
)
def test_no_value_is_named_that_no_sound_loop_shows(tag: str, functions: set[str]) -> None:
    """Volts of a line-monitored contact and a sensor, amperes of an output: narrow spans both."""
    engine = Engine(open_plant().load(tag))
    steps = engine.rank(parse_lines(["complaint stays off"], engine.loop)).next
    step = next(item for item in steps if item.measurement.function in functions)
    assert step.healthy_else is not None
    ends = [step.healthy[:2], step.healthy_else[:2]]
    apart = abs(sum(ends[0]) - sum(ends[1])) / 2
    for low, high in ends:
        assert high - low < apart / 2
