"""What loops on the same supply do moves the ranking, within its bound.

Common practice, no source: when loops that share a supply read low together, the supply is the
first suspect; when the others are well, it is the last.  The bound is arithmetic.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.errors import DiagnoseError
from diagnose.inference.beside import BY_CHANCE, SHARED, WORDS
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Context
from diagnose.inference.readings import parse_line
from diagnose.loops.record import loop_from_record, loop_to_record
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets" / "LT-214.toml"


@pytest.fixture(scope="module")
def engine() -> Engine:
    return Engine(load_sheet(SHEET))


def chances(engine: Engine, *lines: str) -> dict[str | None, float]:
    """Probability of a fault in each part; None is the sound loop."""
    told = engine.sort([parse_line(line, engine.loop) for line in lines])
    belief, _ = engine.believe(told)
    found: dict[str | None, float] = {}
    for h, probability in zip(engine.hypotheses, belief.probability, strict=False):
        found[h.part] = found.get(h.part, 0.0) + float(probability)
    return found


def test_a_neighbour_that_reads_low_as_well_points_at_what_both_share(engine: Engine) -> None:
    low = chances(engine, "complaint reads low", "LT-216 reads low as well")
    well = chances(engine, "complaint reads low", "LT-216 well")
    plain = chances(engine, "complaint reads low")
    assert well["G1"] < plain["G1"] < low["G1"]
    assert low["G1"] > low["LT-214"]
    denied = chances(engine, "complaint reads low", "LT-216 affected", "V G1:+ G1:- 24.0")
    assert denied["G1"] < 0.1  # a reading says more than a neighbour


def test_the_bound_of_one_word_is_kept(engine: Engine) -> None:
    plain = chances(engine, "complaint reads low")
    low = chances(engine, "complaint reads low", "LT-216 affected")
    odds = (low["G1"] / low["LT-214"]) / (plain["G1"] / plain["LT-214"])
    assert odds == pytest.approx(SHARED / BY_CHANCE, rel=0.02)


@pytest.mark.parametrize("word", WORDS)
def test_every_word_is_understood(engine: Engine, word: str) -> None:
    fact = parse_line(f"LT-216 {word}", engine.loop)
    assert isinstance(fact, Context)
    assert fact.fact == f"LT-216 {WORDS[word]}"


def test_anything_else_is_refused_with_what_would_be_right(engine: Engine) -> None:
    with pytest.raises(DiagnoseError, match="say whether LT-216 is 'affected' as well, or 'well'"):
        parse_line("LT-216 bananas", engine.loop)


def test_neighbours_survive_the_copy_in_a_case(engine: Engine) -> None:
    copy = loop_from_record(loop_to_record(engine.loop))
    assert copy.neighbours == engine.loop.neighbours
    assert copy.neighbours[0].through == {"G1", "G1+.X20", "G1-.X20", "E1"}
