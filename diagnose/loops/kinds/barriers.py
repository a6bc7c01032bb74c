"""Shunt-diode barriers: one channel that feeds the field, one that lets its current return.

A channel is a fuse and a resistor in series, with a chain of Zener diodes from between them to the
barrier earth.  The few ohms of the fuse are counted with the end-to-end resistance, so that what
the diodes draw comes in at one terminal.  A shorted chain is no mode of its own: it blows the fuse.
"""

from typing import Any

from diagnose.loops.facts import SOURCE
from diagnose.loops.kind import (
    OPEN,
    Branch,
    FaultMode,
    Kind,
    Parameter,
    Segment,
    Severity,
    becomes,
    fixed,
    ohmic,
    times,
)

LEAKING = Severity("resistance of the diodes", "ohm", 200, 200e3)

_DIODES = (
    Parameter("clamp", "V", "voltage at which the diodes take over", 27.0, least=1, most=1000),
    Parameter("clamp_slope", "ohm", "slope of the diodes above it", 10.0, least=0.1, most=1e6),
    Parameter("leak", "ohm", "diodes at rest", 10e6, least=1e3, most=1e12),
    Parameter("forward_drop", "V", "drop of the diodes backwards", 0.7, least=0.1, most=5),
)


def _forward(q: Any) -> tuple[Any, Any]:
    return 1 / q.clamp_slope + 1 / q.leak, q.forward_drop / q.clamp_slope


def _clamping(q: Any) -> tuple[Any, Any]:
    return 1 / q.clamp_slope + 1 / q.leak, -q.clamp / q.clamp_slope


def _diodes(pin: str) -> Branch:
    """The chain from a terminal to the barrier earth."""
    return Branch(
        pin,
        "earth",
        (
            Segment("backwards", _forward, lambda q: -q.forward_drop),
            Segment("blocking", lambda q: (1 / q.leak, 0), lambda q: q.clamp),
            Segment("clamping", _clamping),
        ),
        carries=False,
    )


_FAULTS = (
    FaultMode(
        "fuse blown",
        "fuse of the channel blown, or the channel open",
        (fixed("resistance", OPEN),),
        2.0,
        favoured={"work": 4, "lightning": 5},
        remedy="find what blew it (supply too high, a slipped probe), then renew the whole "
        "barrier with the type on the sheet; its fuse is not there to be replaced",
        minutes=40,
    ),
    FaultMode(
        "high resistance",
        "end-to-end resistance too high: aged, or the wrong type fitted",
        (times("resistance"),),
        1.0,
        Severity("resistance", "ohm", 1.1, 20),
        symptoms={"erratic": 0.1},
        favoured={"work": 4},
        remedy="compare the type with the sheet and renew the barrier",
        minutes=40,
    ),
    FaultMode(
        "diodes leak",
        "diodes of the barrier let current to the barrier earth",
        (becomes("leak"),),
        1.0,
        LEAKING,
        symptoms={"erratic": 0.1},
        favoured={"lightning": 5},
        remedy="check that the supply stays below the working voltage of the barrier, then renew "
        "the barrier",
        minutes=40,
    ),
)


class ShuntDiodeBarrier(Kind, name="shunt_diode_barrier"):
    """A barrier channel: fuse and resistor in series, diodes from its safe side to its earth."""

    title = "barrier channel"
    cautions = ("intrinsic safety",)
    pins = ("safe", "field", "earth")
    carries_loop = True
    facts = SOURCE
    parameters = (
        Parameter("resistance", "ohm", "end to end", 330.0, tolerance=0.03, least=1, most=1e5),
        *_DIODES,
    )
    branches = (Branch("safe", "field", ohmic("resistance")), _diodes("safe"))
    modes = _FAULTS


class BarrierReturn(Kind, name="barrier_return"):
    """A return channel: current from the field passes a series diode, none goes back out."""

    title = "barrier return channel"
    cautions = ("intrinsic safety",)
    pins = ("field", "safe", "earth")
    carries_loop = True
    facts = SOURCE
    parameters = (
        Parameter("resistance", "ohm", "end to end", 25.0, tolerance=0.05, least=1, most=1e5),
        Parameter("drop", "V", "drop of the series diode", 0.9, tolerance=0.1, least=0, most=5),
        Parameter("blocks", "ohm", "series diode backwards", 100e6, least=1e3, most=1e12),
        *_DIODES,
    )
    branches = (
        Branch(
            "field",
            "safe",
            (
                Segment("blocking", lambda q: (1 / q.blocks, 0), lambda q: q.drop),
                Segment(
                    "conducting",
                    lambda q: (1 / q.resistance + 1 / q.blocks, -q.drop / q.resistance),
                ),
            ),
        ),
        _diodes("field"),
    )
    modes = (
        *_FAULTS,
        FaultMode(
            "diode shorted",
            "series diode shorted: the signal stays right, the protection is gone",
            (fixed("drop", 0.0), fixed("blocks", 10.0)),
            0.2,
            favoured={"lightning": 5},
            remedy="renew the barrier: nothing holds current back from the field any more",
            minutes=40,
        ),
    )


class BarrierEarth(Kind, name="barrier_earth"):
    """The bond from the earth rail of the barriers to plant earth."""

    title = "barrier earth"
    symbol = "wire"
    pins = ("rail", "earth")
    parameters = (
        Parameter("resistance", "ohm", "bond", 0.1, tolerance=0.5, least=1e-4, most=1e3, kept=True),
    )
    branches = (Branch("rail", "earth", ohmic("resistance")),)
    modes = (
        FaultMode(
            "lost",
            "barrier earth lost: a safety defect, whatever the signal does",
            (fixed("resistance", OPEN),),
            0.6,
            favoured={"work": 5},
            hum=True,
            remedy="stop until the field side is disconnected under the site's permit; then "
            "restore the bond and have it measured against the site's figure",
            minutes=60,
        ),
        FaultMode(
            "high resistance",
            "barrier earth bad: a safety defect, whatever the signal does",
            (becomes("resistance"),),
            0.6,
            Severity("resistance", "ohm", 2, 2e3),
            favoured={"work": 3, "rain": 2},
            hum=True,
            remedy="stop until the field side is disconnected under the site's permit; then "
            "remake the bond and have it measured against the site's figure",
            minutes=60,
        ),
    )


class EarthStrap(Kind, name="earth_strap"):
    """A strap from the earth rail of a barrier to the negative bar; nobody opens it for a meter."""

    title = "earth strap"
    symbol = "wire"
    pins = ("a", "b")
    carries_loop = True
    parameters = (
        Parameter(
            "resistance", "ohm", "strap", 0.005, tolerance=0.5, least=1e-4, most=1e3, kept=True
        ),
    )
    branches = (Branch("a", "b", ohmic("resistance")),)
    modes = (
        FaultMode(
            "open",
            "strap off",
            (fixed("resistance", OPEN),),
            0.4,
            symptoms={"erratic": 0.1},
            favoured={"work": 6},
            hum=True,
            remedy="stop until the field side is disconnected under the site's permit; then "
            "restore the strap",
            minutes=40,
        ),
        FaultMode(
            "high resistance",
            "strap loose or corroded",
            (becomes("resistance"),),
            0.5,
            Severity("resistance", "ohm", 20, 100e3),
            symptoms={"erratic": 0.5},
            favoured={"work": 3, "rain": 2},
            hum=True,
            remedy="stop until the field side is disconnected under the site's permit; then "
            "remake the strap",
            minutes=40,
        ),
    )
