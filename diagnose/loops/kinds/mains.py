"""The mains that feeds an alternating loop, and what a live neighbour lends to an open wire.

Alternating loops are networks of rms values that are all in phase: magnitudes only (common
practice, no source).
"""

from diagnose.loops.kind import (
    Action,
    Branch,
    FaultMode,
    Kind,
    Parameter,
    Segment,
    Severity,
    becomes,
    everywhere,
    fixed,
    ohmic,
)


class MainsSupply(Kind, name="mains_supply"):
    """Alternating volts, rms, behind a small resistance."""

    title = "mains feed"
    symbol = "source"
    pins = ("live", "neutral")
    alternating = True
    parameters = (
        Parameter("voltage", "V", "rms voltage", None, tolerance=0.06, least=1, most=1000),
        Parameter("source_resistance", "ohm", "of the feed", 0.5, least=1e-3, most=1e9),
    )
    branches = (
        Branch(
            "live",
            "neutral",
            (
                Segment(
                    "feeding",
                    lambda q: (1 / q.source_resistance, -q.voltage / q.source_resistance),
                ),
            ),
        ),
    )
    modes = (
        FaultMode(
            "dead",
            "feed gives no voltage",
            (fixed("voltage", 0.0),),
            0.8,
            favoured={"shared supply": 20, "lightning": 2},
            remedy="look at its breaker: why it opened comes before it is closed again; "
            "other circuits on it are dead as well",
            minutes=20,
        ),
        FaultMode(
            "low",
            "voltage of the feed is low",
            (becomes("voltage"),),
            0.3,
            Severity("voltage", "V", 90.0, 200.0, logarithmic=False),
            favoured={"shared supply": 20},
            remedy="have the feed and its neutral checked; other circuits on it suffer as well",
            minutes=30,
        ),
    )
    actions = (
        Action(
            "off",
            "feed off, isolated, locked and proved dead",
            (
                fixed("voltage", 0.0),
                fixed("source_resistance", 1e9),
                everywhere("direct", 1.0),
            ),
            8.0,
            interrupts=True,
            cautions=("de-energise",),
        ),
    )


class Coupling(Kind, name="stray_coupling"):
    """Capacitance to a live neighbour in the same cable: ghost volts on a wire that is open.

    It is told as a resistance, rms and in phase; nobody sees it while a load holds the wire.
    """

    title = "coupling to a live neighbour"
    latent = True
    pins = ("live", "core")
    parameters = (
        Parameter("impedance", "ohm", "magnitude", 25e6, 0.3, least=1e4, most=1e12, kept=True),
    )
    branches = (Branch("live", "core", ohmic("impedance")),)
