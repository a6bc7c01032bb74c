"""What hangs on an air line: tubes, and gauges with scales of their own."""

from diagnose.loops.kind import Kind, Parameter, Severity, Shows, becomes, fixed
from diagnose.loops.kinds.pneumatics import MOST, air_fault, pressure


class PressureGauge(Kind, name="pressure_gauge"):
    """A gauge on an air line, with a scale of its own."""

    title = "gauge"
    symbol = "instrument"
    references = ("from",)
    follows = ("from",)
    parameters = (
        Parameter("low", "Pa", "bottom of the scale", 0.0, least=-1e5, most=MOST),
        Parameter("high", "Pa", "top of the scale", 160e3, least=1e3, most=MOST),
        Parameter("accuracy", "1", "limit of error, of the scale", 0.016, least=1e-4, most=0.5),
    )
    shows = Shows(
        "value",
        lambda q, given: (0.0, (given - q.low) / (q.high - q.low)),
        accuracy=0.016,
        resolution=0.005,
        least=0.0,
        most=1.05,
        title="own display",
        unit="Pa",
        scale=lambda q: (q.low, q.high),
    )


class Tubing(Kind, name="tubing"):
    """The tube that brings a pressure to where it works."""

    title = "tubing"
    references = ("from",)
    follows = ("from",)
    parameters = (
        Parameter("lost", "1", "share of the pressure that leaks away", 0.0, typed=False),
        Parameter("hold", "1", "1 while nothing passes", 0.0, typed=False),
        Parameter("held", "Pa", "pressure shut in behind the block", 0.0, typed=False),
    )
    signal = pressure(lambda q, given: q.hold * q.held + (1 - q.hold) * (1 - q.lost) * given)
    modes = (
        air_fault(
            "leak",
            "tube or fitting leaks",
            (becomes("lost"),),
            1.2,
            Severity("share lost", "1", 0.05, 1.0, logarithmic=False),
            symptoms={"erratic": 0.1},
            favoured={"work": 4},
            remedy="soap the fittings, tighten or renew",
            minutes=20,
        ),
        air_fault(
            "blocked",
            "tube blocked, pinched or frozen",
            (fixed("hold", 1.0), becomes("held")),
            0.6,
            Severity("pressure held", "Pa", 0.0, 105e3, logarithmic=False),
            symptoms={"frozen": 0.7},
            favoured={"frost": 8, "work": 2},
            remedy="vent it, take both ends off and blow it through; look for water, ice, a kink",
            minutes=30,
        ),
    )
