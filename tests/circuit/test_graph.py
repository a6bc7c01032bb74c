"""The graph of a loop: its path, and circuits that make no sense.

What is right here is the drawing of the loop itself; the reference loop is 24 V, 300 ohm, a core,
the transmitter, a core, 250 ohm, in this order.
"""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from diagnose.circuit.graph import CircuitError, Topology, check
from diagnose.library import demo_plant
from diagnose.loops.loop import Loop, Point
from diagnose.loops.plant import open_plant
from diagnose.loops.sheet import load_sheet, load_type

SHEETS = Path(__file__).parents[1] / "sheets"


def b3() -> Loop:
    return load_sheet(SHEETS / "b3.toml")


def without(loop: Loop, *names: str) -> Loop:
    return replace(loop, parts=tuple(part for part in loop.parts if part.name not in names))


def changed(loop: Loop, name: str, **changes: Any) -> Loop:
    """The loop with pins or values of one part replaced."""
    part = loop.part(name)
    part = replace(
        part,
        pins={**part.pins, **changes.get("pins", {})},
        values={**part.values, **changes.get("values", {})},
    )
    return replace(loop, parts=tuple(part if p.name == name else p for p in loop.parts))


def reasons(loop: Loop) -> tuple[str, ...]:
    with pytest.raises(CircuitError) as caught:
        check(loop)
    return caught.value.reasons


def test_the_path_of_the_reference_loop():
    found = check(b3())
    assert found.path == ("G1", "LK1", "A1", "W1+", "TX", "W1-", "LK2", "R1")
    assert found.nodes == ("ps", "a", "b", "tp", "tn", "c", "d", "n")


def test_receivers_split_the_series_group():
    """Between the supply and d nothing branches off; 250 ohm shares its current with receivers."""
    assert check(b3()).series == (("G1", "LK1", "A1", "W1+", "TX", "W1-", "LK2"), ("R1",))


def test_insulation_carries_no_loop_current():
    assert set(check(b3()).carriers) == {"G1", "LK1", "A1", "W1+", "TX", "W1-", "LK2", "R1"}


def test_a_floating_supply_is_no_fault():
    assert check(load_sheet(SHEETS / "b3_floating.toml")).path == check(b3()).path


def test_the_path_of_the_loop_type_follows_the_drawing():
    path = check(load_type("two-wire-input")).path
    order = ["G1", "F1", "A1", "LK1", "W3+", "W4+", "TX", "W4-", "W3-", "LK2", "R1"]
    assert [name for name in path if name in order] == order
    assert not [name for name in path if name.startswith(("U", "I.", "E", "FV"))]


def test_a_sense_resistor_in_the_supply_leg_comes_before_the_transmitter():
    path = check(open_plant(demo_plant()).load("LT-216")).path
    assert path.index("F1") < path.index("R1") < path.index("A1") < path.index("LT-216")


@pytest.mark.parametrize("tag", open_plant(demo_plant()).tags())
def test_every_loop_of_the_demo_plant_makes_sense(tag):
    found = check(open_plant(demo_plant()).load(tag))
    assert len(found.nodes) == len(set(found.nodes))
    assert set(found.path) <= set(found.carriers)


def test_each_step_of_the_path_begins_where_the_last_one_ended():
    loop = load_type("two-wire-input")
    found = check(loop)
    for name, step in zip(found.path[1:], pairwise(found.nodes), strict=True):
        assert set(step) == set(loop.part(name).pins.values())
    assert (found.nodes[0], found.nodes[-1]) == ("G1:+", "G1:-")


def test_series_groups_share_out_the_path():
    found = check(load_type("two-wire-input"))
    assert sorted(name for group in found.series for name in group) == sorted(found.path)


def test_a_supply_wired_the_other_way_round_is_followed_as_well():
    turned = changed(b3(), "TX", pins={"plus": "tn", "minus": "tp"})
    assert check(turned).path == check(b3()).path


