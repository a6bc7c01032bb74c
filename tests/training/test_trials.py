"""Simulated hunts give the same figures however they are run, and the figures are what they say.

Sources: the Brier score of G. W. Brier, Mon. Weather Rev. 78:1 (1950), halved so that surely wrong
is 1; the expected calibration error over equal classes of Naeini, Cooper and Hauskrecht, AAAI 2015
(both from memory); arithmetic on paper.
"""

from __future__ import annotations

import json
import logging
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pytest

from diagnose.errors import DiagnoseError
from diagnose.inference.candidates import HOME
from diagnose.inference.engine import Engine, Evidence
from diagnose.inference.readings import parse_line
from diagnose.loops.plant import open_plant
from diagnose.loops.sheet import load_sheet
from diagnose.training.draws import draw
from diagnose.training.hunts import Hunt, hunt
from diagnose.training.policies import POLICIES, Policy
from diagnose.training.tally import by, tally
from diagnose.training.trials import executor, jobs, run
from diagnose.training.walking import Choose, Walk, read_on

SHEET = Path(__file__).parents[1] / "sheets" / "b3_terminals.toml"


@pytest.fixture(scope="module")
def engine() -> Engine:
    return Engine(load_sheet(SHEET))


@pytest.fixture(scope="module")
def alone(engine: Engine) -> list[Hunt]:
    return [hunt(engine, "advice", seed) for seed in range(10_000, 10_004)]


def told(hunts: list[Hunt]) -> list[Hunt]:
    return sorted(hunts, key=lambda h: (h.policy, h.seed))


def test_many_workers_give_what_one_gives(engine: Engine, alone: list[Hunt]) -> None:
    wanted = jobs([engine.loop], ["advice"], 4, 1)
    with ProcessPoolExecutor(2) as pool:
        assert told(list(run(wanted, pool))) == alone


@pytest.mark.cluster
def test_a_dask_scheduler_gives_the_same(engine: Engine, alone: list[Hunt]) -> None:
    import distributed

    wanted = jobs([engine.loop], ["advice"], 4, 1)
    with (
        distributed.LocalCluster(
            n_workers=1,
            threads_per_worker=1,
            processes=False,
            dashboard_address=None,
            silence_logs=logging.CRITICAL,
        ) as cluster,
        executor(1, cluster.scheduler_address) as pool,
    ):
        assert told(list(run(wanted, pool))) == alone


@pytest.mark.cluster
def test_an_address_where_nobody_answers_is_one_line() -> None:
    with (
        pytest.raises(DiagnoseError, match="no Dask scheduler answers at 'nonsense'"),
        executor(1, "nonsense"),
    ):
        pass


class Refusing(ProcessPoolExecutor):
    """A pool that must not be asked."""

    def submit(self, *_: object, **__: object) -> object:  # type: ignore[override]
        raise AssertionError("what is done already was run again")


def test_what_is_finished_is_not_run_again(
    engine: Engine, alone: list[Hunt], tmp_path: Path
) -> None:
    kept = tmp_path / "hunts.jsonl"
    lines = [json.dumps(asdict(h)) for h in alone]
    kept.write_text("\n".join(lines) + "\n" + lines[0][:40])  # the last line is torn
    with Refusing(1) as pool:
        found = list(run(jobs([engine.loop], ["advice"], 4, 1), pool, kept))
    assert told(found) == alone


def test_a_file_of_something_else_is_refused(engine: Engine, tmp_path: Path) -> None:
    kept = tmp_path / "notes.txt"
    kept.write_text("milk\neggs\n")
    with (
        Refusing(1) as pool,
        pytest.raises(DiagnoseError, match=r"notes\.txt: line 1 is no hunt of an evaluation"),
    ):
        list(run(jobs([engine.loop], ["advice"], 1, 1), pool, kept))


def test_one_seed_hides_one_fault_whatever_the_policy(engine: Engine) -> None:
    hidden = {(h.part, h.fault) for h in (hunt(engine, name, 10_001, 2) for name in POLICIES)}
    world, _ = draw(engine, 10_001)
    assert hidden == {world.hypothesis.key}


