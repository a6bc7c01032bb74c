"""Loops of a plant are found by what people call them, and the catalogue is never out of date."""

import json
import os
import shutil
from pathlib import Path

import pytest

from diagnose.loops import catalogue as module
from diagnose.loops.catalogue import Card, catalogue, table_of
from diagnose.loops.finding import ALIKE, find, neighbours
from diagnose.loops.plant import open_plant

SHEET = """
[loop]
tag = "{tag}"
service = "{service}"
type = "two-wire-input"
[rename]
TX = "{tag}"
G1 = "{supply}"
JB9 = "{box}"
[[place]]
name = "cabinet"
title = "{cabinet}"
[[place]]
name = "junction box"
title = "junction box {box}, pump bay"
"""
LOOPS = (
    ("LT-1", "lye tank level", "G4", "JB1", "cabinet 1"),
    ("LT-2", "resin tank level", "G4", "JB12", "cabinet 1"),
    ("LT-3", "solvent tank level", "G4", "JB1", "cabinet 2"),
    ("PT-11", "lye pump pressure", "G5", "JB7", "cabinet 2"),
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("plant")
    (folder / "sheets").mkdir()
    (folder / "plant.toml").write_text('[plant]\nname = "Invented works"\n', encoding="utf-8")
    for tag, service, supply, box, cabinet in LOOPS:
        text = SHEET.format(tag=tag, service=service, supply=supply, box=box, cabinet=cabinet)
        (folder / "sheets" / f"{tag}.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def cards(made: Path) -> dict[str, Card]:
    return catalogue(open_plant(made))


def tags(text: str, cards: dict[str, Card]) -> list[str]:
    return [hit.card.tag for hit in find(text, cards)]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("LT-1", ["LT-1"]), ("lt 1", ["LT-1"]), ("lt", ["LT-1", "LT-2", "LT-3"]),
        ("JB1", ["LT-1", "LT-3"]), ("jb-1:2", ["LT-1", "LT-3"]),
        ("which loops pass through JB-1?", ["LT-1", "LT-3"]), ("G4", ["LT-1", "LT-2", "LT-3"]),
        ("tank", ["LT-1", "LT-2", "LT-3"]), ("level of the resin", ["LT-2"]),
        ("lye G5", ["PT-11"]), ("pump", ["PT-11", "LT-1", "LT-2", "LT-3"]),
        ("cabinet 2", ["LT-3", "PT-11"]), ("ank", []), ("", []), ("the loops", []),
    ],
)  # fmt: skip
def test_a_loop_is_found_by_what_it_is_called(
    text: str, found: list[str], cards: dict[str, Card]
) -> None:
    assert [tag for tag in tags(text, cards) if find(text, cards)[0].rank != ALIKE] == found


def test_it_is_said_where_the_name_stands(cards: dict[str, Card]) -> None:
    (first, _) = find("JB1", cards)
    assert first.why == ("JB1:1, JB1:2 in junction box JB1, pump bay",)


@pytest.mark.parametrize(
    ("text", "first"), [("resn tank", "LT-2"), ("PT-12", "PT-11"), ("presure", "PT-11")]
)
def test_a_slip_of_the_finger_is_offered_as_such(
    text: str, first: str, cards: dict[str, Card]
) -> None:
    hits = find(text, cards)
    assert hits[0].card.tag == first
    assert {hit.rank for hit in hits} == {ALIKE}


def test_neighbours_are_on_the_same_supply_of_the_same_cabinet(cards: dict[str, Card]) -> None:
    found = {(item.what, item.name): item.tags for item in neighbours("LT-1", cards)}
    assert found == {("supply", "G4"): ("LT-2",), ("junction box", "JB1"): ("LT-3",)}


def test_neighbours_that_the_sheet_names(plant: Path) -> None:
    cards = catalogue(open_plant(plant))
    (said,) = neighbours("LT-214", cards)
    assert (said.name, said.tags) == ("on the same 24 V supply", ("LT-216",))


def test_each_sheet_of_the_demo_plant_has_a_sound_card(plant: Path) -> None:
    found = catalogue(open_plant(plant))
    assert tuple(found) == open_plant(plant).tags()
    for tag, card in found.items():
        loop = open_plant(plant).load(tag)
        assert (card.problem, card.service, card.type) == ("", loop.service, loop.type)
        named = {point.name: point.place for point in loop.points if point.name != "PE"}
        assert table_of(card.points) == named
        assert set(table_of(card.parts)) == {part.name for part in loop.parts}


def test_what_changes_is_read_again_and_nothing_else(
    made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "plant"
    shutil.copytree(made, folder)
    catalogue(open_plant(folder))
    read: list[str] = []
    one = module._card
    monkeypatch.setattr(module, "_card", lambda tag, path: read.append(tag) or one(tag, path))
    assert [catalogue(open_plant(folder)), read][1] == []
    path = folder / "sheets" / "LT-2.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("resin", "glue"), encoding="utf-8")
    os.utime(path, ns=(1, 1))
    (folder / "sheets" / "LT-3.toml").unlink()
    (folder / "sheets" / "LT-4.toml").write_text("no toml", encoding="utf-8")
    cards = catalogue(open_plant(folder))
    assert read == ["LT-2", "LT-4"]
    assert tags("glue", cards) == ["LT-2"]
    assert tuple(cards) == ("LT-1", "LT-2", "LT-4", "PT-11")
    assert "not TOML" in cards["LT-4"].problem
    assert catalogue(open_plant(folder)) == cards


@pytest.mark.parametrize("damage", ["", "[]", "{}", '{"types": 1, "cards": []}', "\0", "cards"])
def test_a_damaged_catalogue_is_made_anew(made: Path, damage: str) -> None:
    plant = open_plant(made)
    sound = catalogue(plant)
    path = module._kept_at(plant.folder)
    if damage == "cards":
        data = json.loads(path.read_text(encoding="utf-8"))
        data["cards"]["LT-1"][1]["points"] = 7
        damage = json.dumps(data)
    path.write_text(damage, encoding="utf-8")
    assert catalogue(plant) == sound
