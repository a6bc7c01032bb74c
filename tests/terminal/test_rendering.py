"""Answers on a screen: pure functions of rankings made by hand."""

from dataclasses import replace
from math import inf

import pytest

from diagnose.casework.case import Case
from diagnose.inference.expected import expected_table, usual
from diagnose.inference.measurement import Measurement
from diagnose.inference.meters import GENERIC
from diagnose.inference.ranking import Expects, Ranking, Remedy, Size, Suspect
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.terminal.do_expect import render as expected
from diagnose.terminal.naming import instruction
from diagnose.terminal.outcome import Look
from diagnose.terminal.render_advice import (
    alternatives,
    largest,
    least,
    meaning,
    meanings,
    sound,
    typed,
)
from diagnose.terminal.render_ranking import about, bars, render, rows, verdict
from diagnose.terminal.session_view import leading, row_name
from diagnose.terminal.table import grid, table
from diagnose.terminal.wording import listed, minutes, paragraph, percent, span
from terminal.answers import ADVICE, CAUTIONS, DONE, OPEN, SERIES, ranked, ranking
from terminal.session_stand import flat

SCREEN = Look(80)


@pytest.fixture(scope="module")
def loop() -> Loop:
    return open_plant().load("LT-214")


def text(answer: Ranking, loop: Loop, look: Look = SCREEN) -> str:
    return "\n".join(render(answer, loop, look, CAUTIONS))


# -- words


def test_no_probability_is_shown_as_certainty() -> None:
    assert [percent(p) for p in (0.0, 0.004, 0.5, 0.994, 1.0)] == [
        "< 1 %", "< 1 %", "50 %", "99 %", "> 99 %",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("low", "high", "unit", "shown"),
    [
        (11.8, 12.6, "V", "11.80 to 12.60 V"),
        (0.9, 1200, "ohm", "0.900 ohm to 1.200 kohm"),
        (0.99, 1.3, "V", "0.990 to 1.300 V"),
        (-2.0, 0.5, "V", "-2.000 V to 500.0 mV"),
        (-649.1, 17460.0, "Pa", "-0.6 to 17.5 kPa"),
        (3.0, 3.0, "V", "3.000 V"),
        (0.5, 0.6, "1", "50.0 to 60.0 %"),
        (inf, inf, "ohm", "OL"),
        (1e3, inf, "ohm", "1.000 kohm or more, up to OL"),
        (0.99, 0.99, "lit", "lit"),
        (0.01, 0.01, "lit", "dark"),
        (0.4, 0.4, "lit", "perhaps dark (60 %)"),
        (0.93, 0.93, "lit", "perhaps lit (93 %)"),
    ],
)
def test_ranges_read_aloud(low: float, high: float, unit: str, shown: str) -> None:
    assert span(low, high, unit) == shown


def test_a_number_stays_with_its_unit() -> None:
    for width in range(20, 60):
        text = "drift (4 %) gives 310.0 ohm or 12.00 mA in 15 minutes"
        lines = list(paragraph(text, Look(width)))
        assert not any(line.split()[0] in {"%)", "ohm", "mA", "minutes"} for line in lines)


def test_lists_and_minutes_read_aloud() -> None:
    assert [listed(list("abc")[:n]) for n in range(4)] == ["", "a", "a and b", "a, b and c"]
    assert [minutes(value) for value in (0.2, 1.4, 12.6)] == ["1 minute", "1 minute", "13 minutes"]


def test_columns_are_aligned_and_the_last_one_is_wrapped() -> None:
    lines = list(table([("a", "1", "x " * 30), ("bbb", "22", "y")], Look(40), frozenset({1})))
    assert [line[:9] for line in lines] == ["a     1  ", "         ", "bbb  22  "]
    assert all(len(line.rstrip()) <= 40 for line in lines)
    assert next(grid(("h", "i"), [], Look(40))) == "h  i"


# -- the verdict


