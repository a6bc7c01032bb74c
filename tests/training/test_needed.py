"""What the advice would have needed, set against what the hunts took."""

from pathlib import Path

import pytest

from diagnose.errors import UnknownNameError
from diagnose.inference.engine import Engine
from diagnose.loops.sheet import load_sheet
from diagnose.loops.site_rates import SiteRates
from diagnose.review.exposure import Population, Unit
from diagnose.review.records import Records
from diagnose.review.review import review
from diagnose.review.rows import CONFIRMED, CaseRow
from diagnose.training.hunts import hunt
from diagnose.training.needed import HUNTS, Found, faults_found, needed, set_against
from diagnose.training.trials import jobs

SHEET = Path(__file__).resolve().parents[1] / "sheets" / "b3.toml"
LOOP = load_sheet(SHEET)


def row(name: str, part: str, fault: str) -> CaseRow:
    return CaseRow(
        name, plant="p", tag="B3", loop_type="t", status=CONFIRMED, part=part, fault=fault
    )


def test_the_commonest_faults_are_simulated_and_their_means_weighed_by_cases() -> None:
    part, mode = next(
        (part.name, mode.name) for part in LOOP.parts for mode in part.kind.modes
        if (part.kind.name, mode.name) == ("fuse", "open") or mode.name == "dead"
    )  # fmt: skip
    rows = [row("a", part, mode), row("b", part, mode), row("c", part, "no such mode")]
    records = Records.of_rows(rows)
    found = faults_found(records, None, 5)
    assert found[0] == Found("p", "B3", "t", part, mode, 2)
    needs, left_out = needed(found, lambda plant, tag: LOOP, seed=1)
    (one,) = needs
    engine = Engine(LOOP)
    judge = [hunt(engine, "advice", 1 + n, fault=(part, mode)) for n in range(HUNTS)]
    assert {(h.part, h.fault) for h in judge} == {(part, mode)}
    assert one.minutes == pytest.approx(sum(h.minutes for h in judge) / HUNTS)
    assert len(left_out) == 1
    assert "no such mode" in left_out[0]
    told = set_against(review(records, Population((Unit("p", "B3", "t"),))), needs, left_out)
    assert [line.minutes_advised for line in told.work] == [one.minutes, one.minutes]
    assert "2 of 3 causes" in " ".join(told.notes)


def test_a_loop_that_is_not_there_is_left_out_and_said() -> None:
    def nowhere(plant: str, tag: str) -> object:
        raise UnknownNameError("loop", tag, ["B4"])

    needs, notes = needed([Found("p", "B3", "t", "F1", "open", 1)], nowhere)  # type: ignore[arg-type]
    assert (needs, len(notes)) == ((), 1)


def test_faults_are_drawn_by_the_learned_rates_and_hunted_by_both() -> None:
    kind = next(part.kind for part in LOOP.parts if part.kind.modes)
    site = SiteRates({(kind.name, kind.modes[0].name): 3.0})
    pair = jobs([LOOP], ["advice"], 1, 1, site=site, compare=True)
    assert [job.name for job in pair] == ["advice, assumed rates", "advice, learned rates"]
    assert pair[0].rates == () != pair[1].rates == pair[0].drawn == pair[1].drawn
    (alone,) = jobs([LOOP], ["advice"], 1, 1, site=site)
    assert (alone.name, alone.rates) == ("advice", pair[1].rates)
