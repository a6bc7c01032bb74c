"""Where the end of a simulated hunt would send somebody.

Source: the sheet itself: what was hidden, what was changed, and the tolerances that it states.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from diagnose.inference.engine import Engine, Evidence
from diagnose.inference.readings import parse_lines
from diagnose.inference.world import World
from diagnose.loops.sheet import load_sheet
from diagnose.training.draws import draw
from diagnose.training.honesty import BEYOND, misled, named, plain

SHEET = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets" / "LT-214.toml"
OPEN = ("V X21:5 X20:0 0.000", "V X21:4 X20:0 24.0", "V JB9:1 X20:0 0.000")
DEAD = ("V G1:+ G1:- 0.000", "V X21:5 X20:0 0.000")
RESISTOR, SUPPLY = "R1", "G1"


@cache
def engine() -> Engine:
    return Engine(load_sheet(SHEET))


def world(part: str | None, fault: str, x: float = 0.5) -> World:
    found, _ = draw(engine(), 3, fault=(part, fault))
    found.x = x
    return found


def test_a_drift_counts_from_three_tolerances_on() -> None:
    part, h = engine().loop.part(RESISTOR), engine().hypothesis((RESISTOR, "drift"))
    due, limit = part.values["resistance"], part.tolerances["resistance"]
    shares = [n / 4000 for n in range(4001)]
    found = {plain(engine(), replace(world(RESISTOR, "drift"), x=x)) for x in shares}
    assert found == {True, False}
    for x in shares[::50]:
        moved = dict(h.moves(engine().machine.wiring, x))
        (value,) = moved.values()
        off = abs(float(value) - due)
        assert plain(engine(), replace(world(RESISTOR, "drift"), x=x)) == (off > BEYOND * limit)


def test_a_fault_without_a_size_counts_and_the_sound_loop_does_not() -> None:
    assert plain(engine(), world(RESISTOR, "open"))
    assert not plain(engine(), world(None, "none"))


@pytest.mark.parametrize("knows", [True, False])
def test_what_no_reading_parts_from_the_fault_misleads_nobody(knows: bool) -> None:
    said: list[Evidence] = [*parse_lines(OPEN, engine().loop)]
    judge = engine() if knows else Engine(engine().loop, rates={("W3+", "open"): 0.0})
    adviser = judge.look(said, "cabinet")
    # The core or a clamp at either end of it: one metal path between two terminals.
    assert (("W3+", "open") in named(adviser)) == knows
    assert {("W3+.JB9", "open"), ("W3+.X21", "open")} <= named(adviser)
    assert not misled(adviser, world("W3+", "open"), engine(), said)
    assert misled(adviser, world("W4-", "open"), engine(), said)


def test_another_part_misleads() -> None:
    said: list[Evidence] = [*parse_lines(DEAD, engine().loop)]
    adviser = engine().look(said, "cabinet")
    assert {part for part, _ in named(adviser)} == {SUPPLY}
    assert misled(adviser, world(RESISTOR, "open"), engine(), said)
    assert misled(adviser, world(None, "none"), engine(), said)
    elsewhere = world(RESISTOR, "open")
    number = engine().machine.wiring.index[SUPPLY, "voltage"]
    elsewhere.shifts[number] = -2.4  # a tenth less than the sheet says: this is to be named as well
    assert not misled(adviser, elsewhere, engine(), said)
