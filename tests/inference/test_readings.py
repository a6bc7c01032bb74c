"""The one-line grammar of readings: what is understood, what reads back, what is offered."""

from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from diagnose.errors import DiagnoseError, ReadingError
from diagnose.inference.conditions import exact
from diagnose.inference.measurement import (
    COMPLAINTS,
    CONTEXTS,
    Applied,
    Complaint,
    Context,
    Jumper,
    Measurement,
    Reading,
    normal_condition,
)
from diagnose.inference.reading_text import shown_text
from diagnose.inference.reading_words import (
    ACTION_WORDS,
    COMPLAINT_WORDS,
    CONTEXT_WORDS,
    FUNCTION_WORDS,
    FUNCTIONS,
)
from diagnose.inference.readings import (
    LONGEST,
    ReadingsError,
    describe,
    parse_line,
    parse_lines,
    parse_measurement,
    suggest,
)
from diagnose.loops.kind import Kind
from diagnose.loops.plant import open_plant
from small_loop import LOOP, PARTS, POINTS

OFF = (Applied("G1", "off"),)
SENSE = ("X21:7", "X20:0")


def reading(text: str) -> Reading:
    found = parse_line(text, LOOP)
    assert isinstance(found, Reading)
    return found


# Values by hand: 900 mm of 0 to 1800 mm is 50 %; the middle of 2.8 and 3.1 is 2.95.
@pytest.mark.parametrize(
    ("text", "function", "points", "sort", "value", "spread"),
    [
        ("V X21:7 X20:0 3.02", "V", SENSE, "value", 3.02, 0),
        ("V X21:7 3.02", "V", SENSE, "value", 3.02, 0),
        ("v x21:7  x20:0   3,02v", "V", SENSE, "value", 3.02, 0),
        ("V X21 : 7, X20 : 0 = 3.02 V DC", "V", SENSE, "value", 3.02, 0),
        ("volts X21:7 X20:0 3020 mV", "V", SENSE, "value", 3.02, 0),
        ("V X20:0 X21:7 \u22123.02", "V", ("X20:0", "X21:7"), "value", -3.02, 0),
        ("V X21:4 earth 24.1", "V", ("X21:4", "PE"), "value", 24.1, 0),
        ("Vlow JB9:1 JB9:2 16.3", "Vlow", ("JB9:1", "JB9:2"), "value", 16.3, 0),
        ("VAC X21:7 X20:0 88 mV", "VAC", SENSE, "value", 0.088, 0),
        ("V X21:7 2.8..3.1 V", "V", SENSE, "span", 2.95, 0.15),
        ("V X21:7 2.8-3.1 V", "V", SENSE, "span", 2.95, 0.15),
        ("V X21:7 2.8 V - 3.1 V", "V", SENSE, "span", 2.95, 0.15),
        ("V X21:7 2.8 to 3.1", "V", SENSE, "span", 2.95, 0.15),
        ("V X21:7 3.1..2.8", "V", SENSE, "span", 2.95, 0.15),
        ("V X21:7 2,8..3,1", "V", SENSE, "span", 2.95, 0.15),
        ("V X21:7 2800..3100 mV", "V", SENSE, "span", 2.95, 0.15),
        ("V X21:7 -0.1..0.1", "V", SENSE, "span", 0.0, 0.1),
        ("V X21:7 X20:0 not possible", "V", SENSE, "impossible", 0, 0),
        ("V X21:7 X20:0 Impossible", "V", SENSE, "impossible", 0, 0),
        ("V X21:7 1e-3", "V", SENSE, "value", 0.001, 0),
        ("mA X21:4 8.03", "mA", ("X21:3", "X21:4"), "value", 0.00803, 0),
        ("mA X21:4 8.03 mA", "mA", ("X21:3", "X21:4"), "value", 0.00803, 0),
        ("MA X21:4 8.03 MA", "mA", ("X21:3", "X21:4"), "value", 0.00803, 0),
        ("mA X21:3 X21:4 8.03", "mA", ("X21:3", "X21:4"), "value", 0.00803, 0),
        ("mA X21:4 X21:3 -8.03", "mA", ("X21:4", "X21:3"), "value", -0.00803, 0),
        ("mA X21:3-4 8.03", "mA", ("X21:3", "X21:4"), "value", 0.00803, 0),
        ("mA lk1 8.03", "mA", ("X21:3", "X21:4"), "value", 0.00803, 0),
        ("mA F1 0.00803 A", "mA", ("X20:1", "X21:1"), "value", 0.00803, 0),
        ("mA JB9:1 8.03", "mA", ("JB9:1", "W4+.1"), "value", 0.00803, 0),
        ("clamp W3+ 8.0", "clamp", ("W3+",), "value", 0.008, 0),
        ("ohm JB9:1 JB9:2 1.2k with supply off", "ohm", ("JB9:1", "JB9:2"), "value", 1200, 0),
        ("ohm JB9:1 JB9:2 4k7 with G1 off", "ohm", ("JB9:1", "JB9:2"), "value", 4700, 0),
        ("ohm JB9:1 JB9:2 250R with power off", "ohm", ("JB9:1", "JB9:2"), "value", 250, 0),
        ("ohm JB9:1 JB9:2 85\u03a9 with supply down", "ohm", ("JB9:1", "JB9:2"), "value", 85, 0),
        ("\u03a9 JB9:1 JB9:2 85 with supply off", "ohm", ("JB9:1", "JB9:2"), "value", 85, 0),
        ("ohm JB9:1 JB9:2 OL with supply off", "ohm", ("JB9:1", "JB9:2"), "overload", 0, 0),
        ("ohm JB9:1 JB9:2 o.l. with supply off", "ohm", ("JB9:1", "JB9:2"), "overload", 0, 0),
        ("ohm JB9:1 JB9:2 not possible", "ohm", ("JB9:1", "JB9:2"), "impossible", 0, 0),
        ("LIC-214 62 %", "shows", ("LIC-214",), "value", 0.62, 0),
        ("lic-214 reads 62", "shows", ("LIC-214",), "value", 0.62, 0),
        ("shows LIC-214 62%", "shows", ("LIC-214",), "value", 0.62, 0),
        ("LIC-214 60..64 %", "shows", ("LIC-214",), "span", 0.62, 0.02),
        ("LIC-214 -3 %", "shows", ("LIC-214",), "value", -0.03, 0),
        ("LAHH-214 lit", "shows", ("LAHH-214",), "lit", 0, 0),
        ("LAHH-214 is DARK", "shows", ("LAHH-214",), "dark", 0, 0),
        ("LG-214 900 mm", "shows", ("LG-214",), "value", 0.5, 0),
        ("LG-214 0,9 m", "shows", ("LG-214",), "value", 0.5, 0),
        ("LG-214 90 cm", "shows", ("LG-214",), "value", 0.5, 0),
        ("LT-214 50 %", "shows", ("LT-214",), "value", 0.5, 0),
        ("process 45 % +- 3 %", "process", (), "value", 0.45, 0.03),
        ("process 45 \u00b1 3", "process", (), "value", 0.45, 0.03),
        ("process about 45% +/- 3%", "process", (), "value", 0.45, 0.03),
        ("process 810 mm +- 18 mm", "process", (), "value", 0.45, 0.01),
        ("process 45 %", "process", (), "value", 0.45, 0),
        ("process 40..50 %", "process", (), "span", 0.45, 0.05),
    ],
)  # fmt: skip
def test_a_line_is_understood(
    text: str, function: str, points: tuple[str, ...], sort: str, value: float, spread: float
) -> None:
    found = reading(text)
    assert (found.measurement.function, found.measurement.points) == (function, points)
    assert (found.sort, found.text) == (sort, text)
    assert (found.value, found.spread) == pytest.approx((value, spread), abs=1e-12)
    assert found.measurement.condition == (OFF if function == "ohm" else ())


