"""What is due behind a controller once its output is told: the stem stands where it is sent.

By hand: 62 % of 4 to 20 mA is 13.92 mA, which an I/P of 20 to 100 kPa makes 69.6 kPa, and a
stem that follows 62 % of its travel.
"""

from functools import cache

import pytest

from diagnose.circuit.predictor import Predictor
from diagnose.inference.due import AS_DUE, LOW, Due, basis, due, everywhere, verdict
from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.meters import GENERIC
from diagnose.inference.observe import Observer
from diagnose.inference.readings import parse_line, parse_lines
from diagnose.inference.stated import restated
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant

LINES = ("LR-214 40 %", "LIC-214 62 %")


@cache
def loop() -> Loop:
    return open_plant().load("LIC-214")


@cache
def expected(*lines: str, anew: bool = True) -> dict[Measurement, Due]:
    said = parse_lines(lines, loop())
    taken = restated(loop(), said) if anew else loop()
    return due(everywhere(taken), Observer(Predictor(taken), GENERIC), basis(said, taken))


def shown(name: str, *lines: str, anew: bool = True) -> Due:
    return expected(*lines, anew=anew)[Measurement("shows", (name,))]


@pytest.mark.parametrize("anew", [True, False])
def test_what_follows_an_output_is_due_where_it_stands(anew: bool) -> None:
    """Whether the loop was taken up anew there or not."""
    stem, gauge = shown("LV-214", *LINES, anew=anew), shown("PG3", *LINES, anew=anew)
    assert stem.value == pytest.approx(0.62, abs=0.002)
    assert stem.high - stem.low < 0.1
    assert gauge.value == pytest.approx(69.6e3, rel=0.005)
    assert gauge.high - gauge.low < 10e3


def test_an_output_that_nobody_told_may_stand_anywhere() -> None:
    stem = shown("LV-214", LINES[0])
    assert (stem.low, stem.high) == (0.0, 1.0)


@pytest.mark.parametrize(("line", "told"), [("LV-214 20 %", LOW), ("LV-214 62 %", AS_DUE)])
def test_a_stem_that_stays_behind_is_not_as_due(line: str, told: str) -> None:
    reading = parse_line(line, loop())
    assert isinstance(reading, Reading)
    assert verdict(reading, shown("LV-214", *LINES), loop()) == told


@pytest.mark.parametrize("tag", ["LT-214", "PT-119", "XV-222"])
def test_every_terminal_is_told_once_and_none_against_itself(tag: str) -> None:
    """A voltage is one of two points (by its definition); each display is looked at besides."""
    taken = open_plant().load(tag)
    volts = [item for item in everywhere(taken) if item.points[1:]]
    shown = [item for item in everywhere(taken) if item.function == "shows"]
    assert len(volts) > 10
    assert all(a != b for a, b in (item.points for item in volts))
    assert len({item.points[0] for item in volts}) == len(volts)
    assert taken.reference not in {item.points[0] for item in volts}
    assert {item.function for item in volts} == {"VAC" if tag == "XV-222" else "V"}
    assert {item.points[0] for item in shown} == {p.name for p in taken.parts if p.kind.shows}
