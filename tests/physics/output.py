"""Current outputs, what they drive and what that moves, written from the physics of each."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from spice import Element

Q = Mapping[str, float]
Elements = list[tuple[str, str, list[Element]]]

LIVE_ZERO, FULL = 4e-3, 20e-3


def _amperes(q: Q, output: float) -> float:
    """Current that a channel asks for at a controller's output."""
    if not q["alive"]:
        return 0.0
    if q["failed"]:
        return q["failed_current"]
    told = q["stuck_at"] if q["stuck"] else output * q["gain"] + q["offset"]
    current = q["zero_current"] * (1 - told) + q["full_current"] * told
    held = min(max(current, q["least_current"]), q["most_current"])
    return max(held + q["output_error"], 0.0)


def _channel(q: Q, output: float) -> Elements:
    """A current beside a resistance; above its compliance a clamp of some ohms takes it over."""
    amperes = _amperes(q, output) * (1 + q["trim"])
    clamp = f"max({{v}}-{q['compliance']!r},0)/{q['clip']!r}"
    return [("plus", "minus", [("BI", f"{{v}}/{q['leak']!r}+{clamp}-({amperes!r})")])]


def _pair(q: Q, _: float) -> Elements:
    right, wrong = [("R", q["straight"])], [("R", q["crossed"])]
    return [
        ("plus", "to_plus", right),
        ("minus", "to_minus", right),
        ("plus", "to_minus", wrong),
        ("minus", "to_plus", wrong),
    ]


def _positioner(q: Q, _: float) -> Elements:
    """Volts that it lives on, a slope above them, a leak, a diode backwards, a protector."""
    works = f"max({{v}}-{q['drop']!r},0)/{q['slope']!r}"
    backwards = f"min({{v}}+{q['reverse_drop']!r},0)/{q['reverse_resistance']!r}"
    return [
        ("plus", "minus", [("BI", f"{{v}}/{q['leak']!r}+{works}+{backwards}")]),
        ("plus", "minus", [("R", q["shunt"])]),
    ]


def _station(q: Q, volts: float, process: float) -> float:
    """The faceplate: by hand before held before automatic, all within the limits."""
    told = q["typed"] if q["by_hand"] else q["held"] if q["hold"] else process
    return min(max(told, q["low_limit"]), q["high_limit"])


def _share(amperes: float) -> float:
    """A live-zero current as a share of its span; no signal counts as no current."""
    return max((amperes - LIVE_ZERO) / (FULL - LIVE_ZERO), -0.25)


def _pull(q: Q, volts: float, _: object) -> float:
    """Ampere-turns of a coil, as the current that a whole coil would need."""
    return min(_share(volts / q["resistance"] * q["turns"]), 1.5)


def _target(q: Q, volts: float, _: object) -> float:
    """What a positioner believes it is asked for."""
    if not q["alive"]:
        return -0.25
    if q["local"]:
        return q["local_at"]
    amperes = max(volts - q["drop"], 0.0) / q["slope"]
    return max((amperes - LIVE_ZERO) / (FULL - LIVE_ZERO) + q["input_error"], -0.25)


def _outlet(q: Q, volts: float, given: tuple[float, float]) -> float:
    """A nozzle: from nothing to all of the air, balanced in between."""
    share, air = given
    if q["plugged"]:
        return q["plugged_share"] * air
    if q["starved"]:
        return min(q["starved_at"], air)
    share = share * (1 + q["span_error"]) + q["zero_error"] + q["calibration"]
    return min(max(q["low"] * (1 - share) + q["high"] * share, 0.0), air)


def _tube(q: Q, volts: float, pressure: float) -> float:
    return q["held"] if q["hold"] else pressure * (1 - q["lost"])


def _actuator(q: Q, volts: float, given: tuple[float, float]) -> float:
    """Pressure with which a relay holds a stem against its spring, friction and stops."""
    share, air = given
    most, span = air * (1 - q["lost"]), q["high"] - q["low"]
    if q["failed"] or share < (q["least_current"] - LIVE_ZERO) / (FULL - LIVE_ZERO):
        return q["failed"] * q["failed_share"] * most
    target = min(max(share, 0.0), 1.0) + q["feedback_shift"] + q["calibration"]
    free = max(min(target, (most - q["low"]) / span, q["ceiling"]), q["floor"], 0.0)
    stem = q["stuck_at"] if q["stuck"] else free
    return min(max(q["low"] + span * (stem + 20 * (target - stem)), 0.0), most)


PHYSICS: dict[str, Callable[[Q, float], Elements]] = {
    **dict.fromkeys(
        (
            "output_station", "station_mode", "filter_regulator", "ip_transducer",
            "pressure_gauge", "tubing", "control_valve", "handwheel", "positioned_valve",
        ),
        lambda q, _: [],
    ),
    "current_output": _channel,
    "wire_pair": _pair,
    "ip_coil": lambda q, _: [("plus", "minus", [("R", q["resistance"])])],
    "positioner": _positioner,
}  # fmt: skip

SIGNALS = {
    "output_station": _station,
    "filter_regulator": lambda q, volts, _: q["pressure"],
    "ip_coil": _pull,
    "ip_transducer": _outlet,
    "tubing": _tube,
    "control_valve": lambda q, volts, pressure: pressure * (1 - q["lost"]),
    "positioner": _target,
    "positioned_valve": _actuator,
}
