"""The loop drawn in rows: every terminal once, what is due, what was read, where they part.

What is due is judged by Ohm's law on the sheet's own values: 4-20 mA through 250 ohm, 300 ohm and
24 V.
"""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from math import inf
from pathlib import Path

import pytest

from diagnose.casework.hunt import Hunt
from diagnose.casework.log import CaseFile
from diagnose.circuit.predictor import Predictor
from diagnose.circuit.store import topology
from diagnose.circuit.strands import strands
from diagnose.inference.due import AS_DUE, HIGH, LOW, OTHER, Basis, Due, basis, due, verdict
from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.meters import GENERIC
from diagnose.inference.observe import Observer
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_line, parse_lines
from diagnose.loops.loop import EARTH, Loop
from diagnose.loops.plant import open_plant
from diagnose.terminal.loop_picture import Picture, Pictures
from diagnose.terminal.loop_rows import PART, PARTS_HERE, POINT, Facts, Row, focus, loop_rows
from diagnose.terminal.outcome import Look
from diagnose.terminal.render_loop import due_text, heading, loop_lines
from terminal.answers import OPEN
from terminal.session_stand import Answers

PLANT = open_plant()
WIDTHS = (40, 57, 80, 100)
SUSPECTS = replace(OPEN, suspects=())


@cache
def loop_of(tag: str) -> Loop:
    return PLANT.load(tag)


@cache
def observer_of(tag: str) -> Observer:
    return Observer(Predictor(loop_of(tag)), GENERIC)


@pytest.fixture
def hunt(tmp_path: Path) -> Iterator[Hunt]:
    loop = loop_of("LT-214")
    file = CaseFile.create(tmp_path, loop)
    yield Hunt(file, loop, lambda: Answers(OPEN, loop), "cabinet")  # type: ignore[arg-type]
    file.close()


def drawn(hunt: Hunt, *lines: str, ranking: Ranking = SUSPECTS, width: int = 80) -> list[str]:
    for line in lines:
        hunt.take(line)
    picture = picture_of(hunt, ranking)
    return [picture.title, *loop_lines(picture.rows, hunt.loop, Look(width))]


def picture_of(hunt: Hunt, ranking: Ranking = SUSPECTS) -> Picture:
    return Pictures(hunt.loop).draw(hunt, ranking, Measurement("V", ("X21:7", "X20:0")))


def row_of(lines: list[str], name: str) -> str:
    return next(line for line in lines if f" o {name} " in f"{line} " or f"| {name} " in f"{line} ")


# -- what is due


def at(tag: str, *lines: str) -> Basis:
    return basis(parse_lines(lines, loop_of(tag)), loop_of(tag))


def test_the_process_is_what_was_told_last_else_what_is_shown() -> None:
    assert not at("LT-214", "complaint reads low").known
    assert at("LT-214", "LIC-214 62 %").source == "as LIC-214 shows"
    told = at("LT-214", "process 45 % +- 3 %", "LIC-214 62 %")
    assert (told.low, told.middle, told.high) == pytest.approx((0.42, 0.45, 0.48), abs=1e-9)
    # a level rises: what was told at first is not so any more, and a display does not correct it
    last = at("LT-214", "process 40 %", "process 60 %", "LIC-214 62 %")
    assert (last.middle, last.source) == (pytest.approx(0.6), "as told")
    assert at("XV-221", "HS-221 lit").middle == 1.0
    assert at("XV-221", "HS-221 dark").middle == 0.0
    between = at("LT-214", "LIC-214 40..44 %")
    assert (between.low, between.high) == pytest.approx((0.40, 0.44), abs=0.006)
    whole = at("LT-214", "LIC-214 62 %")  # 62 may be 61.5 or 62.5
    assert (whole.low, whole.high) == pytest.approx((0.615, 0.625), abs=1e-9)
    assert not at("XV-221", "PA 600 kPa").known  # a gauge with a range of its own tells no process


