"""What stands beside the loop and may be wrong or meant: a local gauge, a controller in manual.

Odds on paper: prior weight times the density of what is read.  Rates and the share of loops that
are put in manual on purpose are assumptions of the project (common practice, no source).
"""

from __future__ import annotations

import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_line
from diagnose.loops.kinds.process import LocalGauge, ProcessConnection
from diagnose.loops.plant import open_plant


def _odds(tag: str, lines: list[str], *keys: tuple[str | None, str]) -> float:
    loop = open_plant().load(tag)
    engine = Engine(loop)
    belief = engine.look([parse_line(line, loop) for line in lines]).belief
    number = {h.key: h.number for h in engine.hypotheses}
    first, second = (float(belief.probability[number[key]]) for key in keys)
    return first / second


def test_a_gauge_against_a_blocked_tapping() -> None:
    """One of the two stands still, the other tells the process, which may be anywhere.

    Where a blocked tapping leaves the reading is uniform over 1.1 of range, what a stuck gauge
    shows over 1.0: the odds are the rates over these widths.
    """
    blocked = next(mode for mode in ProcessConnection.modes if mode.name == "blocked")
    stuck = next(mode for mode in LocalGauge.modes if mode.name == "stuck")
    due = (blocked.rate / 1.1) / (stuck.rate / 1.0)
    keys = (("T1", "blocked"), ("LG-214", "stuck"))
    assert _odds("LT-214", ["LI-214 70 %", "LG-214 50 %"], *keys) == pytest.approx(due, rel=0.02)


def test_a_gauge_that_contradicts_the_complaint_is_asked_after() -> None:
    """Said to read high, and low against the gauge: a tapping that holds it low explains nothing.

    Nor does any other fault of the loop; a gauge by which people once called the loop high, does.
    """
    keys = (("LG-214", "stuck"), ("T1", "blocked"))
    lines = ["LI-214 50 %", "LG-214 70 %"]
    assert _odds("LT-214", ["complaint reads high", *lines], *keys) > 1
    # A complaint is caused with 0.7, and explained by nothing with 0.01 (LATENT 1/30 of 0.30).
    told = 0.01 + 0.1 * (0.7 - 0.01)
    due = told / 0.7 * 1.1 * 0.5 / 3
    assert _odds("LT-214", ["complaint reads low", *lines], *keys) == pytest.approx(due, rel=0.02)


@pytest.mark.parametrize("tag", ["LV-214", "FV-118", "LIC-214"])
def test_manual_is_an_operating_state_as_well_as_a_fault(tag: str) -> None:
    """One controller in twenty is found in manual on purpose: the lamp tells 20 to 1.

    That an indication may be worthless (once in 200) would make 19 of the 20; it is not tried where
    a reading is no worse than that.
    """
    station = {"FV-118": "FIC-118"}.get(tag, "LIC-214")
    keys = ((f"{station}.M", "left in manual"), (None, "none"))
    before = _odds(tag, [f"{station} 60 %"], *keys)
    after = _odds(tag, [f"{station} 60 %", f"{station}.M lit"], *keys)
    assert after / before == pytest.approx(20, rel=0.06)


def test_a_loop_in_manual_does_not_hide_a_valve_that_stands_elsewhere() -> None:
    """Told 60 %, standing at 10 %: manual explains no part of it."""
    lines = ["complaint does not follow", "LIC-214.M lit", "LIC-214 60 %", "LV-214 10 %"]
    keys = (("LV-214", "stuck"), ("LIC-214.M", "left in manual"))
    assert _odds("LV-214", lines, *keys) > 5
