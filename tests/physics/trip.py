"""A trip behind its input, for ngspice: a bus, a coil, contacts and lamps are resistances."""

from __future__ import annotations

from collections.abc import Callable, Mapping

Q = Mapping[str, float]


def _bus(q: Q, level: float) -> float:
    """Volts on a 250 ohm resistor: a transmitter signals from 3.8 to 20.5 mA, and no further."""
    milliamperes = min(max(4 + 16 * (level + q["shifted"]), 3.8), 20.5)
    share = (milliamperes - 4) / 16
    own = 0.0 if q["lost"] else q["low"] + (q["high"] - q["low"]) * share
    return q["fed_volts"] if q["fed"] else own


def _transistor(q: Q, given: tuple[float, float]) -> float:
    tripped, powered = given
    fail_safe = bool(q["fail_safe"]) != bool(q["inverted"])
    asked = bool(powered) and (not tripped if fail_safe else bool(tripped))
    conducts = bool(q["stuck_at"]) if q["stuck"] else asked
    return q["closed"] if conducts else q["opened"]


def _contact(q: Q, energised: float) -> float:
    asked = bool(energised) == bool(q["makes"])
    closed = bool(q["stuck_at"]) if q["stuck"] else asked
    return q["closed"] if closed else q["opened"]


def _between(a: str, b: str, ohms: Callable[[Q, float], float]):  # type: ignore[no-untyped-def]
    return lambda q, given: [(a, b, [("R", ohms(q, given))])]


PHYSICS = {
    "signal_bus": lambda q, level: [
        ("signal", "common", [("emf", _bus(q, level)), ("R", q["resistance"])])
    ],
    "trip_amplifier": _between("signal", "common", lambda q, _: q["input_resistance"]),
    "module_supply": _between("plus", "minus", lambda q, _: q["resistance"]),
    "transistor_output": _between("collector", "emitter", _transistor),
    "relay_coil": _between("a1", "a2", lambda q, _: q["resistance"]),
    "relay_contact": _between("a", "b", _contact),
    "lamp": _between("plus", "minus", lambda q, _: q["resistance"]),
    "horn": _between("plus", "minus", lambda q, _: q["resistance"]),
    "binary_input": _between("plus", "minus", lambda q, _: q["resistance"]),
    "bypass_switch": _between("a", "b", lambda q, _: q["resistance"]),
}


def _tripped(q: Q, volts: float, given: float) -> float:
    beyond = (volts - q["set_point"]) * q["direction"]
    return float(beyond + q["forced"] > 0)


SIGNALS = {
    "trip_amplifier": _tripped,
    "module_supply": lambda q, volts, given: float(volts > q["least_voltage"]),
    "relay_coil": lambda q, volts, given: float(volts * q["works"] + q["held"] > q["pull_in"]),
}
