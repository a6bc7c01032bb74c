"""Drills are kept as what was typed, scored again from the file, and collected for a class."""

import csv
import io
import json
from dataclasses import asdict
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.errors import DiagnoseError
from diagnose.training.by_trainee import by_trainee
from diagnose.training.needs import CURES, LEFT
from diagnose.training.pages import html
from diagnose.training.record import Recorder, played, read, records
from diagnose.training.results import (
    changed,
    csv_text,
    missed,
    mistaken,
    page,
    repeated,
    result_of,
)
from diagnose.training.safety import MISTAKES
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
    on = Recorder(d, kept.path, kept.seal)
    on.do("V X21:4 PE")
    on.close()
    assert len(played(read(kept.path), engine()).readings) == 2


@pytest.mark.parametrize(
    ("spoil", "about"),
    [
        (lambda rows: rows, 0),
        (lambda rows: [rows[0].replace('"trainee": "2"', '"trainee": "3"'), *rows[1:]], 2),
        (lambda rows: [*rows[:1], rows[1].replace("jack mA", "jack V"), *rows[2:]], 2),
        (lambda rows: [*rows[:1], *rows[2:]], 2),
        (lambda rows: [*rows[:2], '{"line": "V G1:+ G1:-"}', *rows[2:]], 3),
        (lambda rows: [*rows[:3], rows[3].replace("G1 dead", "R1 drift"), rows[4]], 4),
        (lambda rows: [*rows[:4], '{"line": "close"}'], 5),
    ],
    ids=["as it was", "trainee", "line", "line out", "line in", "verdict", "own end"],
)
def test_a_file_that_was_changed_by_hand_is_told(
    folder: Path, tmp_path: Path, spoil, about: int
) -> None:
    """A verdict that was put right in an editor passed as the trainee's."""
    rows = spoil(records([folder])[1].read_text().splitlines())
    path = tmp_path / "odd.drill.jsonl"
    path.write_text("\n".join(rows) + "\n")
    kept = read(path)
    found = result_of(kept, played(kept, engine()))
    said = f"odd.drill.jsonl, about line {about}" if about else ""
    assert found.file == "odd"
    assert (kept.changed, found.changed, found.cells[-1]) == (about, said, said)
    assert (said in changed([found])) and bool(changed([found])) == bool(about)
    assert ("score may not be" in html(page([found], "class"), "class")) == bool(about)


def test_a_drill_that_was_gone_on_with_is_as_it_was_written(tmp_path: Path) -> None:
    recorder(tmp_path, "4", "V X21:7 X20:0")
    for line in ("V X21:4 PE", "LIC-214"):
        kept = read(records([tmp_path])[0])
        on = Recorder(played(kept, engine()), kept.path, kept.seal)
        on.do(line)
        on.close()
    kept = read(kept.path)
    assert (len(kept.lines), kept.changed) == (3, 0)


