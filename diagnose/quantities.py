"""The border between what people type and SI floats; the one pint registry.

Text is read by one anchored expression and a fixed table of units, never by pint: a general unit
parser takes ``12 ma`` for milliyears and can be made to hang.  The table is checked against pint
in a test.
"""

from __future__ import annotations

import re
from functools import lru_cache
from math import floor, isfinite, log10
from typing import Any

from diagnose.errors import QuantityError
from diagnose.unit_table import LIMITS, UNITS, Scale, scales_of

LONGEST = 64
"""Longest text taken for a quantity, characters."""

SAME_AS = {
    "\u2212": "-", "\u2012": "-", "\u2013": "-", "\u2126": "ohm", "\u03a9": "ohm",
    "\u00b5": "u", "\u03bc": "u", "\u00b2": "2", "\u00b0": "deg", "\u00b1": "+-",
    "\u00a0": " ", "\u2009": " ", "\u202f": " ", "\t": " ",
}  # fmt: skip
"""What may be typed -> the ASCII that it stands for."""

_PLAIN = str.maketrans({sign: meant for sign, meant in SAME_AS.items() if sign != "\u00b2"})
_SQUARE = re.compile("(?<=[mM])\u00b2")  # of metres; behind a number it is a power, and no digit
_NUMBER = r"(?P<sign>[+-]?) ?(?P<digits>[0-9]{1,15}(?:[.,][0-9]{0,15})?|[.,][0-9]{1,15})"
_QUANTITY = re.compile(
    _NUMBER + r"(?:[eE](?P<power>[+-]?[0-9]{1,4}))? *(?P<unit>[A-Za-z%][A-Za-z0-9%/]{0,15}"
    r"(?: ?(?:DC|AC|dc|ac))?)?",
    re.ASCII,
)
_INFIX = re.compile(
    r"(?P<sign>[+-]?)(?P<whole>[0-9]{1,9})(?P<mark>[RrkKMmuVv])(?P<part>[0-9]{1,9})"
    r"(?P<unit>[A-Za-z]{0,4})",
    re.ASCII,
)
_AMBIGUOUS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}", re.ASCII)
INFIX = {"ohm": "RrkKMmu", "V": "VvkKmu", "A": "mu"}
"""SI unit -> the letters that may stand for its decimal mark, as in ``4k7``."""


def plain(text: str) -> str:
    """The text with typographic minus, ohm, micro, degree and blanks as ASCII."""
    return _SQUARE.sub("2", text).translate(_PLAIN)


def parse_quantity(text: str, unit: str, *, default_prefix: str = "") -> float:
    """The SI value of typed text such as ``12,3 mA``, ``4k7``, ``250R`` or ``0.1 %``.

    ``unit`` is one of the SI units of the table (``K`` a
    difference, ``1`` a fraction); a number without a unit
    counts in ``default_prefix + unit`` (``"%"`` with unit ``1``).  Raises QuantityError.
    """
    if unit not in UNITS:
        raise QuantityError(text, f"'{unit}' is no unit of this program")
    if not isinstance(text, str) or len(text) > LONGEST:
        raise QuantityError(str(text)[:LONGEST], f"a quantity has at most {LONGEST} characters")
    number, suffix = _split(text, unit)
    return _within(text, _scaled(text, number, suffix or default_prefix, unit), unit)


def parse_number(text: str) -> tuple[float, str]:
    """The number at the start of a text and the unit behind it, as typed.

    Raises QuantityError; the unit is not looked up.
    """
    if len(text) > LONGEST:
        raise QuantityError(text[:LONGEST], f"a quantity has at most {LONGEST} characters")
    number, suffix = _split(text, "")
    value = float(number)
    if not isfinite(value):
        raise QuantityError(text, f"{shown(text)} is far too large")
    return value, suffix


def whole_number(text: str, least: int, most: int) -> int | None:
    """A whole number in plain digits from ``least`` to ``most``; None for any other text.

    >>> whole_number("012", 1, 20), whole_number("21", 1, 20), whole_number("2.0", 1, 20)
    (12, None, None)
    """
    if not (text.isascii() and text.isdigit()):
        return None
    digits = text.lstrip("0") or "0"
    if len(digits) > len(str(most)):  # Python refuses to read thousands of digits
        return None
    return int(digits) if least <= int(digits) <= most else None


def _split(text: str, unit: str) -> tuple[str, str]:
    """Number (as float takes it, without blanks) and unit suffix of a text."""
    clean = plain(text).strip(" ")
    infix = _INFIX.fullmatch(clean)
    if infix and infix["mark"] in INFIX.get(unit, ""):
        return f"{infix['sign']}{infix['whole']}.{infix['part']}", infix["mark"] + infix["unit"]
    found = _QUANTITY.fullmatch(clean)
    if not found:
        raise QuantityError(text, _what_is_wrong(text, clean, unit))
    if _AMBIGUOUS.fullmatch(found["digits"]):
        both = " or ".join(found["digits"].replace(",", mark) for mark in (".", ""))
        raise QuantityError(text, f"{shown(text)} can mean {both}: write one of them")
    number = found["sign"] + found["digits"].replace(",", ".")
    return f"{number}e{found['power']}" if found["power"] else number, found["unit"] or ""


