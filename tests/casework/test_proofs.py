"""Which proof readings count: the last of each point."""

from casework.told import case_of
from diagnose.casework import events as e
from diagnose.casework.proofs import latest


def texts(*proofs: tuple[str, float, float]) -> list[str]:
    events = [e.ProofTaken(text, low, high, True) for text, low, high in proofs]
    return [item.text for item in latest(case_of(*events))]


def test_a_point_taken_again_counts_once() -> None:
    assert texts(
        ("V a b 1.2 V with TX driven 4 mA", 0.99, 1.01),
        ("V a b 5 V with TX driven 20 mA", 4.98, 5.02),
        ("V a b 1.0 with TX driven 4 mA", 0.99, 1.01),
    ) == ["V a b 1.0 with TX driven 4 mA", "V a b 5 V with TX driven 20 mA"]


def test_points_with_the_same_limits_are_two() -> None:
    """Two lamps that must be lit, one output commanded on and off."""
    said = (
        ("H1 lit with C1 commanded on", 1.0, 1.0), ("H2 lit with C1 commanded on", 1.0, 1.0),
        ("H1 dark with C1 commanded off", 0.0, 0.0), ("V a b 24 V", 23.0, 25.0),
        ("V a c 24.1 V", 23.0, 25.0), ("VAC a b 24 V", 23.0, 25.0),
    )  # fmt: skip
    assert texts(*said) == [text for text, _, _ in said]


def test_a_lamp_read_again_counts_once() -> None:
    assert texts(("H1 dark", 1.0, 1.0), ("H1 lit", 1.0, 1.0)) == ["H1 lit"]


def test_a_state_read_again_counts_once_in_whatever_words() -> None:
    said = (("RL1 dropped out", 1.0, 1.0), ("RL1 lit", 1.0, 1.0), ("RL1 pulled in", 1.0, 1.0))
    assert texts(*said) == ["RL1 pulled in"]
    assert texts(("H2 quiet", 1.0, 1.0), ("H2 sounds", 1.0, 1.0)) == ["H2 sounds"]
