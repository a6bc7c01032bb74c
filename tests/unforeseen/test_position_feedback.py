"""A loop type that nobody foresaw works from its kind and its sheet alone: no other code knows it.

The divider is checked by Ohm's law on paper; the faults are those of any potentiometer in a
control loop (common practice, no source).
"""

import math
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pathlib import Path

import pytest

from diagnose.circuit.predictor import Predictor
from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_line
from diagnose.loops.kind import Kind
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet
from diagnose.training.hunts import hunt

NAMES = ("potentiometer", "position_input")


@pytest.fixture(scope="module", autouse=True)
def kinds() -> Iterator[None]:
    """The new kinds, known while these tests run."""
    module = import_module("unforeseen.position_feedback")
    new = {kind.name: kind for kind in (module.Potentiometer, module.PositionInput)}
    assert tuple(new) == NAMES
    Kind.registry.update(new)
    yield
    for name in new:
        del Kind.registry[name]


@cache
def loop() -> Loop:
    return load_sheet(Path(__file__).with_name("ZT-230.toml"))


@cache
def engine() -> Engine:
    return Engine(loop())


def group(*lines: str) -> tuple[float, list[tuple[str | None, str]]]:
    """Probability and members of the leading group after some readings."""
    first = engine().rank([parse_line(line, loop()) for line in lines]).groups[0]
    return first.probability, list(first.members)


@pytest.mark.parametrize("stem", [0.0, 0.25, 0.5, 1.0])
def test_wiper_volts_are_those_of_a_loaded_divider(stem: float) -> None:
    machine = Predictor(loop())
    state = machine.solve(machine.columns({}, stem), 1)
    at = machine.wiring.node

    def volts(a: str, b: str) -> float:
        return float((state.v[at[a]] - state.v[at[b]]) * 1.0)

    fed = volts("P:T", "P:B")
    share = 0.05 + 0.90 * stem
    upper, lower = 5000 * (1 - share), 5000 * share
    loaded = 1 / (1 / lower + 1 / (1e6 + 5))  # the card's 1 Mohm, and the 5 ohm of the slide
    expected = fed * loaded / (upper + loaded)
    # 90 m of 0.75 mm2 and some clamps carry 5 uA more, and insulation leaks: below 1e-5 in all
    assert math.isclose(volts("PT.S", "P:B"), expected, rel_tol=1e-5)


def test_lifted_wiper_leads_where_its_core_is_whole() -> None:
    sure, members = group(
        "complaint reads low", "LG 50 % +- 2 %", "U1 -5 %", "V P:T P:B 4.99", "V P:W P:B 0.00"
    )
    assert ("PT", "wiper lifted") in members
    assert sure > 0.5


def test_feed_that_is_low_at_the_card_is_the_cards() -> None:
    sure, members = group("complaint reads low", "U1 30 %", "V U1:F U1:C 3.6", "V U1:I U1:C 1.6")
    assert members == [("U1", "feed low")]
    assert sure > 0.9


def test_shift_of_the_linkage_is_no_fault_of_the_wires() -> None:
    _, members = group(
        "complaint reads high", "LG 40 % +- 1 %", "U1 60 %", "V P:T P:B 4.99", "V P:W P:B 2.95"
    )
    # The gauge beside it may as well be the one that tells nothing of the process.
    assert {part for part, _ in members} == {"PT", "LG"}


def test_hunts_on_it_end_with_the_hidden_fault() -> None:
    found = [hunt(engine(), "advice", seed) for seed in range(20)]
    assert sum(one.right for one in found) >= 18, [one for one in found if not one.right]
    assert sum(one.sure for one in found) >= 16, [one for one in found if not one.sure]
