"""The physics of every kind, written a second time from its description.

A law is a list of straight pieces ``i = g * v + j`` (current from pin ``a`` to pin ``b``) with the
voltages at which they bend.  ``DRIVEN`` gives what a part makes of what it is given (the process
value, or the signals that it follows), ``SIGNALS`` what it hands on, ``LEVELS`` what it shows, from
its parameters, the volts across its first two pins and what it is given.  Values are floats or
arrays of rows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from judge import field, output, sensing
from judge.choose import sel
from judge.field import believed, demand
from judge.shape import Law, Q, Row, ohm, ohm_behind

__all__ = ["DRIVEN", "LAWS", "LEVELS", "SIGNALS", "Law", "believed", "demand", "level"]

LIMIT_SLOPE = 1e-6


def _supply(q: Q) -> list[tuple[Row, Row]]:
    """Delivers (E - v) / Rs, at most its limit; beyond it 1 uS of residual slope."""
    knee = _knee(q)[0]
    return [
        (LIMIT_SLOPE, -q["current_limit"] - LIMIT_SLOPE * knee),
        (1.0 / q["source_resistance"], -q["voltage"] / q["source_resistance"]),
    ]


def _knee(q: Q) -> list[Row]:
    return [q["voltage"] - q["source_resistance"] * q["current_limit"]]


def _transmitter(q: Q) -> list[tuple[Row, Row]]:
    """Reverse diode, off, rising over the ramp up to lift-off, constant current."""
    leak, diode = 1.0 / q["leak"], 1.0 / q["reverse_resistance"]
    full = q["demand"] * (1.0 + q["trim"])
    steep, start = full / q["ramp"], q["lift_off"] - q["ramp"]
    return [
        (diode + leak, q["reverse_drop"] * diode),
        (leak, 0.0),
        (steep + leak, -steep * start),
        (leak, full),
    ]


def _transmitter_bends(q: Q) -> list[Row]:
    return [-q["reverse_drop"], q["lift_off"] - q["ramp"], q["lift_off"]]


def _turned(q: Q) -> list[tuple[Row, Row]]:
    return [(0.0, 0.0), (q["turned"], -q["turned"] * q["reverse_drop"])]


LAWS: dict[str, tuple[Law, ...]] = {
    **{
        name: (Law("a", "b", ohm("resistance")),)
        for name in (
            "core",
            "signal_wire",
            "link",
            "fuse",
            "series_limiter",
            "resistor",
            "insulation",
        )
    },
    "common_wire": (Law("a", "b", ohm_behind("resistance", "emf")),),
    "termination": (Law("terminal", "wire", ohm("resistance")),),
    "earth_bond": (Law("a", "earth", ohm("resistance")),),
    "earth_insulation": (Law("line", "earth", ohm_behind("resistance", "shift")),),
    "surge_protector": (Law("line", "earth", ohm("resistance")),),
    "voltage_receiver": (Law("signal", "common", ohm("input_resistance")),),
    "comparator": (Law("signal", "common", ohm("input_resistance")),),
    "supply": (Law("plus", "minus", _supply, _knee),),
    "two_wire_transmitter": (
        Law("plus", "minus", _transmitter, _transmitter_bends),
        Law("plus", "minus", _turned, lambda q: [q["reverse_drop"]]),
    ),
    "process_connection": (),
    "local_gauge": (),
    **field.LAWS,
    **output.LAWS,
    **sensing.LAWS,
}


DRIVEN: Mapping[str, Callable[[Q, Any], dict[str, Row]]] = {
    **field.DRIVEN,
    **output.DRIVEN,
    **sensing.DRIVEN,
}
SIGNALS: Mapping[str, Callable[[Q, Row, Any], Row]] = {
    **field.SIGNALS,
    **output.SIGNALS,
    **sensing.SIGNALS,
}
LEVELS: Mapping[str, Callable[[Q, Row, Any], Row]] = {
    "voltage_receiver": lambda q, v, given: (
        (1 - q["stuck"]) * ((v - q["low"]) / (q["high"] - q["low"]) + q["shown_shift"])
        + q["stuck"] * q["stuck_at"]
    ),
    "comparator": lambda q, v, given: q["direction"] * (v - q["set_point"]) + q["forced"],
    "local_gauge": lambda q, v, process: sel(q["hold"], q["held"], process),
    **field.LEVELS,
    **output.LEVELS,
    **sensing.LEVELS,
}


def level(kind: str, q: Q, v: Row, given: Any) -> Row:
    """What a part shows: fraction of its scale, or for a lamp how far it is beyond its point."""
    if kind not in LEVELS:
        raise KeyError(f"the judge does not know what a {kind} shows")
    return LEVELS[kind](q, v, given) + 0.0 * v
