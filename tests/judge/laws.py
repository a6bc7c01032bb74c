"""The physics of every kind, written a second time from its description.

A law is a list of straight pieces ``i = g * v + j`` (current from pin ``a`` to pin ``b``) with the
voltages at which they bend.  Values are floats or arrays of rows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

Row = Any
Q = Mapping[str, Row]
LIMIT_SLOPE = 1e-6


@dataclass(frozen=True)
class Law:
    """One two-terminal element of a kind."""

    a: str
    b: str
    pieces: Callable[[Q], list[tuple[Row, Row]]]
    bends: Callable[[Q], list[Row]] = lambda q: []
    straight: bool = True


def _ohm(name: str) -> Callable[[Q], list[tuple[Row, Row]]]:
    return lambda q: [(1.0 / q[name], 0.0)]


def _ohm_behind(name: str, emf: str) -> Callable[[Q], list[tuple[Row, Row]]]:
    return lambda q: [(1.0 / q[name], -q[emf] / q[name])]


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
        name: (Law("a", "b", _ohm("resistance")),)
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
    "common_wire": (Law("a", "b", _ohm_behind("resistance", "emf")),),
    "termination": (Law("terminal", "wire", _ohm("resistance")),),
    "earth_bond": (Law("a", "earth", _ohm("resistance")),),
    "earth_insulation": (Law("line", "earth", _ohm_behind("resistance", "shift")),),
    "surge_protector": (Law("line", "earth", _ohm("resistance")),),
    "voltage_receiver": (Law("signal", "common", _ohm("input_resistance")),),
    "comparator": (Law("signal", "common", _ohm("input_resistance")),),
    "supply": (Law("plus", "minus", _supply, _knee, False),),
    "two_wire_transmitter": (
        Law("plus", "minus", _transmitter, _transmitter_bends, False),
        Law("plus", "minus", _turned, lambda q: [q["reverse_drop"]], False),
    ),
    "process_connection": (),
    "local_gauge": (),
}


def believed(q: Q, process: Row) -> Row:
    """What the transmitter takes the process to be, fraction of range."""
    seen = np.where(np.equal(q["hold"], 1.0), q["held"], process + q["sensed_shift"])
    seen = seen * (1.0 + q["span_error"]) + q["zero_error"]
    return np.where(np.equal(q["stuck"], 1.0), q["stuck_at"], seen)


def demand(q: Q, process: Row) -> Row:
    """Current the transmitter asks for, A.

    A person drives any transmitter that lives and does not stand still, whatever its sensor says;
    the error of the output stage stays.
    """
    wanted = q["zero_current"] + (q["full_current"] - q["zero_current"]) * believed(q, process)
    held = np.minimum(np.maximum(wanted, q["saturation_low"]), q["saturation_high"])
    live = np.where(np.equal(q["failed"], 1.0), q["failed_current"], held + q["output_error"])
    obeys = np.equal(q["driven"], 1.0) & ~np.equal(q["stuck"], 1.0)
    asked = np.where(obeys, q["driven_current"] + q["output_error"], live)
    return np.where(np.equal(q["alive"], 1.0), np.maximum(asked, 0.0), 0.0)


def level(kind: str, q: Q, v: Row, process: Row) -> Row:
    """What a part shows: fraction of range, or volts beyond the set point for a lamp."""
    if kind == "voltage_receiver":
        return (v - q["low"]) / (q["high"] - q["low"]) + q["shown_shift"]
    if kind == "comparator":
        return q["direction"] * (v - q["set_point"]) + q["forced"]
    if kind == "two_wire_transmitter":
        return believed(q, process) + 0.0 * v
    if kind == "local_gauge":
        return process + 0.0 * v
    raise KeyError(f"the judge does not know what a {kind} shows")
