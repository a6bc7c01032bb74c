"""Two faults are found where either alone explains little of what was read.

Source: readings of the judge's own circuit, solved with both faults in it, every tolerance and the
meter drawn; that what is in the loop leads the ranking of every reading that there is.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2

from diagnose.inference.data import datum_of
from diagnose.inference.engine import Engine
from diagnose.inference.forcing import forced
from diagnose.inference.leaders import UNEXPLAINED, left_over
from diagnose.inference.measurement import Reading
from diagnose.loops.sheet import load_sheet
from judge.generator import World, together
from judge.world import hypotheses

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"
Fault = tuple[str, str, float]
"""Part, fault and severity coordinate."""

UNLIKE = [
    (("W31B.X31", "open", 0.5), ("I.AC", "short", 0.74), 0.22),
    (("TI-131.B", "open", 0.5), ("I.TE-131", "short", 0.23), 0.61),
    (("W31B.X31", "high resistance", 0.44), ("E.A", "earthed", 0.69), 0.02),
    (("W31A.TE-131", "open", 0.5), ("I.AB", "leakage", 0.65), 0.89),
]


@cache
def engine() -> Engine:
    return Engine(load_sheet(SHEETS / "TT-131.toml"))


def readings(first: Fault, second: Fault, process: float) -> list[Reading]:
    """Every reading within reach."""
    loop = engine().loop
    known = {(case.part, case.mode): case for case in hypotheses(loop)}
    cases = [known[fault[:2]] for fault in (first, second)]
    sizes = tuple(float(c.size(f[2])) for c, f in zip(cases, (first, second), strict=True))
    both = together(cases[0], cases[1], (sizes[0], sizes[1]))
    world = World(loop, both, 0.5, process, np.random.default_rng(2))
    return [world.read(candidate.measurement) for candidate in engine().candidates]


@pytest.mark.parametrize(("first", "second", "process"), UNLIKE)
def test_what_is_in_the_loop_leads(first: Fault, second: Fault, process: float) -> None:
    ranking = engine().rank(readings(first, second, process))
    leading = [h for h in ranking.hypotheses if h.group == ranking.hypotheses[0].group]
    assert {first[:2], second[:2]} in [{(h.part, h.fault), *h.also} for h in leading]


def test_each_reading_of_something_else_counts_alike_however_far_off() -> None:
    # source: by hand: the sound loop explains all that was read of it, and none of what was not
    none = hypotheses(engine().loop)[0]
    world = World(engine().loop, none, 0.5, 0.5, np.random.default_rng(5))
    wanted = [c.measurement for c in engine().candidates if c.measurement.function == "V"][:4]
    good = [world.read(measurement) for measurement in wanted]
    for wrong in (0, 1, 3):
        read = [replace(r, value=r.value + 4.0**n) for n, r in enumerate(good[:wrong])]
        data = [datum_of(r, engine().loop, engine().meter) for r in (*read, *good[wrong:])]
        left = left_over(engine().atlas, [d for d in data if d], np.full(4, 0.02))
        assert left[0] == pytest.approx(wrong * UNEXPLAINED, abs=1e-3)


@pytest.mark.parametrize(("tail", "due"), [(0.05, False), (0.002, False), (1e-4, True)])
def test_two_are_thought_of_where_the_best_fits_badly(tail: float, due: bool) -> None:
    # source: the chi-square distribution after scipy; six readings, less process and severity
    weighted: Any = SimpleNamespace(
        cells=SimpleNamespace(low=np.array([0, 0]), high=np.array([1, 1])),
        log=np.array([-9.0, -0.1]),
        wrong=np.zeros((2, 6), bool),
        peak=SimpleNamespace(misfit=np.array([0.0, float(chi2.isf(tail, 4))])),
    )
    belief: Any = SimpleNamespace(unmodelled=0.0, suspect=np.zeros(6), weighted=weighted)
    data: Any = [SimpleNamespace(side=0)] * 6
    assert forced(belief, data) is due
