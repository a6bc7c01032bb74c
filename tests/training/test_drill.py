"""A drill: what is done has its consequences, and the same seed is the same drill.

Sources: the signal limits of NAMUR NE 43 (3.6 and 21 mA); arithmetic on paper; what opens a loop
and what the plant does then: common practice, no source.
"""

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.errors import DiagnoseError
from diagnose.inference.candidates import candidates
from diagnose.inference.cautions import needs_for
from diagnose.inference.ranking import Expects
from diagnose.loops.plant import open_plant
from diagnose.training.commands import WORDS, do, word_of
from diagnose.training.draws import complaint_chances
from diagnose.training.helping import _apart
from diagnose.training.hiding import coordinate
from diagnose.training.lookout import Lookout
from diagnose.training.safety import ARRANGEMENTS, needs
from diagnose.training.setting import Setting
from drill_stand import drill, engine
from terminal.answers import ADVICE

ROOT = Path(__file__).resolve().parents[2]


def test_a_lifted_wire_trips_at_once_unless_it_is_bypassed_and_in_manual() -> None:
    seen = do(drill(), "set W3+.X21 lifted")
    assert [e.sort for e in seen.effects] == ["trip", "upset", "moved"]
    assert {"no bypass", "no manual"} <= set(seen.mistakes)
    calm = drill()
    for word in ("operator", "bypass", "manual"):
        do(calm, word)
    seen = do(calm, "set W3+.X21 lifted")
    assert [e.sort for e in seen.effects] == ["moved"]
    assert not seen.mistakes


def test_a_wire_to_one_receiver_moves_that_receiver_alone() -> None:
    seen = do(drill(), "set LR-214+.X22 lifted")
    assert "LR-214 goes to" in seen.effects[-1].text


def test_a_meter_in_series_opens_the_loop_while_it_is_fitted() -> None:
    d = drill()
    do(d, "jack mA")
    seen = do(d, "mA X21:4")
    assert "trip" in [e.sort for e in seen.effects]
    assert seen.interrupts


def test_a_driven_transmitter_moves_what_is_shown() -> None:
    """18 mA are 87.5 %, beyond the trip at 50 %: the process stands at 40 %."""
    d = drill(process=0.4)
    seen = do(d, "V X21:7 X20:0 with LT-214 driven 18 mA")
    assert "LAHH-214 comes on" in seen.effects[0].text
    assert float(seen.line.split()[3]) == pytest.approx(4.5, abs=0.02)


def test_what_stands_altered_stays_so_until_it_is_put_back() -> None:
    d = drill()
    do(d, "set W3+.X21 lifted")
    seen = do(d, "V X21:7 X20:0")
    assert seen.line.endswith("with W3+.X21 lifted")
    assert d.items == ("W3+.X21 wire lifted",)
    do(d, "restore W3+.X21")
    assert not d.items
    assert "with" not in do(d, "V X21:7 X20:0").line


def test_a_part_is_in_one_state_only() -> None:
    d = drill()
    do(d, "set LT-214 driven 4 mA")
    seen = do(d, "V X21:7 X20:0 with LT-214 driven 20 mA")
    assert float(seen.line.split()[3]) == pytest.approx(5.0, abs=0.02)
    assert len(d.items) == 1


def test_the_clock_counts_walking_and_work() -> None:
    """To the junction box: 10 minutes and 6 to set up; a volt reading 1 more."""
    d = drill()
    assert do(d, "V JB9:1 JB9:2").minutes == 17
    assert do(d, "V JB9:1 PE").minutes == 1


def test_measuring_ends_with_the_time() -> None:
    d = drill(minutes=10)
    do(d, "V JB9:1 JB9:2")
    with pytest.raises(DiagnoseError, match="the time is up"):
        do(d, "V X21:7 X20:0")
    do(d, "verdict none")
    do(d, "close")


def test_a_careless_step_is_stopped_once_for_a_beginner() -> None:
    d = drill(difficulty=1)
    with pytest.raises(DiagnoseError, match="needs first: operator, bypass, manual"):
        do(d, "V X21:7 X20:0 with W3+.X21 lifted")
    assert do(d, "V X21:7 X20:0 with W3+.X21 lifted").missing


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("V Q9:1 X20:0", "no point"),
        ("V X21:4 JB9:1", "different places"),
        ("V W3+.1 X20:0", "no lead reaches|no point"),
        ("set nonsense", "no condition"),
        ("restore W9", "nothing open"),
        ("restore \u00b2", "nothing open"),
        ("withdraw \u00b2", "no reading"),
        ("wait " + 200 * "9", "no number of minutes"),
        ("jack gold", "two jacks"),
        ("verdict", "say what is wrong"),
        ("verdict R9 drift", "no part called 'R9'"),
        ("verdict R1", "say which fault of R1: open, drift, short"),
        ("undo", "no reading to be taken back"),
        ("verdict R1 drif", "did you mean drift"),
        ("close", "verdict first"),
        ("withdraw 7", "no reading '7'"),
        ("wait long", "no number of minutes"),
        ("at moon", "no place 'moon'"),
        ("note", "some words"),
        ("x" * 300, "at most 240"),
        ("V X21:7 X20:0 3.02", "left over"),
    ],
)
def test_a_wrong_line_is_told_and_changes_nothing(line: str, told: str) -> None:
    d = drill()
    with pytest.raises(DiagnoseError, match=told):
        do(d, line)
    assert not d.steps
    assert d.clock == 0


