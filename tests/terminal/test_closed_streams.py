"""Streams that are closed or full from the start, and folders with names that are no text.

What a program may find closed or full is said by POSIX (sh, redirection); that a file name is any
bytes but ``/`` and NUL, too (POSIX.1-2017, 3.170).
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.errors import UnknownNameError
from diagnose.library import demo_plant

pytestmark = pytest.mark.skipif(os.name == "nt", reason="redirection of a POSIX shell")


def shell(redirected: str, *words: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """The program as a shell starts it with a stream redirected."""
    line = f'exec "$0" -m diagnose "$@" {redirected}'
    return subprocess.run(
        ["sh", "-c", line, sys.executable, *words],
        cwd=folder, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("drill", "LT-214"), "a session needs somebody who types"),
        (("replay", "LT-214_2024-03-12_01"), "a session needs somebody who types"),
        (("troubleshoot", "LT-214"), "a session needs somebody who types"),
        (("sheet", "new", "LT-777"), "standard input is closed, and there is something to ask"),
        (("rank", "LT-214", "--file", "-"), "standard input is closed"),
    ],
)
def test_without_standard_input_nothing_is_begun(
    tmp_path: Path, words: tuple[str, ...], told: str
) -> None:
    plant = tmp_path / "plant"
    leave = shutil.ignore_patterns("lessons")
    shutil.copytree(demo_plant(), plant, ignore=leave)
    before = sorted(plant.rglob("*"))
    done = shell("<&-", *words, "--plant", str(plant), folder=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"diagnose: {told}") and done.stderr.count("\n") == 1
    assert sorted(plant.rglob("*")) == before


def test_a_complaint_without_standard_error_is_not_put_among_the_answers(tmp_path: Path) -> None:
    done = shell("2>&-", "rank", "LT-999", "--json", folder=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
def test_a_complaint_that_finds_no_room_leaves_the_exit_code(tmp_path: Path) -> None:
    done = shell("2>/dev/full", "rank", "LT-999", folder=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere such a name cannot be made")
def test_a_plant_folder_may_have_a_name_that_is_no_text(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plant = os.fsdecode(os.fsencode(tmp_path) + b"/w\xe4sche\n1")
    shutil.copytree(demo_plant(), plant, ignore=shutil.ignore_patterns("cases", "lessons"))
    for words in (["loops"], ["find", "LT-214"], ["loops", "--json"]):
        assert main([*words, "--plant", plant]) == 0
        assert "LT-214" in capsys.readouterr().out


def test_a_name_that_is_no_text_stands_in_quotes_once() -> None:
    assert str(UnknownNameError("loop", "LT\udcff", [])) == "no loop called 'LT\\udcff'"


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere such a name cannot be made")
def test_the_name_of_a_case_file_does_not_move_the_cursor(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    demo = demo_plant()
    shutil.copytree(demo, tmp_path / "p", ignore=shutil.ignore_patterns("cases", "lessons"))
    (tmp_path / "p" / "cases").mkdir()
    case = demo / "cases" / "LT-214_2024-03-12_01.jsonl"
    shutil.copy(case, tmp_path / "p" / "cases" / "odd\n\x1b[2J\u202e.jsonl")
    shutil.copy(case, tmp_path / "p" / "cases" / case.name)
    for words in (["cases"], ["completion", "cases"], ["cases", "show", "od"], ["cases", "pack"]):
        main([*words, "--plant", str(tmp_path / "p")])
        told = capsys.readouterr()
        assert all(line.isprintable() for line in (told.out + told.err).splitlines()), words
        assert "odd\n" not in told.out


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes among files")
def test_a_pipe_among_the_cases_is_not_waited_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    os.mkfifo(tmp_path / "LT-214_2024-05-02_01.jsonl")
    assert main(["cases", "pack", str(tmp_path)]) == 0
    assert "it is no file" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("name", "told"),
    [("none/k.jsonl", "cannot be written: no such file or directory"), (".", "is no file"),
     ("/dev/zero", "is no file")],
)  # fmt: skip
def test_hunts_that_cannot_be_kept_are_not_begun(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, told: str
) -> None:
    kept = tmp_path / name
    assert main(["evaluate", "LT-214", "--hunts", "1", "--keep", str(kept)]) == 2
    err = capsys.readouterr().err
    assert err.startswith("diagnose: --keep: ") and err.endswith(f"{told}\n")
    assert err.count("\n") == 1
