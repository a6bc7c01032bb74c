"""The full screen: from a key to the repainted screen, and its start-up.

    python tests/benchmarks/screen.py

1. keys typed at a session on the largest sheet of the demo plant, LIC-214, with readings taken: the
   time from a key to the screen painted with it, while nothing is computed and while the ranking
   is; medians and 95 % points, against the 0.1 s in which a person sees no delay; on a machine that
   is busy with other things the second pair of figures tells what the screen itself costs;
2. start-up on a terminal until the first question is on the screen, against
   ``python -c "import sympy"``; medians of nine runs each, in turn.

Nothing is asserted, since machines differ.
"""

from __future__ import annotations

import asyncio
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from io import StringIO
from pathlib import Path

from prompt_toolkit.application import create_app_session
from prompt_toolkit.data_structures import Size
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output.vt100 import Vt100_Output
from speed import median, process, session

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from diagnose.casework.hunt import Hunt
from diagnose.casework.log import CaseFile
from diagnose.inference.engine import Engine
from diagnose.loops.plant import open_plant
from diagnose.terminal.full_screen import FullScreen
from diagnose.terminal.hunt_view import HuntView
from diagnose.terminal.outcome import Look
from diagnose.terminal.session_talk import Talk

TAG = "LIC-214"
READ = ("LI-214A 62 %", "V X21:7 X20:0 3.476")
KEYS = "V X21:7 X20:0 3.02 with supply off" * 2
Cost = tuple[float, float]
"""Seconds on the clock, and of the processor for the thread of the keyboard."""

SEEN_AT_ONCE = 0.1
"""Seconds (J. Nielsen, Usability Engineering, 1993, chapter 5; from memory)."""


def keys(engine: Engine, size: tuple[int, int]) -> None:
    """Row 1 on a terminal of a size."""
    loop = engine.loop
    columns, rows = size
    output = Vt100_Output(StringIO(), lambda: Size(rows, columns), term="xterm", enable_cpr=False)
    with (
        tempfile.TemporaryDirectory() as folder,
        create_pipe_input() as pipe,
        create_app_session(input=pipe, output=output),
        CaseFile.create(Path(folder), loop) as file,
    ):
        hunt = Hunt(file, loop, lambda: engine, "cabinet")
        for line in READ[:-1]:
            hunt.take(line)
        screen = FullScreen(HuntView(Talk(hunt, Look(columns)), new=False))
        idle, busy = asyncio.run(_typed(screen, pipe))
        screen.worker.shutdown(wait=True)
    for name, costs in (("nothing computed", idle), ("ranking computed", busy)):
        if costs:
            (middle, most), (own, own_most) = map(_middle_and_most, zip(*costs, strict=True))
            print(
                f"key to repaint, {columns}x{rows}, {name}: {middle * 1e3:.1f} ms, 95 % within "
                f"{most * 1e3:.1f} ms ({most / SEEN_AT_ONCE:.2f} of 0.1 s); of it the keyboard's "
                f"thread computes {own * 1e3:.1f}, 95 % within {own_most * 1e3:.1f} ms"
            )


def _middle_and_most(times: Sequence[float]) -> tuple[float, float]:
    """Median and the value below which 95 % lie."""
    return statistics.median(times), statistics.quantiles(times, n=20, method="inclusive")[-1]


async def _typed(screen: FullScreen, pipe: PipeInput) -> tuple[list[Cost], list[Cost]]:
    running = asyncio.ensure_future(screen.app.run_async(pre_run=screen.begin))
    await _until_still(screen)
    painted = asyncio.Event()
    screen.app.after_render += lambda app: painted.set()
    idle = [await _key(screen, pipe, key, painted) for key in KEYS]
    screen.app.current_buffer.reset()
    screen.hear(READ[-1])
    busy = []
    while screen.busy and len(busy) < 2 * len(KEYS):
        busy.append(await _key(screen, pipe, KEYS[len(busy) % len(KEYS)], painted))
        await asyncio.sleep(0.02)
    await _until_still(screen)
    screen.app.exit()
    await running
    return idle, busy


async def _key(screen: FullScreen, pipe: PipeInput, key: str, painted: asyncio.Event) -> Cost:
    """From a key to the screen painted with what it typed."""
    typed = asyncio.Event()
    buffer = screen.app.current_buffer
    buffer.on_text_changed += lambda _: typed.set()
    start, work = time.perf_counter(), time.thread_time()
    pipe.send_text(key)
    await typed.wait()
    painted.clear()
    await painted.wait()
    return time.perf_counter() - start, time.thread_time() - work


async def _until_still(screen: FullScreen) -> None:
    await asyncio.sleep(0.1)
    while screen.busy or screen.shown.began is not None:
        await asyncio.sleep(0.01)


def start_up() -> None:
    """Row 2."""
    algebra = process(["-c", "import sympy"])
    with tempfile.TemporaryDirectory() as home:
        actions = {
            "import sympy": algebra,
            "full screen, first question": lambda: session(home, terminal=True),
        }
        for action in actions.values():
            action()
        runs = [[_spent(action) for action in actions.values()] for _ in range(9)]
    columns = [[statistics.median(times) for times in zip(*column, strict=True)]
               for column in zip(*runs, strict=True)]  # fmt: skip
    for name, (clock, work) in zip(actions, columns, strict=True):
        base, base_work = columns[0]
        print(
            f"{name:<28}{clock:8.3f} s   {clock / base:.2f}; of the processor {work:.3f} s   "
            f"{work / base_work:.2f}"
        )


def _spent(action: Callable[[], object]) -> tuple[float, float]:
    """Seconds on the clock, and of the processor for the processes that were started."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    clock = median(action, 1)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return clock, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


if __name__ == "__main__":
    start_up()
    whole = Engine(open_plant().load(TAG))
    for one in ((80, 24), (200, 60)):
        keys(whole, one)
