"""Speed, as ratios against a stated baseline in the same run.

    python tests/benchmarks/speed.py

1. start-up of ``rank`` on a known loop (cache warm) against ``python -c "import sympy"``;
2. derivation of the circuit of a new sheet, in seconds;
3. one update plus advice after a new reading, with all hypotheses, in seconds, and against the
   time of ``import sympy``;
4. predicting every fault x 32 severities at all nodes against the same by a circuit simulator.
Medians of several runs; nothing is asserted, since machines differ.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
SHEET = ROOT / "cases" / "larkmere" / "sheets" / "LT-214.toml"
FIRST = ("complaint reads high", "LIC-214 60 %")
HUNT = (*FIRST, "V X21:7 X20:0 3.397", "LR-214 59.9 %", "LT-214 50 %", "clamp W3+ 13.6")
SEVERITIES = 32


def median(action: Callable[[], object], runs: int) -> float:
    """Median wall time of ``action``, s."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def process(words: Sequence[str], **more: str) -> Callable[[], object]:
    """A whole process, its output thrown away; compiled bytecode is kept as an install would."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"} | more
    return lambda: subprocess.run(
        [sys.executable, *words], check=False, capture_output=True, cwd=ROOT, env=environment
    )


def start_up() -> float:
    """Row 1; returns the time of ``import sympy``."""
    ready = "import diagnose.terminal.do_rank; from diagnose.inference.engine import Engine; "
    ready += "from diagnose.loops.plant import open_plant; Engine(open_plant().load('LT-214'))"
    algebra = process(["-c", "import sympy"])
    started = process(["-c", ready])
    whole = process(["-m", "diagnose", "rank", "LT-214", *FIRST])
    for action in (algebra, started, whole):
        action()
    runs = [(median(algebra, 1), median(started, 1), median(whole, 1)) for _ in range(9)]
    base, ready_time, whole_time = (statistics.median(column) for column in zip(*runs, strict=True))
    print(f"import sympy                            {base:8.3f} s   1.00 (baseline)")
    print(f"rank, ready for the first reading       {ready_time:8.3f} s   {ready_time / base:.2f}")
    print(f"rank, one reading ranked, advice shown  {whole_time:8.3f} s   {whole_time / base:.2f}")
    return base


def derivation(base: float) -> None:
    """Row 2: nothing cached, process included."""
    with tempfile.TemporaryDirectory() as folder:
        words = ["-m", "diagnose", "simulate", "LT-214", "--json"]
        first = median(process(words, DIAGNOSE_CACHE=folder), 1)
    print(f"circuit of a new sheet derived          {first:8.3f} s   {first / base:.2f}")


def update(base: float) -> None:
    """Row 3: the fourth to sixth reading of a hunt."""
    from diagnose.inference.engine import Engine
    from diagnose.inference.readings import parse_line
    from diagnose.loops.sheet import load_sheet

    loop = load_sheet(SHEET)
    engine = Engine(loop)
    evidence = [parse_line(line, loop) for line in HUNT]
    for count in range(1, len(evidence) + 1):
        engine.rank(evidence[:count])
    times = [median(lambda n=count: engine.rank(evidence[:n]), 7) for count in (4, 5, 6)]  # type: ignore[misc]
    middle = statistics.median(times)
    print(f"one update plus advice                  {middle:8.3f} s   {middle / base:.2f}")


def prediction() -> None:
    """Row 4: the same circuits by both; the simulator gets a sample, scaled up."""
    from diagnose.circuit.netlist import netlist
    from diagnose.circuit.predictor import Predictor
    from diagnose.inference.grid import Ground
    from diagnose.inference.hypotheses import hypotheses
    from diagnose.loops.sheet import load_sheet

    loop = load_sheet(SHEET)
    machine = Predictor(loop)
    cases = hypotheses(loop)
    ground = Ground(machine, cases)
    h = np.repeat(np.arange(len(cases)), SEVERITIES)
    x = np.tile(np.linspace(0, 1, SEVERITIES), len(cases))
    process_values = np.full(len(h), 0.5)
    ours = median(lambda: machine.solve(ground.columns(h, x, process_values), len(h)), 7)
    deck = netlist(loop, {}, 0.5)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "loop.cir"
        path.write_text(deck, encoding="utf-8")
        command = ["ngspice", "-b", str(path)]
        try:
            one = median(lambda: subprocess.run(command, capture_output=True, check=False), 15)
        except FileNotFoundError:
            print("predicting all faults: the circuit simulator is not installed")
            return
    theirs = one * len(h)
    print(f"{len(h)} circuits predicted              {ours:8.3f} s   1.00 (baseline)")
    print(f"the same by simulator runs, one each    {theirs:8.1f} s   {theirs / ours:.0f}")


def main() -> None:
    """All rows."""
    base = start_up()
    derivation(base)
    update(base)
    prediction()


if __name__ == "__main__":
    main()
