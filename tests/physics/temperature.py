"""Resistance thermometers and thermocouples for ngspice, from the standards' own formulas.

Resistance: IEC 60751, written out here once more.  Thermocouples: the package thermocouple-its90,
which was written by others from the NIST tables.
"""

from __future__ import annotations

from collections.abc import Mapping

import thermocouple_its90

Values = Mapping[str, float]
Branch = tuple[str, str, list[tuple[str, float | str]]]

SEEN = 0.2
"""Volts over which a current source gives way."""


def kelvin_limit_pt(grade: float, t: float) -> float:
    """IEC 60751 classes AA, A, B, C."""
    base, share = [(0.1, 0.0017), (0.15, 0.002), (0.3, 0.005), (0.6, 0.01)][int(grade)]
    return base + share * abs(t)


def kelvin_limit_tc(letter: str, grade: float, t: float) -> float:
    """IEC 60584-1 classes 1 and 2; the limits of types J and T from memory."""
    kelvins = {"K": (1.5, 2.5), "J": (1.5, 2.5), "T": (0.5, 1.0)}[letter][int(grade)]
    return max(kelvins, (0.004, 0.0075)[int(grade)] * abs(t))


def felt(q: Values, process: float) -> float:
    """Temperature of a sensor that feels its surroundings as well, degC."""
    return q["ambient"] + q["contact"] * (
        q["low"] + (q["high"] - q["low"]) * process - q["ambient"]
    )


def platinum(t: float) -> float:
    """R / R0 of IEC 60751."""
    cold = -4.183e-12 * (t - 100) * t**3 if t < 0 else 0.0
    return 1 + 3.9083e-3 * t - 5.775e-7 * t**2 + cold


def volts(letter: str, t: float) -> float:
    """ITS-90 volts from 0 degC."""
    return float(thermocouple_its90.get(letter).emf(t)) * 1e-3


def steepness(letter: str, t: float) -> float:
    """ITS-90 volts per kelvin, by differences of the package's function."""
    return (volts(letter, t + 0.01) - volts(letter, t - 0.01)) / 0.02


def letter_of(q: Values) -> str:
    """The type by its number."""
    return "KJT"[int(q["type"])]


def rtd(q: Values, process: float) -> list[Branch]:
    """An element: what the process makes of it, or a box in its place; a crack in series."""
    t = felt(q, process)
    step = (
        (platinum(t + 0.005) - platinum(t - 0.005)) / 0.01 * kelvin_limit_pt(q["accuracy_class"], t)
    )
    own = q["drift"] * (1 + q["coefficient"] * (platinum(t) - 1)) + step * q["class_error"]
    ohms = q["box"] if q["boxed"] else q["nominal"] * own
    return [("a", "b", [("R", ohms + q["crack"])])]


def source(q: Values, back: str, out: str, limit: float) -> Branch:
    """Current out of ``out``, with 100 Mohm beside it, 1 Tohm when it is dead.

    Over its limit it gives way within 0.2 V.
    """
    amperes = q["alive"] * q["excitation"] * (1 + q["excitation_error"])
    give = q["alive"] * q["excitation"] / SEEN
    beside = q["alive"] * 1e-8 + 1e-12
    law = f"{amperes!r}+{beside!r}*{{v}}+{give!r}*min({{v}}+{limit!r},0)"
    return (back, out, [("BI", law)])


def three_wire(q: Values, process: float) -> list[Branch]:
    """Two sources, a high input, and a bridge that somebody may have fitted."""
    return [
        source(q, "c", "a", q["compliance"]),
        source(q, "c", "b", q["compensation_limit"]),
        ("a", "b", [("R", q["input_resistance"])]),
        ("b", "c", [("BI", f"{q['bridge']!r}*{{v}}")]),
    ]


def two_wire(q: Values, process: float) -> list[Branch]:
    """One source and a high input on the same two wires."""
    return [source(q, "b", "a", q["compliance"]), ("a", "b", [("R", q["input_resistance"])])]


def four_wire(q: Values, process: float) -> list[Branch]:
    """A source on one pair; the input on the other is drawn to 1.2 times its limit when open."""
    pull = q["alive"] * 1.2 * q["compliance"] / q["input_resistance"]
    sensing = f"{{v}}/{q['input_resistance']!r}-{pull!r}"
    return [source(q, "back", "out", q["compliance"]), ("plus", "minus", [("BI", sensing)])]


def thermocouple(q: Values, process: float) -> list[Branch]:
    """Volts from 0 degC behind the resistance of the wires."""
    t, letter = felt(q, process), letter_of(q)
    own = (1 - q["beside"]) * volts(letter, t)
    own += q["beside"] * volts(letter, felt(q, q["beside_at"]))
    limit = steepness(letter, t) * kelvin_limit_tc(letter, q["accuracy_class"], t)
    emf = q["share"] * own + limit * q["class_error"]
    if q["replaced"]:
        emf = volts(letter, q["set_at"])
    return [("plus", "minus", [("emf", emf), ("R", q["resistance"])])]


def terminals(q: Values, process: float) -> list[Branch]:
    """A junction that takes away what comes in, and one that starts what goes on."""
    letter = letter_of(q)
    here, believed = q["temperature"], q["temperature"] + q["sensor_error"]
    onward = q["leaving"] * volts(letter, here) + volts(letter, believed) - volts(letter, here)
    return [
        ("before", "terminal", [("emf", q["entering"] * volts(letter, here)), ("R", q["contact"])]),
        ("terminal", "after", [("emf", -onward - q["onward_error"]), ("R", q["contact"])]),
    ]


def landing(q: Values, process: float) -> list[Branch]:
    """Two contacts, and the two ways in which the wires can be swapped."""
    return [
        ("wire_plus", "plus", [("R", q["resistance"])]),
        ("wire_minus", "minus", [("R", q["return_resistance"])]),
        ("wire_plus", "minus", [("R", q["crossed"])]),
        ("wire_minus", "plus", [("R", q["crossed"])]),
    ]


def thermocouple_card(q: Values, process: float) -> list[Branch]:
    """A high input that drives a few nanoamperes to find an open circuit."""
    pull = q["burnout"] * q["pull"]
    return [("plus", "minus", [("BI", f"{{v}}/{q['input_resistance']!r}-{pull!r}")])]


PHYSICS = {
    "rtd": rtd,
    "rtd_input": three_wire,
    "rtd_input_two_wire": two_wire,
    "rtd_input_four_wire": four_wire,
    "sensor_core": lambda q, process: [("a", "b", [("R", q["resistance"])])],
    "thermocouple": thermocouple,
    "thermocouple_terminals": terminals,
    "cold_junction": terminals,
    "pair_terminals": landing,
    "thermocouple_input": thermocouple_card,
}