@pytest.mark.parametrize(
    ("text", "condition"),
    [
        ("supply off", OFF),
        ("G1 is off", OFF),
        ("LT-214 driven 12 mA", (Applied("LT-214", "driven", 0.012),)),
        ("lt-214 at 12 ma", (Applied("LT-214", "driven", 0.012),)),
        ("LT-214 driven at 12,5 mA", (Applied("LT-214", "driven", 0.0125),)),
        ("LT-214 made to drive 12", (Applied("LT-214", "driven", 0.012),)),
        ("transmitter driven 4 mA", (Applied("LT-214", "driven", 0.004),)),
        ("LT-214 replaced 12 mA", (Applied("LT-214", "replaced", 0.012),)),
        ("LT-214 equalised", (Applied("LT-214", "equalised"),)),
        ("LT-214 equalized", (Applied("LT-214", "equalised"),)),
        ("X21:4 lifted", (Applied("T4", "lifted"),)),
        ("lifted x21:4", (Applied("T4", "lifted"),)),
        ("X21:4 disconnected", None),
        ("X21:3-4 open", (Applied("LK1", "open"),)),
        ("X21:3-X21:4 opened", (Applied("LK1", "open"),)),
        ("LK1 open", (Applied("LK1", "open"),)),
        ("fuse out", (Applied("F1", "out"),)),
        ("F1 pulled", (Applied("F1", "out"),)),
        ("jumper X21:4 X21:5", (Jumper("X21:4", "X21:5"),)),
        ("jumper x21:5 to x21:4", (Jumper("X21:4", "X21:5"),)),
        ("supply off and T4 lifted", (*OFF, Applied("T4", "lifted"))),
        ("T4 lifted, supply off", (*OFF, Applied("T4", "lifted"))),
        ("LT-214 at 12, T4 lifted", (Applied("LT-214", "driven", 0.012), Applied("T4", "lifted"))),
        ("supply off and supply off", OFF),
    ],
)
def test_a_condition_is_understood(
    text: str, condition: tuple[Applied | Jumper, ...] | None
) -> None:
    line = f"V X21:7 X20:0 3.0 with {text}"
    if condition is None:
        with pytest.raises(ReadingError, match="LK1 open or T4 lifted: name one"):
            parse_line(line, LOOP)
    else:
        assert reading(line).measurement.condition == condition


