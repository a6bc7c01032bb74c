"""How every fault of an on-off output shows: volts at the coil, current, ohms of the coil, lamps.

Signatures are common practice, no source, where none is named; numbers are Ohm's law on paper for
the loop types as shipped: 24 V and a coil of 340 ohm, 230 V 50 Hz and a coil of 6.6 kohm with a
winding of 1.6 kohm.  What stands in the way when on is under 5 ohm, 30 ohm more for the triac.
"""

from __future__ import annotations

from math import inf, pi

import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_line
from diagnose.loops.kinds.discrete_outputs import suppressor_impedance
from diagnose.loops.sheet import load_type
from on_off import ALTERNATING, DIRECT, Stand

AT_COIL = {DIRECT: "V Y1:+ Y1:-", ALTERNATING: "VAC Y1:L Y1:N"}
AT_CARD = {DIRECT: "V A1:2 X20:0", ALTERNATING: "VAC A1:2 X20:0"}
AT_FUSE = {DIRECT: "V X21:1 X20:0", ALTERNATING: "VAC X21:1 X20:0"}
BEHIND_FUSE = {DIRECT: "V X21:2 X20:0", ALTERNATING: "VAC X21:2 X20:0"}
CLAMP = {DIRECT: "clamp W3+", ALTERNATING: "clamp W3L"}
OF_COIL = {
    DIRECT: "ohm Y1:+ Y1:- with G1 off and W4+.Y1 lifted",
    ALTERNATING: "ohm Y1:L Y1:N with G1 off and W4L.Y1 lifted",
}
RATED = {DIRECT: 24.0, ALTERNATING: 230.0}
MILLIAMPERES = {DIRECT: 1e3 * 24 / 344, ALTERNATING: 1e3 * 230 / 6634}
WINDING = {DIRECT: 340.0, ALTERNATING: 1600.0}
BOTH = (DIRECT, ALTERNATING)
LEADS = 0.2
"""Resistance of the meter's leads, ohm."""

on_both = pytest.mark.parametrize("name", BOTH)


def full(name: str, volts: float) -> bool:
    return 0.98 * RATED[name] < volts < 1.001 * RATED[name]


def sound_but_for_the_valve(stand: Stand, name: str, command: int) -> None:
    """Volts, current and ohms are right."""
    volts, clamp = stand.reads(command, AT_COIL[name]), stand.reads(command, CLAMP[name])
    if command:
        assert full(name, volts)
        assert clamp == pytest.approx(MILLIAMPERES[name], rel=0.01)
    else:
        assert volts < 0.06 * RATED[name]
        assert clamp < 0.06 * MILLIAMPERES[name]
    assert stand.reads(command, OF_COIL[name]) == pytest.approx(WINDING[name] + LEADS, rel=1e-3)


# --- the sound loop ------------------------------------------------------------------------------


@on_both
@pytest.mark.parametrize("command", [0, 1])
def test_a_sound_loop_does_what_it_is_told(name: str, command: int) -> None:
    stand = Stand(name)
    sound_but_for_the_valve(stand, name, command)
    assert stand.lit(command, "HS", "A1", "XV", "ZO") == (bool(command),) * 4
    assert stand.lit(command, "ZC") == (not command,)
    assert stand.gauge(command, "PA") == pytest.approx(550)
    assert stand.gauge(command, "PS") == pytest.approx(550 * command)


@on_both
def test_a_person_commands_it_whatever_the_plant_wants(name: str) -> None:
    stand = Stand(name)
    assert full(name, stand.reads(0, f"{AT_COIL[name]} with HS commanded on"))
    assert stand.reads(1, f"{AT_COIL[name]} with HS commanded off") < 0.06 * RATED[name]
    assert stand.lit(0, "ZO with HS commanded on") == (True,)
    assert stand.lit(1, "ZO with HS commanded off") == (False,)


# --- every row of the table ----------------------------------------------------------------------


