"""Cases with known answers: a drawn fault, drawn tolerances and meter errors, readings with noise.

Tolerances act through the full circuit here, not to first order; every error is drawn from the
distribution that the model states, and readings are rounded as the meter shows them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np

from diagnose.inference.measurement import Applied, Measurement, Reading
from diagnose.loops.loop import Loop, Part
from judge.circuit import Circuit, insertion
from judge.margins import COUNTS, PERCENT, ROOT3, STRAY, resolution, shows_of
from judge.model import Seen
from judge.world import (
    LARGEST_OHM,
    Hypothesis,
    Values,
    hypotheses,
    nominal,
    state,
)

LEAST = 0.05
"""A wide tolerance drawn below this share of its nominal value stops there: no negative ohms."""


@dataclass(frozen=True)
class Case:
    """Readings and the truth behind them; ``worthless`` is the index of a spoilt reading."""

    loop: Loop
    readings: tuple[Reading, ...]
    truth: tuple[str | None, str]
    severity: float
    process: float
    worthless: int | None


def _kind(loop: Loop, *names: str) -> list[Part]:
    return [part for part in loop.parts if part.kind.name in names]


def _two(part: Part) -> tuple[str, str]:
    a, b = list(part.pins.values())[:2]
    return a, b


def measurements(loop: Loop) -> list[Measurement]:
    """The usual things to read on an input loop, in conditions too."""
    reach = {point.name for point in loop.points}
    sense, *_ = _kind(loop, "resistor")
    sender, *_ = _kind(loop, "two_wire_transmitter")
    supply, *_ = _kind(loop, "supply")
    bus, receivers = _two(sense), _kind(loop, "voltage_receiver", "comparator")
    out = [Measurement("V", _two(part)) for part in (sense, sender, supply)]
    out += [Measurement("V", _two(part)) for part in receivers]
    fields = [_two(p) for p in _kind(loop, "insulation") if {*_two(p)} <= reach]
    out += [Measurement("V", pair) for pair in fields]
    out += [Measurement("ohm", pair, (Applied(supply.name, "off"),)) for pair in fields]
    earth = "PE" if "PE" in loop.nodes else loop.reference
    out += [Measurement("V", (node, earth)) for node in _two(sender)]
    openable = [p for p in _kind(loop, "link", "termination") if {*_two(p)} <= reach]
    out += [Measurement("mA", _two(part)) for part in openable]
    out += [Measurement("clamp", (p.name,)) for p in _kind(loop, "core")]
    out += [Measurement("shows", (part.name,)) for part in loop.parts if part.kind.shows]
    driven = (Applied(sender.name, "driven", 12e-3),)
    out += [Measurement("V", pair, driven) for pair in (bus, _two(sender))]
    out += [Measurement("shows", (p.name,), driven) for p in receivers]
    wires = {p.pins["signal"] for p in receivers}
    feeds = {w.pins["a"] for w in _kind(loop, "signal_wire") if w.pins["b"] in wires}
    lifted = [p for p in _kind(loop, "termination") if feeds & {*_two(p)}]
    out += [Measurement("V", bus, (Applied(p.name, "lifted"),)) for p in lifted]
    return list(dict.fromkeys(out))


class World:
    """One drawn state of the world, which answers measurements."""

    def __init__(
        self, loop: Loop, case: Hypothesis, u: float, p: float, rng: np.random.Generator
    ) -> None:
        self.loop, self.case, self.u, self.p, self.rng = loop, case, u, p, rng
        self.gain = {f: rng.standard_normal() for f in PERCENT}
        self.shift = {part.name: rng.standard_normal() for part in loop.parts}
        self.base: Values = nominal(loop)
        for part in loop.parts:
            for name in part.tolerances:
                value = self.base[part.name][name]
                drawn = value + part.spread(name) * rng.standard_normal()
                self.base[part.name][name] = max(drawn, 0.02 * value) if value > 0 else drawn

    def true(self, what: Measurement) -> float:
        """The quantity itself, process jitter included."""
        p = np.array([self.p + self.loop.drift * self.rng.standard_normal()])
        st = state(
            self.loop,
            [self.case],
            np.zeros(1, dtype=int),
            np.array([self.u]),
            what.condition,
            self.base,
        )
        circuit = Circuit(self.loop, st, p, what.condition, insertion(self.loop, what))
        return float(np.ravel(Seen(circuit, what).value)[0])

    def read(self, what: Measurement) -> Reading:
        """The reading as the meter or the part shows it."""
        y = self.true(what)
        if what.function == "process":
            return Reading(what, "value", round(y + 0.02 * self.rng.standard_normal(), 3))
        return self._shown(what, y) if what.function == "shows" else self._metered(what, y)

    def _shown(self, what: Measurement, y: float) -> Reading:
        shows, accuracy = shows_of(self.loop, what.points[0])
        y += accuracy / ROOT3 * self.shift[what.points[0]]
        if shows.what == "state":
            return Reading(what, "lit" if y > 0 else "dark")
        y += shows.resolution / ROOT3 * self.rng.standard_normal()
        y = round(y / shows.resolution) * shows.resolution
        y = round(min(max(y, shows.least), shows.most), 6)
        return Reading(what, "value", y, rounding=shows.resolution / 2)

    def _metered(self, what: Measurement, y: float) -> Reading:
        function = what.function
        if function == "ohm":
            y = exp(y) - 1
            if y > LARGEST_OHM:
                return Reading(what, "overload")
        digit = resolution(function, y)
        y *= 1 + PERCENT[function] / ROOT3 * self.gain[function]
        y += COUNTS[function] * digit / ROOT3 * self.rng.standard_normal()
        y += STRAY.get(function, 0.0) * self.rng.standard_normal()
        y = round(y / digit) * digit
        y = max(y, 0.0) if function == "ohm" else y
        return Reading(what, "value", y, rounding=digit / 2)


def spoilt(loop: Loop, reading: Reading, rng: np.random.Generator) -> Reading:
    """A worthless reading in place of a good one, from the broad density."""
    what, function = reading.measurement, reading.measurement.function
    if function == "shows" and shows_of(loop, what.points[0])[0].what == "state":
        return Reading(what, "lit" if rng.random() < 0.5 else "dark")
    if function in ("shows", "process"):
        return Reading(what, "value", round(float(rng.uniform(-0.1, 1.1)), 3))
    if function == "ohm":
        y = exp(rng.uniform(0, log(LARGEST_OHM))) - 1
        return Reading(what, "overload") if rng.random() < 0.1 else Reading(what, "value", y)
    return Reading(
        what,
        "value",
        round(float(rng.uniform(-1, 1)) * (30 if function in ("V", "Vlow") else 0.03), 5),
    )


def draw(cases: Sequence[Hypothesis], loop: Loop, rng: np.random.Generator) -> Hypothesis:
    """A hypothesis: 70 % electrical, the rest sound or process connection; rates tempered."""
    electrical = [
        h for h in cases if h.part and loop.part(h.part).kind.mode(h.mode).group == "electrical"
    ]
    others = [h for h in cases if h not in electrical]
    pool = electrical if rng.random() < 0.7 else others
    weights = np.array([sqrt(h.prior) for h in pool])
    return pool[int(rng.choice(len(pool), p=weights / weights.sum()))]


def random_cases(loop: Loop, n: int, seed: int) -> list[Case]:
    """``n`` cases of one to six readings; in one of ten a reading is worthless."""
    rng = np.random.default_rng(seed)
    cases, usual = hypotheses(loop), measurements(loop)
    out = []
    for _ in range(n):
        case, u = draw(cases, loop, rng), float(rng.random())
        p = float(
            rng.choice(
                [rng.uniform(0, 1), rng.uniform(-0.1, 0), rng.uniform(1, 1.1)], p=[0.96, 0.02, 0.02]
            )
        )
        world = World(loop, case, u, p, rng)
        chosen = rng.choice(len(usual), size=int(rng.integers(1, 7)), replace=False)
        readings = [world.read(usual[k]) for k in chosen]
        bad = int(rng.integers(len(readings))) if rng.random() < 0.1 else None
        if bad is not None:
            readings[bad] = spoilt(loop, readings[bad], rng)
        out.append(Case(loop, tuple(readings), (case.part, case.mode), float(case.size(u)), p, bad))
    return out
