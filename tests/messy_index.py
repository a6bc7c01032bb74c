"""A seeded instrument index of an invented plant, with the mess that such lists have.

Every planted mistake is recorded with the row where it stands and a word that its report has to
hold.  Tags, places and lengths belong to no real plant.
"""

from __future__ import annotations

import csv
import random
from dataclasses import dataclass, field
from pathlib import Path

TYPES = {
    "two-wire-input": "2W 4-20 mA", "barrier-input": "2W barrier", "isolator-input": "2W isolator",
    "four-wire-input": "4W", "three-wire-input": "3W", "series-input": "2W series",
    "control-loop": "control loop", "trip": "trip", "rtd-input": "Pt100",
    "thermocouple-input": "T/C K", "monitored-contact": "switch", "proximity-input": "prox",
    "current-output": "AO I/P", "positioner-output": "AO positioner", "solenoid-output": "DO 24V",
    "solenoid-output-ac": "DO 230V",
}  # fmt: skip
LETTERS = {
    "two-wire-input": "LT", "barrier-input": "PT", "isolator-input": "FT", "four-wire-input": "FT",
    "three-wire-input": "AT", "series-input": "PDT", "control-loop": "LIC", "trip": "LAHH",
    "rtd-input": "TT", "thermocouple-input": "TE", "monitored-contact": "LSL",
    "proximity-input": "ZS", "current-output": "LV", "positioner-output": "FV",
    "solenoid-output": "XV", "solenoid-output-ac": "XV",
}  # fmt: skip
RANGES = {"L": (0, 1800, "mm"), "P": (-100, 150, "kPa"), "F": (0, 40, "m3/h"), "A": (0, 14, "pH"),
          "T": (0, 400, "°C")}  # fmt: skip
HEADS = (
    ("Instrument", "Tag No."), ("", "Service"), ("", "Typical"), ("Range", "Min"), ("", "Max"),
    ("", "EU"), ("Power", "PSU"), ("Wiring", "Strip"), ("", "Cable No."), ("", "Cable length (m)"),
    ("", "Core size"), ("", "JB"), ("", "Spur length"), ("Place", "Cabinet"), ("", "Location"),
    ("", "Zone"), ("", "Trip point"),
)  # fmt: skip
COLUMNS = {
    "tag": "Tag No.", "service": "Service", "type": "Typical", "low": "Range / Min", "high": "Max",
    "unit": "EU", "supply": "PSU", "strip": "Strip", "cable": "Cable No.",
    "length": "Cable length (m)", "core_area": "Core size", "box": "JB",
    "branch_length": "Spur length", "cabinet": "Cabinet", "location": "Location", "area": "Zone",
    "set_point": "Trip point",
}  # fmt: skip
FIELDS = tuple(COLUMNS)
PLACES = ("wash section", "column foot", "feed pump house", "reflux structure", "tank farm")


@dataclass(frozen=True)
class Mistake:
    """A planted mistake: its table and row, a word of the report, what becomes of the row."""

    table: str
    row: int
    word: str
    result: str


@dataclass
class Messy:
    """The tables as rows of cells, what was planted, and how many rows are harmless."""

    index: list[list[str]]
    terminals: list[list[str]]
    cables: list[list[str]]
    mistakes: list[Mistake] = field(default_factory=list)

    def write(
        self, folder: Path, separator: str = ";", encoding: str = "cp1252"
    ) -> dict[str, Path]:
        """The three tables as CSV files."""
        paths = {}
        for name in ("index", "terminals", "cables"):
            paths[name] = folder / f"{name}.csv"
            with paths[name].open("w", encoding=encoding, newline="") as file:
                csv.writer(file, delimiter=separator).writerows(getattr(self, name))
        return paths


