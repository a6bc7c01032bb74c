"""A tolerance that moves a bend: what it explains from the other side of the bend counts.

Sources: plain draws of severity, process and all tolerances through the judge's own circuit
(``tests/judge``), no straight line anywhere; the sum of the slices against the normal density.
"""

from __future__ import annotations

from math import exp, log
from pathlib import Path

import numpy as np
import pytest

from diagnose.inference import shifted
from diagnose.inference.benders import benders
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Applied, Measurement, Reading
from diagnose.inference.spreads import each_moved
from diagnose.loops.sheet import load_sheet
from judge.evidence import Choice, choices, log_broad, log_density
from judge.model import Model
from judge.world import hypotheses

HALF = (Applied("FIC-118", "driven", 0.5),)
READINGS = (
    Reading(Measurement("shows", ("FV-118",)), "value", 0.46, rounding=0.005),
    Reading(Measurement("V", ("X41:5", "X41:6"), HALF), "value", 6.85015),
)
"""At 12 mA the channel is at the end of its 18 V, or just short of it: its tolerance decides."""

STRATA = ((0.0, 0.385, 10_000), (0.385, 0.42, 250_000), (0.42, 1.0, 10_000))
"""Severities and draws: only in the middle both readings can be right."""


def likelihood(
    model: Model,
    sets: list[Choice],
    case: int,
    strata: tuple[tuple[float, float, int], ...] = STRATA,
) -> float:
    """Mean probability density of the readings under one hypothesis, by plain draws."""
    rng, total = np.random.default_rng(3), 0.0
    low, high, share = np.array(model.stretches).T
    for start, end, draws in strata:
        u = start + (end - start) * rng.random(draws)
        piece = rng.choice(len(share), size=draws, p=share)
        p = low[piece] + (high - low)[piece] * rng.random(draws)
        off = rng.standard_normal((draws, len(model.tolerances)))
        mean = model.moved(np.full(draws, case), u, p, off)
        fixed = np.broadcast_to(model.fixed, (draws, *model.fixed.shape))
        for one in sets:
            if one.order:
                total += (end - start) * float(np.exp(log_density(one, fixed, [mean])[0]).mean())
            else:
                total += (end - start) * exp(one.log_weight)
    return total


def test_a_resistance_with_which_the_channel_may_reach_its_compliance(plant: Path) -> None:
    """By the side of the bend on which the nominal 18 V are, it has two thirds of its odds."""
    loop = load_sheet(plant / "sheets" / "FV-118.toml")
    cases = hypotheses(loop)
    number = [(one.part, one.mode) for one in cases].index(("LK2", "high resistance"))
    model = Model(loop, READINGS, cases)
    by_draws = cases[number].prior * likelihood(model, choices(model.margins), number)
    broad = loop.shares.unmodelled * exp(log_broad(model.margins))
    engine = Engine(loop)
    belief, _ = engine.believe(engine.sort(READINGS))
    at = engine.hypothesis(("LK2", "high resistance")).number
    found = log(belief.probability[at] / belief.unmodelled)
    assert exp(found - log(by_draws / broad)) == pytest.approx(1.0, abs=0.12)


def test_slices_add_up_to_the_normal_distribution() -> None:
    """Within 0.3 % of the density out to two standard deviations."""
    middle, share, width = shifted._slices(shifted.SLICES)
    x = np.linspace(-2, 2, 81)[:, None]
    found = (share * np.exp(-(((x - middle) / width) ** 2) / 2) / width).sum(axis=1)
    assert found == pytest.approx(np.exp(-(x[:, 0] ** 2) / 2), rel=3e-3)


def test_what_neither_side_can_weigh_stays_as_it_is() -> None:
    """The log of a mean by hand; nothing overflows, and no hypothesis is lost."""
    share = shifted._slices(shifted.SLICES)[1]
    nothing, some = (
        np.full(len(share), -np.inf),
        np.where(np.arange(len(share)) == 3, -2.0, -np.inf),
    )
    sliced = np.stack([np.full(len(share), -5.0), some, nothing, np.full(len(share), 0.0)], axis=1)
    plain = np.array([-7.0, -2.0, -3.0, -900.0])
    with np.errstate(all="raise"):
        found = shifted._gained(plain, sliced)
        lost = shifted._gained(np.array([-np.inf]), sliced[:, :1])
    assert found == pytest.approx([2.0, log(share[3]), 0.0, 900.0])
    assert lost == pytest.approx([0.0])


