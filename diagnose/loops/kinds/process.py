"""The process side of a loop: its connection to the transmitter, and a gauge of its own."""

from diagnose.loops.kind import FaultMode, Kind, Parameter, Severity, Shows, becomes, fixed


class ProcessConnection(Kind, name="process_connection"):
    """Tapping, valves and impulse line between the process and a transmitter."""

    title = "process connection"
    references = ("to",)
    modes = (
        FaultMode(
            "blocked",
            "process connection blocked, frozen or shut",
            (fixed("hold", 1.0, of="to"), becomes("held", of="to")),
            3.0,
            Severity("value held", "1", -0.05, 1.05, logarithmic=False),
            symptoms={"frozen": 0.6},
            favoured={"frost": 5},
            remedy="have operations prove the connection clear (valves open, line not plugged)",
            minutes=60,
            group="process connection",
        ),
        FaultMode(
            "shifted",
            "process connection adds an error (leg drained, filled or leaking)",
            (becomes("sensed_shift", of="to"),),
            1.0,
            Severity("shift", "1", -0.6, 0.6, logarithmic=False),
            symptoms={"erratic": 0.1},
            favoured={"work": 3},
            remedy="have operations check leg, manifold and zero of the connection",
            minutes=60,
            group="process connection",
        ),
    )


class LocalGauge(Kind, name="local_gauge"):
    """A gauge or sight glass beside the transmitter, with its own connection."""

    title = "local gauge"
    symbol = "instrument"
    parameters = (
        Parameter("accuracy", "1", "limit of error, fraction of range", 0.02, least=1e-4, most=0.5),
        Parameter("hold", "1", "1 while it stands still", 0.0, typed=False),
        Parameter("held", "1", "where it stands", 0.0, typed=False),
    )
    shows = Shows(
        "value",
        lambda q, process: (0.0, q.hold * q.held + (1 - q.hold) * process),
        0.02,
        0.005,
        marked=True,
    )
    modes = (
        FaultMode(
            "stuck",
            "local gauge stuck, plugged or shut off: it tells nothing of the process",
            (fixed("hold", 1.0), becomes("held")),
            0.5,
            Severity("value shown", "1", 0.0, 1.0, logarithmic=False),
            # Nobody complains of the gauge: the loop is said to read wrong against it.
            symptoms={"reads low": 0.1, "reads high": 0.1},
            favoured={"frost": 3},
            remedy="have operations prove the gauge (cocks open, blown down, moves when tapped)",
            minutes=15,
            group="process connection",
        ),
    )
