"""Between a thermocouple and its card: terminals with their temperature, extension cable, landing.

Every pair of thermocouple wires is counted from 0 degC: an element gives E(T), and where two wires
end on terminals at a temperature t, a junction takes E(t) away and the pair beyond adds its own.
So each temperature belongs to one part, and with everything right the terminals in the head drop
out: ``E(T) - E(head) + E(head) - E(card)``.  The card adds E(card) again by its own sensor.
"""

from typing import Any, ClassVar

from diagnose.loops.choices import numbered
from diagnose.loops.kind import (
    INTACT,
    OPEN,
    Action,
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
)
from diagnose.loops.thermocouple_tables import LETTERS, reference

TYPE = Parameter("type", "1", "K, J or T", 0.0, least=0, most=len(LETTERS) - 1)
TYPE_WORDS = {"type": numbered(LETTERS)}
SHARE = Severity("share of the right voltage", "1", 0.1, 1.7, logarithmic=False)
_JOINT = 0.005
_FULL = 100.0
"""Scale of the thermometer that is held to terminals, K."""


def _junction(q: Any) -> Any:
    """Volts from 0 degC to the terminals, by the tangent at the temperature last driven."""
    return q.emf + q.seebeck * (q.temperature - q.at)


class ThermocoupleTerminals(Kind, name="thermocouple_terminals"):
    """Terminals at one temperature, between a pair that comes in and one that goes on.

    What they show is read off a thermometer held to them.
    """

    title = "terminals"
    pins = ("before", "terminal", "after")
    carries_loop = True
    driven = ("emf", "seebeck", "at", "sensor_emf")
    choices: ClassVar[dict[str, dict[str, float]]] = TYPE_WORDS
    parameters = (
        TYPE,
        Parameter("temperature", "degC", "of the terminals", 25.0, 10.0, False, -60, 200),
        Parameter("contact", "ohm", "of each wire", _JOINT, least=1e-4, most=1e3),
        Parameter("entering", "1", "share of the right type that comes in", 1.0, typed=False),
        Parameter("leaving", "1", "share of the right type that goes on", 1.0, typed=False),
        Parameter("sensor_error", "K", "of the sensor at the terminals", 0.0, typed=False),
        Parameter("emf", "V", "from 0 degC to the terminals", 0.0, typed=False),
        Parameter("seebeck", "V", "per kelvin", 0.0, typed=False),
        Parameter("at", "degC", "where that is so", 0.0, typed=False),
        Parameter("sensor_emf", "V", "what the error of the sensor adds", 0.0, typed=False),
        Parameter("onward_error", "V", "error of what goes on", 0.0, 1e-4, False, typed=False),
    )
    branches = (
        Branch(
            "before",
            "terminal",
            (
                Segment(
                    "conducting",
                    lambda q: (1 / q.contact, -q.entering * _junction(q) / q.contact),
                ),
            ),
        ),
        Branch(
            "terminal",
            "after",
            (
                Segment(
                    "conducting",
                    lambda q: (
                        1 / q.contact,
                        (q.leaving * _junction(q) + q.sensor_emf + q.onward_error) / q.contact,
                    ),
                ),
            ),
        ),
    )

    shows = Shows(
        "value",
        lambda q, process: (0.0, q.temperature / _FULL),
        accuracy=1.5 / _FULL,
        least=-1.0,
        most=2.0,
        unit="degC",
        scale=lambda q: (0.0, _FULL),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """Volts and tangent at the temperature of the terminals."""
        curve = reference(q.type)
        emf = curve.emf(q.temperature)
        return {
            "emf": emf,
            "seebeck": curve.seebeck(q.temperature),
            "at": q.temperature,
            "sensor_emf": curve.emf(q.temperature + q.sensor_error) - emf,
        }


class ColdJunction(ThermocoupleTerminals, name="cold_junction"):
    """The terminals of a card: their temperature is measured and its voltage added again."""

    title = "cold junction"
    modes = (
        FaultMode(
            "sensor wrong",
            "temperature of the terminals is measured wrongly: sensor, draught or heat",
            (becomes("sensor_error"),),
            1.5,
            Severity("error of the sensor", "K", -40.0, 40.0, logarithmic=False),
            remedy="compare it with a thermometer on the terminals; shut the door, shield the heat;"
            " all channels of the card are off alike",
            minutes=30,
        ),
    )


def _both(value: float | None) -> tuple[Change, Change]:
    """What the extension cable gives at its two ends."""
    if value is None:
        return becomes("leaving", of="head"), becomes("entering", of="junction")
    return fixed("leaving", value, of="head"), fixed("entering", value, of="junction")


class ExtensionCable(Kind, name="extension_cable"):
    """The material of the cable between the head and the terminals of the card."""

    title = "extension cable"
    references = ("head", "junction")
    modes = (
        FaultMode(
            "reversed",
            "extension cable swapped at both ends",
            _both(-1.0),
            1.0,
            favoured={"work": 8},
            remedy="swap the cores back at both ends; compare their colours with the sheet",
            minutes=30,
        ),
        FaultMode(
            "copper",
            "copper cable in place of extension cable",
            _both(0.0),
            1.0,
            favoured={"work": 8},
            remedy="renew the run with extension cable of the right type",
            minutes=120,
        ),
        FaultMode(
            "wrong type",
            "extension cable of another type",
            _both(None),
            1.0,
            SHARE,
            favoured={"work": 8},
            remedy="compare the marking of the cable with the sheet; renew the run",
            minutes=120,
        ),
    )


class PairTerminals(Kind, name="pair_terminals"):
    """Where the two cores of a pair land on a card; they can be swapped."""

    title = "pair of terminals"
    pins = ("wire_plus", "plus", "wire_minus", "minus")
    references = ("junction",)
    carries_loop = True
    parameters = (
        Parameter("resistance", "ohm", "contact of plus", _JOINT, 0.5, least=1e-4, most=1e3),
        Parameter(
            "return_resistance", "ohm", "contact of minus", _JOINT, 0.5, least=1e-4, most=1e3
        ),
        Parameter("crossed", "ohm", "from each wire to the other terminal", INTACT, typed=False),
    )
    branches = (
        Branch("wire_plus", "plus", ohmic("resistance")),
        Branch("wire_minus", "minus", ohmic("return_resistance")),
        Branch("wire_plus", "minus", ohmic("crossed")),
        Branch("wire_minus", "plus", ohmic("crossed")),
    )
    modes = (
        FaultMode(
            "open",
            "wire out of its clamp",
            (fixed("resistance", OPEN),),
            0.8,
            symptoms={"erratic": 0.05},
            favoured={"work": 5},
            remedy="remake the termination",
            minutes=20,
        ),
        FaultMode(
            "high resistance",
            "loose or corroded termination",
            (becomes("resistance"),),
            1.0,
            Severity("resistance", "ohm", 20, 1e6),
            symptoms={"erratic": 0.5},
            favoured={"work": 2, "rain": 3},
            remedy="remake the termination",
            minutes=20,
        ),
        FaultMode(
            "reversed",
            "plus and minus swapped at the card",
            (
                fixed("resistance", INTACT),
                fixed("return_resistance", INTACT),
                fixed("crossed", _JOINT),
                fixed("entering", -1.0, of="junction"),
            ),
            0.7,
            favoured={"work": 10},
            remedy="swap the two wires at the card",
            minutes=20,
        ),
    )
    actions = (
        Action(
            "lifted",
            "both wires lifted",
            (fixed("resistance", 1e12), fixed("return_resistance", 1e12)),
            6.0,
            interrupts=True,
            cautions=("open loop",),
        ),
    )