def mapping_text() -> str:
    """The mapping file for it."""
    lines = ["[index]", *(f'{name} = "{head}"' for name, head in COLUMNS.items())]
    lines += ["[terminals]", 'tag = "Tag"', 'core = "Core"', 'strip = "Strip"',
              'terminal = "Terminal"', 'box = "JB"', 'box_terminal = "JB terminal"']  # fmt: skip
    lines += ["[cables]", 'cable = "Cable"', 'length = "Length"', 'core_area = "Size"']
    lines += ["[types]", *(f'"{word}" = "{name}"' for name, word in TYPES.items())]
    lines += ["[letters]", 'LT = "two-wire-input"', 'PT = "barrier-input"']
    lines += ["[defaults]", 'cabinet = "marshalling cabinet 1"']
    lines += ["[reading]", 'fill_down = ["supply"]']
    return "\n".join(lines) + "\n"


def messy(loops: int, seed: int, every: int = 40) -> Messy:
    """An index of ``loops`` good loops of all types; after each ``every`` of them a mistake."""
    draw = random.Random(seed)
    made = Messy(
        [["Instrument index, unit 7, rev. 3"], [a for a, _ in HEADS], [b for _, b in HEADS]],
        [["Tag", "Core", "Strip", "Terminal", "JB", "JB terminal"]],
        [["Cable", "Length", "Size"]],
    )
    names = list(TYPES)
    good: list[dict[str, str]] = []
    for number in range(loops):
        row = _row(draw, names[number % len(names)], 1000 + number, number)
        good.append(row)
        if number % 100 == 60:
            made.index.append([b for _, b in HEADS])  # the headings, once more on each page
        if number % 150 == 90:
            made.index.append([f"AREA {number}"])
        made.index.append(_messed(draw, row))
        if number % every == every // 2:
            _plant(draw, made, row, number // every)
    _schedules(draw, made, good)
    return made


def _row(draw: random.Random, loop_type: str, number: int, at: int) -> dict[str, str]:
    tag = f"{LETTERS[loop_type]}-{number}"
    low, high, unit = RANGES.get(tag[0], (0, 100, "%"))
    return {
        "tag": tag, "service": f"{draw.choice(('solvent', 'resin', 'lye'))} vessel {number}, été",
        "type": TYPES[loop_type], "low": str(low), "high": str(high), "unit": unit,
        "supply": f"G{at // 8 + 1}", "strip": f"X{1000 + at}", "cable": f"W{3000 + at}",
        "length": str(draw.randrange(20, 300)), "core_area": "0,75 mm²", "box": f"JB{at // 6 + 1}",
        "branch_length": f"{draw.randrange(20, 180) / 10:.1f}".replace(".", ","),
        "cabinet": f"marshalling cabinet {at // 64 + 1}", "location": draw.choice(PLACES),
        "area": draw.choice(("zone 1", "Zone2", "Z 2", "safe", "non-hazardous")),
        "set_point": "50 %" if loop_type in ("trip", "two-wire-input", "control-loop") else "",
    }  # fmt: skip


def _cells(row: dict[str, str]) -> list[str]:
    return [row[name] for name in FIELDS]


def _messed(draw: random.Random, row: dict[str, str]) -> list[str]:
    """The same row as people type it: nothing here is a mistake."""
    row = dict(row)
    for name in ("length", "branch_length", "location", "area"):
        if draw.random() < 0.06:
            row[name] = draw.choice(("", "-", "n/a", "TBD"))
    if draw.random() < 0.3:
        row["length"] = _in_feet(row["length"]) if draw.random() < 0.3 else f"{row['length']} m "
        row["length"] = (
            "" if row["length"].strip() in ("m", "- m", "n/a m", "TBD m") else row["length"]
        )
    if draw.random() < 0.2:
        row["core_area"] = draw.choice(("2 x 1,5 mm2", "AWG 18", "1", "0,75"))
    if draw.random() < 0.2:
        row["tag"] = f"  {row['tag']} "
    if draw.random() < 0.1:
        row["tag"] = row["tag"].strip().replace("-", draw.choice(("\u2013", " ")))
    if draw.random() < 0.2:
        row["service"] = row["service"].replace(" ", "\u00a0", 1) + "  "
    return _cells(row)


def _in_feet(metres: str) -> str:
    return f"{float(metres) / 0.3048:.1f} ft" if metres.isdigit() else metres


def _plant(draw: random.Random, made: Messy, row: dict[str, str], number: int) -> None:
    """One mistake of each kind in turn, in a row of its own."""
    kinds = list(MISTAKES)
    kind = kinds[number % len(kinds)]
    changes, word, result = MISTAKES[kind]
    wrong = row | {"tag": f"{row['tag']}{draw.choice('XYZ')}", "cable": "", "strip": ""} | changes
    if kind == "same tag twice":
        made.index.append(_cells(wrong | {"service": "something else"}))
        made.mistakes.append(Mistake("index", len(made.index), word, result))
    made.index.append(_cells(wrong))
    made.mistakes.append(Mistake("index", len(made.index), word, result))


MISTAKES: dict[str, tuple[dict[str, str], str, str]] = {
    "no tag": ({"tag": ""}, "no tag", "rejected"),
    "same tag twice": ({}, "as well", "rejected"),
    "unknown type": ({"type": "2W 4-20 mAA"}, "no loop type", "rejected"),
    "letter in a length": ({"length": "12O m"}, "not a number", "used"),
    "length in kilograms": ({"length": "120 kg"}, "no unit of length", "used"),
    "far too long": ({"length": "120000"}, "not between", "used"),
    "thousands or decimals": ({"length": "1,250 m"}, "can mean", "used"),
    "a path as a tag": ({"tag": "../../LT-1"}, "no name", "rejected"),
    "a formula as a tag": ({"tag": "=HYPERLINK(\"x\")"}, "no name", "rejected"),
    "a device name": ({"tag": "CON"}, "keep for a device", "rejected"),
    "unknown area": ({"area": "class I"}, "no area", "used"),
    "range of one value": ({"type": "2W barrier", "low": "100", "high": "100", "unit": "kPa"},
                           "both ends", "rejected"),
    "range without a unit": ({"type": "2W barrier", "low": "0", "high": "55", "unit": ""},
                             "no unit", "rejected"),
    "one end missing": ({"type": "2W barrier", "high": ""}, "missing", "rejected"),
    "signal for a range": ({"type": "2W barrier", "low": "4", "high": "20", "unit": "mA"},
                           "the signal", "rejected"),
    "set point outside": ({"type": "trip", "low": "0", "high": "100", "unit": "%",
                           "set_point": "140 %"}, "outside", "rejected"),
    "a name with a slash": ({"box": "JB/7"}, "no name", "used"),
    "a cable not in the list": ({"cable": "W99999"}, "not in the cable list", "used"),
}  # fmt: skip
"""Kind -> the cells that are wrong, a word of the report, what becomes of the row."""


def _schedules(draw: random.Random, made: Messy, good: list[dict[str, str]]) -> None:
    ends = {
        "AO I/P": ("+", "-"),
        "2W 4-20 mA": ("+", "-"),
        "Pt100": ("A", "B", "C"),
        "3W": ("+", "S", "-"),
    }
    for row in good:
        made.cables.append([row["cable"], f"{row['length']},0 m", ""])
        for at, core in enumerate(ends.get(row["type"], ()), 11):
            box = [] if core in "ABC" else [row["box"], str(at + 6 * (int(row["tag"][-4:]) % 6))]
            made.terminals.append([row["tag"], core, row["strip"], str(at), *box])
    twice = good[0]
    made.cables[1] = [twice["cable"], "888", "1"]
    _wrong(made, "cables", [twice["cable"], "999", "1"], "other values")
    made.mistakes.append(Mistake("cables", 2, "other values", "rejected"))
    _wrong(made, "cables", ["", "100", "1"], "no cable")
    _wrong(made, "terminals", [twice["tag"], "Q", twice["strip"], "3", "", ""], "no core")
    _wrong(made, "terminals", ["LT-9", "+", "X1", "3", "", ""], "no sheet is made")
    other = next(row for row in good[1:] if row["type"] == twice["type"])
    taken = made.terminals[1][2:4]
    _wrong(made, "terminals", [other["tag"], "-", *taken, "", ""], "already")


def _wrong(made: Messy, table: str, cells: list[str], word: str) -> None:
    rows = getattr(made, table)
    rows.append(cells)
    made.mistakes.append(Mistake(table, len(rows), word, "rejected"))
