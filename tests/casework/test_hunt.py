"""The hunt without a screen: evidence, advice, open items, mending, resuming.

What each role of a loop needs before it is disturbed, and that acknowledgements of red cautions
are asked for at every step, is common practice without a source (reference: IEC 61511 on
bypasses, as the cautions name it).
"""

import os
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.casework import events as e
from diagnose.casework.checks import CaseError
from diagnose.casework.hunt import Hunt
from diagnose.casework.hunt_task import with_unit, with_value
from diagnose.casework.log import CaseFile
from diagnose.errors import ReadingError
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Reading
from diagnose.inference.readings import parse_line, parse_measurement
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant

LEAK = ("complaint reads high", "process 50 % +- 1 %", "V X21:7 X20:0 3.406")
"""10 kohm between the cores at 50 %: 12 mA + (17.0 V / 10 kohm) = 13.7 mA, 3.42 V at 250 ohm."""

DRAGGED = (
    "complaint reads low", "LIC-214 35.0", "LR-214 35.0", "LI-214 34.9", "V X21:4 PE 20.4",
    "V X21:1 X21:3 3.651", "V X21:7 X20:0 2.399", "clamp W3- 12.0",
)  # fmt: skip
"""A receiver of 1 kohm beside 250 ohm: 200 ohm, 2.40 V at 12 mA; which one, volts do not tell."""


@pytest.fixture(scope="module")
def loop() -> Loop:
    return open_plant().load("LT-214")


@pytest.fixture(scope="module")
def engine(loop: Loop) -> Engine:
    return Engine(loop)


@pytest.fixture
def file(loop: Loop, tmp_path: Path) -> Iterator[CaseFile]:
    with CaseFile.create(tmp_path, loop) as file:
        yield file


@pytest.fixture
def hunt(file: CaseFile, loop: Loop, engine: Engine) -> Hunt:
    return Hunt(file, loop, lambda: engine, "cabinet")


def said(hunt: Hunt, *lines: str) -> Hunt:
    for line in lines:
        hunt.take(line)
    return hunt


def words(file: CaseFile) -> list[str]:
    return [entry.event.word for entry in file.events]


# -- advice


def test_a_loop_with_trip_and_controller_is_left_alone_until_both_are_on_record(
    hunt: Hunt,
) -> None:
    said(hunt, *DRAGGED)
    assert hunt.missing == ("manual", "bypass")
    assert not any(item.interrupts_loop or item.moves_signal for item in hunt.ranking().next)
    hunt.file.append(e.Altered("bypass", "shift lead until 04:00"))
    assert hunt.missing == ("manual",)
    hunt.file.append(e.Altered("manual", "operator agreed"))
    assert hunt.missing == ()
    assert hunt.ranking().next


def test_what_is_put_back_is_missing_again(hunt: Hunt) -> None:
    hunt.file.append(e.Altered("manual", "operator agreed"))
    hunt.file.append(e.Altered("bypass", "shift lead"))
    hunt.file.append(e.Restored("bypass", "shift lead"))
    assert hunt.missing == ("bypass",)


def test_a_loop_without_a_role_needs_no_record(
    hunt: Hunt, file: CaseFile, loop: Loop, engine: Engine
) -> None:
    free = Hunt(file, replace(loop, role=frozenset()), lambda: engine, "cabinet")
    assert free.missing == ()


def test_a_new_advice_goes_on_record_once(hunt: Hunt, file: CaseFile) -> None:
    said(hunt, *LEAK)
    task = hunt.advise()
    assert task is not None
    assert hunt.advise() == task
    assert [item.text for item in file.case.advice] == [task.text]
    assert file.case.last_ranking is not None


def test_a_declined_step_is_not_offered_again(hunt: Hunt, file: CaseFile) -> None:
    task = said(hunt, *LEAK).advise()
    assert task is not None
    hunt.decline(task.measurement, "no clamp here")
    found = [item.measurement for item in hunt.ranking().next]
    assert found
    assert task.measurement not in found
    assert file.case.declined == (e.Declined(task.text, "no clamp here"),)


