"""Temperature loops and switch amplifiers: a second writing of their physics.

Resistance after IEC 60751, written out here once more; thermocouples by the package
thermocouple-its90, which was written by others from the NIST tables.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import thermocouple_its90

from judge.choose import between, held, sel
from judge.shape import Law, Pieces, Q, Row, ohm

# --- temperatures -----------------------------------------------------------------------------


def _felt(q: Q, process: Row) -> Row:
    """Temperature of a sensor that feels its surroundings as well, degC."""
    there = q["low"] + (q["high"] - q["low"]) * process
    return q["ambient"] + q["contact"] * (there - q["ambient"])


def platinum(t: Row) -> Row:
    """R / R0 of IEC 60751."""
    cold = np.where(np.less(t, 0), -4.183e-12 * (t - 100) * np.power(t, 3), 0.0)
    return 1 + 3.9083e-3 * t - 5.775e-7 * np.square(t) + cold


_CELSIUS = np.arange(-250.0, 1500.0, 0.05)
_RATIO = platinum(_CELSIUS)


def _celsius(ratio: Row) -> Row:
    """The inverse of ``platinum``, by a table of every twentieth of a degree."""
    return np.interp(ratio, _RATIO, _CELSIUS)


def _rtd(q: Q, process: Row) -> dict[str, Row]:
    t = _felt(q, process)
    base, share = [(0.1, 0.0017), (0.15, 0.002), (0.3, 0.005), (0.6, 0.01)][
        _one(q, "accuracy_class")
    ]
    step = (platinum(t + 0.005) - platinum(t - 0.005)) / 0.01 * (base + share * np.abs(t))
    own = q["drift"] * (1 + q["coefficient"] * (platinum(t) - 1)) + step * q["class_error"]
    return {"ohms": sel(q["boxed"], q["box"], q["nominal"] * own) + q["crack"]}


def _one(q: Q, name: str) -> int:
    return int(np.ravel(q[name])[0])


def _source(back: str, out: str, limit: str) -> Law:
    """Current out of ``out``, 100 Mohm beside it; it gives way within 0.2 V over its limit."""

    def pieces(q: Q) -> Pieces:
        amperes = q["alive"] * q["excitation"] * (1 + q["excitation_error"])
        beside = q["alive"] * 1e-8 + 1e-12
        give = q["alive"] * q["excitation"] / 0.2
        return [(beside + give, amperes + give * q[limit]), (beside, amperes)]

    return Law(back, out, pieces, lambda q: [-q[limit]])


def _read(q: Q, ohms: Row) -> Row:
    """What a card makes of ohms; its failure end where no element can be."""
    share = between(q, "low", "high", _celsius(ohms / q["nominal"])) + q["shown_shift"]
    lost = (ohms > q["compliance"] / q["excitation"]) | (ohms < -0.25 / q["excitation"])
    return sel(q["stuck"], q["stuck_at"], np.where(lost, 2.0 * q["burnout"], share))


def _card(q: Q, v: Row, given: Row) -> Row:
    return _read(q, v / q["excitation"] - q.get("allowance", 0.0))


# --- thermocouples ------------------------------------------------------------------------------


@cache
def _table(letter: str) -> tuple[np.ndarray, np.ndarray]:
    most = {"K": 1372, "J": 1200, "T": 400}[letter]
    least = -210 if letter == "J" else -270
    degrees = np.arange(least, most, 0.1)
    kind = thermocouple_its90.get(letter)
    volts = np.array([float(kind.emf(float(t))) for t in degrees]) * 1e-3
    return degrees, volts


def _volts(letter: str, t: Row) -> Row:
    """ITS-90 volts from 0 degC, straight on from the ends of the table."""
    degrees, table = _table(letter)
    top = (table[-1] - table[-2]) / (degrees[-1] - degrees[-2])
    return np.interp(t, degrees, table) + top * np.maximum(t - degrees[-1], 0.0)


def _degrees(letter: str, volts: Row) -> Row:
    degrees, table = _table(letter)
    top = (degrees[-1] - degrees[-2]) / (table[-1] - table[-2])
    return np.interp(volts, table, degrees) + top * np.maximum(volts - table[-1], 0.0)


def _letter(q: Q) -> str:
    return "KJT"[_one(q, "type")]


def _limit(letter: str, grade: int, t: Row) -> Row:
    """IEC 60584-1 classes 1 and 2; the limits of types J and T from memory."""
    kelvins = {"K": (1.5, 2.5), "J": (1.5, 2.5), "T": (0.5, 1.0)}[letter][grade]
    return np.maximum(kelvins, (0.004, 0.0075)[grade] * np.abs(t))


def _thermocouple(q: Q, process: Row) -> dict[str, Row]:
    t, letter = _felt(q, process), _letter(q)
    own = (1 - q["beside"]) * _volts(letter, t)
    own = own + q["beside"] * _volts(letter, _felt(q, q["beside_at"]))
    steep = (_volts(letter, t + 0.5) - _volts(letter, t - 0.5)) / 1.0
    limit = steep * _limit(letter, _one(q, "accuracy_class"), t)
    emf = q["share"] * own + limit * q["class_error"]
    return {"volts": sel(q["replaced"], _volts(letter, q["set_at"]), emf)}


def _terminals(q: Q, process: Row) -> dict[str, Row]:
    """A junction that takes away what comes in, and one that starts what goes on."""
    letter = _letter(q)
    here, felt = (
        _volts(letter, q["temperature"]),
        _volts(letter, q["temperature"] + q["sensor_error"]),
    )
    onward = q["leaving"] * here + felt - here + q["onward_error"]
    return {"taken": q["entering"] * here, "onward": -onward}


def _behind(a: str, b: str, ohms: str, volts: str) -> Law:
    return Law(a, b, lambda q: [(1 / q[ohms], -q[volts] / q[ohms])])


_JUNCTION = (
    _behind("before", "terminal", "contact", "taken"),
    _behind("terminal", "after", "contact", "onward"),
)


def _shown(q: Q, v: Row, given: Row) -> Row:
    share = between(q, "low", "high", _degrees(_letter(q), v * q["setting"])) + q["shown_shift"]
    return sel(q["stuck"], q["stuck_at"], share)


# --- switch amplifiers --------------------------------------------------------------------------


def _turned(q: Q, process: Row) -> Row:
    """How far a switch has turned over."""
    at = sel(q["hold"], q["held"], process * q["reach"])
    free = held((at - q["begins"]) / (q["ends"] - q["begins"]), 0.0, 1.0)
    return sel(q["stuck"], q["stuck_at"], free)


def _sensor(q: Q, process: Row) -> dict[str, Row]:
    """A resistance above the drop at which the rated current flows from the rated source."""
    turned = _turned(q, process)
    rated = (1 - turned) * q["absent_current"] + turned * q["present_current"]
    volts = q["rated_voltage"] - rated * q["rated_resistance"] - q["drop"]
    return {"above": sel(q["alive"], rated / np.maximum(volts, 1e-3) * q["trim"], 0.0)}


def _contact(q: Q, process: Row) -> dict[str, Row]:
    share = np.maximum(_turned(q, process), 1e-8)
    return {"ohms": q["closed"] + q["turning"] * (1 / share - 1)}


def _milliamperes(q: Q, v: Row, given: Row) -> Row:
    ma = (q["voltage"] - v) / q["source_resistance"] * 1e3
    return held(sel(q["alive"], ma, -5.0), -10.0, 100.0)


def _on(q: Q, v: Row, ma: Row) -> Row:
    """mA by which the output is beyond its switch point, and within where the line is sound."""
    turn, watched = q["switch_current"] * 1e3, np.greater(q["monitored"], 0.5)
    most = q["short_current"] * 1e3 + np.where(watched, 0.0, 1e3)
    least = np.where(watched, q["break_current"] * 1e3, -2.5)
    high, low = np.minimum(ma - turn, most - ma), np.minimum(turn - ma, ma - least)
    return np.where(np.greater(q["direction"], 0), high, low) + q["forced"]


def _fault(q: Q, v: Row, ma: Row) -> Row:
    opened = np.minimum(q["break_current"] * 1e3 - ma, ma + 2.5)
    return np.maximum(ma - q["short_current"] * 1e3, opened) + q["forced"]


LAWS: dict[str, tuple[Law, ...]] = {
    **dict.fromkeys(
        (
            "thermowell", "extension_cable", "float", "target", "power_lamp", "line_fault_lamp",
            "switch_output", "output_relay",
        ),
        (),
    ),
    "rtd": (Law("a", "b", ohm("ohms")),),
    "rtd_input": (
        _source("c", "a", "compliance"),
        _source("c", "b", "compensation_limit"),
        Law("a", "b", ohm("input_resistance")),
        Law("b", "c", lambda q: [(q["bridge"], 0.0)]),
    ),
    "rtd_input_two_wire": (
        _source("b", "a", "compliance"),
        Law("a", "b", ohm("input_resistance")),
    ),
    "rtd_input_four_wire": (
        _source("back", "out", "compliance"),
        Law(
            "plus",
            "minus",
            lambda q: [
                (
                    1 / q["input_resistance"],
                    -q["alive"] * 1.2 * q["compliance"] / q["input_resistance"],
                )
            ],
        ),
    ),
    "sensor_core": (Law("a", "b", ohm("resistance")),),
    "thermocouple": (_behind("plus", "minus", "resistance", "volts"),),
    "thermocouple_terminals": _JUNCTION,
    "cold_junction": _JUNCTION,
    "pair_terminals": (
        Law("wire_plus", "plus", ohm("resistance")),
        Law("wire_minus", "minus", ohm("return_resistance")),
        Law("wire_plus", "minus", ohm("crossed")),
        Law("wire_minus", "plus", ohm("crossed")),
    ),
    "thermocouple_input": (
        Law(
            "plus",
            "minus",
            lambda q: [(1 / q["input_resistance"], -q["burnout"] * q["pull"])],
        ),
    ),
    "switch_amplifier": (_behind("signal", "common", "source_resistance", "voltage"),),
    "proximity_sensor": (
        Law(
            "plus",
            "minus",
            lambda q: [
                (1 / q["leak"], 0.0),
                (1 / q["leak"] + q["above"], -q["above"] * q["drop"]),
            ],
            lambda q: [q["drop"]],
        ),
    ),
    "monitored_contact": (Law("a", "b", ohm("ohms")),),
    "monitoring_resistor": (Law("a", "b", ohm("resistance")),),
}  # fmt: skip

DRIVEN = {
    "rtd": _rtd,
    "thermocouple": _thermocouple,
    "thermocouple_terminals": _terminals,
    "cold_junction": _terminals,
    "proximity_sensor": _sensor,
    "monitored_contact": _contact,
}

SIGNALS = {
    "switch_amplifier": _milliamperes,
    "switch_output": lambda q, v, ma: 1.0 * (_on(q, v, ma) > 0),
}

LEVELS: dict[str, Any] = {
    "rtd_input": _card,
    "rtd_input_two_wire": _card,
    "rtd_input_four_wire": _card,
    "thermocouple_input": _shown,
    "thermocouple_terminals": lambda q, v, given: q["temperature"] / 100.0,
    "cold_junction": lambda q, v, given: q["temperature"] / 100.0,
    "power_lamp": lambda q, v, ma: ma + 2.5,
    "line_fault_lamp": _fault,
    "switch_output": _on,
    "output_relay": lambda q, v, on: q["direction"] * (2 * on - 1 + q["forced"]),
}
