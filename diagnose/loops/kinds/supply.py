"""Direct-current supply with source resistance and current limit."""

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

LIMIT_SLOPE = 1e-6
"""Residual conductance of the current limit, S: keeps the law rising."""


class Supply(Kind, name="supply"):
    """Holds its voltage behind a small resistance until its current limit is reached."""

    title = "supply"
    symbol = "source"
    pins = ("plus", "minus")
    parameters = (
        Parameter("voltage", "V", "open-circuit voltage", None, tolerance=0.02, least=0, most=1000),
        Parameter("source_resistance", "ohm", "output resistance", 0.5, least=1e-3, most=1e9),
        Parameter("current_limit", "A", "current limit", 1.0, least=1e-3, most=100),
    )
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment(
                    "limited",
                    lambda q: (
                        LIMIT_SLOPE,
                        -q.current_limit
                        - LIMIT_SLOPE * (q.voltage - q.source_resistance * q.current_limit),
                    ),
                    lambda q: q.voltage - q.source_resistance * q.current_limit,
                ),
                Segment(
                    "regulating",
                    lambda q: (1 / q.source_resistance, -q.voltage / q.source_resistance),
                ),
            ),
        ),
    )
    modes = (
        FaultMode(
            "dead",
            "supply gives no voltage",
            (fixed("voltage", 0.0),),
            0.5,
            favoured={"shared supply": 20, "lightning": 2},
            remedy="check the feed and the supply itself; other loops on it are dead as well",
            minutes=30,
        ),
        FaultMode(
            "low",
            "supply voltage is low",
            (becomes("voltage"),),
            1.0,
            Severity("voltage", "V", 8.0, 23.3, logarithmic=False),
            favoured={"shared supply": 20},
            remedy="check load and setting of the supply; other loops on it clip as well",
            minutes=30,
        ),
        FaultMode(
            "sagging",
            "supply sags under load",
            (becomes("source_resistance"),),
            0.3,
            Severity("source resistance", "ohm", 20, 5e3),
            symptoms={"erratic": 0.3},
            favoured={"shared supply": 10},
            hum=True,
            remedy="check the supply's capacitors, its connections and any redundant half",
            minutes=30,
        ),
    )
    actions = (
        Action(
            "off",
            "supply off and isolated",
            (fixed("voltage", 0.0), fixed("source_resistance", 1e9)),
            8.0,
            interrupts=True,
            cautions=("de-energise",),
        ),
    )
