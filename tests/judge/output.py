"""Current outputs and what they move; on-off outputs; trips: a second writing of their physics."""

from __future__ import annotations

from typing import Any

import numpy as np

from judge.choose import between, held, sel
from judge.shape import Law, Pieces, Q, Row, ohm, ohm_behind

LIVE_ZERO, SPAN = 4e-3, 16e-3

# --- controllers, channels, positioners -----------------------------------------------------------


def _station(q: Q, given: Row) -> Row:
    """By hand before held before automatic, all within the limits."""
    told = sel(q["by_hand"], q["typed"], sel(q["hold"], q["held"], given))
    return held(told, q["low_limit"], q["high_limit"])


def _channel(q: Q, output: Row) -> dict[str, Row]:
    told = sel(q["stuck"], q["stuck_at"], output * q["gain"] + q["offset"])
    current = q["zero_current"] * (1 - told) + q["full_current"] * told
    current = held(current, q["least_current"], q["most_current"]) + q["output_error"]
    current = np.maximum(sel(q["failed"], q["failed_current"], current), 0.0)
    return {"sent": sel(q["alive"], current, 0.0) * (1 + q["trim"])}


def _sends(q: Q) -> Pieces:
    leak, clip = 1 / q["leak"], 1 / q["clip"]
    return [(leak, -q["sent"]), (leak + clip, -q["sent"] - q["compliance"] * clip)]


def _lives(q: Q) -> Pieces:
    leak, back, works = 1 / q["leak"], 1 / q["reverse_resistance"], 1 / q["slope"]
    return [
        (leak + back, q["reverse_drop"] * back),
        (leak, 0.0),
        (leak + works, -q["drop"] * works),
    ]


def _target(q: Q, v: Row) -> Row:
    share = ((v - q["drop"]) / q["slope"] - LIVE_ZERO) / SPAN + q["input_error"]
    return sel(q["alive"], sel(q["local"], q["local_at"], share), -1.0)


def _pull(q: Q, v: Row) -> Row:
    return held((v / q["resistance"] * q["turns"] - LIVE_ZERO) / SPAN, -0.25, 1.5)


# --- air ------------------------------------------------------------------------------------------


def _outlet(q: Q, given: Any) -> Row:
    """A nozzle: from nothing to all of the air, balanced in between."""
    share, air = given
    share = share * (1 + q["span_error"]) + q["zero_error"] + q["calibration"]
    free = held(q["low"] * (1 - share) + q["high"] * share, 0.0, air)
    stopped = sel(q["starved"], np.minimum(q["starved_at"], air), free)
    return sel(q["plugged"], q["plugged_share"] * air, stopped)


def _stops(q: Q, free: Row) -> Row:
    """Where a stem stands against a handwheel, or stuck."""
    return sel(q["stuck"], q["stuck_at"], np.maximum(np.minimum(free, q["ceiling"]), q["floor"]))


def _stem(q: Q, pressure: Row) -> Row:
    chamber = pressure * (1 - q["lost"])
    return _stops(q, between(q, "low", "high", chamber) + q["shift"] + q["setting"])


def _positioned(q: Q, given: Any) -> tuple[Row, Row]:
    """Travel and pressure of a valve whose relay does what it can to bring the stem to target."""
    share, air = given
    most, span = air * (1 - q["lost"]), q["high"] - q["low"]
    target = held(share, 0.0, 1.0) + q["feedback_shift"] + q["calibration"]
    reach = (most - q["low"]) / span
    bent = {**q, "floor": np.maximum(q["floor"], 0.0)}
    stem = _stops(bent, np.minimum(target, reach))
    push = held(q["low"] + span * (stem + 20 * (target - stem)), 0.0, most)
    asleep = LIVE_ZERO + SPAN * share < q["least_current"]
    asleep = asleep | np.greater(q["failed"], 0.5)
    idle = sel(q["failed"], q["failed_share"], 0.0) * most
    rest = _stops(bent, (idle - q["low"]) / span)
    return np.where(asleep, rest, stem), np.where(asleep, idle, push)


# --- on-off outputs -------------------------------------------------------------------------------


def _switched(q: Q, told: Row) -> dict[str, Row]:
    told = sel(q["forced"], q["forced_told"], told)
    closed = sel(q["failed"], q["failed_closed"], told)
    return {"told": told, "ohms": sel(closed, q["on_resistance"], q["off_resistance"])}


