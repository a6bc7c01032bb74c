"""Which way a clamp meter counts: the way the current goes, from plus through the loop to minus."""

import pytest

from diagnose.circuit.operating import operating_point
from diagnose.library import models
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.loops.sheet import load_type_file

FELT = 2e-3
"""Amperes that a milliampere clamp reads for certain; a Pt100's 1 mA in each lead is below."""

LOOPS: list[Loop] = [
    *map(open_plant().load, open_plant().tags()),
    *map(load_type_file, sorted(models().glob("*.toml"))),
]


@pytest.mark.parametrize("loop", LOOPS, ids=lambda loop: loop.tag or loop.type)
@pytest.mark.parametrize("process", [0.25, 0.75])
def test_a_clamp_reads_a_positive_current_in_a_sound_loop(loop: Loop, process: float) -> None:
    """12 mA round the field core of a sound four-wire loop were held for a reversed transmitter."""
    found = operating_point(loop, {}, process).currents
    clamped = [part.name for part in loop.parts if part.kind.clamped]
    assert clamped or not any(abs(current) > FELT for current in found.values())
    assert [name for name in clamped if found.get(name, 0.0) < -FELT] == []
