"""Wrong reading lines and the exact sentence that each gets."""

import re

import pytest

from diagnose.errors import ReadingError
from diagnose.inference.measurement import Reading
from diagnose.inference.readings import LONGEST, parse_line, parse_measurement
from diagnose.loops.plant import open_plant
from small_loop import LOOP

REFUSED = {
    "V": "say between which points, for example V X21:7 X20:0 3.02",
    "V X21:7": "the value is missing at the end",
    "V X21:7 X20:0": "the value is missing at the end",
    "V X21:77 X20:0 3.02": "no point called 'X21:77'; did you mean X21:7 or X21:5 or X21:4?",
    "V X21:7 X20:9 3.02": "no point called 'X20:9'; did you mean X20:1 or X20:0 or X22:1?",
    "V X21:7 X21:7 3.02": "two different points are needed, and X21:7 is one",
    "V X21:7 X20:0 3,020,1": "'3,020,1' has more than one decimal mark",
    "V X21:7 X20:0 1,234": "'1,234' can mean 1.234 or 1234: write one of them",
    "V X21:7 X20:0 banana": (
        "'banana' is not a number with a unit; write for example 3.02 V or 88 mV"
    ),
    "V X21:7 X20:0 3.02 mA": (
        "'3.02 mA': 'mA' is no unit of voltage; write for example 3.02 V or 88 mV"
    ),
    "V X21:7 X20:0 3020": "3020 V is impossible on a loop of 24 V: did you mean 3.02 V?",
    "V X21:7 X20:0 230": (
        "230 V is impossible on a loop of 24 V: did you mean 23 V? If it is truly there, "
        "stop: it comes from elsewhere"
    ),
    "V X21:7 X20:0 -302": (
        "-302 V is impossible on a loop of 24 V: did you mean -3.02 V? If it is truly "
        "there, stop: it comes from elsewhere"
    ),
    "V X21:7 X20:0 3.1-2.8": "'3.1-2.8': a span goes from the smaller to the larger value",
    "V X21:7 X20:0 3.02 +- 0": "'+- 0' must be more than zero",
    "V X21:7 X20:0 > 3": "'> 3' is a bound, not a value: write the number alone",
    "V X21:7 X20:0 nan": "'nan' is not a number that can be measured",
    "V X21:7 X20:0 -inf": "'-inf' is not a number that can be measured",
    "V X21:7 X20:0 1e999": "'1e999' is outside of -1000 kV to 1000 kV",
    "V X21:7 X20:0 9**9**9**9": (
        "'9**9**9**9' is not a number with a unit; write for example 3.02 V or 88 mV"
    ),
    "V X21:7 X20:0 OL": ("OL is understood for ohm only; choose a higher range or 'not possible'"),
    "V X21:7 X20:0 lit": "V shows a value, and 'lit' is none",
    "V X21:7 X20:0 __import__('os')": (
        "'__import__('os')' is not a number with a unit; write for example 3.02 V or 88 mV"
    ),
    "VAC X21:7 X20:0 400": (
        "400 V is impossible on the wires of a measuring loop: did you mean 0.4 V? If it is"
        " truly there, stop: it comes from elsewhere"
    ),
    "mA": "say where the meter is in series, for example mA X21:4 8.03",
    "mA R1 8": "R1 cannot be opened for a meter; the clamp reads it",
    "mA X21:99 8": "no point called 'X21:99'; did you mean X21:7 or X21:5 or X21:4?",
    "mA X20:0 8": (
        "nothing opens at X20:0; a meter goes in series at F1, LK1, T4, TB1, TB2, LK2, T7, T8"
    ),
    "mA X22:1 8": "X22:1 can be opened at T7 or T8: name one of them",
    "mA X21:3 X21:7 8": "nothing can be opened between X21:3 and X21:7; near it: LK1, LK2",
    "mA X21:4 1200": "1200 mA is impossible in a loop of this kind: did you mean 12 mA?",
    "mA X21:4 803": "803 mA is impossible in a loop of this kind: did you mean 8.03 mA?",
    "mA X21:4 8 V": "'8 V': 'V' is no unit of current; write for example 8.03 mA",
    "clamp X21:4 8": "X21:4 is a point: name the wire in the clamp (LK1, T4)",
    "clamp LG-214 8": "no current flows through LG-214: name the wire in the clamp",
    "clamp W9 8": "no part called 'W9'",
    "ohm JB9:1 JB9:2 1.2k": (
        "add 'with supply off': resistance is read with the supply off and isolated, "
        "because a live loop falsifies it and can harm the meter"
    ),
    "ohm JB9:1 JB9:2 -5 with supply off": (
        "negative ohms come from a voltage: prove that the supply is off"
    ),
    "ohm JB9:1 JB9:2 2 mohm with supply off": (
        "a hand-held meter shows no 2 mohm: did you mean 2 Mohm?"
    ),
    "ohm JB9:1 JB9:2 90M with supply off": "a hand-held meter shows no 90 Mohm: write OL",
    "LIC-214 lit": "LIC-214 shows a value, and 'lit' is none",
    "LIC-214 reads low": "write the value, or 'complaint reads low'",
    "LIC-214 620 %": "620 % is impossible as a share of range: did you mean 62 % or 620 mm?",
    "LIC-214 2000": "2000 % is impossible as a share of range: did you mean 20 %?",
    "LIC-214 62 kPa": "'62 kPa': write % of range, or mm (0 to 1800 mm)",
    "LAHH-214 62 %": "LAHH-214 is 'lit' or 'dark', and '62 %' is neither",
    "LIC-241 62 %": (
        "no function or display called 'LIC-241'; did you mean LIC-214 or LT-214 or LG-214?"
    ),
    "clampp W1 4 mA": "no function or display called 'clampp'; did you mean clamp?",
    "shows": "say what shows it, for example LIC-214 62 %",
    "shows R1 5": "R1 shows nothing; what does: LT-214, LIC-214, LAHH-214, LG-214",
    "R1 250": "R1 shows nothing: begin with one of V, Vlow, VAC, mA, clamp, ohm",
    "X21:7 3.02": "X21:7 shows nothing: begin with one of V, Vlow, VAC, mA, clamp, ohm",
    "process": "the value is missing at the end",
    "process 45 % +- 0 %": "'+- 0 %' must be more than zero",
    "complaint": (
        "this complaint is not known; known: clips, erratic, frozen, reads high, reads low, "
        "reads zero, stays off, stays on"
    ),
    "complaint bananas": (
        "this complaint is not known; known: clips, erratic, frozen, reads high, reads low, "
        "reads zero, stays off, stays on"
    ),
    "complaint reads low and frozen": "one complaint a line: frozen or reads low?",
    "context no rain": "write a context only where it applies",
    "with supply off": "a reading stands before 'with'; write for example V X21:7 X20:0 3.02",
    "V X21:7 3.02 with": (
        "a condition is missing after 'with'; write for example G1 off, F1 out, LK1 open, "
        "T4 lifted, LT-214 driven 12 mA"
    ),
    "V X21:7 3.02 with magic": (
        "'magic' is no condition of this loop; write for example G1 off, F1 out, LK1 open, "
        "T4 lifted, LT-214 driven 12 mA"
    ),
    "V X21:7 3.02 with lifted": (
        "say which part is lifted; write for example G1 off, F1 out, LK1 open, T4 lifted, "
        "LT-214 driven 12 mA"
    ),
    "V X21:7 3.02 with R1 lifted": "R1 cannot be lifted",
    "V X21:7 3.02 with X21:1 lifted": (
        "nothing at X21:1 can be lifted; lifted goes with T4, TB1, TB2, T7, T8"
    ),
    "V X21:7 3.02 with X99:1 lifted": (
        "no part or point called 'X99:1'; lifted goes with T4, TB1, TB2, T7, T8"
    ),
    "V X21:7 3.02 with JB9:1 lifted": (
        "'JB9:1 lifted' can mean TB1 lifted or TB2 lifted: name one of them"
    ),
    "V X21:7 3.02 with LT-214 driven": (
        "LT-214 driven needs a value; write for example LT-214 driven 12 mA"
    ),
    "V X21:7 3.02 with LT-214 driven 120 mA": ("LT-214 driven: '120 mA' is outside of 0 to 30 mA"),
    "V X21:7 3.02 with LT-214 driven 12 V": (
        "'12 V': 'V' is no unit of current; write for example 8.03 mA"
    ),
    "V X21:7 3.02 with LK1 open 5": "LK1 open takes no value: what is '5'?",
    "V X21:7 3.02 with LT-214 driven 4 mA and LT-214 driven 20 mA": (
        "LT-214 cannot be in two states at once"
    ),
    "V X21:7 3.02 with jumper X21:4": (
        "a jumper joins two points; write for example jumper X21:4 X21:5"
    ),
    "V X21:7 3.02 with jumper X21:4 X21:4": "a jumper joins two points, and X21:4 is only one",
    "V X21:7 3.02 with jumper X21:4 X99:5": "no point called 'X99:5'; did you mean X21:5?",
    "../../etc/passwd 3": (
        "no function or display called '../../etc/passwd'; known: LAHH-214, LG-214, "
        "LIC-214, LT-214, V, VAC, Vlow, clamp, mA, ohm, process, shows"
    ),
    "V ../../etc/passwd 3": (
        "no point called '../../etc/passwd'; known: JB9:1, JB9:2, LT-214:+, LT-214:-, "
        "X20:0, X20:1, X21:1, X21:3, X21:4, X21:5, X21:7, X22:1"
    ),
    "=": (
        "no function or display called '='; known: LAHH-214, LG-214, LIC-214, LT-214, V, "
        "VAC, Vlow, clamp, mA, ohm, process, shows"
    ),
}
"""Line -> reason.  How it is worded is the project's own; what is refused follows the mistakes of
the trade: decimal slips, wrong units, powered resistance, unknown points (common practice, no
source)."""


