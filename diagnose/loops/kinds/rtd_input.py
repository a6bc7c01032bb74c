"""Cards that read a resistance thermometer over two, three or four wires."""

from dataclasses import replace
from typing import Any

from diagnose.loops.kind import (
    OPEN,
    Branch,
    Change,
    FaultMode,
    Parameter,
    Segment,
    Severity,
    Shows,
    becomes,
    fixed,
    ohmic,
)
from diagnose.loops.kinds.rtd import other_nominal
from diagnose.loops.kinds.temperature import TemperatureInput, broken, unplugged
from diagnose.loops.rtd_tables import slope, temperature

OUTPUT, IDLE = 1e-8, 1e-12
"""Conductance beside a current source, S; what is left of it in a channel that drives nothing."""

GIVE = 0.2
"""Volts beyond its limit at which a current source drives nothing any more."""

LOST = -0.25
"""Signal below which no element can be: a lead of the compensation is open, V."""

PULL = 1.2
"""Where a four-wire card draws an open sensing lead to, as a share of the compliance."""


def _source(back: str, out: str, limit: str) -> Branch:
    """Excitation out of ``out`` up to a voltage over ``back``, beyond which it gives way."""

    def beyond(q: Any) -> tuple[Any, Any]:
        steep = q.alive * q.excitation / GIVE
        return _beside(q) + steep, _driven(q) + steep * getattr(q, limit)

    return Branch(
        back,
        out,
        (
            Segment("open", beyond, lambda q: -getattr(q, limit)),
            Segment("driving", lambda q: (_beside(q), _driven(q))),
        ),
    )


def _beside(q: Any) -> Any:
    return q.alive * OUTPUT + IDLE


def _driven(q: Any) -> Any:
    return q.alive * q.excitation * (1 + q.excitation_error)


def _bent(q: Any, ohms: Any) -> tuple[Any, Any]:
    """What a card makes of ohms; the configured end where no element can be."""
    t = temperature(ohms / q.nominal)
    steep = TemperatureInput.steepness(q) / (q.nominal * slope(t))
    lost = (ohms > q.compliance / q.excitation) | (ohms < LOST / q.excitation)
    return broken(q, lost, TemperatureInput.fraction(q, t), steep)


class RtdCard(TemperatureInput):
    """What the cards for two, three and four wires have in common."""

    senses = True
    parameters = (
        *TemperatureInput.parameters,
        Parameter("nominal", "ohm", "element that it is set for", 100.0, least=10, most=2000),
        Parameter("excitation", "A", "through the element", 1e-3, 0.0005, least=1e-5, most=1e-2),
        Parameter(
            "compliance", "V", "most that it can give", 3.0, 0.3, least=0.5, most=30, kept=True
        ),
        Parameter("excitation_error", "1", "relative", 0.0, typed=False),
        Parameter("alive", "1", "1 while the excitation works", 1.0, typed=False),
    )
    shows = Shows(
        "value",
        lambda q, process: (1 / q.excitation, -getattr(q, "allowance", 0.0)),
        accuracy=0.0025,
        unit="degC",
        scale=lambda q: (q.low, q.high),
        bend=_bent,
    )
    modes = (
        *TemperatureInput.modes,
        FaultMode(
            "excitation dead",
            "channel drives no current",
            (fixed("alive", 0.0),),
            0.5,
            favoured={"lightning": 5},
            remedy="move the sensor to a spare channel; renew the card",
            minutes=40,
        ),
        FaultMode(
            "excitation off",
            "channel drives the wrong current",
            (becomes("excitation_error"),),
            0.3,
            Severity("error of the current", "1", -0.15, 0.15, logarithmic=False),
            remedy="read the current in series; calibrate or renew the card",
            minutes=40,
        ),
        FaultMode(
            "set for another element",
            "channel set for another nominal value",
            (Change("nominal", other_nominal),),
            0.3,
            favoured={"work": 8},
            remedy="compare the sensor type in the settings with the sheet and set the right one",
            minutes=20,
        ),
    )
    actions = (unplugged(fixed("alive", 0.0)),)


class RtdInput(RtdCard, name="rtd_input"):
    """A card for three wires: equal currents into ``a`` and ``b``, both back over ``c``.

    What it shows follows the voltage from ``a`` to ``b``, in which equal drops in the two leads
    cancel.  With ``c`` open the source at ``b`` gives way at its low limit and takes the current.
    """

    title = "three-wire input"
    pins = ("a", "b", "c")
    references = ("third",)
    parameters = (
        *RtdCard.parameters,
        Parameter("compensation_limit", "V", "most at b", 0.5, 0.3, least=0.05, most=30, kept=True),
        Parameter("bridge", "S", "between b and c at the card", 0.0, typed=False),
    )
    branches = (
        _source("c", "a", "compliance"),
        _source("c", "b", "compensation_limit"),
        Branch("a", "b", ohmic("input_resistance")),
        Branch("b", "c", (Segment("conducting", lambda q: (q.bridge, 0)),)),
    )
    modes = (
        *RtdCard.modes,
        FaultMode(
            "wired as two-wire",
            "third lead left off and b bridged to c at the card",
            (fixed("bridge", 100.0), fixed("resistance", OPEN, of="third")),
            0.2,
            favoured={"work": 10},
            remedy="take the bridge out and land the third lead",
            minutes=20,
        ),
    )


class RtdInputTwoWire(RtdCard, name="rtd_input_two_wire"):
    """A card for two wires: the leads count as part of the element, less a fixed ``allowance``."""

    title = "two-wire input"
    pins = ("a", "b")
    parameters = (
        *RtdCard.parameters,
        Parameter("allowance", "ohm", "taken off for the leads", 0.0, least=0, most=1e3),
    )
    branches = (_source("b", "a", "compliance"), Branch("a", "b", ohmic("input_resistance")))


def _sensing(q: Any) -> tuple[Any, Any]:
    return 1 / q.input_resistance, -q.alive * PULL * q.compliance / q.input_resistance


class RtdInputFourWire(RtdCard, name="rtd_input_four_wire"):
    """A card for four wires: current over one pair, voltage over the other."""

    title = "four-wire input"
    pins = ("plus", "minus", "out", "back")
    parameters = tuple(
        replace(item, default=1e9) if item.name == "input_resistance" else item
        for item in RtdCard.parameters
    )
    branches = (
        _source("back", "out", "compliance"),
        Branch(
            "plus",
            "minus",
            (Segment("sensing", _sensing),),
        ),
    )
