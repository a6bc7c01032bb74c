"""Help speaks of what a loop has: every line that it gives as an example is one of that loop."""

import pytest

from diagnose.inference.examples import examples
from diagnose.inference.readings import parse_line, parse_measurement
from diagnose.loops.plant import open_plant


@pytest.mark.parametrize("tag", open_plant().tags())
def test_every_example_can_be_typed(tag: str) -> None:
    loop = open_plant().load(tag)
    found = examples(loop)
    assert len(found.readings) == 3
    for line in found.readings:
        assert parse_line(line, loop)
    for line in found.measurements:
        assert parse_measurement(line, loop)
    parts = {part.name: [mode.name for mode in part.kind.modes] for part in loop.parts}
    for fault in found.faults:
        part, _, mode = fault.partition(" ")
        assert mode in parts[part]


@pytest.mark.parametrize("tag", ["TT-131", "TT-132", "TT-133"])
def test_a_resistance_thermometer_gives_millivolts(tag: str) -> None:
    """1 mA through a Pt100 is 100 mV at 0 degC (IEC 60751, from memory), never 3.5 V."""
    loop = open_plant().load(tag)
    assert 0.02 < parse_line(examples(loop).readings[0], loop).value < 0.4  # type: ignore[union-attr]
