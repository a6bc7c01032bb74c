"""Drills, replays and results as they are typed: what is shown, written and refused."""

import io
import json
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.library import demo_plant


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch):
    """Lines for a session on standard input."""

    def give(*lines: str) -> None:
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))

    return give


WORDS = ("drill", "LT-214", "--fault", "R1:drift=310", "--at", "50%", "--trainee", "7", "--keep")


def test_a_drill_is_hunted_scored_and_told(typed, capsys, tmp_path: Path) -> None:
    typed("V X21:7 X20:0", "nonsense", "lift W3+.X21", "restore", "verdict R1 drift", "close")
    assert main([*WORDS, str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "V X21:7 X20:0: 3.7" in out  # 12 mA x 310 ohm = 3.72 V
    assert "Not done: 'nonsense'" in out
    assert "PLANT: The trip comes in" in out
    plain = " ".join(out.split())
    assert "UNSAFE: a loop that feeds a trip was disturbed, or its key turned, without" in plain
    assert "a bypass that is authorised and recorded." in plain
    assert "It was: R1 drift (sense resistor). That is right." in out
    assert "The rule: - 45 points for the verdict" in " ".join(out.split())
    files = sorted(path.name for path in tmp_path.iterdir())
    assert files == ["LT-214_01.drill.jsonl", "LT-214_01.html", "LT-214_01.md"]
    assert main(["debrief", str(tmp_path / files[0])]) == 0
    assert capsys.readouterr().out == (tmp_path / files[2]).read_text()
    page = tmp_path / "page.html"
    assert main(["debrief", str(tmp_path / files[0]), "--html", str(page)]) == 0
    assert f"Page: {page}" in capsys.readouterr().out and page.is_file()
    csv = tmp_path / "class.csv"
    twice = [str(tmp_path), f"{tmp_path}/."]  # a drill counts once, however its folder is named
    assert main(["results", *twice, "--csv", str(csv), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert len(found["results"]) == 1
    assert found["results"][0]["trainee"] == "7"
    assert csv.read_text().splitlines()[1].startswith("7,")


def test_a_command_of_a_drill_that_is_mistyped_is_named(typed, capsys, tmp_path: Path) -> None:
    typed("verdct R1 drift", "cautoins", "quit")
    assert main([*WORDS, str(tmp_path)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "did you mean the command verdict?" in out
    assert "did you mean the command cautions?" in out


def test_a_drill_is_found_by_its_name_where_drills_are_kept(
    typed, capsys, tmp_path: Path, monkeypatch
) -> None:
    """``debrief LT-214_01``: the folder in which drills are kept need not be typed."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    typed("V X21:7 X20:0", "quit")
    assert main([*WORDS[:-1], "--json"]) == 0
    record = Path(json.loads(capsys.readouterr().out)["record"])
    assert tmp_path in record.parents and record.name == "LT-214_01.drill.jsonl"
    typed("verdict R1 drift", "close")
    assert main(["drill", "--resume", record.name]) == 0
    capsys.readouterr()
    assert main(["debrief", "LT-214_01"]) == 0
    assert "R1 drift" in capsys.readouterr().out


def test_a_drill_that_is_left_goes_on(typed, capsys, tmp_path: Path) -> None:
    typed("V X21:7 X20:0", "quit")
    assert main([*WORDS, str(tmp_path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert not found["closed"]
    assert main(["debrief", found["record"]]) == 2  # it would tell what is still to be found
    caught = capsys.readouterr()
    assert (caught.out, caught.err.count("\n")) == ("", 1)
    assert "R1" not in caught.err
    assert "is not closed" in caught.err
    typed("list", "verdict R1 drift", "close")
    assert main(["drill", "--resume", found["record"], "--json"]) == 0
    caught = capsys.readouterr()
    again = json.loads(caught.out)
    assert "V X21:7 X20:0 3.7" in caught.err
    assert again["closed"]
    assert again["hidden"] == [["R1", "drift"]]
    assert 0 < again["score"]["total"] <= 100


def test_the_trainer_hides_what_he_hides(typed, capsys, tmp_path: Path) -> None:
    typed("rank", "advice", "quit")
    assert main([*WORDS, str(tmp_path), "--advice", "hidden"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "the trainer has hidden the ranking" in out
    assert "the trainer has hidden the advice" in out


def test_advice_that_is_always_shown_is_shown_in_lines_too(typed, capsys, tmp_path: Path) -> None:
    typed("V X21:7 X20:0", "quit")
    assert main([*WORDS, str(tmp_path), "--advice", "shown"]) == 0
    assert "The tool would take: " in capsys.readouterr().out


def test_lessons_of_a_fixed_order_are_taken_in_it(typed, capsys, tmp_path: Path) -> None:
    lessons = tmp_path / "lessons.toml"
    drills = "".join(
        f"[[drill]]\nname = '{name}'\nloop = 'LT-214'\nfaults = ['R1:open']\n" for name in "ab"
    )
    lessons.write_text(f"[class]\norder = 'fixed'\n{drills}")
    words = ["drill", "--lessons", str(lessons), "--keep", str(tmp_path), "--trainee", "5"]
    assert main([*words, "--lesson", "b"]) == 2
    assert "close lesson 1 first" in capsys.readouterr().err
    typed("verdict R1 open", "close")
    assert main([*words, "--lesson", "a"]) == 0
    typed("quit")
    assert main([*words, "--lesson", "b"]) == 0


def test_a_case_is_walked_again(typed, capsys, tmp_path: Path) -> None:
    typed("LIC-214", "LG-214", "verdict none", "close")
    assert main(["replay", "LT-214_2024-06-02_01", "--keep", str(tmp_path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [path["who"] for path in found["paths"]] == ["you", "as logged", "the advice"]
    assert found["evidence"][1:] == ["LIC-214 86.6 %", "LG-214 1566 mm"]  # 87 % of 1800 mm


def test_lessons_are_listed_without_their_faults(capsys) -> None:
    assert main(["lessons"]) == 0
    out = capsys.readouterr().out
    assert "Water in the head of" in out
    assert "leakage" not in out


def test_a_case_is_made_anonymous_once(capsys, tmp_path: Path) -> None:
    target = tmp_path / "shared.jsonl"
    assert main(["anonymise", "LT-214_2024-03-12_01", str(target)]) == 0
    assert "LT-214" not in target.read_text()
    assert main(["anonymise", "LT-214_2024-03-12_01", str(target)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert main(["cases", "show", str(target)]) == 0


def test_a_case_whose_copy_of_the_sheet_is_damaged_is_not_shared(capsys, tmp_path: Path) -> None:
    """Its names are those of the sheet: with one of them lost, nobody knows what is left in."""
    case = demo_plant() / "cases" / "LT-214_2024-03-12_01.jsonl"
    damaged, target = tmp_path / "damaged.jsonl", tmp_path / "shared.jsonl"
    text = case.read_text(encoding="utf-8")
    damaged.write_text(text.replace('{"name": "R1"', '{"name": 7', 1), encoding="utf-8")
    assert damaged.read_text(encoding="utf-8") != text
    assert main(["anonymise", str(damaged), str(target)]) == 2
    assert "copy of the sheet" in capsys.readouterr().err
    assert not target.exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["drill"], "name a loop, or a lesson"),
        (["drill", "--lesson", "moistur"], "did you mean moisture"),
        (["drill", "LT-214", "--seed", "x"], "--seed: 'x' is no whole number"),
        (["drill", "LT-214", "--difficulty", "7"], "difficulty: '7' is none of 1, 2, 3"),
        (["drill", "LT-214", "--draw", "all"], "draw: 'all' is none of"),
        (["drill", "LT-214", "--fault", "R9:drift"], "no part called 'R9'"),
        (["drill", "LT-214", "--complaint", "sings"], "complaint: 'sings' is none of"),
        (["drill", "LT-214", "--trainee", "x" * 70], "at most 60"),
        (["drill", "--resume", "no.drill.jsonl"], "there is no drill 'no.drill.jsonl'"),
        (["debrief", "no.drill.jsonl"], "name its file, such as LT-214_01.drill.jsonl"),
        (["results", "nowhere"], "there is no folder 'nowhere'"),
        (["replay", "LT-216_2024-07-09_01"], "no cause was confirmed"),
        (["lessons", "none.toml"], "no lesson file 'none.toml'"),
    ],
)
def test_what_cannot_be_used_is_told_in_one_line(words, told, capsys, typed) -> None:
    typed()
    assert main(words) == 2
    caught = capsys.readouterr()
    assert told in caught.err
    assert "Traceback" not in caught.err


def test_the_title_of_a_lesson_is_not_told_before_the_end(typed, capsys, tmp_path: Path) -> None:
    typed("verdict none", "close")
    assert main(["drill", "--lesson", "1", "--keep", str(tmp_path), "--plain"]) in (0, 1)
    talk = capsys.readouterr().out
    before, after = talk.split("It was:")
    assert "moisture" not in before.casefold()
    assert "Water in the head" not in before
    assert "I.LT-214 leakage" in after


def test_a_way_without_a_reading_took_no_minute(typed, capsys, tmp_path: Path) -> None:
    typed("verdict not found", "close")
    assert main(["replay", "LT-214_2024-06-02_01", "--keep", str(tmp_path)]) == 0
    assert "you: nothing read, " in " ".join(capsys.readouterr().out.split())


def test_a_drill_in_this_folder_is_found_by_its_bare_name(
    typed, capsys, tmp_path: Path, monkeypatch
) -> None:
    monkeypatch.chdir(tmp_path)
    typed("verdict not found", "close")
    assert main([*WORDS, "kept"]) == 0
    monkeypatch.chdir(tmp_path / "kept")
    capsys.readouterr()
    for name in ("LT-214_01", "../kept/LT-214_01"):
        assert main(["debrief", name]) == 0
        assert "R1 drift" in capsys.readouterr().out


def test_what_may_be_wrong_with_a_part_can_be_looked_up(typed, capsys, tmp_path: Path) -> None:
    """A process connection has no terminals, but a verdict may name it."""
    typed("sheet", "sheet t1", "sheet Q9", "ohm R1", "quit")
    assert main([*WORDS, str(tmp_path)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "LT-214, T1, LG-214" in out
    assert "T1: process connection faults blocked (" in out and "; shifted (" in out
    assert "Not done: no part called 'Q9'; sheet lists them" in out
    assert "Not done: 'ohm R1': no point called 'R1'" in out  # in the words that were typed


def test_an_open_drill_tells_nothing_of_what_is_hidden(typed, capsys, tmp_path: Path) -> None:
    """Neither on the screen, nor as JSON, nor by the name of its file, nor in the results."""
    for lines in (("sheet", "list", "items", "help", "verdict", "quit"), ("verdict R1", "quit")):
        typed(*lines)
        assert main([*WORDS, str(tmp_path), "--json"]) == 0
        told = capsys.readouterr()
        assert "310" not in told.out + told.err
        assert not {"hidden", "verdict", "pages"} & {*json.loads(told.out)}
    assert {path.name for path in tmp_path.iterdir()} == {
        "LT-214_01.drill.jsonl", "LT-214_02.drill.jsonl"}  # fmt: skip
    assert main(["results", str(tmp_path), "--json"]) == 0
    for row in json.loads(capsys.readouterr().out)["results"]:
        assert (row["fault"], row["passed"]) == ("", "not closed")


def test_refusals_name_the_case_or_the_drill_that_they_are_about(
    typed, capsys, tmp_path: Path
) -> None:
    """Which case has the damaged sheet, which lessons there are, and that a drill is no case."""
    case = demo_plant() / "cases" / "LT-214_2024-03-12_01.jsonl"
    damaged = tmp_path / "damaged.jsonl"
    text = case.read_text(encoding="utf-8").replace('{"name": "R1"', '{"name": 7', 1)
    damaged.write_text(text, encoding="utf-8")
    for words in (["draw", "--case", str(damaged)], ["replay", str(damaged)]):
        assert main(words) == 2
        assert f"{damaged}: copy of the sheet: " in capsys.readouterr().err
    assert main(["drill", "--lesson", "99", "--keep", str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert "no lesson called '99'; lessons 1 to 24 are moisture, " in told
    assert main(["drill", "--lesson", "moistur", "--keep", str(tmp_path)]) == 2
    assert "did you mean moisture? Lessons 1 to 24 are" in capsys.readouterr().err
    assert main(["drill", "LT-214", "--keep", str(damaged / "within")]) == 2
    told = capsys.readouterr().err
    assert "no drill is opened" in told and "no case" not in told
