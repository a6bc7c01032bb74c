"""What makes a proof reading, by numbers made up for it: what moves enough, what is sure enough.

The loop under it is LT-214 or XV-221; the levels are given, so that the arithmetic is that of the
proof alone.  Three standard deviations are an assumption, a limit of error is a rectangular
distribution (JCGM 100:2008, 4.3.7).
"""

from __future__ import annotations

from functools import cache
from math import sqrt
from types import SimpleNamespace

import numpy as np
import pytest

from diagnose.inference import report_repair
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Applied, Measurement
from diagnose.inference.proofs_by_command import _proof
from diagnose.inference.readings import parse_measurement
from diagnose.inference.report_advice import _beside
from diagnose.inference.report_repair import _driven_by, _stated, receivers
from diagnose.loops.plant import open_plant
from diagnose.loops.states import LIT

BUS = Measurement("V", ("X21:7", "X20:0"))
ENDS = (Applied("LT-214", "driven", 0.004), Applied("LT-214", "driven", 0.020))


@cache
def engine(tag: str = "LT-214") -> Engine:
    return Engine(open_plant().load(tag))


def seen(*level: float, slope: float = 0.0) -> SimpleNamespace:
    """What a sound loop shows at each point, and how far its one tolerance moves that."""
    some = np.array(level)[:, None]
    return SimpleNamespace(level=some, slope=np.full((len(level), 1, 1), slope))


@pytest.mark.parametrize(("moved", "proves"), [(0.0, 0), (0.09, 0), (0.11, 2), (-0.11, 2)])
def test_what_hardly_moves_from_end_to_end_proves_nothing(
    moved: float, proves: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A tenth of a volt of four, or a tenth of a range, is what leaks over (assumption)."""
    monkeypatch.setattr(report_repair, "sight", lambda *_: seen(0.5, 0.5 + moved))
    assert len(_driven_by(engine(), ENDS)) == proves
    values = [proof for proof in receivers(engine()) if proof.unit == "1"]
    assert bool(values) == bool(proves)


@pytest.mark.parametrize(
    ("level", "due"),
    [
        ((-310.0, 310.0), [0, 1]), ((310.0, -310.0), [1, 0]), ((310.0, 310.0), [1, 1]),
        ((-290.0, 310.0), []), ((-310.0, 290.0), []), ((290.0, 290.0), []),
    ],
)  # fmt: skip
def test_a_lamp_is_proved_where_it_is_sure_to_be_lit_or_dark(
    level: tuple[float, float], due: list[int]
) -> None:
    """Three times 100 either side of its point, whichever side, at both ends or at none."""
    lamp = Measurement("shows", ("LAHH-214",))
    found = list(_stated(engine(), (lamp, lamp), seen(*level, slope=100.0), LIT))  # type: ignore[arg-type]
    assert [(proof.low, proof.high) for proof in found] == [(one, one) for one in due]
    assert all(proof.unit == "lit" for proof in found)


@pytest.mark.parametrize(("volts", "spread"), [(5.0, 0.0), (5.0, 0.1), (-5.0, 0.0), (2.0, 0.02)])
def test_volts_of_an_output_lie_within_three_standard_deviations(
    volts: float, spread: float
) -> None:
    """0.1 % of the reading and 2 counts of 1 mV as limits, 2 mV of stray volts, and the loop's own:
    at 5 V 3 * sqrt(8.3 + 1.3 + 4) mV = 11.1 mV, with 100 mV of the loop 300.2 mV.
    """
    proof = _proof(engine(), BUS, volts, spread)
    sd = sqrt((volts * 1e-3) ** 2 / 3 + (2e-3) ** 2 / 3 + (2e-3) ** 2 + spread**2)
    assert (proof.high + proof.low) / 2 == pytest.approx(volts)
    assert (proof.high - proof.low) / 2 == pytest.approx(3 * sd, rel=0.01)
    assert proof.unit == "V"


@pytest.mark.parametrize(
    ("tag", "points", "lamp", "on", "off"),
    [
        ("XV-221", "V X51:3 X20:0", "ZLO-221", 24.0, 1.0),
        ("XV-222", "VAC X61:3 X60:0", "ZLO-222", 230.0, 23.0),
    ],
)
def test_an_output_is_proved_at_its_last_terminal_and_by_the_lamp_of_the_open_valve(
    tag: str, points: str, lamp: str, on: float, off: float
) -> None:
    """Volts behind the fuse and every link of the cabinet, on the core that goes to the field: its
    supply within 15 % when on, and but a few per cent through the open output when off.  The
    valve opens when its coil is fed: its open lamp is lit then, and dark without (common practice,
    no source).
    """
    hand = tag.replace("XV", "HS")
    found = {proof.text: proof for proof in engine(tag).proof}
    assert set(found) == {
        f"{what} with {hand} commanded {state}"
        for what in (points, lamp)
        for state in ("on", "off")
    }
    fed, cut = (found[f"{points} with {hand} commanded {state}"] for state in ("on", "off"))
    assert 0.85 * on < fed.low < on < fed.high < 1.15 * on
    assert -off < cut.low < cut.high < off
    lit, dark = (found[f"{lamp} with {hand} commanded {state}"] for state in ("on", "off"))
    assert (lit.low, lit.high, dark.low, dark.high) == (1, 1, 0, 0)


SERIES, VOLTS, OTHER = "mA X21:4", "V X21:7 X20:0", "V G1:+ G1:-"


@pytest.mark.parametrize(
    ("first", "also", "worth"),
    [(VOLTS, OTHER, True), (SERIES, VOLTS, True), (VOLTS, SERIES, False)],
)
def test_what_is_read_besides_wants_no_caution_that_the_step_does_not(
    first: str, also: str, worth: bool
) -> None:
    """A meter in series opens the loop, which must be agreed; volts beside it need no more."""
    loop = engine().loop
    candidates = [
        SimpleNamespace(measurement=parse_measurement(text, loop), minutes=2.0)
        for text in (first, also)
    ]
    adviser = SimpleNamespace(candidates=candidates, companions=lambda n: [(1 - n, 0.5)])
    answer = SimpleNamespace(engine=engine(), adviser=adviser)
    found = [(item.text, item.minutes) for item in _beside(answer, 0)]  # type: ignore[arg-type]
    assert found == ([(also, 2.0)] if worth else [])
