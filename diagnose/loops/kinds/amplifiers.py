"""A switch amplifier: its source, its power lamp, its line-fault lamp.

Source 8.2 V behind 1 kohm, switching between 1.2 and 2.1 mA (IEC 60947-5-6, as secondary pages
quote it).  The thresholds of line monitoring are from memory and the project's defaults.
"""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.facts import SOURCE
from diagnose.loops.kind import (
    Action,
    Branch,
    FaultMode,
    Kind,
    Parameter,
    Segment,
    Severity,
    Shows,
    becomes,
    fixed,
)

NOTHING = -5.0
"""What an amplifier without power hands on, mA: no current that anything acts on."""

UNPOWERED = -2.5
"""Below this an amplifier has no power, mA."""


def _milliamperes(q: Any, process: Any) -> tuple[Any, Any]:
    """The current that the amplifier delivers, as a straight line in its terminal voltage."""
    per_volt = 1e3 * q.alive / q.source_resistance
    return -per_volt, per_volt * q.voltage + (1 - q.alive) * NOTHING


class SwitchAmplifier(Kind, name="switch_amplifier"):
    """Feeds a sensor or a contact through its own resistance and tells the current."""

    title = "switch amplifier"
    pins = ("signal", "common")
    senses = True
    facts = SOURCE
    parameters = (
        Parameter("voltage", "V", "open-circuit voltage", 8.2, 0.02, least=1, most=60),
        Parameter("source_resistance", "ohm", "behind it", 1e3, 0.02, least=1, most=1e6),
        Parameter("alive", "1", "1 while it has power", 1.0, typed=False),
    )
    branches = (
        Branch(
            "signal",
            "common",
            (
                Segment(
                    "supplying",
                    lambda q: (1 / q.source_resistance, -q.voltage / q.source_resistance),
                ),
            ),
        ),
    )
    signal = Shows("value", _milliamperes, accuracy=0.0, least=-10.0, most=100.0)
    modes = (
        FaultMode(
            "dead",
            "amplifier has no power or has failed: all its lamps are dark",
            (fixed("voltage", 0.0), fixed("alive", 0.0)),
            2.5,
            favoured={"shared supply": 20, "lightning": 4},
            remedy="prove its supply and fuse, then renew the amplifier",
            minutes=30,
        ),
        FaultMode(
            "weak source",
            "amplifier cannot deliver its current",
            (becomes("source_resistance"),),
            0.2,
            Severity("source resistance", "ohm", 1.3e3, 30e3),
            favoured={"lightning": 4},
            remedy="prove 8.2 V open and 8.2 mA shorted at its terminals, then renew it",
            minutes=30,
        ),
    )
    actions = (
        Action(
            "off",
            "amplifier off and isolated",
            (fixed("voltage", 0.0), fixed("source_resistance", 1e9), fixed("alive", 0.0)),
            6.0,
            interrupts=True,
            cautions=("de-energise",),
        ),
    )


class PowerLamp(Kind, name="power_lamp"):
    """Lit while an amplifier has power."""

    title = "power lamp"
    symbol = "lamp"
    references = ("from",)
    follows = ("from",)
    shows = Shows(
        "state",
        lambda q, ma: (0.0, ma - UNPOWERED),
        accuracy=1e-3,
        resolution=0.0,
        title="own display",
    )


def _line_fault(q: Any, ma: Any) -> tuple[Any, Any]:
    """Above zero while the line is open or shorted and the amplifier has power."""
    opened = np.minimum(q.break_current * 1e3 - ma, ma - UNPOWERED)
    return 0.0, np.maximum(ma - q.short_current * 1e3, opened) + q.forced


class LineFaultLamp(Kind, name="line_fault_lamp"):
    """Lit while the line to the field is open or shorted."""

    title = "line-fault lamp"
    symbol = "lamp"
    references = ("from",)
    follows = ("from",)
    parameters = (
        Parameter("break_current", "A", "below this the line is open", 0.15e-3, least=0, most=0.1),
        Parameter("short_current", "A", "above this it is shorted", 6.5e-3, least=0, most=0.1),
        Parameter("forced", "1", "added when the lamp is stuck", 0.0, typed=False),
    )
    shows = Shows("state", _line_fault, accuracy=0.1, resolution=0.0)
    modes = (
        FaultMode(
            "stays dark",
            "lamp failed, or monitoring switched off",
            (fixed("forced", -1000.0),),
            0.2,
            favoured={"work": 6},
            remedy="open the line on purpose: the lamp must light; check the setting",
            cautions=("open loop",),
        ),
        FaultMode(
            "stays lit",
            "lamp lit without a line fault",
            (fixed("forced", 1000.0),),
            0.1,
            remedy="renew the amplifier",
            minutes=30,
        ),
    )
