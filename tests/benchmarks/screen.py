"""The full screen: from a key to the repainted screen, and its start-up.

    python tests/benchmarks/screen.py

1. keys typed at a session on the largest sheet of the demo plant, LIC-214, with readings taken: the
   time from a key to the screen painted with it, while nothing is computed and while the ranking
   is; medians and 95 % points, against the 0.1 s in which a person sees no delay;
2. start-up on a terminal until the first question is on the screen, against
   ``python -c "import sympy"``; medians of nine runs each, in turn.

Nothing is asserted, since machines differ.
"""

from __future__ import annotations

import asyncio
import statistics
import tempfile
import time
from io import StringIO
from pathlib import Path

from prompt_toolkit.application import create_app_session
from prompt_toolkit.data_structures import Size
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output.vt100 import Vt100_Output
from speed import median, process, session

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
    for name, times in (("nothing computed", idle), ("ranking computed", busy)):
        if times:
            middle = statistics.median(times)
            share = statistics.quantiles(times, n=20, method="inclusive")[-1]
            print(
                f"key to repaint, {columns}x{rows}, {name:<18}{middle * 1e3:7.1f} ms, 95 % within "
                f"{share * 1e3:6.1f} ms   {share / SEEN_AT_ONCE:.2f} of 0.1 s ({len(times)} keys)"
            )


async def _typed(screen: FullScreen, pipe: PipeInput) -> tuple[list[float], list[float]]:
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


async def _key(screen: FullScreen, pipe: PipeInput, key: str, painted: asyncio.Event) -> float:
    """Seconds from a key to the screen painted with what it typed."""
    wanted = screen.app.current_buffer.text + key
    start = time.perf_counter()
    pipe.send_text(key)
    while screen.app.current_buffer.text != wanted:
        await asyncio.sleep(0)
    painted.clear()
    await painted.wait()
    return time.perf_counter() - start


async def _until_still(screen: FullScreen) -> None:
    await asyncio.sleep(0.1)
    while screen.busy or screen.shown.began is not None:
        await asyncio.sleep(0.01)


def start_up() -> None:
    """Row 2."""
    algebra = process(["-c", "import sympy"])
    with tempfile.TemporaryDirectory() as home:
        actions = {"import sympy": algebra, "first question": lambda: session(home, terminal=True)}
        for action in actions.values():
            action()
        runs = [[median(action, 1) for action in actions.values()] for _ in range(9)]
    base, first = (statistics.median(column) for column in zip(*runs, strict=True))
    print(f"import sympy                            {base:8.3f} s   1.00 (baseline)")
    print(f"full screen with its first question     {first:8.3f} s   {first / base:.2f}")


if __name__ == "__main__":
    start_up()
    whole = Engine(open_plant().load(TAG))
    for one in ((80, 24), (200, 60)):
        keys(whole, one)