@pytest.mark.parametrize(
    ("text", "fact"),
    [
        ("complaint reads low", Complaint("reads low", "complaint reads low")),
        ("Complaint: stuck since noon", Complaint("frozen", "Complaint: stuck since noon")),
        ("complaint LIC-214 is noisy", Complaint("erratic", "complaint LIC-214 is noisy")),
        ("complaint trip came in", Complaint("tripped", "complaint trip came in")),
        ("complaint no trip", Complaint("no trip", "complaint no trip")),
        ("reads high", Complaint("reads high", "reads high")),
        ("context rain", Context("rain", "context rain")),
        ("context recent work", Context("work", "context recent work")),
        ("context thunder all night", Context("lightning", "context thunder all night")),
        ("WET", Context("rain", "WET")),
    ],
)
def test_complaints_and_contexts(text: str, fact: Complaint | Context) -> None:
    assert parse_line(text, LOOP) == fact


@pytest.mark.parametrize(
    ("opens", "said", "name"),
    [
        (1.0, "complaint stays open", "stays on"),
        (1.0, "does not open", "stays off"),
        (-1.0, "complaint stays open", "stays off"),
        (-1.0, "complaint does not close tonight", "stays off"),
        (-1.0, "stays closed", "stays on"),
        (-1.0, "does not open", "stays on"),
        (-1.0, "complaint does not switch off", "stays on"),
    ],
)
def test_a_valve_that_air_shuts_is_open_with_its_output_off(
    opens: float, said: str, name: str
) -> None:
    """What stays on is the output; a spring opens the valve where air shuts it (arithmetic)."""
    loop = open_plant().load("XV-221")
    valve = replace(loop.part("XV-221"), values={**loop.part("XV-221").values, "opens": opens})
    parts = tuple(valve if part.name == valve.name else part for part in loop.parts)
    assert parse_line(said, replace(loop, parts=parts)) == Complaint(name, said)


def test_every_synonym_leads_to_a_known_word() -> None:
    for table, names in ((COMPLAINT_WORDS, COMPLAINTS), (CONTEXT_WORDS, CONTEXTS)):
        assert set(table.values()) == set(names)
    assert set(FUNCTION_WORDS.values()) == set(FUNCTIONS)
    actions = {action.name for kind in Kind.registry.values() for action in kind.actions}
    assert {name for names in ACTION_WORDS.values() for name in names} <= actions


