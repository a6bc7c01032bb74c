"""The loop and the meter that a command is about."""

from __future__ import annotations

import re
from argparse import Namespace
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from diagnose.errors import UnknownNameError
from diagnose.library import type_names
from diagnose.loops.loop import Loop
from diagnose.loops.names import TAG, name_fault
from diagnose.loops.plant import Plant, open_plant
from diagnose.loops.sheet import load_sheet, load_type
from diagnose.terminal.arguments import UsageError

if TYPE_CHECKING:
    from diagnose.inference.meters import Meter


def plant_of(arguments: Namespace) -> Plant:
    """The plant that ``--plant`` names, or the current folder, or the demo plant."""
    return open_plant(arguments.plant)


def find_loop(word: str, plant: Plant) -> Loop:
    """The loop of a tag (any case, a beginning of it if only one fits), a type, or a sheet's path.

    Raises UnknownNameError, UsageError where several tags begin so, SheetError, and CircuitError
    for a sheet whose circuit makes no sense.
    """
    from diagnose.circuit.store import topology

    loop = _find(word, plant)
    topology(loop)
    return loop


def _find(word: str, plant: Plant) -> Loop:
    if word.casefold().endswith(".toml") or "/" in word or "\\" in word:
        if not Path(word).is_file():
            raise UsageError(f"there is no sheet '{word[:200]}'")
        return load_sheet(word)
    if plant.sheet(word) is not None:
        return plant.load(word)
    tag = find_tag(word, plant)
    if tag:
        return plant.load(tag)
    if word in type_names():
        return load_type(word)
    known = (*plant.tags(), *type_names())
    raise UnknownNameError("loop", word, known, _without_sheet(word, plant))


def find_tag(word: str, plant: Plant, begun: bool = True) -> str | None:
    """The tag of a word in any case, without its hyphen, or only ``begun``; None if none fits.

    Raises UsageError where several fit.
    """
    tags = plant.tags()
    found = [tag for tag in tags if _plain(tag) == _plain(word)]
    if begun and not found and _plain(word):
        found = [tag for tag in tags if _plain(tag).startswith(_plain(word))]
    if len(found) > 1:
        raise UsageError(f"'{word}' can mean {' or '.join(found)}: type more of it")
    return found[0] if found else None


def _without_sheet(word: str, plant: Plant) -> str:
    """What to do about a loop that has no sheet."""
    tag = "TAG" if name_fault(TAG, word) else word
    start = "plant new FOLDER starts a plant for" if plant.is_demo else f"sheet new {tag} starts"
    return (
        "a loop without a sheet can be hunted as its type, such as two-wire-input (diagnose loops "
        f"lists them), and diagnose {start} its sheet"
    )


def _plain(tag: str) -> str:
    """A tag without case and separators: ``lt 214`` and ``LT-214`` are one."""
    return re.sub(r"[\s\-_.]", "", tag).casefold()


def meter_of(plant: Plant, name: str | None = None) -> Meter:
    """What the plant's meters do together, the first of each function; or one of them by name.

    A function that no meter of the plant has is that of the generic meter.
    """
    from diagnose.inference.meters import GENERIC, MeterFunction

    if name is not None and name not in plant.meters:
        raise UnknownNameError("meter", name, plant.meters)
    meters = [plant.meters[name]] if name is not None else [*plant.meters.values()]
    functions = dict(GENERIC.functions)
    for meter in reversed(meters):
        for function, accuracy in meter.functions.items():
            usual = GENERIC.functions[function]
            functions[function] = MeterFunction(
                100 * accuracy.share, accuracy.counts, usual.ranges, usual.display
            )
    return replace(GENERIC, name=name or "the plant's meters", functions=functions)
