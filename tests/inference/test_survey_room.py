"""An engine that hunts for long keeps only so much; what it has let go is found anew."""

import pytest

from diagnose.inference import survey
from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_lines
from diagnose.loops.plant import open_plant

LINES = ("complaint reads high", "LT-214 50 %", "V X21:7 X20:0 3.406", "V X21:1 X21:3 4.08")
OTHERS = ("complaint reads low", "V X20:1 X20:0 23.9", "LIC-214 20 %")


def kept(engine: Engine) -> int:
    """Bytes of sensitivities of the whole atlas."""
    return sum(level.slope.nbytes for level in engine.atlas.survey._levels.values())


def test_what_was_let_go_is_found_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    loop = open_plant().load("LT-214")
    plain, tight = Engine(loop), Engine(loop)
    evidence = parse_lines(LINES, loop)
    others = parse_lines(OTHERS, loop)
    before = plain.rank(evidence)
    plain.rank(others)
    monkeypatch.setattr(survey, "ROOM", 1)
    tight.rank(evidence)
    tight.rank(others)
    assert 0 < kept(tight) < kept(plain)
    after = tight.rank(evidence)
    assert [h.probability for h in after.hypotheses] == pytest.approx(
        [h.probability for h in before.hypotheses], abs=1e-12
    )
    assert after.next[0].text == before.next[0].text
