"""Output card channels that switch a field circuit, and the suppressor across their contacts."""

from math import pi, sqrt
from typing import Any, ClassVar

from diagnose.errors import QuantityError
from diagnose.loops.facts import Fact
from diagnose.loops.kind import (
    INTACT,
    Branch,
    FaultMode,
    Kind,
    Parameter,
    Segment,
    Severity,
    Shows,
    becomes,
    fixed,
    times,
)
from diagnose.quantities import parse_quantity


def _channel(q: Any) -> tuple[Any, Any]:
    return q.closed / q.on_resistance + (1 - q.closed) / q.off_resistance, 0


_STUCK_OFF = FaultMode(
    "stuck off",
    "channel does not switch on, its lamp is lit",
    (fixed("failed", 1.0), fixed("failed_closed", 0.0)),
    2.0,
    favoured={"lightning": 4},
    remedy="prove volts at the feed and none at the output, then change the channel or the card",
    minutes=30,
)
_STUCK_ON = FaultMode(
    "stuck on",
    "channel does not switch off: its output stage has shorted",
    (fixed("failed", 1.0), fixed("failed_closed", 1.0)),
    1.0,
    favoured={"lightning": 4, "work": 2},
    remedy="change the channel or the card; look for the short or surge that failed it",
    minutes=30,
)


def _forced(name: str, told: float, title: str, rate: float) -> FaultMode:
    return FaultMode(
        f"forced {name}",
        title,
        (fixed("forced", 1.0), fixed("forced_told", told)),
        rate,
        favoured={"work": 4},
        remedy="look in the logic what holds this channel; an interlock or permissive that is not "
        "met is a process matter for operations; a force is removed by authority",
        minutes=10,
    )


_FORCED = (
    _forced("on", 1.0, "channel held on against the command: a force, or its last state kept", 0.6),
    _forced(
        "off",
        0.0,
        "channel held off against the command: a force, or an interlock or permissive not met",
        2.0,
    ),
)


_DEAD = FaultMode(
    "card dead",
    "card is told nothing, by lost supply, lost link or its own failure: its lamps are dark",
    (fixed("forced", 1.0), fixed("forced_told", 0.0)),
    1.0,
    favoured={"lightning": 4, "work": 3},
    remedy="look at the card's own lamps, its supply and its link, and whether its other channels "
    "work; then change the card",
    minutes=30,
)


