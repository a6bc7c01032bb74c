"""A reading with the leads the other way round says the same, whatever was read before it.

The circuit is the same, the value has the other sign, and so has the share of it by which the meter
is wrong (a gain error multiplies: JCGM 100:2008, 5.1.3, the sensitivity to it is the value itself).
"""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.meters import Meter
from diagnose.inference.readings import parse_line
from diagnose.loops.plant import open_plant

AS_USUAL = (
    (
        "LT-214",
        ("LG-214 93 %", "mA X20:1 X21:1 19.98", "LI-214 101.0 %", "mA X21:6 X21:7 19.99"),
    ),
    ("LT-214", ("V X21:7 X20:0 3.020", "V X21:4 X20:0 19.35", "LI-214 50.1 %")),
    ("LV-214", ("LIC-214 60.0 %", "V K1:+ K1:- 5.60", "V X31:1 X30:0 5.63")),
)


def _reversed(line: str) -> str:
    """The same reading with the leads the other way round."""
    function, *points, value = line.split()
    if function not in ("V", "mA"):
        return line
    return " ".join([function, *reversed(points), f"-{value}"])


@pytest.mark.parametrize(("tag", "lines"), AS_USUAL)
def test_reversed_leads_change_nothing(tag: str, lines: tuple[str, ...]) -> None:
    loop = open_plant().load(tag)
    engine = Engine(loop)

    def believed(some: list[str]) -> np.ndarray:
        return engine.look([parse_line(line, loop) for line in some]).belief.probability

    usual = believed([*lines])
    for number, line in enumerate(lines):
        other = [*lines[:number], _reversed(line), *lines[number + 1 :]]
        if other != [*lines]:
            assert believed(other) == pytest.approx(usual, abs=2e-3)


def test_a_gain_error_has_the_sign_of_the_value() -> None:
    gain, noise = Meter().uncertainty("mA", 0.012)
    assert Meter().uncertainty("mA", -0.012) == pytest.approx((-gain, noise))
