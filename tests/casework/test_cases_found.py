"""``diagnose cases``: which case a name means, what the list says of its cause, what it counts."""

import shutil
from pathlib import Path

import pytest

from casework.demo_cases import CASES
from casework.told import reading
from diagnose.__main__ import main
from diagnose.casework import events as e
from diagnose.casework.log import create
from diagnose.terminal.do_cases import Row, _cells
from small_loop import LOOP

NAME = "LT-214_2024-03-12_"


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A plant folder with the cases 1 and 11: the name of the one begins that of the other."""
    shutil.copy(CASES.parent / "plant.toml", tmp_path)
    with create(tmp_path / "cases", LOOP) as file:
        file.append(reading("V X21:7 X20:0 3.02"))
    (made,) = (tmp_path / "cases").glob("*.jsonl")
    shutil.copy(made, made.with_name(f"{NAME}11.jsonl"))
    made.rename(made.with_name(f"{NAME}1.jsonl"))
    return tmp_path


def said(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> str:
    """What is printed, its lines joined; a slip is one line and nothing besides."""
    assert main(["cases", *words]) == code
    out, err = capsys.readouterr()
    assert (err == "", err.count("\n")) == (code != 2, int(code == 2))
    assert code != 2 or not out
    return " ".join((err if code == 2 else out).split())


def test_a_whole_name_means_its_case_and_a_beginning_of_two_means_neither(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in (f"{NAME}1", f"{NAME}1.jsonl", f"{NAME}1".lower()):
        assert f"{NAME}1.jsonl" in said(capsys, "show", name, "--plant", str(own)).replace(" ", "")
    err = said(capsys, "show", "LT-214", "--plant", str(own), code=2)
    assert "'LT-214' can mean " in err
    assert f"{NAME}1 or {NAME}11: type more of it" in err


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["export", NAME + "1", "--html", "OUT", "--markdown"], "one of --html and --markdown"),
        (["show", NAME + "1", "--html", "OUT"], "--html belongs to: cases export CASE"),
        (["list", "--markdown"], "--markdown belongs to: cases export CASE"),
    ],
)
def test_options_that_do_not_go_together_write_nothing(
    words: list[str], sentence: str, own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = own / "page.html"
    words = [str(page) if word == "OUT" else word for word in words]
    assert sentence in said(capsys, *words, "--plant", str(own), code=2)
    assert not page.exists()


@pytest.mark.parametrize(
    ("chance", "unexplained", "told"),
    [
        (0.60, 0.25, "R1 drift: suspected, 60 %"),
        (0.25, 0.60, "none of the known faults: 60 %"),
    ],
)
def test_a_cause_that_is_only_suspected_is_told_unless_none_fits_better(
    chance: float, unexplained: float, told: str, own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.rmtree(own / "cases")
    with create(own / "cases", LOOP) as file:
        file.append(e.Ranked((("R1", "drift", (), chance),), unexplained, {}))
    shown = said(capsys, "show", "LT-214", "--plant", str(own))
    assert f"cause: {told}" in shown
    assert ("suspected" in shown) == (chance > unexplained)
    assert "confirmed" not in shown


@pytest.mark.parametrize(
    ("status", "cause"),
    [("cause confirmed", "R1 drift"), ("open", "R1 drift: confirmed")],
)
def test_a_confirmed_cause_is_said_once_in_a_line(status: str, cause: str) -> None:
    """The word of the ending says it; beside any other ending the cause says it itself."""
    row = Row(Path("x/a.jsonl"), "T", "2024-03-12 02:40:59", status, "R1 drift: confirmed")
    assert _cells(row) == ("a", "T", "2024-03-12 02:40", status, cause)


def test_a_plant_folder_may_be_named_for_its_cases(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert said(capsys, "list", str(own)) == said(capsys, "list", str(own / "cases"))
    assert "2 cases." in said(capsys, "list", str(own))


def test_what_cannot_be_used_is_counted_apart_from_what_can(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two cases and one file of another kind; one file that verifies badly of three."""
    (own / "cases" / "odd.jsonl").write_text("x\n", encoding="utf-8")
    out = said(capsys, "list", "--plant", str(own), code=1)
    assert "2 cases, and 1 file that cannot be used." in out
    out = said(capsys, "verify", "--plant", str(own), code=1)
    assert "3 cases, 1 not as recorded." in out
