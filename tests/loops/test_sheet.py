"""Loop sheets and loop types: what they say is what the loop holds.

Resistances of cores are checked against IEC 60228:2004 (24.5 ohm/km for 0.75 mm2 class 2, seen
reproduced by secondary pages); the rest is what the sheet itself says.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.errors import DiagnoseError, SheetError, UnknownNameError
from diagnose.library import models, type_names
from diagnose.loops.kind import Kind
from diagnose.loops.loop import Point
from diagnose.loops.sheet import load_sheet, load_type

SHEETS = Path(__file__).parents[1] / "sheets"
LARKMERE = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"
SMALL = (SHEETS / "small.toml").read_text()
TYPED = (SHEETS / "typed.toml").read_text()


def write(folder: Path, text: str | bytes) -> Path:
    folder.joinpath("sheets").mkdir()
    path = folder / "sheets" / "sheet.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_a_complete_sheet_needs_no_type(tmp_path):
    loop = load_sheet(write(tmp_path, SMALL))
    assert (loop.tag, loop.service, loop.type) == ("XT-1", "small loop", "")
    assert loop.range == ("mm", 0.0, 1800.0)
    assert loop.nodes == ("X1:0", "X1:1", "TX:+", "X1:7")
    assert loop.role == {"trip"}
    assert loop.drift == 0.002
    assert loop.part("T1").references == {"to": "TX"}
    assert loop.points == (Point("X1:7", "cabinet"),)
    assert loop.place("field").area == "zone 2"


def test_values_are_in_si_and_cores_follow_the_table(tmp_path):
    loop = load_sheet(write(tmp_path, SMALL))
    assert loop.part("R1").values == {"resistance": 250.0}
    # 1 km of 0.75 mm2, class 2 plain: 24.5 ohm (IEC 60228:2004, table 2).
    assert loop.part("W1").values["resistance"] == pytest.approx(24.5)


def test_relative_tolerances_become_limits_in_the_unit_of_the_value(tmp_path):
    loop = load_sheet(write(tmp_path, SMALL))
    assert loop.part("R1").tolerances == {"resistance": pytest.approx(0.001 * 250)}
    assert loop.part("TX").tolerances["lift_off"] == pytest.approx(0.02 * 12)
    # JCGM 100:2008, 4.3.7: a limit a taken as rectangular has the standard uncertainty a / sqrt(3).
    assert loop.part("R1").spread("resistance") == pytest.approx(0.25 / 3**0.5)


def test_absolute_and_zero_tolerances(tmp_path):
    text = SMALL.replace('tolerance = "0.1 %"', 'tolerance = "2 ohm"')
    assert load_sheet(write(tmp_path, text)).part("R1").tolerances == {"resistance": 2.0}
    none = SMALL.replace('lift_off = "2 %"', 'lift_off = "0 %", trim = "0 %", leak = "0 %"')
    path = tmp_path / "none.toml"
    path.write_text(none)
    assert load_sheet(path).part("TX").tolerances == {}


def test_what_the_sheet_does_not_say_is_reported_as_assumed(tmp_path):
    loop = load_sheet(write(tmp_path, SMALL))
    assert loop.part("R1").assumed == frozenset()
    assert loop.part("W1").assumed == frozenset()  # said as length and area
    assert loop.part("G1").assumed == {"source_resistance", "current_limit"}
    assert "lift_off" in loop.part("TX").assumed
    assert "stuck" not in loop.part("TX").assumed  # moved by faults, never typed


def test_what_only_the_type_says_is_assumed_too():
    loop = load_sheet(LARKMERE / "LT-214.toml")
    assert loop.part("W4+").assumed == frozenset()
    assert loop.part("R1").assumed == {"resistance"}


def test_every_parameter_has_a_value(tmp_path):
    for part in load_sheet(write(tmp_path, SMALL)).parts:
        assert part.values.keys() == {p.name for p in part.kind.parameters}


def test_earth_is_within_reach_wherever_it_is_in_the_circuit(tmp_path):
    assert load_sheet(SHEETS / "b3.toml").place_of("PE") == ""
    assert load_sheet(write(tmp_path, SMALL)).place_of("PE") is None


def test_windows_line_ends_and_a_byte_order_mark_are_no_matter(tmp_path):
    raw = b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode()
    assert load_sheet(write(tmp_path, raw)).digest == load_sheet(_plain(tmp_path)).digest


def _plain(folder: Path) -> Path:
    path = folder / "plain.toml"
    path.write_text(SMALL)
    return path


def test_the_digest_follows_content_and_not_comments(tmp_path):
    digest = load_sheet(_plain(tmp_path)).digest
    again = load_sheet(write(tmp_path, "# a comment\n" + SMALL)).digest
    other = tmp_path / "other.toml"
    other.write_text(SMALL.replace("250 ohm", "251 ohm"))
    assert again == digest
    assert load_sheet(other).digest != digest
    assert len(digest) == 64


@pytest.mark.parametrize("name", type_names())
def test_a_loop_type_loads_as_a_sheet_by_itself(name):
    loop = load_type(name)
    assert (loop.tag, loop.type) == (name, name)
    assert {point.place for point in loop.points} <= {"", *(place.name for place in loop.places)}


def test_an_unknown_loop_type_is_told():
    with pytest.raises(UnknownNameError, match="no loop type called 'two-wire'; did you mean two-"):
        load_type("two-wire")
    with pytest.raises(DiagnoseError):
        load_type("../cases/larkmere/plant")


def test_the_two_wire_input_has_enough_to_fail():
    loop = load_type("two-wire-input")
    assert sum(len(part.kind.modes) for part in loop.parts) >= 60


def test_no_lead_reaches_a_wire_end_in_its_clamp():
    loop = load_type("two-wire-input")
    hidden = {
        part.pins["wire"]
        for part in loop.parts
        if part.name.startswith(("W3", "W4")) and "wire" in part.pins
    }
    assert len(hidden) == 8
    assert all(loop.place_of(node) is None for node in hidden)


def test_every_receiver_can_be_lifted_alone():
    """Each has a termination of its own on the bus strip, a signal wire and a common wire."""
    loop = load_type("two-wire-input")
    receivers = [part for part in loop.parts if "signal" in part.pins]
    assert len(receivers) == 4
    for receiver in receivers:
        wire = next(p for p in loop.parts if p.pins.get("b") == receiver.pins["signal"])
        end = next(p for p in loop.parts if p.pins.get("wire") == wire.pins["a"])
        assert end.kind.opens_at
        assert end.pins["terminal"] == "X22:1"
        common = next(p for p in loop.parts if p.pins.get("a") == receiver.pins["common"])
        assert common.pins["b"] == loop.reference


def test_a_sheet_renames_the_parts_and_nodes_of_its_type():
    loop = load_sheet(LARKMERE / "LT-214.toml")
    names = {part.name for part in loop.parts}
    assert {"LT-214", "LIC-214", "LR-214", "LAHH-214", "LI-214", "LG-214"} <= names
    assert loop.part("LT-214").pins == {"plus": "LT-214:+", "minus": "LT-214:-"}
    assert loop.part("T1").references == {"to": "LT-214"}
    assert loop.part("LIC-214+").pins["b"] == "LIC-214:+"
    assert loop.place_of("LT-214:+") == "transmitter"
    assert not [name for name in (*names, *loop.nodes) if name.startswith(("TX", "U1", "U2"))]


def test_a_renamed_strip_takes_its_terminals_along(tmp_path):
    text = TYPED + '[rename]\nX21 = "X31"\n"X22:1" = "X32:9"\nW3 = "W77"\n'
    loop = load_sheet(write(tmp_path, text))
    assert loop.part("X31.R1").pins["terminal"] == "X31:7"
    assert loop.place_of("X32:9") == "cabinet"
    assert loop.part("W77+.X31").pins == {"terminal": "X31:4", "wire": "W77+.1"}
    assert loop.part("X31.X22").pins["wire"] == "X32:9"


def test_a_sheet_overrides_single_keys_and_single_pins():
    loop = load_sheet(LARKMERE / "LT-216.toml")
    assert loop.part("A1").pins == {"a": "X24:2", "b": "X24:3"}
    assert loop.part("A1").values == {"resistance": 300.0}
    assert loop.part("LAHH-216").values["set_point"] == 4.0
    assert loop.place_of("X24:7") is None  # the node has gone with the moved pins
    assert loop.place_of("X24:2") == "cabinet"
    assert loop.place("control room").area == "safe"


def test_a_resistance_replaces_the_length_of_the_type(tmp_path):
    more = '[[part]]\nname = "W3+"\nresistance = "7 ohm"\n'
    assert load_sheet(write(tmp_path, TYPED + more)).part("W3+").values == {"resistance": 7.0}


def test_another_kind_replaces_the_part(tmp_path):
    more = """[[part]]