@pytest.mark.parametrize(
    ("answer", "sentence"),
    [
        (DONE, "Almost certainly: R1 drift (sense resistor) (98 %)."),
        (
            OPEN,
            (
                "Most likely one of these (70 %), which cannot be told apart by any reading "
                "within reach: I.W3 leakage 40 % or I.W4 leakage 30 %."
            ),
        ),
        (
            ranking(
                ranked("R1", "drift", 0.86, 1),
                ranked("LIC-214", "scaling", 0.1, 1),
                ranked(None, "none", 0.04, 2),
            ),
            (
                "Almost certainly: R1 drift (sense resistor) (86 %), or 1 other, 96 % together, "
                "which cannot be told apart by any reading within reach."
            ),
        ),
        (
            ranking(ranked("I.W3", "leakage", 0.4, 1), ranked("I.TX", "leakage", 0.4, 2)),
            "Most likely: leakage (80 %), but where is not decided yet: I.W3 or I.TX.",
        ),
        (
            ranking(ranked("R1", "drift", 0.3, 1), ranked("F1", "open", 0.3, 2), unexplained=0.1),
            "Not decided yet; first among several: R1 drift (sense resistor) (30 %).",
        ),
        (
            ranking(ranked("T1", "blocked", 0.6, 1), ranked(None, "none", 0.36, 2)),
            (
                "Almost certainly the loop is electrically sound (96 %): look at the process or "
                "its connection."
            ),
        ),
        (  # one in seven is not what anybody walks away from: the bar is that of every verdict
            ranking(ranked("T1", "blocked", 0.53, 1), ranked(None, "none", 0.33, 2)),
            (
                "Most likely the loop is electrically sound (86 %), and the process or its "
                "connection is the cause; an electrical fault is not ruled out."
            ),
        ),
        (
            ranking(ranked(None, "none", 0.6, 1), ranked("R1", "drift", 0.4, 2)),
            (
                "Most likely the loop is electrically sound (60 %), and the process or its "
                "connection is the cause; an electrical fault is not ruled out."
            ),
        ),
        (  # a transmitter fault that shares the group of a blocked connection changes little
            ranking(
                ranked("T1", "blocked", 0.72, 1),
                ranked("LT-214", "span error", 0.02, 1),
                ranked("R1", "drift", 0.26, 2),
            ),
            (
                "Most likely the loop is electrically sound (72 %), and T1 blocked 72 % (process "
                "connection) is the cause; an electrical fault is not ruled out."
            ),
        ),
        (  # 61 and 19 %: it was told to look at air, valve, controller, process or connection
            ranking(
                ranked("T1", "blocked", 0.61, 1),
                ranked("T1", "shifted", 0.19, 1),
                ranked(None, "none", 0.16, 2),
            ),
            (
                "Almost certainly the loop is electrically sound (96 %): look at T1 blocked 61 % "
                "or T1 shifted 19 % (process connection)."
            ),
        ),
        (  # taking it a third time is no advice
            replace(OPEN, unexplained=0.9, suspects=(replace(OPEN.suspects[0], retaken=5),)),
            (
                "No modelled fault explains these readings (90 %): a reading that was taken again "
                "still differs; compare the sheet with the wiring."
            ),
        ),
        (
            replace(OPEN, unexplained=0.9),
            "No modelled fault explains these readings (90 %): retake reading 2.",
        ),
        (
            ranking(ranked("R1", "drift", 0.2, 1), unexplained=0.8),
            (
                "No modelled fault explains these readings (80 %): retake the readings, and "
                "compare the sheet with the wiring."
            ),
        ),
    ],
)
def test_the_verdict_is_one_sentence(answer: Ranking, sentence: str, loop: Loop) -> None:
    assert verdict(answer, loop) == sentence


