"""What a person can set by hand of what a loop is told to do, and what may move with it.

Common practice, no source: with operations, a controller is put in manual and its output moved,
and gauge and stem are watched; a valve in service is not driven to its ends for it.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.inference.candidates import candidates
from diagnose.inference.commanded import commands, side, strokes
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Applied
from diagnose.inference.readings import parse_line
from diagnose.loops.loop import EARTH, Loop
from diagnose.loops.sheet import load_sheet

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"


def loop(tag: str) -> Loop:
    return load_sheet(SHEETS / f"{tag}.toml")


def set_to(value: float) -> tuple[Applied, ...]:
    return (Applied("LIC-214", "driven", value),)


@pytest.fixture(scope="module")
def control() -> Engine:
    return Engine(loop("LIC-214"))


def test_the_output_of_a_control_loop_can_be_set_by_hand() -> None:
    assert list(commands(loop("LIC-214"))) == [set_to(0.5)]


def test_a_valve_in_service_is_not_driven_to_its_ends() -> None:
    """A control loop's own process answers at once; an output sheet knows of no process."""
    assert list(strokes(loop("LIC-214"))) == [set_to(0.25), set_to(0.75)]
    assert list(strokes(loop("LV-214"))) == [set_to(0.0), set_to(1.0)]


def test_an_input_loop_has_no_command() -> None:
    assert not list(commands(loop("PT-322")))


def test_air_and_valve_are_on_the_side_of_the_output_and_the_input_is_not() -> None:
    """As the head of the loop type draws it: output LC, AO1, LY, CV; input TX, R1, receivers."""
    near = side(loop("LIC-214"), set_to(0.5))
    assert {"AO1", "LY-214", "LV-214", "PG1", "PG2", "PG3", "AS", "X31:2"} <= near
    assert near.isdisjoint({"LT-214", "LI-214", "LR-214", "LG-214", "H1", "RL1", "X21:7", EARTH})


@pytest.mark.parametrize(("tag", "station"), [("LIC-214", "LIC-214"), ("FV-118", "FIC-118")])
def test_a_manual_lamp_tells_nothing_while_a_person_sets_the_output(tag: str, station: str) -> None:
    """To set it by hand the controller is put in manual: its lamp is lit whatever it was before."""
    sheet = loop(tag)
    under = [
        item.measurement.points[0]
        for item in candidates(sheet)
        if any(
            isinstance(one, Applied) and one.part == station for one in item.measurement.condition
        )
    ]
    assert station in under and f"{station}.M" not in under
    assert ("shows", (f"{station}.M",), ()) in {
        (one.measurement.function, one.measurement.points, one.measurement.condition)
        for one in candidates(sheet)
    }


def test_all_of_an_output_loop_hangs_on_its_command() -> None:
    output = loop("LV-214")
    near = side(output, set_to(0.5))
    others = {part.name for part in output.parts if EARTH not in part.pins.values()} - near
    assert others == {"LIC-214.M"}


def test_only_what_may_move_is_offered_under_a_command(control: Engine) -> None:
    under = {
        item.measurement.points
        for item in control.candidates
        if item.measurement.condition == set_to(0.75)
    }
    assert {("LV-214",), ("PG3",), ("LIC-214",)} <= under
    assert not under & {("LI-214",), ("LR-214",), ("LG-214",), ("H1",)}


@pytest.mark.parametrize("moves", [True, False])
def test_a_stuck_valve_shows_when_its_output_is_moved(control: Engine, moves: bool) -> None:
    """It stood at 50 % where 50 % was asked for, and so would gauge and stem of a sound one.

    What else may stand still at 50 % lies before the gauge, which follows; a handwheel, and a
    wrong reading, are left.
    """
    asked = "with LIC-214 driven 75 %"
    lines = (
        "complaint does not follow", "LIC-214 50 %", "LIC-214.M off", "PG3 60 kPa",
        "LV-214 50 %", f"PG3 80 kPa {asked}", f"LV-214 {74 if moves else 50} % {asked}",
    )  # fmt: skip
    ranking = control.rank([parse_line(line, control.loop) for line in lines])
    stuck = sum(
        h.probability for h in ranking.hypotheses if (h.part, h.fault) == ("LV-214", "stuck")
    )
    assert stuck < 0.02 if moves else stuck > 0.8
