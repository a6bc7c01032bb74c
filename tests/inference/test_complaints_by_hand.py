"""What a complaint alone does to the odds of a fault against a sound loop, on paper.

A fault that shows itself as the complaint says does so in 7 calls of 10; one that cannot keeps a
floor, a thirtieth of how often calls on a sound loop are worded so, and 0.2 % to 1 % in any case.
Of one that causes it over a share of the range only, the share counts.  The numbers are assumptions
of the project (common practice, no source); what a fault shows: Ohm's law on the demo sheets.
"""

from __future__ import annotations

from functools import cache

import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_line
from diagnose.loops.plant import open_plant

CAUSED = 0.7

SOUND = {"reads low": 0.30, "reads high": 0.30, "reads zero": 0.05, "frozen": 0.08,
         "erratic": 0.05, "clips": 0.03, "disagree": 0.01, "tripped": 0.10, "no trip": 0.03,
         "does not follow": 0.30, "stays on": 0.10, "stays off": 0.20}  # fmt: skip
"""How calls on a sound loop are worded."""

FLOOR = {"reads low": 0.01, "reads high": 0.01, "reads zero": 0.002, "frozen": 0.08 / 30,
         "erratic": 0.002, "clips": 0.002, "disagree": 0.002, "tripped": 0.1 / 30,
         "no trip": 0.002, "does not follow": 0.01, "stays on": 0.1 / 30,
         "stays off": 0.2 / 30}  # fmt: skip
"""What is left where a fault cannot cause it: a thirtieth of the line above, within 0.2 and 1 %."""


@cache
def engine(tag: str) -> Engine:
    return Engine(open_plant().load(tag))


@cache
def told(tag: str, complaint: str) -> tuple[dict[tuple[str | None, str], float], float]:
    """By how much a complaint moves the odds of each single fault against a sound loop.

    And the odds of what is none of the modelled, against a sound loop.
    """
    found = engine(tag).rank([parse_line(f"complaint {complaint}", engine(tag).loop)])
    after = {(r.part, r.fault): r.probability for r in found.hypotheses if not r.also}
    before = {h.key: h.prior for h in engine(tag).hypotheses}
    whole = after[None, "none"] / before[None, "none"]
    moved = {key: after[key] / prior / whole for key, prior in before.items() if key[0]}
    return moved, found.unexplained / after[None, "none"]


# A signal of 1 to 5 V on the bus of LT-214; its trip is set to the middle of the range.  The share
# is that of the range over which the display is wrong in the way that is complained of.
ON_A_BUS = [
    # no current is no volts: all displays at their lower end, and they stay there
    ("reads low", "W3+", "open", 1.0), ("reads high", "W3+", "open", 0.0),
    ("reads zero", "W3+", "open", 1.0), ("disagree", "W3+", "open", 0.0),
    ("frozen", "W3+", "open", 0.7), ("clips", "W3+", "open", 0.0),
    ("no trip", "W3+", "open", 0.5), ("tripped", "W3+", "open", 0.0),
    ("reads low", "G1", "dead", 1.0), ("reads high", "G1", "dead", 0.0),
    # nothing across the bus but megohms: volts run up with the first microampere
    ("reads high", "R1", "open", 1.0), ("reads low", "R1", "open", 0.0),
    ("reads zero", "R1", "open", 0.0), ("tripped", "R1", "open", 0.5),
    ("no trip", "R1", "open", 0.0),
    # 22 mA whatever the level is, or 3.5 mA
    ("reads high", "LT-214", "failed high", 0.98), ("frozen", "LT-214", "failed high", 0.7),
    ("tripped", "LT-214", "failed high", 0.5), ("reads zero", "LT-214", "failed high", 0.0),
    ("no trip", "LT-214", "dead", 0.5), ("reads zero", "LT-214", "dead", 0.98),
    # half the volts at every current: 20 mA are 2.5 V, 38 % of the range, and below the trip; 4 mA
    # are 0.5 V, not right either, as it is where a display clips
    ("reads low", "LR-214", "second resistor", 1.0), ("clips", "LR-214", "second resistor", 0.0),
    ("reads high", "LR-214", "second resistor", 0.0), ("no trip", "LR-214", "second resistor", 0.5),
    ("frozen", "LR-214", "second resistor", 0.0),
    # a trip that is not a display
    ("tripped", "LAHH-214", "stuck on", 0.5), ("no trip", "LAHH-214", "stuck on", 0.0),
    ("no trip", "LAHH-214", "stuck off", 0.5), ("tripped", "LAHH-214", "stuck off", 0.0),
    # one of three displays says something else than the others, and the trip knows nothing of it
    ("disagree", "LR-214", "scaling", 0.97), ("tripped", "LIC-214", "scaling", 0.0),
]  # fmt: skip