def test_conditions_have_one_form() -> None:
    items = [Jumper("b", "a"), Applied("Z", "off"), Applied("A", "off"), Jumper("a", "b")]
    assert normal_condition(items) == (Applied("A", "off"), Applied("Z", "off"), Jumper("a", "b"))


def test_lines_are_read_together() -> None:
    text = "# first look\ncomplaint reads low\n\nLIC-214 31 %\nV X21:7 2.2\n"
    found = parse_lines(text, LOOP)
    assert [type(item) for item in found] == [Complaint, Reading, Reading]
    assert parse_lines(["LIC-214 31 %"], LOOP) == [parse_line("LIC-214 31 %", LOOP)]


def test_all_wrong_lines_are_told_with_their_numbers() -> None:
    with pytest.raises(ReadingsError) as caught:
        parse_lines("V X21:7 3\nV X99:7 3\n\nLAHH-214 7", LOOP)
    assert [number for number, _ in caught.value.problems] == [2, 4]
    first, second = str(caught.value).splitlines()
    assert first.startswith("line 2: 'V X99:7 3': no point called 'X99:7'")
    assert second == "line 4: 'LAHH-214 7': LAHH-214 is 'lit' or 'dark', and '7' is neither"


NODES = [name for names in POINTS.values() for name in names.split()] + ["PE"]
PAIRS = st.permutations(NODES).map(lambda names: tuple(names[:2]))
OPENABLE = [tuple(part.pins.values()) for part in PARTS if part.kind.opens_at]
STATES = st.builds(
    lambda applied, jumpers: normal_condition([*applied, *(Jumper(*pair) for pair in jumpers)]),
    st.lists(
        st.sampled_from(["T4 lifted", "LK2 open", "F1 out", "G1 off"]).map(
            lambda text: Applied(*text.split())
        )
        | st.builds(
            Applied,
            st.just("LT-214"),
            st.just("driven"),
            st.integers(0, 3000).map(lambda n: float(f"{n}e-5")),
        ),
        max_size=3,
        unique_by=lambda item: item.part,
    ),
    st.lists(PAIRS, max_size=2),
)
WHERE = st.one_of(
    st.tuples(st.sampled_from(["V", "Vlow", "VAC"]), PAIRS),
    st.tuples(st.just("mA"), st.sampled_from([*OPENABLE, *(pair[::-1] for pair in OPENABLE)])),
    st.tuples(st.just("clamp"), st.sampled_from([("W3+",), ("R1",), ("LT-214",)])),
    st.tuples(st.just("shows"), st.sampled_from([("LIC-214",), ("LG-214",), ("LT-214",)])),
    st.tuples(st.just("process"), st.just(())),
)
LIVE = st.builds(lambda where, state: Measurement(*where, state), WHERE, STATES)
DEAD = st.builds(
    lambda pair, state: Measurement("ohm", pair, normal_condition([*OFF, *state])), PAIRS, STATES
)
MEASUREMENTS = LIVE | DEAD


@given(MEASUREMENTS)
def test_a_described_measurement_reads_back(measurement: Measurement) -> None:
    assert parse_measurement(describe(measurement, LOOP), LOOP) == measurement


@given(
    measurement=MEASUREMENTS,
    sort=st.sampled_from(["value", "span", "impossible"]),
    value=st.floats(0.02, 1.0),
    spread=st.floats(1e-4, 0.01),
)
def test_a_described_reading_reads_back(
    measurement: Measurement, sort: str, value: float, spread: float
) -> None:
    scale = {"mA": 0.02, "clamp": 0.02}.get(measurement.function, 1.0)
    given_ = {
        "value": (value * scale, spread if measurement.function == "process" else 0.0),
        "span": (value * scale, spread * scale),
    }.get(sort, (0.0, 0.0))
    said = Reading(measurement, sort, *given_)
    back = reading(describe(said, LOOP))
    assert replace(back, value=0, spread=0, text="") == replace(said, value=0, spread=0)
    assert (back.value, back.spread) == pytest.approx((said.value, said.spread), rel=1e-6)


