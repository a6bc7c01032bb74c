"""Which names of a loop type the columns of an index give the names of a plant to.

One entry for each shipped loop type.  Of a type of the plant's own, an index can tell tag,
service, range and role.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Roles:
    """What an index can say of one loop type.

    ``names``: field -> names of the type and what is set behind the plant's name for each.
    ``values``: field -> parts and the key that takes the value.
    ``cores``: core -> its terminal in the cabinet and in the junction box, empty if it has none.
    ``place`` is the place of the field device; ``ranged`` says that the range of an index is one of
    the process, and not on and off or a share of an output.
    """

    names: Mapping[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    values: Mapping[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    cores: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    place: str = ""
    ranged: bool = True


def _names(**words: str) -> dict[str, tuple[tuple[str, str], ...]]:
    """``device="RT H", cable="W3 W3L=L"``: names with blanks between, a tail behind ``=``."""
    pairs = {key: [word.partition("=") for word in text.split()] for key, text in words.items()}
    return {key: tuple((name, tail) for name, _, tail in found) for key, found in pairs.items()}


def _values(**words: str) -> dict[str, tuple[tuple[str, str], ...]]:
    """``length="W3+.length W3-.length"``: part and key, a point between."""
    pairs = {key: [word.rpartition(".") for word in text.split()] for key, text in words.items()}
    return {key: tuple((part, name) for part, _, name in found) for key, found in pairs.items()}


def _cores(**words: str) -> dict[str, tuple[str, str]]:
    """``plus="X21:4 JB9:1"``: the terminals of a core."""
    return {key: (text.split()[0], "".join(text.split()[1:])) for key, text in words.items()}


_TWO_CORES = _values(
    length="W3+.length W3-.length", branch_length="W4+.length W4-.length",
    core_area="W3+.area W3-.area W4+.area W4-.area",
)  # fmt: skip
_LOOP = _values(supply_voltage="G1.voltage", lift_off="TX.lift_off", sense="R1.resistance")
_SWITCH = _values(
    length="W5+.length W5-.length", branch_length="W6+.length W6-.length",
    core_area="W5+.area W5-.area W6+.area W6-.area",
)  # fmt: skip
_SWITCH_NAMES = {"card": "A2", "strip": "X23", "cable": "W5", "branch": "W6", "box": "JB7"}
_SWITCH_CORES = _cores(plus="X23:2 JB7:1", minus="X23:3 JB7:2")
_OUTPUT_NAMES = {
    "tag": "CV", "controller": "ST", "card": "K1", "strip": "X21", "cable": "W3", "branch": "W4",
    "box": "JB9",
}  # fmt: skip
_OUTPUT_CORES = _cores(plus="X21:4 JB9:1", minus="X21:5 JB9:2")
_INPUT_NAMES = {
    "device": "TX", "gauge": "LG", "controller": "U1", "supply": "G1", "cable": "W3",
    "branch": "W4", "box": "JB9",
}  # fmt: skip

ROLES = {
    "two-wire-input": Roles(
        _names(**_INPUT_NAMES, recorder="U2", trip="U3", logger="U4", card="A1", strip="X21"),
        _TWO_CORES | _LOOP | _values(set_point="U3.set_point"),
        _cores(plus="X21:4 JB9:1", minus="X21:5 JB9:2"), "transmitter",
    ),
    "barrier-input": Roles(
        _names(**_INPUT_NAMES, logger="U2", card="Z1", strip="X21"),
        _TWO_CORES | _LOOP, _cores(plus="Z1:3 JB9:1", minus="Z1:4 JB9:2"), "transmitter",
    ),
    "isolator-input": Roles(
        _names(**_INPUT_NAMES, logger="U2", card="A1", strip="X23"),
        _TWO_CORES | _LOOP, _cores(plus="X23:2 JB9:1", minus="X23:4 JB9:2"), "transmitter",
    ),
    "four-wire-input": Roles(
        _names(**_INPUT_NAMES, logger="U2", card="A1", strip="X23"),
        _TWO_CORES | _values(supply_voltage="G1.voltage", sense="R1.resistance"),
        _cores(plus="X23:2 JB9:1", minus="X23:4 JB9:2"), "transmitter",
    ),
    "three-wire-input": Roles(
        _names(**_INPUT_NAMES, logger="U2", strip="X21"),
        _LOOP | _values(
            length="W3+.length W3.S.length W3-.length",
            branch_length="W4+.length W4.S.length W4-.length",
            core_area="W3+.area W3.S.area W3-.area W4+.area W4.S.area W4-.area",
        ),
        _cores(plus="X21:2 JB9:1", signal="X21:5 JB9:2", minus="X21:8 JB9:3"), "transmitter",
    ),
    "series-input": Roles(
        _names(
            device="TX", gauge="P1", controller="U1", recorder="U2", supply="G1", strip="X21",
            cable="W3", branch="W4", box="JB9",
        ),
        _LOOP | _values(
            length="W3+.length W3-.length", branch_length="W4+.length W6-.length",
            core_area="W3+.area W3-.area W4+.area W5-.area W6-.area",
        ),
        _cores(plus="X21:2 JB9:1", minus="X21:3 JB9:2"), "transmitter",
    ),
    "control-loop": Roles(
        _names(
            tag="LC", device="TX", gauge="LG", controller="U1", recorder="U2", trip="U3",
            logger="U4", supply="G1", card="A1", strip="X21", cable="W3", branch="W4", box="JB9",
        ),
        _TWO_CORES | _LOOP | _values(set_point="U3.set_point", coil="LY.resistance"),
        _cores(plus="X21:4 JB9:1", minus="X21:5 JB9:2"), "transmitter",
    ),
    "trip": Roles(
        _names(tag="K1", gauge="LG", controller="U1", supply="G2", strip="X26"),
        _values(
            length="W7.length W8.length", core_area="W7.area W8.area",
            supply_voltage="G2.voltage", set_point="K1.set_point",
        ),
        {}, "transmitter",
    ),
    "rtd-input": Roles(
        _names(
            device="RT H", gauge="LG", controller="U1", strip="X31",
            cable="W3A=A W3B=B W3C=C",
        ),
        _values(
            length="W3A.length W3B.length W3C.length", core_area="W3A.area W3B.area W3C.area",
            low="RT.low U1.low", high="RT.high U1.high",
        ),
        _cores(A="X31:1", B="X31:2", C="X31:3"), "head",
    ),
    "thermocouple-input": Roles(
        _names(device="TE H", gauge="LG", controller="U1", strip="X31", cable="W3"),
        _values(low="TE.low U1.low", high="TE.high U1.high"),
        _cores(plus="X31:+", minus="X31:-"), "head",
    ),
    "monitored-contact": Roles(
        _names(device="S1", gauge="LG", controller="K2", **_SWITCH_NAMES), _SWITCH,
        _SWITCH_CORES, "switch head", ranged=False,
    ),
    "proximity-input": Roles(
        _names(device="B1", gauge="LG", controller="K2", **_SWITCH_NAMES), _SWITCH,
        _SWITCH_CORES, "sensor", ranged=False,
    ),
    "current-output": Roles(
        _names(device="LY", **_OUTPUT_NAMES), _TWO_CORES | _values(coil="LY.resistance"),
        _OUTPUT_CORES, "valve", ranged=False,
    ),
    "positioner-output": Roles(
        _names(device="ZC", **_OUTPUT_NAMES), _TWO_CORES, _OUTPUT_CORES, "valve", ranged=False,
    ),
    "solenoid-output": Roles(
        _names(
            tag="XV", device="Y1", controller="HS", supply="G1", card="A1", strip="X21",
            cable="W3", branch="W4", box="JB9",
        ),
        _TWO_CORES | _values(supply_voltage="G1.voltage", coil="Y1.resistance"),
        _cores(plus="X21:3 JB9:1", minus="X21:4 JB9:2"), "valve", ranged=False,
    ),
    "solenoid-output-ac": Roles(
        _names(
            tag="XV", device="Y1", controller="HS", supply="G1", card="A1", strip="X21",
            cable="W3 W3L=L W3N=N", branch="W4 W4L=L W4N=N", box="JB9",
        ),
        _values(
            length="W3L.length W3N.length", branch_length="W4L.length W4N.length",
            core_area="W3L.area W3N.area W4L.area W4N.area", supply_voltage="G1.voltage",
        ),
        _cores(live="X21:3 JB9:1", neutral="X21:4 JB9:2"), "valve", ranged=False,
    ),
}  # fmt: skip
"""Loop type -> what an index can say of it."""
