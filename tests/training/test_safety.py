"""What is said to be unsafe is what was left out: common practice, no source."""

import pytest

from diagnose.training.safety import ARRANGEMENTS, MISTAKES, UNSAFE, unsafe_without


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
