"""A display that stands still while another on the same bus moves is the display's own fault.

Common practice, no source: of two receivers of one bus the one that agrees with its volts is right
(2.2 V of 1-5 V are 30 %, by hand), and an impulse line reaches both alike.
"""

from __future__ import annotations

from pathlib import Path

from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_lines
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).resolve().parents[2] / "cases" / "larkmere" / "sheets" / "LT-214.toml"
ONE, OTHER = "LIC-214", "LR-214"


def test_the_receiver_that_does_not_follow_its_volts_leads() -> None:
    engine = Engine(load_sheet(SHEET))
    lines = ("complaint frozen", f"{ONE} 50 %", f"{OTHER} 30 %", "V X21:7 X20:0 2.2")
    first = engine.rank(parse_lines(lines, engine.loop)).hypotheses[0]
    assert (first.part, first.fault) == (ONE, "frozen")


def test_one_that_shows_its_volts_does_not() -> None:
    engine = Engine(load_sheet(SHEET))
    lines = ("complaint frozen", f"{ONE} 30 %", f"{OTHER} 30 %", "V X21:7 X20:0 2.2")
    first = engine.rank(parse_lines(lines, engine.loop)).hypotheses[0]
    assert (first.part, first.fault) == ("T1", "blocked")


def test_before_any_volts_the_displays_lead_and_not_the_unknown() -> None:
    """Common practice, no source: of one bus, displays that differ are looked at first."""
    engine = Engine(load_sheet(SHEET))
    lines = ("complaint frozen", f"{ONE} 50 %", f"{OTHER} 30 %")
    ranking = engine.rank(parse_lines(lines, engine.loop))
    own = sum(h.probability for h in ranking.hypotheses if h.part in (ONE, OTHER))
    assert own > 1.5 * ranking.unexplained
