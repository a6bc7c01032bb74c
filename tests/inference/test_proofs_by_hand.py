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

from diagnose.inference import proofs_by_command, proofs_of_trip, report_repair
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


def at(point: str, place: str = "cabinet", *condition: Applied) -> SimpleNamespace:
    """A candidate: volts of a point against the reference of XV-221."""
    return SimpleNamespace(measurement=Measurement("V", (point, "X20:0"), condition), place=place)


@pytest.mark.parametrize(
    ("candidates", "sways", "point"),
    [
        ((at("a"), at("b")), (24.0, 24.0), "b"),  # the last of two that are as good
        ((at("a"), at("b")), (24.0, 23.8), "b"),  # a hundredth is lost in a fuse
        ((at("a"), at("b")), (24.0, 22.0), "a"),  # a twelfth is not
        ((at("a"), at("b", "field")), (24.0, 24.0), "a"),  # nobody walks for a proof
        ((at("a"), at("b", "cabinet", Applied("G1", "off"))), (24.0, 24.0), "a"),
        ((at("a"), at("b")), (0.0, 0.0), None),  # the command moves nothing there
    ],
)
def test_an_output_is_proved_at_the_last_terminal_that_has_all_of_its_volts(
    candidates: tuple[SimpleNamespace, ...], sways: tuple[float, ...], point: str | None
) -> None:
    """What is behind the last terminal of the cabinet is what the field gets (common practice)."""
    swing = dict(zip([item.measurement for item in candidates], sways, strict=True))
    made = SimpleNamespace(
        loop=engine("XV-221").loop,
        candidates=candidates,
        atlas=SimpleNamespace(
            sound=SimpleNamespace(sways=lambda some: [swing[item] for item in some])
        ),
    )
    found = proofs_by_command._farthest_volts(made)  # type: ignore[arg-type]
    assert (found.points[0] if found else None) == point


@pytest.mark.parametrize(
    ("lamps", "chosen"),
    [
        ((("ZLO", "control room", -1, 1), ("ZLC", "control room", 1, -1)), "ZLO"),
        ((("ZLC", "control room", 1, -1), ("ZLO", "control room", -1, 1)), "ZLO"),
        ((("H1", "field", -1, 1), ("ZLO", "control room", -1, 1)), "ZLO"),
        ((("H1", "field", -1, 1), ("ZLC", "control room", 1, -1)), None),
    ],
)
def test_an_output_is_proved_by_a_lamp_that_the_operator_sees_lit_when_it_is_on(
    lamps: tuple[tuple[str, str, float, float], ...],
    chosen: str | None,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Whoever commands it by hand sits in the control room, and reads the lamp there."""
    parts = [SimpleNamespace(name=name, place=place) for name, place, _, _ in lamps]
    monkeypatch.setattr(proofs_by_command, "told_by", lambda *_: parts)
    made = SimpleNamespace(
        loop=None, baseline=SimpleNamespace(states={name: (off, on) for name, _, off, on in lamps})
    )
    found = proofs_by_command._lamp(made)  # type: ignore[arg-type]
    assert (found.points[0] if found else None) == chosen


SIDES = (Applied("B1", "fed", 2.96), Applied("B1", "fed", 3.04))
"""What is fed to the trip of LAHH-214 on either side of its 3 V."""


@pytest.mark.parametrize(
    ("display", "level", "due"),
    [
        ("K1", (-310.0, 310.0), [0, 1]), ("K1", (310.0, -310.0), [1, 0]),
        ("K1", (310.0, 320.0), []), ("K1", (-320.0, -310.0), []),
        ("K1", (-290.0, 310.0), []), ("K1", (-310.0, 290.0), []),
    ],
)  # fmt: skip
def test_what_a_trip_moves_is_proved_where_it_is_sure_on_both_sides(
    display: str, level: tuple[float, float], due: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three times 100 either side of where it turns; what is lit on both sides tells nothing."""
    made = np.array(level), np.full(2, 100.0)
    monkeypatch.setattr(proofs_of_trip, "_seen", lambda *_: made)
    found = proofs_of_trip._on_both(engine("LAHH-214"), Measurement("shows", (display,)), SIDES)
    assert [(proof.low, proof.high) for proof in found] == [(one, one) for one in due]


@pytest.mark.parametrize(("moved", "proves"), [(0.0, 0), (0.0005, 0), (0.002, 2), (-0.002, 2)])
def test_a_display_beside_a_trip_is_proved_where_it_follows_what_is_fed(
    moved: float, proves: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """80 mV are a fiftieth of its range; a thousandth of it is what leaks over (assumption)."""
    made = np.array((0.5, 0.5 + moved)), np.full(2, 0.01)
    monkeypatch.setattr(proofs_of_trip, "_seen", lambda *_: made)
    found = proofs_of_trip._on_both(engine("LAHH-214"), Measurement("shows", ("LIC-214",)), SIDES)
    assert len(found) == proves
    for proof, level in zip(found, made[0], strict=bool(proves)):
        assert (proof.low, proof.high) == pytest.approx((level - 0.03, level + 0.03))


def test_a_glass_beside_the_vessel_is_no_proof_of_a_trip_that_is_fed() -> None:
    """Volts that are fed in raise no level: amplifier, relay, horn, lamp, input and controller."""
    found = {proof.text.split(" with ")[0] for proof in engine("LAHH-214").proof}
    assert found == {"K1", "RL1", "H1", "H2", "U5", "LIC-214"}


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
