"""The schema of a lesson file agrees with its reader, on the shipped lessons and on broken ones."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.errors import SheetError
from diagnose.training.lessons import read_lessons
from schemas import faults_of_text

LESSONS = """
[class]
title = "Some class"

[[drill]]
name = "moisture"
loop = "LT-214"
faults = ["I.LT-214:leakage=9 kohm"]
context = ["rain"]
process = "45 %"
seed = 11
"""
WRONG = {
    "an unknown key": ("seed =", "sed =", "drill moisture: sed: there is no such key; did you"),
    "no drill": ("[[drill]]", "[[dril]]", "dril: there is no such key; did you mean drill?"),
    "no name": ('name = "moisture"\n', "", "drill 1: name: it is missing"),
    "no loop": ('loop = "LT-214"\n', "", "drill moisture: loop: it is missing"),
    "a sheet elsewhere": ('loop = "LT-214"', 'sheet = "../x.toml"', "drill moisture: sheet: "),
    "faults as text": ('["I.LT-214:leakage=9 kohm"]', '"R1"', "drill moisture: faults: a list of"),
    "a seed as text": ("seed = 11", 'seed = "11"', "drill moisture: seed: text stands here"),
    "a process in metres": ('"45 %"', '"45 m"', "drill moisture: process: '45 m': 'm' is no unit"),
    "an order that is none": ("[[drill]]", 'order = "up"\n[[drill]]', "class: order: it is one of"),
    "a draw that is none": ("seed", 'draw = "three"\nseed', "drill moisture: draw: 'three' is"),
    "set and not drawn": ("seed", 'draw = "none"\nseed', "drill moisture: draw: where faults"),
    "a lead that is none": ("seed", 'lead = "COM"\nseed', "drill moisture: lead: 'COM' is none of"),
    "half a seed": ("seed = 11", "seed = 1.5", "drill moisture: seed: 1.5 is no whole number"),
    "half a difficulty": ("seed", "difficulty = 2.5\nseed", "drill moisture: difficulty: 2.5"),
    "a class that is a text": ('[class]\ntitle =', "class =", "class: text stands here; begin it"),
    "a loop and a sheet": ("seed", 'sheet = "x.toml"\nseed', "drill moisture: sheet: a loop is"),
    "advice that is none": ("seed", 'visible = "maybe"\nseed', "drill moisture: visible: 'maybe'"),
    "packed and plain": ("seed", 'packed = "AAAA"\nseed', "drill moisture: packed: faults is"),
    "too short": ("seed", "minutes = 1\nseed", "drill moisture: minutes: 1 is outside of"),
}  # fmt: skip


def test_good_lessons_pass_both(tmp_path):
    path = tmp_path / "lessons.toml"
    path.write_text(LESSONS)
    assert read_lessons(path).title == "Some class"
    assert faults_of_text("lesson", LESSONS) == []


@pytest.mark.parametrize("name", WRONG)
def test_broken_lessons_are_refused_by_both(name, tmp_path):
    old, new, sentence = WRONG[name]
    assert old in LESSONS
    path: Path = tmp_path / "lessons.toml"
    path.write_text(LESSONS.replace(old, new, 1))
    with pytest.raises(SheetError) as caught:
        read_lessons(path)
    assert any(f"{key}: {text}".startswith(sentence) for _, key, text in caught.value.problems)
    assert faults_of_text("lesson", path.read_text())
