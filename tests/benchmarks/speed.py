"""Speed, as ratios against a stated baseline in the same run.

    python tests/benchmarks/speed.py

1. start-up of ``rank`` and of the session on a known loop (cache warm) against
   ``python -c "import sympy"``; the session is timed until its first question is on the screen,
   with plain lines and on a terminal;
2. derivation of the circuit of a new sheet, in seconds;
3. one update plus advice after a new reading, with all hypotheses, in seconds, and against the
   time of ``import sympy``: on LT-214 and on LIC-214, the largest sheet;
4. predicting every fault x 32 severities at all nodes against the same by a circuit simulator.
Medians of several runs; nothing is asserted, since machines differ.
"""

from __future__ import annotations

import os
import pty
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

SHEET = ROOT / "cases" / "larkmere" / "sheets" / "LT-214.toml"
LARGEST = SHEET.with_name("LIC-214.toml")
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
    with tempfile.TemporaryDirectory() as home:
        actions = {
            "import sympy": algebra,
            "rank, ready for the first reading": started,
            "rank, one reading ranked, advice shown": whole,
            "session, first question, plain lines": lambda: session(home, terminal=False),
            "session, first question, on a terminal": lambda: session(home, terminal=True),
        }
        for action in actions.values():
            action()
        runs = [[median(action, 1) for action in actions.values()] for _ in range(9)]
    middle = [statistics.median(column) for column in zip(*runs, strict=True)]
    for name, time_ in zip(actions, middle, strict=True):
        note = " (baseline)" if name == "import sympy" else ""
        print(f"{name:<40}{time_:8.3f} s   {time_ / middle[0]:.2f}{note}")
    return middle[0]


def session(home: str, terminal: bool) -> None:
    """Start a session with a new case and wait until it asks; then it is ended."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment |= {"XDG_DATA_HOME": home, "TERM": "xterm"}
    words = [sys.executable, "-m", "diagnose", "troubleshoot", "LT-214", "--new"]
    outer, inner = pty.openpty() if terminal else os.pipe()
    typed, typing = (inner, outer) if terminal else os.pipe()
    child = subprocess.Popen(
        words, stdin=typed, stdout=inner, stderr=subprocess.DEVNULL, cwd=ROOT, env=environment
    )
    seen = b""
    while b"complaint>" not in seen:
        seen += os.read(outer, 65536)
        if b"\x1b[6n" in seen:  # the program asks where the cursor is: a terminal answers
            os.write(typing, b"\x1b[1;1R")
            seen = seen.replace(b"\x1b[6n", b"")
    child.kill()
    child.wait()
    for end in {outer, inner, typed, typing}:
        os.close(end)


def derivation(base: float) -> None:
    """Row 2: nothing cached, process included."""
    with tempfile.TemporaryDirectory() as folder:
        words = ["-m", "diagnose", "simulate", "LT-214", "--json"]
        first = median(process(words, DIAGNOSE_CACHE=folder), 1)
    print(f"circuit of a new sheet derived          {first:8.3f} s   {first / base:.2f}")


def update(base: float) -> None:
    """Row 3: the fourth to sixth reading of a hunt, on the loop of the README and on the largest.

    Processor time: it counts the same whatever else the machine does.  ``first`` is a reading of
    something that this engine was never asked for, ``again`` the same readings once more.
    """
    from diagnose.inference.engine import Engine
    from diagnose.inference.readings import parse_line
    from diagnose.loops.sheet import load_sheet

    for sheet in (SHEET, LARGEST):
        loop = load_sheet(sheet)
        evidence = [parse_line(line, loop) for line in HUNT]
        first, again = [], []
        for _ in range(3):
            engine = Engine(loop)
            for count in range(1, len(evidence) + 1):
                ranked = partial(engine.rank, evidence[:count])
                first.append(processor(ranked))
                again.append(min(processor(ranked) for _ in range(5)))
        late = [n for n in range(len(first)) if n % len(evidence) >= len(evidence) - 3]
        for name, times in (("first", first), ("again", again)):
            middle = statistics.median(times[n] for n in late)
            text = f"update plus advice, {loop.tag}, {name}"
            print(f"{text:<40}{middle:8.3f} s   {middle / base:.2f}")


def processor(action: Callable[[], object]) -> float:
    """Processor time of ``action``, s."""
    start = time.process_time()
    action()
    return time.process_time() - start


def prediction() -> None:
    """Row 4: the same circuits by both; the simulator gets a sample, scaled up."""
    from diagnose.circuit.netlist import netlist
    from diagnose.circuit.predictor import Predictor
    from diagnose.inference.ground import Ground
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
