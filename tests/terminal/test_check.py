"""``check``: what it finds in files and folders, in text and in JSON, alone and in parallel."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from diagnose.__main__ import main


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, dict]:
    code = main(["check", *words, "--json"])
    return code, json.loads(capsys.readouterr().out)


@pytest.fixture
def small_plant(tmp_path: Path, sheets: Path) -> Path:
    """A plant with one sheet of five parts, named after its tag."""
    (tmp_path / "sheets").mkdir()
    (tmp_path / "plant.toml").write_text('[plant]\nname = "Test works"\n')
    shutil.copy(sheets / "small.toml", tmp_path / "sheets" / "XT-1.toml")
    return tmp_path


def copy(plant: Path, tag: str, *changes: tuple[str, str]) -> None:
    text = (plant / "sheets" / "XT-1.toml").read_text().replace('"XT-1"', f'"{tag}"')
    for old, new in changes:
        text = text.replace(old, new)
    (plant / "sheets" / f"{tag}.toml").write_text(text)


def test_a_warning_is_no_problem_unless_strict(sheets, capsys):
    """The reference loop starves at 20.5 mA (ngspice, test_loop_budget)."""
    sheet = str(sheets / "b3.toml")
    assert main(["check", sheet]) == 0
    shown = capsys.readouterr().out
    assert "warning" in shown
    assert "at 20.50 mA (saturation) it lacks 102 mV" in " ".join(shown.split())
    assert "1 file, no problem, 1 warning." in shown
    assert main(["check", sheet, "--strict"]) == 1


def test_json_holds_the_budget_in_numbers(sheets, capsys):
    code, found = printed(capsys, str(sheets / "b3.toml"))
    [file] = found["files"]
    assert code == 0
    assert file["sound"] is True
    assert [item["meaning"] for item in file["budgets"]] == [
        "100 %", "saturation", "a failure signalled high",
    ]  # fmt: skip
    assert file["budgets"][0]["nominal"] == pytest.approx(0.194, abs=0.005)
    assert [item["holds"] for item in file["budgets"]] == [True, False, False]


def test_warm_cables_take_volts(root, capsys):
    """W3 and W4 of the type: 270 m of 24.5 ohm/km in the loop, 40 K warmer: 0.00393/K of it."""
    worst = []
    for warm in ("20 degC", "60 degC"):
        model = str(root / "models" / "barrier-input.toml")
        _, found = printed(capsys, model, "--cables", warm)
        worst.append(found["files"][0]["budgets"][0]["worst"])
    assert worst[0] - worst[1] == pytest.approx(0.020 * 0.27 * 24.5 * 0.00393 * 40, rel=0.05)


def test_a_plant_is_checked_with_all_that_lies_in_it(small_plant, capsys):
    copy(small_plant, "XT-2", ("X1:", "X2:"))
    copy(small_plant, "XT-3", ('"24 V"', '"24"'))
    text = (small_plant / "sheets" / "XT-1.toml").read_text()
    (small_plant / "sheets" / "wrong.toml").write_text(text)
    code, found = printed(capsys, "--plant", str(small_plant))
    by_name = {Path(item["file"]).name: item for item in found["files"]}
    assert code == 1
    assert list(by_name) == ["plant.toml", "XT-1.toml", "XT-2.toml", "XT-3.toml", "wrong.toml"]
    [unit] = by_name["XT-3.toml"]["problems"]
    assert unit["problem"] == '"24" has no unit; write "24 V"'
    [name] = by_name["wrong.toml"]["problems"]
    assert name["problem"] == "'XT-1' stands here; name the file after its tag, XT-1.toml"
    assert [one["level"] for one in found["between"]] == ["problem"]


def test_terminals_on_two_sheets_are_told_for_the_plant(small_plant, capsys):
    copy(small_plant, "XT-2")
    code, found = printed(capsys, "--plant", str(small_plant))
    assert code == 0
    [one] = found["between"]
    assert one["text"].startswith("cabinet: X1:7 stands on the sheets of XT-1, XT-2")


def test_processes_find_what_one_finds(small_plant, capsys):
    for n in range(2, 9):
        more = [('"24 V"', "24")] if n == 5 else []
        copy(small_plant, f"XT-{n}", ("X1:", f"X{n}:"), *more)
    alone = printed(capsys, "--plant", str(small_plant), "--workers", "1")
    assert printed(capsys, "--plant", str(small_plant), "--workers", "2") == alone
    assert alone[0] == 1
    assert len(alone[1]["files"]) == 9


def test_a_case_is_checked(plant, tmp_path, capsys):
    good = next((plant / "cases").glob("*.jsonl"))
    lines = good.read_text().splitlines(keepends=True)
    torn, lost, none = (tmp_path / f"{name}.jsonl" for name in ("torn", "lost", "none"))
    torn.write_text("".join(lines[:4]) + lines[4][:20])
    lost.write_text("".join(lines[:3] + lines[4:]))
    none.write_text("{}\n")
    code, found = printed(capsys, *map(str, (good, torn, lost, none)))
    first, second, third, fourth = found["files"]
    assert code == 1
    assert (first["sound"], first["tag"]) == (True, good.stem.partition("_")[0])
    assert second["sound"] is True
    assert "cut short while it was written" in second["findings"][0]["text"]
    assert third["problems"][0]["problem"] == "record 4 is missing"
    assert "is no case file" in fourth["problems"][0]["problem"]


def test_points_and_places_that_nothing_reaches_are_told(small_plant, capsys):
    sheet = small_plant / "sheets" / "XT-1.toml"
    sheet.write_text(sheet.read_text() + '\n[[place]]\nname = "attic"\nminutes = 9\n')
    _, found = printed(capsys, "--plant", str(small_plant))
    told = {one["key"]: one for one in found["files"][1]["findings"]}
    assert told["point X1:7"]["level"] == told["place attic"]["level"] == "warning"
    assert "no second point to measure against" in told["point X1:7"]["text"]


def test_notes_are_told_for_one_file_and_on_demand(sheets, capsys):
    some = [str(sheets / "small.toml"), str(sheets / "bare.toml")]
    main(["check", *some])
    assert "3 notes (--notes shows them)" in capsys.readouterr().out
    main(["check", *some, "--notes"])
    assert "(284 ohm) to spare in the worst case" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--cables", "warm"), "--cables: 'warm' is not a number with a unit"),
        (("--cables", "900 degC"), "--cables: '900 degC' is not between -60 and 200 degC"),
        (("--workers", "0"), "--workers: '0' is no whole number from 1 to 256"),
        (("--workers", "two"), "--workers: 'two' is no whole number from 1 to 256"),
    ],
)
def test_a_wrong_option_is_told_in_one_line(words, sentence, capsys):
    assert main(["check", *words]) == 2
    error = capsys.readouterr().err
    assert sentence in error
    assert error.count("\n") == 1


def test_a_tag_stands_for_its_sheet(small_plant, capsys):
    code, found = printed(capsys, "xt-1", "--plant", str(small_plant))
    assert code == 0
    assert [item["tag"] for item in found["files"]] == ["XT-1"]
    assert main(["check", "XT-9", "--plant", str(small_plant)]) == 2
    assert "there is no file 'XT-9'; did you mean XT-1?" in capsys.readouterr().err
    assert main(["check", "xt1", "--plant", str(small_plant)]) == 0  # its hyphen left out


def test_a_loop_type_is_checked_by_its_name(small_plant, capsys):
    """A shipped one, and one of the plant's own, which goes before it."""
    code, found = printed(capsys, "series-input", "--plant", str(small_plant))
    assert (code, len(found["files"])) == (0, 1)
    own = small_plant / "models" / "series-input.toml"
    own.parent.mkdir()
    own.write_text('[loop]\nrange = ["0 %", "100 %"]\n')
    code, found = printed(capsys, "series-input", "--plant", str(small_plant))
    assert (code, found["files"][0]["file"]) == (1, str(own))