@on_both
def test_coil_open(name: str) -> None:
    """Full volts when on, no current, the winding reads open."""
    stand = Stand(name, "Y1: open")
    assert full(name, stand.reads(1, AT_COIL[name]))
    assert stand.reads(1, CLAMP[name]) < 0.05
    assert stand.reads(1, OF_COIL[name]) == inf
    assert stand.lit(1, "ZO") == (False,)


@on_both
def test_an_open_coil_lets_the_valve_go_although_leakage_gives_it_volts(name: str) -> None:
    stand = Stand(name, "Y1: open")
    assert stand.reads(0, AT_COIL[name]) > 0.5 * RATED[name]
    assert stand.lit(0, "ZO") == (False,)


@on_both
@pytest.mark.parametrize("ohms", [0.5, 10.0])
def test_coil_burnt_to_a_short(name: str, ohms: float) -> None:
    """The fuse is blown: volts before it, none at the coil; the winding reads low."""
    stand = Stand(name, "Y1: short", ohms)
    assert full(name, stand.reads(1, AT_FUSE[name]))
    assert stand.reads(1, BEHIND_FUSE[name]) < 0.01
    assert stand.reads(1, AT_COIL[name]) < 0.01
    assert stand.reads(1, OF_COIL[name]) == pytest.approx(ohms + LEADS, rel=1e-3)


@on_both
@pytest.mark.parametrize("fault", ["F2: open", "LK1: open"])
def test_fuse_blown_or_link_open(name: str, fault: str) -> None:
    """No volts at the coil, volts before it, and the winding reads right."""
    stand = Stand(name, fault)
    assert full(name, stand.reads(1, AT_FUSE[name]))
    assert stand.reads(1, AT_COIL[name]) < 0.1
    assert stand.reads(1, CLAMP[name]) < 0.05
    assert stand.reads(1, OF_COIL[name]) == pytest.approx(WINDING[name] + LEADS, rel=1e-3)
    assert stand.lit(1, "A1", "ZO") == (True, False)


@on_both
def test_channel_does_not_switch_on(name: str) -> None:
    """Its lamp is lit, its feed is there, its output is dead; a blown feed fuse takes the feed."""
    stand = Stand(name, "A1: stuck off")
    feed = AT_CARD[name].replace("A1:2", "A1:1")
    assert stand.lit(1, "A1", "ZO") == (True, False)
    assert full(name, stand.reads(1, feed))
    assert stand.reads(1, AT_CARD[name]) < 0.06 * RATED[name]
    assert stand.reads(1, OF_COIL[name]) == pytest.approx(WINDING[name] + LEADS, rel=1e-3)
    assert Stand(name, "F1: open").reads(1, feed) < 0.06 * RATED[name]


@on_both
def test_channel_does_not_switch_off(name: str) -> None:
    """A shorted output stage: rated volts and current all the time, and the winding is right."""
    stand = Stand(name, "A1: stuck on")
    assert full(name, stand.reads(0, AT_COIL[name]))
    assert stand.reads(0, CLAMP[name]) == pytest.approx(MILLIAMPERES[name], rel=0.01)
    assert stand.lit(0, "A1", "ZO") == (False, True)


@on_both
def test_a_force_left_at_the_card_shows_on_its_lamp(name: str) -> None:
    """Unlike a failed output stage, whose lamp says what it was told."""
    assert Stand(name, "A1: forced off").lit(1, "HS", "A1", "ZO") == (True, False, False)
    assert Stand(name, "A1: forced on").lit(0, "HS", "A1", "ZO") == (False, True, True)


@on_both
def test_a_dead_card_is_told_nothing(name: str) -> None:
    """Feed in, nothing out, and the lamp is dark though the command is on."""
    stand = Stand(name, "A1: card dead")
    assert stand.lit(1, "HS", "A1", "ZO") == (True, False, False)
    assert full(name, stand.reads(1, AT_CARD[name].replace("A1:2", "A1:1")))
    assert stand.reads(1, AT_CARD[name]) < 0.06 * RATED[name]


