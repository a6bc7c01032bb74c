"""What the tests of drills share: engines made once, drills, and what is checked of them."""

from functools import cache
from pathlib import Path

from diagnose.inference.engine import Engine
from diagnose.loops.plant import open_plant
from diagnose.training.drill import Drill
from diagnose.training.setting import Setting

PLANT = Path(__file__).resolve().parents[1] / "cases" / "larkmere"


@cache
def engine(tag: str = "LT-214") -> Engine:
    """The engine of a loop of the demo plant."""
    return Engine(open_plant(PLANT).load(tag))


def drill(tag: str = "LT-214", **setting: object) -> Drill:
    """A drill on a loop; without faults the loop is sound."""
    given = {"faults": (), "draw": "none", "seed": 5, "process": 0.5, **setting}
    return Drill(Setting(tag, **given), engine(tag))  # type: ignore[arg-type]
