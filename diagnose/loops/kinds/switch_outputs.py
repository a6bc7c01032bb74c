"""What a switch amplifier decides: its switching stage, and the relay that passes it on.

The thresholds of line monitoring are from memory and the project's defaults.
"""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.kind import Change, FaultMode, Kind, Parameter, Severity, Shows, becomes, fixed
from diagnose.loops.kinds.amplifiers import UNPOWERED


def _on(q: Any, ma: Any) -> tuple[Any, Any]:
    """Above zero while the output is on: current on the wanted side, and the line sound."""
    lowest = q.monitored * q.break_current * 1e3 + (1 - q.monitored) * UNPOWERED
    highest = q.short_current * 1e3 + (1 - q.monitored) * 1e3
    turn = q.switch_current * 1e3
    large = np.minimum(ma - turn, highest - ma)
    small = np.minimum(turn - ma, ma - lowest)
    return 0.0, (1 + q.direction) / 2 * large + (1 - q.direction) / 2 * small + q.forced


class SwitchOutput(Kind, name="switch_output"):
    """The switching stage of an amplifier with its lamp; line monitoring can hold it off."""

    title = "switching output"
    references = ("from",)
    follows = ("from",)
    parameters = (
        Parameter("switch_current", "A", "current at which it turns", 1.65e-3, least=0, most=0.1),
        Parameter("break_current", "A", "below this the line is open", 0.15e-3, least=0, most=0.1),
        Parameter("short_current", "A", "above this it is shorted", 6.5e-3, least=0, most=0.1),
        Parameter("direction", "1", "1 on at high current, -1 at low", 1.0, least=-1, most=1),
        Parameter("monitored", "1", "1 where a line fault holds it off", 1.0, least=0, most=1),
        Parameter("forced", "1", "added when the output is stuck", 0.0, typed=False),
    )
    shows = Shows("state", _on, accuracy=0.1, resolution=0.0, title="own display")
    signal = Shows("state", _on, accuracy=0.1)
    modes = (
        FaultMode(
            "switch point wrong",
            "output turns at the wrong current",
            (becomes("switch_current"),),
            0.3,
            Severity("current", "A", 0.3e-3, 6e-3, logarithmic=False),
            favoured={"work": 4},
            remedy="set or renew it; prove both states with known resistors",
            minutes=30,
        ),
        FaultMode(
            "inverted",
            "output set to the opposite sense",
            (Change("direction", lambda nominal, s: -nominal),),
            0.2,
            favoured={"work": 15},
            remedy="compare the setting with the sheet and put it right",
            minutes=10,
        ),
        FaultMode(
            "stuck on",
            "output stage stays on whatever the input says",
            (fixed("forced", 1000.0),),
            0.3,
            favoured={"lightning": 3},
            remedy="renew the amplifier",
            minutes=30,
        ),
        FaultMode(
            "stuck off",
            "output stage stays off whatever the input says",
            (fixed("forced", -1000.0),),
            0.4,
            favoured={"lightning": 3},
            remedy="renew the amplifier",
            minutes=30,
        ),
    )


class OutputRelay(Kind, name="output_relay"):
    """The relay of an amplifier with its way to the control system, which shows its state."""

    title = "output relay"
    references = ("from",)
    follows = ("from",)
    parameters = (
        Parameter("direction", "1", "1 shown lit when on, -1 when off", 1.0, least=-1, most=1),
        Parameter("forced", "1", "added when the contact is stuck", 0.0, typed=False),
    )
    shows = Shows(
        "state",
        lambda q, on: (0.0, q.direction * (2 * on - 1 + q.forced)),
        accuracy=1e-3,
        resolution=0.0,
    )
    modes = (
        FaultMode(
            "welded",
            "relay contact stays closed",
            (fixed("forced", 1000.0),),
            0.4,
            favoured={"lightning": 2},
            remedy="renew the relay or the amplifier; look for the load that welded it",
            minutes=30,
        ),
        FaultMode(
            "does not close",
            "relay contact, its wire or the input behind it is open",
            (fixed("forced", -1000.0),),
            0.8,
            symptoms={"erratic": 0.2},
            favoured={"work": 4},
            remedy="read volts across the contact while it should be closed: with some it is the "
            "contact, with none its wire or the input; renew or remake that",
            minutes=30,
        ),
    )
