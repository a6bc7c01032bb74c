"""Shares of calls that learn: by hand and by scipy's Beta, shrunk, never turned by one odd call."""

from collections.abc import Sequence
from dataclasses import astuple, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from diagnose.errors import SheetError
from diagnose.inference.hypotheses import Hypothesis, hypotheses
from diagnose.loops.loop import Loop
from diagnose.loops.site_rates import FILE, SiteRates, read_rates
from diagnose.review import shares
from diagnose.review.priors import Priors
from diagnose.review.priors_file import priors_text
from diagnose.review.shares import ShareLine
from review.test_priors import DAYS_OF, PEOPLE, PLANT, learned
from review.test_review import DAYS, START, confirmed

ALWAYS = tuple(
    unit.tag
    for unit in PEOPLE.units
    if unit.until is None and (unit.since or START) <= START
)  # fmt: skip
"""Loops that were in service on every day."""


def calls(seed: int, count: int, ways: dict[str, float], tags: tuple[str, ...] = ()) -> list:
    """Calls on loops of the demo plant that end as ``ways`` says."""
    rng = np.random.default_rng(seed)
    causes = {
        "electrical": {"part": "W3+", "kind": "core", "fault": "open"},
        "process_connection": {"part": "P", "kind": "process_connection", "fault": "blocked"},
    }
    tags = tags or ALWAYS
    found = []
    for n, way in enumerate(rng.choice(list(ways), size=count, p=list(ways.values()))):
        day = START + timedelta(days=int(rng.integers(DAYS)))
        tag, name = str(rng.choice(tags)), f"c{n}"
        if way in causes:
            found.append(confirmed(PLANT.name, tag, day, name, **causes[way]))
        else:
            found.append(replace(confirmed(PLANT.name, tag, day, name), **NOTHING_FOUND[way]))
    return found


NOTHING_FOUND = {
    way: {"part": None, "kind": None, "fault": None, "status": status}
    for way, status in (("sound", "no fault found"), ("unfound", "cause not found"))
}


def whole(found: Priors, loop_type: str = "") -> dict[str, ShareLine]:
    return {x.ending: x for x in found.shares_of(PLANT.name) if x.loop_type == loop_type}


def test_a_share_is_that_of_a_beta_prior() -> None:
    """Beta(20, 60) for a share of 1/4; 31 - 1 = 30 of 40 counted: Beta(50, 70), as scipy has it."""
    value, low, high = shares.learned(31, 40, 0.25, 0.90)
    judge = stats.beta(20 + 30, 60 + 10)
    assert value == pytest.approx(50 / 120) == pytest.approx(judge.mean())
    assert (low, high) == (pytest.approx(judge.ppf(0.05)), pytest.approx(judge.ppf(0.95)))


@pytest.mark.parametrize(("ended", "of", "value"), [(0, 20, 20 / 100), (1, 1, 20.25 / 81)])
def test_a_first_end_that_nobody_expected_moves_nothing(ended: int, of: int, value: float) -> None:
    """(20 + 0.25) / (80 + 1) is the quarter that was assumed."""
    assert shares.learned(ended, of, 0.25, 0.90)[0] == pytest.approx(value)


def test_shares_follow_many_calls_and_leave_the_unmodelled() -> None:
    """600 calls, two of three sound; "cause not found" tells nothing of them."""
    ways = {"sound": 0.60, "process_connection": 0.10, "electrical": 0.20, "unfound": 0.10}
    lines = whole(learned(calls(1, 600, ways)))
    told = sum(1 for row in calls(1, 600, ways) if row.status != "cause not found")
    assert lines["sound"].calls == told
    assert sum(line.ended for line in lines.values()) == told
    assert lines["sound"].share == pytest.approx(0.60 / 0.90 * 0.975, abs=0.05)
    assert lines["process_connection"].share < lines["process_connection"].assumed
    for line in lines.values():
        assert line.low < line.share < line.high
        assert line.factor == pytest.approx(line.share / line.assumed)
    loop = PLANT.load("LT-214")
    site = SiteRates(shares={("", name): line.factor for name, line in lines.items()})
    own = site.applied(loop).shares
    assert own.unmodelled == loop.shares.unmodelled
    assert sum(astuple(own)) == pytest.approx(1.0)
    assert own.sound > 0.5 > loop.shares.sound
    prior = {h.key: h.prior for h in hypotheses(site.applied(loop))}
    assert prior[None, "none"] == pytest.approx(own.sound)


