"""The units that people may type, as plain numbers: a table, so that nothing is parsed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache


@dataclass(frozen=True, slots=True)
class Scale:
    """One typed unit: SI = number * factor + offset; ``power`` where factor is a power of ten."""

    factor: float
    offset: float = 0.0
    power: int | None = None


@dataclass(frozen=True, slots=True)
class Unit:
    """What an SI unit may be called, with which prefixes, and other units of the same quantity."""

    quantity: str
    example: str
    names: tuple[str, ...]
    prefixes: str = ""
    bare: bool = False
    others: tuple[tuple[str, Scale], ...] = ()


@dataclass(frozen=True, slots=True)
class Scales:
    """Look-up tables: as typed, with the case of the first letter kept, and in any case."""

    exact: dict[str, Scale]
    first: dict[str, Scale]
    folded: dict[str, Scale]


_POWERS = {"p": -12, "n": -9, "u": -6, "m": -3, "c": -2, "h": 2, "k": 3, "M": 6, "G": 9, "T": 12}


def _ten(power: int) -> Scale:
    return Scale(10.0**power, 0.0, power)


def _of(factor: float, *names: str) -> tuple[tuple[str, Scale], ...]:
    return tuple((name, Scale(factor)) for name in names)


def _tens(power: int, *names: str) -> tuple[tuple[str, Scale], ...]:
    return tuple((name, _ten(power)) for name in names)


_ZERO_C = 273.15
_PSI = 6894.757293168361

# Mega is left out for volts and amperes: there, "12 MA" can only be a slip of the shift key.
UNITS = {
    "ohm": Unit("resistance", "250 ohm or 4k7", ("ohm", "ohms", "R"), "umkMGT", bare=True),
    "V": Unit(
        "voltage", "3.02 V or 88 mV", ("V", "volt", "volts", "VDC", "VAC"), "umk", bare=True
    ),
    "A": Unit("current", "8.03 mA", ("A", "amp", "amps", "ADC", "AAC"), "num", bare=True),
    "S": Unit("conductance", "12 uS", ("S",), "num"),
    "m": Unit(
        "length", "120 m", ("m", "metre", "meter"), "mck",
        others=(*_of(0.3048, "ft", "feet", "foot"), *_of(0.0254, "in", "inch")),
    ),
    "m2": Unit("area", "0.75 mm2", ("m2",), others=(*_tens(-6, "mm2", "sqmm"), *_tens(-4, "cm2"))),
    "s": Unit(
        "time", "30 s", ("s", "sec"), "num",
        others=(*_of(60.0, "min"), *_of(3600.0, "h"), *_of(86400.0, "d")),
    ),
    "degC": Unit(
        "temperature", "25 degC", ("degC", "C"),
        others=(
            ("K", Scale(1.0, -_ZERO_C)),
            ("degF", Scale(5 / 9, -160 / 9)),
            ("F", Scale(5 / 9, -160 / 9)),
        ),
    ),
    "K": Unit(
        "temperature difference", "5 K", ("K",),
        others=(*_of(1.0, "degC", "C"), *_of(5 / 9, "degF", "F")),
    ),
    "Pa": Unit(
        "pressure", "100 kPa", ("Pa",), "mhkMG",
        others=(*_tens(5, "bar"), *_tens(2, "mbar"), *_of(_PSI, "psi")),
    ),
    "F": Unit("capacitance", "22 nF", ("F", "farad"), "pnum"),
    "W": Unit("power", "0.65 W", ("W",), "um"),
    "H": Unit("inductance", "3.05 mH", ("H",), "num"),
    "F/m": Unit(
        "capacitance per length", "200 pF/m", ("F/m",), "pn",
        others=(*_tens(-12, "nF/km"), *_of(1e-12 / 0.3048, "pF/ft")),
    ),
    "H/m": Unit(
        "inductance per length", "1 uH/m", ("H/m",), "num",
        others=(*_tens(-6, "mH/km"), *_of(1e-6 / 0.3048, "uH/ft")),
    ),
    "Hz": Unit("frequency", "50 Hz", ("Hz",), "mkM"),
    "1": Unit("a share", "45 % or 0.45", ("",), others=_tens(-2, "%", "percent", "pct")),
}  # fmt: skip
"""SI unit -> what may be typed for it."""

LIMITS = {
    "ohm": (-1e15, 1e15), "V": (-1e6, 1e6), "A": (-1e4, 1e4), "S": (-1e6, 1e6), "m": (-1e6, 1e6),
    "m2": (-1e3, 1e3), "s": (-1e10, 1e10), "degC": (-_ZERO_C, 5000.0), "K": (-5e3, 5e3),
    "Pa": (-1e9, 1e10), "F": (-1e6, 1e6), "Hz": (-1e12, 1e12), "W": (-1e6, 1e6), "H": (-1e6, 1e6),
    "F/m": (-1e3, 1e3), "H/m": (-1e3, 1e3), "1": (-1e4, 1e4),
}  # fmt: skip
"""SI unit -> least and most that any text may mean; readings and sheets are stricter."""


@lru_cache(maxsize=16)
def scales_of(unit: str) -> Scales:
    """The look-up tables of one SI unit."""
    entry = UNITS[unit]
    exact = {"": _ten(0)} | {name: _ten(0) for name in entry.names}
    for prefix in entry.prefixes:
        exact |= {prefix + name: _ten(_POWERS[prefix]) for name in entry.names}
        if entry.bare:
            exact[prefix] = _ten(_POWERS[prefix])
    exact |= dict(entry.others)
    return Scales(
        exact, _unique(exact, lambda s: s[:1] + s[1:].casefold()), _unique(exact, str.casefold)
    )


def _unique(exact: dict[str, Scale], key: Callable[[str], str]) -> dict[str, Scale]:
    """The table under a coarser key, without the keys that would mean two things."""
    meanings: dict[str, set[Scale]] = {}
    for name, scale in exact.items():
        meanings.setdefault(key(name), set()).add(scale)
    return {name: scales.pop() for name, scales in meanings.items() if len(scales) == 1}