def test_the_next_best_is_shown_without_declining(hunt: Hunt) -> None:
    said(hunt, *LEAK)
    first, best = hunt.task(), hunt.ranking().next
    assert hunt.other()
    assert first is not None
    assert hunt.task() != first
    assert hunt.ranking().next == best


def test_what_is_ruled_out_stays_so_in_the_next_session(
    hunt: Hunt, file: CaseFile, loop: Loop, engine: Engine
) -> None:
    said(hunt, *LEAK).rule_out("clamp")
    resumed = Hunt(file, loop, lambda: engine, "cabinet")
    for found in (hunt, resumed):
        assert found.without == {"clamp"}
        functions = {item.measurement.function for item in found.ranking().next}
        assert functions
        assert "clamp" not in functions


def test_red_cautions_are_answered_at_every_step(hunt: Hunt, file: CaseFile, loop: Loop) -> None:
    said(hunt, "V JB9:1 JB9:2 17.0")
    hunt.retake(1)
    task = hunt.task()
    assert task is not None
    assert task.red == ("zone", "enclosure")  # the junction box stands in zone 2
    assert not hunt.agreed(task)
    hunt.agree(task)
    assert hunt.agreed(task)
    assert file.case.acknowledged == ("zone", "enclosure")
    hunt.take("V JB9:1 JB9:2 16.9")
    hunt.retake(2)
    again = hunt.task()
    assert again is not None
    assert not hunt.agreed(again)


# -- what is said


@pytest.mark.parametrize(
    ("line", "items"),
    [
        ("V X21:7 X20:0 3.003 with LR-214+.X22 lifted", ["wire lifted: LR-214+.X22"]),
        ("ohm X21:7 X20:0 250 with supply off", ["supply off and isolated: G1"]),
        ("V X21:7 X20:0 1.0 with jumper X21:4 X21:5", ["jumper: X21:4 to X21:5"]),
        ("mA X21:3 X21:4 12.0", ["opened for the meter: X21:3 to X21:4"]),
        (
            "V X21:7 X20:0 1.0 with LT-214 driven 4 mA",
            ["transmitter made to drive a fixed current: LT-214"],
        ),
        ("V X21:7 X20:0 3.0", []),
        ("LIC-214 62 %", []),
    ],
)
def test_a_reading_leaves_open_what_was_done_for_it(
    hunt: Hunt, file: CaseFile, line: str, items: list[str]
) -> None:
    opened = hunt.take(line).opened
    assert list(opened) == items == [str(item) for item in file.case.open_items]
    assert hunt.take(line).opened == ()
    order = [word for word in words(file) if word in ("altered", "reading")]
    assert order == [*(["altered"] * len(items)), "reading", "reading"]


def test_open_items_are_put_back_before_a_step_that_does_not_want_them(hunt: Hunt) -> None:
    said(hunt, *LEAK, "V X21:7 X20:0 3.40 with LR-214+.X22 lifted")
    hunt.file.append(e.Altered("manual", "operator agreed"))
    hunt.retake(2)
    wanting = hunt.task()
    assert wanting is not None
    assert [str(item) for item in hunt.to_put_back(wanting)] == ["wire lifted: LR-214+.X22"]
    hunt.retake(3)
    lifted = hunt.task()
    assert lifted is not None
    assert hunt.to_put_back(lifted) == ()


def test_a_display_read_out_by_radio_moves_nobody(hunt: Hunt) -> None:
    hunt.take("LIC-214 62 %")
    assert hunt.place == "cabinet"
    hunt.take("V JB9:1 JB9:2 17.0")
    assert hunt.place == "junction box"


def test_what_cannot_be_understood_changes_nothing(hunt: Hunt, file: CaseFile) -> None:
    before = file.case
    for line in ("V X21:7", "volts", "", "ohm JB9:1 JB9:2 1.2k", "V X21:7 X20:0 3400"):
        with pytest.raises(ReadingError):
            hunt.take(line)
    assert file.case == before


