"""What is said to be unsafe is what was left out: common practice, no source."""

import pytest

from diagnose.training.commands import do
from diagnose.training.safety import ARRANGEMENTS, MISTAKES, UNSAFE, unsafe_without
from diagnose.training.setting import DrillError
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


def test_a_high_trip_comes_in_by_its_lamp_or_by_a_lost_signal() -> None:
    """At -10 % a high trip's own lamp stays dark: what trips then is the loss of the signal."""
    lifted = do(drill(), "set W3+.X21 lifted").effects[0].text
    assert lifted == "The trip comes in, as trips do on a lost signal: LIC-214 goes to -10 %."
    above = do(drill(process=0.54), "set W3+.X21 lifted").effects[0].text  # set at 50 %
    assert above == lifted  # and not by its lamp, which goes out
    driven = do(drill(process=0.4), "set LT-214 driven 18 mA").effects[0].text
    assert driven == "The trip comes in: LAHH-214 comes on."


def test_to_put_back_nothing_says_so() -> None:
    with pytest.raises(DrillError, match="nothing open is to be put back"):
        do(drill(), "restore all")


def test_a_trip_that_is_fed_without_its_bypass_is_unsafe_and_zero_has_no_sign() -> None:
    """1 V on a bus of 1 to 5 V is 0 %; a little below it is no -0 %."""
    bare, agreed = (drill("LAHH-214", faults=("K1:latched",)) for _ in range(2))
    fed = do(bare, "K1 with B1 fed 1 V")
    assert "no bypass" in fed.unsafe
    assert any(effect.text == "LIC-214 goes to 0 %." for effect in fed.effects)
    for line in ("operator", "bypass"):
        do(agreed, line)
    assert do(agreed, "K1 with B1 fed 1 V").unsafe == ()