@pytest.mark.parametrize(("text", "reason"), REFUSED.items(), ids=ascii)
def test_a_wrong_line_gets_its_sentence(text: str, reason: str) -> None:
    with pytest.raises(ReadingError) as caught:
        parse_line(text, LOOP)
    assert caught.value.reason == reason
    assert str(caught.value) == f"'{text}': {reason}"


def test_a_tag_without_its_hyphen_is_that_tag_and_no_two_points_are() -> None:
    """``lt214`` is LT-214; ``X21:78`` is not X21:7-8, whatever a hyphen would make of it."""
    loop = open_plant().load("LT-214")
    typed = parse_line("li214 40 %", loop)
    assert typed.measurement == parse_line("LI-214 40 %", loop).measurement  # type: ignore[union-attr]
    assert parse_line("lt216 well", loop).fact == "LT-216 well"  # type: ignore[union-attr]
    with pytest.raises(ReadingError, match="no point called"):
        parse_line("V X21:78 X20:0 3.02", loop)


def test_amperes_through_a_short_are_believed_once_they_are_written_as_such() -> None:
    """230 V over a triac of 30 ohm and a shorted coil is amperes; 4050 is a decimal slip first."""
    loop = open_plant().load("XV-222")
    assert parse_line("mA X61:1 X61:2 4.05 A", loop).value == 4.05  # type: ignore[union-attr]
    assert parse_line("mA X61:1 X61:2 350", loop).value == 0.35  # type: ignore[union-attr]
    asks = "did you mean 40.5 mA? If the large jack showed that, write it in A"
    for text, guess in (
        ("4050", f"4050 mA is impossible without a short: {asks}"),
        ("14 A", "14000 mA is impossible without a short: did you mean 14 mA?"),
    ):
        with pytest.raises(ReadingError) as caught:
            parse_line(f"mA X61:1 X61:2 {text}", loop)
        assert caught.value.reason == guess
    with pytest.raises(ReadingError, match="4050 mA is impossible in a loop of this kind"):
        parse_line("mA X21:4 4.05 A", LOOP)


