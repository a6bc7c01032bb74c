"""Solenoid coils, and the diode that takes the surge of those for direct current.

An armature that has been pulled in stays until the volts fall to the drop-out; one that has been
let go moves at the pull-in.  So the command tells which of the two a coil must be judged by.

The winding of a coil for alternating current is far below its impedance; it is what ohms read.
"""

from typing import Any, ClassVar

from diagnose.loops.facts import DEVICE
from diagnose.loops.kind import (
    OPEN,
    Branch,
    Change,
    FaultMode,
    Kind,
    Parameter,
    Segment,
    Severity,
    Shows,
    becomes,
    fixed,
    ohmic,
    times,
)

_BURNT = Severity("resistance", "ohm", 0.5, 10)


def _armature_of(rated: float) -> tuple[Parameter, ...]:
    """What tells at which volts an armature moves; shares common practice, no source."""
    return (
        Parameter("rated", "V", "rated voltage", rated, least=1, most=1000),
        Parameter("pull_in", "1", "moves at this share of it", 0.75, least=0.05, most=1.0),
        Parameter("drop_out", "1", "lets go at this share", 0.25, least=0.01, most=1.0),
        Parameter("threshold", "V", "voltage that decides now", 0.0, typed=False),
        Parameter("jammed", "1", "the armature does not move", 0.0, typed=False),
    )


def _wrong(*windings: str) -> FaultMode:
    """At the same watts the resistance goes with the square of the voltage."""
    squared = tuple(Change(name, lambda nominal, s: nominal * s * s) for name in windings)
    return FaultMode(
        "wrong coil",
        "coil of the wrong voltage, or made for the other sort of current",
        (times("rated"), *squared),
        0.2,
        Severity("rated voltage", "V", 0.3, 9.0),
        favoured={"work": 15},
        remedy="compare the coil's plate with the sheet; fit the right coil",
        minutes=30,
    )


def _armature(q: Any, given: Any) -> tuple[Any, Any]:
    return 1.0, -q.threshold - 1e6 * q.jammed


class _Coil(Kind):
    """What both sorts of coil share."""

    references = ("from", "fuse")
    follows = ("from",)
    carries_loop = True
    driven = ("threshold",)
    signal = Shows("state", _armature, accuracy=0.02)

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """Pull-in while the command is on, drop-out while it is off."""
        return {"threshold": q.rated * (q.drop_out + (q.pull_in - q.drop_out) * process)}


class SolenoidCoil(_Coil, name="solenoid_coil"):
    """A coil for direct current; ``fuse`` is what a shorted one blows."""

    title = "solenoid coil"
    symbol = "coil"
    pins = ("plus", "minus")
    facts = DEVICE
    parameters: ClassVar[tuple[Parameter, ...]] = (
        Parameter("resistance", "ohm", "winding", 340.0, tolerance=0.08, least=1, most=1e6),
        *_armature_of(24.0),
    )
    branches = (Branch("plus", "minus", ohmic("resistance")),)
    modes = (
        FaultMode(
            "open",
            "coil winding open",
            (fixed("resistance", OPEN), fixed("jammed", 1.0)),
            2.0,
            symptoms={"erratic": 0.1},
            favoured={"lightning": 2},
            remedy="prove the volts at the coil, then renew it",
            minutes=30,
        ),
        FaultMode(
            "short",
            "coil burnt to a short, and the channel fuse blown by it",
            (becomes("resistance"), fixed("resistance", OPEN, of="fuse")),
            1.2,
            _BURNT,
            favoured={"lightning": 2, "work": 2, "rain": 2},
            remedy="read the winding with its wires off; renew the coil, then the fuse",
            minutes=40,
        ),
        FaultMode(
            "jammed",
            "armature does not move though the coil is fed",
            (fixed("jammed", 1.0),),
            0.6,
            remedy="feel and hear whether it clicks; clean or renew the armature tube",
            minutes=30,
        ),
        _wrong("resistance"),
    )


