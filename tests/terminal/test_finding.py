"""Loops, meters, readings, places and faults are found by what a person types for them."""

from argparse import Namespace
from pathlib import Path

import pytest

from diagnose.errors import DiagnoseError, UnknownNameError
from diagnose.inference.fault_text import find_fault
from diagnose.inference.measurement import Applied, Complaint, Jumper, Reading
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.find_changes import at, condition, levels, situation
from diagnose.terminal.find_evidence import evidence, excluded, from_words, standing
from diagnose.terminal.find_loop import find_loop, meter_of


@pytest.fixture(scope="module")
def loop() -> Loop:
    return open_plant().load("LT-214")


# -- loops and meters


@pytest.mark.parametrize("word", ["LT-214", "lt-214", "LT214", "lt 214", "lt_214"])
def test_a_tag_is_found_in_any_style(word: str) -> None:
    assert find_loop(word, open_plant()).tag == "LT-214"


def test_a_beginning_that_fits_several_is_refused() -> None:
    with pytest.raises(UsageError, match="can mean LT-214 or LT-216"):
        find_loop("lt-21", open_plant())


def test_a_path_is_a_sheet_and_a_type_is_a_loop(plant: Path) -> None:
    assert find_loop(str(plant / "sheets" / "LT-216.toml"), open_plant()).tag == "LT-216"
    assert find_loop("two-wire-input", open_plant()).tag == "two-wire-input"


@pytest.mark.parametrize(
    ("word", "told"),
    [
        ("LT-241", "did you mean LT-216 or LT-214"),
        ("x.toml", "there is no sheet"),
        ("", "no loop called"),
    ],
)
def test_a_loop_that_is_not_there_is_told(word: str, told: str) -> None:
    with pytest.raises(DiagnoseError, match=told):
        find_loop(word, open_plant())


def test_a_loop_without_a_sheet_is_told_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(
        UnknownNameError, match=r"diagnose plant new FOLDER starts a plant for its sheet"
    ):
        find_loop("LT-900", open_plant())
    (tmp_path / "plant.toml").write_text('[plant]\nname = "Invented works"\n', encoding="utf-8")
    own = open_plant(tmp_path)
    with pytest.raises(UnknownNameError, match=r"diagnose sheet new LT-900 starts its sheet"):
        find_loop("LT-900", own)
    with pytest.raises(UnknownNameError, match=r"diagnose sheet new TAG starts its sheet"):
        find_loop("LT 900; rm", own)


def test_the_meter_is_that_of_the_plant() -> None:
    """0.1 % + 2 counts of 60 V / 6000 = 0.020 + 0.020 V at 20 V (plant.toml, meter M-1)."""
    meter = meter_of(open_plant())
    assert meter.functions["V"].limit(20.0) == pytest.approx(0.040)
    with pytest.raises(UnknownNameError, match="no meter called 'M-9'"):
        meter_of(open_plant(), "M-9")


# -- readings


def test_each_argument_is_a_line(loop: Loop) -> None:
    first, second = from_words(["complaint reads high", "V X21:7 X20:0 3.406"], loop)
    assert isinstance(first, Complaint)
    assert isinstance(second, Reading)


def test_unquoted_words_of_one_line_are_taken_together(loop: Loop) -> None:
    (found,) = from_words(["V", "X21:7", "X20:0", "3.406"], loop)
    assert isinstance(found, Reading)
    assert found.value == 3.406