# Turned round, an output is where it should be in the middle only.
ON_AN_OUTPUT = [
    ("does not follow", "K1", "direction", 1.0), ("does not follow", "LV-214", "stuck", 1.0),
]  # fmt: skip

# A valve that is shut without its command; a lamp for each end.  Half of the time it is commanded.
ON_A_VALVE = [
    ("stays on", "XV-221", "stuck open", 0.5), ("stays on", "XV-221", "stuck shut", 0.0),
    ("stays off", "XV-221", "stuck shut", 0.5), ("stays off", "XV-221", "stuck open", 0.0),
    ("stays off", "F1", "open", 0.5), ("stays on", "F1", "open", 0.0),
    ("stays on", "A1", "stuck on", 0.5), ("stays off", "A1", "stuck on", 0.0),
    # lamps lie: that of the open end lit, or that of the shut end dark, is told as a valve open
    ("stays on", "ZLO-221", "stuck lit", 0.5), ("stays on", "ZLC-221", "stuck dark", 0.5),
    ("stays on", "ZLC-221", "stuck lit", 0.0), ("stays off", "ZLC-221", "stuck lit", 0.5),
    ("stays off", "ZLO-221", "stuck dark", 0.5), ("stays off", "ZLO-221", "stuck lit", 0.0),
    ("does not follow", "XV-221", "stuck open", 0.5), ("does not follow", "F1", "open", 0.5),
    ("does not follow", "ZLO-221", "stuck dark", 0.5),
    ("does not follow", "ZLC-221", "stuck dark", 0.5),
]  # fmt: skip


@pytest.mark.parametrize(
    ("tag", "complaint", "part", "fault", "share"),
    [("LT-214", *line) for line in ON_A_BUS]
    + [("XV-221", *line) for line in ON_A_VALVE]
    + [("LV-214", *line) for line in ON_AN_OUTPUT],
)
def test_a_complaint_moves_the_odds_as_far_as_the_fault_causes_it(
    tag: str, complaint: str, part: str, fault: str, share: float
) -> None:
    """Within 5 % of range at the ends and at the trip, where nobody is sure what he saw."""
    likelihood = told(tag, complaint)[0][part, fault] * SOUND[complaint]
    least = FLOOR[complaint]
    due = least + (CAUSED - least) * share
    if share:
        assert likelihood == pytest.approx(due, rel=0.04)
    else:
        assert least * 0.9 <= likelihood <= least + 0.005


def test_what_reads_low_reads_zero_only_where_it_gets_there() -> None:
    """Half the volts, 0.5 + 2 p, are below 1 V at the lowest quarter of the levels, and below 2 %
    of the range up to 29 %: about as often is it told as zero, and as low at all of them.
    """
    likelihood = told("LT-214", "reads zero")[0]["LR-214", "second resistor"] * SOUND["reads zero"]
    assert 0.2 * CAUSED < likelihood < 0.35 * CAUSED


