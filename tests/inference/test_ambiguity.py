"""The ambiguity report against brute force: every fault at many severities, every reading drawn.

The enumeration asks the predictor of the circuit alone: faults, conditions and meters are put in
here, the errors of parts and of the meter are drawn row by row, and the bits between two faults
come from histograms of what is read.  None of the report's levels, slopes or bins is used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from math import sqrt

import numpy as np
import pytest

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.questions import current
from diagnose.circuit.rows import Attachment, State
from diagnose.circuit.signals import level
from diagnose.inference.ambiguity import PROCESS, Group, ambiguity, beyond, separations
from diagnose.inference.data import WORTHLESS, WORTHLESS_METER, stray
from diagnose.inference.engine import Engine
from diagnose.inference.groups import APART
from diagnose.inference.measurement import Applied, Jumper, Measurement
from diagnose.inference.observe import JUMPER
from diagnose.inference.reading_text import describe
from diagnose.loops.loop import Point
from diagnose.loops.sheet import load_type

TYPES = ("rtd-input", "monitored-contact", "proximity-input")
DRAWS = 300
"""Rows of each fault and process value: severities spread evenly, errors drawn in each."""

BINS = 36
CLEAR = 0.06
"""Bits beside the threshold within which a histogram of so many draws may err."""


def moved_by(machine: Predictor, part: str, changes, size) -> dict[int, np.ndarray]:
    """The parameters that some changes of a part move, as its kind states them."""
    found = {}
    loop = machine.loop
    for change in changes:
        where = loop.part(part)
        if change.of == "*":
            for (name, key), number in machine.wiring.index.items():
                if key == change.parameter:
                    found[number] = change.value(loop.part(name).values[key], size)
            continue
        target = (
            where
            if not change.of or change.of[0] == "="
            else loop.part(where.references[change.of])
        )
        source = change.of[1:] if change.of[:1] == "=" else change.parameter
        value = change.value(target.values[source], size)
        found[machine.wiring.index[target.name, change.parameter]] = value
    return found


class World:
    """All faults of a loop in rows: severities and tolerances drawn, one process value."""

    def __init__(self, engine: Engine, process: float) -> None:
        self.engine, self.loop = engine, engine.loop
        self.machine = Predictor(engine.loop)
        self.meter = engine.meter
        self.draw = np.random.default_rng(7)
        self.faults = [h.key for h in engine.hypotheses]
        self.rows = DRAWS * len(self.faults)
        self.process = np.full(self.rows, process)
        self.base = self._toleranced()

    def _toleranced(self) -> dict[int, np.ndarray]:
        """Each tolerance as a limit / sqrt(3) of a normal distribution, as the model says."""
        return {
            self.machine.wiring.index[part.name, name]: part.values[name]
            + self.draw.normal(0, limit / sqrt(3), self.rows)
            for part in self.loop.parts
            for name, limit in part.tolerances.items()
            if limit
        }

    def columns(self, condition=()) -> list:
        moved = dict(self.base)
        applied = [item for item in condition if isinstance(item, Applied)]
        actions = {item.part: self._action(item) for item in applied}
        healed = {part for part, (action, _) in actions.items() if action.heals}
        for n, (part, name) in enumerate(self.faults):
            if part is None or part in healed:
                continue
            mode = self.loop.part(part).kind.mode(name)
            rows = slice(n * DRAWS, (n + 1) * DRAWS)
            for number, value in moved_by(
                self.machine, part, mode.changes, self._sizes(mode)
            ).items():
                column = moved.get(number)
                if column is None:
                    column = np.full(self.rows, self.machine.wiring.nominal[number])
                moved[number] = column.copy()
                moved[number][rows] = value
        for part, (action, value) in actions.items():
            for number, to in moved_by(self.machine, part, action.changes, value).items():
                moved[number] = np.full(self.rows, float(to))
        return self.machine.columns(moved, self.process)

    def _action(self, item):
        action = {a.name: a for a in self.loop.part(item.part).kind.actions}[item.action]
        return action, item.value if item.value is not None else action.usual or 0.0

    @staticmethod
    def _sizes(mode):
        along = (np.arange(DRAWS) + 0.5) / DRAWS
        scale = mode.severity
        if scale is None:
            return along * 0
        if scale.logarithmic:
            return scale.low * (scale.high / scale.low) ** along
        return scale.low + (scale.high - scale.low) * along

    def seen(self, what: Measurement) -> np.ndarray:
        """What is read in every row, errors of meter or display in it."""
        columns = self.columns(what.condition)
        if what.function == "shows":
            return self._shown(what.points[0], columns)
        if what.function == "clamp":
            state = self.machine.solve(columns, self.rows)
            value = current(self.machine, state, self.machine.wiring.wires_of[what.points[0]][0])
        elif what.function == "mA":
            value = self._through(what, columns)
        else:
            value = self._across(what, columns)
        return self._metered(what.function, np.broadcast_to(value, (self.rows,)))

    def _across(self, what: Measurement, columns) -> np.ndarray:
        if what.function == "ohm":
            behind = self.meter.ohm_resistance
            source = -self.meter.ohm_source / behind
            clip = Attachment(*what.points, 1 / behind, source)
        else:
            clip = Attachment(*what.points, 1 / self.meter.volt_resistance(what.function))
        joined = [item for item in what.condition if isinstance(item, Jumper)]
        wires = [Attachment(item.a, item.b, 1 / JUMPER) for item in joined]
        return self.machine.solve(columns, self.rows, (*wires, clip)).attached

    def _through(self, what: Measurement, columns) -> np.ndarray:
        """The burden of the meter in place of the part, or beside it, and the current in it."""
        fits = [p for p in self.loop.parts if p.kind.opens_at or p.kind.meters_across]
        part = next(p for p in fits if set(p.pins.values()) == set(what.points))
        key = "resistance" if part.kind.opens_at else part.kind.meters_across
        number = self.machine.wiring.index[part.name, key]
        burden = self.meter.burden
        own = columns[number]
        beside = 1 / (1 / own + 1 / burden)
        columns[number] = np.full(self.rows, burden) if part.kind.opens_at else beside
        state = self.machine.solve(columns, self.rows)
        a, b = (self.machine.wiring.node[node] for node in what.points)
        return (state.v[a] - state.v[b]) / burden

    def _metered(self, function: str, value: np.ndarray) -> np.ndarray:
        """With a gain error, counts and stray, drawn anew in each row."""
        noise = self.draw.normal(0, 1, (2, self.rows))
        if function == "ohm":
            full = float(self.meter.ohm_volts(self.meter.ohm_overload))
            held = np.clip(value, 0.0, full * (1 - 1e-9))
            gain, own = self.meter.uncertainties("ohm", self.meter.ohms(held))
            steep = self.meter.ohm_steepness(held)
            return value + noise[0] * gain / steep + noise[1] * own / steep
        gain, own = self.meter.uncertainties(function, value)
        return value + noise[0] * gain + noise[1] * np.hypot(own, stray(self.loop, function))

    def _shown(self, name: str, columns) -> np.ndarray:
        part = self.loop.part(name)
        shows = part.kind.shows
        state: State = self.machine.solve(columns, self.rows)
        value = np.broadcast_to(
            level(self.machine.wiring, part, shows, state.columns, state.v), (self.rows,)
        )
        spread = part.values.get("accuracy", shows.accuracy) / sqrt(3)
        value = value + self.draw.normal(0, spread, self.rows)
        if shows.what == "state":
            return (value > 0).astype(float)
        return np.clip(value, shows.least, shows.most) + self.draw.normal(0, 1e-3, self.rows)


def bits_between(values: np.ndarray, doubt: float) -> np.ndarray:
    """Jensen-Shannon divergence of each two faults from their draws: (fault, fault)."""
    edges = np.unique(np.quantile(values, np.linspace(0, 1, BINS + 1)[1:-1]))
    place = np.searchsorted(edges, values)
    told = np.stack([np.bincount(row, minlength=len(edges) + 1) for row in place]) / values.shape[1]
    told = (1 - doubt) * told + doubt / told.shape[1]

    def entropy(p: np.ndarray) -> np.ndarray:
        return -(p * np.log2(np.maximum(p, 1e-300))).sum(axis=-1)

    both = entropy((told[:, None] + told[None]) / 2)
    alone = entropy(told)
    # What two samples of one distribution differ by on average, (bins - 1) / 2N ln 2 for each
    # entropy (G. Miller, 1955, from memory).
    bias = (told.shape[1] - 1) / (4 * values.shape[1] * np.log(2))
    return both - (alone[:, None] + alone[None]) / 2 - bias


def brute(engine: Engine) -> np.ndarray:
    """Bits by which the best reading tells each two faults apart, by drawing."""
    count = len(engine.hypotheses)
    best = np.zeros((count, count))
    for process in (0.0, 1.0) if engine.loop.states else PROCESS:
        world = World(engine, process)
        for candidate in engine.candidates:
            what = candidate.measurement
            doubt = WORTHLESS.get(what.function, WORTHLESS_METER)
            best = np.maximum(best, bits_between(world.seen(what).reshape(count, DRAWS), doubt))
    return best


@cache
def engine_of(name: str) -> Engine:
    return Engine(load_type(name))


@cache
def groups_of(name: str) -> tuple[Group, ...]:
    return ambiguity(engine_of(name))


@pytest.mark.parametrize("name", TYPES)
def test_the_report_agrees_with_brute_force_on_every_two_faults(name):
    engine = engine_of(name)
    drawn, told = brute(engine), separations(engine, engine.candidates)
    pairs = np.triu_indices(len(drawn), 1)
    drawn, told = drawn[pairs], told[pairs]
    clear = np.abs(drawn - APART) > CLEAR
    wrong = clear & ((drawn < APART) != (told < APART))
    names = [
        (engine.hypotheses[pairs[0][n]].key, engine.hypotheses[pairs[1][n]].key, drawn[n], told[n])
        for n in np.flatnonzero(wrong)
    ]
    print(f"{name}: {len(drawn)} pairs, {np.sum(drawn < APART)} not apart, "
          f"{np.sum(~clear)} too near to call")  # fmt: skip
    assert names == []
    assert np.sum(~clear) < 0.02 * len(drawn)
    assert 5 < np.sum(drawn < APART) < 0.2 * len(drawn)


def gains(engine: Engine, members: list[int], read: Sequence[np.ndarray]) -> np.ndarray:
    """Bits that each of some readings, drawn for all faults, tells within a group: (reading,)."""
    prior = np.array([engine.hypotheses[n].prior for n in members])
    weight = prior / prior.sum()
    found = []
    for values in read:
        some = values[members]
        edges = np.unique(np.quantile(some, np.linspace(0, 1, BINS + 1)[1:-1]))
        place = np.searchsorted(edges, some)
        told = np.stack([np.bincount(row, minlength=len(edges) + 1) for row in place]) / DRAWS
        told = (1 - WORTHLESS_METER) * told + WORTHLESS_METER / told.shape[1]
        both = -((weight @ told) * np.log2(weight @ told)).sum()
        found.append(both + (told * np.log2(np.maximum(told, 1e-300))).sum(axis=1) @ weight)
    return np.array(found)


@pytest.mark.parametrize("name", TYPES)
def test_no_other_test_point_would_split_a_group_better(name):
    """Every reading that a lead on every node would allow, drawn for the faults of each group."""
    engine = engine_of(name)
    number = {h.key: h.number for h in engine.hypotheses}
    more = beyond(engine.loop, engine.candidates)
    count, looked_at = len(engine.hypotheses), 0
    read = [
        [world.seen(item.measurement).reshape(count, DRAWS) for item in more]
        for process in ((0.0, 1.0) if engine.loop.states else PROCESS)
        for world in [World(engine, process)]
    ]
    for group in groups_of(name):
        members = [number[fault] for fault in group.faults] + [0] * group.latent
        drawn = np.max([gains(engine, members, some) for some in read], axis=0)
        if group.split is None:
            assert drawn.max() < APART + CLEAR
            continue
        looked_at += 1
        assert set(group.split.points).isdisjoint(p.name for p in engine.loop.points)
        chosen = [n for n, item in enumerate(more)
                  if describe(item.measurement, engine.loop) == group.split.reading]  # fmt: skip
        assert group.split.bits == pytest.approx(drawn[chosen[0]], abs=0.15)
        assert drawn[chosen[0]] > drawn.max() - 0.15
    assert looked_at > 4


def test_joints_in_one_stretch_without_a_test_point_are_one_group():
    """Between two terminals that a lead reaches, a core and its two ends drop the same volts."""
    groups = groups_of("monitored-contact")
    stretch = {("W5+.X23", "open"), ("W5+", "open"), ("W5+.JB7", "open")}
    assert stretch in [set(group.faults) for group in groups]
    [group] = [group for group in groups if set(group.faults) == stretch]
    assert group.bits == pytest.approx(1.52, abs=0.01)  # rates 0.8, 0.4, 0.8: 2 x 0.53 + 0.46
    assert group.split is not None
    assert group.split.points[0] in ("W5+.1", "W5+.2")


def test_a_test_point_where_the_report_wants_it_splits_the_group():
    loop = load_type("monitored-contact")
    point = Point("W5+.1", "cabinet")
    wider = replace(loop, points=(*loop.points, point), digest="")
    groups = [set(group.faults) for group in ambiguity(Engine(wider))]
    assert {("W5+", "open"), ("W5+.JB7", "open")} in groups


def test_what_no_reading_shows_is_latent():
    """A line-fault lamp that stays dark is seen only when the line is at fault."""
    latent = [group for group in groups_of("monitored-contact") if group.latent]
    assert [group.faults for group in latent] == [(("H2", "stays dark"),)]
