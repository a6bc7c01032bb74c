"""On-off outputs as circuit elements, written from the physics of switches, coils and diodes."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from spice import Element

Q = Mapping[str, float]
Elements = list[tuple[str, str, list[Element]]]


def _ohms(a: str, b: str, name: str) -> Callable[[Q, float], Elements]:
    return lambda q, _: [(a, b, [("R", q[name])])]


def _channel(q: Q, told: float) -> Elements:
    """A contact: forced by hand at the card, or failed, or where the command puts it."""
    if q["forced"]:
        told = q["forced_told"]
    if q["failed"]:
        told = q["failed_closed"]
    return [("feed", "output", [("R", q["on_resistance" if told > 0.5 else "off_resistance"])])]


def _suppressor(q: Q, _: float) -> Elements:
    """Capacitor and resistor, and what leaks past the capacitor; to direct current only that."""
    found: Elements = [("a", "b", [("R", q["leak"])])]
    return found if q["direct"] else [*found, ("a", "b", [("R", q["impedance"])])]


def _coil(q: Q, _: float) -> Elements:
    return [("live", "neutral", [("R", q["winding" if q["direct"] else "impedance"])])]


def _diode(q: Q, _: float) -> Elements:
    """Conducts from minus to plus, or the other way where it is turned."""
    backwards = f"{q['forward']!r}*min({{v}}+{q['drop']!r},0)/{q['slope']!r}"
    turned = f"{q['turned']!r}*max({{v}}-{q['drop']!r},0)/{q['slope']!r}"
    return [("plus", "minus", [("BI", f"{{v}}/{q['leak']!r}+{backwards}+{turned}")])]


def _mains(q: Q, _: float) -> Elements:
    return [("live", "neutral", [("emf", q["voltage"]), ("R", q["source_resistance"])])]


def _earth(q: Q, _: float) -> Elements:
    return [("line", "earth", [("emf", q["shift"]), ("R", q["resistance"])])]


def _without_wires(q: Q, _: object) -> Elements:
    return []


def _command(q: Q, volts: float, given: float) -> float:
    return float((q["asked"] if q["by_hand"] else given) > 0.5)


def _pulled_in(q: Q, volts: float, command: float) -> float:
    """An armature moves at its pull-in when it is told to, and lets go at its drop-out."""
    share = q["pull_in"] if command else q["drop_out"]
    return float(not q["jammed"] and volts > share * q["rated"])


def _outlet(q: Q, volts: float, given: tuple[float, float, float]) -> float:
    """Air reaches the actuator past the spool; it cannot leave through a plugged exhaust."""
    coil, override, air = given
    over = q["stuck_at"] if q["stuck"] else max(coil, override)
    return air if over or q["plugged"] else 0.0


def _stands_open(q: Q, volts: float, air: float) -> float:
    """A spring against the air."""
    if q["stuck"]:
        return q["stuck_at"]
    lifted = air > q["needs"]
    return float(lifted == (q["opens"] > 0))


PHYSICS: dict[str, Callable[[Q, float], Elements]] = {
    **dict.fromkeys(
        (
            "output_command", "manual_override", "pilot_valve", "on_off_valve",
            "position_switch",
        ),
        _without_wires,
    ),
    "discrete_output": _channel,
    "triac_output": _channel,
    "rc_suppressor": _suppressor,
    "solenoid_coil": _ohms("plus", "minus", "resistance"),
    "alternating_coil": _coil,
    "suppressor_diode": _diode,
    "mains_supply": _mains,
    "stray_coupling": _ohms("live", "core", "impedance"),
    "fused_insulation": _ohms("a", "b", "resistance"),
    "fused_earth_insulation": _earth,
}  # fmt: skip

SIGNALS = {
    "output_command": _command,
    "solenoid_coil": _pulled_in,
    "alternating_coil": _pulled_in,
    "manual_override": lambda q, volts, given: q["turned"],
    "pilot_valve": _outlet,
    "on_off_valve": _stands_open,
}
