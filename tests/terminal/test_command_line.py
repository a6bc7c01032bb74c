"""The program from outside: output, exit codes, one line on standard error, never a traceback."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.inference.cautions import CAUTIONS


def run(
    *words: str, folder: Path, stdin: str | None = None, **environment: str
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "diagnose", *words],
        cwd=folder, env={**os.environ, **environment}, capture_output=True,
        text=True, encoding="utf-8", check=False,
        **({"input": stdin} if stdin is not None else {"stdin": subprocess.DEVNULL}),  # type: ignore[arg-type]
    )  # fmt: skip


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, dict]:
    """Exit code and JSON object of a command that is run in this process."""
    code = main([*words, "--json"])
    return code, json.loads(capsys.readouterr().out)


# -- answers


def test_a_drifted_sense_resistor_raises_the_bus(capsys: pytest.CaptureFixture[str]) -> None:
    """310 ohm beside four inputs of 1 Mohm carry 12 mA: 12e-3 / (1/310 + 4/1e6) = 3.7154 V.

    Receivers then show (3.7154 - 1) / 4 = 67.9 % where the process is at 50 % (Ohm's law).
    """
    code, found = printed(capsys, "simulate", "LT-214", "--fault", "R1:drift=310", "--at", "50%")
    assert code == 0
    assert (found["schema"], found["tag"]) == (1, "LT-214")
    volts = 12e-3 / (1 / 310 + 4 / 1e6)
    assert found["voltages"]["X21:7"] == pytest.approx(volts, abs=2e-4)
    assert found["voltages"]["X20:0"] == 0
    assert found["indications"]["LIC-214"]["unit"] == "%"
    assert found["indications"]["LIC-214"]["value"] == pytest.approx(25 * (volts - 1), abs=0.01)
    assert found["indications"]["LAHH-214"]["value"] == "lit"  # its set point is 3 V
    assert found["currents"]["W3+"] == pytest.approx(12e-3, abs=2e-6)
    assert found["regimes"]["LT-214"] == "regulating"


def test_a_condition_is_part_of_the_circuit(capsys: pytest.CaptureFixture[str]) -> None:
    """With the supply off nothing flows, whatever else is changed."""
    words = ("simulate", "LT-214", "--fault", "I.W3:leakage=10k", "--condition", "supply off")
    code, found = printed(capsys, *words)
    assert code == 0
    assert max(abs(value) for value in found["currents"].values()) < 1e-6


def test_expected_readings_are_those_of_ohms_law(capsys: pytest.CaptureFixture[str]) -> None:
    """4, 12 and 20 mA through 250 ohm beside four inputs of 1 Mohm: 0.999, 2.997 and 4.995 V."""
    code, found = printed(capsys, "expect", "LT-214", "--at", "0,50,100%")
    assert code == 0
    assert [item["value"] for item in found["at"]] == [0, 50, 100]
    row = next(row for row in found["rows"] if row["measurement"] == "V X21:7 X20:0")
    for cell, current in zip(row["values"], (4e-3, 12e-3, 20e-3), strict=True):
        volts = current / (1 / 250 + 4 / 1e6)
        assert cell["value"] == pytest.approx(volts, abs=2e-4)
        assert cell["low"] < volts < cell["high"]
    lamp = next(row for row in found["rows"] if row["measurement"] == "LAHH-214")
    assert [cell["text"] for cell in lamp["values"]] == ["dark", "either", "lit"]


def test_expected_readings_fit_a_page(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["expect", "LT-214", "--place", "junction box"]) == 0
    out = capsys.readouterr().out
    assert "V JB9:1 JB9:2" in out
    assert "X21:7" not in out
    assert out.isascii()
    assert max(map(len, out.splitlines())) <= 80


def test_the_band_of_a_current_is_as_fine_as_its_value(capsys: pytest.CaptureFixture[str]) -> None:
    """12.00 mA stood beside 0.1 mA, and 0.01 mA beside 0.0 mA: meters show 0.01 mA."""
    assert main(["expect", "LT-214", "--at", "50%", "--place", "cabinet"]) == 0
    rows = [line.split() for line in capsys.readouterr().out.splitlines()]
    found = {tuple(row[:3]): row[-2:] for row in rows if row[:1] == ["mA"]}
    series, branch = found["mA", "X20:1", "X21:1"], found["mA", "X21:7", "X22:1"]
    assert [unit for _, unit in (series, branch)] == ["mA", "mA"]
    assert 0.01 < float(branch[0]) < float(series[0]) < 0.1


def test_why_shows_formula_numbers_and_result(capsys: pytest.CaptureFixture[str]) -> None:
    """12 mA, less what four inputs take, through 250 ohm (Ohm's law)."""
    code, found = printed(capsys, "why", "LT-214", "X21:7")
    assert (code, found["quantity"], found["unit"]) == (0, "V(X21:7)", "V")
    assert found["value"] == pytest.approx(12e-3 / (1 / 250 + 4 / 1e6), abs=2e-4)
    assert "R1" in found["formula"]
    assert "250.0 ohm" in found["numbers"]


def test_loops_lists_sheets_and_types(capsys: pytest.CaptureFixture[str]) -> None:
    code, found = printed(capsys, "loops")
    assert code == 0
    assert {"LT-214", "LT-216"} <= {item["tag"] for item in found["loops"]}
    assert "two-wire-input" in {item["type"] for item in found["types"]}


def test_a_netlist_ends_as_spice_wants_it(capsys: pytest.CaptureFixture[str]) -> None:
    """A deck begins with a title line and ends with .end (ngspice manual, section 2.1)."""
    assert main(["netlist", "LT-214", "--fault", "R1:drift=310"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("*")
    assert lines[-1] == ".end"


def test_check_passes_the_demo_plant_and_a_type(
    plant: Path, root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = str(root / "models" / "two-wire-input.toml")
    code, found = printed(capsys, "check", str(plant), model)
    assert code == 0
    assert all(item["sound"] for item in found["files"])
    own = [
        *(plant / "sheets").glob("*.toml"),
        *(plant / "lessons").glob("*.toml"),
        *(plant / "cases").glob("*.jsonl"),
    ]
    assert len(found["files"]) == 2 + len(own)


def test_check_tells_what_is_wrong_and_ends_with_one(
    sheets: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = (sheets / "b3.toml").read_text(encoding="utf-8")
    broken = tmp_path / "b3.toml"
    broken.write_text(sheet.replace('kind = "resistor"', 'kind = "resitsor"'), encoding="utf-8")
    code, found = printed(capsys, "check", str(broken))
    assert code == 1
    assert "did you mean resistor" in found["files"][0]["problems"][0]["problem"]


RANK = ("rank", "LT-214", "complaint reads high", "LT-214 50 %", "V X21:7 X20:0 3.406")


def test_rank_answers_in_text_and_in_json(tmp_path: Path) -> None:
    """3.406 V at 50 % is 10 kohm across the field pair, among others (design table B3, row 1)."""
    shown = run(*RANK, folder=tmp_path)
    assert (shown.returncode, shown.stderr) == (0, "")
    assert shown.stdout.isascii()
    assert "\033" not in shown.stdout
    assert max(map(len, shown.stdout.splitlines())) <= 80
    found = json.loads(run(*RANK, "--json", folder=tmp_path).stdout)
    total = sum(item["probability"] for item in found["hypotheses"]) + found["unexplained"]
    assert total == pytest.approx(1, abs=1e-6)
    assert found["hypotheses"][0]["fault"] == "leakage"


@pytest.mark.parametrize(("complaint", "minded"), [("no trip", True), ("tripped", False)])
def test_a_plant_that_may_be_without_its_trip_is_minded_at_once(
    capsys: pytest.CaptureFixture[str], complaint: str, minded: bool
) -> None:
    """Whoever runs the plant has to know before anything is measured (IEC 61511, by its title)."""
    main(["rank", "LAHH-214", f"complaint {complaint}", "LIC-214 80 %"])
    shown = " ".join(capsys.readouterr().out.split())
    assert shown.endswith(f"STOP: {CAUTIONS['no trip'].text}") == minded


@pytest.mark.parametrize(("line", "code"), [("LG-214 2000 mm", 1), ("LG-214 900 mm", 0)])
def test_readings_that_no_fault_explains_end_with_one(
    line: str, code: int, capsys: pytest.CaptureFixture[str]
) -> None:
    """A sight glass of 1800 mm cannot show 2000; half of it is as it should be."""
    assert main(["rank", "LT-214", line]) == code
    assert capsys.readouterr().err == ""


def test_readings_from_a_pipe_are_those_of_the_arguments(tmp_path: Path) -> None:
    piped = run("rank", "lt214", "--json", folder=tmp_path, stdin="\n".join(RANK[2:]))
    told = run(*RANK, "--json", folder=tmp_path)
    assert json.loads(piped.stdout) == json.loads(told.stdout)


def test_an_excluded_step_is_not_advised(capsys: pytest.CaptureFixture[str]) -> None:
    _, all_steps = printed(capsys, *RANK)
    _, no_clamp = printed(capsys, *RANK, "--without", "clamp")
    _, elsewhere = printed(capsys, *RANK, "--without", "Cabinet")
    assert no_clamp["next"]
    assert not any(step["measurement"].startswith("clamp") for step in no_clamp["next"])
    assert "cabinet" in {step["place"] for step in all_steps["next"]}
    assert "cabinet" not in {step["place"] for step in elsewhere["next"]}


# -- wrong input


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], "name a command"),
        (["rnak"], "did you mean rank"),
        (["rank"], "the following arguments are required: LOOP"),
        (["rank", "LT-999", "frozen"], "no loop called 'LT-999'"),
        (["rank", "LT-214", "V X21:7 X99:9 3"], "no point called 'X99:9'"),
        (["rank", "LT-214", "frozen", "--place", "moon"], "no place called 'moon'"),
        (["rank", "LT-214", "--file", "none.txt"], "'none.txt' cannot be read"),
        (["rank", "LT-214", "frozen", "--meter", "M-9"], "no meter called 'M-9'"),
        (["rank", "LT-214", "\x1b[31m 3"], "control characters"),
        (["simulate", "LT-214", "--fault", "R1:drift=1e999"], "R1 drift"),
        (["simulate", "LT-214", "--at", "nan"], "--at"),
        (["simulate", "LT-214", "--condition", "__import__('os')"], "--condition"),
        (["loops", "--plant", "nowhere"], "name a plant folder"),
        (["check", "none.toml"], "there is no file 'none.toml'"),
        (["why", "LT-214", "X99:9"], "no point called 'X99:9'"),
        (["why", "LT-214", "X20:0"], "name a point other than X20:0"),
        (["why", "LT-214", "W3+", "X20:0"], "needs no second point"),
        (["expect", "LT-214", "--place", "moon"], "no place called 'moon'"),
        (["netlist", "x/y.toml"], "there is no sheet 'x/y.toml'"),
    ],
    ids=lambda value: " ".join(value)[:40].replace("\x1b", "") if isinstance(value, list) else "",
)
def test_wrong_input_is_one_line_and_two(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str], tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("diagnose: ")
    assert told in err
    assert err.count("\n") == 1
    assert err.isprintable() or err.rstrip("\n").isprintable()


@pytest.mark.parametrize("words", [("rank", "LT-999"), ("simulate", "LT-214", "--at", "x"), ()])
def test_wrong_input_from_outside_has_no_traceback(words: tuple[str, ...], tmp_path: Path) -> None:
    done = run(*words, folder=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_each_wrong_reading_has_a_line_of_its_own(tmp_path: Path) -> None:
    done = run("rank", "LT-214", folder=tmp_path, stdin="V X1 X2 3\nfrozen\nfrob\n")
    assert done.returncode == 2
    assert [line.split(": ")[:3] for line in done.stderr.splitlines()] == [
        ["diagnose", "standard input", "line 1"], ["diagnose", "standard input", "line 3"],
    ]  # fmt: skip


def test_a_reader_that_has_seen_enough_is_no_error(tmp_path: Path) -> None:
    """As in ``diagnose netlist LT-214 | head -1``: the reading end is closed early."""
    code = (
        "import os, sys; read, write = os.pipe(); os.close(read); os.dup2(write, 1);"
        "from diagnose.__main__ import main; sys.exit(main(['netlist', 'LT-214']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_ctrl_c_leaves_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """130 is 128 + SIGINT, as shells count it (POSIX leaves the number open)."""
    from diagnose.terminal import do_loops

    def interrupted(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(do_loops, "loops", interrupted)
    assert main(["loops"]) == 130
    assert capsys.readouterr().err == "diagnose: stopped\n"


def test_a_poor_encoding_never_stops_an_answer(tmp_path: Path) -> None:
    done = run("loops", folder=tmp_path, PYTHONIOENCODING="ascii", LC_ALL="C")
    assert done.returncode == 0


def test_a_plant_without_a_sheet_says_how_to_begin(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plant", "new", str(tmp_path / "mine")]) == 0
    capsys.readouterr()
    assert main(["loops", "--plant", str(tmp_path / "mine")]) == 0
    assert "diagnose sheet new TAG" in capsys.readouterr().out
