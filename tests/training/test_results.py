"""Drills are kept as what was typed, scored again from the file, and collected for a class."""

import csv
import io
import json
from pathlib import Path

import pytest

from diagnose.errors import DiagnoseError
from diagnose.training.by_trainee import by_trainee
from diagnose.training.pages import html
from diagnose.training.record import Recorder, played, read, records
from diagnose.training.results import csv_text, missed, mistaken, page, result_of
from diagnose.training.score import score_of
from drill_stand import drill, engine

NASTY = "=cmd|'/c calc'!A1 <b>"


def recorder(folder: Path, name: str, *lines: str, **setting: object) -> Recorder:
    made = Recorder.create(folder, drill(**setting), name, None)
    for line in lines:
        made.do(line)
    made.close()
    return made


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    found = tmp_path_factory.mktemp("class")
    fault = {"faults": ("R1:drift=310",), "complaint": "reads high"}
    recorder(found, NASTY, "V X21:7 X20:0", "verdict R1 drift", "close", **fault)
    recorder(found, "2", "jack mA", "V X21:4 X21:5", "verdict G1 dead", "close", **fault)
    recorder(found, "3", "V X21:7 X20:0", **fault)
    return found


def test_a_drill_is_played_again_from_its_file(folder: Path) -> None:
    path = records([folder])[0]
    first, again = (played(read(path), engine()) for _ in range(2))
    assert first.evidence == again.evidence
    assert first.closed
    assert score_of(first) == score_of(again)


def test_a_drill_that_was_left_goes_on_where_it_stood(folder: Path) -> None:
    kept = read(records([folder])[2])
    d = played(kept, engine())
    assert not d.closed
    assert len(d.readings) == 1
    on = Recorder(d, kept.path)
    on.do("V X21:4 PE")
    on.close()
    assert len(played(read(kept.path), engine()).readings) == 2


def test_a_torn_last_line_costs_only_itself(folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "torn.drill.jsonl"
    path.write_text(records([folder])[0].read_text() + '{"line": "V X2')
    assert len(read(path).lines) == 3


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", "[" * 9999, '{"event": "drill", "schema": 9}', "nonsense\nx"]
)
def test_what_is_no_drill_is_told(text: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.drill.jsonl"
    path.write_text(text)
    with pytest.raises(DiagnoseError, match="no file of a drill"):
        read(path)


def test_a_changed_line_is_told_with_its_number(folder: Path, tmp_path: Path) -> None:
    lines = records([folder])[0].read_text().splitlines()
    lines[1] = json.dumps({"line": "V Q1 Q2"})
    path = tmp_path / "odd.drill.jsonl"
    path.write_text("\n".join(lines))
    with pytest.raises(DiagnoseError, match="line 2"):
        played(read(path), engine())


def test_the_table_tells_faults_and_mistakes_and_harms_no_spreadsheet(folder: Path) -> None:
    found = [result_of(kept, played(kept, engine())) for kept in map(read, records([folder]))]
    rows = list(csv.DictReader(io.StringIO(csv_text(found))))
    assert len(rows) == 3
    assert rows[0]["trainee"] == f"'{NASTY}"
    assert rows[0]["passed"] == "yes" or float(rows[0]["score"]) > 0
    # 0.00 V with a lead in the mA jack says nothing of G1: the readings did not bear it out
    assert rows[1]["mistakes"] == "short, wrong jack, guessed"
    assert rows[2]["passed"] == "not closed"
    assert [(c.name, c.times, c.of) for c in missed(found)] == [("R1 drift", 1, 2)]
    assert {c.name for c in mistaken(found)} >= {"short", "wrong jack", "guessed"}
    made = html(page(found, NASTY), NASTY)
    assert "<b>" not in made
    assert "R1 drift" in made


def test_a_name_that_is_none_is_refused(tmp_path: Path) -> None:
    for name in ("x" * 61, "a\x1b[0m"):
        with pytest.raises(DiagnoseError, match="at most 60 printable"):
            Recorder.create(tmp_path, drill(), name, None)


def test_trainees_stand_side_by_side(tmp_path: Path) -> None:
    """Two drills of one, one of another: means by hand, a drill left open is in none of them."""
    fault = {"faults": ("R1:drift=310",), "complaint": "reads high"}
    two = recorder(tmp_path, "Ann", "V X21:7 X20:0", "verdict R1 drift", "close", **fault)
    one = recorder(tmp_path, "Ann", "verdict not found", "close", **fault)
    recorder(tmp_path, "Ann", "V X21:7 X20:0", **fault)
    recorder(tmp_path, "Ben", "verdict G1 dead", "close", **fault)
    found = [result_of(kept, played(kept, engine())) for kept in map(read, records([tmp_path]))]
    ann, ben = by_trainee(found)
    assert (ann.trainee, ann.closed, ann.left, ann.right, ann.readings) == ("Ann", 2, 1, 1, 0.5)
    totals = score_of(two.drill).total, score_of(one.drill).total
    assert ann.score == pytest.approx(sum(totals) / 2)
    assert ann.minutes == pytest.approx((two.drill.clock + one.drill.clock) / 2)
    assert (ben.closed, ben.passed, ben.right, ben.guessed, ben.minutes) == (1, 0, 0, 1, 0.0)


def test_a_drill_can_be_given_up_without_a_false_verdict(tmp_path: Path) -> None:
    """It claims neither a sound loop nor a part: it is not right, and it is no guess."""
    recorder(tmp_path, "1", "verdict not found", "close", faults=("R1:drift=310",))
    recorder(tmp_path, "1", "verdict Not found", "close", draw="none")
    for path in records([tmp_path]):
        result = result_of(read(path), played(read(path), engine()))
        assert (result.verdict, result.mistakes) == ("not found", ())
        assert result.score is not None
        assert (result.score.right, result.score.total) == (0.0, 0.0)
