"""Simulated hunts: how often, how soon and how surely the failed element is found.

    python tests/benchmarks/hunts.py --hunts 300

Faults are drawn from the priors, each with the complaint that it would raise; readings come from a
simulated meter with all its errors.  A hunt ends when one ambiguity group holds 95 %, after 12
readings, or when the policy has nothing left that is worth its minutes.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

import numpy as np

from diagnose.inference.advice import Adviser
from diagnose.inference.baseline import complaints
from diagnose.inference.candidates import HOME, Candidate, travel
from diagnose.inference.engine import Engine
from diagnose.inference.evidence import Peak, cells_of
from diagnose.inference.measurement import Complaint, Measurement
from diagnose.inference.symptoms import FLOOR, SOUND, Symptoms
from diagnose.inference.world import World
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets" / "LT-214.toml"
MOST_READINGS = 12
SURE = 0.95
Policy = Callable[[Engine, Adviser, list[Candidate], np.random.Generator], Candidate | None]


@dataclass
class Hunt:
    """How one hunt went; ``said`` is the probability of the leading group at the end."""

    policy: str
    seed: int
    truth: tuple[str | None, str]
    right: bool
    sure: bool
    said: float
    readings: int
    minutes: float
    brier: float
    interruptions: int
    members: int


def _advised(
    engine: Engine, adviser: Adviser, left: list[Candidate], rng: np.random.Generator
) -> Candidate | None:
    """What the tool advises; where it would stop by value, the most telling step all the same."""
    if adviser.order:
        return adviser.candidates[adviser.order[0]]
    known = {c.measurement: n for n, c in enumerate(adviser.candidates)}
    return max(left, key=lambda c: adviser.gains[known[c.measurement]], default=None)


def _random(
    engine: Engine, adviser: Adviser, left: list[Candidate], rng: np.random.Generator
) -> Candidate | None:
    return left[int(rng.integers(len(left)))] if left else None


def _fixed(
    engine: Engine, adviser: Adviser, left: list[Candidate], rng: np.random.Generator
) -> Candidate | None:
    """Cabinet first, then outwards, in the order of the sheet; what disturbs comes last."""
    places = {place.name: place.minutes for place in engine.loop.places}
    return min(left, key=lambda c: (c.moves_signal, places[c.place]), default=None)


def _half_split(
    engine: Engine, adviser: Adviser, left: list[Candidate], rng: np.random.Generator
) -> Candidate | None:
    """The habit of the trade: of the undisturbing volts, the one that halves the suspects best."""
    volts = [c for c in left if c.measurement.function in ("V", "shows") and not c.moves_signal]
    known = {c.measurement: n for n, c in enumerate(adviser.candidates)}
    alive = np.flatnonzero(adviser.belief.probability > 0.01)

    def halves(c: Candidate) -> float:
        told = adviser.given[known[c.measurement]][:, alive]
        side = told[: len(told) // 2].sum(axis=0) > 0.5
        return abs(float(side.mean()) - 0.5) if len(side) else 1.0

    return min(volts or left, key=halves, default=None)


POLICIES: dict[str, Policy] = {
    "advice": _advised,
    "half-split": _half_split,
    "fixed order": _fixed,
    "random": _random,
}


@cache
def engine(sheet: Path) -> Engine:
    """The engine of one sheet."""
    return Engine(load_sheet(sheet))


def draw_world(sheet: Path, seed: int) -> tuple[World, str]:
    """A fault from the priors with the complaint that it raises; unnoticed ones are skipped."""
    machine = engine(sheet)
    rng = np.random.default_rng(seed)
    prior = np.array([h.prior for h in machine.hypotheses])
    while True:
        h = machine.hypotheses[int(rng.choice(len(prior), p=prior / prior.sum()))]
        x, p = float(rng.random()), _process(machine.loop, rng)
        world = World(machine.observer, machine.atlas.ground, h, x, p, rng)
        chances = complaint_chances(machine, h.number, x, p)
        total = sum(chances.values())
        if total > 0.05:
            names = list(chances)
            weights = np.array([chances[name] for name in names]) / total
            return world, names[int(rng.choice(len(names), p=weights))]


def _process(loop: Loop, rng: np.random.Generator) -> float:
    """Within the range; at one of its ends where the loop knows only two states."""
    return float(rng.integers(2)) if loop.states else float(rng.uniform(0, 1))


def complaint_chances(machine: Engine, number: int, x: float, p: float) -> dict[str, float]:
    """Chance of each complaint at one point of one hypothesis, without the floor."""
    if number == 0:
        return {name: SOUND[name] for name in complaints(machine.loop)}
    atlas = machine.atlas
    cells = cells_of(atlas.lines, atlas.strips, machine.loop.states)
    inside = (atlas.lines.x[cells.low] <= x) & (x <= atlas.lines.x[cells.high])
    inside = (cells.h == number) & (inside | (cells.low == cells.high))
    low, high = cells.p[:, [0, 2]].min(axis=1), cells.p[:, [1, 3]].max(axis=1)
    cell = cells.some(np.flatnonzero(inside & (low <= p) & (p <= high))[:1])
    left, right = atlas.lines.x[cell.low], atlas.lines.x[cell.high]
    s = np.where(right > left, (x - left) / np.maximum(right - left, 1e-12), 0.5)
    bottom = (1 - s) * cell.p[:, 0] + s * cell.p[:, 2]
    top = (1 - s) * cell.p[:, 1] + s * cell.p[:, 3]
    t = np.clip((p - bottom) / np.maximum(top - bottom, 1e-12), 0, 1)
    peak = Peak(s, t, s, np.zeros((1, 2, 2)) + 1e12 * np.eye(2), s, s)
    return {
        name: max(
            float(np.exp(Symptoms(name, machine.baseline).cells(atlas, cell, peak))[0]) - FLOOR, 0.0
        )
        for name in complaints(machine.loop)
    }


def hunt(sheet: Path, policy: str, seed: int) -> Hunt:
    """One hunt by one policy; the same seed hides the same fault for every policy."""
    machine = engine(sheet)
    world, complaint = draw_world(sheet, seed)
    rng = np.random.default_rng([seed, 1])
    evidence: list[object] = [Complaint(complaint, complaint)]
    place, minutes, readings, interruptions = HOME, 0.0, 0, 0
    taken: set[Measurement] = set()
    while True:
        told = machine.sort(evidence)  # type: ignore[arg-type]
        belief, atlas = machine.believe(told)
        adviser = Adviser(machine, atlas, belief, told, place, frozenset())
        weight = adviser.group_probability()
        sure = bool(weight.max() >= SURE)
        left = [c for c in adviser.candidates if c.measurement not in taken]
        step = None
        if not sure and readings < MOST_READINGS:
            step = POLICIES[policy](machine, adviser, left, rng)
        if step is None:
            break
        minutes += step.minutes + travel(machine.loop, place, step.place)
        place = step.place if step.place != "control room" else place
        interruptions += step.interrupts
        readings += 1
        taken.add(step.measurement)
        evidence.append(world.read(step.measurement))
    best = int(weight.argmax())
    group = adviser.group
    right = bool(group[world.hypothesis.number] == best)
    share = weight / max(weight.sum() + belief.unmodelled, 1e-12)
    mine = group[world.hypothesis.number]
    brier = float(((share - (np.arange(len(share)) == mine)) ** 2).sum()) / 2
    return Hunt(
        policy,
        seed,
        world.hypothesis.key,
        right,
        sure,
        float(weight.max()),
        readings,
        minutes,
        brier,
        interruptions,
        int((group == best).sum()),
    )


def _run(job: tuple[Path, str, int]) -> Hunt:
    return hunt(*job)


def summary(hunts: list[Hunt]) -> dict[str, float]:
    """The figures of one policy."""
    sure = [h for h in hunts if h.sure]
    return {
        "hunts": len(hunts),
        "true group first": float(np.mean([h.right for h in hunts])),
        "reached 95 %": len(sure) / len(hunts),
        "right when sure": float(np.mean([h.right for h in sure])) if sure else float("nan"),
        "readings": float(np.mean([h.readings for h in hunts])),
        "minutes": float(np.mean([h.minutes for h in hunts])),
        "interruptions": float(np.mean([h.interruptions for h in hunts])),
        "Brier": float(np.mean([h.brier for h in hunts])),
    }


def main() -> None:
    """Run the hunts of every policy and print one row for each."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--hunts", type=int, default=300)
    parser.add_argument("--sheet", type=Path, default=SHEET)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--policy", action="append", choices=list(POLICIES))
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    seeds = range(options.seed * 10_000, options.seed * 10_000 + options.hunts)
    found: list[Hunt] = []
    print(
        "policy       hunts  true first  reached 95 %  right when sure  readings"
        "  minutes  interrupts  Brier"
    )
    with ProcessPoolExecutor(options.workers) as pool:
        for policy in options.policy or POLICIES:
            hunts = list(
                pool.map(_run, [(options.sheet, policy, seed) for seed in seeds], chunksize=4)
            )
            found += hunts
            row = summary(hunts)
            print(
                f"{policy:12} {row['hunts']:5.0f} {row['true group first']:11.3f}"
                f" {row['reached 95 %']:13.3f}"
                f" {row['right when sure']:16.3f} {row['readings']:9.1f} {row['minutes']:8.1f}"
                f" {row['interruptions']:11.2f} {row['Brier']:6.3f}",
                flush=True,
            )
    if options.json:
        options.json.write_text(json.dumps([asdict(h) for h in found], indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
