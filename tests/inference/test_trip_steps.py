"""A trip tried by hand: fed well short of its set point, just short of it, just past it, well past.

What a comparator then does is told by a truth table on paper, apart from its law: it is in where
its input lies past its set point in its direction.  That a trip is proved on either side of its set
point, under an authorised bypass, is common practice, no source (proof tests of a safety function:
IEC 61511-1, term from memory).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from diagnose.inference.candidates import Candidate, candidates
from diagnose.inference.cautions import cautions_for, needs_for
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Applied
from diagnose.inference.readings import describe, parse_line
from diagnose.inference.trip_steps import trials
from diagnose.inference.views import Points, sight
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.loops.sheet import load_sheet
from diagnose.terminal.naming import instruction
from terminal.session_stand import flat, say, talk_on

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"

# Set point 3 V (sheet), dead band 0.04 V (none for a bare comparator), error 0.02 V, of which two
# are kept away from: 3 - 0.04 - 0.04 = 2.92 V and 3 + 0.04 = 3.04 V; in 250 ohm 11.68 and 12.16 mA.
# LT-214 has no dead band: 2.96 V is 11.84 mA; LT-216 trips at 4 V: 3.96 and 4.04 V.
FED = {
    "LAHH-214": ("K1", "B1 fed", [1.0, 2.92, 3.04, 5.0], 1.0),
    "LIC-214": ("LAHH-214", "LT-214 driven", [4e-3, 11.68e-3, 12.16e-3, 20e-3], 250.0),
    "LT-214": ("LAHH-214", "LT-214 driven", [4e-3, 11.84e-3, 12.16e-3, 20e-3], 250.0),
    "LT-216": ("LAHH-216", "LT-216 driven", [4e-3, 15.84e-3, 16.16e-3, 20e-3], 250.0),
}
STUCK = {"latched": True, "stuck on": True, "stuck off": False}


@cache
def loop_of(tag: str) -> Loop:
    return open_plant().load(tag)


@cache
def engine_of(tag: str) -> Engine:
    return Engine(loop_of(tag))


def fed(loop: Loop) -> list[Candidate]:
    """The candidates that feed a trip."""
    given = {applied for _, applied in trials(loop)}
    return [c for c in candidates(loop) if given & set(c.measurement.condition)]


@pytest.mark.parametrize("tag", FED)
def test_a_trip_is_fed_well_and_just_on_either_side_of_its_set_point(tag: str) -> None:
    trip, deed, values, _ = FED[tag]
    part, action = deed.split()
    told = [applied for _, applied in trials(loop_of(tag))]
    assert {one.name for one, _ in trials(loop_of(tag))} == {trip}
    assert {(one.part, one.action) for one in told} == {(part, action)}
    assert [one.value for one in told] == pytest.approx(values)


def test_only_sheets_with_one_trip_behind_an_input_have_such_steps() -> None:
    plant = open_plant()
    assert {tag for tag in plant.tags() if [*trials(plant.load(tag))]} == set(FED)


def test_few_are_added_and_each_can_be_typed_as_it_is_told() -> None:
    """Advice takes longer with every candidate; what is told is read as the same measurement."""
    assert {len(fed(loop_of(tag))) for tag in FED} == {4}
    for tag in FED:
        loop = loop_of(tag)
        for candidate in fed(loop):
            text = describe(candidate.measurement, loop)
            head, _, tail = text.partition(" with ")
            assert parse_line(f"{head} lit with {tail}", loop).measurement == candidate.measurement


@pytest.mark.parametrize("tag", FED)
def test_the_trip_is_bypassed_with_authority_before_it_is_fed(tag: str) -> None:
    """Past the set point the plant would trip: the bypass comes first, with those who decide."""
    loop = loop_of(tag)
    for candidate in fed(loop):
        assert candidate.moves_signal
        keys = cautions_for(candidate.measurement, loop)
        assert {"trip", "inject", "restore"} <= set(keys)
        needs = needs_for(candidate.measurement, loop)
        assert needs[:2] == ("operator told", "trip bypass authorised and recorded")


def past(volts: float, fault: str, set_point: float) -> bool:
    """On paper: whether a high trip is in at some volts, with a fault and its set point."""
    if fault in STUCK:
        return STUCK[fault]
    return (volts > set_point) != (fault == "direction wrong")


@pytest.mark.parametrize("tag", FED)
def test_what_is_seen_is_what_the_truth_table_says(tag: str) -> None:
    trip, deed, values, ohms = FED[tag]
    engine = engine_of(tag)
    loop = engine.loop
    numbers = {h.key[1]: h.number for h in engine.hypotheses if h.part == trip}
    numbers["none"] = 0
    # The severity of a wrong set point lies between 1 and 5 V in all, so a quarter is 2 V.
    places = [("none", 0.5), ("set point wrong", 0.25), ("set point wrong", 0.8)]
    places += [(fault, 0.5) for fault in (*STUCK, "direction wrong") if fault in numbers]
    points = Points(
        np.array([numbers[fault] for fault, _ in places]),
        np.array([where for _, where in places]),
        np.full(len(places), 0.4),
        np.ones(len(places)),
    )
    own = float(loop.part(trip).values["set_point"])
    told = []
    for value in values:
        part, action = deed.split()
        wanted = f"{trip} lit with {part} {action} {value:.12g} {'A' if ohms > 1 else 'V'}"
        seen = sight(engine.atlas, points, [parse_line(wanted, loop).measurement])
        told.append([bool(level > 0) for level in seen.level[0]])
        at = [own if fault != "set point wrong" else 1 + 4 * where for fault, where in places]
        paper = [past(value * ohms, fault, v) for (fault, _), v in zip(places, at, strict=True)]
        assert told[-1] == paper, value
    faults = list(zip(*told, strict=True))
    for one, other in combinations(range(1, len(places)), 2):
        assert faults[one] != faults[other] or places[one][0] == places[other][0]


# What leaves a latched trip, a wrong set point and a wrong direction alike: it is in at 40 %.
IN_AT_40 = {
    "LAHH-214": (
        "complaint tripped", "K1 lit", "H1 lit", "LG-214 40 %", "V X22:1 X20:0 2.6",
        "V X26:1 X26:2 2.6",
    ),
    "LIC-214": (
        "complaint tripped", "LAHH-214 lit", "LAHH-214 lit", "H1 lit", "LT-214 40 %",
        "V X22:1 X20:0 2.6", "V X41:1 X41:2 2.6",
    ),
    "LT-214": (
        "complaint tripped", "LAHH-214 lit", "LAHH-214 lit", "LT-214 40 %", "V X22:1 X20:0 2.6",
        "V LAHH-214:+ LAHH-214:- 2.6",
    ),
}  # fmt: skip


@pytest.mark.parametrize("tag", IN_AT_40)
def test_what_keeps_a_trip_in_is_not_called_one_group_any_more(tag: str) -> None:
    """Each stands in a group of its own, and the step that parts them feeds the input."""
    engine = engine_of(tag)
    ranking = engine.rank([parse_line(line, engine.loop) for line in IN_AT_40[tag]])
    faults = ("latched", "stuck on", "set point wrong", "direction wrong")
    own = [h for h in ranking.hypotheses if h.part == FED[tag][0] and h.fault in faults]
    assert len(own) >= 2
    assert sum(h.probability for h in own) > 0.8
    assert len({h.group for h in own}) == len(own)
    assert set(fed(engine.loop)) & {
        c for c in engine.candidates if c.measurement == ranking.next[0].measurement
    }


@pytest.mark.parametrize(
    ("answers", "fault"),
    [
        (("K1 lit with B1 fed 1 V", "K1 lit with B1 fed 5 V"), "latched"),
        (("K1 lit with B1 fed 1 V", "K1 dark with B1 fed 5 V"), "direction wrong"),
        (("K1 dark with B1 fed 1 V", "K1 lit with B1 fed 2.92 V"), "set point wrong"),
    ],
    ids=["latched", "direction", "set point"],
)
def test_two_answers_name_the_fault(answers: tuple[str, ...], fault: str) -> None:
    engine = engine_of("LAHH-214")
    lines = (*IN_AT_40["LAHH-214"], *answers)
    lead = engine.rank([parse_line(line, engine.loop) for line in lines]).hypotheses[0]
    assert (lead.part, lead.fault) == ("K1", fault)
    assert lead.probability > 0.95


def test_a_low_trip_is_tried_the_other_way_round(tmp_path: Path) -> None:
    """It trips below its set point, so its safe side lies above: 3 + 0.04 + 0.04, and 3 - 0.04."""
    text = (SHEETS / "LAHH-214.toml").read_text(encoding="utf-8")
    changed = text.replace('set_point = "3 V"', 'set_point = "3 V"\ndirection = "-1"')
    assert changed != text
    path = tmp_path / "LALL-214.toml"
    path.write_text(changed, encoding="utf-8")
    told = [applied.value for _, applied in trials(load_sheet(path))]
    assert told == pytest.approx([5.0, 3.08, 2.96, 1.0])


def test_a_lamp_that_is_walked_to_costs_the_way_there_and_back() -> None:
    """LT-214 is made to drive on its platform, its trip shows in the cabinet: 20 minutes and 8 to
    set up out there, 20 and 2 to set up back, 6 to drive and 3 to put back, half a minute to look.
    """
    assert {c.minutes for c in fed(loop_of("LT-214"))} == {28 + 22 + 9 + 0.5}


def test_what_is_fed_twice_or_out_of_range_is_no_step() -> None:
    """With a set point at the end of the signal nothing lies on its far side."""
    loop = loop_of("LAHH-214")
    trip = loop.part("K1")
    parts = tuple(
        replace(p, values={**p.values, "set_point": 5.0}) if p is trip else p for p in loop.parts
    )
    assert [*trials(replace(loop, parts=parts))] == []
    assert Applied("B1", "fed", 1.0) in [applied for _, applied in trials(loop)]


@pytest.mark.parametrize("tag", ["LAHH-214", "LIC-214"])
def test_a_bypass_that_holds_the_relay_does_not_hide_the_lamp_that_is_read(tag: str) -> None:
    """The step itself wants the key turned: relay, horn and input stand still then, its lamp not.

    Read off the sheet: the key lies across the output of the amplifier, behind its comparator.
    """
    engine = engine_of(tag)
    points = Points(np.zeros(1, int), *np.full((3, 1), 0.4))
    for candidate in fed(engine.loop):
        free = candidate.measurement
        held = replace(free, condition=(*free.condition, Applied("S1", "bypassed")))
        seen = sight(engine.atlas, points, [free, held]).level[:, 0]
        assert (seen[0] > 0) == (seen[1] > 0)


def test_the_step_says_how_long_the_trip_takes() -> None:
    loop = loop_of("LAHH-214")
    first = fed(loop)[0].measurement
    assert "K1 takes 2 s to trip" in instruction(first, loop, 1.0)
    assert "takes" not in instruction(replace(first, condition=()), loop, 1.0)


def test_until_a_bypass_is_agreed_it_is_not_said_that_nothing_tells_them_apart(
    tmp_path: Path,
) -> None:
    """No step that feeds the input is advised before: but there is one, and that is said."""
    engine = engine_of("LAHH-214")
    talk = talk_on(tmp_path, engine.loop, lambda: engine)
    say(talk, *IN_AT_40["LAHH-214"], "K1 lit")
    for command in ("show", "rank", "handover"):
        said = flat(say(talk, command))
        assert "apart by any reading within reach" not in said
        assert "No reading within reach tells apart" not in said
        assert "apart without disturbing the loop" in said or "leaves the loop undisturbed" in said
    assert "No reading that leaves the loop undisturbed tells these apart" in flat(
        say(talk, "show")
    )
    assert "more open up once bypass is agreed" in flat(say(talk, "show"))
    said = flat(say(talk, "bypass shift lead until 04:00", "show"))
    assert "B1 fed" in said
    talk.hunt.file.close()
