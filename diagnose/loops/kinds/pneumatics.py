"""From a current to the pressure on a valve: air, I/P transducer, tubing, gauges.

What has no wires follows the signals of others: pressures in Pa above the atmosphere.  Which of
these faults are common is common practice, no source.
"""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.facts import DEVICE
from diagnose.loops.kind import (
    OPEN,
    Branch,
    Change,
    FaultMode,
    Kind,
    Parameter,
    Severity,
    Shows,
    becomes,
    fixed,
    ohmic,
    times,
)

KPA_SPAN = (20e3, 100e3)
"""Pressure signal 20-100 kPa (IEC 60382)."""

PSI_SPAN = (3 * 6894.757293168361, 15 * 6894.757293168361)
"""Pressure signal 3-15 psi: 20.684-103.421 kPa, which is another span."""

LIVE_ZERO, LIVE_SPAN = 4e-3, 16e-3
"""Current at 0 % and span of a 4-20 mA signal, A."""

MOST = 2e6
"""More pressure than any instrument air has, Pa."""


def air_fault(
    name: str,
    title: str,
    changes: tuple[Change, ...],
    rate: float,
    severity: Severity | None = None,
    **rest: Any,
) -> FaultMode:
    """A fault of what works with air: nothing electrical, and repaired with the air shut."""
    group, cautions = "process connection", rest.pop("cautions", ("output", "air"))
    return FaultMode(name, title, changes, rate, severity, group=group, cautions=cautions, **rest)


def pressure(level: Any) -> Shows:
    """A pressure in Pa as a signal: ``level(q, given)`` is the pressure."""
    return Shows("value", lambda q, given: (0.0, level(q, given)), 0.0, least=0.0, most=MOST)


class FilterRegulator(Kind, name="filter_regulator"):
    """Filter and regulator that set the air for one instrument."""

    title = "filter regulator"
    parameters = (
        Parameter("pressure", "Pa", "set pressure", 140e3, tolerance=0.04, least=0, most=MOST),
    )
    signal = pressure(lambda q, given: q.pressure)
    modes = (
        air_fault(
            "lost",
            "air supply lost or shut",
            (times("pressure"),),
            2.0,
            Severity("pressure", "Pa", 0.0, 0.1, logarithmic=False),
            symptoms={"frozen": 0.5},
            favoured={"frost": 4, "work": 3},
            remedy="follow the air back to the header: valves, filter, water, ice",
            minutes=20,
        ),
        air_fault(
            "low",
            "regulator set wrong, frozen or its filter choked",
            (times("pressure"),),
            2.0,
            Severity("pressure", "Pa", 0.1, 0.75, logarithmic=False),
            symptoms={"clips": 0.3},
            favoured={"frost": 4, "work": 3},
            remedy="drain the filter, set the regulator as the sheet says, renew the element",
            minutes=20,
        ),
    )


class IpCoil(Kind, name="ip_coil"):
    """The coil of an I/P transducer: its signal is the current in those turns that work."""

    title = "I/P coil"
    symbol = "coil"
    pins = ("plus", "minus")
    carries_loop = True
    facts = DEVICE
    parameters = (
        Parameter("resistance", "ohm", "coil", 176.0, tolerance=0.05, least=1, most=1e4),
        Parameter("turns", "1", "share of the turns that work", 1.0, typed=False),
    )
    branches = (Branch("plus", "minus", ohmic("resistance")),)
    signal = Shows(
        "value",
        lambda q, given: (q.turns / (q.resistance * LIVE_SPAN), -LIVE_ZERO / LIVE_SPAN),
        0.0,
        least=-LIVE_ZERO / LIVE_SPAN,
        most=1.5,
    )
    modes = (
        FaultMode(
            "open",
            "coil open",
            (fixed("resistance", OPEN),),
            1.0,
            favoured={"lightning": 4},
            remedy="prove the open with ohms across the lifted coil; renew coil or transducer",
            minutes=60,
        ),
        FaultMode(
            "shorted turns",
            "turns of the coil shorted: too few ohms, too little pull",
            (times("resistance"), times("turns")),
            0.6,
            Severity("resistance", "ohm", 0.01, 0.9),
            favoured={"lightning": 3},
            remedy="compare the ohms of the lifted coil with the sheet; renew coil or transducer",
            minutes=60,
        ),
    )


