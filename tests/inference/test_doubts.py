"""A ranking says itself when the sheet, or the process, may be what is wrong.

Sources: the chi-square distribution after scipy; a supply at 21.4 V where the sheet says 24 V reads
the same whether the supply is low or the sheet another loop's (two causes, one circuit).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2, norm

from diagnose.inference.data import Datum
from diagnose.inference.doubts import SHEET
from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_lines
from diagnose.inference.surprise import surprise
from diagnose.inference.weighing import Weighted
from diagnose.loops.sheet import load_sheet

SHEET_OF_LOOP = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets" / "LT-214.toml"


@cache
def engine() -> Engine:
    return Engine(load_sheet(SHEET_OF_LOOP))


def ranked(*lines: str) -> Ranking:
    return engine().rank(parse_lines(lines, engine().loop))


def fitted(misfit: float, free: int, wrong: int = 0) -> tuple[Weighted, list[Datum]]:
    """One cell of a fault without size, and readings, ``free`` more than the process uses up."""
    count = free + 1 + wrong
    marked = np.zeros((1, count), bool)
    marked[0, :wrong] = True
    line = np.array([0])
    weighted: Any = SimpleNamespace(
        cells=SimpleNamespace(low=line, high=line), wrong=marked,
        peak=SimpleNamespace(misfit=np.array([misfit])),
    )  # fmt: skip
    data: Any = [SimpleNamespace(side=0)] * count
    return weighted, data


@pytest.mark.parametrize("free", [1, 2, 3, 5, 8])
@pytest.mark.parametrize("tail", [0.5, 0.05, 1e-3])
@pytest.mark.parametrize("wrong", [0, 2])
def test_surprise_is_that_of_the_chi_square(free: int, tail: float, wrong: int) -> None:
    weighted, data = fitted(float(chi2.isf(tail, free)), free, wrong)
    found = surprise(weighted, 0, data)
    # The cube root of one square is normal to no better than a fifth of a standard deviation.
    assert found == pytest.approx(norm.isf(tail), abs=0.2 if free == 1 else 0.1)


def test_a_supply_a_tenth_low_may_be_another_loops_sheet() -> None:
    notes = ranked("complaint clips", "V G1:+ G1:- 21.40", "V X20:1 X20:0 21.41").notes
    assert notes["sheet"].startswith("G1 with 21.4")
    assert "where the sheet says 24.0" in notes["sheet"]
    assert notes["sheet"].endswith(SHEET)


def test_a_dead_supply_is_no_matter_of_the_sheet() -> None:
    ranking = ranked("complaint reads zero", "V G1:+ G1:- 0.001", "V X20:1 X20:0 0.000")
    assert ranking.hypotheses[0].fault == "dead"
    assert not ranking.notes


def test_readings_that_fit_nothing_say_so() -> None:
    lines = ("V X21:5 X20:0 11.0", "LIC-214 3 %", "LR-214 97 %", "LI-214 50 %", "clamp W3- 31")
    notes = ranked(*lines, "clamp W4+ 2", "V X21:7 X20:0 -6").notes
    assert notes["fit"].startswith("these readings fit no")


def test_a_level_that_swings_is_told_of() -> None:
    swinging = ("LIC-214 50 %", "LIC-214 57 %", "LIC-214 45 %", "LIC-214 53 %")
    assert "move" in ranked(*swinging).notes["process"]
    assert "process" not in ranked(*swinging[:1] * 3).notes


def test_nothing_is_doubted_before_anything_was_read() -> None:
    assert not ranked("complaint reads low").notes


def test_a_rare_fault_that_fits_is_not_said_to_fit_nothing() -> None:
    """Commanded off, and the channel's lamp lit: only a force does that.

    The lamp tells what the card's logic was told (drawing of XV-221), so that "no fault fits" would
    be untrue whatever the rates are.
    """
    own = Engine(load_sheet(SHEET_OF_LOOP.with_name("XV-221.toml")))
    lines = ("complaint stays on", "HS-221 off", "A1 lit")
    ranking = own.rank(parse_lines(lines, own.loop))
    assert ranking.unexplained > 0.2  # the share of the unmodelled outweighs a rare fault
    assert ranking.notes["rare"].startswith("A1 forced on fits all of these readings")
    assert "fit" not in ranking.notes


@pytest.mark.parametrize("line", ["V X20:0 X21:7 3.0", "V X21:7 X20:0 -3.0"])
@pytest.mark.parametrize("others", [(), ("LIC-214 50 %",)])
def test_swapped_leads_are_named_whichever_point_was_typed_first(
    line: str, others: tuple[str, ...]
) -> None:
    """1 to 5 V stand on X21:7 against X20:0: a minus is a matter of the leads."""
    (found,) = [item for item in ranked(*others, line).suspects if item.text == line]
    assert found.reason.startswith("leads swapped?")


def test_a_level_beyond_the_range_makes_no_rare_fault_of_a_blocked_line() -> None:
    """Nothing on the sheet puts 111 % into a sight glass."""
    notes = ranked("LG-214 2000 mm").notes
    assert "rare" not in notes
    assert notes["fit"].startswith("these readings fit no fault")


def test_a_horn_that_is_silent_may_have_been_silenced() -> None:
    """Lamp and horn are fed by one contact: the first thing a shift does is to silence the horn."""
    own = Engine(load_sheet(SHEET_OF_LOOP.with_name("LAHH-214.toml")))
    lines = ("complaint tripped", "LIC-214 70 %", "H1 lit", "H2 silent", "U5 dark")
    ranking = own.rank(parse_lines(lines, own.loop))
    (found,) = [item for item in ranking.suspects if item.text == "H2 silent"]
    assert found.reason.startswith("silenced by somebody?")


SAFE = ("complaint no trip", "LIC-214 30 %", "RL1 pulled in", "H1 dark", "process 30 %")


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ((*SAFE, "K1 dark"), True),
        (("complaint tripped", *SAFE[1:], "K1 dark"), False),
        ((*SAFE, "K1 dark", "K1 lit with B1 fed 5 V", "K1 dark with B1 fed 1 V"), False),
    ],
    ids=["missed", "tripped", "fed and seen"],
)
def test_a_trip_that_was_missed_is_not_cleared_by_what_is_quiet(
    lines: tuple[str, ...], said: bool
) -> None:
    """The level has come down since: a trip that cannot act is as dark as one that need not.

    That a protective function which failed on demand is proved before it is relied on again: IEC
    61511-1, term from memory; common practice.
    """
    own = Engine(load_sheet(SHEET_OF_LOOP.with_name("LAHH-214.toml")))
    ranking = own.rank(parse_lines(lines, own.loop))
    assert ranking.hypotheses[0].part is None or not said
    assert ("trip" in ranking.notes) == said
    if said:
        assert "prove it under its bypass" in ranking.notes["trip"]
