"""Resistance of copper conductors from their size: IEC 60228 areas and AWG numbers.

The table values are the *largest* resistance that the standard allows; a real core measures a few
per cent less, and one that measures more has a bad joint.
"""

from __future__ import annotations

import re
from math import isclose, pi
from typing import Any

from diagnose.errors import DiagnoseError, QuantityError, did_you_mean
from diagnose.loops.facts import CONDUCTOR
from diagnose.quantities import parse_quantity

_SOURCES = {fact.name: fact for fact in CONDUCTOR}

TABLE_KEYS = tuple(_SOURCES)
"""Sheet keys from which a resistance is derived."""

ALPHA = 0.00393
"""Temperature coefficient of copper at 20 degC, 1/K (from memory; in universal use)."""

COPPER = 0.017241e-6
"""Resistivity of annealed copper at 20 degC, ohm metre (100 % IACS)."""

# Ohm per kilometre at 20 degC, by area in mm2.  IEC 60228:2004, tables 1 to 3, as reproduced
# alike by four secondary pages; the standard itself was not seen.
SOLID_PLAIN = {0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41}
SOLID_COATED = {0.5: 36.7, 0.75: 24.8, 1.0: 18.2, 1.5: 12.2, 2.5: 7.56}
FLEXIBLE_PLAIN = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98}
FLEXIBLE_COATED = {0.5: 40.1, 0.75: 26.7, 1.0: 20.0, 1.5: 13.7, 2.5: 8.21}

CONDUCTORS = {
    "class 1": SOLID_PLAIN,
    "class 2": SOLID_PLAIN,
    "class 5": FLEXIBLE_PLAIN,
    "class 1 coated": SOLID_COATED,
    "class 2 coated": SOLID_COATED,
    "class 5 coated": FLEXIBLE_COATED,
}

GAUGE = re.compile(r"(?:AWG\s*(\d{1,2})|(\d{1,2})\s*AWG)\Z", re.IGNORECASE)
SMALLEST, LARGEST = 30, 4


class ConductorError(DiagnoseError):
    """A conductor that no table knows; ``key`` is the sheet key at fault."""

    def __init__(self, key: str, reason: str) -> None:
        self.key, self.reason = key, reason
        super().__init__(reason)


def gauge_diameter(number: int) -> float:
    """Diameter of a solid AWG wire, m: 0.127 mm * 92**((36 - n) / 39) (ASTM B258)."""
    return float(0.127e-3 * 92 ** ((36 - number) / 39))


def gauge_resistance(number: int) -> float:
    """Ohm per metre of a solid AWG wire at 20 degC; a stranded one has about 2 % more."""
    return COPPER / (pi * gauge_diameter(number) ** 2 / 4)


def table_resistance(area: float, conductor: str = "class 2") -> float:
    """Largest ohm per metre at 20 degC of an IEC 60228 conductor; ``area`` in mm2."""
    table = CONDUCTORS[conductor]
    for size, ohm_per_km in table.items():
        if isclose(size, area, rel_tol=1e-6):
            return ohm_per_km / 1000
    raise ConductorError(
        "area",
        f"{area:g} mm2 is not in the table of IEC 60228 used here; "
        f"{_nearest(area, sorted(table))}, or give the resistance itself",
    )


def at_temperature(resistance: float, celsius: float) -> float:
    """A resistance known at 20 degC, at another temperature."""
    return resistance * (1 + ALPHA * (celsius - 20))


def core_resistance(values: dict[str, Any]) -> dict[str, Any]:
    """Replace length, area, temperature and conductor of a core by its resistance in ohm.

    Values without any of these keys come back unchanged.

    Raises
    ------
    ConductorError
        Keys that contradict each other, text that is no quantity, a size in no table.
    """
    given = [key for key in TABLE_KEYS if key in values]
    if not given:
        return values
    _check_keys(values, given)
    length = _quantity(values, "length")
    celsius = _quantity(values, "temperature") if "temperature" in given else 20.0
    resistance = at_temperature(_ohm_per_metre(values), celsius) * length
    rest = {key: value for key, value in values.items() if key not in TABLE_KEYS}
    return {**rest, "resistance": resistance}


def _check_keys(values: dict[str, Any], given: list[str]) -> None:
    if "resistance" in values:
        raise ConductorError(
            given[0], f"resistance and {given[0]} are both given; keep the one that is known better"
        )
    for key, example in (("length", "120 m"), ("area", "0.75 mm2")):
        if key not in values:
            raise ConductorError(
                given[0], f'{given[0]} is given without {key}; add {key} = "{example}"'
            )


def _ohm_per_metre(values: dict[str, Any]) -> float:
    gauge = GAUGE.match(str(values["area"]).strip())
    if gauge:
        return _gauge(int(gauge[1] or gauge[2]), "conductor" in values)
    conductor = str(values.get("conductor", "class 2")).strip().lower()
    if conductor not in CONDUCTORS:
        raise ConductorError(
            "conductor",
            f"no conductor is called '{conductor[:40]}'{did_you_mean(conductor, CONDUCTORS)}",
        )
    return table_resistance(_quantity(values, "area") * 1e6, conductor)


def _gauge(number: int, with_class: bool) -> float:
    if not LARGEST <= number <= SMALLEST:
        raise ConductorError(
            "area",
            f"AWG {number} is outside AWG {LARGEST} to AWG {SMALLEST}; give the resistance itself",
        )
    if with_class:
        raise ConductorError(
            "conductor",
            "conductor classes belong to areas in mm2, not to AWG numbers; leave the conductor out",
        )
    return gauge_resistance(number)


def _quantity(values: dict[str, Any], key: str) -> float:
    fact = _SOURCES[key]
    try:
        value = parse_quantity(str(values[key]), fact.unit)
    except QuantityError as error:
        raise ConductorError(key, str(error)) from error
    if not fact.least <= value <= fact.most:
        raise ConductorError(
            key,
            f"{str(values[key])[:40]} is not between "
            f"{_shown(fact.least, fact.unit)} and {_shown(fact.most, fact.unit)}",
        )
    return value


def _shown(value: float, unit: str) -> str:
    return f"{value * 1e6:g} mm2" if unit == "m2" else f"{value:g} {unit}"


def _nearest(area: float, sizes: list[float]) -> str:
    below = [size for size in sizes if size < area][-1:]
    above = [size for size in sizes if size > area][:1]
    near = " and ".join(f"{size:g} mm2" for size in (*below, *above))
    return f"the nearest {'sizes are' if below and above else 'size is'} {near}"