def test_a_loop_without_such_a_tolerance_is_left_alone(plant: Path) -> None:
    """On an input loop nothing moves a bend by a third of a volt."""
    engine = Engine(load_sheet(plant / "sheets" / "LT-214.toml"))
    moved = each_moved(engine.machine, engine.observer.spreads, (0.5,))
    assert benders(engine.machine, moved) == ()


def test_each_law_that_bends_has_a_direction_of_its_own(plant: Path) -> None:
    """A powered transmitter and the isolator behind it let go independently of each other."""
    engine = Engine(load_sheet(plant / "sheets" / "FT-118.toml"))
    found = benders(engine.machine, each_moved(engine.machine, engine.observer.spreads, (0.5,)))
    owners = [{engine.machine.wiring.wires[k].part for k in one.branches} for one in found]
    assert owners == [{"A1.O"}, {"FT-118"}]
    assert abs(found[0].way @ found[1].way) < 1e-9


def test_what_lies_between_supply_and_transmitter_pushes_with_it(plant: Path) -> None:
    """By Kirchhoff's law of voltages: what a supply gives more, and a display takes less, is left.

    Each counts by its standard deviation, a limit over the root of 3 (JCGM 100:2008, 4.3.7).
    """
    engine = Engine(load_sheet(plant / "sheets" / "PDT-330.toml"))
    (one,) = engine.shifting
    sds = {
        name: engine.loop.part(part).spread(name)
        for part, name in (("G1", "voltage"), ("PDI-330", "drop"))
    }
    wiring = engine.machine.wiring
    found = {
        name: float(one.bender.way[engine.observer.numbers.index(wiring.index[part, name])])
        for part, name in (("G1", "voltage"), ("PDI-330", "drop"))
    }
    # the volts of the supply count as they are, those of the display against them
    assert found["drop"] / found["voltage"] == pytest.approx(
        -sds["drop"] / sds["voltage"], rel=0.02
    )
    assert np.linalg.norm(one.bender.way) == pytest.approx(1.0)


def test_a_direction_is_narrowed_and_what_stands_across_it_is_not(plant: Path) -> None:
    """Variance along the direction falls to the square of the width; across it stays as it was."""
    engine = Engine(load_sheet(plant / "sheets" / "PDT-330.toml"))
    (one,) = engine.shifting
    way, width = one.bender.way, 0.2
    narrow = one._moved(0.0, width)
    wanted = [Measurement("V", ("G1:+", "G1:-")), Measurement("shows", ("PDR-330",))]
    zero, half = np.zeros(1, int), np.full(1, 0.5)
    columns = engine.atlas.ground.columns(zero, half, half, ())
    still = engine.atlas.ground.still(zero, engine.observer.numbers, ())
    before, after = (
        observer.see_all(wanted, observer.base(columns, 1, ()), half, still).slope[:, :, 0]
        for observer in (engine.observer, narrow)
    )
    assert after @ way == pytest.approx(width * (before @ way), abs=1e-12)
    across = np.eye(len(way)) - np.outer(way, way)
    assert after @ across == pytest.approx(before @ across, abs=1e-12)


def test_a_failure_current_that_a_low_supply_just_does_not_let_through(plant: Path) -> None:
    """21.5 mA are 109.3 % of range; a display at 109.0, and a supply just below its 24 V.

    With the supply's tolerance straight through the bend it had more than twice its odds.
    """
    loop = load_sheet(plant / "sheets" / "LT-216.toml")
    reading = (
        Reading(Measurement("shows", ("LR-216",)), "value", 1.09, rounding=0.0005),
        Reading(Measurement("V", ("G1:+", "G1:-")), "value", 23.7, rounding=0.005),
    )
    cases = hypotheses(loop)
    names = [(one.part, one.mode) for one in cases]
    failed, dead = (names.index(("LT-216", mode)) for mode in ("failed high", "dead"))
    model = Model(loop, reading, cases)
    drawn = [
        likelihood(model, choices(model.margins), number, ((0.0, 1.0, 200_000),))
        for number in (failed, dead)
    ]
    engine = Engine(loop)
    belief, _ = engine.believe(engine.sort(reading))
    found = [
        belief.probability[at] / exp(engine.priors(())[at])
        for mode in ("failed high", "dead")
        for at in [engine.hypothesis(("LT-216", mode)).number]
    ]
    # What is dead shows it by a worthless reading only.
    assert found[0] / found[1] == pytest.approx(drawn[0] / drawn[1], rel=0.15)
