"""What is said to be unsafe is what was left out: common practice, no source."""

import pytest

from diagnose.training.commands import do
from diagnose.training.safety import ARRANGEMENTS, MISTAKES, UNSAFE, unsafe_without
from drill_stand import drill


@pytest.mark.parametrize(
    ("left_out", "said"),
    [
        ("isolate", "final element"),
        ("operations", "process connection"),
        ("dead", "dead circuit"),
        ("licence", "dead circuit"),
        ("bypass", "bypass"),
        ("manual", "automatic"),
        ("permit", "permit"),
    ],
)
def test_what_was_left_out_is_what_is_said(left_out: str, said: str) -> None:
    assert left_out in ARRANGEMENTS
    [name] = unsafe_without((left_out,))
    assert said in MISTAKES[name]
    assert name in UNSAFE


def test_telling_the_operator_is_care_and_not_safety() -> None:
    assert unsafe_without(("operator",)) == ()


def test_a_trip_that_is_bypassed_without_authority_is_unsafe() -> None:
    """A key turned by oneself is the mistake that a trip is bypassed for years by."""
    bare, agreed = (drill("LAHH-214", faults=("S1:left on",)) for _ in range(2))
    assert do(bare, "set S1 bypassed").unsafe == ("no bypass",)
    for line in ("operator", "bypass"):
        do(agreed, line)
    assert do(agreed, "set S1 bypassed").unsafe == ()
