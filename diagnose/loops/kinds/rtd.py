"""Resistance thermometer elements."""

from typing import Any, ClassVar

from diagnose.loops.choices import numbered
from diagnose.loops.kind import (
    OPEN,
    Action,
    Branch,
    Change,
    FaultMode,
    Parameter,
    Segment,
    Severity,
    becomes,
    fixed,
)
from diagnose.loops.kinds.temperature import (
    QUARTERS,
    TemperatureSensor,
)
from diagnose.loops.rtd_tables import CLASSES, ratio, slope, tolerance


def other_nominal(nominal: float, severity: Any) -> float:
    """The other of the two usual resistances at 0 degC, ohm."""
    return 1000.0 if nominal < 300 else 100.0


class Rtd(TemperatureSensor, name="rtd"):
    """A platinum resistance element (IEC 60751)."""

    title = "resistance element"
    symbol = "resistor"
    pins = ("a", "b")
    driven = ("resistance", "class_step")
    parameters = (
        Parameter("resistance", "ohm", "as the process makes it", 100.0, typed=False),
        *TemperatureSensor.parameters,
        Parameter("nominal", "ohm", "at 0 degC", 100.0, least=10, most=2000),
        Parameter("accuracy_class", "1", "AA, A, B or C", 2.0, least=0, most=3),
        Parameter("class_step", "ohm", "what the class allows", 0.0, typed=False),
        Parameter("drift", "1", "what is left of its resistance", 1.0, typed=False),
        Parameter("coefficient", "1", "temperature coefficient, relative", 1.0, typed=False),
        Parameter("crack", "ohm", "in series inside", 0.0, typed=False),
        Parameter("boxed", "1", "a resistance box in its place", 0.0, typed=False),
        Parameter("box", "ohm", "resistance of that", 0.0, typed=False),
    )
    branches = (
        Branch(
            "a",
            "b",
            (
                Segment(
                    "conducting",
                    lambda q: (1 / (q.resistance + q.class_step * q.class_error + q.crack), 0),
                ),
            ),
        ),
    )
    modes = (
        FaultMode(
            "open",
            "element broken",
            (fixed("crack", OPEN),),
            3.0,
            symptoms={"erratic": 0.2},
            favoured={"work": 2},
            remedy="renew the element; look for vibration and for water in the head",
            minutes=60,
        ),
        FaultMode(
            "drift",
            "element off its value, cracked film or strained wire",
            (becomes("drift"),),
            1.0,
            Severity("resistance", "1", 0.93, 1.07, logarithmic=False),
            symptoms={"erratic": 0.1},
            remedy="check it in an ice bath; renew it",
            minutes=60,
        ),
        FaultMode(
            "other curve",
            "element of another metal or standard",
            (becomes("coefficient"),),
            0.3,
            Severity("temperature coefficient", "1", 0.95, 1.65, logarithmic=False),
            favoured={"work": 8},
            remedy="compare the marking of the element with the sheet; fit the right one",
            minutes=60,
        ),
        FaultMode(
            "other nominal value",
            "element of another nominal value (1000 ohm for 100 ohm)",
            (Change("nominal", other_nominal),),
            0.3,
            favoured={"work": 8},
            remedy="compare the marking of the element with the sheet; fit the right one",
            minutes=60,
        ),
    )
    actions = (
        Action(
            "replaced",
            "element replaced by a resistance box",
            (fixed("boxed", 1.0), becomes("box")),
            12.0,
            unit="ohm",
            usual=100.0,
            interrupts=True,
            moves_signal=True,
            heals=True,
            cautions=("open loop", "inject"),
            proves=lambda q: tuple(
                round(float(q.nominal * ratio(q.low + (q.high - q.low) * share)), 2)
                for share in QUARTERS
            ),
        ),
    )
    choices: ClassVar[dict[str, dict[str, float]]] = {"accuracy_class": numbered(CLASSES)}

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """Resistance at the temperature that is felt, and one class limit of it."""
        t = cls.felt(q, process)
        own = q.nominal * q.drift * (1 + q.coefficient * (ratio(t) - 1))
        step = q.nominal * slope(t) * tolerance(q.accuracy_class, t)
        there = 1 - q.boxed
        return {"resistance": there * own + q.boxed * q.box, "class_step": there * step}
