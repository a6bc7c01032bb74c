"""Random combinations of fault, condition, meter and process value, and what differs in them."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from math import exp, log

from diagnose.circuit.operating import Attachment, OperatingPoint
from diagnose.loops.kind import FaultMode
from diagnose.loops.loop import Loop, Part
from spice import Answer, Circuit, moved

Changes = dict[tuple[str, str], float]


@dataclass(frozen=True)
class Trial:
    """One random combination; ``told`` says in words what it is."""

    changes: Changes
    process: float
    meter: Attachment | None
    told: str
    marks: frozenset[str] = field(default_factory=frozenset)

    def circuit(self, loop: Loop) -> Circuit:
        """For ngspice."""
        meter = self.meter
        clips = ((meter.a, meter.b, meter.conductance, meter.source),) if meter else ()
        return Circuit(loop, self.changes, self.process, clips)


def severity(mode: FaultMode, rng: random.Random) -> float:
    """Within the range of the mode; one time in five at an end of it."""
    size = mode.severity
    if size is None:
        return 0.0
    if rng.random() < 0.2:
        return rng.choice((size.low, size.high))
    if size.logarithmic:
        return exp(rng.uniform(log(size.low), log(size.high)))
    return rng.uniform(size.low, size.high)


def faults(loop: Loop) -> list[tuple[Part, FaultMode]]:
    """Every mode of every part."""
    return [(part, mode) for part in loop.parts for mode in part.kind.modes]


def actions(loop: Loop) -> list[tuple[Part, str]]:
    """Everything that can be done on purpose."""
    return [(part, action.name) for part in loop.parts for action in part.kind.actions]


def act(loop: Loop, changes: Changes, part: Part, name: str, rng: random.Random) -> None:
    """Do one action, in place; ``heals`` takes the fault of the part away first."""
    action = next(item for item in part.kind.actions if item.name == name)
    if action.heals:
        for pair in [pair for pair in changes if pair[0] == part.name]:
            del changes[pair]
    value = rng.uniform(3.6e-3, 22e-3) if action.unit == "A" else rng.uniform(0.5, 1.5)
    if action.unit not in ("", "A"):
        value *= action.usual or 1.0
    changes |= moved(loop, part, action.changes, value)


def conditions(loop: Loop, rng: random.Random) -> list[tuple[Part, str]]:
    """None, one or two actions; every second one leaves the loop as it is."""
    possible = actions(loop)
    off = [pair for pair in possible if pair[1] == "off"]
    driven = [pair for pair in possible if pair[0].kind.driven] or possible
    chosen = {
        0: [rng.choice(possible)],
        1: off,
        2: [*off, rng.choice(possible)],
        3: [rng.choice(driven)],
    }
    return chosen.get(rng.randrange(8), [])


def meters(
    loop: Loop, changes: Changes, rng: random.Random, off: bool
) -> tuple[str, Attachment | None]:
    """A meter or a jumper: across any two nodes, or in place of a part that can be opened."""
    a, b = rng.sample(loop.nodes, 2)
    choice = rng.choice(("none", "V", "V", "Vlow", "mA", "mA", "jumper", "ohm"))
    if choice == "ohm" and not off:
        choice = "V"
    if choice == "mA":
        part = rng.choice([part for part in loop.parts if part.kind.opens_at])
        a, b = (part.pins[pin] for pin in part.kind.pins[:2])
        changes[part.name, "resistance"] = 1e12
    meter = {
        "none": None,
        "V": Attachment(a, b, 1 / 10e6),
        "Vlow": Attachment(a, b, 1 / 3e3),
        "mA": Attachment(a, b, 1 / 4),
        "jumper": Attachment(a, b, 1 / 0.05),
        "ohm": Attachment(a, b, 1 / 10e3, -1.2 / 10e3),
    }[choice]
    return choice, meter


def tolerances(loop: Loop, rng: random.Random) -> Changes:
    """Every parameter with a tolerance somewhere within it."""
    return {
        (part.name, name): part.values[name] + rng.uniform(-limit, limit)
        for part in loop.parts
        for name, limit in part.tolerances.items()
    }


def weak_supply(loop: Loop, rng: random.Random) -> Changes:
    """A current limit so low that a short reaches it."""
    names = [part.name for part in loop.parts if part.kind.name == "supply"]
    return {(name, "current_limit"): rng.uniform(5e-3, 40e-3) for name in names}


def trials(loop: Loop, count: int, seed: int) -> Iterator[Trial]:
    """Random combinations in which every fault mode has its turn."""
    rng = random.Random(seed)
    possible = faults(loop)
    for number in range(count):
        part, mode = possible[number % len(possible)]
        size = severity(mode, rng)
        changes = tolerances(loop, rng) if rng.random() < 0.5 else {}
        if rng.random() < 0.05:
            changes |= weak_supply(loop, rng)
        fault = moved(loop, part, mode.changes, size)
        done = conditions(loop, rng)
        for other, name in done:
            act(loop, fault, other, name, rng)
        off = any(name == "off" for _, name in done)
        choice, meter = meters(loop, fault, rng, off)
        process = rng.choice((rng.uniform(-0.1, 1.1), 0.0, 1.0))
        where = f" {meter.a} {meter.b}" if meter else ""
        told = f"{part.name} {mode.name} {size:.4g}, {[(p.name, n) for p, n in done]}"
        yield Trial(
            changes | fault, process, meter, f"{told}, {choice}{where}, at {process:.3f}",
            frozenset({f"meter {choice}", *(f"action {name}" for _, name in done)}),
        )  # fmt: skip


def state(loop: Loop, answer: Answer) -> dict[str, str]:
    """Regime of each supply and transmitter, from the voltages that ngspice found.

    Parts within 1 uV of a knee are left out: either side is right there.
    """
    found = {}
    for part in loop.parts:
        q = answer.parameters[part.name]
        if part.kind.name == "supply":
            knees = [("limited", q["voltage"] - q["source_resistance"] * q["current_limit"])]
            last = "regulating"
        elif part.kind.name == "two_wire_transmitter":
            knees = [("reversed", -q["reverse_drop"]), ("off", q["lift_off"] - q["ramp"])]
            knees, last = [*knees, ("starved", q["lift_off"])], "regulating"
        else:
            continue
        a, b = (answer.voltages[part.pins[pin]] for pin in part.kind.pins[:2])
        if all(abs(a - b - knee) > 1e-6 for _, knee in knees):
            found[part.name] = next((name for name, knee in knees if a - b < knee), last)
    return found


def far(ours: float, theirs: float, least: float) -> bool:
    """More than 1e-6 apart, and more than ``least``."""
    return abs(ours - theirs) > max(1e-6 * abs(theirs), least)


def differences(loop: Loop, point: OperatingPoint, answer: Answer) -> list[str]:
    """Everything that disagrees, in words.

    Voltages agree to 1e-6 or 1 uV: the finest range of a meter here resolves 100 uV.  Currents
    agree to 1e-6 or 1 nA, where that meter resolves 10 uA.  Where amperes flow somewhere (a supply
    in its current limit), a small current elsewhere is their difference, and no better than what
    the simulator promises (reltol 1e-8 of the largest).
    """
    least = max(1e-9, 1e-8 * max(map(abs, answer.currents.values())))
    assert point.voltages.keys() == answer.voltages.keys()
    assert point.currents.keys() == answer.currents.keys()
    found = [
        f"V({node}) ours {point.voltages[node]!r}, ngspice {volts!r}"
        for node, volts in answer.voltages.items()
        if far(point.voltages[node], volts, 1e-6)
    ]
    found += [
        f"I({part}) ours {point.currents[part]!r}, ngspice {amperes!r}"
        for part, amperes in answer.currents.items()
        if far(point.currents[part], amperes, least)
    ]
    found += [
        f"{part} ours {point.regimes[part]}, ngspice {regime}"
        for part, regime in state(loop, answer).items()
        if point.regimes[part] != regime
    ]
    return found
