"""Everything that can be read on every sheet, computed twice: by the engine and by the judge.

Source: the judge's circuits (``tests/judge``), star-mesh elimination over laws written apart from
those of the kinds.  Random faults at random sizes, random process values, in all usual conditions.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from diagnose.circuit.predictor import Predictor
from diagnose.inference.ground import Ground
from diagnose.inference.hypotheses import hypotheses
from diagnose.inference.measurement import Measurement
from diagnose.inference.meters import GENERIC
from diagnose.inference.observe import Observer
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet
from judge.circuit import Circuit, insertion
from judge.generator import measurements
from judge.model import Seen
from judge.world import hypotheses as judged
from judge.world import state

ROWS, MEASURED = 150, 30
SHEETS = sorted((Path(__file__).parents[2] / "cases" / "larkmere" / "sheets").glob("*.toml"))
NEAR = {"V": 2e-4, "Vlow": 2e-4, "VAC": 2e-3, "mA": 2e-7, "clamp": 2e-7, "ohm": 2e-3, "shows": 2e-4}
"""Least difference that counts: far below what a meter or a display shows (ohms as ln(R + 1))."""
OVERLOAD = float(np.log(60e6 + 1))


def shown(loop: Loop, what: Measurement, level: np.ndarray) -> np.ndarray:
    """What is seen of a level: within the ends of a display, lit or dark, OL."""
    if what.function == "ohm":
        return np.where(level > OVERLOAD - 0.01, OVERLOAD, level)
    shows = loop.part(what.points[0]).kind.shows if what.function == "shows" else None
    if shows is None:
        return level
    return np.sign(level) if shows.what == "state" else np.clip(level, shows.least, shows.most)


def ohms(volts: np.ndarray) -> np.ndarray:
    """ln(R + 1) as the engine's meter shows it; OL also where a source outruns the meter."""
    outrun = volts < GENERIC.ohm_volts(0.0) - 1e-12
    return np.where(outrun, OVERLOAD, np.log(np.minimum(GENERIC.ohms(volts), 1e12) + 1))


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_levels_agree_under_every_fault(path: Path) -> None:
    loop = load_sheet(path)
    machine = Predictor(loop)
    observer, ground = Observer(machine, GENERIC), Ground(machine, hypotheses(loop))
    cases, rng = judged(loop), np.random.default_rng(4)
    which, u = rng.integers(0, len(cases), ROWS), rng.random(ROWS)
    p, usual = rng.uniform(-0.1, 1.1, ROWS), measurements(loop)
    chosen = [usual[k] for k in rng.permutation(len(usual))[:MEASURED]]
    for what in chosen:
        st = state(loop, cases, which, u, what.condition)
        circuit = Circuit(loop, st, p, what.condition, insertion(loop, what))
        second = np.broadcast_to(Seen(circuit, what).value, (ROWS,))
        columns = ground.columns(which, u, p, what.condition)
        level = observer.level(what, observer.base(columns, ROWS, what.condition), p)
        first = ohms(level) if what.function == "ohm" else level
        off = np.abs(shown(loop, what, first) - shown(loop, what, second))
        worst = int(np.argmax(off))
        here = cases[which[worst]]
        assert off[worst] < NEAR[what.function], (what, here.part, here.mode, u[worst], p[worst])