@on_both
def test_volt_drop_on_the_way(name: str) -> None:
    """Under 85 % of the rated volts at the coil when on; the current is low, the winding right."""
    core = {DIRECT: "W3+", ALTERNATING: "W3L"}[name]
    ohms = {DIRECT: 140.0, ALTERNATING: 3000.0}[name]
    stand = Stand(name, f"{core}: high resistance", ohms)
    assert stand.reads(1, AT_COIL[name]) < 0.85 * RATED[name]
    assert stand.reads(1, CLAMP[name]) < 0.85 * MILLIAMPERES[name]
    assert full(name, stand.reads(1, AT_CARD[name]))
    assert stand.reads(1, OF_COIL[name]) == pytest.approx(WINDING[name] + LEADS, rel=1e-3)
    assert stand.lit(1, "ZO") == (False,)


@on_both
@pytest.mark.parametrize("share", [0.5, 4.6])
def test_coil_of_the_wrong_voltage(name: str, share: float) -> None:
    """The volts are right; current and winding are those of the same watts at other volts."""
    stand = Stand(name, "Y1: wrong coil", share)
    assert stand.reads(1, CLAMP[name]) == pytest.approx(MILLIAMPERES[name] / share**2, rel=0.05)
    assert stand.reads(1, OF_COIL[name]) == pytest.approx(
        LEADS + WINDING[name] * share**2, rel=1e-3
    )
    assert stand.reads(1, AT_COIL[name]) > 0.94 * RATED[name]
    assert stand.lit(1, "ZO") == (share < 1,)


@pytest.mark.parametrize(("fault", "ohms"), [("V1: short", 0.3), ("V1: reversed", 340.0)])
def test_suppressor_diode_shorted_or_turned_round(fault: str, ohms: float) -> None:
    """The fuse blows on switching on; 1.2 V behind 10 kohm is too little to open a diode."""
    stand = Stand(DIRECT, fault, 0.3)
    assert full(DIRECT, stand.reads(1, AT_FUSE[DIRECT]))
    assert stand.reads(1, BEHIND_FUSE[DIRECT]) < 0.01
    assert stand.reads(1, CLAMP[DIRECT]) < 0.05
    assert stand.reads(1, OF_COIL[DIRECT]) == pytest.approx(ohms + LEADS, rel=2e-3)


def test_a_turned_diode_shorts_the_coil_while_the_fuse_holds() -> None:
    """So it is what blew it: a fuse of 0.5 ohm bridged, 23.3 V over about 5 ohm in the way."""
    stand = Stand(DIRECT, "V1: reversed", 0.0, {("F2", "resistance"): 0.5})
    assert stand.reads(1, AT_COIL[DIRECT]) == pytest.approx(0.7 + 0.5 * 4.2, abs=0.5)
    assert stand.reads(1, CLAMP[DIRECT]) > 2e3


@on_both
@pytest.mark.parametrize(
    ("fault", "command", "outlet", "pointer"),
    [
        ("SV: stuck shut", 1, 0, False),
        ("SV: stuck over", 0, 550, True),
        ("SV: exhaust plugged", 0, 550, True),
        ("MO: left on", 0, 550, True),
        ("AS: lost", 1, 27.5, False),
        ("AS: low", 1, 27.5, False),
        ("XV: stuck shut", 1, 550, False),
        ("XV: stuck open", 0, 0, True),
    ],
)
def test_fed_rightly_but_the_valve_does_not_follow(
    name: str, fault: str, command: int, outlet: float, pointer: bool
) -> None:
    """Spool, air, exhaust, override or valve: volts, current and ohms say nothing of it."""
    stand = Stand(name, fault, 0.05)
    sound_but_for_the_valve(stand, name, command)
    assert stand.gauge(command, "PS") == pytest.approx(outlet)
    assert stand.lit(command, "XV", "ZO", "ZC") == (pointer, pointer, not pointer)
    assert stand.lit(command, "MO") == (fault.startswith("MO"),)
    assert stand.gauge(command, "PA") == pytest.approx(27.5 if fault.startswith("AS") else 550)