name = "F1"
kind = "link"
pins = { a = "X20:1", b = "X21:1" }
place = "cabinet"
"""
    part = load_sheet(write(tmp_path, TYPED + more)).part("F1")
    assert part.kind is Kind.registry["link"]
    assert part.title == ""


def test_parts_can_be_omitted_with_all_that_is_named_after_them(tmp_path):
    loop = load_sheet(write(tmp_path, 'omit = ["U4*", "FV1", "FV2"]\n' + TYPED))
    names = [part.name for part in loop.parts]
    assert not [name for name in names if name.startswith(("U4", "FV"))]
    assert loop.place_of("U4:+") is None
    assert loop.place_of("U3:+") == "cabinet"


def test_omit_below_the_loop_table_means_the_same(tmp_path):
    loop = load_sheet(write(tmp_path, TYPED + 'omit = ["FV1"]\n'))
    assert "FV1" not in [part.name for part in loop.parts]


def test_a_plant_may_hold_loop_types_of_its_own(tmp_path):
    (tmp_path / "models").mkdir()
    own = (models() / "two-wire-input.toml").read_text().replace('"250 ohm"', '"100 ohm"')
    (tmp_path / "models" / "own-input.toml").write_text(own)
    loop = load_sheet(write(tmp_path, TYPED.replace("two-wire-input", "own-input")))
    assert loop.part("R1").values == {"resistance": 100.0}


def test_the_problems_of_a_type_are_told_with_its_own_file(tmp_path):
    (tmp_path / "models").mkdir()
    broken = tmp_path / "models" / "broken.toml"
    broken.write_text('[loop]\ntype = "two-wire-input"\nomit = ["F1"]\n')
    with pytest.raises(SheetError) as caught:
        load_sheet(write(tmp_path, TYPED.replace("two-wire-input", "broken")))
    assert caught.value.problems == (
        (str(broken), "omit", "a loop type has nothing to change; only a sheet can do this"),
        (str(broken), "loop: type", "a loop type cannot build on another one; remove the key"),
    )


def test_the_reference_loop_is_as_its_source_says():
    """24 V, 300 / 20 + 20 / 250 ohm, three receivers of 1 Mohm, lift-off 12 V: all exact."""
    loop = load_sheet(SHEETS / "b3.toml")
    ohms = [loop.part(name).values["resistance"] for name in ("A1", "W1+", "W1-", "R1")]
    assert ohms == [300.0, 20.0, 20.0, 250.0]
    assert {p.name: dict(p.tolerances) for p in loop.parts if p.tolerances} == {
        "R1": {"resistance": pytest.approx(0.25)}
    }
    assert loop.nodes == ("n", "ps", "PE", "a", "b", "tp", "tn", "c", "d")
    floating = load_sheet(SHEETS / "b3_floating.toml")
    assert floating.part("E1").values["resistance"] == 1e12