def test_hunts_stop_when_they_are_told_to(alone: list[Hunt], engine: Engine) -> None:
    assert all(h.readings <= 12 for h in alone)
    assert hunt(engine, "random", 10_002, 1).readings <= 1


HUNT = Hunt(
    "X", "two-wire-input", "advice", 1, None, "none", 1, True, 0.96, 0.0, 4, 10.0, 0, 0.01, 1
)


def test_the_figures_are_arithmetic() -> None:
    hunts = [
        HUNT,
        replace(HUNT, rank=2, said=0.96, readings=6, minutes=20.0, brier=0.9),
        replace(HUNT, rank=4, said=0.55, sure=False, readings=12, minutes=60.0, brier=0.5),
        replace(HUNT, rank=1, said=0.65, sure=False, unmodelled=0.7, interruptions=2),
    ]
    t = tally(hunts)
    assert t.first == 0.5
    assert t.first_three == 0.75
    assert t.sure == 0.5
    assert t.right_when_sure == 0.5
    assert t.readings == pytest.approx((4 + 6 + 12 + 4) / 4)
    assert t.minutes == pytest.approx((10 + 20 + 60 + 10) / 4)
    assert t.interruptions == 0.5
    assert t.brier == pytest.approx((0.01 + 0.9 + 0.5 + 0.01) / 4)
    assert t.unmodelled == 0.25
    # classes 0.5-0.6: said 0.55, none right; 0.6-0.7: 0.65, right; 0.9-1: 0.96, half right
    assert t.calibration == pytest.approx((0.55 + 0.35 + 2 * 0.46) / 4)
    assert sum(c.hunts for c in t.classes) == 4
    assert t.credible == pytest.approx(0.0)
    assert t.intervals["first"] == pytest.approx((0.150, 0.850), abs=5e-4)  # 2 of 4
    assert t.intervals["minutes"] == pytest.approx((25 - 23.33, 25 + 23.33), abs=0.01)


def test_what_went_wrong_is_counted_apart() -> None:
    sound, fault = HUNT, replace(HUNT, part="R1", fault="open", plain=True)
    wrong = replace(fault, rank=2, misled=True)
    t = tally(
        [sound, sound, sound, replace(sound, rank=3, misled=True, warned=True), fault, wrong,
         replace(fault, rank=5, plain=False), replace(sound, rank=2, sure=False)]
    )  # fmt: skip
    assert t.accused == 1 / 5  # of five sound loops one was surely called faulty
    assert t.plain == 1 / 2
    assert t.misled == 2 / 8
    assert t.unwarned == t.warned == 1 / 8
    two = replace(fault, both=True, before=False, shown=True)
    t = tally([two, two, replace(two, before=True), replace(two, both=False, shown=False)])
    assert (t.before, t.both, t.shown, t.both_shown) == (1 / 4, 3 / 4, 3 / 4, 1.0)
    assert t.intervals["before"] == pytest.approx((0.0456, 0.6994), abs=5e-4)  # Wilson, 1 of 4


def test_hunts_are_sorted_by_any_key() -> None:
    found = by([HUNT, replace(HUNT, tag="Y"), HUNT], lambda h: h.tag)
    assert {tag: len(some) for tag, some in found.items()} == {"X": 2, "Y": 1}


def test_every_policy_bears_that_nothing_explains_what_was_read() -> None:
    """Rather than end with a traceback: six readings that clash leave no hypothesis."""
    engine = Engine(open_plant().load("PDT-330"))
    lines = ("complaint reads low", *(f"PDT-330 {value} %" for value in range(0, 120, 20)))
    evidence: list[Evidence] = [parse_line(line, engine.loop) for line in lines]

    world, _ = draw(engine, 1)
    rng = np.random.default_rng(1)
    for policy in POLICIES.values():
        told = evidence.copy()
        last = read_on(engine, world, told, _with(policy, rng), Walk(HOME), 1)
        assert last.belief.unmodelled > 0.99
        assert last.group_probability().max() < 0.01


def _with(policy: Policy, rng: np.random.Generator) -> Choose:
    return lambda engine, adviser, left: policy(engine, adviser, left, rng)
