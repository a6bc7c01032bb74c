"""Cells that are not weighed would not have counted: against an engine that weighs all of them.

The judge in tests/judge is the check from outside; this one is of the shortcut alone.
"""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.inference import stages
from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_line
from diagnose.inference.weighing import weigh
from diagnose.loops.plant import open_plant

HUNTS = {
    "LT-214": ("complaint reads low", "LIC-214 60 %", "V X21:7 X20:0 2.1", "LR-214 59 %",
               "LT-214 59.5 %", "clamp W3+ 8.4"),
    # an earthed thermocouple explains the first reading at one end of its cells alone
    "TE-140": ("complaint reads low", "TI-140 191.6", "V X40:+ PE 0.0100"),
    # nothing explains the third reading with the first two: one of them must be wrong
    "FV-118": ("complaint does not follow", "FIC-118 94 %", "clamp W12+ 19.0", "FV-118 2 %",
               "PG1 1.4"),
}  # fmt: skip


@pytest.mark.parametrize("tag", HUNTS)
def test_what_is_not_weighed_would_not_count(tag: str, monkeypatch: pytest.MonkeyPatch) -> None:
    loop = open_plant().load(tag)
    evidence = [parse_line(line, loop) for line in HUNTS[tag]]
    weighed = []

    def counted(*words: object) -> object:
        weighed.append(len(words[1]))  # type: ignore[arg-type]
        return weigh(*words)  # type: ignore[arg-type]

    monkeypatch.setattr(stages, "weigh", counted)

    def believed(counts: float) -> tuple[np.ndarray, int]:
        monkeypatch.setattr(stages, "COUNTS", counts)
        weighed.clear()
        engine = Engine(loop)
        belief, _ = engine.believe(engine.sort(evidence))
        return np.append(belief.probability, belief.unmodelled), sum(weighed)

    (few, some), (every, all_) = believed(stages.COUNTS), believed(-1e9)
    assert few == pytest.approx(every, abs=1e-9)
    # A grid of so few cells as that of a thermocouple leaves less to spare.
    assert some < (0.96 if tag == "TE-140" else 0.9) * all_
