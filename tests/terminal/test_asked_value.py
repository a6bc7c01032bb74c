"""A bare number on a step whose range shows millivolts; Ohm's law beside it gives the sizes."""

from collections.abc import Iterator
from dataclasses import replace
from math import inf
from pathlib import Path

import pytest

from diagnose.inference.ranking import Expects
from diagnose.inference.readings import parse_line
from diagnose.loops.plant import open_plant
from diagnose.terminal.asked_value import decimals
from diagnose.terminal.naming import instruction
from diagnose.terminal.render_advice import typed, unit_of
from diagnose.terminal.session_talk import Talk
from terminal.answers import ADVICE, OPEN
from terminal.session_stand import by_hand, flat, say

STEP = "V X31:1 X31:3"
WARM = replace(
    ADVICE,
    text=STEP,
    place="cabinet",
    cautions=(),
    measurement=parse_line(f"{STEP} 0.143", open_plant().load("TT-131")).measurement,
    expects=(),
    healthy=(0.1402, 0.1457, "V"),
    moves_signal=False,
)
"""1 mA through a Pt100 at 90 degC and one core: some 143 mV."""


@pytest.fixture
def talk(tmp_path: Path) -> Iterator[Talk]:
    made = by_hand(tmp_path, open_plant().load("TT-131"), replace(OPEN, next=(WARM,), suspects=()))
    yield made
    made.hunt.file.close()


def last(talk: Talk) -> str:
    return talk.hunt.case.in_force[-1].text


@pytest.mark.parametrize(
    ("line", "kept"),
    [
        ("142.8", "142.8 mV"),
        ("0,3", "0.3 mV"),
        ("-0.3", "-0.3 mV"),
        ("142.6..142.9", "142.6..142.9 mV"),
        ("142.8 +- 0.2", "142.8 +- 0.2 mV"),
        ("0.000", "0.000 mV"),
        ("142.8 mV", "142.8 mV"),
        ("0.1428 V", "0.1428 V"),
    ],
)
def test_a_bare_number_is_what_the_meter_shows_on_the_range(
    talk: Talk, line: str, kept: str
) -> None:
    """The 600 mV range shows 142.8: it was refused as volts, and 0.3 was taken for 0.3 V."""
    assert talk.prompt() == f"{STEP} in mV = "
    say(talk, line)
    assert last(talk) == f"{STEP} {kept}"


@pytest.mark.parametrize("line", ["0.143", ".1428", "-0,14"])
def test_what_may_be_volts_as_well_is_asked(talk: Talk, line: str) -> None:
    """More decimals than the range shows, and within the range as volts."""
    assert f"V or mV? Type it with its unit, such as {line} V" in say(talk, line)
    assert not talk.hunt.case.in_force


def test_what_if_takes_the_same_unit(talk: Talk) -> None:
    say(talk, "what if 142.8")
    assert talk.hunt.engine.asked[-1]["evidence"][-1].value == pytest.approx(0.1428)


def test_the_line_to_type_names_the_unit() -> None:
    assert typed(STEP, unit_of(WARM)) == f"{STEP} ... mV"
    assert typed(f"{STEP} with supply off", "mV") == f"{STEP} ... mV with supply off"
    assert unit_of(replace(WARM, healthy=(1.0, 5.0, "V"))) == ""


def test_a_reading_is_taken_again_in_its_unit_and_on_no_range_of_600_v(talk: Talk) -> None:
    """Millivolts are not seen on 600 V; what a doubtful reading will be is not known."""
    say(talk, "142.8", "retake 1")
    assert talk.prompt() == f"{STEP} in mV = "
    task = talk.hunt.task()
    assert task is not None and task.advice is None
    assert "auto range" in instruction(task.measurement, talk.loop, float("inf"))
    say(talk, "143.1")
    assert last(talk) == f"{STEP} 143.1 mV"


@pytest.mark.parametrize(("line", "asked"), [("34.8", True), ("23.97", False), ("0.0", False)])
def test_where_millivolts_or_volts_are_due_a_number_that_fits_the_former_is_asked(
    tmp_path: Path, line: str, asked: bool
) -> None:
    """Across a fuse: 35 mV of a sound coil's current, or all 24 V; 34.8 was taken for volts."""
    loop = open_plant().load("XV-221")
    fuse = replace(
        WARM,
        text="V X51:1 X51:2",
        measurement=parse_line("V X51:1 X51:2 0", loop).measurement,
        healthy=(0.024, 0.0455, "V"),
        expects=(Expects("F2", "open", 0.09, 23.54, 24.46, "V"),),
    )
    talk = by_hand(tmp_path, loop, replace(OPEN, next=(fuse,), suspects=()))
    assert talk.prompt() == "V X51:1 X51:2 = "
    assert ("mV or V? Type it with its unit, such as 34.8 mV" in say(talk, line)) == asked
    assert bool(talk.hunt.case.in_force) != asked
    talk.hunt.file.close()


