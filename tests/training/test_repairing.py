"""A second fault is found behind the first: repairs, proof readings, and the hunt goes on.

Source: the circuit itself. In a ring an open stops the current whatever else is wrong in it (series
circuit), so that what lies behind it shows only once it is closed.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from diagnose.inference.engine import Engine
from diagnose.inference.hypotheses import Pair
from diagnose.inference.measurement import Measurement
from diagnose.inference.world import World
from diagnose.loops.sheet import load_sheet
from diagnose.training.hunts import hunt
from diagnose.training.repairing import faults_of, put_right

SHEET = Path(__file__).resolve().parents[1] / "sheets" / "b3_terminals.toml"
OPEN, DRIFT = ("LK1", "open"), ("R1", "drift")
BUS = Measurement("V", ("d", "n"))


@cache
def engine() -> Engine:
    return Engine(load_sheet(SHEET))


def both(x: float = 0.9) -> World:
    """The link open; behind it the sense resistor far too large."""
    own = engine()
    first, second = own.hypothesis(DRIFT), own.hypothesis(OPEN)
    pair = Pair(len(own.hypotheses), second.part, second.mode, 0.0, second.place, first, x)
    ground = own.atlas.extended((pair,)).ground
    return World(own.observer, ground, pair, 0.5, 0.5, np.random.default_rng(1), mistakes=False)


def test_an_open_hides_what_is_wrong_behind_it_until_it_is_closed() -> None:
    world = both()
    assert faults_of(world.hypothesis) == {OPEN, DRIFT}
    assert abs(world.level(BUS)) < 0.01
    put_right(engine(), world, OPEN)
    assert faults_of(world.hypothesis) == {DRIFT}
    alone = World(
        engine().observer, engine().atlas.ground, engine().hypothesis(DRIFT), 0.9, 0.5,
        np.random.default_rng(1), mistakes=False,
    )  # fmt: skip
    # Without parts of uncertain size both are the same circuit, but for the unrest of the process.
    assert abs(world.level(BUS) - alone.level(BUS)) < 0.1
    assert world.level(BUS) > 1.0


def test_the_last_repair_leaves_a_sound_loop() -> None:
    world = both()
    for key in (DRIFT, OPEN):
        put_right(engine(), world, key)
    assert faults_of(world.hypothesis) == set()
    assert abs(world.level(BUS) - 3.0) < 0.1  # 250 ohm at 12 mA


def test_every_receiver_is_looked_at_before_the_loop_is_given_back() -> None:
    """At 4 and 20 mA all show 0 and 100 % of range (IEC 60381-1, from memory)."""
    found = engine().receivers
    assert {item.text.split()[0] for item in found} >= {"U2", "U3"}
    for item in found:
        due = 0.0 if item.text.endswith("4 mA") else 1.0
        assert item.low < due < item.high
        assert item.high - item.low < 0.05


def test_hunts_for_two_faults_go_on_after_the_first_repair() -> None:
    hunts = [hunt(engine(), "advice", seed, trouble="two faults") for seed in range(4)]
    for found in hunts:
        assert found.both is not None
        assert found.put_right <= 2
        assert found.all_minutes > found.minutes
        assert found.all_readings >= found.readings
    assert any(found.put_right == 2 and found.all_readings > found.readings for found in hunts)
    assert hunt(engine(), "advice", 3).both is None
