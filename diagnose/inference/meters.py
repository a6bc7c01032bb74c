"""Hand-held meters: how far a display may be off, and what the meter does to the circuit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from math import sqrt
from typing import TYPE_CHECKING, Any

from diagnose.errors import QuantityError, SheetError, did_you_mean
from diagnose.loops.arrays import np
from diagnose.quantities import format_quantity, parse_quantity, shown

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FUNCTION_UNITS = {"V": "V", "Vlow": "V", "VAC": "V", "mA": "A", "clamp": "A", "ohm": "ohm"}
"""Meter function -> SI unit of its readings."""


@dataclass(frozen=True, slots=True)
class MeterFunction:
    """One function of a meter: limit of error = ``percent`` of reading + ``counts`` of the range.

    ``ranges`` are full scales in SI, rising; one count is a range divided by ``display``.
    A value beyond the last range is judged in the last range.
    """

    percent: float
    counts: float
    ranges: tuple[float, ...]
    display: int = 6000

    def resolution(self, values: Floats) -> Floats:
        """One count, in SI, of the smallest range that holds each value."""
        ranges = np.asarray(self.ranges)
        held = np.searchsorted(ranges, np.abs(values), side="left")
        return np.asarray(ranges[np.minimum(held, len(ranges) - 1)] / self.display)

    def limit(self, value: float) -> float:
        """The limit of error of a display, SI: ``percent`` of reading + ``counts``."""
        return float(
            self.percent / 100 * abs(value) + self.counts * self.resolution(np.asarray(value))
        )


_VOLTS = (0.6, 6.0, 60.0, 600.0)
_OHMS = (600.0, 6e3, 60e3, 600e3, 6e6, 60e6)
_MILLIAMPERES = (0.06,)


def _generic() -> dict[str, MeterFunction]:
    """A mid-class industrial multimeter (common practice, no source)."""
    return {
        "V": MeterFunction(0.1, 2, _VOLTS),
        "Vlow": MeterFunction(1.0, 3, _VOLTS),
        "VAC": MeterFunction(1.0, 3, _VOLTS),
        "mA": MeterFunction(0.3, 3, _MILLIAMPERES),
        "clamp": MeterFunction(0.2, 5, _MILLIAMPERES),
        "ohm": MeterFunction(0.5, 2, _OHMS),
    }


@dataclass(frozen=True, slots=True)
class Meter:
    """A multimeter with its milliampere clamp; electrical values in SI.

    ``burden`` is what its milliampere jacks put in series, ``lead`` the resistance of its leads;
    for ohms it is a source of ``ohm_source`` volts behind ``ohm_resistance``, and shows OL above
    ``ohm_overload``.
    """

    name: str = "generic"
    functions: Mapping[str, MeterFunction] = field(default_factory=_generic)
    input_resistance: float = 10e6
    low_resistance: float = 3e3
    burden: float = 4.0
    lead: float = 0.2
    ohm_source: float = 1.2
    ohm_resistance: float = 10e3
    ohm_overload: float = 60e6

    def uncertainty(self, function: str, value: float) -> tuple[float, float]:
        """Standard uncertainties (gain, noise) of a displayed value.

        The gain error is shared by all readings of the function, and has the sign of the value:
        with the leads the other way round it counts the other way.  The noise belongs to one
        reading.  Both are limits taken as rectangular (JCGM 100:2008, 4.3.7).  In SI, except for
        ``ohm``: there in ln(R + 1).  KeyError for what is no function of the meter.
        """
        gain, noise = self.uncertainties(function, np.asarray(value, dtype=float))
        return float(gain), float(noise)

    def uncertainties(self, function: str, values: Floats) -> tuple[Floats, Floats]:
        """The same for an array of displayed values (ohms as R, not as its logarithm)."""
        spec = self.functions[function]
        gain = values * (spec.percent / 100 / sqrt(3))
        noise = spec.resolution(values) * (spec.counts / sqrt(3))
        scale = 1 / (values + 1) if function == "ohm" else 1.0
        return gain * scale, noise * scale

    def ohm_volts(self, ohms: Floats | float) -> Floats:
        """Volts across the leads, as the ohm function drives them, at a resistance shown."""
        held = np.maximum(np.asarray(ohms, float) - self.lead, -0.5 * self.ohm_resistance)
        return np.asarray(self.ohm_source * held / (held + self.ohm_resistance))

    def ohms(self, volts: Floats | float) -> Floats:
        """Resistance shown at volts across the leads: not under 0, infinite beyond the meter."""
        v = np.asarray(volts, float)
        left = np.maximum(self.ohm_source - v, 1e-15)
        shown = np.maximum(self.ohm_resistance * v / left + self.lead, 0.0)
        return np.asarray(np.where(v >= self.ohm_volts(self.ohm_overload), np.inf, shown))

    def outrun(self, volts: float) -> bool:
        """Whether a source in the circuit drives the meter backwards at volts across the leads.

        Further than its error reaches: it then shows OL.
        """
        spec = self.functions["ohm"]
        least = -spec.counts * float(spec.resolution(np.zeros(())))
        return volts < float(self.ohm_volts(least))

    def ohm_steepness(self, volts: Floats | float) -> Floats:
        """d ln(R + 1) / d volts: turns errors of resistance into volts, where laws are straight."""
        v = np.clip(volts, 0.0, self.ohm_volts(self.ohm_overload))
        left = self.ohm_source - v
        ohms = self.ohm_resistance * v / left + self.lead
        return np.asarray(self.ohm_resistance * self.ohm_source / left**2 / (ohms + 1))

    def ohm_logs(self, volts: Floats | float) -> tuple[Floats, Floats]:
        """ln(1 + R / ``ohm_resistance``) of volts across the leads and its slope.

        Leads and a reversed source included; straight on beyond the scale.
        """
        v = np.asarray(volts, float)
        inside = np.minimum(v, float(self.ohm_volts(self.ohm_overload)))
        slope = 1 / (self.ohm_source - inside)
        return -np.log(1 - inside / self.ohm_source) + slope * (v - inside), slope

    def volt_resistance(self, function: str) -> float:
        """What the meter puts across its leads when it reads volts, ohm."""
        return self.low_resistance if function == "Vlow" else self.input_resistance


GENERIC = Meter()
"""The meter that is assumed where a plant names none."""

_ELECTRICAL = {
    "input_resistance": ("ohm", 1e3, 1e12),
    "low_resistance": ("ohm", 10.0, 1e7),
    "burden": ("ohm", 0.0, 1e3),
    "lead": ("ohm", 0.0, 10.0),
    "ohm_source": ("V", 0.05, 50.0),
    "ohm_resistance": ("ohm", 1.0, 1e8),
    "ohm_overload": ("ohm", 1e3, 1e12),
}
_KEYS = tuple(item.name for item in fields(MeterFunction))


def meter_from_table(name: str, table: Mapping[str, Any], source: str = "plant.toml") -> Meter:
    """A meter from a plant file's table; what the table leaves out is that of ``GENERIC``.

    Functions are tables ``{percent = "0.1 %", counts = 2, ranges = ["600 mV", "6 V"],
    display = 6000}``, the rest is text with units.  Raises SheetError with every problem.
    """
    problems: list[tuple[str, str]] = []
    values: dict[str, Any] = {}
    functions = dict(GENERIC.functions)
    for key, given in table.items():
        try:
            if key in FUNCTION_UNITS:
                functions[key] = _function(key, given)
            else:
                values[key] = _electrical(key, given)
        except _TableError as wrong:
            problems += wrong.problems
    if problems:
        raise SheetError((source, f"meter.{name}.{key}", text) for key, text in problems)
    return replace(GENERIC, name=name, functions=functions, **values)


class _TableError(Exception):
    """Problems of a meter table, as (key, sentence)."""

    def __init__(self, *problems: tuple[str, str]) -> None:
        self.problems = problems


def _electrical(key: str, given: Any) -> float:
    if key not in _ELECTRICAL:
        raise _TableError((key, f"a meter has no such key{did_you_mean(key, _known_keys())}"))
    unit, least, most = _ELECTRICAL[key]
    return _quantity(key, given, unit, least, most)


def _known_keys() -> tuple[str, ...]:
    return (*FUNCTION_UNITS, *_ELECTRICAL)


def _quantity(key: str, given: Any, unit: str, least: float, most: float) -> float:
    """A quantity typed as text, within its limits."""
    if not isinstance(given, str):
        raise _TableError((key, "write a text with a unit, for example '10 Mohm' or '0.1 %'"))
    try:
        value = parse_quantity(given, unit)
    except QuantityError as error:
        raise _TableError((key, str(error))) from error
    if not least <= value <= most:
        bounds = " to ".join(format_quantity(bound, unit) for bound in (least, most))
        raise _TableError((key, f"{shown(given)} is outside of {bounds}"))
    return value


def _function(key: str, given: Any) -> MeterFunction:
    """One function's table, checked key by key; what is left out is that of ``GENERIC``."""
    if not isinstance(given, Mapping):
        raise _TableError((key, "write a table, for example { percent = '0.1 %', counts = 2 }"))
    problems: list[tuple[str, str]] = []
    values: dict[str, Any] = {}
    for name, value in given.items():
        try:
            values[name] = _entry(key, f"{key}.{name}", name, value)
        except _TableError as wrong:
            problems += wrong.problems
    if problems:
        raise _TableError(*problems)
    return replace(GENERIC.functions[key], **values)


def _entry(function: str, key: str, name: str, value: Any) -> Any:
    if name == "percent":
        return 100 * _quantity(key, value, "1", 0.0, 0.5)
    if name == "counts":
        return _whole(key, value, 0, 1000)
    if name == "display":
        return int(_whole(key, value, 100, 10_000_000))
    if name == "ranges":
        return tuple(_ranges(key, value, FUNCTION_UNITS[function]))
    raise _TableError((key, f"a meter function has no such key{did_you_mean(name, _KEYS)}"))


def _whole(key: str, value: Any, least: int, most: int) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
        raise _TableError((key, f"write a number from {least} to {most}"))
    return float(value)


def _ranges(key: str, value: Any, unit: str) -> Iterator[float]:
    """Rising full scales."""
    if not isinstance(value, list) or not value:
        raise _TableError((key, "write a list of full scales, for example ['6 V', '60 V']"))
    last = 0.0
    for item in value:
        full = _quantity(key, item, unit, 1e-9, 1e12)
        if full <= last:
            raise _TableError((key, f"full scales must rise: '{item}' does not"))
        yield full
        last = full
