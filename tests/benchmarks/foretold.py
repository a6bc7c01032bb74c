"""What readings were foretold to tell, and what they told: bits over simulated hunts by the advice.

By hand: `python tests/benchmarks/foretold.py [HUNTS [TAG ...]]`, 20 hunts of LT-214, TT-131 and
FT-118 in a minute and a half on one core.  An expectation is right if what comes is the same on
average; the baseline is what came, the ratio is of what was foretold to it, in the same run.
"""

from __future__ import annotations

import sys
from itertools import pairwise
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import numpy as np  # noqa: E402

from diagnose.inference.candidates import HOME  # noqa: E402
from diagnose.inference.engine import Engine  # noqa: E402
from diagnose.inference.measurement import Complaint, Context  # noqa: E402
from diagnose.inference.posterior import Belief  # noqa: E402
from diagnose.loops.plant import open_plant  # noqa: E402
from diagnose.training.draws import draw  # noqa: E402
from diagnose.training.hunts import MOST_READINGS  # noqa: E402
from diagnose.training.policies import POLICIES  # noqa: E402
from diagnose.training.walking import Walk, read_on  # noqa: E402

CLASSES = (0.0, 0.05, 0.1, 0.2, 0.5, 1.0, 9.0)
"""Bits between which readings are put together."""


def left(belief: Belief) -> float:
    """Bits that are open about the fault, none of the modelled included."""
    chance = np.append(belief.probability, belief.unmodelled)
    chance = chance[chance > 0]
    return float(-(chance * np.log2(chance)).sum())


def hunt(engine: Engine, seed: int) -> list[tuple[float, float]]:
    """Bits foretold and bits that came, for each reading of a hunt."""
    world, complaint = draw(engine, seed)
    rng, steps = np.random.default_rng([seed, 1]), list[tuple[float, float]]()

    def choose(engine, adviser, some):  # type: ignore[no-untyped-def]
        chosen = POLICIES["advice"](engine, adviser, some, rng)
        if chosen is not None:
            bits = float(adviser.gains[adviser.candidates.index(chosen)])
            steps.append((bits, left(adviser.belief)))
        return chosen

    evidence = [Complaint(complaint, complaint), *(Context(f, f) for f in world.facts)]
    last = read_on(engine, world, evidence, choose, Walk(HOME), MOST_READINGS)
    after = [*(bits for _, bits in steps[1:]), left(last.belief)]
    return [(told, was - now) for (told, was), now in zip(steps, after, strict=True)]


def main(hunts: str = "20", *tags: str) -> None:
    print("loop      bits      readings  foretold    came  ratio  +- (one standard error)")
    for tag in tags or ("LT-214", "TT-131", "FT-118"):
        engine = Engine(open_plant().load(tag))
        found = np.array([one for seed in range(int(hunts)) for one in hunt(engine, 70000 + seed)])
        told, came = found.T
        line(tag, "all", told, came)
        for low, high in pairwise(CLASSES):
            some = (told >= low) & (told < high)
            if some.any():
                line("", f"{low:g} to {high:g}", told[some], came[some])


def line(tag: str, name: str, told: np.ndarray, came: np.ndarray) -> None:
    error = (told - came).std() / len(told) ** 0.5
    print(
        f"{tag:<8}  {name:<10}{len(told):8}  {told.mean():8.3f}{came.mean():8.3f}  "
        f"{told.sum() / came.sum():5.2f}  {error / abs(came.mean()):.2f}"
    )


if __name__ == "__main__":
    main(*sys.argv[1:])