def test_another_fault_of_the_same_group_is_no_place_of_the_first(loop: Loop) -> None:
    """Seen in a hunt: a transmitter's output error shared the group of a leak beside it."""
    answer = ranking(
        ranked("I.W3", "leakage", 0.5, 1), ranked("TX", "output error", 0.02, 1),
        ranked("I.W4", "leakage", 0.4, 2), ranked("R1", "drift", 0.08, 3),
    )  # fmt: skip
    wanted = "Most likely: leakage (90 %), but where is not decided yet: I.W3 or I.W4."
    assert verdict(answer, loop) == wanted
    assert leading(answer, Case()) == "leakage somewhere 90 %"  # open 61 % read like a valve


def test_a_title_names_the_connection_that_its_first_bar_names(loop: Loop) -> None:
    """``faults: electrically sound 80 %`` stood above ``82 %  T1 blocked``."""
    blocked = ranking(ranked("T1", "blocked", 0.78, 1), ranked("R1", "drift", 0.22, 2))
    assert leading(blocked, Case()) == "T1 blocked 78 %"
    either = ranking(ranked("T1", "blocked", 0.5, 1), ranked(None, "none", 0.3, 2))
    assert leading(either, Case()) == "not electrical 80 %"


def test_without_readings_nothing_is_claimed(loop: Loop) -> None:
    assert verdict(DONE, loop, read=0).startswith("Nothing was read yet")


def test_a_pair_of_faults_is_no_further_place_of_the_first(loop: Loop) -> None:
    pair = ranked("I.W3", "leakage", 0.1, 3, also=(("R1", "drift"),))
    answer = ranking(ranked("I.W3", "leakage", 0.5, 1), ranked("I.W4", "leakage", 0.4, 2), pair)
    wanted = "Most likely: leakage (90 %), but where is not decided yet: I.W3 or I.W4."
    assert verdict(answer, loop) == wanted


# -- the ranking


def test_a_group_is_one_row_and_nothing_modelled_is_another() -> None:
    assert [round(row.probability, 9) for row in rows(OPEN)] == [0.7, 0.2, 0.05, 0.03, 0.02]
    assert rows(OPEN)[-1].members == ()


def test_rows_end_at_99_percent_or_eight(loop: Loop) -> None:
    many = ranking(*(ranked(f"P{n}", f"mode {n}", 0.05, n) for n in range(1, 21)))
    lines = list(bars(many, loop, Look(80)))
    assert sum("#" in line or ".........." in line for line in lines) == 8
    assert lines[-1].strip() == "all others together 60 %"
    assert len(list(bars(DONE, loop, Look(80)))) == 3  # 98 %, its title, and 2 %


def test_rows_of_one_in_a_hundred_are_counted_and_not_shown(loop: Loop) -> None:
    """Many small ones hide the few that matter; three are shown whatever they are."""
    small = [ranked(f"P{n}", "open", 0.01, n) for n in range(2, 12)]
    lines = list(bars(ranking(ranked("A", "open", 0.9, 1), *small), loop, Look(80)))
    assert sum("#" in line or ".........." in line for line in lines) == 3
    assert lines[-1].strip() == "all others together 8 %"


def test_a_size_of_which_nothing_is_known_is_left_out_below_the_first(loop: Loop) -> None:
    vague = Size("resistance", "ohm", 6e3, 100, 3e5)
    two = ranking(ranked("I.W3", "leakage", 0.6, 1), ranked("I.W4", "leakage", 0.4, 2, size=vague))
    assert "not narrowed down" not in text(two, loop)


def test_size_members_and_pairs_are_told(loop: Loop) -> None:
    shown = " ".join(text(OPEN, loop).split())
    assert "resistance about 9.9 kohm; 90 %: 8.100 to 12.30 kohm" in shown
    assert "I.W3 leakage 40 % and I.W4 leakage 30 % cannot be told apart" in shown
    assert "G1 low (24 V supply) together with F1 open (loop fuse)" in shown
    assert "none of the modelled faults" in shown


# -- the step


