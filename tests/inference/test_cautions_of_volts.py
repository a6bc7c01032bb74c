"""Cautions of dangerous volts, and of what a printed sheet must say of places and volts.

IEC 61140 draws the line of extra-low voltage at 50 V alternating and 120 V direct (from memory);
that work on a mains circuit is for a licensed person with the feed isolated and proved dead is
common practice (EN 50110-1 and NFPA 70E by their titles, from memory).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.inference.cautions import beyond_extra_low, cautions_for, cautions_of, needs_for
from diagnose.inference.measurement import Applied, Jumper, Measurement
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet
from small_loop import LOOP

LICENSED = "licensed person, feed isolated and proved dead"
OFF = (Applied("G1", "off"),)


@pytest.fixture
def mains(plant: Path) -> Loop:
    """A solenoid valve on 230 V."""
    return load_sheet(plant / "sheets" / "XV-222.toml")


def at(loop: Loop, volts: float) -> Loop:
    """The loop with another voltage of its supply."""
    parts = [
        replace(part, values={**part.values, "voltage": volts}) if part.name == "G1" else part
        for part in loop.parts
    ]
    return replace(loop, parts=tuple(parts))


@pytest.mark.parametrize(
    ("alternating", "volts", "beyond"),
    [(False, 110.0, False), (False, 120.0, False), (False, 125.0, True),
     (True, 48.0, False), (True, 50.0, False), (True, 60.0, True), (True, 120.0, True)],
)  # fmt: skip
def test_the_line_of_extra_low_voltage(
    mains: Loop, alternating: bool, volts: float, beyond: bool
) -> None:
    loop = at(mains if alternating else LOOP, volts)
    assert loop.alternating is alternating
    assert beyond_extra_low(loop) is beyond
    assert ({"mains", "mains work"} <= {*cautions_of(loop)}) is beyond


@pytest.mark.parametrize(
    ("function", "points", "condition"),
    [
        ("mA", ("X60:1", "G1:L"), ()),
        ("ohm", ("X60:1", "G1:L"), OFF),
        ("VAC", ("G1:L", "G1:N"), (Applied("W61L.X61", "lifted"),)),
        ("shows", ("ZLO-222",), (Applied("W61L.X61", "lifted"),)),
        ("shows", ("ZLO-222",), (Jumper("X61:1", "X60:1"),)),
    ],
)
def test_hands_in_a_mains_circuit_need_a_licensed_person(
    mains: Loop, function: str, points: tuple[str, ...], condition: tuple[Applied | Jumper, ...]
) -> None:
    step = Measurement(function, points, condition)
    assert "mains work" in cautions_for(step, mains)
    assert LICENSED in needs_for(step, mains)
    low = at(mains, 24.0)
    assert not {"mains", "mains work"} & {*cautions_for(step, low)}
    assert LICENSED not in needs_for(step, low)


def test_who_joins_mains_points_and_looks_at_a_lamp_is_told_of_the_mains(mains: Loop) -> None:
    """The hands are at the jumper, whatever the eyes are on."""
    joined = Measurement("shows", ("ZLO-222",), (Jumper("X61:1", "X60:1"),))
    assert "mains" in cautions_for(joined, mains)


def test_to_read_mains_volts_is_no_work_on_it_and_to_look_touches_nothing(mains: Loop) -> None:
    read = Measurement("VAC", ("G1:L", "G1:N"))
    assert "mains" in cautions_for(read, mains)
    assert "mains work" not in cautions_for(read, mains)
    assert LICENSED not in needs_for(read, mains)
    assert not {"mains", "mains work"} & {*cautions_for(Measurement("shows", ("ZLO-222",)), mains)}


def test_a_driven_current_is_energy_into_a_zone() -> None:
    """A calibrator is a source as an ohms range is (IEC 60079-14, from memory)."""
    driven = Measurement("shows", ("LIC-214",), (Applied("LT-214", "driven", 12e-3),))
    assert "added energy" in cautions_for(driven, LOOP)
    lifted = Measurement("shows", ("LIC-214",), (Applied("TB1", "lifted"),))
    assert "zone" in cautions_for(lifted, LOOP)
    assert "added energy" not in cautions_for(lifted, LOOP)


def test_a_printed_sheet_speaks_of_zones_only_where_there_are_any() -> None:
    assert {"zone", "enclosure"} <= {*cautions_of(LOOP)}
    plain = replace(LOOP, places=tuple(replace(place, area="safe") for place in LOOP.places))
    assert not {"zone", "enclosure"} & {*cautions_of(plain)}
