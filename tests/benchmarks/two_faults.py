"""How often two faults can be named before any repair, with every reading that there is.

    python tests/benchmarks/two_faults.py [TAG [HUNTS [SEED [bound]]]]

With the word `bound` the engine is not asked: it takes a minute of a hunt on the larger sheets.

Seeded hunts with two electrical faults, as `diagnose evaluate --trouble "two faults"` draws them.
A fault is *masked* where its presence beside the other changes no candidate reading by more than
its band: twice the standard uncertainty from meter, display, tolerances and process.  What is not
masked bounds what anybody could name; severities and process value may still hide it.  The other
rows are the engine's, given all readings at once, none of them worthless.  "Both" is counted over
the first three groups as in the evaluation.  The baseline, 1.000, is what is not masked.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT)]

import numpy as np  # noqa: E402

from diagnose.circuit.rows import Array  # noqa: E402
from diagnose.inference.candidates import HOME  # noqa: E402
from diagnose.inference.data import Datum, datum_of  # noqa: E402
from diagnose.inference.engine import Engine, Evidence  # noqa: E402
from diagnose.inference.hypotheses import Pair  # noqa: E402
from diagnose.inference.measurement import Complaint, Reading  # noqa: E402
from diagnose.inference.world import World  # noqa: E402
from diagnose.loops.sheet import load_sheet  # noqa: E402
from diagnose.training.draws import draw  # noqa: E402
from diagnose.training.repairing import faults_of, named_first  # noqa: E402
from diagnose.training.scores import wilson  # noqa: E402

SHEETS = ROOT / "cases" / "larkmere" / "sheets"
SPACING = 10_000
"""Seeds of one run lie within this many of its first, as in the evaluation."""

BAND = 2.0
"""Standard uncertainties within which nobody sees a change."""


def masked(engine: Engine, world: World, data: Iterable[Datum]) -> bool:
    """Whether either fault, put beside the other, leaves every reading within its band."""
    hidden = np.ones(2, bool)
    for datum in data:
        hidden &= ~_changed(engine, world, datum)
    return bool(hidden.any())


def _changed(engine: Engine, world: World, datum: Datum) -> Array:
    """Whether a reading tells of the first fault, and of the second: (2,)."""
    pair, measurement = world.hypothesis, datum.measurement
    assert isinstance(pair, Pair)
    second = engine.hypothesis(pair.key).number
    h = np.array([pair.number, second, pair.first.number])
    x, process = np.array([world.x, world.x, pair.x_first]), np.full(3, world.process)
    ground, observer = world.ground, engine.observer
    columns = ground.columns(h, x, process, measurement.condition)
    state = observer.base(columns, 3, measurement.condition)
    still = ground.still(h, observer.numbers, measurement.condition)
    seen = observer.see(measurement, state, process, still)
    if datum.side:
        above = seen.level > datum.y
        if datum.floor is not None:
            above |= seen.level < datum.floor
        found: Array = above[1:] != above[0]
        return found
    sway = engine.loop.drift * engine.atlas.sound.sway(measurement)
    own = datum.noise**2 + sway**2 + sum(sd**2 for _, sd in datum.shared)
    band = BAND * np.sqrt(own + (seen.slope**2).sum(axis=1).max())
    result: Array = np.abs(seen.level[1:] - seen.level[0]) > band
    return result


def _named(engine: Engine, complaint: str, readings: list[Reading], world: World) -> int:
    """How many of the two faults the first three groups name."""
    evidence: list[Evidence] = [Complaint(complaint, complaint), *readings]
    return len(named_first(engine.look(evidence, HOME), faults_of(world.hypothesis)))


def main(tag: str, hunts: int, seed: int, ask: bool) -> None:
    """All hunts on one sheet; without ``ask`` the engine is not asked."""
    engine = Engine(load_sheet(SHEETS / f"{tag}.toml"))
    seen, named = np.zeros(hunts, bool), np.zeros(hunts, int)
    for n in range(hunts):
        world, complaint = draw(engine, seed * SPACING + n, 2)
        world.mistakes = False
        readings = [world.read(candidate.measurement) for candidate in engine.candidates]
        data = [datum_of(reading, engine.loop, engine.meter) for reading in readings]
        seen[n] = not masked(engine, world, [datum for datum in data if datum is not None])
        named[n] = _named(engine, complaint, readings, world) if ask else 0
    print(f"{tag}: {hunts} hunts, {len(engine.candidates)} readings each")
    print(f"{'':<38}{'hunts':>7}{'share':>8}{'95 %':>16}{'ratio':>8}")
    rows = [("neither masked: the bound", seen)]
    if ask:
        rows += [
            ("both among the first three", named == 2),
            ("both, where neither is masked", named[seen] == 2),
            ("one at least among the first three", named > 0),
        ]
    for title, hits in rows:
        low, high = wilson(int(hits.sum()), len(hits))
        ratio = hits.mean() / seen.mean()
        print(f"{title:<38}{len(hits):7d}{hits.mean():8.3f}   {low:.3f} … {high:.3f}{ratio:8.3f}")


if __name__ == "__main__":
    words = sys.argv[1:]
    told = [*words, *["LT-214", "24", "1", "ask"][len(words) :]]
    main(told[0], int(told[1]), int(told[2]), told[3] != "bound")