def test_a_supposed_reading_is_not_entered(hunt: Hunt, file: CaseFile) -> None:
    said(hunt, "complaint reads high", "LT-214 50 %")
    before, case = hunt.ranking(), file.case
    after = hunt.what_if("V X21:7 X20:0 3.406")
    assert abs(after.sound - before.sound) > 0.02
    assert file.case == case
    assert hunt.ranking() == before


def test_a_ranking_that_cannot_be_kept_is_told_and_given(
    hunt: Hunt, file: CaseFile, monkeypatch: pytest.MonkeyPatch
) -> None:
    said(hunt, "complaint reads high", "LT-214 50 %")
    monkeypatch.setattr(os, "write", lambda number, content: (_ for _ in ()).throw(OSError(28, "")))
    assert hunt.ranking().hypotheses
    assert hunt.advise() is not None
    assert [text.split(":")[0] for text in file.warnings] == [
        "'ranked' is not on record", "'advice given' is not on record",
    ]  # fmt: skip


# -- mending


def test_a_correction_is_a_value_or_a_whole_line(hunt: Hunt, file: CaseFile) -> None:
    said(hunt, "V X21:7 X20:0 34.06", "V X21:7 X20:0 3.0 with LR-214+.X22 lifted")
    assert hunt.mending.correct(1, "3.406") == "V X21:7 X20:0 3.406 V"
    assert hunt.mending.correct(2, "3.1") == "V X21:7 X20:0 3.1 V with LR-214+.X22 lifted"
    assert hunt.mending.correct(1, "V X22:1 X20:0 3.40") == "V X22:1 X20:0 3.40 V"
    assert next(item.typed for item in file.case.readings) == "V X21:7 X20:0 34.06 V"
    with pytest.raises(ReadingError):
        hunt.mending.correct(1, "a lot")


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("LIC-214 54.6", "LIC-214 54.6 %"),
        ("LIC-214 982 mm", "LIC-214 982 mm"),
        ("V X21:7 X20:0 3.020", "V X21:7 X20:0 3.020 V"),
        ("V X21:7 X20:0 302m", "V X21:7 X20:0 302m"),
        ("mA X21:4 8,03", "mA X21:4 8,03 mA"),
        ("ohm JB9:1 JB9:2 1200 with supply off", "ohm JB9:1 JB9:2 1200 ohm with supply off"),
        ("V X21:7 X20:0 2.8..3.1", "V X21:7 X20:0 2.8..3.1 V"),
        ("process 60 +- 5", "process 60 +- 5 %"),
        ("LAHH-214 lit", "LAHH-214 lit"),
        ("ohm JB9:1 JB9:2 OL with supply off", "ohm JB9:1 JB9:2 OL with supply off"),
    ],
)
def test_a_reading_is_kept_with_the_unit_it_was_taken_for(
    hunt: Hunt, loop: Loop, typed: str, kept: str
) -> None:
    before, after = parse_line(typed, loop), parse_line(kept, loop)
    assert isinstance(before, Reading)
    assert with_unit(before, loop) == kept
    assert isinstance(after, Reading)
    assert replace(after, text="") == replace(before, text="")
    assert after.rounding == before.rounding


def test_undo_takes_back_step_by_step(hunt: Hunt, file: CaseFile) -> None:
    said(hunt, "V X21:7 X20:0 3.0", "V X21:4 X20:0 20.1")
    hunt.mending.correct(1, "3.1")
    hunt.mending.undo()
    assert file.case.in_force[0].text == "V X21:7 X20:0 3.0 V"
    hunt.mending.undo()
    hunt.mending.undo()
    assert file.case.in_force == ()
    with pytest.raises(CaseError, match="nothing to take back"):
        hunt.mending.undo()


