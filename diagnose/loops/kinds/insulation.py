"""Insulation that should not conduct: between cores, to earth, in surge protectors."""

from diagnose.loops.kind import (
    INTACT,
    Branch,
    FaultMode,
    Kind,
    Parameter,
    Segment,
    Severity,
    becomes,
    fixed,
    ohmic,
)

LEAK = Severity("resistance", "ohm", 100, 300e3)
SHORT = Severity("resistance", "ohm", 0.05, 20)

DRY = (
    "dry, clean, seal where water came in (gland, cover); change a bad cable to proved spare cores"
)
WET = "hot work", "no insulation tester"
"""Beside wet insulation people reach for hot air to dry it and an insulation tester to prove it."""


class Insulation(Kind, name="insulation"):
    """Insulation between two conductors of one place or cable."""

    title = "insulation"
    symbol = "resistor"
    latent = True
    pins = ("a", "b")
    parameters = (Parameter("resistance", "ohm", "insulation", INTACT, least=1e3, most=1e15),)
    branches = (Branch("a", "b", ohmic("resistance")),)
    modes = (
        FaultMode(
            "leakage",
            "moisture or damage lets current across",
            (becomes("resistance"),),
            2.0,
            LEAK,
            symptoms={"erratic": 0.3},
            favoured={"rain": 6, "lightning": 2},
            remedy=DRY,
            minutes=40,
            cautions=WET,
        ),
        FaultMode(
            "short",
            "conductors touch",
            (becomes("resistance"),),
            0.6,
            SHORT,
            symptoms={"erratic": 0.1},
            favoured={"work": 3, "rain": 2},
            remedy="separate the conductors; look for a strand or a crushed cable",
            minutes=40,
        ),
    )


class EarthInsulation(Kind, name="earth_insulation"):
    """Insulation between a conductor and plant earth, whose potential may differ in the field."""

    title = "insulation to earth"
    symbol = "resistor"
    latent = True
    pins = ("line", "earth")
    parameters = (
        Parameter("resistance", "ohm", "insulation", INTACT, least=1e3, most=1e15),
        Parameter("shift", "V", "field earth above the earth of the loop", 0.0, typed=False),
    )
    branches = (
        Branch(
            "line",
            "earth",
            (Segment("conducting", lambda q: (1 / q.resistance, -q.shift / q.resistance)),),
        ),
    )
    modes = (
        FaultMode(
            "leakage",
            "leakage to earth",
            (becomes("resistance"),),
            1.0,
            LEAK,
            symptoms={"erratic": 0.3},
            favoured={"rain": 6},
            hum=True,
            remedy=DRY,
            minutes=40,
            cautions=WET,
        ),
        FaultMode(
            "earthed",
            "conductor earthed, perhaps at another potential",
            (fixed("resistance", 1.0), becomes("shift")),
            0.6,
            Severity("earth difference", "V", -2.0, 2.0, logarithmic=False),
            symptoms={"erratic": 0.2},
            favoured={"work": 3},
            hum=True,
            remedy="find the strand, shield or chafe that earths it",
            minutes=40,
        ),
    )


class SurgeProtector(Kind, name="surge_protector"):
    """A surge protector from a conductor to earth."""

    title = "surge protector"
    pins = ("line", "earth")
    parameters = (Parameter("resistance", "ohm", "at rest", INTACT, least=1e3, most=1e15),)
    branches = (Branch("line", "earth", ohmic("resistance")),)
    modes = (
        FaultMode(
            "short",
            "protector failed to earth",
            (becomes("resistance"),),
            0.3,
            Severity("resistance", "ohm", 0.05, 50),
            favoured={"lightning": 20},
            hum=True,
            remedy="lift the protector first: it is the quickest suspect; renew it",
            minutes=15,
        ),
        FaultMode(
            "leakage",
            "protector leaks to earth",
            (becomes("resistance"),),
            0.3,
            Severity("resistance", "ohm", 200, 200e3),
            favoured={"lightning": 10},
            hum=True,
            remedy="lift the protector first: it is the quickest suspect; renew it",
            minutes=15,
        ),
    )
