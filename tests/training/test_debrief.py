"""A debrief says what the engine says: every statement is compared with a posterior made anew.

The formulas are compared with Ohm's law on paper; the rule of the score with sums on paper.
"""

import re
from dataclasses import replace
from functools import cache

import pytest

from diagnose.inference.candidates import HOME
from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_lines, parse_measurement
from diagnose.loops.plant import open_plant
from diagnose.training import score as rule
from diagnose.training.commands import do
from diagnose.training.debrief import Debrief, debrief_of
from diagnose.training.debrief_words import page, result_lines, statement
from diagnose.training.lookout import Lookout
from diagnose.training.pages import html, markdown
from diagnose.training.score import score_of
from diagnose.training.verdicts import right_share, verdict_of
from drill_stand import PLANT, drill, engine

LINES = (
    "LIC-214", "V X21:7 X20:0", "LT-214", "operator", "bypass", "manual", "permit",
    "V X21:7 X20:0 with LT-214 driven 12 mA", "restore LT-214", "V X21:4 PE",
    "verdict I.W3 leakage", "restore all", "close",
)  # fmt: skip


@cache
def told() -> Debrief:
    d = drill(faults=("I.W3:leakage=10k",), complaint="reads high", process=0.4, seed=3)
    for line in LINES:
        do(d, line)
    return debrief_of(d)


def test_every_statement_agrees_with_a_posterior_made_anew() -> None:
    """Another engine, the same readings: chances before and after within what is printed."""
    found = told()
    fresh = Engine(open_plant(PLANT).load("LT-214"))
    statements = 0
    for lesson in found.lessons:
        before = fresh.rank(parse_lines(lesson.passed.before.evidence, fresh.loop))
        after = fresh.rank(parse_lines(lesson.passed.after.evidence, fresh.loop))
        for moved in lesson.moved:
            members = {
                (h.part, h.fault)
                for h in before.hypotheses
                if h.group == next(
                    g.group for g in before.hypotheses if (g.part, g.fault) == moved.keys[0]
                )
            }  # fmt: skip
            was = sum(h.probability for h in before.hypotheses if (h.part, h.fault) in members)
            now = sum(h.probability for h in after.hypotheses if (h.part, h.fault) in members)
            assert moved.before == pytest.approx(was, abs=0.005)
            assert moved.after == pytest.approx(now, abs=0.005)
            assert moved.ruled_out == (now <= 0.2 * was) or abs(now - 0.2 * was) < 0.005
            statements += 1
    assert statements >= 10


def test_what_was_ruled_out_would_mostly_have_shown_something_else() -> None:
    """Of a group that is ruled out nine readings in ten would have lain elsewhere."""
    outside = seen = 0
    for lesson in told().lessons:
        line = lesson.passed.step.line
        value = parse_lines([line], told().drill.loop)[0].value
        for moved in lesson.ruled_out:
            seen += 1
            outside += not moved.low <= value <= moved.high
    assert seen >= 3
    assert outside / seen > 0.7


def test_the_true_fault_is_never_said_to_be_ruled_out() -> None:
    gone = [m.keys for lesson in told().lessons for m in lesson.ruled_out]
    assert gone
    assert (("I.W3", "leakage"),) not in gone


def test_the_reasons_are_ohms_law() -> None:
    """3.40 V over 250 ohm are 13.6 mA: 12 mA driven and what 10 kohm let past, (24 - ...)/10k."""
    driven = next(x for x in told().lessons if "driven" in x.passed.step.command)
    assert driven.truth is not None
    amperes = driven.truth.value / 250
    # The pair stands at 24 V less 555 ohm times that current; through 10 kohm it adds the rest.
    assert amperes == pytest.approx(12e-3 + (24 - 556 * amperes) / 10e3, rel=2e-3)
    assert "I(R1) x R1" in driven.truth.formula


def test_the_best_step_is_that_of_the_advice() -> None:
    fresh = engine()
    for lesson in told().lessons:
        before = lesson.passed.before
        ranking = fresh.rank(parse_lines(before.evidence, fresh.loop), place=before.place)
        best = None if ranking.resolved or not ranking.next else ranking.next[0].text
        assert (before.best.text if before.best else None) == best
        if lesson.passed.step.command == best:
            assert lesson.passed.share == 1.0


