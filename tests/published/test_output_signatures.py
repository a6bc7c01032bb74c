"""What each fault of an output loop makes of volts, current, pressure and stem.

Common practice, no source, for which fault does what: the rows of a fault table of the trade.  The
numbers beside them are Ohm's law and levers on paper, with the values of the two loop types: 18 V
compliance, 300 ohm limiter, 176 ohm coil, 20-100 kPa from 140 kPa; a positioner of 9 V and 50 ohm
on an actuator of 80-240 kPa from 400 kPa.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import pytest

from diagnose.circuit.operating import OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.loops.sheet import load_type
from diagnose.terminal.indications import indications
from spice import moved

IP, POSITIONER = "current-output", "positioner-output"
DEVICE = {IP: "LY", POSITIONER: "ZC"}
LOOPS = [IP, POSITIONER]


@cache
def machine(name: str) -> Predictor:
    return Predictor(load_type(name))


@dataclass(frozen=True)
class Seen:
    """A loop with one fault at one controller output."""

    name: str
    point: OperatingPoint
    value: dict[str, float]
    lit: dict[str, bool | None]

    def volts(self, a: str, b: str) -> float:
        return self.point.voltages[a] - self.point.voltages[b]

    @property
    def card(self) -> float:
        return self.volts("K1:+", "K1:-")

    @property
    def device(self) -> float:
        return self.volts(f"{DEVICE[self.name]}:+", f"{DEVICE[self.name]}:-")

    @property
    def at_card(self) -> float:
        """Current that the card drives, A."""
        return self.point.currents["LK1"]

    @property
    def at_device(self) -> float:
        return self.point.currents[DEVICE[self.name]]

    @property
    def outlet(self) -> float:
        return self.value["PG2"]

    @property
    def stem(self) -> float:
        return self.value["CV"]


def see(name: str, process: float, part: str = "", fault: str = "", severity: float = 0.0) -> Seen:
    loop, changes = machine(name).loop, {}
    if part:
        owner = loop.part(part)
        changes = moved(loop, owner, owner.kind.mode(fault).changes, severity)
    point = operating_point(loop, changes, process, None, machine(name))
    told = [*indications(machine(name), point)]
    return Seen(name, point, {i.part: i.value for i in told}, {i.part: i.lit for i in told})


def electrically_sound(seen: Seen, sound: Seen) -> None:
    """Volts and currents are those of the sound loop."""
    assert seen.point.voltages == pytest.approx(sound.point.voltages, abs=1e-6)
    assert seen.at_device == pytest.approx(sound.at_device, abs=1e-9)


# -- open ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", LOOPS)
@pytest.mark.parametrize("part", ["W3+", "W4-", "LK1", "F1", "W4+.JB9"])
def test_open_wire_or_link(name: str, part: str) -> None:
    seen = see(name, 0.5, part, "open")
    assert 18 < seen.card < 19
    assert abs(seen.device) < 0.02
    assert abs(seen.at_device) < 1e-6
    assert (seen.outlet, seen.stem) == (pytest.approx(0, abs=1), 0.0)
    assert seen.lit["K1"]


@pytest.mark.parametrize("name", LOOPS)
def test_open_device_has_all_the_volts(name: str) -> None:
    seen = see(name, 0.5, DEVICE[name], "open")
    assert seen.device == pytest.approx(seen.card, abs=0.01)
    assert seen.device > 18
    assert abs(seen.at_device) < 1e-6
    assert (seen.outlet, seen.stem) == (pytest.approx(0, abs=1), 0.0)


@pytest.mark.parametrize("name", LOOPS)
def test_the_place_of_an_open_is_where_the_volts_stop(name: str) -> None:
    seen = see(name, 0.5, "W4+", "open")
    assert seen.volts("JB9:1", "JB9:2") == pytest.approx(seen.card, abs=0.01)
    assert abs(seen.device) < 0.02


# -- short, shunt ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", LOOPS)
@pytest.mark.parametrize("part", ["I.W3", "I.JB9", "I.W4"])
def test_shorted_cores_take_the_right_current_past_the_device(name: str, part: str) -> None:
    """12 mA over 1 ohm leave 12 mV."""
    sound, seen = see(name, 0.5), see(name, 0.5, part, "short", 1.0)
    assert seen.at_card == pytest.approx(sound.at_card, rel=1e-3)
    assert seen.device < 0.013
    assert seen.card < sound.card - 1.5
    assert seen.at_device < 0.1e-3
    assert seen.stem == 0.0
    assert seen.outlet < 1e3


def test_shorted_turns_of_a_coil() -> None:
    """A tenth of the turns: a tenth of 2.112 V, and the pull of 1.2 mA, which is under zero."""
    seen = see(IP, 0.5, "LY", "shorted turns", 0.1)
    assert seen.at_device == pytest.approx(12e-3, rel=1e-3)
    assert seen.device == pytest.approx(0.2112, rel=1e-3)
    assert seen.outlet == pytest.approx(20e3 + 80e3 * (1.2 - 4) / 16, rel=1e-3)


def test_water_in_the_head_of_a_transducer() -> None:
    """352 ohm beside 176 ohm: two thirds of 12 mA, 8 mA, through the coil."""
    sound, seen = see(IP, 0.5), see(IP, 0.5, "I.LY", "leakage", 352.0)
    assert seen.at_card == pytest.approx(12e-3, rel=1e-3)
    assert seen.at_device == pytest.approx(8e-3, rel=1e-3)
    assert seen.device == pytest.approx(sound.device * 2 / 3, rel=1e-3)
    assert seen.card < sound.card
    assert seen.outlet == pytest.approx(40e3, rel=2e-3)


def test_water_in_the_head_of_a_positioner_hardly_moves_the_volts() -> None:
    """9.5 V over 2 kohm take nearly 5 mA; volts fall by 5 mA * 50 ohm."""
    sound, seen = see(POSITIONER, 0.5), see(POSITIONER, 0.5, "I.ZC", "leakage", 2e3)
    assert seen.at_card == pytest.approx(12e-3, rel=1e-3)
    lost = seen.at_card - seen.at_device
    assert lost == pytest.approx(seen.device / 2e3, rel=1e-3)
    assert sound.device - seen.device == pytest.approx(lost * 50, rel=1e-2)
    assert seen.stem == pytest.approx(0.5 - lost / 16e-3, abs=2e-3)


def test_a_failed_input_of_a_positioner_takes_its_volts() -> None:
    seen = see(POSITIONER, 0.5, "ZC", "input shorted", 20.0)
    assert seen.device == pytest.approx(12e-3 * 20, rel=1e-3)
    assert (seen.outlet, seen.stem) == (0.0, 0.0)


def test_a_dead_positioner_holds_its_volts_and_lets_its_air_go() -> None:
    sound, seen = see(POSITIONER, 0.5), see(POSITIONER, 0.5, "ZC", "dead")
    electrically_sound(seen, sound)
    assert (seen.outlet, seen.stem, seen.value["PG1"]) == (0.0, 0.0, 400e3)


# -- the card --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", LOOPS)
@pytest.mark.parametrize(
    ("fault", "severity", "milliamperes"),
    [
        ("failed low", 0.0, 0.0),
        ("failed high", 0.0, 22.0),
        ("frozen", 0.25, 8.0),
        ("output error", 2e-3, 14.0),
        ("split range low", 0.0, 20.0),
        ("split range high", 0.0, 4.0),
    ],
)
def test_a_card_that_is_wrong(name: str, fault: str, severity: float, milliamperes: float) -> None:
    """The controller shows 50 %; everything behind the card follows the current."""
    seen = see(name, 0.5, "K1", fault, severity)
    assert seen.value["ST"] == 0.5
    assert seen.at_device * 1e3 == pytest.approx(milliamperes, abs=0.02)
    due = min(max((milliamperes - 4) / 16, 0), 1)
    assert seen.stem == pytest.approx(due, abs=2e-3)


@pytest.mark.parametrize("name", LOOPS)
def test_a_card_turned_round(name: str) -> None:
    assert see(name, 0.2, "K1", "direction").stem == pytest.approx(0.8, abs=1e-3)


@pytest.mark.parametrize("name", LOOPS)
@pytest.mark.parametrize(
    ("part", "fault", "severity"),
    [("K1", "weak", 7.0), ("W3+.X21", "high resistance", 900.0), ("LK2", "high resistance", 900.0)],
)
def test_volts_that_do_not_reach_clip_the_top(
    name: str, part: str, fault: str, severity: float
) -> None:
    """7 V are enough for 4 mA through the coil loop; the positioner starves at once."""
    if name == POSITIONER and fault == "weak":
        severity = 9.7
    low, high = (see(name, process, part, fault, severity) for process in (0.05, 1.0))
    assert low.stem == pytest.approx(0.05, abs=2e-3)
    assert high.stem < 0.9
    assert (low.lit["K1"], high.lit["K1"]) == (False, True)
    assert high.at_card < 18.5e-3
    assert high.card == pytest.approx(18.0 if part != "K1" else severity, abs=1.0)


# -- polarity --------------------------------------------------------------------------------------


@pytest.mark.parametrize("pair", ["W3", "W4"])
def test_swapped_cores_at_a_coil(pair: str) -> None:
    """The card sees a sound loop; the sign at the device is turned, and the coil pulls away."""
    sound, seen = see(IP, 0.5), see(IP, 0.5, pair, "swapped")
    assert seen.card == pytest.approx(sound.card, rel=1e-3)
    assert seen.device == pytest.approx(-sound.device, rel=1e-3)
    assert seen.at_card == pytest.approx(12e-3, rel=1e-3)
    assert seen.outlet < 20e3
    assert seen.stem == 0.0


@pytest.mark.parametrize("pair", ["W3", "W4"])
def test_swapped_cores_at_a_positioner(pair: str) -> None:
    """Its diode takes the current: 0.7 V and 12 mA * 10 ohm, the wrong way round."""
    seen = see(POSITIONER, 0.5, pair, "swapped")
    assert seen.device == pytest.approx(-0.82, abs=0.005)
    assert seen.at_card == pytest.approx(12e-3, rel=1e-3)
    assert (seen.outlet, seen.stem) == (0.0, 0.0)


def test_the_junction_box_tells_which_pair_is_swapped() -> None:
    near, far = (see(IP, 0.5, pair, "swapped").volts("JB9:1", "JB9:2") for pair in ("W3", "W4"))
    assert near < -1 < 1 < far


# -- air, nozzle, tube -----------------------------------------------------------------------------


@pytest.mark.parametrize("name", LOOPS)
def test_air_lost(name: str) -> None:
    sound, seen = see(name, 0.7), see(name, 0.7, "AS", "lost", 0.0)
    electrically_sound(seen, sound)
    assert (seen.value["PG1"], seen.outlet, seen.stem) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(("process", "due"), [(0.25, 0.25), (0.5, 0.5), (0.75, 0.5), (1.0, 0.5)])
def test_a_regulator_set_too_low_limits_the_pressure(process: float, due: float) -> None:
    """60 kPa of 140 kPa: no more than the middle of 20-100 kPa."""
    sound, seen = see(IP, process), see(IP, process, "AS", "low", 60 / 140)
    electrically_sound(seen, sound)
    assert seen.value["PG1"] == pytest.approx(60e3)
    assert seen.stem == pytest.approx(due, abs=1e-3)


@pytest.mark.parametrize(("process", "due"), [(0.25, 0.25), (0.75, 0.5), (1.0, 0.5)])
def test_a_positioner_short_of_air_stops_half_way(process: float, due: float) -> None:
    """160 kPa of 400 kPa: the middle of 80-240 kPa."""
    seen = see(POSITIONER, process, "AS", "low", 160 / 400)
    assert seen.value["PG1"] == pytest.approx(160e3)
    assert seen.stem == pytest.approx(due, abs=1e-3)


@pytest.mark.parametrize("process", [0.0, 0.5, 1.0])
def test_plugged_nozzle_and_plugged_restriction_stand_still(process: float) -> None:
    sound = see(IP, process)
    nozzle = see(IP, process, "LY.P", "nozzle plugged", 0.9)
    restriction = see(IP, process, "LY.P", "restriction plugged", 8e3)
    electrically_sound(nozzle, sound)
    electrically_sound(restriction, sound)
    assert (nozzle.outlet, nozzle.stem) == (pytest.approx(0.9 * 140e3), 1.0)
    assert (restriction.outlet, restriction.stem) == (pytest.approx(8e3), 0.0)


@pytest.mark.parametrize(
    ("fault", "outlet", "stem"), [("relay low", 0, 0), ("relay high", 400e3, 1)]
)
def test_the_relay_of_a_positioner(fault: str, outlet: float, stem: float) -> None:
    seen = see(POSITIONER, 0.5, "CV", fault)
    electrically_sound(seen, see(POSITIONER, 0.5))
    assert (seen.outlet, seen.stem) == (outlet, stem)


def test_zero_and_span_of_a_transducer() -> None:
    """A shift is the same everywhere, a span error grows with the signal."""
    zero = [see(IP, p, "LY.P", "zero error", 0.1).outlet - see(IP, p).outlet for p in (0.2, 0.8)]
    span = [see(IP, p, "LY.P", "span error", 0.1).outlet - see(IP, p).outlet for p in (0.2, 0.8)]
    assert zero == pytest.approx([8e3, 8e3], rel=1e-3)
    assert span == pytest.approx([1.6e3, 6.4e3], rel=1e-2)


@pytest.mark.parametrize(("part", "fault"), [("T1", "leak"), ("CV", "diaphragm leaking")])
def test_a_leak_behind_the_transducer(part: str, fault: str) -> None:
    """A quarter lost of 60 kPa: 45 kPa, 31 % of travel; the outlet is right."""
    sound, seen = see(IP, 0.5), see(IP, 0.5, part, fault, 0.25)
    electrically_sound(seen, sound)
    assert seen.outlet == pytest.approx(60e3, rel=1e-3)
    assert seen.value["PG3"] == pytest.approx(45e3, rel=1e-3)
    assert seen.stem == pytest.approx(25 / 80, abs=1e-3)


@pytest.mark.parametrize("process", [0.1, 0.9])
def test_a_blocked_tube_holds_its_pressure(process: float) -> None:
    seen = see(IP, process, "T1", "blocked", 52e3)
    assert seen.outlet == pytest.approx(20e3 + 80e3 * process, rel=1e-3)
    assert (seen.value["PG3"], seen.stem) == (pytest.approx(52e3), pytest.approx(0.4))


def test_a_positioner_makes_up_for_a_leak_until_its_air_is_used_up() -> None:
    """Half of 400 kPa lost: 200 kPa, which hold 75 % of travel."""
    below, above = (see(POSITIONER, p, "CV", "leak", 0.5) for p in (0.5, 1.0))
    assert below.stem == pytest.approx(0.5, abs=1e-3)
    assert (above.outlet, above.stem) == (pytest.approx(200e3), pytest.approx(0.75))


# -- valve -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("process", [0.1, 0.9])
def test_a_stuck_valve_has_the_right_pressure(process: float) -> None:
    sound, seen = see(IP, process), see(IP, process, "CV", "stuck", 0.4)
    electrically_sound(seen, sound)
    assert (seen.outlet, seen.value["PG3"]) == (sound.outlet, sound.value["PG3"])
    assert seen.stem == 0.4


@pytest.mark.parametrize(("process", "outlet"), [(0.1, 0.0), (0.9, 400e3)])
def test_a_positioner_pushes_a_stuck_valve_with_all_it_has(process: float, outlet: float) -> None:
    seen = see(POSITIONER, process, "CV", "stuck", 0.4)
    assert (seen.outlet, seen.stem, seen.value["ZC"]) == (
        outlet, 0.4, pytest.approx(process, abs=1e-3),
    )  # fmt: skip


def test_loose_feedback_shifts_stem_and_pressure_together() -> None:
    sound, seen = see(POSITIONER, 0.5), see(POSITIONER, 0.5, "CV", "feedback loose", 0.2)
    electrically_sound(seen, sound)
    assert seen.stem == pytest.approx(0.7, abs=1e-3)
    assert seen.outlet == pytest.approx(80e3 + 160e3 * 0.7, rel=1e-3)


def test_a_shifted_spring_moves_the_stem_at_the_right_pressure() -> None:
    sound, seen = see(IP, 0.5), see(IP, 0.5, "CV", "spring shifted", -0.2)
    assert (seen.outlet, seen.stem) == (sound.outlet, pytest.approx(0.3, abs=1e-3))


@pytest.mark.parametrize("name", LOOPS)
@pytest.mark.parametrize(
    ("fault", "process", "stem"),
    [("holds back", 0.9, 0.6), ("holds back", 0.3, 0.3), ("holds up", 0.3, 0.6)],
)
def test_an_engaged_handwheel_is_a_stop_and_can_be_seen(
    name: str, fault: str, process: float, stem: float
) -> None:
    seen = see(name, process, "HW", fault, 0.6)
    electrically_sound(seen, see(name, process))
    assert seen.stem == pytest.approx(stem, abs=1e-3)
    assert seen.lit["HW"]


# -- controller ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", LOOPS)
@pytest.mark.parametrize("process", [0.1, 0.9])
def test_a_controller_left_in_manual_is_a_sound_loop_at_another_output(
    name: str, process: float
) -> None:
    sound, seen = see(name, 0.3), see(name, process, "ST.M", "left in manual", 0.3)
    electrically_sound(seen, sound)
    assert (seen.value["ST"], seen.stem) == (0.3, sound.stem)
    assert (seen.lit["ST.M"], sound.lit["ST.M"]) == (True, False)


@pytest.mark.parametrize("name", LOOPS)
@pytest.mark.parametrize(
    ("fault", "process", "output"),
    [("high limit", 0.9, 0.6), ("high limit", 0.4, 0.4), ("low limit", 0.4, 0.6)],
)
def test_limits_of_the_output_are_seen_at_the_faceplate(
    name: str, fault: str, process: float, output: float
) -> None:
    seen = see(name, process, "ST", fault, 0.6)
    assert seen.value["ST"] == output
    assert seen.stem == pytest.approx(output, abs=1e-3)


def test_a_positioner_left_in_local_does_not_take_its_current() -> None:
    sound, seen = see(POSITIONER, 0.8), see(POSITIONER, 0.8, "ZC", "left in local", 0.3)
    electrically_sound(seen, sound)
    assert (seen.value["ZC"], seen.stem) == (pytest.approx(0.3), pytest.approx(0.3))


def test_a_positioner_that_misreads_its_current() -> None:
    seen = see(POSITIONER, 0.5, "ZC", "input error", 0.1)
    assert seen.at_device == pytest.approx(12e-3, rel=1e-3)
    assert (seen.value["ZC"], seen.stem) == (pytest.approx(0.6, abs=1e-3),) * 2
