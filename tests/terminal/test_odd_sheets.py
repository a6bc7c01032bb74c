"""Sheets unlike the usual loop: refused with the reason, or ranked, but never a traceback."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.inference.measurement import COMPLAINTS

NO_RETURN = [
    "diagnose: LT-902: G1 hangs loose: nothing else is connected to n",
    "diagnose: LT-902: R1 hangs loose: nothing else is connected to q",
    "diagnose: LT-902: no return path from q to the supply G1: its current cannot come back to n",
]


def run(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "diagnose", *words]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    "words",
    [("rank", "V p n 24.0"), ("simulate",), ("netlist",), ("expect",), ("why", "p")],
    ids=lambda words: words[0],
)
def test_a_senseless_circuit_is_refused_by_every_command(
    words: tuple[str, ...], sheets: Path
) -> None:
    done = run(words[0], str(sheets / "no_return.toml"), *words[1:])
    assert done.returncode == 2
    assert done.stderr.splitlines() == NO_RETURN
    assert done.stdout == ""


@pytest.mark.parametrize("complaint", COMPLAINTS)
def test_any_complaint_about_a_loop_without_receivers_is_ranked(
    complaint: str, sheets: Path
) -> None:
    done = run("rank", str(sheets / "bare.toml"), f"complaint {complaint}", "V p n 24.0")
    assert done.returncode in (0, 1)
    assert done.stderr == ""
    assert "LT-901" in done.stdout