def test_the_table_is_long_enough_to_mean_something() -> None:
    assert len(REFUSED) >= 40


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "nothing is typed; write for example V X21:7 X20:0 3.02"),
        (" \t ", "nothing is typed; write for example V X21:7 X20:0 3.02"),
        ("V X21:7\x00 3", "the line holds control characters"),
        ("V X21:7 3\x1b[2J", "the line holds control characters"),
        ("V X21:7 3\nV X21:7 4", "the line holds control characters"),
        ("x" * 10_000, f"a reading has at most {LONGEST} characters"),
    ],
    ids=ascii,
)
def test_what_is_no_line_is_refused_without_repeating_it(text: str, reason: str) -> None:
    with pytest.raises(ReadingError) as caught:
        parse_line(text, LOOP)
    assert caught.value.reason == reason
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 150


def test_a_measurement_has_no_value() -> None:
    with pytest.raises(ReadingError, match=r"'3\.02' is left over behind the measurement"):
        parse_measurement("V X21:7 X20:0 3.02", LOOP)
    with pytest.raises(ReadingError, match="add 'with supply off'"):
        parse_measurement("ohm JB9:1 JB9:2", LOOP)


@pytest.mark.parametrize("value", ["3\u00b2", "\u00b2", "3.0\u00b2 V", "1e\u00b2"], ids=ascii)
def test_a_power_is_no_digit(value: str) -> None:
    """3 squared was taken for 32 V."""
    with pytest.raises(ReadingError, match="is not a number with a unit"):
        parse_line(f"V X21:7 X20:0 {value}", LOOP)


