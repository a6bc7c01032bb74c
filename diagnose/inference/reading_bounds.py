"""Whether a value can be: what no loop of this kind gives, and what was hardly meant."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum, auto

from diagnose.inference.measurement import Measurement
from diagnose.inference.meters import FUNCTION_UNITS
from diagnose.inference.reading_names import volts
from diagnose.inference.reading_words import RefusedError
from diagnose.loops.loop import Loop


@dataclass(frozen=True, slots=True)
class Seen:
    """Sort, value and spread of a reading."""

    sort: str
    value: float = 0.0
    spread: float = 0.0
    rounding: float = 0.0


class Unit(Enum):
    """How the unit of a value was typed: not at all, as whole amperes, or in another way."""

    NONE = auto()
    AMPERES = auto()
    OTHER = auto()

    @classmethod
    def of(cls, number: str) -> Unit:
        """The unit behind a number."""
        if number[-1:].isdigit():
            return cls.NONE
        return cls.AMPERES if _AMPERES.search(number) else cls.OTHER


_AMPERES = re.compile(r"[0-9.]\s*A$")

JACK = 10.0
"""Amperes that the large jack of a hand-held meter takes (common practice, no source)."""


def shown_range(measurement: Measurement, loop: Loop) -> tuple[str, float, float]:
    """What the value of a display, or of the process, may be given in beside %."""
    return loop.range_of(measurement.points[0]) if measurement.function == "shows" else loop.range


def refuse_impossible(seen: Seen, measurement: Measurement, loop: Loop, unit: Unit) -> None:
    """RefusedError for what cannot be, or, where no unit was typed, for what was hardly meant.

    Amperes that are written as such can be where nothing but a fuse limits the current.
    """
    function = measurement.function
    if function == "ohm":
        _refuse_ohms(seen.value)
    else:
        bounds = _BOUNDS[FUNCTION_UNITS.get(function, "1")](measurement, loop)
        ends = seen.value - seen.spread, seen.value + seen.spread
        most = max(ends, key=abs)
        unlimited = unit is Unit.AMPERES and _largest_current(loop) is None
        if abs(most) > (JACK if unlimited else bounds.possible):
            raise RefusedError(bounds.question(most))
        if unit is Unit.NONE and bounds.range[0] == "mV" and abs(most) > bounds.usual:
            raise RefusedError(bounds.unit_question(most))


def _refuse_ohms(value: float) -> None:
    if value < 0:
        raise RefusedError("negative ohms come from a voltage: prove that the supply is off")
    if value > 60e6:
        raise RefusedError(f"a hand-held meter shows no {value / 1e6:g} Mohm: write OL")
    if 0 < value < 0.01:
        raise RefusedError(
            f"a hand-held meter shows no {value * 1e3:g} mohm: did you mean {value * 1e3:g} Mohm?"
        )


@dataclass(frozen=True, slots=True)
class _Bounds:
    """What can be, and what is usual, of one function in one loop; in the unit people type."""

    possible: float
    usual: float
    scale: float
    unit: str
    reason: str
    warning: str = ""
    range: tuple[str, float, float] = ("", 0.0, 0.0)

    def question(self, value: float) -> str:
        """The question that a decimal slip deserves."""
        slips = (value / shift for shift in (10, 100, 1000))
        guess = next((slip for slip in slips if abs(slip) <= self.usual), None)
        guesses = [] if guess is None else [f"{guess * self.scale:g} {self.unit}"]
        unit, low, high = self.range
        if unit and low <= value * self.scale <= high:  # 982 of 0-1800 mm, its unit left out
            guesses = [] if unit == "mV" else guesses
            guesses.append(f"{value * self.scale:g} {unit}")
        asks = f": did you mean {' or '.join(guesses)}?" if guesses else ""
        said = f"{value * self.scale:g} {self.unit} is impossible {self.reason}{asks}"
        if not self.warning or abs(value) > 1000 or (self.unit == "mA" and abs(value) > JACK):
            return said
        return f"{said}{'' if asks else '.'} {self.warning}"

    def unit_question(self, value: float) -> str:
        """The question that a number deserves of which nothing says that it is no millivolts."""
        said = f"{value:g} mV or {value:g} V {self.reason}? Write the unit."
        return f"{said} {self.warning.replace('it is', f'{value:g} V are')}"


_FOREIGN = "If it is truly there, stop: it comes from elsewhere"


def _volt_bounds(measurement: Measurement, loop: Loop) -> _Bounds:
    supply = volts(loop)
    if measurement.function == "VAC" and not loop.alternating:
        return _Bounds(300.0, 1.0, 1.0, "V", "on the wires of a measuring loop", _FOREIGN)
    where = f"on a loop of {supply:g} V" if supply else "on a loop without a supply"
    return _Bounds(max(2 * supply, 36.0), 1.1 * (supply or 10), 1.0, "V", where, _FOREIGN)


def _millivolt_bounds(measurement: Measurement, loop: Loop) -> _Bounds:
    """The same where a sheet whose stray volts are thermal ones says that millivolts are read."""
    bounds = _volt_bounds(measurement, loop)
    if measurement.function == "VAC" or loop.stray >= FINE:
        return bounds
    usual = 1.1 * (volts(loop) or 1.0)
    return replace(bounds, usual=usual, range=("mV", -1e3 * usual, 1e3 * usual))


FINE = 1e-3
"""Stray volts of a loop below which what is read on it is millivolts: a temperature input."""


def _largest_current(loop: Loop) -> float | None:
    """The largest current of any part that has one, A; None where no part sets it."""
    currents = (
        part.values.get(parameter.name, 0.0)
        for part in loop.parts
        for parameter in part.kind.parameters
        if parameter.unit == "A" and parameter.typed and not parameter.name.endswith("limit")
    )
    return max(currents, default=None)


def _current_bounds(measurement: Measurement, loop: Loop) -> _Bounds:
    """Four times the largest current of any part that has one, and at least 100 mA.

    Where no part sets it, a short draws what the fuse lets through: such a value is asked about
    unless it is written in amperes.
    """
    largest = _largest_current(loop)
    where = "in a loop of this kind"
    if largest is None:
        # A lamp, a relay or a valve of some watts (assumption).
        return _Bounds(0.5, 0.1, 1e3, "mA", "without a short", _SHORTED)
    return _Bounds(max(4 * largest, 0.1), 1.2 * largest or 0.024, 1e3, "mA", where)


_SHORTED = "If the large jack showed that, write it in A"


def _share_bounds(measurement: Measurement, loop: Loop) -> _Bounds:
    own = shown_range(measurement, loop)
    own = own if own[0] != "%" else ("", 0.0, 0.0)
    return _Bounds(1.5, 1.1, 100.0, "%", "as a share of range", range=own)


_BOUNDS: dict[str, Callable[[Measurement, Loop], _Bounds]] = {
    "V": _millivolt_bounds,
    "A": _current_bounds,
    "1": _share_bounds,
}