def _pulled(q: Q, v: Row, command: Row) -> Row:
    """Volts beyond what moves the armature: the pull-in when told to, else the drop-out."""
    share = sel(command, q["pull_in"], q["drop_out"])
    return np.where(np.greater(q["jammed"], 0.5), -1e6, v - share * q["rated"])


def _spool(q: Q, given: Any) -> Row:
    coil, override, air = given
    over = sel(q["stuck"], q["stuck_at"], np.maximum(coil, override))
    return sel(np.maximum(over, q["plugged"]), air, 0.0)


def _open(q: Q, air: Row) -> Row:
    lifted = air > q["needs"]
    moved = np.where(np.greater(q["opens"], 0), lifted, ~lifted) * 1.0
    return sel(q["stuck"], q["stuck_at"], moved)


def _blocks(q: Q) -> Pieces:
    leak = 1 / q["leak"]
    ahead, turned = q["forward"] / q["slope"], q["turned"] / q["slope"]
    return [
        (leak + ahead, ahead * q["drop"]),
        (leak, 0.0),
        (leak + turned, -turned * q["drop"]),
    ]


def _coil(q: Q) -> Pieces:
    return [(1 / sel(q["direct"], q["winding"], q["impedance"]), 0.0)]


def _suppressor(q: Q) -> Pieces:
    return [(1 / q["leak"] + sel(q["direct"], 0.0, 1 / q["impedance"]), 0.0)]


# --- trips ----------------------------------------------------------------------------------------


def _bus(q: Q, level: Row) -> dict[str, Row]:
    """Volts on a 250 ohm resistor, from 3.8 to 20.5 mA and no further."""
    ma = held(4 + 16 * (level + q["shifted"]), 3.8, 20.5)
    own = sel(q["lost"], 0.0, q["low"] + (q["high"] - q["low"]) * (ma - 4) / 16)
    return {"volts": sel(q["fed"], q["fed_volts"], own)}


def _trips(q: Q, v: Row) -> Row:
    return (v - q["set_point"]) * q["direction"] + q["forced"]


def _transistor(q: Q, given: Any) -> dict[str, Row]:
    tripped, powered = given
    safe = np.not_equal(q["fail_safe"] > 0.5, q["inverted"] > 0.5)
    asked = np.where(safe, 1.0 - tripped, tripped) * powered
    conducts = sel(q["stuck"], q["stuck_at"], asked)
    return {"ohms": sel(conducts, q["closed"], q["opened"])}


def _contact(q: Q, energised: Row) -> dict[str, Row]:
    asked = sel(q["makes"], energised, 1.0 - energised)
    return {"ohms": sel(sel(q["stuck"], q["stuck_at"], asked), q["closed"], q["opened"])}


def _plain(a: str, b: str, name: str = "resistance") -> tuple[Law, ...]:
    return (Law(a, b, ohm(name)),)


LAWS: dict[str, tuple[Law, ...]] = {
    **dict.fromkeys(
        (
            "output_station", "station_mode", "controller", "filter_regulator", "ip_transducer",
            "pressure_gauge", "tubing", "control_valve", "handwheel", "positioned_valve",
            "output_command", "manual_override", "pilot_valve", "on_off_valve", "position_switch",
        ),
        (),
    ),
    "current_output": (Law("plus", "minus", _sends, lambda q: [q["compliance"]]),),
    "wire_pair": (
        Law("plus", "to_plus", ohm("straight")),
        Law("minus", "to_minus", ohm("straight")),
        Law("plus", "to_minus", ohm("crossed")),
        Law("minus", "to_plus", ohm("crossed")),
    ),
    "ip_coil": _plain("plus", "minus"),
    "positioner": (
        Law("plus", "minus", _lives, lambda q: [-q["reverse_drop"], q["drop"]]),
        Law("plus", "minus", ohm("shunt")),
    ),
    "discrete_output": _plain("feed", "output", "ohms"),
    "triac_output": _plain("feed", "output", "ohms"),
    "rc_suppressor": (Law("a", "b", _suppressor),),
    "solenoid_coil": _plain("plus", "minus"),
    "alternating_coil": (Law("live", "neutral", _coil),),
    "suppressor_diode": (Law("plus", "minus", _blocks, lambda q: [-q["drop"], q["drop"]]),),
    "mains_supply": (Law("live", "neutral", ohm_behind("source_resistance", "voltage")),),
    "stray_coupling": _plain("live", "core", "impedance"),
    "fused_insulation": _plain("a", "b"),
    "fused_earth_insulation": (Law("line", "earth", ohm_behind("resistance", "shift")),),
    "signal_bus": (Law("signal", "common", ohm_behind("resistance", "volts")),),
    "trip_amplifier": _plain("signal", "common", "input_resistance"),
    "module_supply": _plain("plus", "minus"),
    "transistor_output": _plain("collector", "emitter", "ohms"),
    "relay_coil": _plain("a1", "a2"),
    "relay_contact": _plain("a", "b", "ohms"),
    "lamp": _plain("plus", "minus"),
    "horn": _plain("plus", "minus"),
    "binary_input": _plain("plus", "minus"),
    "bypass_switch": _plain("a", "b"),
}  # fmt: skip

