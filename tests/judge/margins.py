"""Readings as margins: Gaussian numbers whose value is 0 (values) or positive (states, clips)."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, pi, sqrt

from diagnose.inference.measurement import Measurement, Reading
from diagnose.loops.kind import Shows
from diagnose.loops.loop import Loop
from judge.circuit import volts_behind
from judge.world import LARGEST_OHM

ROOT3 = sqrt(3.0)
PERCENT = {"V": 1e-3, "Vlow": 1e-2, "VAC": 1e-2, "mA": 3e-3, "clamp": 2e-3, "ohm": 5e-3}
COUNTS = {"V": 2, "Vlow": 3, "VAC": 3, "mA": 3, "clamp": 5, "ohm": 2}
SPANS = {
    "V": (0.6, 6.0, 60.0, 600.0),
    "Vlow": (0.6, 6.0, 60.0, 600.0),
    "VAC": (0.6, 6.0, 60.0, 600.0),
    "ohm": (600.0, 6e3, 60e3, 600e3, 6e6, 60e6),
}
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
WORTHLESS = {"shows": 0.005, "process": 0.005}
FREE_PROCESS = 0.02
STRAY = {"V": 2e-3, "Vlow": 1e-3, "VAC": 2e-3, "mA": 5e-6, "clamp": 5e-6}
"""Standard deviation of stray voltages and currents, SI; volts where a sheet says no other."""
CLIPPED = 0.2
"""Chance of a display at one of its ends where nothing is known."""
FUSE = 0.3
"""Share of worthless milliamperes that show nothing: a blown fuse, a lead in the wrong jack."""
CALM = (0.4, 0.6)
"""Process values between which the sway of a level is taken."""


def resolution(function: str, y: float) -> float:
    """Last digit of the meter at a reading (SI)."""
    if function in ("mA", "clamp"):
        return 1e-5
    return next((s for s in SPANS[function] if abs(y) <= s), SPANS[function][-1]) / 6000


def stray(loop: Loop, function: str) -> float:
    """Standard deviation of stray volts or amperes on this loop."""
    share = loop.stray / STRAY["V"] if function in ("V", "Vlow", "VAC") else 1.0
    return STRAY.get(function, 0.0) * share


@dataclass(frozen=True)
class Margin:
    """How a reading enters: ``sign * (y - target)``, zero for a value, positive for a state.

    ``own`` is the standard deviation of its independent noise, ``gain`` and ``accuracy`` the
    signed effects of the errors that it shares with others; ``broad`` the density under "none of
    the modelled".
    """

    reading: Reading
    sign: float
    target: float
    threshold: bool
    own: float
    gain: float
    accuracy: float
    broad: float
    worthless: float
    nothing: float = 0.0

    @property
    def spoilt(self) -> float:
        """Density of a worthless reading; ``nothing`` is that of a dead milliampere jack."""
        share = FUSE if self.what.function == "mA" else 0.0
        return (1 - share) * self.broad + share * self.nothing

    @property
    def what(self) -> Measurement:
        """The measurement behind it."""
        return self.reading.measurement


def shows_of(loop: Loop, part: str) -> tuple[Shows, float]:
    """What a part shows, and its limit of error (the part's own value where it has one)."""
    owner = loop.part(part)
    shows = owner.kind.shows
    if shows is None:
        raise KeyError(f"{part} shows nothing")
    return shows, owner.values.get("accuracy", shows.accuracy)


def margin(loop: Loop, reading: Reading) -> Margin:
    """The margin of a reading."""
    function = reading.measurement.function
    if function == "shows":
        return _shown(loop, reading)
    q = WORTHLESS.get(function, 0.01)
    extra = reading.spread / ROOT3 if reading.sort == "span" else 0.0
    if function == "process":
        own = FREE_PROCESS if reading.sort == "span" or not reading.spread else reading.spread / 2
        return Margin(
            reading, 1, reading.value, False, sqrt(own**2 + extra**2), 0, 0, BROAD["process"], q
        )
    y = LARGEST_OHM if reading.sort == "overload" else reading.value
    gain = PERCENT[function] / ROOT3 * y
    counts = COUNTS[function] * resolution(function, y) / ROOT3
    own = sqrt(counts**2 + extra**2 + reading.rounding**2 / 3 + stray(loop, function) ** 2)
    if function != "ohm":
        dead = exp(-0.5 * (y / own) ** 2) / (own * sqrt(2 * pi))
        return Margin(reading, 1, y, False, own, gain, 0, BROAD[function], q, dead)
    if reading.sort == "overload":
        return Margin(reading, 1, log(y + 1), True, own / (y + 1), gain / (y + 1), 0, 0.1, q)
    # In volts, which are as straight in the tolerances as the circuit is: a shorted triac of
    # 30 ohm +-50 % reads 7 ohm at 2.7 standard deviations, not at the 4.9 of the logarithm.
    volts, steep = volts_behind(y)
    broad = BROAD["ohm"] / ((y + 1) * steep)
    return Margin(reading, 1, volts, False, own * steep, gain * steep, 0, broad, q)


def _shown(loop: Loop, reading: Reading) -> Margin:
    shows, accuracy = shows_of(loop, reading.measurement.points[0])
    q, systematic = WORTHLESS["shows"], accuracy / ROOT3
    if reading.sort in ("lit", "dark"):
        sign = 1.0 if reading.sort == "lit" else -1.0
        return Margin(reading, sign, 0.0, True, 0.0, 0, sign * systematic, 0.5, q)
    extra = reading.spread / ROOT3 if reading.sort == "span" else 0.0
    own = sqrt((shows.resolution**2 + reading.rounding**2) / 3 + extra**2)
    y = reading.value
    if shows.least < y < shows.most:
        return Margin(reading, 1, y, False, own, 0, systematic, BROAD["shows"], q)
    sign, clip = (1.0, shows.most) if y >= shows.most else (-1.0, shows.least)
    return Margin(reading, sign, clip, True, own, 0, sign * systematic, CLIPPED, q)