@pytest.mark.parametrize(
    ("fault", "often"), [("failed low", 0.0), ("fixed output", 0.9), ("frozen", 0.9)]
)
def test_what_stands_still_is_told_as_frozen_as_its_mode_says(fault: str, often: float) -> None:
    """0.9 of the way from the floor; 0.7 where nothing but the display at its end tells it."""
    least = FLOOR["frozen"]
    due = least + (CAUSED - least) * (often or 0.7)
    likelihood = told("LT-214", "frozen")[0]["LT-214", fault] * SOUND["frozen"]
    assert likelihood == pytest.approx(due, rel=0.01)


def test_only_what_comes_and_goes_is_erratic() -> None:
    """An output that is forced stands still; so does a resistor that is shorted."""
    on_a_bus, on_a_valve = (told(tag, "erratic")[0] for tag in ("LT-214", "XV-221"))
    steady = [on_a_bus["R1", "short"], on_a_bus["LT-214", "dead"], on_a_valve["A1", "forced on"],
              on_a_valve["XV-221", "stuck open"]]  # fmt: skip
    assert [odds * SOUND["erratic"] for odds in steady] == pytest.approx([0.002] * 4, rel=0.1)
    loose = on_a_bus["W3+", "high resistance"] * SOUND["erratic"]
    assert loose > 20 * FLOOR["erratic"]
    # an open resistor comes and goes in one call of five, and all displays show it at any level
    due = FLOOR["erratic"] + (CAUSED - FLOOR["erratic"]) * 0.2
    assert on_a_bus["R1", "open"] * SOUND["erratic"] == pytest.approx(due, rel=0.04)
    # on a valve its two lamps are all that shows it
    assert on_a_valve["F1", "high resistance"] * SOUND["erratic"] > 20 * FLOOR["erratic"]


@pytest.mark.parametrize(
    ("tag", "complaint", "often"),
    [("LT-214", "reads low", 0.25), ("LT-214", "reads high", 0.25), ("LT-214", "reads zero", 0.15),
     ("LT-214", "frozen", 0.15), ("LT-214", "erratic", 0.20), ("LT-214", "clips", 0.05),
     ("LT-214", "disagree", 0.10), ("LT-214", "tripped", 0.25), ("LT-214", "no trip", 0.10),
     ("XV-221", "does not follow", 0.30), ("XV-221", "stays on", 0.30),
     ("XV-221", "stays off", 0.40)],
)  # fmt: skip
def test_what_no_model_knows_causes_one_complaint_or_another(
    tag: str, complaint: str, often: float
) -> None:
    """The odds that the sheet gives it against a sound loop, times how often it is told so."""
    shares = engine(tag).loop.shares
    due = shares.unmodelled / shares.sound * often / SOUND[complaint]
    assert told(tag, complaint)[1] == pytest.approx(due, rel=0.02)


def test_a_valve_that_stands_elsewhere_does_not_follow_whatever_the_level_is() -> None:
    """Told 50 %, it stands at an end; what lies beside its signal does not move it."""
    moved = told("LIC-214", "does not follow")[0]
    for key in (("AO1", "failed low"), ("AO1", "failed high"), ("LV-214", "diaphragm leaking")):
        assert moved[key] * SOUND["does not follow"] == pytest.approx(CAUSED, rel=0.01)
    for key in (("RL1", "open"), ("H1", "dark"), ("LR-214", "second resistor")):
        assert moved[key] * SOUND["does not follow"] == pytest.approx(0.01, rel=0.1)


def test_a_relay_that_lets_go_is_a_trip_and_one_that_sticks_is_none() -> None:
    """The relay of LIC-214 is pulled in while all is well: an open coil trips, half of the time
    it would have tripped by itself.
    """
    odds = told("LIC-214", "tripped")[0]
    half = (CAUSED + FLOOR["tripped"]) / 2
    assert odds["RL1", "open"] * SOUND["tripped"] == pytest.approx(half, rel=0.03)
    # beside the trip itself nobody is sure what he saw: some 0.3 % of the range
    assert 0.9 * FLOOR["tripped"] < odds["RL1", "sticking"] * SOUND["tripped"] < 0.006