def test_a_schema_is_printed_as_one_json_object_either_way(capsys):
    """JSON Schema, draft 2020-12; what it accepts: tests/loops/test_schema.py."""
    assert main(["schema", "plant"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert main(["schema", "plant", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == shown
    assert main(["schema"]) == 0
    assert capsys.readouterr().out.split()[0] == "sheet"
    assert main(["schema", "shet"]) == 2
    assert "no schema called 'shet'; did you mean sheet?" in capsys.readouterr().err


def test_groups_are_told_on_demand(capsys, root):
    """What a group is: tests/inference/test_ambiguity.py."""
    model = str(root / "models" / "monitored-contact.toml")
    assert main(["check", model]) == 0
    assert "group" not in capsys.readouterr().out
    assert main(["check", model, "--groups"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "no reading within reach tells apart W5+.X23 open, W5+.JB7 open and W5+ open" in shown
    assert "a test point at W5+.1, cabinet, would: V X23:2 W5+.1 tells 0.9 of 1.5 bits" in shown
    assert "no reading within reach tells H2 stays dark from a sound loop" in shown
    assert "no lead on any node would split them" in shown
    _, found = printed(capsys, model, "--groups")
    assert len(found["files"][0]["groups"]) >= 6
    assert found["files"][0]["groups"][0]["faults"][0] == ["W5+.X23", "high resistance"]


def test_a_sheet_alone_is_not_held_against_others(plant, capsys):
    _, found = printed(capsys, str(plant / "sheets" / "LT-214.toml"))
    assert found["between"] == []


def test_loop_types_and_lessons_of_a_plant_are_no_loops_of_it(small_plant, root, capsys):
    """They may have the terminals of a sheet, and a type has no tag of its own."""
    (small_plant / "models").mkdir()
    (small_plant / "lessons").mkdir()
    model = (root / "models" / "rtd-input.toml").read_text()
    (small_plant / "models" / "own-rtd.toml").write_text(model)
    sheet = (small_plant / "sheets" / "XT-1.toml").read_text().replace('"XT-1"', '"XT-9"')
    (small_plant / "lessons" / "floating.toml").write_text(sheet)
    code, found = printed(capsys, "--plant", str(small_plant))
    assert code == 0
    assert [item["tag"] for item in found["files"]] == ["Test works", "own-rtd", "XT-1", "XT-9"]
    assert found["between"] == []


def test_lessons_of_any_name_are_lessons(small_plant, capsys):
    """A second class had its file taken for a sheet, and eight wrong problems told of it."""
    path = small_plant / "evening.toml"
    path.write_text('[[drill]]\nname = "one"\nloop = "two-wire-input"\nfaults = ["R1:drft"]\n')
    code, found = printed(capsys, str(path))
    [problem] = found["files"][0]["problems"]
    assert code != 0 and "drill one" in str(problem) and "drift" in str(problem)
    path.write_text(path.read_text().replace("drft", "drift"))
    assert printed(capsys, str(path))[0] == 0
