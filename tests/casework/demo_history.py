"""Three years of cases of the demo plant, made anew: `python tests/casework/demo_cases.py`.

Invented calls (`history_calls`), hunted by an invented crew (`history_crew`) with the real engine
and case log on simulated loops; the same seeds and the same engine give the same files.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

from casework.history_calls import Call, again, calls
from casework.history_crew import Crew
from diagnose.inference.engine import Engine
from diagnose.loops.plant import open_plant

PLANT = Path(__file__).resolve().parents[2] / "cases" / "larkmere"


def make(folder: Path, workers: int = 1, tags: Iterable[str] = ()) -> int:
    """Write all cases of some loops, or of all, into a folder; how many."""
    tell = partial(_tag, folder)
    with ProcessPoolExecutor(workers) as pool:
        return sum(pool.map(tell, tags or calls()))


def _tag(folder: Path, tag: str) -> int:
    """All hunts on one loop, in the order of time: what was not put right calls again."""
    loop = open_plant(PLANT).load(tag)
    engine = Engine(loop)
    return sum(1 for call in calls()[tag] for _ in _hunts(call, folder, loop, engine))


def _hunts(call: Call, folder: Path, loop: object, engine: Engine) -> Iterator[Call]:
    rng = np.random.default_rng([call.seed, 5])
    following: Call | None = call
    while following is not None:
        crew = Crew(following, folder, loop, engine)  # type: ignore[arg-type]
        gone = crew.work()
        yield following
        known = crew.fault, crew.complaint
        following = None if gone or following.seed > call.seed + 400 else again(
            following, *known, rng
        )  # fmt: skip
    for path in folder.glob(f".{call.tag}*"):
        path.unlink()