@on_both
def test_an_armature_that_jams_is_fed_and_does_nothing(name: str) -> None:
    """For alternating current it draws its inrush all the time and burns."""
    stand = Stand(name, "Y1: jammed", 0.4)
    more = {DIRECT: 1.0, ALTERNATING: 1 / 0.4}[name]
    assert stand.reads(1, CLAMP[name]) == pytest.approx(more * MILLIAMPERES[name], rel=0.02)
    assert stand.gauge(1, "PS") == 0
    assert stand.reads(1, OF_COIL[name]) == pytest.approx(WINDING[name] + LEADS, rel=1e-3)


@on_both
def test_a_lamp_that_lies_is_contradicted_by_the_other_and_by_the_pointer(name: str) -> None:
    assert Stand(name, "ZO: stuck dark").lit(1, "ZO", "ZC", "XV") == (False, False, True)
    assert Stand(name, "ZO: stuck lit").lit(0, "ZO", "ZC", "XV") == (True, True, False)


@on_both
@pytest.mark.parametrize("command", [0, 1])
def test_a_valve_that_stands_part_way_lights_neither_lamp(name: str, command: int) -> None:
    """Each limit switch lets go well before half of the travel (common practice, no source)."""
    stand = Stand(name, "XV: stuck part way", 0.5)
    sound_but_for_the_valve(stand, name, command)
    assert stand.lit(command, "ZO", "ZC") == (False, False)
    assert stand.gauge(command, "PS") == pytest.approx(550 * command)


@on_both
@pytest.mark.parametrize("fault", ["I.W3: short", "E.JB9: earthed"])
def test_a_short_in_the_field_blows_the_channel_fuse(name: str, fault: str) -> None:
    stand = Stand(name, fault, 1.0)
    assert full(name, stand.reads(1, AT_FUSE[name]))
    assert stand.reads(1, BEHIND_FUSE[name]) < 0.01
    far = "JB9:2" if fault.startswith("I") else "PE"
    assert stand.reads(1, f"ohm JB9:1 {far} with G1 off") < 5


def test_a_leaking_transistor_holds_a_coil_that_was_on() -> None:
    """24 V over 1 kohm and 340 ohm leave 6.1 V, just above the drop-out of a quarter."""
    stand = Stand(DIRECT, "A1: leakage", 1000.0)
    assert stand.reads(0, AT_COIL[DIRECT]) == pytest.approx(24 * 340 / 1344, rel=0.01)
    assert stand.lit(0, "ZO") == (True,)
    assert Stand(DIRECT, "A1: leakage", 1100.0).lit(0, "ZO") == (False,)


# --- alternating current -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("microfarads", "volts", "hertz", "milliamperes"),
    [(0.1, 120, 60, 4.5), (0.047, 230, 50, 3.4), (0.1, 230, 50, 7.2)],
)
def test_what_a_suppressor_leaks(
    microfarads: float, volts: float, hertz: float, milliamperes: float
) -> None:
    """I = 2 pi f C U, on paper; its resistor of 100 ohm does not count."""
    ohms = suppressor_impedance(microfarads * 1e-6, 100.0, hertz)
    assert 1e3 * volts / ohms == pytest.approx(2e-3 * pi * hertz * microfarads * volts, rel=1e-4)
    assert 1e3 * volts / ohms == pytest.approx(milliamperes, abs=0.06)


@pytest.mark.parametrize(("volts", "milliamperes"), [(120, 2.1), (240, 4.3)])
def test_published_leakage_of_a_suppressor_network(volts: float, milliamperes: float) -> None:
    """Output modules for 60 Hz are published with 2.1 mA at 120 V and 4.3 mA at 240 V (manuals of
    makers); that is 47 nF.
    """
    ohms = suppressor_impedance(47e-9, 100.0, 60.0)
    assert 1e3 * volts / ohms == pytest.approx(milliamperes, abs=0.06)