def test_what_is_only_asked_for_is_rated_by_what_it_tells_for_its_own_minutes() -> None:
    """By hand: bits over half a minute without handling, against the best bits per minute."""
    e = Engine(open_plant(PLANT).load("TT-131"))
    lookout, said = Lookout(e), ("complaint reads high",)
    wanted = parse_measurement("TI-131", e.loop)
    look, adviser = lookout.look(said, HOME, wanted, HOME), lookout.answer(said, HOME).adviser
    assert look.chosen is not None
    assert look.best is not None
    assert look.best.measurement != wanted  # the tool asks for it first, and then advises a reading
    assert look.ranking.free[0].of == "TI-131"
    rates = [float(g / m) for g, m in zip(adviser.gains, adviser.minutes, strict=True)]
    due = min(1.0, look.chosen.gain_bits / look.chosen.minutes / max(rates))
    assert look.share == pytest.approx(due)
    assert look.share > look.chosen.gain_bits / look.best.gain_bits
    again = lookout.look((*said, "TI-131 31.2 degC"), HOME, wanted, HOME)
    assert again.share == 0.0  # what is known already tells nothing, however cheap


def test_a_display_that_was_not_asked_is_told_beside_the_best_step() -> None:
    d = drill(faults=("I.W3:leakage=10k",), complaint="reads high", seed=3)
    for line in ("V X21:7 X20:0", "verdict I.W3 leakage", "close"):
        do(d, line)
    found = debrief_of(d)
    free = found.lessons[0].passed.before.ranking.free[0]
    assert free.of
    plain = markdown(page(found))
    assert f"What {free.of} shows could be asked first, and costs nothing" in plain
    assert "handling the meter" in plain


def test_the_pages_say_it_in_words_and_escape_what_people_wrote() -> None:
    nasty = "<script>alert(1)</script> | # `x` [y](z)"
    blocks = list(page(told(), nasty))
    made = html(blocks, nasty)
    assert "<script>" not in made
    assert made.count("&lt;script&gt;") >= 2
    plain = markdown(blocks)
    assert r"\<script\>" in plain
    for block in (made, plain):
        assert "What this reading rules out" in block
        assert "I(R1) x R1" in block
        assert "The best step then was" in block
    lesson = next(x for x in told().lessons if x.ruled_out)
    words = statement(lesson.ruled_out[0], lesson, told().drill.loop)
    assert re.search(r"it would have shown .+; you read .+ falls from .+ to .+\.", words)


def test_a_worthless_reading_is_told_as_such() -> None:
    d = drill(faults=("R1:drift=310",), complaint="reads high", seed=4)
    for line in ("jack mA", "V X21:7 X20:0", "verdict R1 drift", "close"):
        do(d, line)
    found = debrief_of(d)
    assert found.lessons[0].passed.worthless
    assert not found.lessons[0].moved
    assert "told nothing about the fault" in markdown(page(found))


def test_the_score_is_the_sum_of_its_rule() -> None:
    """Right verdict, all put back, everything arranged: full points but for what was lost."""
    score = told().score
    assert score.right == 1.0
    assert score.verdict == rule.VERDICT
    assert score.restored == rule.RESTORED
    assert score.care == pytest.approx(rule.CARE)
    assert score.calm == rule.CALM - rule.MOVED  # one step drove the transmitter
    assert score.lost == score.asked == 0
    clock = told().drill.clock
    assert score.time == pytest.approx(rule.TIME * min(1, 2 * (1 - clock / 240)))
    parts = (score.verdict, score.information, score.time, score.calm, score.care, score.restored)
    assert score.total == pytest.approx(sum(parts))


def test_what_is_unsafe_or_trips_is_not_passed() -> None:
    d = drill(faults=("I.W3:leakage=10k",), complaint="reads high", seed=3)
    for line in ("set W3+.X21 lifted", "restore all", "verdict I.W3 leakage", "close"):
        do(d, line)
    score = score_of(d)
    assert score.trips == 1
    assert score.total <= rule.CAPS[1]


def test_a_right_verdict_that_was_a_guess_is_called_one() -> None:
    """One glance at a display does not tell a resistor from all else that reads high."""
    d = drill(faults=("R1:drift=310",), complaint="reads high", seed=3)
    for line in ("LIC-214", "verdict R1 drift", "close"):
        do(d, line)
    found = debrief_of(d)
    known = sum(found.end.probability.get((k,), 0.0) for k in found.end.alike(("R1", "drift")))
    assert 0 < known < 1 / 3
    assert "only: in the plant that is a guess" in markdown(page(found))
    # Luck is paid by the odds of it, so that nobody passes without a reading.
    assert found.score.verdict == pytest.approx(rule.VERDICT * 3 * known)
    assert found.score.right == 1
    assert found.score.total < found.drill.setting.pass_mark
    assert told().score.verdict == rule.VERDICT
    assert "in the plant that is a guess" not in markdown(page(told()))


