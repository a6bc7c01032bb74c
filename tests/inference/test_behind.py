"""A further fault behind the one that was found, against sums on paper.

All pairs of faults together have 2 % of the calls, split in proportion to both rates and three
times as much at one place (assumptions of the model).  Behind a dead supply hardly anything shows:
the chance of a second fault is then the sum over all others, done here from the rates alone.
"""

from functools import cache
from itertools import combinations

from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_lines
from diagnose.loops.sheet import load_type

SHARE, AT_ONE_PLACE = 0.02, 3


@cache
def engine() -> Engine:
    return Engine(load_type("two-wire-input"))


def ranked(*lines: str) -> Ranking:
    return engine().rank(parse_lines(list(lines), engine().loop))


def beside_on_paper(part: str) -> float:
    """Odds of a second fault in another part, if none of them shows."""
    faults = [h for h in engine().hypotheses if h.mode is not None]
    apart = [(a, b) for a, b in combinations(faults, 2) if a.part != b.part]
    both = sum(a.prior * b.prior for a, b in apart)
    same = sum(a.prior * b.prior for a, b in combinations(faults, 2) if a.part == b.part)
    [place] = {h.place for h in faults if h.part == part}
    others = (h for h in faults if h.part != part)
    near = sum(h.prior * (AT_ONE_PLACE if h.place == place else 1) for h in others)
    return SHARE * near / (both + same)


DEAD = ("complaint reads low", "V X21:7 X20:0 0.000", "V G1:+ G1:- 0.000")


def test_what_hides_behind_a_dead_supply_is_nearly_all_that_there_is() -> None:
    found = ranked(*DEAD)
    first = found.hypotheses[0]
    assert (first.part, first.fault) == ("G1", "dead") and found.resolved
    odds = beside_on_paper("G1")
    most = odds / (1 + odds)
    assert 0.7 * most < found.behind < 1.02 * most
    assert found.behind > 0.05  # so it is told


def test_a_loop_that_follows_hides_less() -> None:
    """The signal comes through with R1 off its value: an open wire would have shown."""
    lines = ("TX 50 %", "process 50 % +- 0.3 %", "V X21:7 X20:0 3.300", "mA X21:4 12.0")
    found = ranked("complaint reads high", *lines, "U1 57.5 %", "U2 57.5 %")
    assert found.hypotheses[0].part == "R1" and found.resolved
    assert 0 < found.behind < 0.7 * ranked(*DEAD).behind


def test_nothing_is_told_while_there_is_more_to_measure() -> None:
    found = ranked("complaint reads low")
    assert not found.resolved and found.behind == 0