class AlternatingCoil(_Coil, name="alternating_coil"):
    """A coil for alternating current: an impedance when fed, a winding to the ohmmeter."""

    title = "solenoid coil"
    symbol = "coil"
    pins = ("live", "neutral")
    parameters: ClassVar[tuple[Parameter, ...]] = (
        Parameter("impedance", "ohm", "when pulled in", 6.6e3, tolerance=0.1, least=1, most=1e7),
        Parameter("winding", "ohm", "to direct current", 1.6e3, tolerance=0.08, least=1, most=1e6),
        *_armature_of(230.0),
        Parameter("direct", "1", "1 while the circuit is one of direct current", 0.0, typed=False),
    )
    branches = (
        Branch(
            "live",
            "neutral",
            (
                Segment(
                    "conducting",
                    lambda q: ((1 - q.direct) / q.impedance + q.direct / q.winding, 0),
                ),
            ),
        ),
    )
    modes = (
        FaultMode(
            "open",
            "coil winding open",
            (fixed("impedance", OPEN), fixed("winding", OPEN), fixed("jammed", 1.0)),
            2.0,
            symptoms={"erratic": 0.1},
            favoured={"lightning": 2},
            remedy="prove the volts at the coil, then renew it",
            minutes=30,
        ),
        FaultMode(
            "short",
            "coil burnt to a short, and the channel fuse blown by it",
            (becomes("winding"), becomes("impedance"), fixed("resistance", OPEN, of="fuse")),
            1.5,
            _BURNT,
            favoured={"lightning": 2, "work": 2, "rain": 2},
            remedy="read the winding with its wires off; renew the coil, then the fuse",
            minutes=40,
        ),
        FaultMode(
            "jammed",
            "armature does not seat: the coil hums, draws its inrush and runs hot",
            (times("impedance"), fixed("jammed", 1.0)),
            0.8,
            Severity("impedance", "ohm", 0.3, 0.6),
            remedy="have it commanded off before it burns; clean or renew the armature tube",
            minutes=30,
        ),
        _wrong("impedance", "winding"),
    )


class SuppressorDiode(Kind, name="suppressor_diode"):
    """A diode across a coil, that blocks while the coil is fed; ``fuse`` is what a short blows."""

    title = "suppressor diode"
    symbol = "blocking_diode"
    pins = ("plus", "minus")
    references = ("fuse",)
    parameters = (
        Parameter("drop", "V", "forward drop", 0.7, least=0.1, most=5),
        Parameter("slope", "ohm", "slope when conducting", 0.5, least=1e-3, most=1e3),
        Parameter("leak", "ohm", "when blocking", 1e9, least=1e3, most=1e15),
        Parameter("forward", "S", "conducts the right way round", 1.0, typed=False),
        Parameter("turned", "S", "conducts when turned round", 0.0, typed=False),
    )
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment(
                    "conducting",
                    lambda q: (q.forward / q.slope + 1 / q.leak, q.forward * q.drop / q.slope),
                    lambda q: -q.drop,
                ),
                Segment("blocking", lambda q: (1 / q.leak, 0), lambda q: q.drop),
                Segment(
                    "turned",
                    lambda q: (q.turned / q.slope + 1 / q.leak, -q.turned * q.drop / q.slope),
                ),
            ),
        ),
    )
    modes = (
        FaultMode(
            "short",
            "suppressor diode shorted, and the channel fuse blown by it",
            (becomes("leak"), fixed("resistance", OPEN, of="fuse")),
            0.5,
            Severity("resistance", "ohm", 0.05, 10),
            favoured={"lightning": 6, "work": 3},
            remedy="take the diode off and read it both ways; renew it, then the fuse",
            minutes=30,
        ),
        FaultMode(
            "reversed",
            "suppressor diode fitted the wrong way round, and the channel fuse blown by it",
            (
                fixed("forward", 0.0),
                fixed("turned", 1.0),
                fixed("resistance", OPEN, of="fuse"),
            ),
            0.15,
            favoured={"work": 20},
            remedy="turn the diode: its band belongs to the positive; then renew the fuse",
            minutes=30,
        ),
    )