def test_nothing_but_a_wrong_verdict_earns_nothing() -> None:
    d = drill(faults=("I.W3:leakage=10k",), complaint="reads high", seed=3)
    do(d, "verdict G1 dead")
    do(d, "close")
    assert score_of(d).total == 0


@pytest.mark.parametrize(
    ("said", "true", "alike", "share"),
    [
        ("R1 drift", [("R1", "drift")], [{("R1", "drift")}], 1.0),
        ("R1 open", [("R1", "drift")], [{("R1", "drift")}], 0.2),
        ("I.JB9 leakage", [("I.W3", "leakage")], [{("I.JB9", "leakage")}], 0.6),
        ("none", [("R1", "drift")], [{("R1", "drift")}], 0.0),
        ("R1 drift and W3+ open", [("R1", "drift")], [set()], 0.5),
        ("R1 drift", [("R1", "drift"), ("W3+", "open")], [set(), set()], 0.5),
        ("W3+ open and R1 drift", [("R1", "drift"), ("W3+", "open")], [set(), set()], 1.0),
    ],
)
def test_a_verdict_is_right_in_shares(said: str, true: list, alike: list, share: float) -> None:
    """Six tenths for the group, two for the part, two for the mode; faults in any order."""
    found = right_share(verdict_of(said, engine().loop), true, alike)
    assert found == pytest.approx(share)


def test_the_last_lines_of_a_result_are_the_score() -> None:
    """Twenty lines of the rule push what stands before them off a small screen."""
    d = drill(faults=("R1:drift=310",))
    for line in ("V X21:7 X20:0", "verdict not found", "close"):
        do(d, line)
    *rule, was, score = result_lines(debrief_of(d))
    assert rule[0] == "The rule:"
    assert was.startswith("It was: R1 drift")
    assert "Given up: your readings had" in was
    assert score.startswith("Score ")


def test_the_debrief_of_a_loop_with_a_positioner_tells_what_its_valve_showed() -> None:
    """Its valve follows two signals, the target of the positioner and the air."""
    d = drill("FV-118", faults=("FV-118:leak",), complaint="does not follow", seed=3)
    for line in ("FV-118", "verdict FV-118 leak", "close"):
        do(d, line)
    found = debrief_of(d)
    assert found.lessons[0].truth is None  # what a stem shows is no voltage
    assert "Step 1: FV-118" in markdown(page(found))


def test_a_score_has_a_reason_beside_each_of_its_parts() -> None:
    """One short that trips, and a right name that was a guess: 30 points at most."""
    d = drill(faults=("R1:drift=310",), complaint="reads high", seed=4, minutes=100)
    for line in ("jack mA", "V X21:7 X20:0", "jack V", "hint", "verdict R1 drift", "close"):
        do(d, line)
    found = debrief_of(d)
    plain = markdown(page(found))
    assert f"a guess, counts {found.score.borne * 100:.0f} %" in plain
    assert "| 1 trip, 1 upset, 1 unsafe step |" in plain
    assert "| hint once |" in plain
    assert "in full up to 50" in plain
    assert "One step was unsafe or tripped the plant: at most 30 points in all." in plain
    assert any("at most 30 points in all" in line for line in result_lines(found))
    assert "Put the lead back into the V jack before the next volts" in plain


def test_what_follows_a_safe_hunt_with_the_right_name_has_nothing_to_mend() -> None:
    plain = markdown(page(told()))
    assert "at most" not in plain.partition("## How the score is made")[0]
    assert "group, part and mode are right |" in plain
    assert "| all put back |" in plain
    assert "Read on before" not in plain