@pytest.mark.parametrize(
    ("tag", "lines", "source"),
    [
        ("LT-214", ("LT-214 50 %", "LIC-214 62 %"), "as LT-214 shows"),
        ("LT-214", ("LG-214 48 %", "LT-214 50 %", "LIC-214 62 %"), "as LG-214 shows"),
        ("LT-214", ("LIC-214 62 %", "LR-214 61 %"), "as LR-214 shows"),
        ("FV-118", ("FIC-118 62 %", "FV-118 51 %"), "as FIC-118 shows"),  # a stem follows
        ("FV-118", ("FV-118 51 %", "FIC-118 62 %"), "as FIC-118 shows"),
        ("LT-214", ("LG-214 48 %", "LIC-214 62 %"), "as LG-214 shows"),
        ("LT-214", ("LIC-214 62 %", "LT-214 50 %"), "as LT-214 shows"),
        ("TT-131", ("TI-131 120 degC",), "as TI-131 shows"),
    ],
)
def test_the_nearest_display_tells_the_process(
    tag: str, lines: tuple[str, ...], source: str
) -> None:
    assert at(tag, *lines).source == source


@pytest.mark.parametrize(
    ("tag", "line"),
    [
        ("FV-118", "PG1 0.3 MPa"),  # the air of the positioner
        ("TE-140", "XT40 25 degC"),  # the terminals of the card, not the furnace
        ("LIC-214", "LIC-214 62 %"),  # the output of the controller is no level
        ("LIC-214", "LV-214 62 %"),
        ("LIC-214", "PG3 60 kPa"),
    ],
)
def test_what_shows_something_else_tells_no_process(tag: str, line: str) -> None:
    assert not at(tag, line).known


def test_a_moved_signal_tells_no_process() -> None:
    assert not at("LT-214", "LIC-214 0 % with LT-214 driven 4 mA").known


def test_the_sense_volts_are_due_by_ohms_law() -> None:
    """At 62 %: (4 + 16 * 0.62) mA * 250 ohm = 3.480 V, a little less beside three inputs."""
    volts = Measurement("V", ("X21:7", "X20:0"))
    [found] = due([volts], observer_of("LT-214"), Basis(0.62, 0.62, 0.62, "told")).values()
    assert found.value == pytest.approx(3.480, abs=0.005)
    assert found.low < found.value < found.high


@pytest.mark.parametrize(
    ("tag", "told", "wrong"),
    [
        ("XV-221", "loop: 3 of 4 readings not as due with it on, as told; volts to X20:0", 3),
        ("ZS-221", "loop: all readings as due with process high, as told; volts to ZY-221:3", 0),
        ("LT-214", "loop: 1 of 4 readings not as due at 100.0 %, as told; volts to X20:0", 1),
    ],
)
def test_the_heading_says_at_which_process(tag: str, told: str, wrong: int) -> None:
    """``3 of 4 readings not as due on, as told`` was no sentence."""
    assert heading(loop_of(tag), Basis(1.0, 1.0, 1.0, "as told"), wrong, 4) == told


def test_no_hum_is_due_on_a_loop_of_direct_current() -> None:
    """What alternates there came from outside: a sound loop tells nothing of it."""
    hum = Measurement("VAC", ("X21:7", "X20:0"))
    assert due([hum], observer_of("LT-214"), Basis()) == {}


def test_without_a_process_value_the_whole_range_is_due() -> None:
    """4 to 20 mA * 250 ohm: 1 to 5 V."""
    volts = Measurement("V", ("X21:7", "X20:0"))
    [found] = due([volts], observer_of("LT-214"), Basis()).values()
    assert (found.low, found.high) == pytest.approx((1.0, 5.0), abs=0.02)