def test_the_step_says_what_to_do_in_the_order_of_doing(loop: Loop) -> None:
    shown = text(OPEN, loop)
    order = [
        "Next: solvent receiver platform, 28 minutes.",
        "First: Operator told and loop in manual.",
        "Caution: The plant will believe this current.",
        "Set: LT-214 driven 4 mA (transmitter made to drive a fixed current; solvent",
        "Do: DC volts, V jack, 6 V range: red lead on X21:7, black lead on X20:0.",
        "Type: V X21:7 X20:0 ... with LT-214 driven 4 mA",
        "It moves the signal",
        "A sound loop would show 0.995 to 1.005 V.",
        "What it would mean:",
        "Or: mA X21:3 X21:4 (marshalling cabinet 2, 6 minutes, opens the loop)",
        "Not tested",
        "Assumed by default: G1: voltage.",
    ]
    places = [shown.find(piece) for piece in order]
    assert -1 not in places
    assert places == sorted(places)


def test_a_reading_that_does_not_fit_is_named(loop: Loop) -> None:
    shown = " ".join(text(OPEN, loop).split())
    shown_again = replace(OPEN, suspects=(Suspect(1, "LIC-214 80 %", 0.8),))
    assert "Take it again; look at the digits." in " ".join(text(shown_again, loop).split())
    assert "Distrusted: reading 2, 'V X21:7 X20:0 34.06', may be wrong (40 %). Take it" in shown


def test_outcomes_of_nearly_one_range_are_one() -> None:
    """1.0-1.2 and 1.02-1.22 V have 0.18 of 0.22 V in common; 1.1-1.4 V has 0.1 of 0.4 V."""
    expects = [
        Expects("A", "open", 0.2, 1.1, 1.4, "V"), Expects("B", "open", 0.5, 1.0, 1.2, "V"),
        Expects("C", "open", 0.1, 1.02, 1.22, "V"),
    ]  # fmt: skip
    assert [(item.seen, [one.part for one in item.means]) for item in meanings(expects)] == [
        ("1.000 to 1.220 V", ["B", "C"]), ("1.100 to 1.400 V", ["A"]),
    ]  # fmt: skip


@pytest.mark.parametrize("end", [5.0, inf])
def test_one_place_is_one_outcome(end: float) -> None:
    same = [Expects(f"P{n}", "open", 0.3, end, end, "ohm") for n in range(3)]
    assert [len(item.means) for item in meanings(same)] == [3]


def test_a_reading_with_one_outcome_is_not_said_to_tell_what_it_means() -> None:
    """It is worth its minute by what is less likely; the suspects named stay as they are."""
    wire = Expects("W31A.X31", "high resistance", 0.9, 0.4905, 0.4984, "V", 2)
    core = Expects("W31A", "high resistance", 0.1, 0.4901, 0.4982, "V")
    said = flat("\n".join(meaning(replace(ADVICE, expects=(wire, core)), Look(80))))
    assert "What it would mean" not in said
    assert said == (
        "It would most likely show 490.1 to 498.4 mV, and hardly tells these apart: W31A.X31 high "
        "resistance or 2 like it (90 %) or W31A high resistance (10 %). Another value would speak "
        "for something less likely."
    )
    dark = Expects(None, "none", 0.95, 0.0, 0.0, "lit")
    said = flat("\n".join(meaning(replace(ADVICE, expects=(dark,)), Look(80))))
    assert said.startswith("It would most likely show dark: loop electrically sound (95 %). Anoth")
    assert "What it would mean" in "\n".join(meaning(ADVICE, Look(80)))
    assert list(meaning(replace(ADVICE, expects=()), Look(80))) == []


def test_an_outcome_names_a_few_and_counts_the_others(loop: Loop) -> None:
    same = tuple(Expects(f"P{n}", "open", 0.2 - n / 100, 1.0, 2.0, "V") for n in range(7))
    lone = Expects("Q", "short", 0.05, 4.0, 5.0, "V", more=2)
    advice = replace(ADVICE, expects=(*same, lone))
    shown = " ".join(text(replace(OPEN, next=(advice,)), loop).split())
    assert "P0 open (20 %), P1 open (19 %), P2 open (18 %) or 4 more" in shown
    assert "Q short or 2 like it (5 %)" in shown


