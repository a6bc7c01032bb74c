"""What a title calls by name is there on the sheet: nobody looks for a core that is not."""

import re

import pytest

from diagnose.loops.plant import open_plant

NAME = re.compile(r"(?<![\w.])[A-Z]+[0-9]+[+LN-]?(?::[\w+-]+)?(?!\w)")
"""A core, a terminal or a device as the loop types name them: ``W3+``, ``X40:1``, ``RL1:A2``."""


@pytest.mark.parametrize("tag", open_plant().tags())
def test_titles_call_cores_and_terminals_by_the_names_of_the_sheet(tag: str) -> None:
    """``W51+.X51`` was told as ``end of core W3+ in the cabinet``: a core of another loop."""
    loop = open_plant().load(tag)
    nodes = {node for part in loop.parts for node in part.pins.values()}
    pieces = {piece for part in loop.parts for piece in (part.name, *part.name.split("."))}
    cables = {piece.rstrip("+-LN") for piece in pieces}
    strangers = {
        f"{part.name}: {part.title}"
        for part in loop.parts
        for name in NAME.findall(part.title)
        if name not in nodes | pieces | cables
    }
    assert strangers == set()


def test_the_titles_of_a_renamed_loop_do_name_something() -> None:
    titles = {part.name: part.title for part in open_plant().load("XV-221").parts}
    assert titles["W51+.X51"] == "end of core W51+ in the cabinet"
    assert titles["I.W52"] == "between the cores of cable W52"