def test_a_loop_type_starts_from_the_plant_and_goes_its_own_way() -> None:
    ways = {"sound": 0.25, "process_connection": 0.35, "electrical": 0.40}
    odd = {"sound": 0.80, "process_connection": 0.10, "electrical": 0.10}
    own = {unit.tag: unit.loop_type for unit in PEOPLE.units}["TT-131"]
    rows = calls(2, 400, ways) + [
        replace(row, name=f"t{row.name}") for row in calls(3, 150, odd, ("TT-131",))
    ]
    found = learned(rows)
    assert whole(found, own)["sound"].factor > 1.3 * whole(found)["sound"].factor
    other = whole(found, "two-wire-input")["sound"]
    assert other.factor == pytest.approx(whole(found)["sound"].factor, rel=0.25)


@pytest.mark.parametrize("seed", range(3))
def test_one_odd_call_turns_no_two_explanations_by_half(seed: int) -> None:
    """Rates and shares together: whatever the one case, no odds between two explanations move by
    half, in the loop where it happened; those of two endings never by a quarter.
    """
    ways = {"sound": 0.25, "process_connection": 0.35, "electrical": 0.40}
    rows = calls(seed, 3 * 7**seed, ways) if seed else []
    loop, day = PLANT.load("LT-214"), date(2022, 5, 5)
    odd = confirmed(PLANT.name, "LT-214", day, "odd", part="W3+", kind="core", fault="open")
    before = _applied(learned(rows), loop)
    for case in (odd, replace(odd, **NOTHING_FOUND["sound"])):
        after = _applied(learned([*rows, case]), loop)
        moved = [a.prior / b.prior for a, b in zip(after, before, strict=True) if b.prior > 0]
        assert max(moved) / min(moved) < 1.5
        ended = [group(after, name) / group(before, name) for name in ("electrical", "process")]
        assert max(ended) / min(ended) < 1.25


def _applied(found: Priors, loop: Loop) -> tuple[Hypothesis, ...]:
    site = SiteRates(
        {(x.kind, x.mode): x.rate for x in found.of(PLANT.name)},
        shares={(x.loop_type, x.ending): x.factor for x in found.shares_of(PLANT.name)},
    )
    return hypotheses(site.applied(loop), rates=site.of(loop))


def group(found: Sequence[Hypothesis], name: str) -> float:
    return sum(h.prior for h in found if h.mode is not None and h.mode.group.startswith(name))


# -- the file --------------------------------------------------------------------------------------


def test_shares_are_written_with_their_provenance_and_read_back(tmp_path: Path) -> None:
    ways = {"sound": 0.60, "process_connection": 0.10, "electrical": 0.30}
    found = learned(calls(1, 300, ways))
    path = tmp_path / FILE
    path.write_text(priors_text(found, PLANT.name, DAYS_OF, 300, date(2025, 1, 31)))
    site = read_rates(path)
    assert site.calls == 300
    assert site.shares == pytest.approx(
        {(x.loop_type, x.ending): x.factor for x in found.shares_of(PLANT.name)}, rel=1e-5
    )
    assert "shares of calls (300 calls)" in str(site)
    unknown = replace(PLANT.load("LT-214"), type="of-the-site")
    assert site.applied(unknown).shares.sound > 0.4  # as all loops together


@pytest.mark.parametrize(
    ("entry", "key", "sentence"),
    [
        ('ending = "sond"\nfactor = 1', "share 1: ending", "did you mean sound"),
        ('ending = "unmodelled"\nfactor = 1', "share 1: ending", "none of sound"),
        ('ending = "sound"', "share 1: factor", "missing"),
        ('ending = "sound"\nfactor = 0', "share 1: factor", "not between"),
        ('ending = "sound"\nfactor = nan', "share 1: factor", "not between"),
        ('ending = "sound"\nfactor = 1\nfactr = 2', "share 1: factr", "no such key"),
        (
            'ending = "sound"\nfactor = 1\n[[share]]\nending = "sound"\nfactor = 2',
            "share 2: ending", "already",
        ),
    ],
)  # fmt: skip
def test_each_mistake_in_a_share_is_told(
    tmp_path: Path, entry: str, key: str, sentence: str
) -> None:
    path = tmp_path / FILE
    path.write_text(f"[[share]]\n{entry}\n")
    with pytest.raises(SheetError) as caught:
        read_rates(path)
    assert any(where == key and sentence in text for _, where, text in caught.value.problems)
