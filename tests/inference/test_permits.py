"""Permits are minutes: waited for once at each place, and part of what a measurement costs."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.errors import DiagnoseError
from diagnose.inference.candidates import HOME, MANNED, permit, travel, visited
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Measurement
from diagnose.inference.readings import parse_lines
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.loops.sheet import load_sheet
from diagnose.training.commands import do
from diagnose.training.drill import Drill
from diagnose.training.setting import Setting

SHEET = Path(__file__).resolve().parents[2] / "cases" / "larkmere" / "sheets" / "LT-214.toml"

LINES = ("complaint reads high", "LT-214 50 %", "V X21:7 X20:0 3.406")
DRIVEN = (*LINES, "V X21:7 X20:0 1.514 with LT-214 driven 4 mA")
"""The clamp in the junction box is next."""
THERE = "junction box"


def with_permits(minutes: float) -> Loop:
    loop = open_plant().load("LT-214")
    places = tuple(
        replace(place, permit=minutes if place.name != HOME else 0.0) for place in loop.places
    )
    return replace(loop, places=places, digest=f"{loop.digest} {minutes}")


@cache
def engine(minutes: float) -> Engine:
    return Engine(with_permits(minutes))


def test_a_permit_is_waited_for_once() -> None:
    """Ten minutes of way, six to set up: 16, and 20 more where nobody has been."""
    loop = with_permits(20)
    assert travel(loop, HOME, THERE) == pytest.approx(36)
    assert travel(loop, HOME, THERE, {THERE}) == pytest.approx(16)
    assert travel(loop, THERE, THERE) == 0
    assert travel(loop, HOME, MANNED) == 0  # who answers the radio there needs none of ours
    assert permit(loop, THERE, ()) == 20
    assert permit(loop, HOME, ()) == 0


def test_where_somebody_has_been_is_told_by_what_was_read() -> None:
    e = engine(20)
    taken = [Measurement("V", ("JB9:1", "JB9:2")), Measurement("clamp", ("W3+",))]
    assert THERE in visited(e.loop, e.candidates, taken)
    assert visited(e.loop, e.candidates, []) == frozenset()
    strange = Measurement("V", ("JB9:2", "JB9:1"))
    assert visited(e.loop, (), [strange]) == {THERE}


def test_a_permit_is_part_of_what_a_measurement_costs() -> None:
    free, bound = (
        {item.text: item for item in engine(m).rank(parse_lines(DRIVEN, engine(m).loop)).next}
        for m in (0.0, 20.0)
    )
    clamped = {text for text in free if text.startswith("clamp") and free[text].place == THERE}
    there = clamped & set(bound)
    assert there
    for text in there:
        assert bound[text].minutes - free[text].minutes == pytest.approx(20)
        assert bound[text].permit == 20
    assert free
    assert all(item.permit == 0 for item in free.values())


def test_a_dear_permit_keeps_the_hunt_where_none_is_needed() -> None:
    """With eight hours to wait outside, nothing out there is worth a bit any more."""
    steps = engine(480.0).rank(parse_lines(LINES, engine(480.0).loop)).next
    assert {step.place for step in steps} <= {HOME, MANNED}
    assert THERE in {
        step.place for step in engine(0.0).rank(parse_lines(LINES, engine(0.0).loop)).next
    }


def test_permits_do_not_move_the_ranking() -> None:
    free, bound = (engine(m).rank(parse_lines(LINES, engine(m).loop)) for m in (0.0, 480.0))
    assert [h.probability for h in free.hypotheses] == [h.probability for h in bound.hypotheses]


def test_at_a_place_with_its_permit_the_next_reading_is_quick() -> None:
    """Back in the cabinet after a reading in the junction box: the way again, no wait."""
    e = engine(20.0)
    read = "V X21:7 X20:0 1.514 with LT-214 driven 4 mA"
    before, after = (
        e.rank(parse_lines((*LINES, read, *more), e.loop), place=HOME).next
        for more in ((), ("clamp W4+ 4.03",))
    )
    assert [item.permit for item in before if item.place == THERE] == [20]
    assert all(item.permit == 0 for item in after if item.place == THERE)
    assert any(item.place == THERE for item in after)


def test_a_sheet_declares_a_permit_and_the_step_tells_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = SHEET.read_text(encoding="utf-8")
    mark = 'area = "zone 2"\n'
    assert text.count(mark) == 1
    sheet = tmp_path / "LT-214.toml"
    sheet.write_text(text.replace(mark, f"{mark}permit = 20\n"), encoding="utf-8")
    lines = (*LINES, "V X21:7 X20:0 1.514 with LT-214 driven 4 mA")
    assert main(["rank", str(sheet), *lines]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "38 minutes, 20 minutes of them for a permit to work there." in told


def test_a_wrong_permit_is_refused_in_one_line(tmp_path: Path) -> None:
    text = SHEET.read_text(encoding="utf-8").replace('area = "zone 2"\n', 'permit = "soon"\n')
    (tmp_path / "LT-214.toml").write_text(text, encoding="utf-8")
    with pytest.raises(DiagnoseError, match=r"place junction box: permit"):
        load_sheet(tmp_path / "LT-214.toml")


def test_a_trainee_waits_for_a_permit_once() -> None:
    """There, away, and back: the way out and back is walked twice, the permit waited for once."""
    free, bound = (_clock(minutes) for minutes in (0.0, 20.0))
    assert bound - free == pytest.approx(20)


def _clock(minutes: float) -> float:
    drill = Drill(Setting("LT-214", ("R1:drift=310 ohm",)), engine(minutes))
    for line in (f"at {THERE}", "V JB9:1 JB9:2", f"at {HOME}", f"at {THERE}"):
        do(drill, line)
    return drill.clock
