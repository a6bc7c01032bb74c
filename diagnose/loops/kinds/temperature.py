"""What all temperature loops share: what a sensor feels, its well, its cable, the input card."""

from typing import Any, ClassVar

from diagnose.loops.arrays import np
from diagnose.loops.kind import (
    Action,
    FaultMode,
    Kind,
    Parameter,
    Severity,
    becomes,
    fixed,
)
from diagnose.loops.kinds.conductors import Core

QUARTERS = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Where a repair is proved, fractions of range."""

FAILED = 2.0
"""Where a card drives its display when it finds its sensor broken, fractions of range."""


class TemperatureSensor(Kind):
    """A sensor in a well: it feels the process, or less of it where it sits badly."""

    carries_loop = True
    parameters: ClassVar[tuple[Parameter, ...]] = (
        Parameter("low", "degC", "temperature at 0 %", None, least=-200, most=2000),
        Parameter("high", "degC", "temperature at 100 %", None, least=-200, most=2000),
        Parameter("ambient", "degC", "around the head", 25.0, least=-60, most=200),
        Parameter("contact", "1", "share of the process that it feels", 1.0, typed=False),
        Parameter(
            "class_error", "1", "error as a share of the class limit", 0.0, 1.0, False, typed=False
        ),
    )

    @staticmethod
    def felt(q: Any, process: Any) -> Any:
        """Temperature of the sensor, degC."""
        there = q.low + (q.high - q.low) * process
        return q.ambient + q.contact * (there - q.ambient)


class Thermowell(Kind, name="thermowell"):
    """The well between the process and a temperature sensor."""

    title = "thermowell"
    references = ("to",)
    modes = (
        FaultMode(
            "poor contact",
            "sensor does not reach the bottom of its well, or deposits keep the heat away",
            (becomes("contact", of="to"),),
            3.0,
            Severity("share of the process that is felt", "1", 0.5, 0.98, logarithmic=False),
            symptoms={"frozen": 0.2},
            favoured={"work": 4},
            remedy="press the sensor home against its spring; compare its length with the well; "
            "stop where the well is wet or under pressure: it is cracked",
            minutes=40,
            group="process connection",
        ),
    )


class SensorCore(Core, name="sensor_core"):
    """One conductor of a sensor cable: its current is too small for a clamp."""

    title = "sensor core"
    clamped = False


class TemperatureInput(Kind):
    """A card that shows a temperature; subclasses say of which signal."""

    title = "temperature input"
    symbol = "instrument"
    choices: ClassVar[dict[str, dict[str, float]]] = {
        "burnout": {"up": 1.0, "down": -1.0},
    }
    parameters: ClassVar[tuple[Parameter, ...]] = (
        Parameter("low", "degC", "temperature at 0 %", None, least=-200, most=2000),
        Parameter("high", "degC", "temperature at 100 %", None, least=-200, most=2000),
        Parameter("input_resistance", "ohm", "input", 10e6, 0.3, least=1, most=1e13, kept=True),
        Parameter("burnout", "1", "where it goes when the sensor breaks", 1.0, least=-1, most=1),
        Parameter(
            "accuracy", "1", "limit of error, fraction of range", 0.0025, least=1e-5, most=0.5
        ),
        Parameter("shown_shift", "1", "error of what is shown", 0.0, typed=False),
        Parameter("stuck", "1", "the channel stands still", 0.0, typed=False),
        Parameter("stuck_at", "1", "value at which it stands", 0.0, typed=False),
    )
    modes: ClassVar[tuple[FaultMode, ...]] = (
        FaultMode(
            "input collapsed",
            "input resistance has collapsed and loads the sensor",
            (becomes("input_resistance"),),
            0.4,
            Severity("input resistance", "ohm", 5, 20e3),
            favoured={"lightning": 6},
            remedy="move the sensor to a spare channel; renew the card",
            minutes=40,
        ),
        FaultMode(
            "scaling",
            "what it shows is wrong: range or offset in its settings",
            (becomes("shown_shift"),),
            0.7,
            Severity("error shown", "1", -0.6, 0.6, logarithmic=False),
            favoured={"work": 4},
            remedy="compare range and offset in the settings with the sheet; feed a known signal",
            minutes=30,
        ),
        FaultMode(
            "frozen",
            "channel stands still",
            (fixed("stuck", 1.0), becomes("stuck_at")),
            0.3,
            Severity("value held", "1", -0.05, 1.05, logarithmic=False),
            symptoms={"frozen": 0.9},
            favoured={"work": 3},
            remedy="look for a forced value; restart the card once all its channels may drop; "
            "renew it",
            minutes=40,
        ),
    )

    @staticmethod
    def fraction(q: Any, celsius: Any) -> Any:
        """What the card makes of a temperature, fraction of its range."""
        seen = (celsius - q.low) / (q.high - q.low) + q.shown_shift
        return q.stuck * q.stuck_at + (1 - q.stuck) * seen

    @staticmethod
    def steepness(q: Any) -> Any:
        """Fraction of range per kelvin."""
        return (1 - q.stuck) / (q.high - q.low)


def unplugged(*changes: Any) -> Action:
    """The channel's wires off the card: nothing drives the sensor, nothing loads it.

    To unplug the card would be quicker, and would stop what all its other channels serve.
    """
    return Action(
        "off",
        "wires of the channel lifted off the card",
        (fixed("input_resistance", 1e12), *changes),
        7.0,
        interrupts=True,
        cautions=("open loop", "de-energise"),
    )


def broken(q: Any, failed: Any, level: Any, slope: Any) -> tuple[Any, Any]:
    """Level and slope, where ``failed`` the configured end instead."""
    end = (1 - q.stuck) * q.burnout * FAILED + q.stuck * q.stuck_at
    return np.where(failed, end, level), np.where(failed, 0.0, slope)