class DiscreteOutput(Kind, name="discrete_output"):
    """A transistor channel that switches the positive; some current leaks when it is off.

    Its lamp tells what the card's logic was told, not what the output stage does.
    """

    title = "output channel"
    pins = ("feed", "output")
    references = ("from",)
    follows = ("from",)
    carries_loop = True
    driven = ("told", "closed")
    parameters: ClassVar[tuple[Parameter, ...]] = (
        Parameter("on_resistance", "ohm", "when on", 0.5, tolerance=0.5, least=1e-3, most=1e4),
        Parameter("off_resistance", "ohm", "when off", 240e3, tolerance=0.5, least=1e3, most=1e12),
        Parameter("told", "1", "what the logic of the card was told", 0.0, typed=False),
        Parameter("closed", "1", "1 while the output stage conducts", 0.0, typed=False),
        Parameter("forced", "1", "the channel is forced", 0.0, typed=False),
        Parameter("forced_told", "1", "what it is forced to", 0.0, typed=False),
        Parameter("failed", "1", "the output stage has failed", 0.0, typed=False),
        Parameter("failed_closed", "1", "what it does then", 0.0, typed=False),
    )
    branches = (Branch("feed", "output", (Segment("conducting", _channel),)),)
    shows = Shows("state", lambda q, given: (0.0, q.told - 0.5), 0.02, title="own display")
    modes: ClassVar[tuple[FaultMode, ...]] = (
        _STUCK_OFF,
        _STUCK_ON,
        _DEAD,
        FaultMode(
            "leakage",
            "output stage leaks when off",
            (becomes("off_resistance"),),
            0.5,
            Severity("resistance when off", "ohm", 100, 20e3),
            remedy="change the channel or the card",
            minutes=30,
        ),
        FaultMode(
            "high resistance",
            "output stage drops too much when on",
            (becomes("on_resistance"),),
            0.4,
            Severity("resistance when on", "ohm", 20, 20e3),
            symptoms={"erratic": 0.2},
            remedy="change the channel or the card",
            minutes=30,
        ),
        *_FORCED,
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """What the logic is told, and whether the output stage conducts."""
        told = q.forced * q.forced_told + (1 - q.forced) * process
        return {"told": told, "closed": q.failed * q.failed_closed + (1 - q.failed) * told}


class TriacOutput(DiscreteOutput, name="triac_output"):
    """A triac channel that switches the live conductor; rms values, all in phase."""

    parameters = (
        Parameter("on_resistance", "ohm", "when on", 30.0, tolerance=0.5, least=1e-3, most=1e4),
        Parameter("off_resistance", "ohm", "when off", 1e6, tolerance=0.5, least=1e3, most=1e12),
        *DiscreteOutput.parameters[2:],
    )
    modes = (
        _STUCK_OFF,
        _STUCK_ON,
        _DEAD,
        FaultMode(
            "leakage",
            "triac leaks when off",
            (becomes("off_resistance"),),
            1.0,
            Severity("resistance when off", "ohm", 2e3, 150e3),
            remedy="change the channel; where the leak is within its rating, fit a bleeder "
            "resistor across the load",
            minutes=30,
        ),
        FaultMode(
            "high resistance",
            "output stage drops too much when on",
            (becomes("on_resistance"),),
            0.4,
            Severity("resistance when on", "ohm", 500, 200e3),
            symptoms={"erratic": 0.2},
            remedy="change the channel or the card",
            minutes=30,
        ),
        *_FORCED,
    )


_SUPPRESSOR_KEYS = {
    "capacitance": ("F", "22 nF", 1e-12, 1e-3),
    "series_resistance": ("ohm", "100 ohm", 0.0, 1e6),
    "frequency": ("Hz", "50 Hz", 1.0, 1e3),
}


def suppressor_impedance(capacitance: float, series_resistance: float, frequency: float) -> float:
    """Magnitude of a resistor and a capacitor in series, ohm, from F, ohm and Hz."""
    return sqrt(series_resistance**2 + (2 * pi * frequency * capacitance) ** -2)


def _typed(values: dict[str, Any], key: str) -> float:
    unit, usual, least, most = _SUPPRESSOR_KEYS[key]
    value = parse_quantity(str(values.get(key, usual)), unit)
    if not least <= value <= most:
        text = str(values[key])[:40]
        raise QuantityError(text, f"{key} '{text}' is out of reason; write for example {usual}")
    return value


class Suppressor(Kind, name="rc_suppressor"):
    """Resistor and capacitor across a contact; alternating current leaks through them."""

    title = "RC suppressor"
    pins = ("a", "b")
    sources = tuple(
        Fact(name, unit, f"such as {usual}", most, least=least)
        for name, (unit, usual, least, most) in _SUPPRESSOR_KEYS.items()
    )
    derived = "impedance"
    parameters = (
        Parameter("impedance", "ohm", "magnitude", 145e3, tolerance=0.2, least=1, most=1e12),
        Parameter("leak", "ohm", "for direct current", INTACT, least=1, most=1e15),
        Parameter("direct", "1", "1 while the circuit is one of direct current", 0.0, typed=False),
    )
    branches = (
        Branch(
            "a",
            "b",
            (Segment("conducting", lambda q: ((1 - q.direct) / q.impedance + 1 / q.leak, 0)),),
        ),
    )
    modes = (
        FaultMode(
            "leakage",
            "suppressor leaks more than the load lets go at, or too large a one is fitted",
            (times("impedance"),),
            2.0,
            Severity("impedance", "ohm", 0.08, 0.6),
            favoured={"work": 3},
            remedy="fit the suppressor of the sheet; where it must stay, a bleeder resistor across "
            "the load",
            minutes=20,
        ),
        FaultMode(
            "short",
            "capacitor shorted: its resistor bridges the contact",
            (becomes("leak"),),
            0.4,
            Severity("resistance", "ohm", 20, 500),
            favoured={"lightning": 5},
            remedy="take the suppressor off; it is the quickest suspect; renew it",
            minutes=20,
        ),
    )

    @classmethod
    def derive(cls, values: dict[str, Any]) -> dict[str, Any]:
        """Impedance from capacitance, series resistance and frequency where it is not given."""
        given = [key for key in _SUPPRESSOR_KEYS if key in values]
        if not given:
            return values
        if "impedance" in values:
            raise QuantityError(
                "impedance", f"impedance and {given[0]} are both given; keep the one known better"
            )
        rest = {key: value for key, value in values.items() if key not in _SUPPRESSOR_KEYS}
        found = {key: _typed(values, key) for key in _SUPPRESSOR_KEYS}
        return {**rest, "impedance": suppressor_impedance(**found)}
