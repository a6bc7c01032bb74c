"""Barriers, isolators, instruments with power of their own, three-wire transmitters, series parts.

A second writing of their physics.  ``LAWS``, ``DRIVEN``, ``SIGNALS`` and ``LEVELS`` are as in
``laws``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from judge.choose import held, sel
from judge.shape import Law, Pieces, Q, Row, ohm

# --- barriers ----------------------------------------------------------------------------------


def _chain(pin: str) -> Law:
    """Zener diodes to the barrier earth: forward, leak, breakdown."""
    return Law(
        pin,
        "earth",
        lambda q: [
            (1 / q["clamp_slope"] + 1 / q["leak"], q["forward_drop"] / q["clamp_slope"]),
            (1 / q["leak"], 0.0),
            (1 / q["clamp_slope"] + 1 / q["leak"], -q["clamp"] / q["clamp_slope"]),
        ],
        lambda q: [-q["forward_drop"], q["clamp"]],
    )


def knee(volts: str, slope: str, leak: str, a: str = "plus", b: str = "minus") -> Law:
    """A leak, and beside it a junction that conducts from some volts on."""
    return Law(
        a,
        b,
        lambda q: [(1 / q[leak], 0.0), (1 / q[leak] + 1 / q[slope], -q[volts] / q[slope])],
        lambda q: [q[volts]],
    )


# --- currents ----------------------------------------------------------------------------------


def _of_range(q: Q, share: Row) -> Row:
    return q["zero_current"] + share * (q["full_current"] - q["zero_current"])


def _fraction(q: Q, amperes: Row) -> Row:
    """A live-zero current as a share of range, as far as an isolator passes it: 0 to 22.4 mA."""
    share = (amperes - q["zero_current"]) / (q["full_current"] - q["zero_current"])
    return held(share, -0.25, 1.15)


def _transmitted(q: Q, share: Row) -> Row:
    own = sel(q["failed"], q["failed_current"], _of_range(q, share) + q["output_error"])
    return sel(q["driven"], q["driven_current"] + q["output_error"], own)


def _isolated(q: Q, share: Row) -> Row:
    return sel(q["failed"], q["failed_current"], _of_range(q, share) * (1 + q["gain_error"]))


def _delivered(current: Callable[[Q, Row], Row]) -> Callable[[Q, Any], dict[str, Row]]:
    def driven(q: Q, given: Any) -> dict[str, Row]:
        share, power = given
        own = sel(power, 1.0, 0.0) * sel(q["alive"], 1.0, 0.0) * current(q, share)
        amperes = np.maximum(sel(q["stand_in"], q["stand_in_current"], own), 0.0)
        turned = sel(q["reversed"], 1.0, 0.0)
        amperes = amperes * (1 + q["trim"])
        return {"ahead": amperes * (1 - turned), "back": amperes * turned}

    return driven


def _end(q: Q) -> list[Row]:
    """Volts at which the current meets the line of what is left: v/leak - I = (v - E)/r."""
    return [(q["compliance"] / q["slope"] - q["ahead"]) / (1 / q["slope"] - 1 / q["leak"])]


DELIVERS = (
    Law(
        "plus",
        "minus",
        lambda q: [
            (1 / q["leak"], -q["ahead"]),
            (1 / q["slope"], -q["compliance"] / q["slope"]),
        ],
        _end,
    ),
    Law(
        "plus",
        "minus",
        lambda q: [(1 / q["slope"], q["compliance"] / q["slope"]), (0.0, q["back"])],
        lambda q: [q["back"] * q["slope"] - q["compliance"]],
    ),
)


def _ramp(pin: str, amperes: str) -> Law:
    """A sink from plus: off below its ramp, complete from lift-off on."""

    def pieces(q: Q) -> Pieces:
        full = q[amperes]
        steep, foot = full / q["ramp"], q["lift_off"] - q["ramp"]
        leak = 1 / q["leak"]
        return [(leak, 0.0), (leak + steep, -steep * foot), (leak, full)]

    return Law("plus", pin, pieces, lambda q: [q["lift_off"] - q["ramp"], q["lift_off"]])


def _sink(q: Q) -> Pieces:
    leak, back = 1 / q["leak"], 1 / q["reverse_slope"]
    steep, foot = q["sunk"] / q["ramp"], q["lift_off"] - q["ramp"]
    return [
        (leak + back, q["reverse_drop"] * back),
        (leak, 0.0),
        (leak + steep, -steep * foot),
        (leak, q["sunk"]),
    ]


def _sunk(q: Q, given: Any) -> dict[str, Row]:
    share, power = given
    own = sel(power, 1.0, 0.0) * sel(q["alive"], 1.0, 0.0) * np.maximum(_isolated(q, share), 0.0)
    return {"sunk": own * (1 + q["trim"])}


# --- feeds --------------------------------------------------------------------------------------


def _fed(q: Q, power: Row) -> dict[str, Row]:
    return {"given": sel(power, 1.0, 0.0) * sel(q["alive"], 1.0, 0.0) * q["voltage"]}


def _feed(q: Q) -> Pieces:
    """Volts behind a resistance; beyond the current limit a residual slope."""
    corner, slope = _corner(q)[0], 1 / q["limit_slope"]
    return [
        (slope, -q["current_limit"] - corner * slope),
        (1 / q["source_resistance"], -q["given"] / q["source_resistance"]),
    ]


def _corner(q: Q) -> list[Row]:
    return [q["given"] - q["source_resistance"] * q["current_limit"]]


# --- sensors --------------------------------------------------------------------------------------


def believed(q: Q, process: Row) -> Row:
    """What a transmitter takes the process to be, fraction of range."""
    stands = sel(q["equalised"], q["at_nothing"], q["held"])
    seen = sel(q["hold"], stands, process + q["sensed_shift"])
    seen = seen * (1.0 + q["span_error"]) + q["zero_error"]
    return sel(q["stuck"], q["stuck_at"], seen)


def demand(q: Q, process: Row) -> Row:
    """Current the transmitter asks for, A.

    A person drives any transmitter that lives and does not stand still, whatever its sensor says;
    the error of the output stage stays.
    """
    wanted = held(_of_range(q, believed(q, process)), q["saturation_low"], q["saturation_high"])
    live = sel(q["failed"], q["failed_current"], wanted + q["output_error"])
    obeys = np.equal(q["driven"], 1.0) & ~np.equal(q["stuck"], 1.0)
    asked = np.where(obeys, q["driven_current"] + q["output_error"], live)
    return sel(q["alive"], np.maximum(asked, 0.0), 0.0)


def _three_wire(q: Q, process: Row) -> dict[str, Row]:
    """The signal out of one wire, or where the two are swapped out of the other."""
    amperes, turned = demand(q, process) * (1 + q["trim"]), sel(q["swapped"], 1.0, 0.0)
    return {"out_current": amperes * (1 - turned), "common_current": amperes * turned}


def _across(q: Q, v: Row) -> Row:
    """What a series indicator makes of its volts."""
    amperes = (v - q["drop"]) / q["resistance"]
    shown = (amperes - q["zero_current"]) / (q["full_current"] - q["zero_current"])
    return sel(q["stuck"], q["stuck_at"], shown + q["shown_shift"] - 10.0 * q["blank"])


LAWS: dict[str, tuple[Law, ...]] = {
    "shunt_diode_barrier": (Law("safe", "field", ohm("resistance")), _chain("safe")),
    "barrier_return": (knee("drop", "resistance", "blocks", "field", "safe"), _chain("field")),
    "barrier_earth": (Law("rail", "earth", ohm("resistance")),),
    "earth_strap": (Law("a", "b", ohm("resistance")),),
    "power_input": (Law("plus", "minus", ohm("resistance")),),
    "four_wire_transmitter": DELIVERS,
    "isolator_output": DELIVERS,
    "isolator_sink": (
        Law(
            "plus",
            "minus",
            _sink,
            lambda q: [-q["reverse_drop"], q["lift_off"] - q["ramp"], q["lift_off"]],
        ),
    ),
    "isolator_input": (
        Law("plus", "minus", ohm("resistance")),
        Law("plus", "minus", ohm("beside")),
    ),
    "isolator_feed": (Law("plus", "minus", _feed, _corner),),
    "sensing_element": (),
    "three_wire_transmitter": (
        _ramp("out", "out_current"),
        Law("plus", "out", ohm("swapped_load")),
        Law("plus", "common", ohm("load")),
        _ramp("common", "common_current"),
        Law(
            "common",
            "out",
            lambda q: [(0.0, 0.0), (1 / q["drop_slope"], -q["drop"] / q["drop_slope"])],
            lambda q: [q["drop"]],
        ),
    ),
    "series_indicator": (knee("drop", "resistance", "leak"),),
    "test_diode": (knee("forward", "slope", "leak"),),
}

DRIVEN = {
    "two_wire_transmitter": lambda q, process: {"demand": demand(q, process)},
    "three_wire_transmitter": _three_wire,
    "four_wire_transmitter": _delivered(_transmitted),
    "isolator_output": _delivered(_isolated),
    "isolator_sink": _sunk,
    "isolator_feed": _fed,
}

SIGNALS = {
    "power_input": lambda q, v, given: 1.0 * (q["alive"] * v - q["least"] > 0),
    "sensing_element": lambda q, v, given: held(believed(q, given), q["lowest"], q["highest"]),
    "isolator_input": lambda q, v, given: _fraction(q, v / q["resistance"]),
    "isolator_feed": lambda q, v, given: _fraction(
        q, (_fed(q, given)["given"] - v) / q["source_resistance"]
    ),
}

LEVELS = {
    "two_wire_transmitter": lambda q, v, process: believed(q, process),
    "three_wire_transmitter": lambda q, v, process: believed(q, process),
    "four_wire_transmitter": lambda q, v, given: given[1] * q["alive"] * (1 + given[0]) - 1,
    "power_input": lambda q, v, given: q["alive"] * v - q["least"],
    "series_indicator": lambda q, v, given: _across(q, v),
}
