"""Cases with known answers: a drawn fault, drawn tolerances and meter errors, readings with noise.

Tolerances act through the full circuit here, not to first order; every error is drawn from the
distribution that the model states, and readings are rounded as the meter shows them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import exp, log, sqrt
from typing import Any

import numpy as np

from diagnose.inference.measurement import Applied, Measurement, Reading, normal_condition
from diagnose.loops.kind import Severity
from diagnose.loops.loop import Loop, Part
from judge.circuit import Circuit, insertion
from judge.margins import COUNTS, FUSE, PERCENT, ROOT3, resolution, shows_of, stray
from judge.model import Seen
from judge.world import (
    LARGEST_OHM,
    Hypothesis,
    Values,
    hypotheses,
    nominal,
    process_prior,
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


def _two(part: Part) -> tuple[str, str]:
    a, b = list(part.pins.values())[:2]
    return a, b


def measurements(loop: Loop) -> list[Measurement]:
    """What can be read on a loop: volts, ohms, currents, displays; in the usual conditions too."""
    volts = "VAC" if loop.alternating else "V"
    pairs = list(dict.fromkeys(_pairs(loop)))
    reach = {point.name for point in loop.points}
    out = [Measurement(volts, pair) for pair in pairs]
    if loop.alternating:
        out += [Measurement("Vlow", pair) for pair in pairs]
    dead = normal_condition(
        Applied(p.name, "off") for p in loop.parts for a in p.kind.actions if a.name == "off"
    )
    if dead:
        across = [_two(p) for p in loop.parts if len(p.pins) >= 2 and {*_two(p)} <= reach]
        out += [Measurement("ohm", pair, dead) for pair in dict.fromkeys(across)]
    openable = [p for p in loop.parts if p.kind.opens_at or p.kind.meters_across]
    out += [Measurement("mA", _two(p)) for p in openable if {*_two(p)} <= reach]
    out += [Measurement("clamp", (p.name,)) for p in loop.parts if p.kind.clamped]
    shown = [Measurement("shows", (p.name,)) for p in loop.parts if p.kind.shows]
    out += shown
    sense = [_two(p) for p in loop.parts if p.kind.senses and len(p.pins) >= 2]
    sense = [pair for pair in sense if {*pair} <= reach]
    for part in loop.parts:
        for action in part.kind.actions:
            done = (Applied(part.name, action.name, action.usual),)
            if action.moves_signal:
                out += [Measurement("shows", what.points, done) for what in shown]
                out += [Measurement(volts, pair, done) for pair in pairs[:8]]
            elif action.interrupts and part.kind.opens_at:
                out += [Measurement(volts, pair, done) for pair in sense]
    return list(dict.fromkeys(out))


def _pairs(loop: Loop) -> Iterator[tuple[str, str]]:
    """Across each part within reach; from each point to the reference and to earth."""
    reach = {point.name for point in loop.points}
    for part in loop.parts:
        if len(part.pins) >= 2 and {*_two(part)} <= reach:
            yield _two(part)
    for home in (loop.reference, "PE"):
        if home in loop.nodes:
            yield from ((node, home) for node in sorted(reach) if node != home)


_WIDE = {"V": 30.0, "Vlow": 30.0, "VAC": 300.0, "mA": 0.03, "clamp": 0.03}


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
        y += stray(self.loop, function) * self.rng.standard_normal()
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
    if function == "mA" and rng.random() < FUSE:
        return Reading(what, "value", 0.0, rounding=5e-6)
    if function == "ohm":
        y = exp(rng.uniform(0, log(LARGEST_OHM))) - 1
        return Reading(what, "overload") if rng.random() < 0.1 else Reading(what, "value", y)
    return Reading(
        what,
        "value",
        round(float(rng.uniform(-1, 1)) * (_WIDE[function]), 5),
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


def together(one: Hypothesis, two: Hypothesis, sizes: tuple[float, float]) -> Hypothesis:
    """Two faults at once, each at its size."""
    moves = tuple(
        replace(move, value=lambda s, f=move.value, size=size: f(size))
        for case, size in zip((one, two), sizes, strict=True)
        for move in case.moves
    )
    return Hypothesis(f"{one.part} + {two.part}", f"{one.mode} + {two.mode}", 0.0, moves)


def drawn_process(loop: Loop, rng: np.random.Generator) -> float:
    """A process value from its prior."""
    stretches = process_prior(loop)
    low, high, _ = stretches[int(rng.choice(3, p=[share for *_, share in stretches]))]
    return float(rng.uniform(low, high))


def _truth(cases: Sequence[Hypothesis], loop: Loop, pairs: float, rng: Any) -> Hypothesis:
    """One fault at its size, or with a chance of ``pairs`` two on different parts."""
    one, two = draw(cases, loop, rng), draw(cases, loop, rng)
    double = rng.random() < pairs and one.part and two.part and one.part != two.part
    sizes = float(one.size(rng.random())), float(two.size(rng.random()))
    if double:
        return together(one, two, sizes)
    alone = together(one, replace(two, moves=()), sizes)
    return replace(
        alone, part=one.part, mode=one.mode, severity=Severity("", "1", *[sizes[0]] * 2, False)
    )


def random_cases(
    loop: Loop,
    n: int,
    seed: int,
    counts: tuple[int, int] = (1, 6),
    wrong: float = 0.1,
    pairs: float = 0.0,
) -> list[Case]:
    """``n`` cases of ``counts`` readings, a share with a worthless one, a share with two faults."""
    rng = np.random.default_rng(seed)
    cases, usual = hypotheses(loop), measurements(loop)
    # Displays are read more often than any one pair of terminals.
    weights = np.array([3.0 if m.function == "shows" and not m.condition else 1.0 for m in usual])
    weights /= weights.sum()
    always = [Measurement("shows", (p.name,)) for p in loop.parts if p.kind.stated]
    out = []
    for _ in range(n):
        case, p = _truth(cases, loop, pairs, rng), drawn_process(loop, rng)
        world = World(loop, case, 0.5, p, rng)
        count = int(rng.integers(counts[0], counts[1] + 1))
        chosen = [usual[k] for k in rng.choice(len(usual), size=count, replace=False, p=weights)]
        chosen = list(dict.fromkeys([*always, *chosen]))[:count]
        readings = [world.read(what) for what in chosen]
        bad = int(rng.integers(len(readings))) if rng.random() < wrong else None
        if bad is not None:
            readings[bad] = spoilt(loop, readings[bad], rng)
        out.append(
            Case(loop, tuple(readings), (case.part, case.mode), float(case.size(0.5)), p, bad)
        )
    return out


def everywhere_cases(loop: Loop, n: int, seed: int) -> list[Case]:
    """Cases for the table over all loop types: 2-5 readings, wrong ones and pairs in a fifth."""
    return random_cases(loop, n, seed, (2, 5), 0.2, 0.2)


def two_fault_cases(loop: Loop, n: int, seed: int) -> list[Case]:
    """Cases of two faults, 4-6 readings, a wrong one in a fifth of them."""
    return random_cases(loop, n, seed, (4, 6), 0.2, 1.0)