def test_a_wrong_reading_is_told_by_number(loop: Loop) -> None:
    with pytest.raises(UsageError) as found:
        from_words(["V X21:7 X20:0 3.4", "V X99:7 X20:0 3", "frob it"], loop)
    lines = str(found.value).splitlines()
    assert [line[:10] for line in lines] == ["reading 2:", "reading 3:"]


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16"])
def test_readings_come_from_a_file(coding: str, loop: Loop, tmp_path: Path) -> None:
    path = tmp_path / "readings.txt"
    path.write_text("# at night\ncomplaint reads high\n\nLT-214 50 %\n", encoding=coding)
    arguments = Namespace(file=str(path), readings=["LIC-214 62 %"])
    assert len(evidence(arguments, loop)) == 3


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("none.txt", None, "cannot be read"),
        ("bad.txt", b"V X21:7 \xff", "no text in UTF-8"),
        ("long.txt", b"# \n" * 400_000, "too long"),
        ("wrong.txt", b"LT-214 50 %\nV X21:7\n", "line 2"),
    ],
)
def test_a_file_that_cannot_be_used_is_told(
    name: str, content: bytes | None, told: str, loop: Loop, tmp_path: Path
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(UsageError, match=told):
        evidence(Namespace(file=str(path), readings=[]), loop)


def test_places_and_functions_are_checked(loop: Loop) -> None:
    assert standing(None, loop) == "cabinet"
    assert standing("Junction Box", loop) == "junction box"
    assert excluded(["ma, junction box", "OHM"], loop) == {"mA", "junction box", "ohm"}
    with pytest.raises(UnknownNameError, match="did you mean cabinet"):
        standing("cabinett", loop)
    with pytest.raises(UnknownNameError, match="no place or function called 'moon'"):
        excluded(["moon"], loop)


# -- faults, conditions, process


@pytest.mark.parametrize(
    ("text", "severity", "shown"),
    [
        ("R1:drift=310", 310 / 250, "R1 drift 310.0 ohm"),  # a factor of the 250 ohm
        ("R1:drift=0.31 kohm", 310 / 250, "R1 drift 310.0 ohm"),
        ("i.w3:leakage=10k", 10e3, "I.W3 leakage 10.00 kohm"),
        ("G1:low=20", 20.0, "G1 low 20.00 V"),
        ("LIC-214:scaling=-10 %", -0.1, "LIC-214 scaling -10.0 %"),
        ("LT-214:fixed-output=12", 12e-3, "LT-214 fixed output 12.00 mA"),
        ("T1:blocked=25%", 0.25, "T1 blocked 25.0 %"),
        ("W3+:open", 0.0, "W3+ open"),
    ],
)
def test_a_fault_takes_what_its_value_becomes(
    text: str, severity: float, shown: str, loop: Loop
) -> None:
    fault = find_fault(text, loop)
    assert fault.severity == pytest.approx(severity)
    assert fault.text() == shown


def test_a_fault_without_a_size_is_no_fault_of_size_zero(loop: Loop) -> None:
    """A scaling error goes from -60 to 60 %: the middle would be no fault at all."""
    assert find_fault("LIC-214:scaling", loop).severity == pytest.approx(0.3)
    assert find_fault("I.W3:leakage", loop).severity == pytest.approx((100 * 300e3) ** 0.5)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("R1", "write PART:MODE"),
        ("R9:drift", "no part called 'R9'"),
        ("R1:drif", "did you mean drift"),
        ("R1:drift=3 V", "'V' is no unit of resistance"),
        ("R1:drift=3k", "outside of 75.0 to 625.0 ohm"),
        ("W3+:open=3", "has no size"),
        ("R1:drift=", "a value is missing"),
    ],
)
def test_a_wrong_fault_is_told(text: str, told: str, loop: Loop) -> None:
    with pytest.raises(DiagnoseError, match=told):
        find_fault(text, loop)


def test_a_command_has_no_faults_of_its_own() -> None:
    with pytest.raises(DiagnoseError, match="has no fault modes"):
        find_fault("HS-221:dead", open_plant().load("XV-221"))


def test_the_process_is_given_in_percent_or_in_its_unit(loop: Loop) -> None:
    """900 of 1800 mm is half (sheet LT-214)."""
    assert [at(text, loop) for text in ("50 %", "50", "900 mm")] == [0.5, 0.5, 0.5]
    assert levels("0,50%, 1800 mm", loop) == (0.0, 0.5, 1.0)
    for text in ("abc", "900 V", "400 %", ""):
        with pytest.raises(UsageError, match="--at"):
            at(text, loop)


def test_conditions_are_read_like_those_of_readings(loop: Loop) -> None:
    found = condition(["supply off", "jumper X21:4 X21:5"], loop)
    assert set(found) == {Applied("G1", "off"), Jumper("X21:4", "X21:5")}
    with pytest.raises(UsageError, match="--condition"):
        condition(["moon full"], loop)


def moved(loop: Loop, faults: list[str], conditions: list[str]) -> dict[tuple[str, str], float]:
    return situation(Namespace(fault=faults, condition=conditions, at="50"), loop).changes


def test_changes_add_up_and_a_replaced_part_has_no_fault(loop: Loop) -> None:
    assert moved(loop, ["R1:drift=310"], []) == {("R1", "resistance"): pytest.approx(310.0)}
    healed = moved(loop, ["LT-214:dead"], ["LT-214 replaced 12 mA"])
    assert healed["LT-214", "driven_current"] == 12e-3
    assert ("LT-214", "alive") not in healed


def test_two_faults_of_one_value_are_refused(loop: Loop) -> None:
    with pytest.raises(UsageError, match="move the same value"):
        moved(loop, ["R1:drift=310", "R1:open"], [])
