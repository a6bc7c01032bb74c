"""The entity sum of an intrinsically safe circuit: arithmetic for a person who may decide.

IEC 60079-14 compares what the source of energy can give with what device and cable may take.
Everything is in SI units.  Passing these sums is no permission: certificates, the zone, the gas
group, faults between cores and the earthing belong to the judgement as well.
"""

from __future__ import annotations

from dataclasses import dataclass

CAUTION = (
    "This is arithmetic, not a judgement. A competent person decides, by the certificates, the "
    "site's documents and local codes."
)

CABLE_CAPACITANCE = 60e-12 / 0.3048
"""F per metre where the cable is not known: 60 pF/ft (a control drawing; sites set their own)."""

CABLE_INDUCTANCE = 0.20e-6 / 0.3048
"""H per metre where the cable is not known: 0.20 uH/ft (as before)."""


@dataclass(frozen=True, slots=True)
class Source:
    """What a barrier or isolator can give: V, A, W; what may hang on it: F, H."""

    voltage: float
    current: float
    power: float
    capacitance: float
    inductance: float


@dataclass(frozen=True, slots=True)
class Device:
    """What a device in the field may take: V, A, W; what it adds to the circuit: F, H."""

    voltage: float
    current: float
    power: float
    capacitance: float = 0.0
    inductance: float = 0.0


@dataclass(frozen=True, slots=True)
class Comparison:
    """One line of the sum: ``have`` must not exceed ``most``; V, A, W, F or H."""

    quantity: str
    unit: str
    have: float
    most: float

    @property
    def holds(self) -> bool:
        """Whether this line of the sum holds; never that the circuit may be used."""
        return self.have <= self.most


def resistive_current(voltage: float, resistance: float) -> float:
    """Io of a source that only a resistance limits, A: Uo / R."""
    return voltage / resistance


def resistive_power(voltage: float, resistance: float) -> float:
    """Po of such a source, W: Uo^2 / (4 R), given into a load equal to R."""
    return voltage**2 / (4 * resistance)


def compare(
    source: Source,
    device: Device,
    length: float,
    per_metre: tuple[float, float] = (CABLE_CAPACITANCE, CABLE_INDUCTANCE),
) -> tuple[Comparison, ...]:
    """The five lines of the entity sum for one device at the end of ``length`` metres of cable.

    Uo <= Ui, Io <= Ii, Po <= Pi, Ci + Ccable <= Co, Li + Lcable <= Lo.  ``per_metre`` is
    capacitance and inductance of the cable, F/m and H/m.
    """
    capacitance = device.capacitance + length * per_metre[0]
    inductance = device.inductance + length * per_metre[1]
    return (
        Comparison("voltage", "V", source.voltage, device.voltage),
        Comparison("current", "A", source.current, device.current),
        Comparison("power", "W", source.power, device.power),
        Comparison("capacitance", "F", capacitance, source.capacitance),
        Comparison("inductance", "H", inductance, source.inductance),
    )
