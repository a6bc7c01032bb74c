"""The virtual meter, before noise, against ngspice on two hundred random drill steps.

The netlists are written by tests/spice.py from the physics of the kinds, apart from the product.
"""

import random
from collections.abc import Iterator

import pytest

from diagnose.inference.fault_text import fault_of
from diagnose.inference.measurement import Applied, Measurement, normal_condition
from diagnose.inference.meters import GENERIC
from diagnose.loops.loop import Loop
from diagnose.training.scene import Scene
from drill_stand import engine
from spice import Answer, Circuit, moved, solve_most
from spice_trials import Changes, act, faults, severity

pytestmark = pytest.mark.spice

TAGS = ("LT-214", "PT-305", "PDT-330", "PT-322")
"""Loops of direct current: a two-wire one, a barrier, a series indicator, a three-wire one."""

STEPS = 50
"""Random steps of each of the four loops: two hundred in all."""

Step = tuple[Measurement, float, Circuit]
"""What is measured, what the virtual meter makes of it before noise, what ngspice is given."""


def steps(tag: str) -> Iterator[Step]:
    """Random faults, tolerances, process values, conditions and measurements."""
    rng = random.Random(f"drill {tag}")
    loop = engine(tag).loop
    while True:
        part, mode = rng.choice(faults(loop))
        size = severity(mode, rng)
        scene = Scene(
            engine(tag).observer, [fault_of(part, mode, size)], rng.uniform(0.05, 0.95),
            rng.randrange(10**6),
        )  # fmt: skip
        changes: Changes = {
            pair: loop.part(pair[0]).values[pair[1]] + off for pair, off in scene.tolerances.items()
        }
        fault = moved(loop, part, mode.changes, size)
        wanted, clips, opened = measurement(loop, fault, rng)
        changes |= fault
        if opened:
            changes[opened, "resistance"] = 1e12
        yield wanted, scene.level(wanted, 0.0), Circuit(loop, changes, scene.process, clips)


def measurement(loop: Loop, fault: Changes, rng: random.Random):
    """A measurement, the meter as ngspice knows it, and the joint that is open for it."""
    function = rng.choice(("V", "V", "Vlow", "mA", "clamp", "ohm"))
    places = [place.name for place in loop.places]
    condition = done(loop, fault, rng, dead=function == "ohm")
    if function == "mA":
        part = rng.choice(
            [p for p in loop.parts if p.kind.opens_at and all(map(loop.place_of, p.pins.values()))]
        )
        a, b = (part.pins[pin] for pin in part.kind.pins[:2])
        return Measurement("mA", (a, b), condition), ((a, b, 1 / GENERIC.burden, 0.0),), part.name
    if function == "clamp":
        part = rng.choice([p for p in loop.parts if p.kind.clamped])
        return Measurement("clamp", (part.name,), condition), (), ""
    here = [
        [point.name for point in loop.points if point.place == place] + ["PE"] for place in places
    ]
    a, b = rng.sample(rng.choice([names for names in here if len(names) > 1]), 2)
    behind = GENERIC.ohm_resistance
    clip = {
        "V": (a, b, 1 / GENERIC.input_resistance, 0.0),
        "Vlow": (a, b, 1 / GENERIC.low_resistance, 0.0),
        "ohm": (a, b, 1 / behind, -GENERIC.ohm_source / behind),
    }[function]
    return Measurement(function, (a, b), condition), (clip,), ""


def done(loop: Loop, fault: Changes, rng: random.Random, dead: bool):
    """Nothing, a lifted wire or link, or the supply off; put into ``fault`` for ngspice too."""
    off = [(p, a) for p in loop.parts for a in p.kind.actions if a.name == "off"]
    lift = [(p, a) for p in loop.parts for a in p.kind.actions if p.kind.opens_at and not a.unit]
    chosen = off if dead else rng.choice(([], [rng.choice(lift)]))
    for part, action in chosen:
        act(loop, fault, part, action.name, rng)
    return normal_condition(Applied(part.name, action.name) for part, action in chosen)


def theirs(wanted: Measurement, circuit: Circuit, answer: Answer) -> float:
    """What ngspice says that the meter sees."""
    if wanted.function == "clamp":
        return answer.currents[wanted.points[0]]
    a, b = (answer.voltages[node] for node in wanted.points)
    return (a - b) / GENERIC.burden if wanted.function == "mA" else a - b


@pytest.mark.parametrize("tag", TAGS)
def test_the_meter_sees_what_ngspice_sees(tag: str) -> None:
    """Volts to 1e-6 or 1 uV, currents to 1e-6 or 1 nA: a hundredth of what the meter resolves."""
    source = steps(tag)
    asked = [next(source) for _ in range(STEPS)]
    answers = solve_most([circuit for _, _, circuit in asked])
    assert answers.count(None) <= STEPS / 25, "the simulator gives up too often"
    seen = 0
    for (wanted, ours, circuit), answer in zip(asked, answers, strict=True):
        if answer is None:
            continue
        least = 1e-9 if wanted.function in ("mA", "clamp") else 1e-6
        most = max(map(abs, answer.currents.values()))
        expected = theirs(wanted, circuit, answer)
        told = f"{wanted} ours {ours!r}, ngspice {expected!r}"
        assert abs(ours - expected) <= max(1e-6 * abs(expected), least, 1e-8 * most), told
        seen += 1
    assert seen >= 0.9 * STEPS
