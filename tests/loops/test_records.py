"""The copy of a sheet that a case keeps is read by later versions, whose laws count otherwise.

Common practice, no source: a log that only its own version can read is no log.
"""

import json
from typing import Any

import pytest

from diagnose.errors import SheetError
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.loops.record import loop_from_record, loop_to_record

TAGS = ("ZS-221", "LSL-216", "LT-214", "LAHH-214")


def kept(tag: str) -> dict[str, Any]:
    """The record of a loop as it comes out of a file."""
    found: dict[str, Any] = json.loads(json.dumps(loop_to_record(open_plant().load(tag))))
    return found


def values(loop: Loop) -> dict[str, dict[str, float]]:
    return {part.name: dict(part.values) for part in loop.parts}


@pytest.mark.parametrize("tag", TAGS)
def test_what_no_sheet_can_say_is_of_this_version(tag: str) -> None:
    """A spread that was an addend around 0 is a factor around 1 now: the old 0 would stop it."""
    loop, record = open_plant().load(tag), kept(tag)
    changed = 0
    for part, old in zip(loop.parts, record["parts"], strict=True):
        for parameter in part.kind.parameters:
            if not parameter.typed and parameter.default is not None:
                old["values"][parameter.name] = 7.25
                changed += 1
    assert changed
    assert values(loop_from_record(record)) == values(loop)


def test_a_number_that_a_law_worked_out_under_another_name_is_left_behind() -> None:
    record = kept("LSL-216")
    record["parts"][0]["values"]["worked_out"] = 0.0
    assert values(loop_from_record(record)) == values(open_plant().load("LSL-216"))


def test_a_value_that_somebody_gave_is_not_lost_without_a_word() -> None:
    record = kept("LSL-216")
    record["parts"][0]["values"]["volts_of_old"] = 24.0
    with pytest.raises(SheetError, match="values are not those of a"):
        loop_from_record(record)
