"""A reading as a likelihood: target, errors, and what it is worth if it is worthless.

Constants here are the assumptions of the reading model (see DEVELOPERS.md, "The model").
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp, log, pi, sqrt

from diagnose.inference.measurement import Condition, Measurement, Reading, is_hum
from diagnose.inference.meters import Meter
from diagnose.inference.spreads import systematic
from diagnose.loops.loop import Loop

WORTHLESS = {"shows": 0.005, "process": 0.005}
WORTHLESS_METER = 0.01
"""Chance that a reading tells nothing: wrong terminal, slipped decimal, blown meter fuse …"""

BROAD = {
    "V": 1 / 60,
    "Vlow": 1 / 60,
    "VAC": 1 / 300,
    "mA": 1 / 0.06,
    "clamp": 1 / 0.06,
    "ohm": 1 / 18,
    "shows": 1 / 1.5,
    "process": 1 / 1.5,
}
"""Density of a worthless reading, per unit of its level; for ohms per unit of ln(R + 1)."""

FUSE = 0.3
"""Share of worthless mA readings that show nothing at all."""

EITHER, CLIPPED, OVERLOAD = 0.5, 0.2, 0.1
"""Chance of a state, of a display at one of its ends, and of OL, when the reading is worthless.

Two ends take 0.4: what is left of ``BROAD`` lies between them.
"""

STRAY = {"V": 2e-3, "Vlow": 1e-3, "VAC": 2e-3, "mA": 5e-6, "clamp": 5e-6}
"""Thermal and stray voltages and currents that no circuit law knows, standard deviation, SI.

Volts are those of a loop whose sheet does not say its own.
"""


def stray(loop: Loop, function: str) -> float:
    """The standard deviation of what no law knows in a reading with one function, SI."""
    own = loop.stray / STRAY["V"] if function in ("V", "Vlow", "VAC") else 1.0
    return STRAY.get(function, 0.0) * own


OFF_SCALE = 2e-6
"""How sharply a meter goes over to OL, in its ``ohm_logs``: at nothing at all 20 mohm."""

PROCESS_SD = 0.02
"""Standard uncertainty of a process value given without one."""


@dataclass(frozen=True)
class Datum:
    """One reading, ready for the evidence.

    ``side`` is 0 for a value ``y``, +1 or -1 where only "above" or "below" ``y`` is known.
    ``noise`` is the sd that belongs to this reading alone; ``shared`` names errors that other
    readings share, each with what one standard deviation of it adds here (signed); ``wrong`` is the
    log density if it is worthless, ``doubt`` the chance; ``broad`` the log density under "none of
    the modelled"; below ``floor`` a level shows the same as above ``y``.  Levels count in volts for
    ohms, but as its ``ohm_logs`` where they are ``off_scale`` of a meter.
    """

    reading: Reading
    side: int
    y: float
    noise: float
    shared: tuple[tuple[str, float], ...]
    wrong: float
    doubt: float
    broad: float
    floor: float | None = None
    off_scale: Meter | None = field(default=None, compare=False)

    @property
    def sd(self) -> float:
        """Standard deviation of all its errors, those that others share included."""
        return sqrt(self.noise**2 + sum(sd**2 for _, sd in self.shared))

    @property
    def measurement(self) -> Measurement:
        """What was measured."""
        return self.reading.measurement


def datum_of(reading: Reading, loop: Loop, meter: Meter) -> Datum | None:
    """The likelihood of a reading; None where it is no evidence ("not possible")."""
    function = reading.measurement.function
    if reading.sort == "impossible" or is_hum(reading.measurement, loop):
        return None
    doubt = WORTHLESS.get(function, WORTHLESS_METER)
    broad = log(BROAD.get(function, 1.0))
    lasting = systematic(loop, reading.measurement)
    if function == "shows":
        return _shown(reading, loop, doubt, lasting)
    if function == "process":
        sd = reading.spread / 2 if reading.spread else PROCESS_SD
        return Datum(reading, 0, reading.value, sd, (), broad, doubt, broad)
    if reading.sort == "overload":
        worthless = log(OVERLOAD)
        # A source in the loop that drives the meter backwards makes it show OL as well.
        y, floor = (float(meter.ohm_logs(meter.ohm_volts(r))[0]) for r in (meter.ohm_overload, 0.0))
        return Datum(reading, 1, y, OFF_SCALE, (), worthless, doubt, worthless, floor, meter)
    gain, noise = meter.uncertainty(function, reading.value)
    y, wide = reading.value, sqrt((reading.spread**2 + reading.rounding**2) / 3)
    if function == "ohm":
        wide /= max(y, 0.0) + 1
        y = float(meter.ohm_volts(max(y, 0.0)))
        steep = float(meter.ohm_steepness(y))
        gain, noise, wide, broad = gain / steep, noise / steep, wide / steep, broad + log(steep)
    noise = sqrt(noise**2 + wide**2 + stray(loop, function) ** 2)
    return Datum(
        reading,
        0,
        y,
        noise,
        ((function, gain),),
        _worthless(function, y, noise, broad),
        doubt,
        broad,
    )


def _worthless(function: str, y: float, noise: float, broad: float) -> float:
    """log density of a worthless value: anything, and for milliamperes often just nothing.

    A blown meter fuse or a lead in the wrong jack shows 0.00.
    """
    if function != "mA":
        return broad
    nothing = exp(-0.5 * (y / noise) ** 2) / (noise * sqrt(2 * pi))
    return log((1 - FUSE) * exp(broad) + FUSE * nothing)


def _shown(reading: Reading, loop: Loop, doubt: float, lasting: tuple[str, float] | None) -> Datum:
    shows = loop.part(reading.measurement.points[0]).kind.shows
    assert shows is not None and lasting is not None
    if shows.what == "state":
        side = 1 if reading.sort == "lit" else -1
        return Datum(reading, side, 0.0, 0.0, (lasting,), log(EITHER), doubt, log(EITHER))
    open_ = shows.resolution**2 + reading.spread**2 + reading.rounding**2
    noise, broad = sqrt(open_ / 3), log(BROAD["shows"])
    if not shows.least < reading.value < shows.most:
        side = 1 if reading.value >= shows.most else -1
        edge = shows.most if side > 0 else shows.least
        return Datum(reading, side, edge, noise, (lasting,), log(CLIPPED), doubt, log(CLIPPED))
    return Datum(reading, 0, reading.value, noise, (lasting,), broad, doubt, broad)


def by_condition(data: Sequence[Datum]) -> list[tuple[Condition, list[int]]]:
    """Each condition in which something was read, with the numbers of what was."""
    found: dict[Condition, list[int]] = {}
    for n, datum in enumerate(data):
        found.setdefault(datum.measurement.condition, []).append(n)
    return list(found.items())
