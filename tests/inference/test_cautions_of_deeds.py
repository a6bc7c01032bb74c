"""What is done to a loop brings the caution of its danger, for every deed of every kind of part.

The table is written by what hands do, not by what the code says: a signal that is fed in is
believed by the plant, a wire that is opened stops it, a stem that is commanded moves, a feed that
is taken off is locked and proved dead, a bypass takes a protection away (common practice; IEC
61511-1, NFPA 70E and EN 50110-1 by their titles, from memory).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

import diagnose.loops.kinds  # noqa: F401  (registers the kinds)
from diagnose.inference.candidates import candidates
from diagnose.inference.cautions import CAUTIONS, cautions_for, needs_for
from diagnose.inference.measurement import Applied, Jumper, Measurement
from diagnose.inference.readings import parse_measurement
from diagnose.loops.kind import Action, Kind
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from small_loop import LOOP

DEEDS = {
    "bypassed": {"trip"},
    "equalised": {"process side"},
    # opened by hand
    "lifted": {"open loop"}, "open": {"open loop"}, "out": {"open loop"},
    # taken off
    "off": {"de-energise"},
    # a state that the plant believes, made with steel or a finger in the field
    "closed": {"by hand"}, "released": {"by hand"},
    "covered": {"by hand"}, "uncovered": {"by hand"},
    # the final element moves
    "commanded on": {"output"}, "commanded off": {"output"},
    # a signal that the plant believes
    "driven": {"inject"}, "fed": {"inject"},
    # the same, after a part was taken out of the wires
    "replaced": {"open loop", "inject"},
}  # fmt: skip
OTHERWISE = {
    ("controller", "driven"): {"output"},
    ("output_station", "driven"): {"output"},
    ("proximity_sensor", "replaced"): {"open loop", "by hand"},  # a resistor feeds nothing in
    # a plug that is pulled opens the wires of the sensor as well
    **{(card, "off"): {"open loop", "de-energise"} for card in (
        "rtd_input", "rtd_input_two_wire", "rtd_input_four_wire", "thermocouple_input")},
}  # fmt: skip
ACTIONS = [(kind.name, act) for kind in Kind.registry.values() for act in kind.actions]


@cache
def loop_of(tag: str) -> Loop:
    return open_plant().load(tag)


@pytest.mark.parametrize(("kind", "deed"), ACTIONS, ids=[f"{k} {a.name}" for k, a in ACTIONS])
def test_each_deed_brings_the_caution_of_its_danger(kind: str, deed: Action) -> None:
    assert {*deed.cautions} == OTHERWISE.get((kind, deed.name), DEEDS[deed.name])


@pytest.mark.parametrize(
    ("words", "interrupts", "moves"),
    [
        ({"lifted", "open", "out", "off"}, True, False),
        ({"replaced"}, True, True),
        ({"driven", "fed", "equalised", "closed", "released", "covered", "uncovered",
          "commanded on", "commanded off"}, False, True),
        ({"bypassed"}, False, False),
    ],
)  # fmt: skip
def test_what_opens_the_loop_and_what_moves_its_signal(
    words: set[str], interrupts: bool, moves: bool
) -> None:
    """Either is noticed by whoever uses the signal, so that the operator is told before it."""
    some = [(kind, act) for kind, act in ACTIONS if act.name in words]
    assert {act.name for _, act in some} == words
    for kind, act in some:
        assert (act.interrupts, act.moves_signal) == (interrupts, moves), (kind, act.name)


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("air", ("supply shut", "line bled", "tube held", "eyes covered", "nitrogen")),
        ("output", ("final element", "line of fire", "stored air and springs", "operator's word")),
        ("added energy", ("Ohms ranges", "put energy into the wiring", "certificate")),
        ("by hand", ("agreed first", "fingers clear", "put everything back")),
        ("wire work", ("opens the circuit", "proved dead", "each wire marked")),
        ("intrinsic safety", ("isolator or switch amplifier", "meter assessed", "no other energy",
                              "barrier earth stays while the field is connected")),
        ("zone", ("an ordinary meter stays out, on intrinsically safe wiring too",)),
        ("de-energise", ("every other loop on this supply", "the signal is lost")),
        ("manual", ("agreed with the operator", "cascades, ratios")),
        ("inject", ("every user of the signal agreed first",)),
        ("trip", ("stop until its bypass is authorised", "take it off again")),
        ("process side", ("stop if a valve passes",)),
    ],
)  # fmt: skip
def test_what_the_caution_of_a_danger_has_to_say(key: str, words: tuple[str, ...]) -> None:
    """What hurts or trips, and what it takes (common practice; a barrier keeps its earth while the
    field side hangs on it: IEC 60079-14, from memory).
    """
    assert not [word for word in words if word.casefold() not in CAUTIONS[key].text.casefold()]


def test_what_may_throw_a_stem_or_a_tube_is_red() -> None:
    assert CAUTIONS["air"].acknowledge and CAUTIONS["output"].acknowledge


# -- dangers of whole loops ------------------------------------------------------------------------


@pytest.mark.parametrize("function", ["V", "VAC", "Vlow", "mA", "clamp", "ohm"])
def test_every_function_of_the_meter_on_mains_wiring_is_told_of_the_mains(function: str) -> None:
    """Fingers are at the terminals of 230 V whatever the dial says; what goes in series, and ohms,
    are work on the circuit even where the feed was forgotten (IEC 61010-2-033, by its title).
    """
    points = ("XY-222",) if function == "clamp" else ("X61:1", "X61:2")
    step = Measurement(function, points)
    assert "mains" in cautions_for(step, loop_of("XV-222"))
    work = function in ("mA", "ohm")
    assert ("mains work" in cautions_for(step, loop_of("XV-222"))) == work
    needs = needs_for(step, loop_of("XV-222"))
    assert ("licensed person, feed isolated and proved dead" in needs) == work


def test_no_step_that_is_offered_on_mains_wiring_goes_without_its_caution() -> None:
    loop = loop_of("XV-222")
    touching = [c.measurement for c in candidates(loop) if c.measurement.function != "shows"]
    assert len(touching) > 10
    assert all("mains" in cautions_for(step, loop) for step in touching)


def test_no_step_that_is_offered_behind_a_barrier_goes_without_its_caution() -> None:
    loop = loop_of("PT-305")
    touching = [c.measurement for c in candidates(loop) if c.measurement.function != "shows"]
    assert len(touching) > 10
    assert all("intrinsic safety" in cautions_for(step, loop) for step in touching)


@pytest.mark.parametrize(
    ("text", "caution", "need"),
    [
        ("V X21:7 X20:0 with LT-214 driven 12 mA", "manual", "loop in manual"),
        ("LV-214 with LIC-214 driven 50 %", "manual", "loop in manual"),
        ("LV-214 with LIC-214 driven 50 %", "output", "final element isolated or blocked in"),
        ("V X21:7 X20:0 with LT-214 driven 12 mA", "trip", "trip bypass authorised and recorded"),
        ("ohm X21:7 X20:0 with supply off", "de-energise",
         "supply isolated, locked and proved dead"),
        ("V X21:7 X20:0 with LT-214 equalised", "process side",
         "process connection isolated by operations"),
    ],
)  # fmt: skip
def test_a_control_loop_in_automatic_with_a_trip(text: str, caution: str, need: str) -> None:
    """Whatever moves its signal moves the valve and may trip the plant; a supply feeds others."""
    loop = loop_of("LIC-214")
    step = parse_measurement(text, loop)
    assert caution in cautions_for(step, loop)
    assert need in needs_for(step, loop)
    assert needs_for(step, loop)[0] == "operator told"


def test_an_earth_end_of_a_jumper_and_a_jumper_in_the_zone_are_told() -> None:
    joined = Measurement("V", ("X21:7", "X20:0"), (Jumper("JB9:1", "JB9:2"),))
    assert {"jumper", "zone", "enclosure", "restore"} <= {*cautions_for(joined, LOOP)}
    lifted = replace(joined, condition=(Applied("TB1", "lifted"),))
    assert "jumper" not in cautions_for(lifted, LOOP)
