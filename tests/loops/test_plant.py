"""Plant folders: the invented demo plant, and folders of a user's own."""

from __future__ import annotations

import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from diagnose.errors import SheetError, UnknownNameError
from diagnose.library import demo_plant
from diagnose.loops.plant import Accuracy, open_plant

SHEETS = Path(__file__).parents[1] / "sheets"


@pytest.fixture
def plant_folder(tmp_path):
    (tmp_path / "sheets").mkdir()
    (tmp_path / "plant.toml").write_text('[plant]\nname = "Test works"\n')
    (tmp_path / "sheets" / "B3.toml").write_text((SHEETS / "b3.toml").read_text())
    return tmp_path


def test_without_a_plant_here_the_demo_plant_opens(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    plant = open_plant()
    assert plant.name == "Larkmere resin works"
    assert plant.is_demo
    assert {"LT-214", "LT-216"} <= set(plant.tags())


def test_a_plant_in_the_current_folder_comes_first(plant_folder, monkeypatch):
    monkeypatch.chdir(plant_folder)
    plant = open_plant()
    assert (plant.name, plant.tags(), plant.is_demo) == ("Test works", ("B3",), False)


@pytest.mark.parametrize("tag", open_plant(demo_plant()).tags())
def test_every_sheet_of_the_demo_plant_loads(tag):
    loop = open_plant(demo_plant()).load(tag)
    assert loop.tag == tag
    assert loop.digest


def test_a_tag_is_found_in_any_capitals(plant_folder):
    assert open_plant(plant_folder).load("b3").tag == "B3"


def test_an_unknown_tag_is_answered_with_the_nearest():
    with pytest.raises(UnknownNameError) as caught:
        open_plant(demo_plant()).load("LT-241")
    assert str(caught.value).startswith("no loop called 'LT-241'; did you mean ")
    assert "LT-214" in str(caught.value)


@pytest.mark.parametrize(
    "tag",
    ["../sheets/B3", "/etc/passwd", "..", "", "-B3", ".B3", "B3\0", "B3.toml", "B3\n", "sheets/B3"],
)
def test_a_tag_never_becomes_a_path_before_it_is_known(plant_folder, tag):
    (plant_folder / "secret.toml").write_text("[loop]\n")
    with pytest.raises(UnknownNameError):
        open_plant(plant_folder).load(tag)


def test_a_sheet_under_a_foreign_name_is_refused(plant_folder):
    path = plant_folder / "sheets" / "LT-9.toml"
    path.write_text((SHEETS / "b3.toml").read_text())
    with pytest.raises(SheetError) as caught:
        open_plant(plant_folder).load("LT-9")
    assert caught.value.problems == (
        (str(path), "loop: tag", "'B3' stands here; name the file after its tag, B3.toml"),
    )


def test_a_folder_without_plant_toml_is_told(tmp_path):
    with pytest.raises(SheetError) as caught:
        open_plant(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path}: folder: there is no plant.toml in it; name a plant folder"
    )


def test_cases_go_to_the_plant_or_for_the_demo_to_the_users_own_folder(plant_folder, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(plant_folder / "data"))
    assert open_plant(plant_folder).case_folder == plant_folder / "cases"
    demo = open_plant(demo_plant())
    assert demo_plant() not in demo.case_folder.parents
    assert demo.case_folders == (demo_plant() / "cases", demo.case_folder)


def test_meters_of_the_shop(plant_folder):
    (plant_folder / "plant.toml").write_text(
        '[plant]\nname = "Test works"\n'
        '[meter.M-1]\nV = { percent = "0.05 %", counts = 3 }\nmA = { percent = "0.2 %" }\n'
    )
    meter = open_plant(plant_folder).meters["M-1"]
    assert meter.title == "M-1"
    assert meter.functions["V"] == Accuracy(pytest.approx(0.0005), 3)
    assert meter.functions["mA"] == Accuracy(pytest.approx(0.002), 2)


WRONG = {
    "no name": ("[plant]\n", 'plant: name: it is missing; write name = "Larkmere resin works"'),
    "a name with a path": (
        '[plant]\nname = "a/b"\n',
        (
            "plant: name: 'a/b' is no name; use letters, digits, spaces, - . _, beginning with a "
            "letter or digit, 40 at most"
        ),
    ),
    "an unknown key": (
        '[plant]\nname = "A"\nunits = "x"\n',
        "plant: units: there is no such key; did you mean unit?",
    ),
    "an unknown function": (
        '[plant]\nname = "A"\n[meter.M]\nmV = { percent = "1 %" }\n',
        "meter M: mV: there is no such key; did you mean V?",
    ),
    "an accuracy that is not one": (
        '[plant]\nname = "A"\n[meter.M]\nV = { percent = "0 %" }\n',
        "meter M: V: percent: it is more than 0 % and less than 100 %",
    ),
    "an accuracy that is a number": (
        '[plant]\nname = "A"\n[meter.M]\nV = 0.1\n',
        "meter M: V: a table belongs here; write it as [V]",
    ),
    "counts below nothing": (
        '[plant]\nname = "A"\n[meter.M]\nV = { percent = "1 %", counts = -1 }\n',
        "meter M: V: counts: -1 is not between 0 and 10000",
    ),
    "no table": ("plant = 3\n", "plant: a table belongs here; write it as [plant]"),
}


@pytest.mark.parametrize(("text", "sentence"), WRONG.values(), ids=WRONG)
def test_a_wrong_plant_file_is_told(plant_folder, text, sentence):
    (plant_folder / "plant.toml").write_text(text)
    with pytest.raises(SheetError) as caught:
        open_plant(plant_folder)
    assert sentence in [f"{key}: {words}" for _, key, words in caught.value.problems]


def test_loading_a_sheet_imports_none_of_the_slow_packages():
    code = (
        "import sys; from diagnose.loops.plant import open_plant; open_plant().load('LT-214');"
        "print(sorted({'sympy', 'networkx', 'pint', 'platformdirs'} & set(sys.modules)))"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        ("all = 2019-04-01", {"all": (date(2019, 4, 1), None)}),
        (
            "B3 = [2019-04-01, 2024-06-30]",
            {"B3": (date(2019, 4, 1), date(2024, 6, 30))},
        ),
    ],
)
def test_a_plant_tells_since_when_its_loops_are_in_service(plant_folder, table, expected):
    path = plant_folder / "plant.toml"
    path.write_text(f"{path.read_text()}\n[in-service]\n{table}\n")
    assert open_plant(plant_folder).in_service == expected


@pytest.mark.parametrize(
    ("table", "key", "sentence"),
    [
        ('all = "2019-04-01"', "in-service: all", "write all = 2019-04-01, or"),
        ("all = 2019-04-01T10:00:00", "in-service: all", "a time of day stands here"),
        ("B3 = [2024-06-30, 2019-04-01]", "in-service: B3", "is before the first"),
        ("B3 = [2024-06-30]", "in-service: B3", "a list stands here"),
        ('"../x" = 2019-04-01', "in-service: ../x", ""),
    ],
)
def test_a_day_in_service_that_is_none_is_told(plant_folder, table, key, sentence):
    path = plant_folder / "plant.toml"
    path.write_text(f"{path.read_text()}\n[in-service]\n{table}\n")
    with pytest.raises(SheetError) as caught:
        open_plant(plant_folder)
    ((_, where, text),) = caught.value.problems
    assert where == key
    assert sentence in text
