"""The bus of an input loop that has a sheet of its own, as others see it."""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.kind import (
    Action,
    Branch,
    FaultMode,
    Kind,
    Parameter,
    Segment,
    Severity,
    becomes,
    fixed,
)


class SignalBus(Kind, name="signal_bus"):
    """The 1-5 V of an input loop that has a sheet of its own: volts behind its sense resistor."""

    title = "signal from the input loop"
    pins = ("signal", "common")
    parameters = (
        Parameter("low", "V", "volts at 0 %", 1.0, least=-100, most=100),
        Parameter("high", "V", "volts at 100 %", 5.0, least=-100, most=100),
        Parameter("resistance", "ohm", "sense resistor behind it", 250.0, 0.001, least=1, most=1e6),
        Parameter("shifted", "1", "error of the input loop", 0.0, typed=False),
        Parameter("lost", "1", "1 while the input loop gives nothing", 0.0, typed=False),
        Parameter("fed", "1", "1 while a person feeds it", 0.0, typed=False),
        Parameter("fed_volts", "V", "volts that the person feeds", 0.0, typed=False),
        Parameter("volts", "V", "what it gives now", 0.0, typed=False),
    )
    driven = ("volts",)
    branches = (
        Branch(
            "signal",
            "common",
            (Segment("driving", lambda q: (1 / q.resistance, -q.volts / q.resistance)),),
        ),
    )
    modes = (
        FaultMode(
            "shifted",
            "the input loop is wrong",
            (becomes("shifted"),),
            1.5,
            Severity("error", "1", -0.6, 0.6, logarithmic=False),
            remedy="hunt on the sheet of the input loop",
            minutes=30,
            group="process connection",
        ),
        FaultMode(
            "lost",
            "the input loop gives nothing",
            (fixed("lost", 1.0),),
            1.0,
            remedy="hunt on the sheet of the input loop",
            minutes=30,
            group="process connection",
        ),
    )
    actions = (
        Action(
            "off",
            "input loop off and isolated",
            (fixed("lost", 1.0), fixed("fed", 0.0)),
            8.0,
            interrupts=True,
            cautions=("de-energise",),
        ),
        Action(
            "fed",
            "input loop lifted, known volts fed in its place",
            (fixed("fed", 1.0), becomes("fed_volts")),
            10.0,
            unit="V",
            usual=3.5,
            moves_signal=True,
            heals=True,
            cautions=("inject",),
            spans=lambda q: (q.low, q.high),
        ),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """Volts at a process value, within what a transmitter can signal (3.8 to 20.5 mA)."""
        share = np.clip(process + q.shifted, -0.0125, 1.03125)
        own = (1 - q.lost) * (q.low + (q.high - q.low) * share)
        return {"volts": q.fed * q.fed_volts + (1 - q.fed) * own}

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Process values at which the signal of the transmitter stands still."""
        gone = np.where((q.lost > 0.5) | (q.fed > 0.5), np.inf, 0.0)
        return -0.0125 - q.shifted + gone, 1.03125 - q.shifted + gone
