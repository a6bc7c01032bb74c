"""Output loops as the technician meets them: complaints, conclusions, cautions.

What leads is common practice, no source: look at the mode first, then the current, then the air.
"""

from __future__ import annotations

from functools import cache

import pytest

from diagnose.inference.cautions import cautions_for, needs_for
from diagnose.inference.complaints import complaints
from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_line, parse_measurement
from diagnose.library import demo_plant
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant

TAGS = ["LV-214", "FV-118"]


@cache
def loop(tag: str) -> Loop:
    return open_plant(demo_plant()).load(tag)


@cache
def engine(tag: str) -> Engine:
    return Engine(loop(tag))


def rank(tag: str, *lines: str) -> Ranking:
    return engine(tag).rank([parse_line(line, loop(tag)) for line in lines])


def leads(ranking: Ranking) -> set[tuple[str | None, str]]:
    """Part and fault of everything in the leading group that counts."""
    group = ranking.hypotheses[0].group
    return {
        (item.part, item.fault)
        for item in ranking.hypotheses
        if item.group == group and item.probability > 0.02
    }


@pytest.mark.parametrize("tag", TAGS)
def test_only_complaints_that_an_output_can_give_rise_to_are_offered(tag: str) -> None:
    offered = complaints(loop(tag))
    assert {"does not follow", "reads low", "reads zero", "frozen", "clips"} <= {*offered}
    assert not {"disagree", "tripped", "stays on", "stays off"} & {*offered}


@pytest.mark.parametrize("tag", TAGS)
def test_a_valve_that_does_not_follow_is_mostly_nothing_electrical(tag: str) -> None:
    told = rank(tag, "complaint does not follow")
    assert told.sound > 0.5
    assert told.next[0].place in ("control room", "cabinet")
    assert not told.next[0].interrupts_loop


@pytest.mark.parametrize(
    ("tag", "lines", "due"),
    [
        ("LV-214", ["frozen", "LIC-214 40 %", "LIC-214.M lit"], ("LIC-214.M", "left in manual")),
        ("LV-214", ["reads zero", "LIC-214 72 %", "clamp W7+ 15.5 mA", "PG1 0 kPa"],
         ("AS", "lost")),
        # 60 kPa of air hold the outlet at 60 kPa where 77.6 kPa are asked for
        (
            "LV-214",
            ["reads low", "LIC-214 72 %", "clamp W7+ 15.5 mA", "PG1 60 kPa", "PG2 60 kPa"],
            ("AS", "low"),
        ),
        (
            "LV-214",
            ["does not follow", "LIC-214 72 %", "clamp W7+ 15.5 mA", "PG3 78 kPa", "LV-214 30 %"],
            ("LV-214", "stuck"),
        ),
        # what goes in is right and what comes out is nothing, with the air there
        (
            "LV-214",
            [
                "reads zero", "LIC-214 72 %", "V LY-214:+ LY-214:- 2.73", "PG1 140 kPa",
                "PG2 6 kPa", "K1 dark",
            ],
            ("LY-214.P", "restriction plugged"),
        ),
        ("LV-214", ["reads zero", "LIC-214 50 %", "V LY-214:+ LY-214:- -2.11",
                    "V JB10:1 JB10:2 2.12"], ("W8", "swapped")),
        ("LV-214", ["reads zero", "LIC-214 50 %", "V LY-214:+ LY-214:- 18.59"], ("LY-214", "open")),
        # 12 mA through 176 ohm are 2.11 V at the coil; the stem is where the current says
        ("LV-214", ["does not follow", "LIC-214 80 %", "clamp W7+ 12.0 mA",
                    "V K1:+ K1:- 5.81"], ("K1", "frozen")),
        ("FV-118", ["reads zero", "FIC-118 50 %", "V ZC-118:+ ZC-118:- -0.82",
                    "V JB12:1 JB12:2 0.85"], ("W12", "swapped")),
        (
            "FV-118",
            ["does not follow", "FIC-118 50 %", "ZC-118 50 %", "PG2 400 kPa", "FV-118 20 %"],
            ("FV-118", "stuck"),
        ),
        (
            "FV-118",
            ["reads zero", "FIC-118 50 %", "V ZC-118:+ ZC-118:- 10.1", "ZC-118 -10 %"],
            ("ZC-118", "dead"),
        ),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else "",
)  # fmt: skip
def test_what_the_trade_would_conclude(tag: str, lines: list[str], due: tuple[str, str]) -> None:
    complaint, *readings = lines
    told = rank(tag, f"complaint {complaint}", *readings)
    assert due in leads(told)
    assert told.unexplained < 0.1


def test_coil_ohms_stay_unknown_and_so_do_milliamperes_from_its_volts() -> None:
    """A coil resistance of another maker is 5 % off: 0.1 V at the coil is no fault of the card."""
    told = rank("LV-214", "complaint does not follow", "LIC-214 50 %", "V LY-214:+ LY-214:- 2.05")
    card = sum(item.probability for item in told.hypotheses if item.part == "K1")
    assert card < 0.15


@pytest.mark.parametrize("tag", TAGS)
def test_work_on_an_output_moves_the_plant(tag: str) -> None:
    station = loop(tag).parts[0].name
    driven = parse_measurement(f"{tag} with {station} driven 50 %", loop(tag))
    assert {"manual", "output", "restore"} <= {*cautions_for(driven, loop(tag))}
    assert needs_for(driven, loop(tag)) == (
        "operator told",
        "loop in manual",
        "final element isolated or blocked in",
    )
    looked = parse_measurement(tag, loop(tag))
    assert cautions_for(looked, loop(tag)) == ()
    ohms = parse_measurement("ohm K1:+ K1:- with K1 off", loop(tag))
    assert {"manual", "output", "de-energise"} <= {*cautions_for(ohms, loop(tag))}


@pytest.mark.parametrize("tag", TAGS)
def test_repairs_of_the_air_warn_of_stored_energy(tag: str) -> None:
    modes = [
        (part, mode)
        for part in loop(tag).parts
        for mode in part.kind.modes
        if part.place == "valve" and mode.group == "process connection"
    ]
    assert len(modes) > 6
    assert all("output" in mode.cautions for _, mode in modes)
    loosened = [mode for part, mode in modes if part.name != "HW"]
    assert all("air" in mode.cautions for mode in loosened)


def test_an_output_is_stroked_from_end_to_end() -> None:
    texts = {
        item.measurement.condition[0].value
        for item in engine("LV-214").candidates
        if item.measurement.points == ("LV-214",) and item.measurement.condition
    }
    assert texts == {0.0, 0.5, 1.0}