@pytest.mark.parametrize("share", [0.15, 0.25, 0.5])
def test_off_state_leakage(share: float) -> None:
    """Some milliamperes and 5 to 60 V at the coil; nearly all of the mains where no load is."""
    fault = "K1: leakage"
    stand = Stand(ALTERNATING, fault, share)
    assert 1.5 < stand.reads(0, CLAMP[ALTERNATING]) < 9.5
    assert 5 < stand.reads(0, AT_COIL[ALTERNATING]) < 60
    alone = f"{AT_COIL[ALTERNATING].replace('Y1:L Y1:N', 'X21:3 X20:0')} with W3L.X21 lifted"
    assert stand.reads(0, alone) > 0.95 * 230
    assert stand.reads(0, alone.replace("VAC", "Vlow")) < 0.5 * 230
    assert stand.reads(0, OF_COIL[ALTERNATING]) == pytest.approx(1600 + LEADS, rel=1e-3)


def test_a_low_power_coil_stays_held_where_a_large_one_lets_go() -> None:
    """2 VA against 8 VA at 3.4 mA of leakage: 26.4 kohm takes 65 V, 6.6 kohm takes 20."""
    leaks = {("K1", "impedance"): 230 / 3.4e-3}
    small = leaks | {("Y1", "impedance"): 230**2 / 2.0}
    large, low_power = Stand(ALTERNATING, besides=leaks), Stand(ALTERNATING, besides=small)
    assert large.lit(0, "ZO") == (False,)
    assert low_power.lit(0, "ZO") == (True,)
    assert low_power.reads(0, AT_COIL[ALTERNATING]) > 0.25 * 230
    bled = small | {("I.Y1", "resistance"): 10e3}
    assert Stand(ALTERNATING, besides=bled).lit(0, "ZO") == (False,)  # a bleeder cures it


def test_ghost_volts_stand_on_an_open_wire_and_vanish_at_low_impedance() -> None:
    """20 to 100 V on 10 megohms, nothing at low impedance, no current."""
    stand, ghost = Stand(ALTERNATING, "W3L: open"), "VAC X21:3 X20:0 with LK1 open"
    assert 20 < stand.reads(0, ghost) < 100
    assert stand.reads(0, ghost.replace("VAC", "Vlow")) < 0.1
    assert stand.reads(0, CLAMP[ALTERNATING]) < 0.01
    sound = Stand(ALTERNATING)
    assert sound.reads(0, ghost) < 0.1  # the coil holds the wire


def test_volts_that_are_real_stay_at_low_impedance() -> None:
    """3 kohm behind a triac of 30 ohm: 1 % less; behind its leakage most of them go."""
    stand = Stand(ALTERNATING)
    real, low = (stand.reads(1, f"{word} X21:3 X20:0") for word in ("VAC", "Vlow"))
    assert low > 0.98 * real
    leak, low = (stand.reads(0, f"{word} X21:3 X20:0") for word in ("VAC", "Vlow"))
    assert low < 0.4 * leak


def test_direct_volts_read_nothing_on_an_alternating_loop_and_signs_are_not_shown() -> None:
    stand = Stand(ALTERNATING)
    assert stand.reads(1, "V X21:3 X20:0") == 0
    assert stand.reads(1, "VAC X20:0 X21:3") == stand.reads(1, "VAC X21:3 X20:0") > 228
    assert stand.reads(1, "mA X21:2 X21:1") > 34


def test_a_shorted_suppressor_bridges_the_triac() -> None:
    stand = Stand(ALTERNATING, "K1: short", 100.0)
    assert stand.reads(0, AT_COIL[ALTERNATING]) == pytest.approx(230 * 6600 / 6705, rel=0.01)
    assert stand.lit(0, "A1", "ZO") == (False, True)
    assert stand.reads(0, "ohm A1:1 A1:2 with G1 off") == pytest.approx(100, rel=0.01)


