"""What a column can mean: of the instrument index, of a terminal list, of a cable list."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Field:
    """One meaning: its name in the mapping file, what it is, how plants head such a column.

    ``unit`` is the unit of a number without one, empty for a text; ``most`` the largest value that
    is no slip, in that unit; ``vital`` says that a row without a good cell makes no sheet.
    """

    name: str
    title: str
    heads: tuple[str, ...]
    unit: str = ""
    most: float = 0.0
    vital: bool = False


# Headings that plants use: common practice, no source.
INDEX = (
    Field("tag", "tag of the loop", ("tag", "tag no", "tag number", "loop tag", "loop no", "loop",
          "instrument tag", "position"), vital=True),
    Field("service", "what is measured or moved", ("service", "description", "duty",
          "service description", "designation", "function")),
    Field("type", "loop type, or a word for it", ("type", "loop type", "typical", "io type",
          "signal type", "circuit type", "hook-up"), vital=True),
    Field("range", "range in one cell, such as 0-1800 mm", ("range", "measuring range",
          "calibrated range", "calibration range", "span"), vital=True),
    Field("low", "value at 0 %", ("low", "range low", "lrv", "range min", "min", "from",
          "lower range value", "range from"), vital=True),
    Field("high", "value at 100 %", ("high", "range high", "urv", "range max", "max", "to",
          "upper range value", "range to"), vital=True),
    Field("unit", "unit of the range", ("unit", "units", "eu", "engineering unit", "uom"),
          vital=True),
    Field("role", "what the loop does: control, trip", ("role", "use", "purpose")),
    Field("device", "tag of the field device", ("device", "device tag", "field device", "element",
          "instrument")),
    Field("gauge", "tag of the local gauge", ("gauge", "local gauge", "local indicator", "local")),
    Field("controller", "tag of the controller or first receiver", ("controller", "receiver",
          "controller tag", "indicator", "faceplate")),
    Field("recorder", "tag of the recorder or second receiver", ("recorder", "second receiver",
          "recorder tag")),
    Field("trip", "tag of the trip on the loop", ("trip", "trip tag", "alarm tag", "interlock")),
    Field("logger", "tag of the data-acquisition input", ("logger", "data acquisition", "daq",
          "historian")),
    Field("supply", "name of the supply", ("supply", "power supply", "psu", "feeder",
          "power source")),
    Field("card", "name of the module, barrier or card", ("card", "module", "barrier", "isolator",
          "io card", "card no", "io module")),
    Field("strip", "name of the terminal strip in the cabinet", ("strip", "terminal strip", "tb",
          "terminal block", "marshalling strip")),
    Field("cable", "name of the cable from the cabinet", ("cable", "cable no", "field cable",
          "main cable", "multicore", "cable number", "home run")),
    Field("branch", "name of the cable from the junction box to the device", ("branch",
          "branch cable", "spur", "device cable", "instrument cable")),
    Field("box", "name of the junction box", ("box", "junction box", "jb", "jb no", "jb tag")),
    Field("box_place", "where the junction box is", ("jb location", "box location",
          "junction box location", "box place")),
    Field("cabinet", "title of the cabinet", ("cabinet", "marshalling cabinet", "panel",
          "cabinet no", "rack")),
    Field("room", "where the receivers are", ("room", "control room", "console", "desk")),
    Field("location", "where the field device is", ("location", "field location", "place", "site",
          "mounting place", "installed at")),
    Field("area", "hazardous area of the field device", ("area", "zone", "hazardous area",
          "area classification", "ex zone", "hazard zone")),
    Field("length", "length of the cable from the cabinet", ("length", "cable length",
          "field cable length", "length of cable"), "m", 10_000.0),
    Field("branch_length", "length of the cable to the device", ("branch length", "spur length",
          "branch cable length"), "m", 2_000.0),
    Field("core_area", "cross-section of a core", ("core area", "cross section", "conductor size",
          "csa", "core size", "wire size", "size"), "mm2", 50.0),
    Field("supply_voltage", "voltage of the supply", ("supply voltage", "voltage", "v supply"),
          "V", 300.0),
    Field("lift_off", "least voltage of the field device", ("lift-off", "lift off", "min voltage",
          "minimum voltage", "least voltage"), "V", 60.0),
    Field("sense", "sense resistor", ("sense resistor", "shunt", "load resistor", "sense",
          "input resistor"), "ohm", 10_000.0),
    Field("coil", "resistance of the coil", ("coil", "coil resistance", "solenoid resistance"),
          "ohm", 100_000.0),
    Field("set_point", "set point of the trip", ("set point", "setpoint", "trip point",
          "trip setting", "trip set point"), vital=True),
)  # fmt: skip

TERMINALS = (
    Field("tag", "tag of the loop", ("tag", "tag no", "loop", "instrument tag", "loop tag"),
          vital=True),
    Field("core", "which core: +, - and so on", ("core", "pole", "polarity", "wire", "signal",
          "conductor"), vital=True),
    Field("strip", "name of the terminal strip", ("strip", "terminal strip", "tb",
          "terminal block")),
    Field("terminal", "terminal in the cabinet", ("terminal", "terminal no", "cabinet terminal",
          "tb terminal", "marshalling terminal")),
    Field("box", "name of the junction box", ("box", "junction box", "jb", "jb no")),
    Field("box_terminal", "terminal in the junction box", ("box terminal", "jb terminal",
          "field terminal", "jb term")),
)  # fmt: skip

CABLES = (
    Field("cable", "name of the cable", ("cable", "cable no", "cable number", "cable tag"),
          vital=True),
    Field("length", "its length", ("length", "cable length", "route length"), "m", 10_000.0),
    Field("core_area", "cross-section of a core", ("core area", "cross section", "size", "csa",
          "conductor size", "core size"), "mm2", 50.0),
)  # fmt: skip

TABLES = {"index": INDEX, "terminals": TERMINALS, "cables": CABLES}
"""Table -> what its columns can mean."""


def field_of(table: str, name: str) -> Field:
    """The meaning called ``name``; KeyError if a table has none such."""
    return {field.name: field for field in TABLES[table]}[name]
