"""The lessons of the demo plant can be set and solved, and a wrong lesson file is told.

All lessons: `diagnose lessons --solve`, by hand (three minutes); here a cheap sample.
"""

from pathlib import Path

import pytest

from diagnose.errors import DiagnoseError, SheetError
from diagnose.inference.engine import Engine
from diagnose.loops.plant import open_plant
from diagnose.training.lessons import check, lesson_file, read_lessons
from diagnose.training.solving import solve
from drill_stand import PLANT, engine

SAMPLE = ("really-there", "wrong-common")

TRAPS = {
    "moisture": "I.LT-214 leakage", "latent-earth": "E.JB9- earthed", "clips": "high resistance",
    "dragged-bus": "input collapsed", "reversed-extension": "reversed",
    "bypass-left-on": "left on", "wrong-common": "shifted",
}  # fmt: skip
"""The traps that teach most (common practice, no source)."""


def test_twenty_lessons_and_more_fit_their_loops() -> None:
    plant = open_plant(PLANT)
    lessons = read_lessons(lesson_file(plant))
    check(lessons, plant)
    assert len(lessons.drills) >= 20
    assert len({s.name for s in lessons.drills}) == len(lessons.drills)
    assert all(s.story and s.title for s in lessons.drills)


def test_the_traps_are_among_them() -> None:
    lessons = read_lessons(lesson_file(open_plant(PLANT)))
    for name, fault in TRAPS.items():
        texts = [text.replace(":", " ") for text in lessons.drill(name).faults]
        assert any(fault in text for text in texts), name
    assert not lessons.drill("really-there").faults
    assert lessons.drill("really-there").draw == "none"
    assert lessons.drill("blown-meter-fuse").fuse == "blown"
    assert lessons.drill("lead-in-the-current-jack").lead == "mA"
    assert lessons.drill("comes-and-goes").intermittent


@pytest.mark.parametrize("name", SAMPLE)
def test_the_advice_solves_a_lesson(name: str) -> None:
    plant = open_plant(PLANT)
    lessons = read_lessons(lesson_file(plant))
    setting = lessons.drill(name)
    made = engine() if setting.loop == "LT-214" else Engine(lessons.loop(setting, plant))
    found = solve(setting, made)
    assert found.solved, found
    assert found.minutes <= setting.minutes


def test_a_lesson_is_found_by_name_or_number() -> None:
    lessons = read_lessons(lesson_file(open_plant(PLANT)))
    assert lessons.drill("1") is lessons.drills[0]
    assert lessons.drill("MOISTURE") is lessons.drills[0]
    with pytest.raises(DiagnoseError, match="did you mean moisture"):
        lessons.drill("moistur")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "at least one drill"),
        ("[[drill]]\nloop = 'LT-214'", "name: it is missing"),
        ("[[drill]]\nname = 'a'", "loop: it is missing"),
        ("[[drill]]\nname = 'a'\nloop = 'LT-214'\nfalts = []", "did you mean faults"),
        ("[[drill]]\nname = 'a'\nloop = 'LT-214'\ndifficulty = 9", "not between 0 and 3"),
        ("[[drill]]\nname = 'a'\nloop = 'LT-214'\ndraw = 'all'", "none of one, two, none, any"),
        ("[[drill]]\nname = 'a'\nsheet = '../x.toml'", "lies beside this one"),
        ("[[drill]]\nname = 'a'\nloop = 'LT-214'\nprocess = 'half'", "process"),
        ("[class]\norder = 'mixed'\n[[drill]]\nname = 'a'\nloop = 'LT-214'", "fixed, any"),
        ("[[drill]]\nname = 'a'\nloop = 'L'\n[[drill]]\nname = 'a'\nloop = 'L'", "two drills"),
        ("[[drill]", "not TOML"),
    ],
)
def test_a_wrong_lesson_file_is_told(text: str, told: str, tmp_path: Path) -> None:
    path = tmp_path / "lessons.toml"
    path.write_text(text)
    with pytest.raises(SheetError, match=told) as caught:
        read_lessons(path)
    assert str(path) in str(caught.value)


def test_a_lesson_that_does_not_fit_its_loop_is_told(tmp_path: Path) -> None:
    path = tmp_path / "lessons.toml"
    path.write_text(
        "[[drill]]\nname = 'a'\nloop = 'LT-214'\nfaults = ['R9:drift']\n"
        "[[drill]]\nname = 'b'\nloop = 'LT-214'\ncomplaint = 'sings'\n"
    )
    with pytest.raises(SheetError) as caught:
        check(read_lessons(path), open_plant(PLANT))
    assert "drill a: no part called 'R9'" in str(caught.value)
    assert "drill b: complaint: write one of reads low" in str(caught.value)


def test_no_lesson_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(DiagnoseError, match="no lesson file"):
        lesson_file(open_plant(PLANT), str(tmp_path / "none.toml"))