def test_outcomes_end_where_nearly_all_is_told() -> None:
    """0.6 and 0.38 of 0.99 are more than 97 %; a third outcome at 0.01 is noise to a reader."""
    shares = {"A": 0.6, "B": 0.01, "C": 0.38}
    apart = [
        Expects(name, "open", p, n, n + 0.5, "V") for n, (name, p) in enumerate(shares.items())
    ]
    assert [item.means[0].part for item in meanings(apart)] == ["A", "C"]
    assert len(meanings([apart[0], apart[1]])) == 2


def test_the_widest_outcomes_are_few_lines() -> None:
    apart = [Expects(f"P{n}", "open", 0.01 * n, n, n + 0.5, "V") for n in range(1, 13)]
    assert [item.means[0].part for item in meanings(apart)] == ["P8", "P9", "P10", "P11", "P12"]


def test_what_a_sound_loop_shows_is_told_alike_in_the_sentence_and_the_table() -> None:
    """``85 to 1571 mm, depending on process`` stood above ``1184 to 1265 mm  loop sound``."""
    expects = (
        Expects("T1", "blocked", 0.5, -2.3e-3, 1.535, "m"),
        Expects(None, "none", 0.25, 1.184, 1.265, "m"),
    )
    gauge = replace(ADVICE, healthy=(0.085, 1.571, "m"), expects=expects)
    assert sound(gauge) == "A sound loop would show 1.184 to 1.265 m."
    wide = replace(gauge, expects=(Expects(None, "none", 0.25, 0.5, 1.265, "m"),))
    assert (
        sound(wide) == "A sound loop would show 0.500 to 1.265 m, depending on process and supply."
    )


@pytest.mark.parametrize(
    ("healthy", "other", "told"),
    [
        ((0.995, 1.005, "V"), 1.6, "A sound loop would show 0.995 to 1.005 V."),
        (
            (4.6e-3, 13.8e-3, "A"), 13.8e-3,
            "A sound loop would show 4.60 to 13.80 mA, depending on process and supply.",
        ),
        ((-2e-5, 4e-5, "A"), 2.3e-3, "A sound loop would show -0.02 to 0.04 mA."),
        ((0.99, 0.99, "lit"), 0.1, "A sound loop would show lit."),
        ((inf, inf, "ohm"), inf, "A sound loop would show OL."),
    ],
)  # fmt: skip
def test_what_a_sound_loop_would_show(
    healthy: tuple[float, float, str], other: float, told: str
) -> None:
    expects = (Expects("A", "x", 0.9, other, other, healthy[2]),)
    assert sound(replace(ADVICE, healthy=healthy, expects=expects)) == told


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [
        (7.7e-3, 1.04, "6 V range, lower if it fits:"),  # 8.1 mV is read to 0.1 mV on 600 mV
        (0.99, 1.6, "6 V range:"),
        (7.3, 7.6, "60 V range:"),
    ],
)
def test_what_may_be_small_is_read_on_a_lower_range(
    loop: Loop, low: float, high: float, told: str
) -> None:
    wanted = Measurement("V", ("X21:7", "X20:0"))
    assert told in instruction(wanted, loop, high, low)
    assert "lower" not in instruction(replace(wanted, function="mA"), loop, 12e-3, 1e-3)


def test_a_point_that_may_have_nothing_asks_for_no_lower_range() -> None:
    """A break leaves millivolts of either sign: nothing, on any range."""
    broken = Expects("A1", "open", 0.06, -26e-3, 30e-3, "V")
    some = replace(ADVICE, healthy=(18.0, 22.9, "V"), expects=(broken,))
    assert least(some) == 22.9
    small = replace(broken, low=7.7e-3, high=8.5e-3)
    assert least(replace(some, expects=(broken, small))) == 8.5e-3