def test_advice_is_hidden_sold_or_given_as_the_trainer_sets() -> None:
    with pytest.raises(DiagnoseError, match="hidden"):
        do(drill(visible="hidden"), "advice")
    assert do(drill(visible="request"), "advice").points > 0
    assert do(drill(visible="shown"), "rank").points == 0


def test_hints_come_in_steps_that_cost_more_each_time() -> None:
    d = drill()
    costs = [do(d, "hint").points for _ in range(3)]
    assert costs == sorted(costs)
    assert len(set(costs)) == 3
    with pytest.raises(DiagnoseError, match="no further hint"):
        do(d, "hint")


@pytest.mark.parametrize(
    ("ends", "told"),
    [
        ([(0.0, 0.1), (0.05, 0.2), (5.0, 6.0)], "A x or B x from C x"),
        ([(0.49, 0.50), (0.49, 0.50)], "shows much the same whatever is likely"),
    ],
)
def test_the_last_hint_claims_no_more_than_the_reading_tells(
    ends: list[tuple[float, float]], told: str
) -> None:
    named = zip("ABC", ends, strict=False)
    expects = tuple(Expects(name, "x", 0.3, low, high, "V") for name, (low, high) in named)
    assert told in _apart(replace(ADVICE, expects=expects))
    lit = (Expects("A", "x", 0.6, 1.0, 1.0, "lit"), Expects(None, "none", 0.3, 0.0, 0.0, "lit"))
    assert "A x from a sound loop" in _apart(replace(ADVICE, expects=lit))


@pytest.mark.parametrize("tag", ["LT-214", "LV-214", "XV-222", "TE-140"])
def test_whatever_a_step_needs_can_be_arranged(tag: str) -> None:
    loop = open_plant(ROOT / "cases" / "larkmere").load(tag)
    for candidate in candidates(loop):
        words = needs(candidate.measurement, loop)
        assert len(words) == len(needs_for(candidate.measurement, loop))
        assert set(words) <= set(ARRANGEMENTS)


def test_every_command_is_found_by_its_name() -> None:
    assert all(word_of(f"{word.name} X")[0] is word for word in WORDS)
    assert word_of("lift W3+.X21") == (WORDS[0], "W3+.X21 lifted")


def test_undo_takes_back_the_last_reading_that_counts() -> None:
    d = drill()
    for line in ("LIC-214", "V X21:7 X20:0", "undo", "undo"):
        do(d, line)
    assert d.withdrawn == {1, 2}
    assert d.evidence == d.opening
    with pytest.raises(DiagnoseError, match="no reading to be taken back"):
        do(d, "undo")


def test_an_intermittent_fault_comes_and_goes_by_the_clock() -> None:
    d = drill(faults=("W3+:open",), intermittent=True)
    there = {d.scene.present(minute) for minute in range(0, 400, 5)}
    assert there == {True, False}
    assert d.scene.present(0)


def test_two_faults_and_none_are_drawn() -> None:
    assert len(drill(draw="two", seed=3, process=None).hidden.faults) == 2
    sound = drill(draw="none", seed=3, process=None)
    assert sound.hidden.keys == ((None, "none"),)
    assert sound.hidden.complaint


def test_hard_drills_are_less_noticed_than_plain_ones() -> None:
    """The chance of any complaint at which faults are drawn: above 0.5, and below it."""
    for difficulty, side in ((1, 1), (3, -1)):
        for seed in range(2):
            d = drill(draw="one", difficulty=difficulty, seed=seed, process=None)
            (fault,) = d.hidden.faults
            h = d.engine.hypothesis((fault.part, fault.mode.name))
            x = coordinate(h, fault.severity)
            total = sum(complaint_chances(d.engine, h.number, x, d.hidden.process).values())
            assert (total - 0.5) * side >= -1e-6


PROBE = """
import json, sys
sys.path[:0] = json.loads(sys.argv[1])
from drill_stand import drill
from diagnose.training.commands import do
out = []
for seed in (1, 2):
    d = drill(draw="one", seed=seed, process=None)
    out.append([d.hidden.complaint, d.hidden.process, [f.text() for f in d.hidden.faults]])
    for line in ("V X21:7 X20:0", "LIC-214", "clamp W3+", "VAC X21:7 X20:0"):
        out.append(do(d, line).line)
print(json.dumps(out))
"""


def test_the_same_seed_is_the_same_drill_in_another_process() -> None:
    """Two processes with different hash seeds: nothing rests on the order of a set."""
    paths = json.dumps([str(ROOT), str(ROOT / "tests")])
    found = []
    for number in ("1", "4242"):
        done = subprocess.run(
            [sys.executable, "-c", PROBE, paths], capture_output=True, text=True, check=True,
            env={**os.environ, "PYTHONHASHSEED": number},
        )  # fmt: skip
        found.append(json.loads(done.stdout))
    assert found[0] == found[1]
    assert len(found[0]) == 10


def test_a_setting_that_makes_no_sense_is_refused() -> None:
    for wrong in ({"draw": "three"}, {"difficulty": 4}, {"minutes": 1}, {"seed": -1},
                  {"visible": "no"}, {"process": 2.0}, {"lead": "A"}):  # fmt: skip
        with pytest.raises(DiagnoseError):
            Setting("LT-214", **wrong)


def test_a_look_is_kept() -> None:
    out = Lookout(engine())
    first = out.answer(("complaint reads high",), "cabinet")
    assert out.answer(("complaint reads high",), "cabinet") is first
