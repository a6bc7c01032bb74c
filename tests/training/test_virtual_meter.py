"""A simulated meter does what a real one does.

Sources: arithmetic on paper with Ohm's law; the limit of error of a meter as percent of reading
plus counts, and a rectangular distribution within it (JCGM 100:2008, 4.3.7); critical values of
Kolmogorov's test from the asymptotic formula sqrt(-ln(alpha / 2) / (2 n)) (N. Smirnov, Ann. Math.
Stat. 19:279, 1948; from memory).  Meter mistakes: common practice, no source.
"""

from math import log, sqrt

import numpy as np
import pytest

from diagnose.inference.meters import GENERIC
from diagnose.inference.readings import describe, parse_line
from diagnose.training.commands import do
from diagnose.training.drill import Drill
from diagnose.training.virtual_meter import FUSE, GHOST, GHOST_AC, VirtualMeter
from drill_stand import drill

FALSE_ALARM = 1e-4
"""Chance that a sound meter fails one of the statistical tests, over all seeds."""


def test_no_display_is_further_off_than_the_limit_of_error() -> None:
    """Percent of reading plus counts, what is rounded away included."""
    levels = {"V": (0.05, 0.4, 3.1, 17.0, 24.0), "mA": (4e-3, 20e-3), "ohm": (9.0, 250.0, 9e3, 4e6)}
    for function, values in levels.items():
        for level in values:
            for seed in range(40):
                meter = VirtualMeter(GENERIC, seed)
                shown = meter.off(function, level, 1)
                assert abs(shown - level) <= meter.limit(function, level) * (1 + 1e-9)


def test_errors_fill_the_limit_evenly() -> None:
    """Kolmogorov's test of the gain error against the rectangle, false alarm 1e-4."""
    count, level = 400, 5.0
    spec = GENERIC.functions["V"]
    gains = []
    for seed in range(count):
        meter = VirtualMeter(GENERIC, seed)
        meter.off("V", level, 1)
        gains.append(meter._gain["V"] / (spec.percent / 100))
    placed = (np.sort(gains) + 1) / 2
    steps = np.arange(count)
    far = max(np.max((steps + 1) / count - placed), np.max(placed - steps / count))
    assert far < sqrt(-log(FALSE_ALARM / 2) / (2 * count))


def test_two_readings_of_one_meter_share_their_gain_error() -> None:
    """Between two readings of one meter only counts differ; between two meters the gain as well."""
    count = float(GENERIC.functions["V"].resolution(np.array(5.0)))
    one = VirtualMeter(GENERIC, 3)
    shown = [one.off("V", 5.0, number) for number in range(50)]
    most = 2 * GENERIC.functions["V"].counts * count
    assert max(shown) - min(shown) <= most + 1e-9
    assert max(shown) > min(shown)


def test_the_display_resolves_what_it_resolves() -> None:
    """6000 counts: 1 mV up to 6 V, 10 mV above."""
    d = drill()
    assert do(d, "V X21:7 X20:0").line.split()[3].partition(".")[2].__len__() == 3
    assert do(d, "V X20:1 X20:0").line.split()[3].partition(".")[2].__len__() == 2


def test_volts_through_a_broken_core_are_loaded_by_the_meter() -> None:
    """24 V behind a break of 1e11 ohm and 10 Mohm across it: next to nothing, and unsteady."""
    d = drill(faults=("W3+:open",))
    seen = do(d, "V JB9:1 PE")
    low, _, high = seen.line.split()[3].partition("..")
    assert float(low) < 24 * 10e6 / 1e11 < float(high)
    assert float(high) - float(low) <= 1.2 * GHOST[1] * 1.01
    assert parse_line(seen.line, d.loop).sort == "span"
    ac = do(d, "VAC JB9:1 PE").line.split()
    assert GHOST_AC[0] * 0.9 <= float(ac[3]) <= GHOST_AC[1] * 1.1
    low_z = do(d, "Vlow JB9:1 PE").line.split()
    assert abs(float(low_z[3])) < 0.01  # 3 kohm takes the ghost away


def test_low_impedance_volts_move_the_loop() -> None:
    """3 kohm across 250 ohm take 250/3250 = 7.7 % of the signal: 3.00 V becomes 2.77 V."""
    d = drill()
    high = float(do(d, "V X21:7 X20:0").line.split()[3])
    low = float(do(d, "Vlow X21:7 X20:0").line.split()[3])
    assert low / high == pytest.approx(3000 / 3250, abs=0.012)