def test_a_sound_loop_that_stands_in_one_of_two_ways_is_told_both() -> None:
    """On 18 to 52 mV, off 24 V, and never 17 V; the range of the meter is chosen for both."""
    both = replace(ADVICE, healthy=(18e-3, 52e-3, "V"), healthy_else=(23.5, 24.4, "V"))
    assert sound(both) == "A sound loop would show 18.0 to 52.0 mV, or 23.50 to 24.40 V."
    assert largest(both) == 24.4


@pytest.mark.parametrize(
    ("low", "median", "high", "told"),
    [
        (8_100, 9_900, 12_300, "about 9.9 kohm"),  # known to a fifth: two digits say all
        (1_240, 1_260, 1_280, "about 1.26 kohm"),
        (297.9, 298.3, 298.7, "about 298.3 ohm"),
        (100, 6_300, 300_000, ""),
    ],
)
def test_a_size_has_no_more_digits_than_are_known(
    low: float, median: float, high: float, told: str
) -> None:
    assert about(Size("resistance", "ohm", median, low, high)) == told


def test_a_size_of_which_nothing_is_known_has_no_middle(loop: Loop) -> None:
    vague = ranked("I.W3", "leakage", 0.9, 1, size=Size("resistance", "ohm", 6e3, 100, 3e5))
    shown = " ".join(text(ranking(vague), loop).split())
    assert "resistance not narrowed down yet: 100.0 ohm to 300.0 kohm" in shown


def test_a_blown_meter_fuse_is_named(loop: Loop) -> None:
    """0 mA beside a live signal (reference F 13): the engine's reason is shown."""
    slip = Suspect(2, "mA X21:4 0.00", 0.99, "meter fuse blown, or a lead in the wrong jack?")
    shown = " ".join(text(replace(OPEN, suspects=(slip,)), loop).split())
    assert "(99 %). Meter fuse blown, or a lead in the wrong jack? Then take it again." in shown


def test_a_meter_that_a_short_may_blow_is_not_asked_for_in_series_again(loop: Loop) -> None:
    slip = Suspect(2, "mA X61:1 X61:2 0", 0.78, "meter fuse blown? Test the fuse first", once=True)
    shown = " ".join(text(replace(OPEN, suspects=(slip,)), loop).split())
    assert "Test the fuse first. Do not put the meter in series again: a short may be" in shown
    assert "ake it again" not in shown


def test_outcomes_of_a_lamp_are_states() -> None:
    lamp = [Expects("A", "x", 0.5, p, p, "lit") for p in (0.99, 0.98, 0.01)]
    assert [(item.seen, len(item.means)) for item in meanings(lamp)] == [("lit", 2), ("dark", 1)]


def test_what_is_typed_has_its_gap_before_the_condition() -> None:
    assert typed("ohm A B with supply off") == "ohm A B ... with supply off"
    assert typed("LIC-214") == "LIC-214 ..."


def test_a_series_meter_is_put_in_and_taken_out(loop: Loop) -> None:
    shown = " ".join(text(replace(OPEN, next=(SERIES,)), loop).split())
    assert "open between X21:3 and X21:4 and put the meter in" in shown
    assert "It opens the loop: the signal is lost meanwhile" in shown
    assert "weighed as 15 minutes more" in " ".join(shown.split())


@pytest.mark.parametrize("function", ["V", "Vlow", "VAC", "mA", "ohm", "clamp", "shows", "process"])
def test_each_function_has_an_instruction(function: str, loop: Loop) -> None:
    points = {"clamp": ("W3+",), "shows": ("LIC-214",), "process": ()}
    measurement = Measurement(function, points.get(function, ("X21:7", "X20:0")))
    advice = replace(ADVICE, measurement=measurement)
    assert "  Do: " in text(replace(OPEN, next=(advice,)), loop)


def test_a_clamp_goes_round_one_core_and_has_no_zero_for_alternating_current(loop: Loop) -> None:
    """Round both cores it reads nothing: there and back cancel (common practice, no source)."""
    direct = instruction(Measurement("clamp", ("W3+",)), loop, 20e-3)
    assert direct.startswith("zero the clamp, then close it round W3+ (")
    assert direct.endswith("and no other core")
    mains = instruction(Measurement("clamp", ("W61L",)), open_plant().load("XV-222"), 35e-3)
    assert mains.startswith("set the clamp to AC, then close it round W61L (")