def _what_is_wrong(text: str, clean: str, unit: str) -> str:
    """The sentence for text that is no number with a unit."""
    if not clean:
        return f"a value is missing{_for_example(unit)}"
    if clean.lower().lstrip("+-") in {"nan", "inf", "infinity"}:
        return f"{shown(text)} is not a number that can be measured"
    if clean[0] in "<>":
        return f"{shown(text)} is a bound, not a value: write the number alone"
    if len(re.findall(r"[.,]", clean)) > 1:
        return f"{shown(text)} has more than one decimal mark"
    return f"{shown(text)} is not a number with a unit{_for_example(unit)}"


def _for_example(unit: str) -> str:
    return f"; write for example {UNITS[unit].example}" if unit in UNITS else ""


def _scaled(text: str, number: str, suffix: str, unit: str) -> float:
    """The number in SI; powers of ten go into the exponent, so that 8.03 mA is 0.00803 exactly."""
    scale = find_scale(suffix, unit)
    if scale is None:
        raise QuantityError(
            text,
            f"{shown(text)}: '{suffix}' is no unit of {UNITS[unit].quantity}{_for_example(unit)}",
        )
    if scale.power is None:
        return float(number) * scale.factor + scale.offset
    mantissa, _, power = number.partition("e")
    return float(f"{mantissa}e{int(power or 0) + scale.power}")


def find_scale(suffix: str, unit: str) -> Scale | None:
    """The scale of a unit suffix: exact, then by its first letter's case, then in any case."""
    scales = scales_of(unit)
    squeezed = suffix.replace(" ", "")
    if squeezed in scales.exact:
        return scales.exact[squeezed]
    first = squeezed[:1] + squeezed[1:].casefold()
    return scales.first.get(first) or scales.folded.get(squeezed.casefold())


def _within(text: str, value: float, unit: str) -> float:
    least, most = LIMITS[unit]
    if not isfinite(value) or not least <= value <= most:
        low, high = format_quantity(least, unit), format_quantity(most, unit)
        raise QuantityError(text, f"{shown(text)} is outside of {low} to {high}")
    return value + 0.0


def shown(text: str) -> str:
    """Text in quotes for a message: short and printable."""
    short = text if len(text) <= 40 else text[:37] + "..."
    return f"'{short}'" if short.isprintable() else ascii(short)


_PREFIXES = {-12: "p", -9: "n", -6: "u", -3: "m", 0: "", 3: "k", 6: "M", 9: "G", 12: "T"}
_STEPS = {"ohm": (0, 12), "V": (-3, 3), "A": (-3, 0), "S": (-9, 0), "m": (-3, 3), "Pa": (0, 9),
          "W": (-3, 0), "F": (-12, 0), "H": (-6, 0)}  # fmt: skip
_DECIMALS = {"mA": 2, "mV": 1, "ohm": 1, "kPa": 1}


def format_quantity(value: float, unit: str, digits: int = 4) -> str:
    """A value as a meter shows it: ``3.020 V``, ``8.03 mA``, ``1.200 kohm``, ``45.0 %``.

    ``digits`` are significant ones, and no more decimals than a hand-held meter has.  ASCII.
    """
    if not isfinite(value):
        return "OL" if abs(value) == float("inf") else "no value"
    if unit == "1":
        return f"{_fixed(value * 100, 1)} %"
    if unit == "m2":
        return f"{_fixed(value * 1e6, _decimals(value * 1e6, digits))} mm2"
    if unit not in _STEPS:
        return f"{_fixed(value, min(1, _decimals(value, digits)))} {unit}".rstrip()
    power = _step(value, unit, digits)
    scaled, symbol = value / 10.0**power, _PREFIXES[power] + unit
    finest = 3 if symbol == "ohm" and 0 < abs(scaled) < 1 else _DECIMALS.get(symbol, 3)
    return f"{_fixed(scaled, min(finest, _decimals(scaled, digits)))} {symbol}"


def _step(value: float, unit: str, digits: int) -> int:
    """The power of ten of the prefix, a multiple of three, after rounding."""
    low, high = _STEPS[unit]
    if not value:
        return -3 if unit == "A" else 0
    rounded = abs(float(f"{value:.{digits - 1}e}"))
    return min(high, max(low, 3 * floor(log10(rounded) / 3 + 1e-12)))


def _decimals(value: float, digits: int) -> int:
    whole = 1 if abs(value) < 1 else floor(log10(abs(float(f"{value:.{digits - 1}e}"))) + 1e-12) + 1
    return max(0, digits - whole)


def _fixed(value: float, decimals: int) -> str:
    """Fixed decimals, and never a minus before a zero."""
    text = f"{value:.{decimals}f}"
    return text.lstrip("-") if not float(text) else text


@lru_cache(maxsize=1)
def registry() -> Any:
    """The one pint registry, made when first asked for (it costs a tenth of a second).

    For conversions in the program's own words (``kPa`` to ``psi``); typed text never reaches it.
    """
    import pint

    return pint.UnitRegistry()


def find_unit(suffix: str) -> tuple[str, Scale] | None:
    """The SI unit and scale of a unit written out (``kPa``, ``mm``), or None if it is not known."""
    for unit, entry in UNITS.items():
        alone = not suffix or (entry.bare and suffix in entry.prefixes)
        if unit != "1" and not alone and suffix in scales_of(unit).exact:
            return unit, scales_of(unit).exact[suffix]
    return None


def si(number: float, scale: Scale) -> float:
    """A number of a unit in SI."""
    return number * scale.factor + scale.offset
