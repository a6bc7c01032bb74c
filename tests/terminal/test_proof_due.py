"""Only a reading that would show a fault proves that it is gone.

Which reading sees which fault is read off the drawing of LT-214: the transmitter is driven by hand,
so that what stands before it is not looked at; volts across the sense resistor are in front of the
wires to the receivers (common practice, no source).
"""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.proof_sees import fewest, showing, unseen
from diagnose.inference.ranking import Remedy
from diagnose.loops.plant import open_plant
from diagnose.terminal.proof_due import proof_due
from diagnose.terminal.session_talk import Talk
from terminal.answers import DONE
from terminal.session_stand import by_hand, flat, say

LOOP = open_plant().load("LT-214")
RECORDS = ("bypass shift lead until 04:00", "manual operator holds it")


@cache
def engine() -> Engine:
    return Engine(LOOP)


def repaired(folder: Path, part: str, fault: str) -> Talk:
    """A talk where a fault was put right and all that is to be agreed is on record."""
    remedy = Remedy(part, fault, "put it right", "cabinet", 0.98, 15.0)
    talk = by_hand(folder, LOOP, replace(DONE, remedy=(remedy,), proof=engine().proof))
    say(talk, *RECORDS, "remedy 1")
    if talk.prompt() == "ok?> ":
        say(talk, "ok")
    say(talk, "as it was found", "as it was left")
    return talk


@pytest.fixture
def blocked(tmp_path: Path) -> Iterator[Talk]:
    """An impulse line that was blocked: before the transmitter, which is driven."""
    talk = repaired(tmp_path, "T1", "blocked")
    yield talk
    talk.hunt.file.close()


def passed(talk: Talk, *values: str) -> str:
    """All points of the proof within their limits; what is said to the last."""
    return flat(say(talk, "proof", "ok", *values))


DUE = ("1.000", "3.000", "5.000")
"""Volts across 250 ohm at 4, 12 and 20 mA: the ends and the middle."""


@pytest.mark.parametrize(
    ("part", "fault", "sees"),
    [
        ("R1", "drift", True), ("W3+", "open", True), ("I.W3", "leakage", True),
        ("T1", "blocked", False), ("LT-214", "zero error", False), ("LR-214+", "open", False),
    ],
)  # fmt: skip
def test_what_the_volts_across_the_resistor_show(part: str, fault: str, sees: bool) -> None:
    assert bool(showing(engine(), part, fault, engine().proof)) == sees
    assert bool(unseen(engine(), [(part, fault)], engine().proof)) != sees


@pytest.mark.parametrize(
    ("part", "fault"), [("G1", "sagging"), ("G1", "low"), ("LT-214", "output error")]
)
def test_a_fault_is_looked_for_at_both_ends_of_its_range_and_in_the_middle(
    part: str, fault: str
) -> None:
    """Each shows at all five points at one end of its range, and at few or none in the middle.

    24 V behind 3.8 kohm leave 8.8 V at 4 mA, and the transmitter wants 12; behind 0.3 kohm it has
    enough for 4 mA.  A supply of 9 V has none either, one of 16 V enough for 4 mA.  An error of the
    output lies between -4 and 4 mA, so that its middle is none.
    """
    assert showing(engine(), part, fault, engine().proof) == engine().proof


@pytest.mark.parametrize(("part", "fault"), [("LIC-214", "scaling"), ("H1", "dark")])
def test_what_is_wrong_with_a_display_is_shown_by_that_display_alone(part: str, fault: str) -> None:
    """A lamp that is dead is dark where it must be lit; amplifier and relay do not hang on it."""
    trip = Engine(open_plant().load("LAHH-214"))
    found = showing(trip, part, fault, trip.proof)
    assert {proof.text.split(" with ")[0] for proof in found} == {part}


IN, OUT = ("LT-214 driven 4", "driven 12", "driven 20"), ("LIC-214 driven 0", "driven 50", "100 %")


@pytest.mark.parametrize(
    ("part", "fault", "wanted"),
    [
        ("R1", "drift", [IN]), ("W3+", "open", [IN]), ("LV-214", "stuck", [OUT]),
        ("W7+", "open", [OUT]), ("T1", "blocked", [IN, OUT]),
    ],
)  # fmt: skip
def test_a_repair_is_proved_on_its_own_side_at_the_ends_and_in_the_middle(
    part: str, fault: str, wanted: list[tuple[str, ...]]
) -> None:
    """Ten points of a control loop are five too many on the far side and two on the near one.

    A resistor before the controller is not seen at the valve, which is commanded by hand, nor a
    stem that is stuck in the volts of the transmitter; what is before both is not seen at all.
    That zero, middle and span are tried is common practice, no source.
    """
    whole = Engine(open_plant().load("LIC-214"))
    found = [item.text for item in fewest(whole, [(part, fault)], whole.proof)]
    ends = [end for side in wanted for end in side]
    assert len(whole.proof) == 10
    assert len(found) == len(ends)
    assert all(end in text for end, text in zip(ends, found, strict=True))


def test_what_is_thinned_out_shows_a_fault_of_every_size_as_well() -> None:
    """Whatever single fault of LT-214 five points show, three do."""
    for h in engine().hypotheses[1:]:
        some = fewest(engine(), [h.key], engine().proof)
        assert bool(showing(engine(), *h.key, some)) == bool(
            showing(engine(), *h.key, engine().proof)
        )
        assert len(some) in (3, 5)


def test_a_trip_keeps_the_whole_of_its_proof() -> None:
    trip = Engine(open_plant().load("LAHH-214"))
    assert fewest(trip, [("K1", "set point wrong")], trip.proof) == trip.proof


