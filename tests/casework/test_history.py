"""Three years of invented cases: enough of them, of every sort, and made by the engine itself.

Sources: none; the demo plant and its history are invented.  That the rankings replay is tested in
`test_verify` on a sample; all of them: ``diagnose cases verify --plant cases/larkmere``.
"""

from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest

from casework.demo_cases import CASES, TOLD
from casework.history_calls import TAKEN, calls
from casework.history_crew import Crew
from diagnose.casework import events as e
from diagnose.casework.case import Case
from diagnose.casework.log import CaseFile, case_files
from diagnose.casework.verify import verify
from diagnose.inference.engine import Engine
from diagnose.loops.plant import open_plant

LEAST, LARGEST = 150, 6_000_000


@pytest.fixture(scope="module")
def files() -> list[CaseFile]:
    return [CaseFile.open(path, write=False) for path in case_files(CASES)]


@pytest.fixture(scope="module")
def cases(files: list[CaseFile]) -> list[Case]:
    return [file.case for file in files]


def test_there_are_enough_on_every_sheet_over_three_years(cases: list[Case]) -> None:
    assert len(cases) - len(TOLD) >= LEAST
    assert {case.tag for case in cases} == set(open_plant(CASES.parent).tags())
    assert {case.opened.year for case in cases} == {2023, 2024, 2025}


def test_they_are_small_enough_to_ship() -> None:
    assert sum(path.stat().st_size for path in case_files(CASES)) <= LARGEST


def test_no_file_is_damaged(files: list[CaseFile]) -> None:
    assert [file.path.stem for file in files if file.warnings] == []


def test_every_way_to_end_is_there_and_some_have_not_ended(cases: list[Case]) -> None:
    ends = Counter(case.status for case in cases)
    assert {*e.ENDINGS, "open"} == set(ends)
    assert ends[e.CONFIRMED] > len(cases) / 3
    assert min(ends.values()) >= 3


def test_people_are_people(cases: list[Case]) -> None:
    """Slips, withdrawn readings, cautions that nobody answered, things not put back."""
    readings = [item for case in cases for item in case.readings]
    assert any(item.text != item.typed for item in readings)
    assert any(item.withdrawn for item in readings)
    assert any(case.open_items for case in cases)
    assert any(case.declined for case in cases)
    assert any(not case.acknowledged and len(case.readings) > 4 for case in cases)


def test_a_wet_box_calls_again_and_again(cases: list[Case]) -> None:
    wet = [c for c in cases if c.cause and (c.cause.part, c.tag) == ("I.JB11", "LT-216")]
    assert len(wet) >= 4
    gaps = [(b.opened - a.opened).days for a, b in pairwise(sorted(wet, key=lambda c: c.opened))]
    assert min(gaps) < 30


def test_one_supply_takes_two_loops_on_one_day(cases: list[Case]) -> None:
    day = [case for case in cases if f"{case.opened:%Y-%m-%d}" == "2025-06-18"]
    assert {"LT-214", "LT-216"} <= {case.tag for case in day}
    assert {case.cause.part for case in day if case.cause} == {"G1"}


def test_hunts_take_time_and_go_forward(files: list[CaseFile]) -> None:
    for file in files:
        times = [entry.at for entry in file.events]
        assert times == sorted(times)
        assert times[-1] > times[0]


def test_calls_keep_clear_of_the_stories() -> None:
    days = {(tag, call.at.date()) for tag, some in calls().items() for call in some}
    assert days.isdisjoint(TAKEN)
    assert {f"{tag}_{day}_01" for tag, day in TAKEN} == set(TOLD)


def test_the_same_seed_makes_the_same_case_and_it_replays(tmp_path: Path) -> None:
    loop = open_plant(CASES.parent).load("TT-132")
    engine, call = Engine(loop), calls()["TT-132"][0]
    made = []
    for name in ("a", "b"):
        Crew(call, tmp_path / name, loop, engine).work()
        [path] = (tmp_path / name).glob("*.jsonl")
        made.append(path)
    assert made[0].read_bytes() == made[1].read_bytes()
    assert verify(made[0]) == []