DRIVEN = {
    "current_output": _channel,
    "discrete_output": _switched,
    "triac_output": _switched,
    "signal_bus": _bus,
    "transistor_output": _transistor,
    "relay_contact": _contact,
}

SIGNALS = {
    "output_station": lambda q, v, given: _station(q, given),
    "controller": lambda q, v, given: _station(q, q["output"]),
    "filter_regulator": lambda q, v, given: q["pressure"],
    "ip_coil": lambda q, v, given: _pull(q, v),
    "ip_transducer": lambda q, v, given: _outlet(q, given),
    "tubing": lambda q, v, given: sel(q["hold"], q["held"], given * (1 - q["lost"])),
    "control_valve": lambda q, v, given: given * (1 - q["lost"]),
    "positioner": lambda q, v, given: held(_target(q, v), -0.25, 1.5),
    "positioned_valve": lambda q, v, given: _positioned(q, given)[1],
    "output_command": lambda q, v, given: 1.0 * (sel(q["by_hand"], q["asked"], given) > 0.5),
    "solenoid_coil": lambda q, v, given: 1.0 * (_pulled(q, v, given) > 0),
    "alternating_coil": lambda q, v, given: 1.0 * (_pulled(q, v, given) > 0),
    "manual_override": lambda q, v, given: q["turned"],
    "pilot_valve": lambda q, v, given: _spool(q, given),
    "on_off_valve": lambda q, v, given: _open(q, given),
    "trip_amplifier": lambda q, v, given: 1.0 * (_trips(q, v) > 0),
    "module_supply": lambda q, v, given: 1.0 * (v > q["least_voltage"]),
    "relay_coil": lambda q, v, given: 1.0 * (v * q["works"] + q["held"] > q["pull_in"]),
}

LEVELS = {
    "output_station": lambda q, v, given: _station(q, given),
    "controller": lambda q, v, given: _station(q, q["output"]),
    # 5 % of a standard Gaussian lie above 1.6449 (tables of the normal distribution).
    "station_mode": lambda q, v, given: q["agreed"] + 10 * q["manual"] - 1.6448536,
    "current_output": lambda q, v, given: v - q["compliance"],
    "positioner": lambda q, v, given: _target(q, v),
    "pressure_gauge": lambda q, v, given: between(q, "low", "high", given),
    "control_valve": lambda q, v, given: _stem(q, given),
    "positioned_valve": lambda q, v, given: _positioned(q, given)[0],
    "handwheel": lambda q, v, given: q["engaged"] - 0.5,
    "output_command": lambda q, v, given: sel(q["by_hand"], q["asked"], given) - 0.5,
    "discrete_output": lambda q, v, given: _switched(q, given)["told"] - 0.5,
    "triac_output": lambda q, v, given: _switched(q, given)["told"] - 0.5,
    "manual_override": lambda q, v, given: q["turned"] - 0.5,
    "on_off_valve": lambda q, v, given: _open(q, given),
    "position_switch": lambda q, v, given: q["end"] * (given - 0.5) - 0.25 + q["forced"],
    "trip_amplifier": lambda q, v, given: _trips(q, v),
    "relay_coil": lambda q, v, given: v * q["works"] + q["held"] - q["pull_in"],
    "lamp": lambda q, v, given: v * q["works"] - q["least_voltage"],
    "horn": lambda q, v, given: v * q["works"] - q["least_voltage"],
    "binary_input": lambda q, v, given: v * q["works"] - q["least_voltage"],
}
