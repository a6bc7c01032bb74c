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


def believed(*lines: str) -> Belief:
    belief, _ = engine().believe(engine().sort(parse_lines(lines, engine().loop)))
    return belief