def test_words_for_values_read_back() -> None:
    for text in ("ohm JB9:1 JB9:2 OL with G1 off", "LAHH-214 lit", "LAHH-214 dark",
                 "V X21:7 X20:0 not possible", "mA X21:3 X21:4 8.03 mA", "mA T4 8 mA",
                 "V X21:7 X20:0 2.8 V..3.1 V", "process 45 % +- 3 %", "LIC-214 62 %",
                 "V X21:7 X20:0 3 V with LT-214 driven 12 mA and jumper X21:4 X21:5"):  # fmt: skip
        assert describe(reading(text), LOOP) == text


def test_exact_values_are_in_the_units_of_the_front_panel() -> None:
    assert exact(0.00803, "A") == "8.03 mA"
    assert exact(0.62, "1") == "62 %"
    assert exact(-0.0, "V") == "0 V"


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("", ["V", "Vlow", "VAC", "mA", "clamp", "ohm", "LT-214"]),
        ("v", ["V", "Vlow", "VAC"]),
        ("LAHH", ["LAHH-214"]),
        ("214", ["LT-214", "LIC-214", "LAHH-214", "LG-214"]),
        ("V ", ["X20:0", "X20:1", "X21:1"]),
        ("V jb", ["JB9:1", "JB9:2"]),
        ("V X21:7 X20", ["X20:0", "X20:1"]),
        ("V X21:7 X20:0 3 ", ["V", "mV", "with"]),
        ("V X21:7 X20:0 3 V w", ["with"]),
        ("ohm JB9:1 JB9:2 ", ["OL", "not possible"]),
        ("mA ", ["X20:1", "X21:1", "X21:3"]),
        ("clamp W", ["W3+", "W4+", "W4-", "W3-"]),
        ("shows LAHH-214 ", ["lit", "dark"]),
        ("LAHH-214 ", ["lit", "dark"]),
        ("LG-214 900 ", ["%", "mm", "with"]),
        ("process 45 ", ["%", "mm", "+-", "with"]),
        ("complaint ", ["reads low", "reads high", "reads zero", "frozen"]),
        ("complaint reads ", ["low", "high", "zero"]),
        ("context sh", ["shared supply"]),
        ("V X21:7 3 with ", ["supply", "G1", "F1"]),
        ("V X21:7 3 with LT-214 ", ["driven", "replaced", "equalised"]),
        ("V X21:7 3 with LT-214 driven ", ["12 mA"]),
        ("V X21:7 3 with LT-214 driven 12 mA ", ["and"]),
        ("V X21:7 3 with supply off and X21:4 ", ["open", "lifted"]),
        ("V X21:7 3 with jumper X21:4 X21:5", ["X21:5"]),
        ("V X21:7 3 with jumper X21:4 X21:5 ", ["and"]),
        ("nonsense ", []),
    ],
)
def test_completion_offers_what_may_follow(text: str, first: list[str]) -> None:
    assert suggest(text, LOOP)[: max(1, len(first))] == first


WORDS = st.sampled_from(
    [*FUNCTION_WORDS, *NODES, *(part.name for part in PARTS), *COMPLAINT_WORDS, *CONTEXT_WORDS,
     *ACTION_WORDS, "with", "and", "jumper", "complaint", "context", "12", "3.02", "3,02", "1,234",
     "mA", "V", "%", "mm", "kohm", "..", "-", "+-", "OL", "lit", "not possible", "supply", "off",
     "lifted", "driven", "=", ",", ":", "", "nan", "1e999", "9**9**9**9", "\x1b[2J", "\u221e"]
)  # fmt: skip


@given(st.text(max_size=80) | st.lists(WORDS, max_size=9).map(" ".join))
@example("9**9**9**9")
@example("V X21:7 X20:0 9**9**9**9")
@example("__import__('os').system('x')")
@example("V X21:7 X20:0 NaN")
@example("V X21:7 X20:0 -Infinity")
@example("V X21:7 X20:0 1e999")
@example("V X21:7 X20:0 3\x00")
@example("V ../../etc/passwd 3")
@example("V X21:7 X20:0 " + "1" * 10_000)
@example("with " * 2_000)
@example("V " * 60 + "3")
@example("\ud800")
def test_any_line_is_understood_or_refused_in_one_line(text: str) -> None:
    try:
        found = parse_line(text, LOOP)
    except ReadingError as error:
        assert str(error).isprintable()
        assert len(str(error)) < 400
    else:
        assert isinstance(found, Reading | Complaint | Context)
        assert len(text) <= LONGEST
    assert all(isinstance(word, str) for word in suggest(text, LOOP))
    with pytest.raises(DiagnoseError):
        parse_measurement(text + " \x00 ", LOOP)


