"""A logged case answers as it was read, else its confirmed fault does; shared, it names nobody."""

import json
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import pytest

from diagnose.casework.case import Case
from diagnose.casework.log import CaseFile
from diagnose.errors import DiagnoseError
from diagnose.inference.fault_text import find_fault
from diagnose.inference.readings import parse_lines
from diagnose.training.anonymous import text_of
from diagnose.training.commands import do
from diagnose.training.drill import Drill
from diagnose.training.replays import compared, setting_of
from drill_stand import PLANT, engine

MOISTURE = PLANT / "cases" / "LT-214_2024-03-12_01.jsonl"


@cache
def case(name: str = "LT-214_2024-03-12_01") -> Case:
    return CaseFile.open(PLANT / "cases" / f"{name}.jsonl", write=False).case


def test_what_was_read_then_answers_and_the_fault_answers_the_rest() -> None:
    """W4+ was clamped and LIC-214 looked at; the pair across the terminals was never read."""
    d = Drill(setting_of(case(), engine(), "moisture"), engine())
    assert d.hidden.keys == (("I.W3", "leakage"),)
    [clamped] = (text for text in case().evidence if text.startswith("clamp W4+"))
    assert do(d, "clamp W4+").line == clamped
    assert "As it was read then." in d.steps[-1].told
    seen = do(d, "V X21:7 X20:0")
    assert "As it was read then." not in seen.told
    # What was shown, x, is 1 V + 4 V x: but for the receiver and the size of the fault.
    plain = [text for text in case().evidence if " with " not in text]
    [shown] = (text.split()[1] for text in plain if text.startswith("LIC-214 "))
    assert float(seen.line.split()[3]) == pytest.approx(1 + 0.04 * float(shown), abs=0.05)


def test_the_fault_of_a_replay_has_the_size_that_was_read() -> None:
    """A blocked line holds 40 % while the vessel stands at 70 %."""
    said = ("complaint reads low", "LIC-214 40.0 %", "process 70 %", "V X21:7 X20:0 2.600")
    cause = SimpleNamespace(part="T1", fault="blocked")
    logged = SimpleNamespace(cause=cause, ending="confirmed", evidence=said)
    [fault] = setting_of(logged, engine(), "stuck").faults
    assert fault.startswith("T1:blocked=")
    assert find_fault(fault, engine().loop).value == pytest.approx(0.40, abs=0.01)


def test_a_mistake_is_one_in_a_replay_too() -> None:
    d = Drill(setting_of(case(), engine(), "moisture"), engine())
    do(d, "jack mA")
    assert not do(d, "V X21:7 X20:0").line


def test_the_paths_are_compared() -> None:
    sound = case("LT-214_2024-06-02_01")
    d = Drill(setting_of(sound, engine(), "sound"), engine())
    for line in ("LIC-214", "LG-214", "verdict none", "close"):
        do(d, line)
    mine, logged, advised = compared(d, sound)
    assert len(mine.readings) == 2
    assert len(logged.readings) == len(sound.in_force)
    assert logged.minutes == sound.minutes
    assert advised.probability > 0.9
    assert mine.minutes > 0


def test_a_case_without_a_cause_is_not_replayed() -> None:
    with pytest.raises(DiagnoseError, match="no cause was confirmed"):
        setting_of(case("LT-216_2024-07-09_01"), engine(), "open")


WORDS = (
    "LT-214", "LIC-214", "LAHH", "JB9", "X21", "W3+", "G1:+", "solvent", "panel 2", "cabinet 2",
    "pipe bridge", "bridge", "LT-216", "2024",
)  # fmt: skip
"""Words of the plant and of people in the case."""


def test_an_anonymous_case_names_nothing_and_is_ranked_alike(tmp_path: Path) -> None:
    file = CaseFile.open(MOISTURE, write=False)
    text = text_of(file.events)
    original = MOISTURE.read_text(encoding="utf-8")
    assert all(word in original for word in WORDS)
    assert not [word for word in WORDS if word in text]
    path = tmp_path / "shared.jsonl"
    path.write_text(text, encoding="utf-8")
    shared = CaseFile.open(path, write=False)
    assert not shared.damage
    assert len(shared.events) == len(file.events)
    from diagnose.inference.engine import Engine

    old = engine().rank(parse_lines(file.case.evidence, file.loop))
    new = Engine(shared.loop).rank(parse_lines(shared.case.evidence, shared.loop))
    for one, other in zip(old.hypotheses[:5], new.hypotheses[:5], strict=True):
        assert one.probability == pytest.approx(other.probability, abs=1e-6)
    first = json.loads(text.splitlines()[0])
    assert first["at"].startswith("2000-01-01")
