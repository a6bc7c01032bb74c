"""What costs nothing to ask comes before what costs a walk; bits from the definition of entropy."""

from functools import cache
from math import log2

import pytest

from diagnose.__main__ import main
from diagnose.inference.beside import BY_CHANCE, SHARED
from diagnose.inference.candidates import HOME, MANNED
from diagnose.inference.engine import Engine
from diagnose.inference.free import MOST, WORTH_ASKING
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_line, parse_lines
from diagnose.loops.plant import open_plant


@cache
def engine(tag: str) -> Engine:
    return Engine(open_plant().load(tag))


def ranking(tag: str, *lines: str) -> Ranking:
    return engine(tag).rank(parse_lines(lines, engine(tag).loop))


@pytest.mark.parametrize("tag", ["LT-214", "PT-305", "XV-221", "TT-131"])
def test_each_question_can_be_answered_in_its_own_words(tag: str) -> None:
    loop = engine(tag).loop
    free = ranking(tag, "complaint reads low" if tag != "XV-221" else "complaint no trip").free
    assert 0 < len(free) <= MOST
    for item in free:
        if not item.of:
            assert item.other
            for word in (item.text.removeprefix("context "), *item.other.split(", ")):
                parse_line(f"context {word}", loop)
        elif item.other:
            parse_line(item.text, loop)
            parse_line(item.other, loop)
        else:
            assert item.gain_bits > WORTH_ASKING
            part = loop.part(item.of)
            assert part.read_at in (HOME, MANNED)
            state = part.kind.shows is not None and part.kind.shows.what == "state"
            parse_line(f"{item.text} {'lit' if state else '50 %'}", loop)


def test_what_was_said_is_not_asked_again() -> None:
    before = {item.text for item in ranking("LT-214", "complaint reads high").free}
    assert {"LI-214", "context work"} <= before
    after = ranking("LT-214", "complaint reads high", "context rain", "LI-214 80 %").free
    assert not {"LI-214", "context work"} & {item.text for item in after}


def test_a_neighbour_is_a_test_with_two_outcomes() -> None:
    """I = H(p) - sum P H(p|h), in bits (C. Shannon 1948; chances are those of ``beside``)."""
    [item] = engine("LT-214").loop.neighbours[:1]
    lines = ("complaint reads zero", "V X21:1 X20:0 0.0")
    found = ranking("LT-214", *lines)
    every = {one.of: one for one in found.free}
    inside = sum(h.probability for h in found.hypotheses if h.part in item.through)
    share = inside / sum(h.probability for h in found.hypotheses)

    def entropy(p: float) -> float:
        return -p * log2(p) - (1 - p) * log2(1 - p)

    mixed = share * SHARED + (1 - share) * BY_CHANCE
    bits = entropy(mixed) - share * entropy(SHARED) - (1 - share) * entropy(BY_CHANCE)
    assert bits > WORTH_ASKING
    assert every[item.tag].gain_bits == pytest.approx(bits, abs=0.01)
    told = ranking("LT-214", *lines, "LT-216 well")
    assert item.tag not in {one.of for one in told.free}


def test_the_questions_stand_before_the_step(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rank", "PT-305", "complaint reads low"]) == 0
    told = capsys.readouterr().out
    assert told.index("Ask first, it costs nothing:") < told.index("Next: ")
    assert "PI-305 ..." in told