def test_volts_in_the_current_jack_are_a_short() -> None:
    """24 V over 0.5 ohm and 4 ohm would be 5.3 A: the supply limits at 2 A, the fuse blows."""
    d = drill()
    do(d, "jack mA")
    seen = do(d, "V X20:1 X20:0")
    assert "short" in seen.mistakes
    assert not seen.line
    assert not d.meter.whole
    assert "fuse has blown" in seen.told[-1]
    assert FUSE < 2.0


def test_a_short_across_the_pair_trips_but_spares_the_fuse() -> None:
    """24 V over 300 + 250 + 20 ohm are 42 mA: far below the fuse, far above the high trip."""
    d = drill()
    do(d, "jack mA")
    seen = do(d, "V X21:4 X21:5")
    assert d.meter.whole
    assert "42 mA" in seen.told[1] or "43 mA" in seen.told[1]
    assert next(e.sort for e in seen.effects) == "trip"


def test_a_blown_fuse_reads_nothing_and_leaves_the_loop_open() -> None:
    d = drill(fuse="blown")
    do(d, "jack mA")
    seen = do(d, "mA X21:4")
    assert seen.line.startswith("mA X21:3 X21:4 0.00 mA")
    assert "blown fuse" in seen.mistakes
    assert "trip" in [e.sort for e in seen.effects]
    assert "the fuse is blown" in do(d, "fuse").told[0]
    do(d, "new fuse")
    assert float(do(d, "mA X21:4").line.split()[3]) == pytest.approx(12.0, abs=0.2)


def test_a_current_with_the_lead_in_the_volts_jack_is_none() -> None:
    d = drill()
    seen = do(d, "mA X21:4")
    assert "0.00 mA" in seen.line
    assert "wrong jack" in seen.mistakes


def test_the_burden_is_in_the_loop() -> None:
    """4 ohm at 12 mA are 48 mV: the current of a transmitter in command stays."""
    d = drill(difficulty=1)
    for word in ("operator", "bypass", "manual"):
        do(d, word)
    current = do(d, "mA X21:4")
    assert float(current.line.split()[3]) == pytest.approx(12.0, abs=0.15)
    assert d.meter.jack == "mA"  # moved for a beginner


def test_ohms_on_a_live_loop_are_no_reading() -> None:
    d = drill()
    seen = do(d, "ohm X21:7 X20:0")
    assert "live ohms" in seen.mistakes
    assert not seen.line
    assert "unsteady" in seen.told[0]
    dead = do(d, "ohm X21:7 X20:0 with supply off")
    assert float(dead.line.split()[3]) == pytest.approx(250, rel=0.02)


def test_an_open_circuit_is_an_overload() -> None:
    d = drill(faults=("W3+:open",))
    seen = do(d, "ohm X21:4 X21:5 with supply off")
    assert seen.line.split()[3] == "OL"
    assert parse_line(seen.line, d.loop).sort == "overload"


def test_alternating_volts_are_signalling_and_hum() -> None:
    """Signalling of 0.5 mA peak is 0.35 mA rms: over 250 ohm 88 mV (arithmetic on paper).

    A common that is lost lets hum in on top of it (common practice, no source).
    """
    quiet = [volts(drill(seed=s), "VAC X21:7 X20:0") for s in range(6)]
    assert all(0.085 < value < 0.15 for value in quiet)
    hum = [
        volts(drill(faults=("LIC-214-:shifted=0.4 V",), seed=s), "VAC X20:0 G1:-") for s in range(6)
    ]
    none = [volts(drill(seed=s), "VAC X20:0 G1:-") for s in range(6)]
    assert max(hum) > max(none)


def volts(d: Drill, line: str) -> float:
    return float(do(d, line).line.split()[3])


def test_every_line_can_be_typed_again() -> None:
    """What the meter shows is a reading of the same grammar."""
    d = drill(seed=9, minutes=1e4)
    for candidate in d.engine.candidates[::7]:
        seen = do(d, describe(candidate.measurement, d.loop))
        if seen.line:
            assert parse_line(seen.line, d.loop).measurement == seen.measurement
        if d.items:
            do(d, "restore all")
