"""The first severity of a pair where the readings put it.

Source: a transmitter that a low supply has killed holds no signal, and one that its supply keeps
alive holds its bus at 1 V or more (by hand, from the sheet); and, where levels are straight in the
severity, the straight way itself.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from diagnose.inference import first_severity
from diagnose.inference.engine import Engine
from diagnose.inference.evidence import evidence
from diagnose.inference.hypotheses import Pair
from diagnose.inference.measurement import Applied, Measurement, Reading
from diagnose.inference.pairs import Search
from diagnose.loops.sheet import load_sheet

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"
FEED = Measurement("V", ("FT-124:1", "X20:0"))
LEAK, SHORT = (("I.BC", "leakage"),), ("I.AC", "short")
LOW, BLOCKED = ("G2", "low"), ("T1", "blocked")


@pytest.fixture(scope="module")
def engine() -> Engine:
    """A transmitter with a supply of its own."""
    return Engine(load_sheet(SHEETS / "FT-124.toml"))


def test_a_supply_that_is_too_low_to_live_on_is_not_well_at_once(engine: Engine) -> None:
    # The bus is dead, the feed has 22.3 V: the transmitter lives on far less.
    readings = [
        Reading(Measurement("ohm", ("X20:0", "X61:3"), (Applied("G2", "off"),)), "value", 0.0),
        Reading(Measurement("V", ("FR-124:+", "PE")), "value", 0.0065),
        Reading(Measurement("V", ("X59:7", "X20:0"), (Applied("F2", "out"),)), "value", 0.0),
        Reading(FEED, "value", 22.34517),
    ]
    belief, atlas = engine.believe(engine.sort(readings))
    held = {
        frozenset((h.key, *h.also)): belief.probability[h.number] for h in atlas.ground.hypotheses
    }
    assert held.get(frozenset((LOW, BLOCKED)), 0.0) < 0.005


def test_a_severity_that_moves_nothing_beyond_a_bend_is_not_as_good_everywhere() -> None:
    """A transmitter that drives tells the resistor; its cable's volts the process, at 20 mA and on.

    A blocked tapping beside the resistor adds nothing: of two such faults together the rates leave
    less than a tenth of what the resistor alone has.  (With a tapping blocked where the current is
    at its end, each severity of it counted as if it gave that current.)
    """
    engine = Engine(load_sheet(SHEETS / "PT-306.toml"))
    driven = (Applied("PT-306", "driven", 12e-3),)
    readings = [
        Reading(Measurement("shows", ("PI-306",), driven), "value", 0.19),
        Reading(Measurement("V", ("Z1:1", "PE")), "value", 20.92, rounding=0.005),
    ]
    belief, atlas = engine.believe(engine.sort(readings))
    drift = ("R1", "drift")
    both = frozenset((drift, BLOCKED))
    held = sum(
        float(belief.probability[h.number])
        for h in atlas.ground.hypotheses
        if frozenset((h.key, *h.also)) == both
    )
    assert held < 0.1 * belief.probability[engine.hypothesis(drift).number]


@pytest.mark.parametrize("put", [0.88, 0.93, 0.99])
def test_on_a_straight_way_nothing_changes(
    engine: Engine, monkeypatch: pytest.MonkeyPatch, put: float
) -> None:
    """The feed is a share of the supply, whatever the process is."""
    first, second = engine.hypothesis(LOW), engine.hypothesis(BLOCKED)
    number = len(engine.hypotheses)
    pair = Pair(number, second.part, second.mode, 0.0, second.place, first, put)
    data = engine.sort([Reading(FEED, "value", 22.3)]).data
    atlas = engine.atlas.extended((pair,))
    cells = atlas.cells.some(np.flatnonzero(atlas.cells.h == number))
    levels = atlas.levels([FEED])
    right = np.ones((len(cells), 1), bool)
    value, peak = evidence(cells, data, levels, right, 0.0)

    def kept(apart: float) -> np.ndarray:
        monkeypatch.setattr(first_severity, "APART", apart)
        found = first_severity.within(atlas, (cells, value, peak), data, levels, right, 0.0)
        return np.asarray(found)

    assert kept(0.0) == pytest.approx(kept(2.0), abs=0.05)


def test_a_severity_that_the_process_makes_up_for_is_told_by_no_reading() -> None:
    """What a leak beside a resistance thermometer takes, a warmer one gives: they fit alike.

    A leak then explains the readings no better than none does, whatever its size: against the
    shorted cores alone it holds no more than its own chance (a share of a whole is less than it).
    """
    engine = Engine(load_sheet(SHEETS / "TT-131.toml"))
    opened = (Applied("TE-131.BC", "open"),)
    off = (Applied("TI-131", "off"),)
    readings = [
        Reading(
            Measurement("V", ("TI-131:A", "TI-131:B"), opened), "value", -0.1615, rounding=5e-5
        ),
        Reading(Measurement("V", ("PE", "TI-131:C")), "value", 19.40603),
        Reading(Measurement("V", ("TI-131:B", "X31:2")), "value", 0.0, rounding=5e-5),
        Reading(Measurement("ohm", ("X31:1", "PE"), off), "value", 0.6, rounding=0.05),
        Reading(Measurement("V", ("X31:3", "TI-131:C")), "value", 2e-4, rounding=5e-5),
    ]
    belief, atlas = engine.believe(engine.sort(readings))
    short = belief.probability[engine.hypothesis(SHORT).number]
    assert short > 0.9
    search = Search(engine.atlas, engine.sort(readings).data, engine.priors(()), 0.0)
    beside = [h for h in atlas.ground.hypotheses if isinstance(h, Pair) and h.also == LEAK]
    assert beside
    chance = np.exp(search.log_priors(beside) - engine.priors(())[engine.hypothesis(SHORT).number])
    assert (belief.probability[[h.number for h in beside]] < 1.1 * chance * short).all()