# --- and what is made of it ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "lines", "leads"),
    [
        (DIRECT, ("V X21:3 X20:0 23.9", "clamp W3+ 0.02"), {("Y1", "open"), ("LK2", "open")}),
        (DIRECT, ("V X21:1 X20:0 23.95", "V X21:2 X20:0 0.00"), {("F2", "open"), ("Y1", "short")}),
        (DIRECT, ("V A1:1 X20:0 23.97", "V A1:2 X20:0 0.03"), {("A1", "stuck off")}),
        (
            DIRECT,
            ("A1 dark", "V A1:1 X20:0 23.97", "V A1:2 X20:0 0.03"),
            {("A1", "card dead"), ("A1", "forced off")},
        ),
        (DIRECT, ("clamp W3+ 69.5", "PA 20 kPa"), {("AS", "lost")}),
        (DIRECT, ("clamp W3+ 69.5", "PA 550 kPa", "PS 0 kPa"), {("SV", "stuck shut")}),
        (DIRECT, ("clamp W3+ 69.5", "PS 550 kPa", "XV dark"), {("XV", "stuck shut")}),
        (ALTERNATING, ("VAC A1:1 X20:0 229", "VAC A1:2 X20:0 11.4"), {("A1", "stuck off")}),
        (ALTERNATING, ("VAC Y1:L Y1:N 228", "clamp W3L 92"), {("Y1", "jammed")}),
    ],
)
def test_readings_lead_to_the_fault(
    name: str, lines: tuple[str, ...], leads: set[tuple[str, str]]
) -> None:
    """A valve that stays shut, its command on; then what the technician would read."""
    loop = load_type(name)
    told = ("complaint stays off", "HS lit", "ZO dark", "ZC lit", *lines)
    ranking = Engine(loop).rank([parse_line(line, loop) for line in told])
    assert (ranking.hypotheses[0].part, ranking.hypotheses[0].fault) in leads
    assert ranking.unexplained < 0.06


@pytest.mark.parametrize("name", BOTH)
def test_both_lamps_dark_speak_of_the_valve_before_a_switch(name: str) -> None:
    """A valve that hangs, then a limit switch: common practice, no source."""
    loop = load_type(name)
    told = ("complaint stays off", "HS lit", "A1 lit", "ZO dark", "ZC dark")
    ranking = Engine(loop).rank([parse_line(line, loop) for line in told])
    first, second = ranking.hypotheses[:2]
    assert (first.part, first.fault) == ("XV", "stuck part way")
    assert (second.part, second.fault) == ("ZO", "stuck dark")
    assert ranking.unexplained < 0.1


@pytest.mark.parametrize("name", BOTH)
def test_a_dark_channel_lamp_speaks_of_an_interlock_first(name: str) -> None:
    """The first question at an output that does not come: what holds it (common practice)."""
    loop = load_type(name)
    told = ("complaint stays off", "HS lit", "A1 dark")
    ranking = Engine(loop).rank([parse_line(line, loop) for line in told])
    first = ranking.hypotheses[0]
    assert (first.part, first.fault) == ("A1", "forced off")


@pytest.mark.parametrize("name", BOTH)
def test_an_override_is_found_by_looking(name: str) -> None:
    loop = load_type(name)
    told = ("complaint stays on", "HS dark", "ZO lit", "A1 dark", "MO on")
    first = Engine(loop).rank([parse_line(line, loop) for line in told]).hypotheses[0]
    assert (first.part, first.fault) == ("MO", "left on")
    assert first.probability > 0.9


def test_a_leaking_suppressor_is_told_from_a_shorted_triac() -> None:
    loop = load_type(ALTERNATING)
    told = ["complaint stays on", "HS dark", "ZO lit", "VAC X21:3 X20:0 71", "Vlow X21:3 X20:0 30"]
    first = Engine(loop).rank([parse_line(line, loop) for line in told]).hypotheses[0]
    assert (first.part, first.fault) in {("K1", "leakage"), ("A1", "leakage")}