@pytest.mark.parametrize(("kpa", "told"), [(25, AS_DUE), (30, HIGH), (20, LOW)])
def test_a_gauge_that_begins_below_zero_is_held_against_its_own_figures(
    kpa: int, told: str
) -> None:
    """From -100 to 150 kPa: a figure is read to half of its last digit, wherever that begins."""
    reading = parse_line(f"PG-305 {kpa} kPa", loop_of("PT-305"))
    assert isinstance(reading, Reading)
    assert verdict(reading, Due(25.0, 24.0, 26.0, "kPa"), loop_of("PT-305")) == told


@pytest.mark.parametrize(
    ("line", "low", "high", "unit", "told"),
    [
        ("V X21:7 X20:0 3.02", 2.98, 3.02, "V", AS_DUE),
        ("V X21:7 X20:0 3.0", 3.01, 3.02, "V", AS_DUE),  # 3.0 may be 3.04
        ("V X21:7 X20:0 3.0", 2.97, 2.98, "V", AS_DUE),  # or 2.96
        ("V X21:7 X20:0 3.000", 2.97, 2.98, "V", HIGH),
        ("V X21:7 X20:0 3.10", 2.98, 3.02, "V", HIGH),
        ("V X21:7 X20:0 2.8..2.9", 2.98, 3.02, "V", LOW),
        ("V X21:7 X20:0 2.8..3.1", 2.98, 3.02, "V", AS_DUE),
        ("LAHH-214 lit", 1.0, 1.0, "lit", AS_DUE),
        ("LAHH-214 dark", 1.0, 1.0, "lit", OTHER),
        ("LAHH-214 lit", 0.0, 0.0, "lit", OTHER),
        ("LAHH-214 dark", 0.0, 1.0, "lit", AS_DUE),
        ("LIC-214 62 %", 0.5, 0.52, "1", HIGH),
        ("ohm X21:7 X20:0 OL with supply off", 249.0, 251.0, "ohm", HIGH),
        ("ohm X21:4 X21:5 OL with supply off", 1e6, inf, "ohm", AS_DUE),
    ],
)
def test_a_reading_is_held_against_what_is_due(
    line: str, low: float, high: float, unit: str, told: str
) -> None:
    reading = parse_line(line, loop_of("LT-214"))
    assert isinstance(reading, Reading)
    assert verdict(reading, Due((low + high) / 2, low, high, unit), loop_of("LT-214")) == told


# -- the rows


def test_readings_part_where_the_first_is_off(hunt: Hunt) -> None:
    """13.92 mA * 300 ohm leave 19.8 V at X21:4; 17 V say that the loop is dragged down."""
    lines = drawn(hunt, "LIC-214 62 %", "V X20:1 X20:0 24.0", "V X21:4 X20:0 17.0")
    assert "LOW" in row_of(lines, "X21:4")
    assert "as due" in row_of(lines, "X20:1")
    parting = next(n for n, line in enumerate(lines) if "part here" in line)
    assert lines.index(row_of(lines, "X20:1")) < parting < lines.index(row_of(lines, "X21:4"))
    assert "1 of 3 readings not as due at 62.0 %, as LIC-214 shows" in lines[0]


def test_readings_stand_where_they_were_taken(hunt: Hunt) -> None:
    lines = drawn(
        hunt, "LR-214 61 %", "clamp W3+ 13.9", "ohm X21:7 X20:0 250 with supply off",
        "mA X21:5 13.8", "V JB9:1 JB9:2 16.2", "LIC-214 62 %",
    )  # fmt: skip
    assert "13.9 mA (2) as due" in row_of(lines, "W3+")
    assert "61 % (1)" in row_of(lines, "LR-214")
    for what in ("ohm X21:7 X20:0 with G1 off:", "mA X21:5 X21:6:", "V JB9:1 JB9:2:"):
        assert sum(line.strip().startswith(what) for line in lines) == 1


