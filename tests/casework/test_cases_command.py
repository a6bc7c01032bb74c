"""``diagnose cases``: lists, shows, exports and verifies; wrong words are told in one line."""

import json
import shutil
from pathlib import Path

import pytest

from casework.demo_cases import CASES
from casework.told import reading
from diagnose.__main__ import main
from diagnose.casework import events as e
from diagnose.casework.log import create
from small_loop import LOOP

NAMES = sorted(path.stem for path in CASES.glob("*.jsonl"))
PLANT = str(CASES.parent)


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A plant folder with one case, as short as one can be."""
    shutil.copy(CASES.parent / "plant.toml", tmp_path)
    with create(tmp_path / "cases", LOOP) as file:
        file.append(reading("V X21:7 X20:0 3.02"))
        file.append(e.Altered("link open", "LK1"))
    return tmp_path


def said(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> str:
    assert main(["cases", *words]) == code
    out, err = capsys.readouterr()
    assert (err == "") == (code != 2)
    return err if code == 2 else out


def test_the_list_names_every_case(capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "--plant", PLANT)
    assert all(name in out for name in NAMES)
    assert f"{len(NAMES)} cases." in out
    data = json.loads(said(capsys, "list", "--plant", PLANT, "--json"))
    assert sorted(Path(row["file"]).stem for row in data["cases"]) == NAMES
    assert {row["status"] for row in data["cases"]} == {*e.ENDINGS, "open"}


def test_a_file_that_is_no_case_is_listed_with_its_problem(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (own / "cases" / "odd.jsonl").write_text("x\n", encoding="utf-8")
    out = said(capsys, "list", "--plant", str(own), code=1)
    assert "LT-214" in out
    assert "problem" in out
    assert "is no case file" in " ".join(out.split())
    assert "1 case, and 1 file that cannot be used." in out
    assert said(capsys, "list", str(own), code=1) == out


def test_a_case_that_lost_a_record_is_a_negative_answer_of_the_list(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The help of ``cases``: exit code 1 where a case is damaged."""
    (path,) = (own / "cases").glob("*.jsonl")
    first, _, *rest = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(first + b"".join(rest))
    assert "record 2 is missing" in said(capsys, "list", "--plant", str(own), code=1)


def test_a_plant_without_cases_says_so(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.rmtree(own / "cases")
    assert "has no cases yet" in said(capsys, "--plant", str(own))


def test_a_case_is_shown_event_by_event(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "show", "lt-214", "--plant", str(own))
    assert "OPEN ITEM  LINK OPEN: LK1" in out
    assert "V X21:7 X20:0 3.02" in out
    path = next((own / "cases").glob("*.jsonl"))
    assert said(capsys, "show", str(path)) == out


def test_an_export_is_the_note_or_everything(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    note = said(capsys, "export", "LT-214", "--plant", str(own), "--markdown")
    assert note.startswith("# Hand-over LT-214: solvent receiver level\n")
    assert "## OPEN ITEMS" in note
    data = json.loads(said(capsys, "export", "LT-214", "--plant", str(own), "--json"))
    assert [record["event"] for record in data["records"]] == ["opened", "reading", "altered"]
    assert data["open_items"] == [{"item": "link open", "text": "LK1"}]


def test_verify_counts_what_is_equal(capsys: pytest.CaptureFixture[str]) -> None:
    sound = next(name for name in NAMES if "2024-06-02" in name)
    assert "1 case, all as recorded." in said(capsys, "verify", sound, "--plant", PLANT)


def test_verify_is_negative_where_something_is_lost(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = next((own / "cases").glob("*.jsonl"))
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(lines[0] + lines[2])
    out = said(capsys, "verify", str(own), code=1)
    assert "record 2 is missing" in out
    assert "1 not as recorded" in out
    data = json.loads(said(capsys, "verify", "--plant", str(own), "--json", code=1))
    assert data["cases"][0]["equal"] is False


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["lst"], "no job of cases called 'lst'; did you mean list?"),
        (["show"], "name a case; see: diagnose cases list"),
        (["show", "XX-1"], "no case called 'XX-1'"),
        (["show", "LT-21"], "can mean"),
        (["show", "LT-214", "--markdown"], "--markdown belongs to: cases export"),
        (["export", "LT-214", "--markdown", "--json"], "choose one of --json and --markdown"),
        (["list", "/nowhere"], "there is no folder '/nowhere'"),
        (["verify", "/nowhere"], "no case called"),
    ],
)
def test_wrong_words_are_told_in_one_line(
    words: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    err = said(capsys, *words, "--plant", PLANT, code=2)
    assert sentence in err
    assert err.count("\n") == 1


def test_a_folder_without_cases_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for job in ("list", "verify"):
        assert "there is no case in the folder" in said(capsys, job, str(tmp_path), code=2)