@pytest.mark.parametrize(
    "line", ["V X21:7 X20:0 {}", "mA X21:3 {}", "ohm X21:5 X21:7 {} with supply off", "LIC-214 {}"]
)
@pytest.mark.parametrize("bare", ["0", "1"])
def test_a_bare_nought_or_one_is_a_number(line: str, bare: str) -> None:
    """They are words for the command of an on-off output, and the commonest dead reading."""
    found = parse_line(line.format(bare), LOOP)
    same = parse_line(line.format(f"{bare}.0"), LOOP)
    assert isinstance(found, Reading)
    assert isinstance(same, Reading)
    assert found.sort == "value"
    assert found.value == same.value


@pytest.mark.parametrize(
    ("line", "shown"),
    [
        ("V X21:7 X20:0 142.8 mV", "142.8 mV"),
        ("V X21:7 X20:0 0.1428", "142.8 mV"),
        ("V X21:7 X20:0 -3.02", "-3.02 V"),
        ("V X21:7 X20:0 0", "0 V"),
        ("ohm X21:7 X20:0 1234 with supply off", "1.234 kohm"),
        ("ohm X21:7 X20:0 OL with supply off", "OL"),
        ("V X21:7 X20:0 142..143 mV", "0.142 V..0.143 V"),
    ],
)
def test_what_was_read_stands_in_the_unit_of_what_is_due(line: str, shown: str) -> None:
    """``due 118.0 mV read 0.1428 V`` is compared by nobody at a glance."""
    found = parse_line(line, LOOP)
    assert isinstance(found, Reading)
    assert shown_text(found, LOOP) == shown


@pytest.mark.parametrize(
    ("tag", "line", "points"),
    [
        ("LT-214", "mA G1:+", ("G1:+", "X20:1")),
        ("LT-214", "mA LT-214:+", ("W4+.2", "LT-214:+")),
        ("LT-214", "mA X21:1", ("X20:1", "X21:1")),
        ("FV-118", "mA K1:+", ("K1:+", "X41:1")),
        ("FV-118", "mA K1+.X41", ("K1:+", "X41:1")),
        ("FV-118", "mA X41:1 K1:+", ("X41:1", "K1:+")),  # both leads are told: as they are
        ("TT-131", "mA X31:3", ("W31C.2", "X31:3")),  # the excitation comes back over C
        ("XV-222", "mA G1:L", ("X60:1", "G1:L")),  # mains has no direction: as the pins are
    ],
)
def test_a_current_at_one_point_counts_the_way_it_flows(
    tag: str, line: str, points: tuple[str, str]
) -> None:
    """From plus through the loop to minus.  12.4 mA at ``LT-214:+`` was held for swapped leads."""
    assert parse_measurement(line, open_plant().load(tag)).points == points


@pytest.mark.parametrize(
    ("tag", "line", "told"),
    [
        ("ZS-221", "high", ("'reads high'", "erratic, stays on, stays off", "lit or dark")),
        ("LIC-214", "stays on", ("'stays on'", "tripped, no trip", "pulled in or dropped out")),
        ("PDT-330", "tripped", ("'tripped'", "reads low", "disagree")),
    ],
)
def test_a_complaint_without_its_word_is_one_of_the_loop(
    tag: str, line: str, told: tuple[str, ...]
) -> None:
    """``high`` of a switch is meant for its state; with the word it reads, as logged cases do."""
    loop = open_plant().load(tag)
    with pytest.raises(ReadingError) as refused:
        parse_line(line, loop)
    assert all(words in str(refused.value) for words in told)
    assert isinstance(parse_line(f"complaint {line}", loop), Complaint)
    assert isinstance(parse_line("erratic", loop), Complaint)