def test_a_distrusted_reading_and_a_suspected_part_are_marked(hunt: Hunt) -> None:
    lines = drawn(hunt, "LIC-214 62 %", "V X21:7 X20:0 34.06", ranking=OPEN)
    assert "(2, distrusted) HIGH" in row_of(lines, "X21:7")
    assert "<- 20 % drift" in row_of(lines, "R1,")
    assert "<- 40 % leakage" in row_of(lines, "I.W3,")  # latent, and drawn because suspected
    assert not any("I.JB9" in line for line in lines)


def test_the_step_in_hand_is_marked_and_kept_in_sight(hunt: Hunt) -> None:
    picture = picture_of(hunt)
    assert picture.rows[picture.focus].names == ("X21:7",)
    assert row_of(drawn(hunt), "X21:7").startswith(">")
    assert "[marshalling cabinet 2, you are here]" in drawn(hunt)


def test_the_red_lead_is_kept_in_sight_and_not_the_common_that_is_drawn_before_it() -> None:
    rows = [
        Row(POINT, ("X20:0",), next=True),
        Row(POINT, ("G1:-",)),
        Row(POINT, ("X31:2",), next=True),
    ]
    assert focus(rows, "X20:0") == 2
    assert focus(rows[:2], "X20:0") == 0  # the common alone is better than nothing


@pytest.mark.parametrize("tag", PLANT.tags())
def test_every_loop_is_drawn_whole_at_any_width(tag: str) -> None:
    """Each terminal that a lead reaches has one row, each display one; nothing is too wide."""
    loop = loop_of(tag)
    rows = loop_rows(loop, strands(loop, topology(loop)), Facts())
    points = [row.names[0] for row in rows if row.sort == POINT]
    assert sorted(points) == sorted({p.name for p in loop.points} - {EARTH})
    parts = [name for row in rows if row.sort == PART for name in row.names]
    assert {p.name for p in loop.parts if p.kind.shows} <= set(parts)
    for width in WIDTHS:
        lines = list(loop_lines(rows, loop, Look(width)))
        assert len(lines) == len(rows)
        assert max(map(len, lines)) <= width
        assert all(name in "\n".join(lines) for name in points)


def test_a_narrow_drawing_cuts_no_number(hunt: Hunt) -> None:
    """What was read is said whole, or not at all."""
    for width in WIDTHS:
        lines = drawn(hunt, "V X21:4 X20:0 17.03", width=width, ranking=OPEN)[1:]
        told = [line for line in lines if "17.03" in line]
        assert told
        assert all("17.03 V (" in line for line in told)
        hunt.mending.undo()


def test_parting_rows_lie_between_two_that_differ(hunt: Hunt) -> None:
    for line in ("LIC-214 62 %", "V X20:1 X20:0 24.0", "V X21:4 X20:0 17.0", "V X21:7 X20:0 3.48"):
        hunt.take(line)
    found = [row for row in picture_of(hunt).rows if row.sort == PARTS_HERE]
    assert [row.names for row in found] == [(AS_DUE, LOW), (LOW, AS_DUE)]


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (Due(3.48, 3.45, 3.51, "V"), "3.480 V"),
        (Due(20.4, 17.9, 22.8, "V"), "17.90 to 22.80 V"),
        (Due(1e-4, -4e-3, 4e-3, "V"), "0 V"),
        # A thermocouple and the leads of a Pt100 are a few millivolts, which is all there is.
        (Due(11.2e-3, -1.5e-3, 24.4e-3, "V"), "-1.5 to 24.4 mV"),
        (Due(8.14e-3, 7.66e-3, 8.62e-3, "V"), "7.7 to 8.6 mV"),
        (Due(-1.0e-3, -1.5e-3, -0.5e-3, "V"), "-1.5 to -0.5 mV"),
        (Due(1.0, 1.0, 1.0, "lit"), "lit"),
        (Due(0.0, 0.0, 1.0, "lit"), "lit or dark"),
        (Due(0.62, 0.61, 0.63, "1"), "62.0 %"),
    ],
)
def test_what_is_due_is_said_in_no_more_than_is_known(found: Due, text: str) -> None:
    assert due_text(found) == text
