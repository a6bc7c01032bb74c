"""Whole sessions as plain lines, run as a user runs them: in a process of their own."""

import json
import os
import re
import shlex
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from diagnose.casework.log import CaseFile

SKIPPED = [""] * 7
"""Enter at each question of the opening."""

LEAK = ["2", "", "60.2", "60.3", "lit", "60.2", "", "50 % +- 1 %"]
"""10 kohm between the cores at 50 % reads 60 % (12 mA + 16.9 V / 10 kohm = 13.7 mA)."""


def environment(home: Path, **more: str) -> dict[str, str]:
    return {**os.environ, "XDG_DATA_HOME": str(home), "COLUMNS": "80", **more}


def run(
    home: Path, lines: Sequence[str] | bytes, *words: str, **more: str
) -> subprocess.CompletedProcess[str]:
    """A session that is fed lines; it must never show a traceback."""
    fed = lines if isinstance(lines, bytes) else "".join(f"{line}\n" for line in lines).encode()
    done = subprocess.run(
        [sys.executable, "-m", "diagnose", "troubleshoot", *words],
        cwd=home, env=environment(home, **more), input=fed, capture_output=True, check=False,
    )  # fmt: skip
    out, err = done.stdout.decode(), done.stderr.decode()
    assert "Traceback" not in err, err
    return subprocess.CompletedProcess(done.args, done.returncode, out, err)


def cases(home: Path) -> list[Path]:
    return sorted(home.rglob("*.jsonl"))


def text(done: subprocess.CompletedProcess[str]) -> str:
    return " ".join(done.stdout.split())


def test_a_hunt_from_complaint_to_hand_over(tmp_path: Path) -> None:
    end = ["note gland W4 is wet", "handover", "close handed over"]
    done = run(tmp_path, [*LEAK, "V X21:7 X20:0 3.42", *end], "LT-214")
    assert done.returncode == 0
    assert "complaint> 2" in done.stdout  # what was typed stands behind its prompt
    assert "Reading 6: V X21:7 X20:0 3.42" in done.stdout
    assert "Next:" in done.stdout
    (path,) = cases(tmp_path)
    note = path.with_suffix(".md").read_text(encoding="utf-8")
    assert "gland W4 is wet" in note
    assert "V X21:7 X20:0 3.42" in note
    case = CaseFile.open(path, write=False).case
    assert case.status == "handed over"
    assert case.last_ranking is not None


def test_the_end_of_input_leaves_the_case_open_and_resume_goes_on(tmp_path: Path) -> None:
    run(tmp_path, [*LEAK, "V X21:7 X20:0 3.42"], "LT-214")
    (path,) = cases(tmp_path)
    assert CaseFile.open(path, write=False).case.is_open
    for words in (("--resume", path.stem), ("--resume", str(path)), ("--resume", "lt-214")):
        done = run(tmp_path, ["list"], *words)
        assert "V X21:7 X20:0 3.42" in done.stdout
        assert "complaint>" not in done.stdout
    assert cases(tmp_path) == [path]


def test_an_open_case_of_the_loop_is_offered(tmp_path: Path) -> None:
    run(tmp_path, ["2"], "LT-214")
    said = text(run(tmp_path, ["", "list", "bypass shift lead until 06:00"], "LT-214"))
    assert "has a case that is open" in said
    assert "Altered and not yet put back" not in said.partition("Enter goes on")[0]
    told = text(run(tmp_path, [], "LT-214"))  # whoever takes over sees it before he answers
    assert "Altered and not yet put back: bypass: shift lead until 06:00." in told
    assert len(cases(tmp_path)) == 1
    run(tmp_path, ["n", *SKIPPED], "LT-214")
    run(tmp_path, SKIPPED, "LT-214", "--new")
    assert len(cases(tmp_path)) == 3


def test_the_end_of_input_is_no_answer_and_an_old_hand_over_not_the_usual_one(
    tmp_path: Path,
) -> None:
    """A case handed over eight days ago is offered, but Enter opens a new one."""
    run(tmp_path, [*LEAK, "close handed over"], "LT-214")
    (path,) = cases(tmp_path)
    before = path.read_bytes()
    assert run(tmp_path, [], "LT-214").returncode == 2
    assert (cases(tmp_path), path.read_bytes()) == ([path], before)
    assert "Enter goes on with it" in text(run(tmp_path, ["quit"], "LT-214"))
    days_ago = path.stat().st_mtime - 8 * 24 * 3600
    os.utime(path, (days_ago, days_ago))
    assert "Enter opens a new one" in text(run(tmp_path, ["", *SKIPPED], "LT-214"))
    assert len(cases(tmp_path)) == 2 and path.read_bytes() == before


def test_who_leaves_at_the_choice_of_a_case_changes_none(tmp_path: Path) -> None:
    """Two are open: both are named, and neither grows; a word that is no answer is asked again."""
    run(tmp_path, ["2"], "LT-214")
    run(tmp_path, SKIPPED, "LT-214", "--new")
    before = {path: path.read_bytes() for path in cases(tmp_path)}
    done = run(tmp_path, ["nonsense", "quit"], "LT-214")
    assert done.returncode == 2
    assert all(path.stem in text(done) for path in before)
    assert {path: path.read_bytes() for path in cases(tmp_path)} == before


