"""A display on which the whole verdict hangs is looked at twice: it costs less than being wrong.

Common practice, no source: nobody puts a controller right on one glance at a lamp.
"""

from __future__ import annotations

from pathlib import Path

from diagnose.inference.advice import SURE
from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_lines
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).resolve().parents[2] / "cases" / "larkmere" / "sheets" / "XV-221.toml"


TOLD = (
    "complaint stays off", "HS-221 on", "A1 dark", "V A1:1 A1:2 23.9", "A1 dark",
)  # fmt: skip
"""A channel that lets nothing through: by its card, if it was told to, as one display says."""


def test_a_lamp_that_decides_alone_is_looked_at_again() -> None:
    engine = Engine(load_sheet(SHEET))
    said = parse_lines(TOLD, engine.loop)
    once = engine.look(said)
    assert once.group_probability().max() >= SURE
    assert once.hinge is not None and not once.resolved
    assert once.candidates[once.hinge].measurement == said[1].measurement  # type: ignore[union-attr]
    assert once.again(once.hinge) == 1
    twice = engine.look([*said, said[1]])
    assert twice.hinge is None and twice.resolved
    odd = engine.look([*said, *parse_lines(("HS-221 off",), engine.loop)])
    assert not odd.resolved


def test_a_meter_that_a_short_would_blow_is_put_in_series_no_second_time() -> None:
    """The verdict may hang on a current, but not on a second fuse (common practice, no source)."""
    engine = Engine(load_sheet(SHEET))
    adviser = engine.look(parse_lines(TOLD, engine.loop))
    assert adviser.hinge is not None
    again = adviser.of(engine)
    again.__dict__.pop("hinge")
    again.blown = adviser.blown.copy()
    again.blown[adviser.hinge] = True
    assert again.hinge != adviser.hinge