@pytest.mark.parametrize(
    ("tag", "line", "told"),
    [
        ("LT-214", "V X21:7 X20:0 5.2VAC", "'5.2VAC' are alternating volts: begin the line with"),
        ("LT-214", "V X21:7 X20:0 5 V ac", "'5 V ac' are alternating volts: begin the line with"),
        ("LT-214", "V X21:7 X20:0 40 mVAC", "are alternating volts: begin the line with VAC"),
        ("LT-214", "Vlow X21:7 X20:0 5 VAC", "are alternating volts: begin the line with VAC"),
        ("LT-214", "VAC X21:7 X20:0 40 mVDC", "are direct volts: begin the line with V"),
        ("XV-222", "VAC {0} {1} 230 VDC", "are direct volts: begin the line with V"),
        ("XV-222", "V {0} {1} 230 VAC", "alternating volts: begin the line with VAC"),
    ],
)
def test_alternating_volts_are_no_direct_ones(tag: str, line: str, told: str) -> None:
    """DC and AC are functions of their own on a meter (common practice, no source)."""
    loop = open_plant().load(tag)
    first, second = [point.name for point in loop.points if point.name != "PE"][:2]
    with pytest.raises(ReadingError, match=re.escape(told)):
        parse_line(line.format(first, second), loop)


def test_volts_that_say_what_they_are_are_taken_by_the_function_that_reads_them() -> None:
    loop = open_plant().load("XV-222")
    first, second = [point.name for point in loop.points if point.name != "PE"][:2]
    for line in (f"VAC {first} {second} 229 VAC", f"Vlow {first} {second} 229 V ac"):
        assert parse_line(line, loop).value == 229  # type: ignore[union-attr]
    assert parse_line("V X21:7 X20:0 3.02 V DC", LOOP).value == 3.02  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("142.8", "142.8 V is impossible on a loop of 3.5 V: did you mean 142.8 mV?"),
        ("11.2", "11.2 mV or 11.2 V on a loop of 3.5 V? Write the unit. If 11.2 V are truly there"),
    ],
)
def test_where_millivolts_are_the_rule_a_bare_number_may_be_some(line: str, told: str) -> None:
    """A meter on its lowest range shows 142.8: nobody slipped by a decimal point."""
    with pytest.raises(ReadingError, match=re.escape(told)):
        parse_line(f"V X31:1 X31:3 {line}", open_plant().load("TT-131"))


def test_volts_that_are_written_as_volts_are_taken_on_such_a_loop() -> None:
    found = parse_line("V X40:+ X40:- 11.2 V", open_plant().load("TE-140"))
    assert isinstance(found, Reading) and found.value == 11.2


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("LAHH-214 lit", "LAHH-214 is the loop; its displays are K1, LIC-214, LG-214, RL1, H1"),
        ("klaxon sounds", "no function or display called 'klaxon'; the displays are K1, LIC-214"),
    ],
)
def test_who_names_no_display_is_told_which_there_are(line: str, told: str) -> None:
    """``LAHH-214`` is what the trip is called, not what it shows: LG-214 was proposed."""
    with pytest.raises(ReadingError, match=re.escape(told)):
        parse_line(line, open_plant().load("LAHH-214"))
