"""What is believed follows from sheet and evidence alone, whatever the engine was asked before.

Bayes' rule knows no order of asking.  The last bits of a solved circuit do depend on what was
solved along with it (floating-point sums are not associative: D. Goldberg, ACM Computing Surveys
23:5, 1991; from memory), and faults that nobody can tell apart differ by no more than these.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from diagnose.circuit.rows import Array
from diagnose.inference.engine import Engine, Evidence
from diagnose.inference.measurement import Complaint
from diagnose.inference.misfit import Misfit
from diagnose.inference.trial import Trial
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet
from diagnose.training.draws import draw

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"
READINGS = 7
HUNTS = [("PT-306", 10), ("PT-306", 16), ("LT-214", 13)]
"""Two faults in each, and readings that single faults do not explain."""

Beliefs = dict[frozenset[tuple[str | None, str]], float]


@cache
def loop(tag: str) -> Loop:
    return load_sheet(SHEETS / f"{tag}.toml")


def hunt(engine: Engine, seed: int) -> list[Evidence]:
    """A complaint, and some of the readings that can be taken, with two faults in the loop."""
    world, complaint = draw(engine, seed, 2)
    within = [candidate.measurement for candidate in engine.candidates]
    chosen = np.random.default_rng(seed).choice(len(within), READINGS, replace=False)
    return [Complaint(complaint, complaint), *(world.read(within[int(n)]) for n in chosen)]


def believed(engine: Engine, evidence: Sequence[Evidence]) -> Beliefs:
    engine = engine.at(evidence)
    belief, atlas = engine.believe(engine.sort(evidence))
    found = {
        frozenset([h.key, *h.also]): float(belief.probability[h.number])
        for h in atlas.ground.hypotheses
    }
    return {**found, frozenset(): float(belief.unmodelled)}


def pairs(found: Beliefs) -> int:
    return sum(len(faults) == 2 for faults in found)


@pytest.mark.parametrize(("tag", "seed"), HUNTS)
def test_asked_before_or_not(tag: str, seed: int) -> None:
    used = Engine(loop(tag))
    evidence = hunt(used, seed)
    used.rank(hunt(used, seed + 1))
    for count in range(len(evidence)):
        used.rank(evidence[:count])
    asked, fresh = believed(used, evidence), believed(Engine(loop(tag)), evidence)
    assert pairs(fresh) > 0
    assert asked == pytest.approx(fresh, abs=1e-9)


@pytest.mark.parametrize(("tag", "seed"), HUNTS)
def test_last_bits_choose_no_pair(tag: str, seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    engine = Engine(loop(tag))
    evidence = hunt(engine, seed)
    exact, seen, rng = believed(engine, evidence), Misfit.seen, np.random.default_rng(1)

    def with_last_bits(self: Misfit, trial: Trial) -> Array:
        found = seen(self, trial)
        result: Array = found * (1 + 4e-16 * rng.integers(-1, 2, found.shape))
        return result

    monkeypatch.setattr(Misfit, "seen", with_last_bits)
    assert pairs(exact) > 0
    assert believed(engine, evidence) == pytest.approx(exact, abs=1e-9)
