"""How readings depend on tolerances: derivatives beside circuits with the tolerance moved.

The standard is the same circuit solved with one parameter moved both ways and all drives found
anew, the project's own arithmetic done the long way round.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Measurement
from diagnose.loops.plant import open_plant

PROCESS = np.array([-0.05, 0.35, 0.62, 1.05])
"""Both states of a switch, two positions between; a measured value below, in and above range."""

WITHIN = np.array([0.05, 0.35, 0.62, 0.95])
"""The same for what is shown: nothing stands at the end of its scale or its range."""

NUDGE = 0.02
"""Step, in standard deviations: small against what a level bends over one of them."""


Slopes = tuple[np.ndarray, np.ndarray]
"""By the engine and by moved circuits: (measurement, row)."""


def slopes(engine: Engine, wanted: Sequence[Measurement], process: np.ndarray) -> Iterator[Slopes]:
    """How measurements on the sound loop depend on each tolerance, by both ways."""
    observer, machine, rows = engine.observer, engine.machine, len(process)
    still = np.ones((rows, len(observer.spreads)), bool)
    state = observer.base(machine.columns({}, process), rows, ())
    slope = observer.see_all(wanted, state, process, still).slope
    for k, spread in enumerate(observer.spreads):
        ends = []
        for step in (NUDGE, -NUDGE):
            moved = np.full(rows, machine.wiring.nominal[spread.number] + step * spread.sd)
            there = observer.base(machine.columns({spread.number: moved}, process), rows, ())
            ends.append(observer.see_all(wanted, there, process, still).level)
        yield slope[:, k], (ends[0] - ends[1]) / (2 * NUDGE)


@pytest.mark.parametrize("tag", ["ZS-221", "LSL-216", "TE-140", "TT-133", "FT-124", "LT-214"])
def test_a_tolerance_moves_a_reading_through_what_it_drives_as_well(tag: str) -> None:
    """A sensor with another drop lets its rated current through: its conductance moves with it."""
    engine = Engine(open_plant().load(tag))
    wanted = [
        c.measurement
        for c in engine.candidates
        if c.measurement.function in ("V", "clamp") and not c.measurement.condition
    ]
    assert wanted
    volts = np.array([m.function == "V" for m in wanted])[:, None]
    for slope, found in slopes(engine, wanted, PROCESS):
        # A tenth of what any meter could see: 0.1 mV, 0.1 uA.
        assert np.abs(slope - found).max(where=volts, initial=0.0) < 1e-4
        assert np.abs(slope - found).max(where=~volts, initial=0.0) < 1e-7


@pytest.mark.parametrize("tag", ["XV-221", "XV-222", "LIC-214", "FV-118"])
def test_a_tolerance_moves_what_is_shown_through_what_drives_it(tag: str) -> None:
    """A gauge behind a pilot valve shows the air that the spool lets through, and its tolerance."""
    engine = Engine(open_plant().load(tag))
    dials = [
        c.measurement
        for c in engine.candidates
        if c.measurement.function == "shows"
        and getattr(engine.loop.part(c.measurement.points[0]).kind.shows, "what", "") == "value"
    ]
    assert dials
    moved_by_any = 0.0
    for slope, found in slopes(engine, dials, WITHIN):
        assert np.abs(slope - found).max() < 1e-5  # of range: a fiftieth of any display
        moved_by_any = max(moved_by_any, float(np.abs(found).max()))
    assert moved_by_any > 1e-3