def test_undo_of_a_withdrawal_counts_the_reading_again(hunt: Hunt, file: CaseFile) -> None:
    said(hunt, "V X21:7 X20:0 3.0")
    hunt.mending.withdraw(1, "wrong terminal")
    hunt.mending.undo()
    assert [item.text for item in file.case.in_force] == ["V X21:7 X20:0 3.0 V"]
    assert hunt.numbers() == [2]


def test_undo_after_resuming_takes_back_the_last_reading(
    hunt: Hunt, file: CaseFile, loop: Loop, engine: Engine
) -> None:
    said(hunt, "V X21:7 X20:0 3.0", "V X21:4 X20:0 20.1")
    Hunt(file, loop, lambda: engine, "cabinet").mending.undo()
    assert [item.text for item in file.case.in_force] == ["V X21:7 X20:0 3.0 V"]


def test_undo_of_a_reading_taken_again_brings_the_old_one_back(hunt: Hunt, file: CaseFile) -> None:
    said(hunt, "V X21:7 X20:0 3.0")
    hunt.retake(1)
    hunt.take("V X21:7 X20:0 3.4")
    assert "Reading 1 counts again, as reading 3" in hunt.mending.undo()
    assert [item.text for item in file.case.in_force] == ["V X21:7 X20:0 3.0 V"]


def test_a_reading_taken_again_takes_the_place_of_the_old_one(hunt: Hunt, file: CaseFile) -> None:
    said(hunt, "V X21:7 X20:0 34.06", "V X21:4 X20:0 20.1")
    hunt.retake(1)
    task = hunt.task()
    assert task is not None
    assert task.replaces == 1
    hunt.take(task.line("3.406"))
    assert [item.text for item in file.case.in_force] == [
        "V X21:4 X20:0 20.1 V", "V X21:7 X20:0 3.406 V",
    ]  # fmt: skip
    assert file.case.readings[0].withdrawn == "taken again"


@pytest.mark.parametrize("number", [0, 2, -1, 10**6])
def test_a_reading_that_is_not_there(hunt: Hunt, number: int) -> None:
    said(hunt, "V X21:7 X20:0 3.0")
    jobs: list[Callable[[], object]] = [
        lambda: hunt.mending.correct(number, "3"),
        lambda: hunt.mending.withdraw(number, ""),
        lambda: hunt.retake(number),
    ]
    for job in jobs:
        with pytest.raises(CaseError, match="there are readings 1 to 1"):
            job()


def test_a_distrusted_reading_keeps_its_number_when_others_are_withdrawn(hunt: Hunt) -> None:
    """Volts across R1 read twice as 62 % and once as 6 %: the 1.24 is a slip."""
    said(hunt, "LR-214 62 %", "LIC-214 62 %", "V X21:7 X20:0 1.24", "V X21:7 X20:0 3.48")
    said(hunt, "V LI-214:+ LI-214:- 3.48")
    assert 3 in [item.index for item in hunt.ranking().suspects]
    hunt.mending.withdraw(1, "")
    hunt.ranking()
    assert hunt.case.last_ranking.distrusted == (hunt.case.readings[2].number,)
    assert 3 in [item.index for item in hunt.ranking().suspects]
    assert 1 not in [item.index for item in hunt.ranking().suspects]


# -- resuming


def test_a_session_goes_on_from_the_file(
    hunt: Hunt, file: CaseFile, loop: Loop, engine: Engine
) -> None:
    task = said(hunt, *LEAK).advise()
    path = file.path
    file.close()
    with CaseFile.open(path) as again:
        resumed = Hunt(again, again.loop, lambda: engine, "cabinet")
        assert resumed.task() == task
        assert resumed.ranking() == hunt.ranking()
        assert resumed.case == file.case


def test_a_value_stands_before_the_condition() -> None:
    assert with_value("LAHH-214", "lit") == "LAHH-214 lit"
    loop = open_plant().load("LT-214")
    text = "V X21:7 X20:0 with LT-214 driven 4 mA"
    assert parse_measurement(text, loop).points == ("X21:7", "X20:0")
    assert with_value(text, "1.0") == "V X21:7 X20:0 1.0 with LT-214 driven 4 mA"
