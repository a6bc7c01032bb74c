"""A proof reading is judged by both of its limits, and can be gone back on one by one.

By hand: 4 and 20 mA through 250 ohm are 1 V and 5 V, here with limits of 10 and 20 mV set for it;
the lamp of a trip at 3 V is dark at the one and lit at the other (Ohm's law).
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.inference.ranking import Proof, Remedy
from diagnose.inference.readings import parse_measurement
from diagnose.loops.plant import open_plant
from diagnose.terminal.session_proof import _how
from diagnose.terminal.session_talk import Talk
from terminal.answers import DONE
from terminal.session_stand import by_hand, flat, say

LOW = Proof("V X21:7 X20:0 with LT-214 driven 4 mA", 0.99, 1.01, "V")
HIGH = Proof("V X21:7 X20:0 with LT-214 driven 20 mA", 4.98, 5.02, "V")
DARK = Proof("LAHH-214 with LT-214 driven 4 mA", 0.0, 0.0, "lit")
LIT = Proof("LAHH-214 with LT-214 driven 20 mA", 1.0, 1.0, "lit")


@pytest.fixture
def talk(tmp_path: Path) -> Iterator[Talk]:
    """The sense resistor was changed; volts and lamp are due at both ends."""
    remedy = Remedy("R1", "drift", "put it right", "cabinet", 0.98, 15.0)
    done = replace(DONE, remedy=(remedy,), proof=(LOW, HIGH, DARK, LIT))
    talk = by_hand(tmp_path, open_plant().load("LT-214"), done)
    say(talk, "bypass shift lead until 04:00", "manual operator holds it", "remedy 1")
    if talk.prompt() == "ok?> ":
        say(talk, "ok")
    say(talk, "as it was found", "as it was left", "proof", "ok")
    yield talk
    talk.hunt.file.close()


def judged(talk: Talk) -> list[bool]:
    return [item.passed for item in talk.hunt.case.proofs]


def test_a_point_tells_what_is_set_and_what_is_read(talk: Talk) -> None:
    """``V X21:7 X20:0 with LT-214 driven 4 mA>`` alone left it to be guessed how."""
    asked = flat(" ".join(talk.question.text if talk.question else ()))
    assert asked.startswith("Point 1 of 4, within its limits: 0.990 to 1.010 V.")
    assert "Set: LT-214 driven 4 mA (" in asked
    assert "red lead on X21:7, black lead on X20:0." in asked
    say(talk, "1", "5")
    asked = flat(" ".join(talk.question.text if talk.question else ()))
    assert "Do: see how LAHH-214" in asked


@pytest.mark.parametrize(
    ("values", "passed"),
    [
        (("0.99", "5.02", "dark", "lit"), [True, True, True, True]),
        (("1.01", "4.98", "dark", "dark"), [True, True, True, False]),
        (("0.989", "5.021", "lit", "lit"), [False, False, False, True]),
        (("1.011", "4.979", "lit", "dark"), [False, False, False, False]),
    ],
)
def test_a_value_is_within_its_limits_or_on_them_and_a_lamp_is_as_due(
    values: tuple[str, ...], passed: list[bool], talk: Talk
) -> None:
    said = flat(say(talk, *values))
    assert judged(talk) == passed
    verdict = "Proved" if all(passed) else "Not proved"
    assert f"{verdict}: {sum(passed)} of 4 within their limits." in said
    assert ("anew" in said) == (not all(passed))


def test_undo_goes_back_by_one_point_and_not_before_the_first(talk: Talk) -> None:
    first = talk.prompt()
    assert first.startswith(LOW.text)
    assert "this is the first point; cancel leaves the proof" in flat(say(talk, "undo"))
    assert talk.prompt() == first
    assert "NOT within" in flat(say(talk, "2.0"))
    assert talk.prompt().startswith(HIGH.text)
    say(talk, "undo")
    assert talk.prompt() == first
    assert "Proved: 4 of 4" in flat(say(talk, "1.000", "5.000", "dark", "lit"))


def test_a_point_that_is_left_out_is_no_reading(talk: Talk) -> None:
    assert "No proof was taken." in flat(say(talk, "", "", "", ""))
    assert judged(talk) == []


@pytest.mark.parametrize(
    ("before", "line", "wanted"),
    [((), "lit", "V shows a value, and 'lit' is none"),
     ((), "OL", "OL is understood for ohm only"),
     ((), "not possible", "Point 2 of 4"),
     (("1.0", "5.0"), "3.001", "LAHH-214 is 'lit' or 'dark', and '3.001' is neither"),
     (("1.0", "5.0"), "not possible", "Point 4 of 4")],
)  # fmt: skip
def test_an_answer_of_another_kind_is_told_what_would_be_right(
    before: tuple[str, ...], line: str, wanted: str, talk: Talk
) -> None:
    """What cannot be read is left out; nothing else is filed but what was read."""
    say(talk, *before)
    said = flat(say(talk, line))
    assert wanted in said
    assert len(judged(talk)) == len(before)


def test_what_the_proof_left_altered_is_named_at_its_end_until_it_is_put_back(talk: Talk) -> None:
    """The transmitter is driven, so it is not back on the process; the records stay open too."""
    said = flat(say(talk, "1.000", "5.000", "dark", "lit"))
    assert "Still open: " in said
    still = said.partition("Still open: ")[2]
    assert "LT-214" in still
    assert "bypass" in still


@pytest.mark.parametrize(("tag", "slowly"), [("FT-118", False), ("LAHH-214", True)])
def test_only_a_trip_is_gone_through_slowly_from_its_safe_side(tag: str, slowly: bool) -> None:
    """A loop without a trip has lamps as well: they are read at both ends, nothing is sought."""
    loop, measured = open_plant().load("LT-214"), (DARK, LIT)
    wanted = [parse_measurement(proof.text, loop) for proof in measured]
    said = _how(measured, wanted, open_plant().load(tag))
    assert said.startswith("2 points, ")
    assert ("safe side first; go slowly" in said) == slowly
    assert ("driven to each" in said) == (not slowly)
