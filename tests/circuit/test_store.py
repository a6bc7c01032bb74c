"""Derived equations are shared by circuits of one structure, whatever their parts are called."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.circuit import store
from diagnose.circuit.operating import operating_point
from diagnose.circuit.wiring import Wiring
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet, load_type

SHEET = """
[loop]
tag = "PT-9"
type = "isolator-input"
range = ["0 kPa", "10 kPa"]

[rename]
TX = "PT-9"
U1 = "PIC-9"
X21 = "X99"

[[part]]
name = "W3+"
length = "77 m"
area = "1 mm2"
"""


@pytest.fixture
def renamed(tmp_path: Path) -> Loop:
    (tmp_path / "sheets").mkdir()
    path = tmp_path / "sheets" / "PT-9.toml"
    path.write_text(SHEET)
    return load_sheet(path)


def test_a_renamed_sheet_derives_nothing_anew(renamed, monkeypatch):
    known = store.tapes(Wiring(load_type("isolator-input")))
    monkeypatch.setattr(store, "_derive", None)
    assert store.tapes(Wiring(renamed)) is known


def test_what_is_shared_gives_each_sheet_its_own_numbers(renamed):
    """The longer core drops more: I x R by hand, R from IEC 60228 (18.1 ohm/km for 1 mm2)."""
    point = operating_point(renamed, {}, 0.5)
    core = renamed.part("W3+").pins
    drop = point.voltages[core["a"]] - point.voltages[core["b"]]
    assert drop == pytest.approx(12e-3 * 0.0181 * 77, rel=1e-4)


def test_another_connection_is_another_circuit():
    loop = load_type("isolator-input")
    some = loop.part("W3+")
    moved = replace(some, pins={"a": some.pins["b"], "b": some.pins["a"]})
    other = replace(loop, parts=tuple(moved if part is some else part for part in loop.parts))
    assert Wiring(other).structure() != Wiring(loop).structure()


def test_sheets_of_one_structure_keep_a_topology_each(renamed):
    """Names and lengths decide what a path is called: it is not shared."""
    assert "PT-9" in store.topology(renamed).path
    assert "TX" in store.topology(load_type("isolator-input")).path