def test_a_torn_last_line_costs_only_itself(folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "torn.drill.jsonl"
    path.write_text(records([folder])[0].read_text() + '{"line": "V X2')
    assert len(read(path).lines) == 3


@pytest.mark.parametrize("torn", ["{", '{"line": "V X2', '{"line": "rank"'])
def test_a_drill_goes_on_behind_a_torn_line(folder: Path, tmp_path: Path, torn: str) -> None:
    """Killed while it wrote, then gone on with: all of the drill was lost at the next look."""
    path = tmp_path / "torn.drill.jsonl"
    path.write_text(records([folder])[2].read_text() + torn)
    known = read(path).lines
    for line in ("V X21:4 PE", "LIC-214"):  # left and gone on with, twice
        kept = read(path)
        on = Recorder(played(kept, engine()), path, kept.seal)
        on.do(line)
        on.close()
    assert read(path).lines == (*known, "V X21:4 PE", "LIC-214")
    assert read(path).changed == 0


def test_a_damaged_line_in_the_middle_is_told_with_its_number(folder: Path, tmp_path: Path) -> None:
    lines = records([folder])[0].read_text().splitlines()
    lines[1] = "\0\0\0"
    path = tmp_path / "odd.drill.jsonl"
    path.write_text("\n".join(lines))
    with pytest.raises(DiagnoseError, match="line 2 is damaged"):
        read(path)


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
    assert (rows[2]["passed"], rows[2]["fault"]) == ("not closed", "")  # it can be gone on with
    assert [(c.name, c.times, c.of) for c in missed(found)] == [("R1 drift", 1, 2)]
    assert {c.name for c in mistaken(found)} >= {"short", "wrong jack", "guessed"}
    made = html(page(found, NASTY), NASTY)
    assert "<b>" not in made
    assert "R1 drift" in made


def test_results_are_written_over_no_other_file(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A name completed one word too early cost a drill."""
    other = tmp_path / "other"
    for option in ("--csv", "--html"):
        other.write_text("of my own")
        assert main(["results", str(folder), option, str(other)]) == 2
        assert "is there and is nothing of this kind" in capsys.readouterr().err
        assert other.read_text() == "of my own"
        new = tmp_path / f"new{option}"
        for _ in range(2):
            assert main(["results", str(folder), option, str(new)]) == 0
        assert new.stat().st_size > 100


def test_a_name_that_is_none_is_refused(tmp_path: Path) -> None:
    for name in ("x" * 61, "a\x1b[0m"):
        with pytest.raises(DiagnoseError, match="at most 60 printable"):
            Recorder.create(tmp_path, drill(), name, None)


def test_drills_without_a_name_in_two_folders_are_two_trainees(tmp_path: Path, capsys) -> None:
    """Each is named after its file, and both files have the same name."""
    for name in ("early", "late"):
        (tmp_path / name).mkdir()
        recorder(tmp_path / name, "", "verdict not found")
    folders = [str(tmp_path / name) for name in ("early", "late")]
    assert main(["results", *folders, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [line["trainee"] for line in found["trainees"]] == ["early/LT-214_01", "late/LT-214_01"]


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


def test_to_give_up_honestly_is_worth_less_than_the_name_and_more_than_a_wrong_one(
    tmp_path: Path,
) -> None:
    """Two volts and a resistance say that R1 is off; a wrong name renews a sound supply."""
    fault = {"faults": ("R1:drift=310",), "complaint": "reads high", "process": 0.5}
    read_ = ("shows LT-214", "V X21:7 X20:0", "clamp W3+", "V X21:4 X21:5")
    totals = {}
    for verdict in ("R1 drift", "not found", "G1 dead"):
        lines = (*read_, f"verdict {verdict}", "close")
        totals[verdict] = score_of(recorder(tmp_path, "1", *lines, **fault).drill)
    named, given_up, wrong = totals.values()
    assert given_up.right == 0.0
    assert given_up.narrowed > 0.5
    # Four tenths of 45 points at most, in the share of the bits that were gained.
    assert given_up.verdict == pytest.approx(45 * 0.4 * given_up.narrowed)
    assert wrong.total < given_up.total < named.total
    assert given_up.total < 60  # the usual mark: a cause that is not found is not passed


def test_whoever_opens_the_file_of_a_drill_does_not_read_the_answer(tmp_path: Path) -> None:
    """Neither the fault nor the seed that draws it; the file says that this is no encryption."""
    made = recorder(
        tmp_path, "1", "V X21:7 X20:0", faults=("R1:drift=310",), seed=98765, story="a brown R1"
    )
    text = made.path.read_text(encoding="utf-8")
    head = json.loads(text.splitlines()[0])
    assert "not encrypted" in head["about"]
    told = json.dumps({key: value for key, value in head.items() if key != "sheet"})
    for secret in ("drift", "310", "98765", "brown"):
        assert secret not in told
    assert read(made.path).setting == made.drill.setting


def test_a_file_of_a_drill_from_before_is_still_read(tmp_path: Path) -> None:
    """In the first schema the setting stood in plain words."""
    made = recorder(
        tmp_path, "1", "V X21:7 X20:0", "verdict R1 drift", "close", faults=("R1:drift",)
    )
    first, *rest = made.path.read_text(encoding="utf-8").splitlines()
    head = {**json.loads(first), "schema": 1, "setting": asdict(made.drill.setting)}
    del head["about"]
    old = tmp_path / "old.drill.jsonl"
    old.write_text("\n".join([json.dumps(head), *rest]) + "\n", encoding="utf-8")
    assert read(old).setting == made.drill.setting
    assert score_of(played(read(old), engine())) == score_of(made.drill)


@pytest.mark.parametrize("damaged", ["", "?", "bm8=", "eJyrVgQAAUYAzg==", 7, None])
def test_a_setting_that_cannot_be_unpacked_is_one_line(tmp_path: Path, damaged: object) -> None:
    made = recorder(tmp_path, "1", faults=("R1:drift",))
    first, *rest = made.path.read_text(encoding="utf-8").splitlines()
    head = {**json.loads(first), "setting": damaged}
    made.path.write_text("\n".join([json.dumps(head), *rest]) + "\n", encoding="utf-8")
    with pytest.raises(DiagnoseError, match="this is no file of a drill"):
        read(made.path)


def test_a_trainee_who_is_a_number_is_a_name_on_the_page(folder: Path) -> None:
    """It stood to the right like a score."""
    found = [result_of(kept, played(kept, engine())) for kept in map(read, records([folder]))]
    made = html(page(found, "Class"), "Class")
    assert "<tr><td>2</td>" in made
    assert '<td class="n">' in made


def test_a_drill_that_is_begun_again_is_told(tmp_path: Path) -> None:
    """Once it was closed its debrief has named the fault; another's is no repetition."""
    fault = {"faults": ("R1:drift=310",), "complaint": "reads high"}
    for name in ("Ann", "Ben", " ann "):
        recorder(tmp_path, name, "V X21:7 X20:0", "verdict R1 drift", "close", **fault)
    recorder(tmp_path, "Ben", "verdict none", "close", seed=6)
    found = [result_of(kept, played(kept, engine())) for kept in map(read, records([tmp_path]))]
    said = repeated(found)
    assert "(LT-214_01, LT-214_03)" in said
    assert "Ben" not in said
    assert said in html(page(found, "class"), "class")
    assert repeated(found[:2]) == ""


@pytest.mark.parametrize("typed", ["Bj\u00f6rn", "Bjo\u0308rn", "  Bj\u00f6rn ", "Bj\u00f6rn  "])
def test_one_name_is_one_trainee_however_it_is_typed(tmp_path: Path, typed: str) -> None:
    made = recorder(tmp_path, typed)
    assert read(made.path).trainee == "Bj\u00f6rn"
    assert read(recorder(tmp_path, "   ").path).trainee == ""


def test_each_trainee_is_told_what_to_work_on(tmp_path: Path, capsys) -> None:
    """Gravest first, and in how many of the closed drills it was wanting."""
    fault = {"faults": ("R1:drift=310",), "complaint": "reads high"}
    recorder(tmp_path, "Ann", "mA X21:4", "verdict G1 dead", "close", **fault)
    recorder(tmp_path, "Ann", "jack mA", "V X21:7 X20:0", "verdict not found", "close", **fault)
    recorder(tmp_path, "Ann", "V X21:4 X21:5", **fault)
    found = [result_of(kept, played(kept, engine())) for kept in map(read, records([tmp_path]))]
    (ann,) = by_trainee(found)
    safety, meter = ann.needs[:2]
    assert (safety, meter) == ("safety before a step (2 of 2)", "minding the meter (2 of 2)")
    assert "reading on before a verdict (1 of 2)" in ann.needs
    assert not any("putting back" in need for need in ann.needs)
    assert main(["results", str(tmp_path), "--html", str(tmp_path / "page.html")]) == 0
    assert "Ann should work on: safety before a step (2 of 2)" in capsys.readouterr().out
    made = (tmp_path / "page.html").read_text()
    assert "<li>Ann: safety before a step (2 of 2)" in made
    assert made.index("What to work on") < made.index("The drills")  # who needs what comes first


def test_every_mistake_has_a_cure() -> None:
    assert {*MISTAKES} | {LEFT} == {*CURES}


def test_a_drill_without_a_lesson_is_told_by_its_loop(tmp_path: Path, capsys) -> None:
    recorder(tmp_path, "Ann", "verdict not found", "close")
    assert main(["results", str(tmp_path)]) == 0
    assert "Ann      LT-214" in capsys.readouterr().out
    assert main(["results", str(tmp_path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["results"][0]["file"] == "LT-214_01"


def test_a_closed_drill_is_not_gone_on_with(tmp_path: Path, capsys) -> None:
    """It opened a session in which every line was refused, and wrote its debrief anew."""
    path = recorder(tmp_path, "Ann", "verdict not found", "close").path
    before = path.read_bytes()
    assert main(["drill", "--resume", str(path), "--plain"]) == 2
    assert "is closed already; diagnose debrief" in capsys.readouterr().err
    assert path.read_bytes() == before


def test_results_can_be_shown_to_a_class_without_names(tmp_path: Path, capsys) -> None:
    """On the screen, as a page, as CSV and as JSON; one trainee stays one."""
    for name in ("Zacharias", "Abelard", "Zacharias"):
        recorder(tmp_path, name, "verdict not found", "close")
    page_, table_ = tmp_path / "page.html", tmp_path / "class.csv"
    words = ["results", str(tmp_path), "--nameless", "--html", str(page_), "--csv", str(table_)]
    assert main(words) == 0
    shown = capsys.readouterr().out
    assert main([*words, "--json"]) == 0
    told = capsys.readouterr().out
    for text in (shown, told, page_.read_text(), table_.read_text()):
        assert "Zacharias" not in text and "Abelard" not in text and "LT-214_0" not in text
        assert "trainee 1" in text and "trainee 2" in text and "trainee 3" not in text
    closed = {line["trainee"]: line["closed"] for line in json.loads(told)["trainees"]}
    assert sorted(closed.values()) == [1, 2]
    assert "(2 times)" in shown
