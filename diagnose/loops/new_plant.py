"""A plant folder that is begun: its file, commented, and an empty folder for the sheets."""

from __future__ import annotations

import json
from pathlib import Path

from diagnose.errors import SheetError
from diagnose.library import write_new
from diagnose.loops.names import PLACE, name_fault, shown
from diagnose.loops.plant import PLANT_FILE
from diagnose.loops.sheet_text import LONGEST_TEXT

_TEXT = """\
# A plant folder: loop sheets lie in sheets/, loop types of the plant's own in models/, hunts in
# cases/.

[plant]
name = {name}
unit = {unit}

# Meters of the shop: limit of error as per cent of the reading and counts of the last digit, from
# the manual of each.  What no meter here has is assumed of a usual one.
#
# [meter.M-1]
# title = "industrial multimeter"
# V     = {{ percent = "0.1 %", counts = 2 }}
# mA    = {{ percent = "0.3 %", counts = 3 }}
# ohm   = {{ percent = "0.5 %", counts = 2 }}
"""


def new_plant(folder: Path, name: str, unit: str = "") -> list[Path]:
    """Make a plant folder; what is there already stays as it is.

    Raises
    ------
    SheetError
        There is a plant in the folder, the name will not do, or nothing can be written there.
    """
    path = folder / PLANT_FILE
    fault = name_fault(PLACE, name) or _line_fault(unit)
    if path.exists():
        fault = "there is one in it already; nothing was changed"
    if fault:
        raise SheetError([(shown(path, 200), "plant", fault)])
    text = _TEXT.format(name=json.dumps(name), unit=json.dumps(unit, ensure_ascii=False))
    try:
        (folder / "sheets").mkdir(parents=True, exist_ok=True)
        write_new(path, text.encode())
    except OSError as error:
        reason = f"it cannot be made: {error.strerror or error}"
        raise SheetError([(shown(path, 200), "file", reason)]) from error
    return [path, folder / "sheets"]


def _line_fault(text: str) -> str:
    if text.isprintable() and len(text) <= LONGEST_TEXT:
        return ""
    return f"the unit is one line of plain text, {LONGEST_TEXT} characters at most"
