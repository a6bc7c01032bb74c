"""A hunt on a whole control loop crosses from the valve to the input and back.

Common practice, no source: when the valve does not follow, look at the output, the air and the stem
before the input; when the level reads low, look at the input.  Volts, kilopascals and percent are
arithmetic on the sheet: 20 to 100 kPa for 0 to 100 %.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_line
from diagnose.inference.stated import STEP, restated
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets" / "LIC-214.toml"
FACEPLATE = "LIC-214"


@pytest.fixture(scope="module")
def engine() -> Engine:
    return Engine(load_sheet(SHEET))


def rank(engine: Engine, *lines: str) -> Ranking:
    return engine.rank([parse_line(line, engine.loop) for line in lines])


def first(ranking: Ranking) -> set[str | None]:
    """Parts of the leading group."""
    number = ranking.groups[0].number
    return {h.part for h in ranking.hypotheses if h.group == number}


def chance(ranking: Ranking, *parts: str) -> float:
    return sum(h.probability for h in ranking.hypotheses if h.part in parts)


def test_the_faceplate_moves_the_loop_to_where_it_stands(engine: Engine) -> None:
    told = restated(engine.loop, [parse_line("LIC-214 92.3 %", engine.loop)])
    assert told.part(FACEPLATE).values["output"] == pytest.approx(0.923, abs=STEP / 2)
    assert told.digest != engine.loop.digest
    assert restated(told, [parse_line("LIC-214 92.3 %", told)]) is told


def test_nothing_read_leaves_the_loop_as_it_is(engine: Engine) -> None:
    assert restated(engine.loop, [parse_line("V X21:7 X20:0 3.0", engine.loop)]) is engine.loop


@pytest.mark.parametrize("output", [0.6, 2.2, 97.8, 98.1, 99.4])
def test_an_output_near_its_end_is_no_sign_of_manual(engine: Engine, output: float) -> None:
    """By Bayes' rule: a controller in automatic stands at 98 % as well as at 50 %."""
    half, here = (rank(engine, f"LIC-214 {value} %") for value in (50, output))
    odds = [chance(one, "LIC-214.M") / one.sound for one in (half, here)]
    assert odds[1] == pytest.approx(odds[0], rel=0.1)


def test_by_hand_is_no_statement_of_where_it_stood(engine: Engine) -> None:
    line = "LIC-214 50 % with LIC-214 driven 50 %"
    assert restated(engine.loop, [parse_line(line, engine.loop)]) is engine.loop


def test_air_that_is_too_low_for_a_high_output_is_found(engine: Engine) -> None:
    """90 % asks for 92 kPa; with 70 kPa of air the stem stops at (70 - 20) / 80 = 62 %."""
    ranking = rank(engine, "complaint does not follow", "LIC-214 90 %", "LV-214 62 %", "PG1 70 kPa")
    assert "AS" in first(ranking)
    assert ranking.unexplained < 0.1


def test_a_stem_that_stays_behind_its_pressure_is_stuck(engine: Engine) -> None:
    """50 % is 60 kPa at the actuator; the stem stands at 10 %."""
    ranking = rank(engine, "complaint does not follow", "LIC-214 50 %", "PG3 60 kPa", "LV-214 10 %")
    assert chance(ranking, "LV-214", "HW") > 0.8


def test_a_valve_that_follows_sends_the_hunt_to_the_input(engine: Engine) -> None:
    """Sight glass 62 %, bus 40 %: whatever it is, it is not the output."""
    ranking = rank(
        engine, "complaint reads low", "LIC-214 50 %", "LV-214 50 %", "process 62 % +- 2 %",
        "V X21:7 X20:0 2.6",
    )  # fmt: skip
    output = ("AS", "LY-214", "LY-214.P", "LV-214", "T2", "HW", "AO1", "F3", "A3")
    assert chance(ranking, *output) < 0.02
    assert ranking.groups[0].probability > 0.02


def test_a_trip_is_hunted_on_the_same_sheet(engine: Engine) -> None:
    """The bus stands at 35 %, far below the set point of 50 %, and the lamp is lit."""
    ranking = rank(
        engine, "complaint tripped", "V X41:1 X41:2 2.4", "H1 lit", "RL1 dark", "LIC-214 50 %",
        "LV-214 50 %",
    )  # fmt: skip
    trip = [h.part for h in ranking.hypotheses if h.probability > 0.01 and h.part]
    assert trip
    assert ranking.unexplained < 0.1
    assert all(engine.loop.part(str(part)).place in ("cabinet", "control room") for part in trip)


def test_the_proof_covers_both_sides(engine: Engine) -> None:
    """The input by the transmitter, the output by the faceplate: one tells nothing of the other.

    1 to 5 V for 4 to 20 mA across 250 ohm; the stem goes where the output is set.
    """
    texts = [item.text for item in engine.proof]
    assert texts[:5] == [f"V X21:7 X20:0 with LT-214 driven {ma} mA" for ma in (4, 8, 12, 16, 20)]
    assert texts[5:] == [f"LV-214 with LIC-214 driven {at} %" for at in (0, 25, 50, 75, 100)]
    due = (1, 2, 3, 4, 5, 0, 0.25, 0.5, 0.75, 1)
    assert all(p.low < d < p.high for p, d in zip(engine.proof, due, strict=True))


@pytest.mark.parametrize("output", [20, 60])
def test_a_sound_loop_is_expected_where_the_faceplate_stands(engine: Engine, output: int) -> None:
    """4 + 16 * 0.2 = 7.2 mA and 4 + 16 * 0.6 = 13.6 mA through the same load, by Ohm's law."""
    found = rank(engine, "complaint does not follow", f"LIC-214 {output} %", "LR-214 61 %")
    behind = ("LY-214", "W7+", "W8+", "W8-", "W7-")
    series_of = {"V X31:2 X20:0": ("A3", *behind)} | {f"V X31:{n} X20:0": behind for n in (3, 4)}
    advice = next(a for a in found.next if a.text in series_of)
    (low, high), series = advice.healthy[:2], series_of[advice.text]
    load = sum(engine.loop.part(name).values["resistance"] for name in series)
    assert low < 0.001 * (4 + 0.16 * output) * load < high
    assert high - low < 0.1 * high


def test_where_the_faceplate_stands_tells_nothing_for_or_against_manual(engine: Engine) -> None:
    """An output left in manual does not follow, wherever it was left.

    Where a controller stands, and where a person left it, may be anywhere: so reading the faceplate
    moves nothing (Bayes), but for the shape of the two priors.
    """
    told = ("complaint does not follow", "LIC-214.M manual")
    before = rank(engine, *told)
    for stands in ("28 %", "50 %", "80 %"):
        after = rank(engine, *told, f"LIC-214 {stands}")
        assert chance(after, "LIC-214.M") == pytest.approx(chance(before, "LIC-214.M"), abs=0.1)
