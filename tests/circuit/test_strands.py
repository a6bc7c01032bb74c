"""The order in which a loop is drawn: nothing left out, nothing twice, every step a real one."""

from pathlib import Path

import pytest

from diagnose.circuit.bases import bases
from diagnose.circuit.store import topology
from diagnose.circuit.strands import Strands, strands
from diagnose.library import type_names
from diagnose.loops.kind import SYMBOLS, Kind
from diagnose.loops.loop import EARTH, Loop
from diagnose.loops.sheet import load_sheet, load_type

ROOT = Path(__file__).resolve().parents[2]
SHEETS = sorted((ROOT / "cases" / "larkmere" / "sheets").glob("*.toml"))


@pytest.fixture(params=[*type_names(), *SHEETS], ids=lambda item: getattr(item, "stem", item))
def loop(request: pytest.FixtureRequest) -> Loop:
    item = request.param
    return load_sheet(item) if isinstance(item, Path) else load_type(item)


def told(found: Strands) -> list[str]:
    lines = [list(dict.fromkeys(strand.parts)) for strand in (*found.rings, *found.branches)]
    return [name for line in lines for name in line]


def test_every_part_is_met_once_and_what_is_latent_only_when_asked(loop: Loop) -> None:
    latent = {part.name for part in loop.parts if part.kind.latent}
    wired = {part.name for part in loop.parts if part.pins}
    for asked in (set(), latent):
        found = strands(loop, topology(loop), asked)
        assert sorted(told(found)) == sorted(wired - (latent - asked))
    chained = {name for chain in found.chains for name in chain}
    assert {part.name for part in loop.parts} - wired <= chained


def test_steps_follow_the_wires_of_the_sheet(loop: Loop) -> None:
    found = strands(loop, topology(loop))
    for strand in (*found.rings, *found.branches):
        for before, after in zip(strand.steps, strand.steps[1:], strict=False):
            assert before.b == after.a
        for step in strand.steps:
            assert {step.a, step.b} <= set(loop.part(step.part).pins.values())
    for ring in found.rings:
        assert ring.nodes[0] == ring.nodes[-1]


def test_a_branch_begins_where_one_has_been_and_ends_so_too(loop: Loop) -> None:
    found = strands(loop, topology(loop))

    def around(parts: tuple[str, ...]) -> set[str]:
        return {node for name in parts for node in loop.part(name).pins.values()}

    known = {EARTH}.union(*(around(ring.parts) for ring in found.rings))
    for branch in found.branches:
        assert branch.nodes[0] in known - {EARTH}
        assert branch.nodes[-1] in known
        known |= around(branch.parts)


def test_the_demo_loop_runs_as_its_loop_type_says(plant: Path) -> None:
    """models/two-wire-input.toml draws its own path in its head, by hand."""
    ring = strands(loop := load_sheet(plant / "sheets" / "LT-214.toml"), topology(loop)).rings[0]
    by_hand = ["G1", "F1", "A1", "LK1", "W3+", "W4+", "LT-214", "W4-", "W3-", "LK2", "R1"]
    assert [name for name in ring.parts if name in by_hand] == by_hand
    assert ring.steps[0].a == "G1:-"


def test_every_kind_has_a_known_sign() -> None:
    assert {kind.symbol for kind in Kind.registry.values()} <= set(SYMBOLS)


def test_volts_count_from_what_is_joined_to_them(plant: Path) -> None:
    """An isolator parts two circuits (common practice, no source): each has its own zero."""
    isolated = bases(load_sheet(plant / "sheets" / "FT-118.toml"))
    assert isolated["JB23:1"] == isolated["A1:1"] == "FT-118:4"
    assert isolated["X55:7"] == isolated["PE"] == "X20:0"
    joined = bases(load_sheet(plant / "sheets" / "LT-214.toml"))
    assert set(joined.values()) == {"X20:0"}
    floating = bases(load_sheet(plant / "sheets" / "LSL-216.toml"))
    assert floating["PE"] == "PE"
    assert floating["JB33:1"] == "LY-216:3"