def test_a_few_millivolts_are_asked_for_in_millivolts(tmp_path: Path) -> None:
    """3.7 to 65 mV are due at an output that is off: 35 is what a meter shows there."""
    loop = open_plant().load("XV-221")
    whole = Engine(loop)
    off = next(item for item in whole.proof if item.unit == "V" and item.high < 0.6)
    remedy = Remedy("F1", "blown", "put it right", "cabinet", 0.98, 15.0)
    talk = by_hand(tmp_path, loop, replace(DONE, remedy=(remedy,), proof=(off,)))
    say(talk, *RECORDS, "proof")
    while talk.prompt() == "ok?> ":
        say(talk, "ok")
    assert talk.prompt() == f"{off.text} in mV> "
    assert "V or mV? Type it with its unit" in flat(say(talk, "0.035"))
    assert "Proved: 1 of 1" in flat(say(talk, "35"))
    assert talk.hunt.case.proofs[-1].text.startswith("V X51:3 X20:0 35 mV")
    talk.hunt.file.close()


def test_a_wire_to_a_recorder_is_proved_by_the_recorder(tmp_path: Path) -> None:
    """The volts pass with the wire open; the recorder itself is asked for besides."""
    talk = repaired(tmp_path, "LR-214+", "open")
    said = flat(say(talk, "proof"))
    assert "5 points" in said
    said = flat(say(talk, "ok", *DUE))
    assert "Point 4 of 5" in said
    assert talk.prompt().startswith("LR-214 with LT-214 driven")
    assert "Proved: 5 of 5" in flat(say(talk, "0 %", "100 %"))
    say(talk, "confirm LR-214+ open")
    assert talk.hunt.case.cause is not None
    talk.hunt.file.close()


def test_where_the_proof_goes_past_the_fault_it_is_not_called_proved(blocked: Talk) -> None:
    shown = flat(say(blocked, "show"))
    assert "No proof reading would show it" in shown
    assert "type proof." not in shown
    said = passed(blocked, *DUE)
    assert "Proved" not in said
    assert "3 of 3 within their limits. No proof reading would show it" in said
    assert "Repaired and proved" not in flat(say(blocked, "show"))


def test_a_set_point_is_proved_by_the_test_of_the_trip(tmp_path: Path) -> None:
    """At 4 and 20 mA a trip stands where it should, whatever its set point is between them."""
    talk = repaired(tmp_path, "LAHH-214", "set point wrong")
    assert "by the site's proof test of the trip, under its bypass" in flat(say(talk, "show"))
    talk.hunt.file.close()


def test_a_cause_that_no_proof_shows_needs_words(blocked: Talk) -> None:
    passed(blocked, *DUE)
    say(blocked, "confirm T1 blocked")
    assert blocked.prompt() == "evidence> "
    say(blocked, "display follows the sight glass again")
    cause = blocked.hunt.case.cause
    assert cause is not None
    assert cause.evidence == "display follows the sight glass again"


def test_the_hunt_goes_on_where_a_proof_passed_that_shows_nothing(blocked: Talk) -> None:
    passed(blocked, *DUE)
    assert "Left behind" in flat(say(blocked, "anew"))


def test_a_trip_in_a_control_loop_is_proved_on_both_of_its_sides(tmp_path: Path) -> None:
    """A coil wire that is remade lets the relay hold; that it still drops out is the trip itself.

    That a safety function is proved to act, and not only to be quiet: IEC 61511-1, 16.3 (from
    memory).
    """
    loop = open_plant().load("LIC-214")
    proof = Engine(loop).proof
    remedy = Remedy("W23.RL1", "open", "remake it", "cabinet", 0.98, 15.0)
    talk = by_hand(tmp_path, loop, replace(DONE, remedy=(remedy,), proof=proof))
    say(talk, *RECORDS, "remedy 1", "ok", "as it was found", "as it was left")
    found = [item for item in proof_due(talk.hunt).proofs if item not in proof]
    due = {item.text: item.low for item in found}
    for name, quiet in (("RL1", 1.0), ("H1", 0.0), ("H2", 0.0), ("U6", 1.0)):
        assert due[f"{name} with LT-214 driven 4 mA"] == quiet
        assert due[f"{name} with LT-214 driven 20 mA"] == 1 - quiet
    # Driven to one point, and read there, before it is driven to the other.
    at = [item.text.partition(" with ")[2] for item in found]
    assert at == sorted(at, key=lambda text: float(text.split()[-2]))
    talk.hunt.file.close()


@pytest.mark.parametrize(
    ("part", "fault", "told"),
    [("R1", "drift", "within limits: confirm the cause: R1 drift"),
     ("T1", "blocked", "not show the fault: prove it as it runs, then confirm the cause: T1")],
)  # fmt: skip
def test_the_note_says_whether_the_proof_is_one(
    part: str, fault: str, told: str, tmp_path: Path
) -> None:
    """The next shift must not take five volts across the resistor for a clear impulse line."""
    talk = repaired(tmp_path, part, fault)
    passed(talk, *DUE)
    assert told in flat(say(talk, "handover"))
    talk.hunt.file.close()


def test_what_the_proof_needs_is_said_with_it(tmp_path: Path) -> None:
    """``Prove it: type proof`` was refused when it was typed."""
    remedy = Remedy("R1", "drift", "put it right", "cabinet", 0.98, 15.0)
    talk = by_hand(tmp_path, LOOP, replace(DONE, remedy=(remedy,), proof=engine().proof))
    say(talk, "remedy 1", "ok", "as it was found")
    said = flat(say(talk, "as it was left", "show"))
    assert "Prove it: type manual and bypass with who agreed (the proof drives the loop), " in said
    assert "more open up" not in said
    said = flat(say(talk, *RECORDS, "show"))
    assert "Prove it: type proof." in said
    talk.hunt.file.close()
