"""What sheets may say of parts beside the values of their laws: cables, and safety markings.

The markings of intrinsic safety keep the letters that stand on certificates (IEC 60079-11): ``Uo``
is the highest voltage that a source gives, ``Ui`` the highest that a device may be given.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Fact:
    """What a sheet may say of a part and no law uses: a length, a marking.  It is never assumed.

    Where a value is found from several, ``needed`` marks those that cannot be left out.
    ``least`` and ``most`` are its bounds, SI.
    """

    name: str
    unit: str
    meaning: str
    most: float
    needed: bool = False
    least: float = 0.0


CABLE = (
    Fact("length", "m", "length", 1e5),
    Fact("temperature", "degC", "temperature at which the resistance holds", 200.0, least=-60.0),
    Fact("capacitance", "F/m", "capacitance per length of its cable", 1e-6),
    Fact("inductance", "H/m", "inductance per length of its cable", 1e-3),
)
"""Of one conductor of a cable; capacitance and inductance are those between the cores."""

CONDUCTOR = (
    replace(CABLE[0], needed=True, least=1e-3),
    Fact("area", "m2", "cross-section, or a gauge such as AWG 18", 1e-2, needed=True, least=1e-9),
    CABLE[1],
    Fact("conductor", "", "class of the conductor", 0.0),
)
"""From which the resistance of a conductor is found."""

SOURCE = (
    Fact("Uo", "V", "highest open-circuit voltage", 1000.0),
    Fact("Io", "A", "highest current into a short", 100.0),
    Fact("Po", "W", "highest power given", 1e4),
    Fact("Co", "F", "highest capacitance that may be connected", 1.0),
    Fact("Lo", "H", "highest inductance that may be connected", 100.0),
)
"""Marked on what feeds an intrinsically safe circuit."""

DEVICE = (
    Fact("Ui", "V", "highest voltage that it may be given", 1000.0),
    Fact("Ii", "A", "highest current that it may be given", 100.0),
    Fact("Pi", "W", "highest power that it may be given", 1e4),
    Fact("Ci", "F", "its own capacitance", 1.0),
    Fact("Li", "H", "its own inductance", 100.0),
)
"""Marked on what hangs on it."""
