"""Whether a lesson can be solved: the advice hunts it within its limits."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.inference.engine import Engine
from diagnose.inference.meters import Meter
from diagnose.training.drill import Drill
from diagnose.training.results import said
from diagnose.training.score import score_of
from diagnose.training.setting import Setting
from diagnose.training.trainees import advised


@dataclass(frozen=True)
class Solved:
    """How the advice did: it solves a lesson where it passes, in time, with the right group."""

    name: str
    solved: bool
    right: float
    score: float
    minutes: float
    readings: int
    verdict: str


def solve(setting: Setting, engine: Engine, meter: Meter | None = None) -> Solved:
    """Let the advice hunt a lesson."""
    drill = Drill(setting, engine, meter)
    advised(drill, None)
    score = score_of(drill)
    good = score.right >= 0.5 and score.total >= setting.pass_mark and not drill.over_time
    return Solved(
        setting.name, good, score.right, score.total, score.minutes, score.readings,
        said(drill.verdict),
    )  # fmt: skip
