"""Physics of switch amplifiers and of what they look at, for the circuit simulator."""

from collections.abc import Callable, Mapping

Element = tuple[str, float | str]
Given = float | tuple[float, ...]
Branches = list[tuple[str, str, list[Element]]]
Values = Mapping[str, float]


def _amplifier(q: Values, given: Given) -> Branches:
    """A source of volts behind a resistance."""
    return [("signal", "common", [("emf", q["voltage"]), ("R", q["source_resistance"])])]


def _position(q: Values, given: Given) -> float:
    """How far the switch has turned over: by its target or float, unless one of them is stuck."""
    if q["stuck"] == 1.0:
        return q["stuck_at"]
    assert isinstance(given, float | int)
    at = q["held"] if q["hold"] == 1.0 else given * q["reach"]
    if at <= q["begins"]:
        return 0.0
    return min((at - q["begins"]) / (q["ends"] - q["begins"]), 1.0)


def _sensor(q: Values, given: Given) -> Branches:
    """A junction, then a resistance at which the rated current flows from the rated source."""
    turned = _position(q, given)
    rated = (1.0 - turned) * q["absent_current"] + turned * q["present_current"]
    volts = q["rated_voltage"] - rated * q["rated_resistance"] - q["drop"]
    slope = rated / volts * q["trim"] if q["alive"] == 1.0 else 0.0
    law = f"{{v}}/{q['leak']!r}+{slope!r}*max({{v}}-({q['drop']!r}),0)"
    return [("plus", "minus", [("BI", law)])]


def _contact(q: Values, given: Given) -> Branches:
    """Closed resistance, and what is added while it turns; 1e-8 of closing is open."""
    share = max(_position(q, given), 1e-8)
    return [("a", "b", [("R", q["closed"] + q["turning"] * (1.0 / share - 1.0))])]


def _resistor(q: Values, given: Given) -> Branches:
    return [("a", "b", [("R", q["resistance"])])]


def _milliamperes(q: Values, volts: float, given: Given) -> float:
    """What flows out of the source, mA; an amplifier without power tells -5."""
    if q["alive"] == 0.0:
        return -5.0
    return (q["voltage"] - volts) / q["source_resistance"] * 1e3


def _output(q: Values, volts: float, given: Given) -> float:
    """1 while the current is on the wanted side and, where watched, neither broken nor short."""
    assert isinstance(given, float)
    if q["forced"] != 0.0:
        return 1.0 if q["forced"] > 0 else 0.0
    if given < -2.5:
        return 0.0
    high = given > q["switch_current"] * 1e3
    fault = (
        given < q["break_current"] * 1e3 if q["direction"] < 0 else given > q["short_current"] * 1e3
    )
    return 1.0 if high == (q["direction"] > 0) and not (fault and q["monitored"]) else 0.0


PHYSICS: dict[str, Callable[[Values, Given], Branches]] = {
    "switch_amplifier": _amplifier,
    "proximity_sensor": _sensor,
    "monitored_contact": _contact,
    "monitoring_resistor": _resistor,
}
SIGNALS: dict[str, Callable[[Values, float, Given], float]] = {
    "switch_amplifier": _milliamperes,
    "switch_output": _output,
}