def test_a_wrong_verdict_is_told_what_the_readings_said_of_it() -> None:
    """Five volts on the bus of a sound sender: no lifted wire does that, and it was said so."""
    d = drill(faults=("R1:drift=310",), complaint="reads high", seed=3)
    for line in ("LIC-214", "V X21:7 X20:0", "verdict T1 blocked", "close"):
        do(d, line)
    found = debrief_of(d)
    keys = found.end.alike(("T1", "blocked"))
    chance = sum(found.end.probability.get((key,), 0.0) for key in keys)
    assert chance > 1 / 3
    plain = markdown(page(found))
    assert f"Your readings had put it at {chance * 100:.0f} %, and what was wrong" in plain
    assert "They leaned that way: it took more of them." in plain
    assert found.end.best is not None
    assert f"What would have told more then: {found.end.best.text}, " in plain


def test_the_steps_are_told_at_a_glance() -> None:
    found = told()
    blocks = list(page(found))
    glance = next(b for b in blocks if b.sort == "table" and b.lines[0] == "step")
    assert len(glance.rows) == len(found.lessons)
    for row, lesson in zip(glance.rows, found.lessons, strict=True):
        assert row[1] == lesson.passed.step.command
        assert row[4].startswith("against") == bool(lesson.ruled_out)
    assert [row[5] for row in glance.rows] == [""] * len(glance.rows)


def test_what_was_read_stands_in_the_unit_of_what_would_have_been() -> None:
    """Found at a trip: ``it would have shown 19.0 mV to 36.9 mV; you read 0.0145 V``."""
    lesson = next(x for x in told().lessons if x.ruled_out)
    moved = replace(lesson.ruled_out[0], low=0.019, high=0.0369, unit="V")
    step = replace(lesson.passed.step, line="V X21:7 X20:0 0.0145 V", told=("V: 0.0145 V",))
    other = replace(lesson, passed=replace(lesson.passed, step=step))
    words = statement(moved, other, told().drill.loop)
    assert "would have shown 19.0 mV to 36.9 mV; you read 14.5 mV" in words


def test_a_current_is_told_as_the_meter_counts_it_and_not_as_nothing_by_nearly_nothing() -> None:
    """Found at a terminal: ``0.0 mV / 0.005 ohm = -5.84 mA`` beside a display of 5.86 mA."""
    d = drill(faults=("R1:drift=310",), complaint="reads high", process=0.5)
    for line in (
        "operator",
        "bypass",
        "manual",
        "jack mA",
        "mA X21:7",
        "verdict R1 drift",
        "close",
    ):
        do(d, line)
    found = debrief_of(d)
    plain = markdown(page(found))
    assert "0.0 mV / " not in plain
    why = found.lessons[0].truth
    assert why is not None
    assert why.value == pytest.approx(-0.012, rel=0.01)  # 12 mA at half of the range
    assert why.notes[-1].startswith("your meter counts it the other way round: 12.0")


def test_volts_that_the_meter_itself_brings_down_are_told_as_such() -> None:
    """Nothing ties this supply to earth but 100 gigohm: ten megohm of a meter hold it to earth.

    The display stood about nothing while the sum beside it ended at volts.
    """
    d = drill("ZS-221", process=1.0)
    for line in ("V X73:1 PE", "V X73:1 X73:2", "verdict none", "close"):
        do(d, line)
    earth, across = debrief_of(d).lessons
    assert earth.truth is not None and across.truth is not None
    assert abs(earth.truth.value) > 1
    (told_,) = [note for note in earth.truth.notes if "without the meter" in note]
    assert "10.00 Mohm between the leads" in told_
    assert told_ in markdown(page(debrief_of(d)))
    assert not any("without the meter" in note for note in across.truth.notes)


def test_a_worthless_reading_that_stood_to_the_end_is_told() -> None:
    """No current with the lead in the V jack is a reading like any other to the belief."""
    for last, told_ in (("LIC-214", True), ("withdraw 1", False)):
        d = drill(faults=("R1:drift=310",), complaint="reads high", seed=4)
        for line in ("bypass", "manual", "mA X21:7", last, "verdict not found", "close"):
            do(d, line)
        assert ("It stood to the end: withdraw 1" in markdown(page(debrief_of(d)))) == told_


def test_a_verdict_that_is_right_in_part_is_told_in_which() -> None:
    """The right resistor, but open: at twelve milliamperes it would show nothing like this."""
    d = drill(faults=("R1:drift=310",), complaint="reads high", seed=3)
    for line in ("V X21:7 X20:0", "verdict R1 open", "close"):
        do(d, line)
    found = debrief_of(d)
    assert found.score.right == pytest.approx(0.2)
    plain = markdown(page(found))
    assert "right to 20 %: the part, with another fault of it" in plain
    assert "Your readings had put it at under 1 %" in plain
