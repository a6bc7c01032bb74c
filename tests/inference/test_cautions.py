"""Cautions: which are shown for which step, and how they are worded.

What disturbs a loop is common practice, no source: volts and clamp do not; a meter in series, a
low-impedance voltmeter (17 V / 3 kohm = 5.7 mA more), a lifted wire, a driven current do.  Families
of standards (IEC 61511 bypasses, IEC 60079-14/-17 hazardous areas, NFPA 70E/EN 50110-1 isolation)
by their titles, from memory.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

import diagnose.loops.kinds  # noqa: F401  (registers the kinds)
from diagnose.inference.candidates import candidates
from diagnose.inference.cautions import (
    CAUTIONS,
    STANDING,
    areas,
    cautions_for,
    cautions_of,
    disturbs,
    needs_for,
)
from diagnose.inference.measurement import Applied, Jumper, Measurement
from diagnose.loops.kind import Kind
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet, load_type
from small_loop import LOOP, part

CABINET, FIELD = ("X21:7", "X20:0"), ("JB9:1", "JB9:2")
TRIP = replace(LOOP, role=frozenset({"trip", "control"}))
OFF = (Applied("G1", "off"),)
DRIVEN = (Applied("LT-214", "driven", 12e-3),)
LIFTED = (Applied("TB1", "lifted"),)


# --- the words -----------------------------------------------------------------------------------


@pytest.mark.parametrize("key", CAUTIONS)
def test_wording(key: str) -> None:
    """Never permission; always what it needs or when to stop; short enough to be read."""
    caution = CAUTIONS[key]
    assert caution.key == key
    assert not re.search(r"\b(un)?safe(ly)? (to|for|when|if)\b|\bis safe\b", caution.text, re.I)
    assert key == "defer" or re.search(r"\b([Nn]eeds|[Ss]top)\b", caution.text)
    assert len(caution.text) <= 200
    assert caution.family


def test_all_of_it_defers_to_people_and_rules() -> None:
    text = CAUTIONS["defer"].text.lower()
    assert all(word in text for word in ("site procedures", "local codes", "licensed person"))
    assert STANDING[0] == "defer"
    assert set(STANDING) <= set(CAUTIONS)


def test_red_ones_are_acknowledged() -> None:
    """Bypass, hazardous area, energy into it, final elements, process, injected signal."""
    red = {key for key, caution in CAUTIONS.items() if caution.acknowledge}
    assert {"trip", "zone", "added energy", "output", "process side", "inject", "earth"} <= red
    assert "live volts" not in red  # asked for at each reading, it would be read no more


def test_every_caution_of_every_kind_exists() -> None:
    for told in ("actions", "modes"):
        of_kinds = [each for kind in Kind.registry.values() for each in getattr(kind, told)]
        asked = {key for each in of_kinds for key in each.cautions}
        assert asked
        assert asked <= set(CAUTIONS)


# --- which step gets which -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("function", "points", "condition", "expected"),
    [
        ("V", CABINET, (), False),
        ("clamp", ("W3+",), (), False),
        ("shows", ("LIC-214",), (), False),
        ("process", (), (), False),
        ("mA", ("X21:3", "X21:4"), (), True),
        ("Vlow", CABINET, (), True),
        ("ohm", CABINET, OFF, True),
        ("V", CABINET, DRIVEN, True),
        ("V", CABINET, LIFTED, True),
        ("V", CABINET, (Jumper("X21:3", "X21:4"),), True),
    ],
)
def test_what_disturbs_the_loop_asks_for_bypass_and_manual(
    function: str, points: tuple[str, ...], condition: tuple[Applied | Jumper, ...], expected: bool
) -> None:
    step = Measurement(function, points, condition)
    assert disturbs(step, TRIP) is expected
    assert ({"trip", "manual"} <= set(cautions_for(step, TRIP))) is expected
    needs = ("operator told", "trip bypass authorised and recorded", "loop in manual")
    assert (needs_for(step, TRIP)[:3] == needs) is expected
    assert not {"trip", "manual"} & set(cautions_for(step, LOOP))  # it feeds neither


def test_volts_in_the_cabinet_need_nothing() -> None:
    step = Measurement("V", CABINET)
    assert cautions_for(step, TRIP) == ("live volts",)
    assert needs_for(step, TRIP) == ()


def test_looking_at_a_display_needs_nothing() -> None:
    """Even in a hazardous area, and even that of the transmitter."""
    assert cautions_for(Measurement("shows", ("LT-214",)), TRIP) == ()
    assert cautions_for(Measurement("process", ()), TRIP) == ()


@pytest.mark.parametrize(
    ("step", "area"),
    [
        (Measurement("V", CABINET), ()),
        (Measurement("V", FIELD), ("zone 2",)),
        (Measurement("V", ("JB9:2", "PE")), ("zone 2",)),
        (Measurement("clamp", ("W4+",)), ("zone 2",)),
        (Measurement("V", ("LT-214:+", "LT-214:-")), ("zone 1",)),
        (Measurement("shows", ("LIC-214",), DRIVEN), ("zone 1",)),
        (Measurement("V", CABINET, LIFTED), ("zone 2",)),
        (Measurement("V", CABINET, (Jumper("JB9:1", "JB9:2"),)), ("zone 2",)),
    ],
)
def test_hands_in_a_hazardous_area(step: Measurement, area: tuple[str, ...]) -> None:
    assert areas(step, TRIP) == area
    assert ("zone" in cautions_for(step, TRIP)) is bool(area)
    assert ("gas test and permit" in needs_for(step, TRIP)) is bool(area)


def test_no_ohms_in_the_zone_without_more_ado() -> None:
    """An ohms range is a source: it counts in the entity sum (IEC 60079-14, from memory)."""
    field, cabinet = Measurement("ohm", FIELD, OFF), Measurement("ohm", CABINET, OFF)
    assert "added energy" in cautions_for(field, TRIP)
    assert "added energy" not in cautions_for(cabinet, TRIP)
    for step in (field, cabinet):
        assert {"de-energise", "no insulation tester", "restore"} <= set(cautions_for(step, TRIP))
        assert "live volts" not in cautions_for(step, TRIP)
        assert "supply isolated, locked and proved dead" in needs_for(step, TRIP)


def test_what_was_done_brings_its_own() -> None:
    assert "open loop" in cautions_for(Measurement("V", CABINET, LIFTED), LOOP)
    assert "inject" in cautions_for(Measurement("V", CABINET, DRIVEN), LOOP)
    equalised = Measurement("shows", ("LT-214",), (Applied("LT-214", "equalised"),))
    assert "process side" in cautions_for(equalised, LOOP)
    assert "process connection isolated by operations" in needs_for(equalised, LOOP)
    jumped = Measurement("V", CABINET, (Jumper("X21:3", "X21:4"),))
    assert {"jumper", "live volts", "restore"} <= set(cautions_for(jumped, LOOP))


def test_meter_in_series() -> None:
    step = Measurement("mA", ("X21:3", "X21:4"))
    assert {"open loop", "series current", "restore"} <= set(cautions_for(step, LOOP))
    assert needs_for(step, LOOP) == ("operator told",)


def test_lifting_an_earth() -> None:
    """A termination in an earth wire is an earth, whatever else it is."""
    parts = (*LOOP.parts, part("TE", "termination", "X20:0 PE"))
    step = Measurement("V", CABINET, (Applied("TE", "lifted"),))
    assert "earth" in cautions_for(step, replace(LOOP, parts=parts))


@pytest.mark.parametrize(("kind", "mark"), [("switch_amplifier", "Uo"), ("proximity_sensor", "Ui")])
def test_what_a_sheet_marks_as_intrinsically_safe_brings_its_caution(kind: str, mark: str) -> None:
    """Uo stands on a source, Ui on a device of such a circuit (IEC 60079-11, from memory)."""
    loop = load_type("proximity-input")
    loop = replace(loop, places=tuple(replace(place, area="safe") for place in loop.places))
    step = next(c.measurement for c in candidates(loop) if c.measurement.function == "V")
    parts = tuple(
        replace(item, facts={mark: 10.0}) if item.kind.name == kind else item for item in loop.parts
    )
    marked = replace(loop, parts=parts)
    assert "intrinsic safety" not in {*cautions_for(step, loop), *cautions_of(loop)}
    assert "intrinsic safety" in cautions_for(step, marked)
    assert "intrinsic safety" in cautions_of(marked)


def test_a_switch_amplifier_that_feeds_a_hazardous_area_is_minded_without_its_marks() -> None:
    """There it is the usual way to a sensor (common practice, no source)."""
    loop = load_type("proximity-input")
    assert any(place.area == "zone 1" for place in loop.places)
    step = next(c.measurement for c in candidates(loop) if c.measurement.function == "V")
    assert "intrinsic safety" in cautions_for(step, loop)
    assert "intrinsic safety" in cautions_of(loop)
    assert "intrinsic safety" not in cautions_for(Measurement("shows", ("A2",)), loop)
    trip = load_type("trip")
    assert "intrinsic safety" not in cautions_of(trip)  # it feeds no area


def test_final_element() -> None:
    moves = replace(LOOP, role=frozenset({"output"}))
    assert "output" in cautions_for(Measurement("mA", ("X21:3", "X21:4")), moves)
    assert "output" not in cautions_for(Measurement("V", CABINET), moves)


def test_red_comes_first_and_each_is_known(plant: Path) -> None:
    """Every candidate of the demo loop; what people decide stands before what hands do."""
    loop: Loop = load_sheet(plant / "sheets" / "LT-214.toml")
    order = list(CAUTIONS)
    for candidate in candidates(loop):
        shown = cautions_for(candidate.measurement, loop)
        assert list(shown) == sorted(set(shown), key=order.index)
        red = [CAUTIONS[key].acknowledge for key in shown]
        assert red == sorted(red, reverse=True)
        disturbing = candidate.interrupts or candidate.moves_signal
        assert disturbs(candidate.measurement, loop) is disturbing


def test_to_turn_a_bypass_key_is_authorised_like_any_bypass() -> None:
    """It disturbs nobody, and leaves the plant without its trip (IEC 61511, by its title)."""
    loop = load_type("trip")
    key = Measurement("V", ("X26:5", "X26:6"), (Applied("S1", "bypassed"),))
    assert not disturbs(key, loop)
    assert needs_for(key, loop)[:2] == ("operator told", "trip bypass authorised and recorded")
    assert needs_for(replace(key, condition=()), loop) == ()


@pytest.mark.parametrize(
    ("step", "told"),
    [
        (Measurement("V", CABINET), {"live volts"}),
        (Measurement("VAC", CABINET), {"live volts"}),
        (Measurement("clamp", ("W3+",)), {"live volts"}),
        (Measurement("Vlow", CABINET), {"live volts", "low impedance"}),
        (Measurement("mA", ("X21:3", "X21:4")),
         {"live volts", "open loop", "series current", "restore"}),
        (Measurement("shows", ("LIC-214",)), set()),
        (Measurement("shows", ("LIC-214",), (Jumper("X21:3", "X21:4"),)),
         {"jumper", "live volts", "restore"}),
    ],
)  # fmt: skip
def test_the_whole_of_what_a_step_in_the_cabinet_is_told(step: Measurement, told: set[str]) -> None:
    """Fingers near live terminals whatever the meter does; a jumper is fitted by hand, and has to
    come off again (IEC 61010-2-033 and common practice, from memory).
    """
    assert {*cautions_for(step, LOOP)} == told


@pytest.mark.parametrize(
    ("step", "area"),
    [
        (Measurement("V", ("X21:7", "JB9:2")), ("zone 2",)),
        (Measurement("V", ("JB9:2", "X21:7")), ("zone 2",)),
        (Measurement("V", CABINET, (Jumper("X21:7", "JB9:2"),)), ("zone 2",)),
        (Measurement("V", CABINET, (Jumper("JB9:2", "X21:7"),)), ("zone 2",)),
        (Measurement("V", ("JB9:1", "LT-214:+")), ("zone 2", "zone 1")),
        (Measurement("V", FIELD, (Jumper("JB9:1", "JB9:2"),)), ("zone 2",)),
    ],
)
def test_either_lead_and_either_end_of_a_jumper_may_be_in_the_zone(
    step: Measurement, area: tuple[str, ...]
) -> None:
    """Each area is named once, and a place that is not classified is none."""
    assert areas(step, LOOP) == area
    assert {"zone", "enclosure"} <= {*cautions_for(step, LOOP)}


def test_a_wire_that_is_lifted_is_put_back_and_one_that_is_read_is_not() -> None:
    assert "restore" in cautions_for(Measurement("V", CABINET, LIFTED), LOOP)
    assert "restore" in cautions_for(Measurement("shows", ("LIC-214",), DRIVEN), LOOP)
    assert "restore" not in cautions_for(Measurement("V", CABINET), LOOP)


@pytest.mark.parametrize(
    ("role", "need", "caution"),
    [
        ("trip", "trip bypass authorised and recorded", "trip"),
        ("control", "loop in manual", "manual"),
        ("output", "final element isolated or blocked in", "output"),
    ],
)
def test_each_role_asks_for_its_own_and_for_nothing_else(
    role: str, need: str, caution: str
) -> None:
    """The operator is told first (IEC 61511-1 for the bypass, by its title; common practice)."""
    step, fed = Measurement("V", CABINET, LIFTED), replace(LOOP, role=frozenset({role}))
    asked = ("trip bypass authorised and recorded", "loop in manual",
             "final element isolated or blocked in")  # fmt: skip
    assert needs_for(step, fed)[0] == "operator told"
    assert [n for n in needs_for(step, fed) if n in asked] == [need]
    shown = {"trip", "manual", "output"} & {*cautions_for(step, fed)}
    assert shown == {caution} == {"trip", "manual", "output"} & {*cautions_of(fed)}
    assert needs_for(replace(step, condition=()), fed) == ()


def test_what_a_printed_sheet_says_whatever_is_measured() -> None:
    """A sheet is carried to where anything may be done: volts, ohms, a meter in series."""
    always = {"defer", "owner", "stop", "de-energise", "live volts", "series current",
              "no insulation tester", "restore"}  # fmt: skip
    plain = replace(LOOP, role=frozenset(), places=tuple(
        replace(place, area="safe") for place in LOOP.places
    ))  # fmt: skip
    assert {*cautions_of(plain)} == always
    assert always <= {*cautions_of(LOOP)}
    assert list(cautions_of(LOOP)) == [key for key in CAUTIONS if key in {*cautions_of(LOOP)}]


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("trip", ("bypass", "authorised", "recorded", "time-limited")),
        ("no trip", ("without this trip", "shift lead")),
        ("manual", ("controller", "manual", "operator")),
        ("zone", ("Hazardous area", "gas test", "permit", "certified")),
        ("enclosure", ("flameproof", "shut while live", "permit")),
        ("process side", ("isolate", "drain", "vent")),
        ("inject", ("one source only", "put back")),
        ("earth", ("permit", "one at a time", "put back")),
        ("jumper", ("shorts the loop", "take it off")),
        ("open loop", ("zero or off scale", "trips", "coil switched off first")),
        ("series current", ("fuse", "right jack", "short")),
        ("low impedance", ("load the loop", "may trip", "coil may pull in")),
        ("de-energise", ("isolated", "locked", "tagged", "proved dead", "prove the meter",
                         "on this supply or card")),
        ("no insulation tester", ("Stop before an insulation tester", "lifted at both ends",
                                  "destroy", "Discharge")),
        ("hot work", ("sources of ignition", "permit for hot work")),
        ("intrinsic safety", ("barrier earth stays while the field is connected",)),
        ("mains", ("person licensed", "category III", "nobody alone")),
        ("mains work", ("nothing is opened, lifted or joined live", "licensed person",
                        "proved dead on every pole")),
        ("live volts", ("slips is a short", "rated leads", "behind the guards", "category")),
        ("restore", ("links", "jumpers", "bypass off", "written down")),
        ("owner", ("what does this signal feed", "Tell the operator before and after")),
        ("stop", ("thunder", "working alone", "right loop")),
    ],
)  # fmt: skip
def test_what_each_caution_has_to_say(key: str, words: tuple[str, ...]) -> None:
    """What is usual in the trade for each (the standards that it names, by their titles, from
    memory): to prove a circuit dead takes locks, tags and a meter that is proved before and after.
    """
    assert not [word for word in words if word.casefold() not in CAUTIONS[key].text.casefold()]


def test_what_is_red_and_what_is_not() -> None:
    """Red is what can hurt people or the plant at once; a reminder of every reading is not."""
    red = {key for key, caution in CAUTIONS.items() if caution.acknowledge}
    assert {"manual", "enclosure", "by hand", "mains work"} <= red
    assert not red & {*STANDING, "restore", "jumper", "series current", "de-energise"}
