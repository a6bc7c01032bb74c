"""Cores of a loop that nothing joins to earth, tried one by one.

Resistance of copper: IEC 60228:2004, classes 1 and 2: 18.1 ohm/km at most at 1 mm2 and 20 degC, by
secondary tables that agree.  The rest is arithmetic on paper.
"""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.inference.candidates import candidates
from diagnose.inference.engine import Engine
from diagnose.inference.observe import JUMPER
from diagnose.inference.readings import describe, parse_line
from diagnose.loops.plant import open_plant

CORE = "ohm X74:2 PE with LY-216 off and jumper JB33:1 PE"
FAR = "ohm JB33:1 PE with LY-216 off and jumper LSL-216:1 PE"


def lines(tag: str) -> list[str]:
    loop = open_plant().load(tag)
    return [describe(c.measurement, loop) for c in candidates(loop)]


@pytest.mark.parametrize("tag", ["LSL-216", "ZS-221"])
def test_each_core_of_a_floating_loop_can_be_tried_by_itself(tag: str) -> None:
    tried = [line for line in lines(tag) if "jumper" in line]
    assert len(tried) >= 2
    assert all(" PE with " in line and " off " in line for line in tried)


@pytest.mark.parametrize("tag", ["LT-214", "XV-221", "FV-118"])
def test_where_something_joins_the_loop_to_earth_volts_tell(tag: str) -> None:
    assert not [line for line in lines(tag) if "jumper" in line]


def test_a_whole_core_reads_its_copper() -> None:
    """150 m of 1 mm2 at 18.1 ohm/km; joints and temperature are within what is left open."""
    loop = open_plant().load("LSL-216")
    engine = Engine(loop)
    wanted = next(c.measurement for c in candidates(loop) if describe(c.measurement, loop) == CORE)
    level = engine.atlas.sound.sight(wanted, np.array([0.5])).level[0, 0]
    assert float(engine.meter.ohms(level)) == pytest.approx(0.150 * 18.1 + JUMPER, rel=0.08)


@pytest.mark.parametrize(("read", "open_"), [("OL", "W78+"), ("0.5 ohm", "W78-")])
def test_the_open_one_of_two_cores_is_found(read: str, open_: str) -> None:
    """Every voltage is the same whichever core is open; a core tried by itself is whole or not."""
    loop = open_plant().load("LSL-216")
    said = ["complaint tripped", "V X74:2 LY-216:3 8.05", "V JB33:1 JB33:2 8.04"]
    said += ["V LSL-216:1 LSL-216:2 0.000"]
    engine = Engine(loop)
    before = engine.rank([parse_line(line, loop) for line in said])
    assert before.groups[0].probability < 0.6
    tried = FAR.replace(" with", f" {read} with")
    after = engine.rank([parse_line(line, loop) for line in (*said, tried)])
    assert after.groups[0].probability > 0.98
    assert all(str(part).startswith(open_) for part, _ in after.groups[0].members)