def test_the_range_is_that_of_what_is_likely(loop: Loop) -> None:
    """4.4 V fit a range of 6 V; a one-in-a-hundred fault that shows 9 V does not make it 60 V."""
    expects = (Expects("A", "x", 0.9, 3.0, 4.4, "V"), Expects("B", "x", 0.01, 4.0, 9.0, "V"))
    advice = replace(ADVICE, expects=expects)
    assert "6 V range" in " ".join(text(replace(OPEN, next=(advice,)), loop).split())


def test_two_alternatives_are_one_line_each(loop: Loop) -> None:
    lines = list(alternatives([SERIES, ADVICE], Look(100), loop))
    assert len(lines) == 2
    assert all(line.startswith("Or: ") for line in lines)


def test_when_it_is_found_the_remedy_and_the_proof_follow(loop: Loop) -> None:
    shown = " ".join(text(DONE, loop).split())
    assert "1. R1 drift (sense resistor), 98 %, marshalling cabinet 2, 15 minutes: meas" in shown
    assert "Proof of the repair: V X21:7 X20:0 with LT-214 driven 12 mA: 2.990 to 3.010 V" in shown


@pytest.mark.parametrize(
    ("part", "fault", "how"),
    [
        ("T1", "blocked", "as it runs, against what is known of the process"),
        ("LAHH-214", "set point wrong", "by the site's proof test of the trip, under its bypass"),
    ],
)
def test_a_proof_that_drives_past_a_repair_says_so(
    loop: Loop, part: str, fault: str, how: str
) -> None:
    """A driven transmitter says nothing of its impulse line, nor volts of a set point."""
    past = Remedy(part, fault, "put it right", "transmitter", 0.98, 60.0)
    one = replace(DONE, remedy=(past,), unseen=((part, fault),))
    shown = " ".join(text(one, loop).split())
    assert "Proof of the loop: V X21:7" in shown
    assert f"It would not show {part} {fault}: prove that {how}" in shown
    both = replace(one, remedy=(past, *DONE.remedy))
    assert "Proof of the repair: V X21:7" in text(both, loop).replace("\n     ", " ")
    assert "It would not show" not in text(DONE, loop)


def test_a_sound_loop_has_nothing_to_prove(loop: Loop) -> None:
    sound = replace(DONE, hypotheses=(ranked(None, "none", 0.97, 1),), remedy=(), sound=0.97)
    assert "Proof of the repair" not in text(sound, loop)


def test_when_it_is_found_a_further_reading_is_only_offered(loop: Loop) -> None:
    shown = text(replace(DONE, next=(ADVICE,)), loop)
    assert "To be surer: V X21:7 X20:0 with LT-214 driven 4 mA" in shown
    assert "Next:" not in shown


# -- every screen


@pytest.mark.parametrize("width", [40, 60, 80, 100])
@pytest.mark.parametrize("answer", [OPEN, DONE], ids=["open", "done"])
def test_lines_fit_the_screen_and_are_ascii(width: int, answer: Ranking, loop: Loop) -> None:
    shown = text(answer, loop, Look(width))
    assert shown.isascii()
    assert max(map(len, shown.splitlines())) <= max(width, 60)


def test_colour_adds_no_words(loop: Loop) -> None:
    """Meaning never rests on colour: without its codes the coloured screen is the plain one."""
    import re

    coloured = text(OPEN, loop, Look(80, colour=True))
    assert "\033[" in coloured
    assert re.sub(r"\033\[\d+m", "", coloured) == text(OPEN, loop)