def _aim(q: Any, signal: Any) -> Any:
    """Pressure that the nozzle is balanced for, before air and stops, Pa."""
    turned = signal * (1 + q.span_error) + q.zero_error + q.calibration
    return q.low + (q.high - q.low) * turned


def _nozzle(q: Any, given: Any) -> Any:
    """Pressure at the outlet: never under zero, never above the air supply."""
    signal, air = given
    free = np.clip(_aim(q, signal), 0.0, air)
    stopped = q.plugged * q.plugged_share * air + q.starved * np.minimum(q.starved_at, air)
    return (1 - q.plugged) * (1 - q.starved) * free + stopped


def _error(name: str, title: str, quantity: str, reach: float, remedy: str) -> FaultMode:
    return air_fault(
        name.replace("_", " "),
        title,
        (becomes(name),),
        0.8,
        Severity(quantity, "1", -reach, reach, logarithmic=False),
        favoured={"work": 3},
        remedy=remedy,
        minutes=30,
    )


class IpTransducer(Kind, name="ip_transducer"):
    """The pneumatic half of a current-to-pressure transducer: follows its coil and its air."""

    title = "I/P transducer"
    references = ("from", "air")
    follows = ("from", "air")
    parameters = (
        Parameter("low", "Pa", "pressure at 0 %", KPA_SPAN[0], least=0, most=MOST),
        Parameter("high", "Pa", "pressure at 100 %", KPA_SPAN[1], least=0, most=MOST),
        Parameter("calibration", "1", "error of calibration", 0.0, 0.01, False, typed=False),
        Parameter("zero_error", "1", "error of zero", 0.0, typed=False),
        Parameter("span_error", "1", "error of span", 0.0, typed=False),
        Parameter("plugged", "1", "the nozzle is plugged", 0.0, typed=False),
        Parameter("plugged_share", "1", "what then stands, of the air", 1.0, typed=False),
        Parameter("starved", "1", "the restriction is plugged", 0.0, typed=False),
        Parameter("starved_at", "Pa", "what then stands", 0.0, typed=False),
    )
    signal = pressure(_nozzle)
    modes = (
        air_fault(
            "nozzle plugged",
            "nozzle plugged: the pressure stays up",
            (fixed("plugged", 1.0), becomes("plugged_share")),
            1.5,
            Severity("share of the air", "1", 0.6, 1.0, logarithmic=False),
            symptoms={"frozen": 0.6},
            favoured={"rain": 2},
            remedy="clean nozzle and flapper; look for oil or water in the air",
            minutes=40,
        ),
        air_fault(
            "restriction plugged",
            "restriction plugged: the pressure stays down",
            (fixed("starved", 1.0), becomes("starved_at")),
            1.5,
            Severity("pressure", "Pa", 0.0, 18e3, logarithmic=False),
            symptoms={"frozen": 0.6},
            favoured={"rain": 2, "frost": 2},
            remedy="push the cleaning wire through the restriction; renew the filter",
            minutes=30,
        ),
        _error("zero_error", "zero has shifted", "shift", 0.4, "set zero at 4 mA, then check span"),
        _error("span_error", "span is wrong", "span error", 0.4, "set zero, then span at 20 mA"),
        air_fault(
            "other span",
            "calibrated for the other pressure span: 20-100 kPa and 3-15 psi differ",
            (
                Change("low", lambda nominal, s: KPA_SPAN[0] + PSI_SPAN[0] - nominal),
                Change("high", lambda nominal, s: KPA_SPAN[1] + PSI_SPAN[1] - nominal),
            ),
            0.2,
            favoured={"work": 8},
            remedy="calibrate it for the span on the sheet",
            minutes=30,
        ),
    )

    @classmethod
    def limited(cls, q: Any, process: Any) -> Any:
        """Whether the pressure stands at zero or at the air supply."""
        signal, air = process
        aim, free = _aim(q, signal), (q.plugged == 0) & (q.starved == 0)
        return np.where(free & (aim <= 0), -1, np.where(free & (aim >= air), 1, 0))
