"""A line that says what was looked for and is not there, and what the belief makes of it.

Source: Bayes' rule by hand, P(h | not a) = P(h) / (1 - P(a)).  That a part which was inspected is
written down as found good is common practice, no source.
"""

from functools import cache
from pathlib import Path

import pytest

from diagnose.errors import ReadingError
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Cleared
from diagnose.inference.readings import parse_line, parse_lines
from diagnose.inference.reasons import reasons
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.loops.sheet import load_sheet
from small_loop import LOOP

SHEET = Path(__file__).resolve().parents[1] / "sheets" / "b3.toml"


@cache
def engine() -> Engine:
    return Engine(load_sheet(SHEET))


@pytest.mark.parametrize(
    ("line", "part", "fault", "seen"),
    [
        ("good R1 drift", "R1", "drift", ""),
        (
            "Found good: r1 DRIFT, 249.9 ohm out of circuit",
            "R1",
            "drift",
            "249.9 ohm out of circuit",
        ),
        ("cleared LT-214 output error", "LT-214", "output error", ""),
        ("good E1 0.2 ohm", "E1", "open", "0.2 ohm"),
    ],
)
def test_a_fault_that_is_not_there(line: str, part: str, fault: str, seen: str) -> None:
    found = parse_line(line, LOOP)
    assert isinstance(found, Cleared)
    assert (found.part, found.fault, found.seen) == (part, fault, seen)
    assert parse_line(found.text, LOOP) == found


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("good", "say which part and which fault"),
        ("good RX1 drift", "did you mean R1"),
        ("good R1", "such as: good R1 open; known: drift, open, short"),
        ("good R1 drifft", "did you mean drift"),
        ("good LT-214 outp eror", "did you mean output error"),
        ("R1 drift good", "write for example: good R1 drift"),
        ("R1 ok", "write for example: good R1"),
        ("R1 fine", "write for example: good R1"),
        ("R1 well", "write for example: good R1"),
        ("R1 sound", "write for example: good R1"),
        ("R1 found good", "write for example: good R1"),
        ("R1 drift cleared", "write for example: good R1 drift"),
        ("F1 blown good", "write for example: good F1 open"),
        ("good X21:7 loose", "X21:7 is a terminal; say which part of it: LK2, R1, B1"),
    ],
)
def test_what_is_not_understood_is_told_in_one_line(line: str, told: str) -> None:
    with pytest.raises(ReadingError, match=told) as caught:
        parse_line(line, LOOP)
    assert "\n" not in str(caught.value)


def test_a_gauge_that_has_no_fault_of_its_own_cannot_be_found_good() -> None:
    """The sheet knows a pressure gauge as something to look at; a part beside it may be meant."""
    with pytest.raises(ReadingError, match="no part that can fail called 'PG1'"):
        parse_line("good PG1 stuck", open_plant().load("FV-118"))


def test_it_is_out_of_the_running_and_the_rest_keeps_its_odds() -> None:
    lines = ("complaint reads low", "V d n 0.0")
    before = engine().rank(parse_lines(lines, engine().loop))
    first = next(item for item in before.hypotheses if item.part and not item.also)
    after = engine().rank(parse_lines([*lines, f"good {first.part} {first.fault}"], engine().loop))
    chance = {(item.part, item.fault): item.probability for item in after.hypotheses}
    assert chance[first.part, first.fault] < 1e-9
    for item in before.hypotheses[:4]:
        if item is not first and not item.also:
            due = item.probability / (1 - first.probability)
            assert chance[item.part, item.fault] == pytest.approx(due, abs=1e-4)
    assert (first.part, first.fault) not in {(item.part, item.fault) for item in after.remedy}


@pytest.mark.parametrize("left", [0, 1])
def test_where_all_was_found_good_something_else_is_the_cause(left: int) -> None:
    """Nor does a pair of faults come up that are not there."""
    faults = [h.key for h in engine().hypotheses if h.mode is not None][left:]
    lines = [
        "complaint reads low",
        "V d n 0.0",
        *(f"good {part} {fault}" for part, fault in faults),
    ]
    ranking = engine().rank(parse_lines(lines, engine().loop))
    gone = dict.fromkeys(faults, 0.0)
    for item in ranking.hypotheses:
        for key in ((item.part, item.fault), *item.also):
            if key in gone:
                gone[key] += item.probability
    assert max(gone.values()) < 1e-6
    alive = sum(item.probability for item in ranking.hypotheses) + ranking.unexplained
    assert alive == pytest.approx(1.0, abs=1e-6)


def test_it_is_told_among_the_reasons() -> None:
    loop: Loop = engine().loop
    fault = next(h.key for h in engine().hypotheses if h.mode is not None)
    said = parse_lines(["complaint reads low", f"good {fault[0]} {fault[1]}"], loop)
    found = reasons(engine(), said, (None, "none"))
    assert f"{fault[0]} {fault[1]} found good" in [fact.text for fact in found.facts]
    assert found.facts[1].bits > 0  # one suspect less speaks for every other explanation
