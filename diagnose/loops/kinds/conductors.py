"""Everything that only conducts: cores, terminations, links, fuses, limiters, resistors."""

from typing import ClassVar

from diagnose.loops.choices import numbered
from diagnose.loops.conductor_tables import CONDUCTORS, core_resistance
from diagnose.loops.facts import CABLE, CONDUCTOR, Fact
from diagnose.loops.kind import (
    OPEN,
    Action,
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

CONTACT = Severity("resistance", "ohm", 20, 100e3)
"""A bad joint; above it the joint counts as open."""


def _open(title: str, rate: float, remedy: str, **facts: float) -> FaultMode:
    return FaultMode(
        "open",
        title,
        (fixed("resistance", OPEN),),
        rate,
        symptoms={"erratic": 0.05},
        favoured=facts,
        remedy=remedy,
        minutes=20,
    )


def _bad_contact(title: str, rate: float, remedy: str, **facts: float) -> FaultMode:
    return FaultMode(
        "high resistance",
        title,
        (becomes("resistance"),),
        rate,
        CONTACT,
        symptoms={"erratic": 0.5},
        favoured=facts,
        remedy=remedy,
        minutes=20,
    )


class Core(Kind, name="core"):
    """One conductor of a cable."""

    title = "core"
    symbol = "wire"
    pins = ("a", "b")
    carries_loop = True
    clamped = True
    facts: ClassVar[tuple[Fact, ...]] = CABLE
    copper = "resistance"
    sources = CONDUCTOR
    derived = "resistance"
    choices: ClassVar[dict[str, dict[str, float]]] = {"conductor": numbered(tuple(CONDUCTORS))}
    parameters: ClassVar[tuple[Parameter, ...]] = (
        Parameter("resistance", "ohm", "end to end", None, tolerance=0.06, least=1e-4, most=1e5),
    )
    branches = (Branch("a", "b", ohmic("resistance")),)
    modes: ClassVar[tuple[FaultMode, ...]] = (
        _open("core broken", 0.4, "use a proved spare core, or renew it", work=2, lightning=2),
        _bad_contact("core damaged", 0.2, "use a proved spare core, or renew it", work=2, rain=2),
    )

    @classmethod
    def derive(cls, values: dict[str, object]) -> dict[str, object]:
        """Resistance from length, area and temperature where it is not given."""
        return core_resistance(values)


class CommonWire(Core, name="common_wire"):
    """The wire that ties a receiver's common to the reference; earth currents can shift it."""

    title = "common wire"
    clamped = False
    parameters = (
        *Core.parameters,
        Parameter("emf", "V", "voltage picked up along the wire", 0.0, typed=False),
    )
    branches = (
        Branch(
            "a",
            "b",
            (Segment("conducting", lambda q: (1 / q.resistance, -q.emf / q.resistance)),),
        ),
    )
    modes = (
        _open("common wire open", 0.5, "remake the common wire", work=3),
        FaultMode(
            "shifted",
            "common shifted by a stray voltage",
            (becomes("emf"),),
            0.4,
            Severity("shift", "V", -1.5, 1.5, logarithmic=False),
            symptoms={"erratic": 0.3},
            favoured={"work": 2},
            hum=True,
            remedy="find the second path of the common (loose bus bar, second earth)",
            minutes=40,
        ),
    )


class SignalWire(Core, name="signal_wire"):
    """A wire of the signal bus to one receiver."""

    title = "signal wire"
    clamped = False
    modes = (_open("signal wire open", 0.5, "remake the signal wire", work=3),)


class Termination(Kind, name="termination"):
    """A wire end in its clamp."""

    title = "termination"
    symbol = "clamp"
    pins = ("terminal", "wire")
    carries_loop = True
    opens_at = True
    parameters = (
        Parameter("resistance", "ohm", "contact", 0.005, tolerance=0.5, least=1e-4, most=1e3),
    )
    branches = (Branch("terminal", "wire", ohmic("resistance")),)
    modes = (
        _open("wire out of its clamp", 0.8, "remake the termination", work=5),
        _bad_contact(
            "loose or corroded termination", 1.0, "remake the termination", work=2, rain=3
        ),
    )
    actions = (
        Action(
            "lifted",
            "wire lifted",
            (fixed("resistance", 1e12),),
            5.0,
            interrupts=True,
            cautions=("open loop",),
        ),
    )


class Link(Kind, name="link"):
    """A disconnect link or a jumper bar between two terminals."""

    title = "link"
    symbol = "link"
    pins = ("a", "b")
    carries_loop = True
    opens_at = True
    parameters = (
        Parameter("resistance", "ohm", "contact", 0.005, tolerance=0.5, least=1e-4, most=1e3),
    )
    branches = (Branch("a", "b", ohmic("resistance")),)
    modes = (
        _open("link open", 1.0, "close the link", work=6),
        _bad_contact("link not fully home", 0.8, "clean and close the link", work=3),
    )
    actions = (
        Action(
            "open",
            "link open",
            (fixed("resistance", 1e12),),
            2.0,
            interrupts=True,
            cautions=("open loop",),
        ),
    )


class Fuse(Kind, name="fuse"):
    """A fuse in its holder."""

    title = "fuse"
    symbol = "fuse"
    pins = ("a", "b")
    carries_loop = True
    opens_at = True
    parameters = (Parameter("resistance", "ohm", "cold", 1.0, tolerance=0.3, least=1e-4, most=1e3),)
    branches = (Branch("a", "b", ohmic("resistance")),)
    modes = (
        _open("fuse blown", 1.5, "find what blew it, then fit the rated one", lightning=4, work=3),
        _bad_contact("fuse holder corroded", 0.3, "clean or renew the holder", rain=2),
    )
    actions = (
        Action(
            "out",
            "fuse out",
            (fixed("resistance", 1e12),),
            2.0,
            interrupts=True,
            cautions=("open loop",),
        ),
    )


class Limiter(Kind, name="series_limiter"):
    """A series element that limits the current into the field, known by its resistance."""

    title = "series limiter"
    symbol = "resistor"
    pins = ("a", "b")
    carries_loop = True
    parameters = (
        Parameter("resistance", "ohm", "end to end", 300.0, tolerance=0.03, least=1, most=1e5),
    )
    branches = (Branch("a", "b", ohmic("resistance")),)
    modes = (
        _open("limiter blown", 1.0, "renew the limiter and find what blew it", lightning=5, work=3),
        FaultMode(
            "high resistance",
            "limiter aged or of the wrong type",
            (times("resistance"),),
            0.7,
            Severity("resistance", "ohm", 1.1, 20),
            favoured={"work": 3},
            remedy="renew the limiter with the type on the sheet",
        ),
    )


class Resistor(Kind, name="resistor"):
    """A resistor; in an input loop the one that turns current into the bus voltage."""

    title = "resistor"
    symbol = "resistor"
    pins = ("a", "b")
    carries_loop = True
    senses = True
    parameters = (
        Parameter("resistance", "ohm", "value", None, tolerance=0.001, least=1e-3, most=1e9),
    )
    branches = (Branch("a", "b", ohmic("resistance")),)
    modes = (
        FaultMode(
            "open",
            "resistor open",
            (fixed("resistance", OPEN),),
            0.3,
            symptoms={"erratic": 0.2},
            favoured={"lightning": 2},
            remedy="renew the resistor; look for the overload that opened it",
        ),
        FaultMode(
            "drift",
            "resistor off its value, or the wrong value fitted",
            (times("resistance"),),
            1.0,
            Severity("resistance", "ohm", 0.3, 2.5),
            favoured={"work": 3},
            remedy="measure it out of circuit and renew it",
        ),
        FaultMode(
            "short",
            "resistor shorted",
            (becomes("resistance"),),
            0.3,
            Severity("resistance", "ohm", 0.02, 20),
            favoured={"work": 3},
            remedy="look for solder, a strand or a jumper across it",
        ),
    )


class EarthBond(Kind, name="earth_bond"):
    """The bond between the negative of the supply and plant earth."""

    title = "earth bond"
    symbol = "wire"
    pins = ("a", "earth")
    parameters = (
        Parameter(
            "resistance", "ohm", "bond", 0.05, tolerance=0.5, least=1e-4, most=1e12, kept=True
        ),
    )
    branches = (Branch("a", "earth", ohmic("resistance")),)
    modes = (
        FaultMode(
            "open",
            "earth bond open",
            (fixed("resistance", OPEN),),
            0.3,
            symptoms={"erratic": 0.2},
            favoured={"work": 3},
            hum=True,
            remedy="restore the bond under the site's permit",
            minutes=40,
        ),
    )