def test_two_resistors_in_parallel_both_carry():
    loop = b3()
    twin = replace(loop.part("R1"), name="R2")
    found = check(replace(loop, parts=(*loop.parts, twin)))
    assert {"R1", "R2"} <= set(found.carriers)
    assert len(found.path) == 8


def test_a_topology_survives_json():
    found = check(load_type("two-wire-input"))
    assert Topology.from_dict(json.loads(json.dumps(found.to_dict()))) == found


@pytest.mark.parametrize(
    "data",
    [{}, {"path": "G1", "nodes": [], "carriers": [], "series": []},
     {"path": [1], "nodes": [], "carriers": [], "series": []},
     {"path": [], "nodes": [], "carriers": [], "series": 3}],
)  # fmt: skip
def test_what_is_no_topology_is_refused(data):
    with pytest.raises(ValueError, match="this is no topology of a loop"):
        Topology.from_dict(data)


NONSENSE = {
    "no supply": (
        lambda: without(b3(), "G1"),
        (
            "LK1 hangs loose: nothing else is connected to ps",
            "there is no supply: nothing in the circuit drives a current",
        ),
    ),
    "dead supply": (
        lambda: changed(b3(), "G1", values={"voltage": 0.0}),
        ("there is no supply: nothing in the circuit drives a current",),
    ),
    "open return": (
        lambda: without(b3(), "R1"),
        ("no return path from d to the supply G1: its current cannot come back to n",),
    ),
    "core missing": (
        lambda: without(b3(), "W1-"),
        ("no return path from tn to the supply G1: its current cannot come back to n",),
    ),
    "shorted by a link": (
        lambda: changed(b3(), "LK1", pins={"b": "n"}),
        (
            "A1 hangs loose: nothing else is connected to a",
            "supply G1 is shorted: only LK1 between its plus and its minus",
        ),
    ),
    "supply on one node": (
        lambda: changed(b3(), "G1", pins={"plus": "n"}),
        (
            "LK1 hangs loose: nothing else is connected to ps",
            "G1 is shorted: both its pins are on n",
        ),
    ),
    "part on one node": (
        lambda: changed(b3(), "U2", pins={"signal": "n"}),
        ("U2 is shorted: both its pins are on n",),
    ),
    "loose receiver": (
        lambda: changed(b3(), "U2", pins={"signal": "e"}),
        ("U2 hangs loose: nothing else is connected to e",),
    ),
    "island": (
        lambda: replace(
            b3(),
            parts=(
                *b3().parts,
                replace(b3().part("R1"), name="R8", pins={"a": "y", "b": "z"}),
                replace(b3().part("R1"), name="R9", pins={"a": "y", "b": "z"}),
            ),
        ),
        ("y, z: nothing but insulation ties this to the reference n",),
    ),
    "reference elsewhere": (
        lambda: replace(b3(), reference="nn"),
        ("the reference nn is not in the circuit; did you mean n?",),
    ),
    "point elsewhere": (
        lambda: replace(b3(), points=(*b3().points, Point("tpp", "cabinet"))),
        ("the point tpp is not in the circuit; did you mean tp?",),
    ),
}


@pytest.mark.parametrize(("make", "sentences"), NONSENSE.values(), ids=NONSENSE)
def test_nonsense_is_refused_in_the_words_of_a_circuit(make, sentences):
    assert reasons(make()) == sentences


def test_the_error_names_the_loop_before_each_reason():
    with pytest.raises(CircuitError) as caught:
        check(without(b3(), "G1"))
    assert all(line.startswith("B3: ") for line in str(caught.value).splitlines())


def test_in_the_loop_type_a_missing_part_is_missed_where_it_belongs():
    for name, node in (("LK2", "X21:5"), ("W4+", "W4+.1"), ("F1", "X20:1")):
        text = " ".join(reasons(without(load_type("two-wire-input"), name)))
        assert f"no return path from {node} to the supply G1" in text
