"""Which proof readings count: the last of each point."""

from casework.told import case_of
from diagnose.casework import events as e
from diagnose.casework.proofs import ends, latest
from diagnose.casework.telling import tell


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


def test_of_many_points_a_note_tells_the_ends_and_what_failed() -> None:
    """Two ramps of five points, the second of the first one failed: by hand, five are told."""
    ramp = [e.ProofTaken(f"V A B {n}.00 V with T driven {n} mA", n, n, n != 2) for n in range(1, 6)]
    stem = [e.ProofTaken(f"CV {25 * n} % with C driven {25 * n} %", 0, 1, True) for n in range(5)]
    assert ends([*ramp, *stem]) == (ramp[0], ramp[1], ramp[4], stem[0], stem[4])


def test_limits_of_a_share_are_told_as_one() -> None:
    """0.2075 to 0.2925 of travel is 20.75 to 29.25 %."""
    told = tell(e.ProofTaken("CV 25 % with C driven 25 %", 0.2075, 0.2925, True))
    assert told == "CV 25 % with C driven 25 % (due 20.75 to 29.25 %, passed)"


def test_a_lamp_has_no_limits_beside_its_word() -> None:
    told = tell(e.ProofTaken("RL1 pulled in with B1 fed 2.96 V", 1.0, 1.0, True))
    assert told == "RL1 pulled in with B1 fed 2.96 V (passed)"