@pytest.mark.parametrize(
    ("line", "asked"),
    [("9.87", "kohm or ohm? Type it with its unit, such as 9.87 kohm"), ("0.4", ""), ("OL", ""),
     ("9.87k", ""), ("340", "")],
)  # fmt: skip
def test_an_ohmmeter_on_auto_range_shows_a_small_k(tmp_path: Path, line: str, asked: str) -> None:
    """A leak of 10 kohm was entered as a short of 9.87 ohm."""
    loop = open_plant().load("XV-221")
    coil = replace(
        WARM,
        text="ohm X51:3 X51:4 with G1 off",
        measurement=parse_line("ohm X51:3 X51:4 0 with G1 off", loop).measurement,
        healthy=(335.0, 350.0, "ohm"),
        expects=(
            Expects("I.W51", "short", 0.1, 0.2, 1.2, "ohm"),
            Expects("XY-221", "open", 0.3, 60e6, inf, "ohm"),
            Expects("I.W51", "leakage", 0.3, 8e3, 12e3, "ohm"),
        ),
    )
    talk = by_hand(tmp_path, loop, replace(OPEN, next=(coil,), suspects=()))
    said = say(talk, line)
    assert asked in said
    assert bool(talk.hunt.case.in_force) != bool(asked)
    talk.hunt.file.close()


@pytest.mark.parametrize(
    ("line", "taken"),
    [
        ("jumps between 141 and 144", f"{STEP} 141 to 144 mV"),
        ("swings from 141 mV to 144 mV", f"{STEP} 141 mV to 144 mV"),
        ("wanders 141-144", f"{STEP} 141 to 144 mV"),
        ("between 141,2 and 144,8", f"{STEP} 141.2 to 144.8 mV"),
    ],
)
def test_a_reading_that_does_not_settle_may_be_told_in_words(
    talk: Talk, line: str, taken: str
) -> None:
    say(talk, line)
    assert parse_line(last(talk), talk.loop) == parse_line(taken, talk.loop)


@pytest.mark.parametrize("line", ["unstable", "jumps", "noisy", "drifts slowly upwards"])
def test_an_unsettled_reading_without_its_ends_is_no_complaint(talk: Talk, line: str) -> None:
    """It took the place of what was complained of, and moved the ranking."""
    before = talk.hunt.case.complaints
    answer = flat(say(talk, line))
    assert "type its ends" in answer and "complaint erratic" in answer
    assert talk.hunt.case.complaints == before and not talk.hunt.case.readings
    say(talk, "complaint erratic")
    assert talk.hunt.case.complaints != before


@pytest.mark.parametrize(
    ("typed", "taken"),
    [
        ("V X21:7 X20:0 3,019", "V X21:7 X20:0 3.019"),  # 3019 V are on no loop of 24 V
        ("V X21:7 X20:0 -1,250 V with supply off", "V X21:7 X20:0 -1.250 V with supply off"),
        ("V X21:7 X20:0 2,901..3,100", "V X21:7 X20:0 2.901..3.100"),
        ("mA X21:4 12,034", "mA X21:4 12.034"),
        ("ohm JB9:1 JB9:2 1,234 with supply off", None),  # 1.234 ohm and 1234 ohm are both read
        ("V X21:7 X20:0 12,345 mV", None),  # 12 mV and 12 V are
        ("V X21:7 X20:0 3,02", None),
        ("V X99:7 X20:0 3,019", None),
    ],
)
def test_a_comma_before_three_digits_is_a_decimal_one_where_nothing_else_can_be(
    typed: str, taken: str | None
) -> None:
    assert decimals(typed, open_plant().load("LT-214")) == (taken or typed)


def test_a_decimal_comma_answers_the_step_and_is_recorded_as_a_point(tmp_path: Path) -> None:
    talk = by_hand(tmp_path, open_plant().load("LT-214"))
    assert "12.034 mA" in say(talk, "12,034")
    assert talk.hunt.case.evidence == ("mA X21:3 X21:4 12.034 mA",)
    assert "3.019 V" in say(talk, "V X21:7 X20:0 3,019")
    talk.hunt.file.close()
