"""Barriers, isolators, instruments with power of their own, three-wire transmitters.

A diode is a kink: no current below its voltage, a straight slope above it.  An output that
delivers a current holds it until its voltage is used up, and then gives what is left over its
resistance.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

Element = tuple[str, float | str]
Wires = list[tuple[str, str, list[Element]]]
Q = Mapping[str, float]
Given = float | tuple[float, ...]


# --- barriers ---------------------------------------------------------------------------------


def _chain(pin: str, q: Q) -> tuple[str, str, list[Element]]:
    """Zener diodes to the barrier earth: leak, breakdown, and forward conduction."""
    breaks = f"max({{v}}-{q['clamp']!r},0)/{q['clamp_slope']!r}"
    forward = f"min({{v}}+{q['forward_drop']!r},0)/{q['clamp_slope']!r}"
    return pin, "earth", [("BI", f"{{v}}/{q['leak']!r}+{breaks}+{forward}")]


def _barrier(q: Q, given: Given) -> Wires:
    return [("safe", "field", [("R", q["resistance"])]), _chain("safe", q)]


def _return(q: Q, given: Given) -> Wires:
    """A diode behind a resistance, with what it lets through backwards beside both."""
    diode = f"max({{v}}-{q['drop']!r},0)/{q['resistance']!r}+{{v}}/{q['blocks']!r}"
    return [("field", "safe", [("BI", diode)]), _chain("field", q)]


# --- sensors, and what people and faults do to their value --------------------------------------


def _believed(q: Q, process: float) -> float:
    """Process connection, then sensor; unless the electronics stand still."""
    if q["stuck"]:
        return q["stuck_at"]
    stands = q["at_nothing"] if q["equalised"] else q["held"]
    seen = stands if q["hold"] else process + q["sensed_shift"]
    return seen * (1.0 + q["span_error"]) + q["zero_error"]


def _sensor(q: Q, volts: float, given: Given) -> float:
    assert isinstance(given, float)
    return min(max(_believed(q, given), q["lowest"]), q["highest"])


def _lit(q: Q, volts: float, given: Given) -> float:
    return 1.0 if q["alive"] and volts > q["least"] else 0.0


def _fraction(q: Q, amperes: float) -> float:
    """4-20 mA as a share of range, as far as an isolator passes it: 0 to 22.4 mA."""
    share = (amperes - q["zero_current"]) / (q["full_current"] - q["zero_current"])
    return min(max(share, -0.25), 1.15)


# --- outputs ----------------------------------------------------------------------------------


def _of_range(q: Q, share: float) -> float:
    return q["zero_current"] + share * (q["full_current"] - q["zero_current"])


def _transmitter_current(q: Q, share: float) -> float:
    if q["driven"]:
        return q["driven_current"] + q["output_error"]
    return q["failed_current"] if q["failed"] else _of_range(q, share) + q["output_error"]


def _isolator_current(q: Q, share: float) -> float:
    return q["failed_current"] if q["failed"] else _of_range(q, share) * (1.0 + q["gain_error"])


def _delivers(current: Callable[[Q, float], float]) -> Callable[[Q, Given], Wires]:
    """The current of a powered output, while its load leaves it voltage."""

    def wires(q: Q, given: Given) -> Wires:
        assert isinstance(given, tuple)
        share, power = given
        amperes = current(q, share) if power and q["alive"] else 0.0
        if q["stand_in"]:
            amperes = q["stand_in_current"]
        amperes = max(amperes, 0.0) * (1.0 + q["trim"])
        ahead, back = (0.0, amperes) if q["reversed"] else (amperes, 0.0)
        spent, slope = q["compliance"], q["slope"]
        held = f"max({{v}}/{q['leak']!r}-{ahead!r},({{v}}-{spent!r})/{slope!r})"
        turned = f"min({back!r},({{v}}+{spent!r})/{slope!r})"
        return [("plus", "minus", [("BI", held)]), ("plus", "minus", [("BI", turned)])]

    return wires


def _ramp(amperes: float, q: Q) -> str:
    """A sink that is off below its ramp and complete from lift-off on."""
    foot = q["lift_off"] - q["ramp"]
    rising = f"min(max(({{v}}-({foot!r}))/{q['ramp']!r},0),1)"
    return f"{{v}}/{q['leak']!r}+{amperes * (1.0 + q['trim'])!r}*{rising}"


def _sinks(q: Q, given: Given) -> Wires:
    assert isinstance(given, tuple)
    share, power = given
    amperes = max(_isolator_current(q, share), 0.0) if power and q["alive"] else 0.0
    backwards = f"min({{v}}+{q['reverse_drop']!r},0)/{q['reverse_slope']!r}"
    return [("plus", "minus", [("BI", f"{_ramp(amperes, q)}+{backwards}")])]


# --- field sides of isolators -------------------------------------------------------------------


def _input(q: Q, given: Given) -> Wires:
    return [("plus", "minus", [("R", q["resistance"])]), ("plus", "minus", [("R", q["beside"])])]


def _fed(q: Q, power: Given) -> float:
    assert isinstance(power, float)
    return q["voltage"] if power and q["alive"] else 0.0


def _feed(q: Q, given: Given) -> Wires:
    """Volts behind a resistance; beyond the current limit they give way by ``limit_slope``."""
    limit = q["current_limit"]
    held = f"{q['source_resistance']!r}*max({{i}},{-limit!r})"
    gives = f"{held}+{q['limit_slope']!r}*min({{i}}+{limit!r},0)"
    return [("plus", "minus", [("emf", _fed(q, given)), ("BV", gives)])]


def _drawn(q: Q, volts: float, given: Given) -> float:
    return _fraction(q, (_fed(q, given) - volts) / q["source_resistance"])


# --- three-wire transmitters --------------------------------------------------------------------


def _asked(q: Q, process: float) -> float:
    """4-20 mA within saturation, unless a fault or a person fixes it, A."""
    if not q["alive"]:
        return 0.0
    if q["driven"] and not q["stuck"]:
        return max(q["driven_current"] + q["output_error"], 0.0)
    if q["failed"]:
        return max(q["failed_current"], 0.0)
    amperes = _of_range(q, _believed(q, process))
    held = min(max(amperes, q["saturation_low"]), q["saturation_high"])
    return max(held + q["output_error"], 0.0)


def _three_wire(q: Q, given: Given) -> Wires:
    """The signal out of one wire, its own current out of the other; a diode between them."""
    assert isinstance(given, float)
    asked, idle = _asked(q, given), 0.0
    out, common = (idle, asked) if q["swapped"] else (asked, idle)
    diode = f"max({{v}},0)/{q['drop_slope']!r}"
    return [
        ("plus", "out", [("BI", _ramp(out, q))]),
        ("plus", "out", [("R", q["swapped_load"])]),
        ("plus", "common", [("R", q["load"])]),
        ("plus", "common", [("BI", _ramp(common, q))]),
        ("common", "out", [("emf", q["drop"]), ("BI", diode)]),
    ]


PHYSICS: dict[str, Callable[[Q, Given], Wires]] = {
    "shunt_diode_barrier": _barrier,
    "barrier_return": _return,
    "barrier_earth": lambda q, given: [("rail", "earth", [("R", q["resistance"])])],
    "earth_strap": lambda q, given: [("a", "b", [("R", q["resistance"])])],
    "power_input": lambda q, given: [("plus", "minus", [("R", q["resistance"])])],
    "four_wire_transmitter": _delivers(_transmitter_current),
    "isolator_output": _delivers(_isolator_current),
    "isolator_sink": _sinks,
    "isolator_input": _input,
    "isolator_feed": _feed,
    "three_wire_transmitter": _three_wire,
}

SIGNALS: dict[str, Callable[[Q, float, Given], float]] = {
    "power_input": _lit,
    "sensing_element": _sensor,
    "isolator_input": lambda q, volts, given: _fraction(q, volts / q["resistance"]),
    "isolator_feed": _drawn,
}
