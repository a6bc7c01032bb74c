"""What can be amiss in a hunt beside one modelled fault: the loop, its readings, or its sheet.

Each trouble is a way in which the world is not as the engine that judges believes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from diagnose.errors import DiagnoseError
from diagnose.inference.engine import Engine
from diagnose.inference.moving import MOVING
from diagnose.inference.world import World
from diagnose.training.draws import draw

WANDER = 0.03
"""Share of range by which a restless process moves between two readings, standard deviation."""

FIRST_FEW = 3
"""One of so many first readings is the mistaken one."""

SHORT_BY, LONGER, WEAKER = 1 / 250, 3.0, 0.1
"""A 249 ohm resistor for 250; another loop: three times the cable, a tenth less supply."""

TILT = 3.0
"""Wrong priors are so many times too high or too low."""

Scene = tuple[World, str, Engine]
"""The loop as it is, what was complained of, and the engine that judges."""


@dataclass(frozen=True)
class Trouble:
    """One sort of trouble; ``stage`` sets up a hunt by engine and seed."""

    title: str
    stage: Callable[[Engine, int], Scene]


def _none(engine: Engine, seed: int) -> Scene:
    return (*draw(engine, seed), engine)


def _two_faults(engine: Engine, seed: int) -> Scene:
    return (*draw(engine, seed, 2), engine)


def _wrong_reading(engine: Engine, seed: int) -> Scene:
    world, complaint = draw(engine, seed)
    world.mistaken = 1 + seed % FIRST_FEW
    return world, complaint, engine


def _unmodelled(engine: Engine, seed: int) -> Scene:
    """The engine that judges does not know the fault mode that there is."""
    world, complaint = draw(engine, seed)
    part, fault = world.hypothesis.key
    if part is None:
        return world, complaint, engine
    return world, complaint, Engine(engine.loop, engine.meter, {(part, fault): 0.0})


def _restless(engine: Engine, seed: int) -> Scene:
    world, complaint = draw(engine, seed)
    world.wander = WANDER
    return world, complaint, engine


def _seen_restless(engine: Engine, seed: int) -> Scene:
    """The same, and the technician has watched a display for a minute before anything else."""
    world, complaint, engine = _restless(engine, seed)
    world.facts = (f"{MOVING} {100 * WANDER:g} %",)
    return world, complaint, engine


def _wrong_resistor(engine: Engine, seed: int) -> Scene:
    world, complaint = draw(engine, seed)
    wiring = engine.machine.wiring
    own = [p.name for p in engine.loop.parts if p.kind.senses and "resistance" in p.values]
    if not own:
        raise DiagnoseError(f"{engine.loop.tag} has no sense resistor that could be a wrong one")
    for name in own:
        number = wiring.index[name, "resistance"]
        world.shifts[number] = -SHORT_BY * float(wiring.nominal[number])
    return world, complaint, engine


def _other_sheet(engine: Engine, seed: int) -> Scene:
    world, complaint = draw(engine, seed)
    wiring = engine.machine.wiring
    for (name, parameter), number in wiring.index.items():
        kind = engine.loop.part(name).kind.name
        factor = {("core", "resistance"): LONGER - 1, ("supply", "voltage"): -WEAKER}
        share = factor.get((kind, parameter), 0.0)
        if share:
            world.shifts[number] = share * float(wiring.nominal[number])
    return world, complaint, engine


def _wrong_priors(engine: Engine, seed: int) -> Scene:
    """Every fault, and the sound loop, three times likelier or less likely than is believed."""
    tilt = np.random.default_rng([seed, 3]).choice([1 / TILT, TILT], len(engine.hypotheses))
    return (*draw(engine, seed, tilt=tilt), engine)


TROUBLES: dict[str, Trouble] = {
    "none": Trouble("one fault from the priors", _none),
    "two faults": Trouble("two faults of different parts", _two_faults),
    "wrong reading": Trouble("one of the first three readings is worthless", _wrong_reading),
    "unmodelled fault": Trouble("the fault is none that the engine knows", _unmodelled),
    "restless process": Trouble("the process moves by 3 % between readings", _restless),
    "moving process": Trouble("the process moves by 3 %, and this was seen", _seen_restless),
    "wrong resistor": Trouble("249 ohm where the sheet says 250", _wrong_resistor),
    "other sheet": Trouble("three times the cable and a tenth less supply", _other_sheet),
    "wrong priors": Trouble("each prior three times too high or too low", _wrong_priors),
}
"""Troubles by name, none first."""
