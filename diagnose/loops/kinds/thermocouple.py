"""Thermocouple elements and the cards that read them."""

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
    Shows,
    becomes,
    fixed,
)
from diagnose.loops.kinds.temperature import (
    QUARTERS,
    TemperatureInput,
    TemperatureSensor,
    unplugged,
)
from diagnose.loops.kinds.thermocouple_cable import SHARE, TYPE, TYPE_WORDS
from diagnose.loops.thermocouple_tables import CLASSES, reference, tolerance


def _renew(minutes: float, remedy: str) -> dict[str, Any]:
    return {"remedy": remedy, "minutes": minutes}


class Thermocouple(TemperatureSensor, name="thermocouple"):
    """A thermocouple element; its volts count from 0 degC to its hot junction."""

    title = "thermocouple"
    pins = ("plus", "minus")
    references = ("head",)
    driven = ("emf", "class_step")
    parameters = (
        Parameter("emf", "V", "as the process makes it", 0.0, typed=False),
        *TemperatureSensor.parameters,
        Parameter("resistance", "ohm", "of the element", 5.0, 0.2, least=0.01, most=1e4),
        TYPE,
        Parameter("accuracy_class", "1", "1 or 2", 1.0, least=0, most=len(CLASSES) - 1),
        Parameter("class_step", "V", "what the class allows", 0.0, typed=False),
        Parameter("share", "1", "of the voltage of a new one", 1.0, typed=False),
        Parameter("beside", "1", "share of another one in parallel", 0.0, typed=False),
        Parameter("beside_at", "1", "temperature of that, fraction of range", 0.0, typed=False),
        Parameter("replaced", "1", "a calibrator in its place", 0.0, typed=False),
        Parameter("set_at", "degC", "temperature that it plays", 0.0, typed=False),
    )
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment(
                    "conducting",
                    lambda q: (
                        1 / q.resistance,
                        -(q.emf + q.class_step * q.class_error) / q.resistance,
                    ),
                ),
            ),
        ),
    )
    modes = (
        FaultMode(
            "open",
            "element broken or burnt out",
            (fixed("resistance", OPEN),),
            3.0,
            symptoms={"erratic": 0.2},
            **_renew(60, "renew the element; look for heat, vibration and corrosion"),
        ),
        FaultMode(
            "degraded",
            "element degraded: its wires have changed, it reads low and its resistance rises",
            (
                becomes("share"),
                becomes("entering", of="head"),
                Change("resistance", lambda nominal, s: nominal * (1 + 20 * (1 - s))),
            ),
            1.5,
            Severity("share of the voltage of a new one", "1", 0.75, 0.99, logarithmic=False),
            **_renew(60, "compare it with a check thermometer in the same well; renew it"),
        ),
        FaultMode(
            "reversed",
            "wires of the element swapped in the head",
            (fixed("share", -1.0), fixed("entering", -1.0, of="head")),
            0.7,
            favoured={"work": 10},
            **_renew(20, "swap the two wires in the head"),
        ),
        FaultMode(
            "wrong type",
            "element of another type fitted",
            (becomes("share"), becomes("entering", of="head")),
            0.5,
            SHARE,
            favoured={"work": 8},
            **_renew(
                60, "compare the element's marking and colours with the sheet; fit the right one"
            ),
        ),
        FaultMode(
            "in parallel",
            "a second element in parallel: an average is shown",
            (fixed("beside", 0.5), becomes("beside_at")),
            0.2,
            Severity("value at the other", "1", 0.0, 1.0, logarithmic=False),
            favoured={"work": 6},
            **_renew(30, "look for a second pair on the same terminals and give it its own input"),
        ),
    )
    actions = (
        Action(
            "replaced",
            "element replaced by a calibrator that plays a thermocouple of its type",
            (fixed("replaced", 1.0), becomes("set_at"), fixed("resistance", 1.0)),
            12.0,
            unit="degC",
            usual=100.0,
            interrupts=True,
            moves_signal=True,
            heals=True,
            cautions=("open loop", "inject"),
            proves=lambda q: tuple(q.low + (q.high - q.low) * share for share in QUARTERS),
        ),
    )
    choices: ClassVar[dict[str, dict[str, float]]] = {
        **TYPE_WORDS,
        "accuracy_class": numbered(CLASSES),
    }

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """Volts at the temperature that is felt, and one class limit of them."""
        curve = reference(q.type)
        t = cls.felt(q, process)
        beside = curve.emf(cls.felt(q, q.beside_at))
        own = q.share * ((1 - q.beside) * curve.emf(t) + q.beside * beside)
        step = curve.seebeck(t) * tolerance(q.type, q.accuracy_class, t)
        there = 1 - q.replaced
        played = curve.emf(q.set_at)
        return {"emf": there * own + q.replaced * played, "class_step": there * step}


def _bent(q: Any, volts: Any) -> tuple[Any, Any]:
    """What a card makes of volts counted from 0 degC."""
    curve = reference(q.type)
    t = curve.temperature(volts * q.setting)
    steep = TemperatureInput.steepness(q) * q.setting / curve.seebeck(t)
    return TemperatureInput.fraction(q, t), steep


class ThermocoupleInput(TemperatureInput, name="thermocouple_input"):
    """A card for thermocouples; a weak source drives it off scale when the circuit is open."""

    title = "thermocouple input"
    pins = ("plus", "minus")
    carries_loop = True
    senses = True
    parameters = (
        *TemperatureInput.parameters,
        TYPE,
        Parameter(
            "pull",
            "A",
            "current that finds an open circuit",
            2e-8,
            0.3,
            least=0,
            most=1e-5,
            kept=True,
        ),
        Parameter("setting", "1", "factor of a wrong type in the settings", 1.0, typed=False),
    )
    branches = (
        Branch(
            "plus",
            "minus",
            (
                Segment(
                    "sensing",
                    lambda q: (1 / q.input_resistance, -q.burnout * q.pull),
                ),
            ),
        ),
    )
    shows = Shows(
        "value",
        lambda q, process: (1.0, 0.0),
        accuracy=0.0025,
        unit="degC",
        scale=lambda q: (q.low, q.high),
        bend=_bent,
    )
    modes = (
        *TemperatureInput.modes,
        FaultMode(
            "set for another type",
            "channel set for another type of thermocouple",
            (becomes("setting"),),
            0.5,
            Severity("factor on the voltage", "1", 0.4, 2.0, logarithmic=False),
            favoured={"work": 8},
            remedy="compare the type in the settings with the sheet and set the right one",
            minutes=20,
        ),
    )
    actions = (unplugged(fixed("pull", 0.0)),)
    choices: ClassVar[dict[str, dict[str, float]]] = {**TemperatureInput.choices, **TYPE_WORDS}