def test_nothing_acknowledged_is_lost_when_the_process_is_killed(tmp_path: Path) -> None:
    """SIGKILL asks nobody (POSIX): what was answered before must be on the disk."""
    session = subprocess.Popen(
        [sys.executable, "-m", "diagnose", "troubleshoot", "LT-214"],
        cwd=tmp_path, env=environment(tmp_path), stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        text=True,
    )  # fmt: skip
    assert session.stdin is not None
    assert session.stdout is not None
    session.stdin.write("reads high\n\nLIC-214 62 %\n")
    session.stdin.flush()
    while "Reading 1: LIC-214 62 %" not in session.stdout.readline():
        assert session.poll() is None
    session.kill()
    session.communicate()
    (path,) = cases(tmp_path)
    assert CaseFile.open(path, write=False).case.evidence == (
        "complaint reads high", "LIC-214 62 %",
    )  # fmt: skip
    assert "LIC-214 62 %" in run(tmp_path, ["list"], "--resume", path.stem).stdout


def heed_interrupts() -> None:
    """A shell lets what it starts in the background ignore Ctrl-C, and children inherit that."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.skipif(os.name == "nt", reason="Windows sends no SIGINT to one process")
def test_ctrl_c_ends_nothing(tmp_path: Path) -> None:
    session = subprocess.Popen(
        [sys.executable, "-m", "diagnose", "troubleshoot", "LT-214"],
        cwd=tmp_path, env=environment(tmp_path), stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        text=True, preexec_fn=heed_interrupts,
    )  # fmt: skip
    assert session.stdin is not None
    assert session.stdout is not None
    while "no trip" not in session.stdout.readline():
        assert session.poll() is None
    assert session.stdout.read(len("complaint> ")) == "complaint> "
    session.send_signal(signal.SIGINT)
    # A line that arrives together with the signal may be dropped; a person types after it.
    assert "Nothing is lost" in session.stdout.readline()
    out, _ = session.communicate("reads low\nquit\n")
    assert "Complaint: reads low" in out
    assert session.returncode == 0
    (path,) = cases(tmp_path)
    assert CaseFile.open(path, write=False).case.complaints == ("reads low",)


def test_a_second_writer_is_refused_in_one_line(tmp_path: Path) -> None:
    run(tmp_path, ["2"], "LT-214")
    (path,) = cases(tmp_path)
    with CaseFile.open(path):
        done = run(tmp_path, ["list"], "--resume", path.stem)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    told = re.search(
        r"the case is being written by process \d+ on \S+ since (\S+ \S+ \S+); close it there, or "
        r"look at it with: diagnose (.*)$",
        done.stderr.strip(),
    )
    assert told is not None
    assert re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d (UTC|[+-]\d\d:\d\d)", told[1])
    assert shlex.split(told[2]) == ["cases", "show", str(path)]


def test_json_keeps_standard_output_for_one_object(tmp_path: Path) -> None:
    lines = [*LEAK, "V X21:7 X20:0 3.42 with LR-214+.X22 lifted"]
    done = run(tmp_path, lines, "LT-214", "--json")
    found = json.loads(done.stdout)
    assert (found["schema"], found["tag"], found["status"]) == (1, "LT-214", "open")
    assert found["open_items"] == ["wire lifted: LR-214+.X22"]
    assert found["ranking"]["hypotheses"]
    assert "complaint> 2" in done.stderr


@pytest.mark.parametrize(
    "words",
    [("--resume", "nowhere"), (), ("XX-1",), ("LT-214", "--place", "moon"),
     ("LT-214", "--meter", "M-9"), ("--resume", "README.md")],
)  # fmt: skip
def test_wrong_words_are_told_in_one_line_and_open_no_case(
    tmp_path: Path, words: tuple[str, ...]
) -> None:
    done = run(tmp_path, [], *words)
    assert done.returncode == 2
    assert done.stderr.startswith("diagnose: ")
    assert len(done.stderr.splitlines()) == 1
    assert cases(tmp_path) == []


@pytest.mark.parametrize(
    "lines",
    [
        b"\xff\xfe\x00\x01\n\x1b[2J\x07\n", b"\x00" * 100, b"V " * 50_000 + b"\nquit\n",
        "note \u2126 \u202e \U0001f600\n".encode(), b"\r\n\r\n2\r\n", b"",
    ],
    ids=["bytes", "zeros", "long", "signs", "windows", "nothing"],
)  # fmt: skip
def test_no_input_stops_it(tmp_path: Path, lines: bytes) -> None:
    done = run(tmp_path, lines, "LT-214")
    assert done.returncode == 0
    assert "\x1b" not in done.stdout
    (path,) = cases(tmp_path)
    assert CaseFile.open(path, write=False).case.is_open


def test_plain_lines_have_no_escape_codes_and_load_nothing_slow(tmp_path: Path) -> None:
    code = (
        "import sys; from diagnose.__main__ import main; main(['troubleshoot', 'LT-214']);"
        "print([m for m in ('prompt_toolkit', 'sympy', 'pint', 'networkx') if m in sys.modules])"
    )
    warm = run(tmp_path, [*SKIPPED, "quit"], "LT-214", "--new")
    assert "\x1b" not in warm.stdout
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, env=environment(tmp_path / "other"),
        input="\n".join([*LEAK, "quit", ""]), capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stdout.splitlines()[-1] == "[]", done.stderr
