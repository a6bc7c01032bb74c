"""The reference loop of the signature table (``sheets/b3.toml``): its engine, what it believes."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from diagnose.inference.engine import Engine
from diagnose.inference.posterior import Belief
from diagnose.inference.readings import parse_lines
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).resolve().parent / "sheets" / "b3.toml"


@cache
def engine() -> Engine:
    return Engine(load_sheet(SHEET))


def stands_still(line: str) -> float:
    """Share of the modelled, after one look, in which what is shown does not follow the process."""
    belief = believed(line)
    still = (("T1", "blocked"), ("TX", "frozen"), ("TX", "fixed output"))
    held = sum(belief.probability[engine().hypothesis(key).number] for key in still)
    return float(held / (1 - belief.unmodelled))


def believed(*lines: str) -> Belief:
    belief, _ = engine().believe(engine().sort(parse_lines(lines, engine().loop)))
    return belief