@pytest.mark.parametrize(
    ("tag", "where"),
    [
        ("LT-214", "the process or its connection"),
        ("LV-214", "what it drives or what commands it (air, valve, controller)"),
        ("LIC-214", "(air, valve, controller), or the process or its connection"),
    ],
)
def test_what_lies_beyond_the_wires(tag: str, where: str) -> None:
    """An output has no process connection, a control loop has both ends."""
    loop = open_plant().load(tag)
    sound = ranking(ranked("T1", "blocked", 0.6, 1), ranked(None, "none", 0.36, 2))
    assert verdict(sound, loop).endswith(f"{where}.")


@pytest.mark.parametrize(
    ("part", "told"),
    [
        ("RL1", "see how RL1 (trip relay, flag of the relay) is: pulled in or dropped out"),
        ("H1", "see, or ask by radio, how H1 (trip lamp on the panel) is: lit or dark"),
        ("H2", "is: sounds or silent, as it was before anybody silenced it"),
        ("LIC-214", "read, or ask by radio, what LIC-214 (indicator on the same bus) shows"),
    ],
)
def test_what_to_look_at(part: str, told: str) -> None:
    loop = open_plant().load("LAHH-214")
    assert instruction(Measurement("shows", (part,)), loop, 1.0).endswith(told)


@pytest.mark.parametrize(
    ("fault", "size", "told"),
    [
        ("stuck", Size("travel", "1", 0.398, 0.397, 0.399), "LV-214 stuck, travel about 39.8 %"),
        ("span error", Size("span error", "1", 0.1, 0.0999, 0.1001), "span error, about 10.0 %"),
        ("open", Size("resistance", "ohm", 310.0, 309.0, 311.0), "open, about 310.0 ohm"),
    ],
)
def test_a_share_says_of_what_it_is(fault: str, size: Size, told: str) -> None:
    lead = replace(ranked("LV-214", fault, 0.9, 1), size=size)
    loop = open_plant().load("LV-214")
    assert told in row_name(rows(ranking(lead))[0], loop, 200).replace(
        " (control valve, stem position)", ""
    )


@pytest.mark.parametrize("room", [60, 80])
def test_what_is_expected_of_a_control_loop_fits_the_screen(room: int) -> None:
    """Long words for the states of a relay do not push the numbers off the edge."""
    loop = open_plant().load("LIC-214")
    found = expected_table(loop, GENERIC, usual(loop), ())
    lines = list(expected(found, loop, Look(room)))
    assert max(map(len, lines)) <= room
    text = "\n".join(lines)
    assert "RL1       pulled in  pulled in" in text
    assert ("0.999 V" in text) == (room == 60)  # apart from its column a unit stands with its value


def test_a_lead_without_a_majority_is_no_verdict(loop: Loop) -> None:
    """Each of four equal leaks is less than what is not modelled; all of them together are not."""
    parts = ("I.LT-214", "I.W4", "I.W3", "I.JB9")
    leaks = [ranked(part, "leakage", 0.15, n) for n, part in enumerate(parts, 1)]
    assert verdict(ranking(*leaks, unexplained=0.16), loop).startswith(
        "Most likely: leakage (60 %)"
    )
    few = ranking(*leaks[:2], ranked(None, "none", 0.1, 5), unexplained=0.4)
    assert verdict(few, loop) == (
        "Not decided yet; first among several: none of the modelled faults (40 %): retake the "
        "readings, and compare the sheet with the wiring."
    )


def test_a_little_that_is_not_modelled_is_no_answer(loop: Loop) -> None:
    """Of many that are as likely, it is asked for none of them to take a first reading again."""
    some = [ranked(f"W{n}", "open" if n % 2 else "short", 0.09, n) for n in range(1, 10)]
    said = verdict(ranking(*some, unexplained=0.14), loop)
    assert said.startswith("Not decided yet; first among several: W1 open")


def test_a_fault_that_may_hide_is_told_beside_the_remedy(loop: Loop) -> None:
    """From a chance of 5 % on; the words stand before the proof that shows it."""
    told = flat(text(replace(DONE, behind=0.09), loop))
    assert 0 < told.index("a further fault may hide (9 %)") < told.index("Proof of the repair")
    assert "hide" not in text(replace(DONE, behind=0.04), loop)
