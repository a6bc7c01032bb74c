"""Lessons handed out with their answers packed are the same lessons, and do not name them."""

import re
import shutil
from dataclasses import asdict
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.errors import SheetError
from diagnose.loops.plant import open_plant
from diagnose.loops.sheet_text import read_table
from diagnose.training.handout import handout, packed
from diagnose.training.lessons import lesson_file, read_lessons
from diagnose.training.setting import DrillError
from drill_stand import PLANT
from schemas import faults_of_text


@pytest.fixture(scope="module")
def source() -> Path:
    return lesson_file(open_plant(PLANT))


@pytest.fixture(scope="module")
def text(source: Path) -> str:
    return handout(read_table(source))


def test_the_lessons_are_the_same(source: Path, text: str, tmp_path: Path) -> None:
    path = tmp_path / "class.toml"
    path.write_text(text, encoding="utf-8")
    before, after = read_lessons(source), read_lessons(path)
    assert [asdict(setting) for setting in after.drills] == [asdict(s) for s in before.drills]
    assert (after.title, after.order) == (before.title, before.order)
    assert faults_of_text("lesson", text) == []
    assert handout(read_table(path)) == text  # packing again changes nothing
    assert after.drill("2") == before.drill("latent-earth")
    with pytest.raises(DrillError, match=r"'late' is no lesson; they go by number, 1 to 24"):
        after.drill("late")  # no name is held out as the nearest


def test_the_list_of_lessons_that_were_handed_out_does_not_name_them(
    source: Path, text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "class.toml"
    path.write_text(text, encoding="utf-8")
    shutil.copy(source.with_name("floating.toml"), tmp_path)
    for more in ((), ("--json",)):
        assert main(["lessons", str(path), "--plant", str(PLANT), *more]) == 0
        said = capsys.readouterr().out
        assert "LSL-216" in said
        assert not any(s.name in said or s.title in said for s in read_lessons(source).drills)


def test_lessons_handed_out_before_names_were_packed_are_still_read(tmp_path: Path) -> None:
    path = tmp_path / "class.toml"
    away = packed({"faults": ["R1:open"]})
    path.write_text(f'[[drill]]\nname = "one"\nloop = "LT-214"\npacked = "{away}"\n', "utf-8")
    assert read_lessons(path).drills[0].faults == ("R1:open",)
    assert read_lessons(path).drill("1").name == "one"


def test_no_fault_is_read_in_them(source: Path, text: str) -> None:
    for setting in read_lessons(source).drills:
        assert not any(fault in text for fault in setting.faults)
        assert setting.title not in text
    # a name, such as "one-lead", tells as much
    for key in ("name", "faults", "draw", "seed", "intermittent", "process", "lead", "fuse"):
        assert re.search(rf"^{key} *=", source.read_text(encoding="utf-8"), re.M), key
        assert not re.search(rf"^{key} *=", text, re.M), key


@pytest.mark.parametrize("damaged", ['"x"', '"eJw="', "7", '"W10="', '["a"]'])
def test_what_cannot_be_unpacked_is_told_by_its_drill(tmp_path: Path, damaged: str) -> None:
    path = tmp_path / "class.toml"
    path.write_text(f'[[drill]]\nname = "one"\nloop = "LT-214"\npacked = {damaged}\n')
    with pytest.raises(SheetError, match="drill one: packed: it cannot be unpacked"):
        read_lessons(path)


def test_quotes_and_other_letters_stay_as_they_are(tmp_path: Path) -> None:
    words = 'he said \\"it\\" reads 5 \\\\ 10 °C … 語'
    path = tmp_path / "class.toml"
    path.write_text(f'[[drill]]\nname = "one"\nloop = "LT-214"\nstory = "{words}"\n', "utf-8")
    story = read_lessons(path).drills[0].story
    path.write_text(handout(read_table(path)), "utf-8")
    assert read_lessons(path).drills[0].story == story == 'he said "it" reads 5 \\ 10 °C … 語'
