"""Laws of the kinds, one at a time and on paper: what a part does at one moment.

Sources: Ohm's law; 4 to 20 mA with 3.6 and 21 mA as its limits (NAMUR NE 43), 20 to 100 kPa and 3
to 15 psi (IEC 60382), proximity sensors at 8.2 V behind 1 kohm (IEC 60947-5-6), all from memory;
the rest is arithmetic on the numbers in the same line.
"""

from __future__ import annotations

from math import pi, sqrt
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

import diagnose.loops.kinds  # noqa: F401  (registers the kinds)
from diagnose.loops.kind import Kind, Shows
from diagnose.loops.kinds.discrete_outputs import suppressor_impedance
from diagnose.loops.kinds.receivers import either_side

BARRED = 1e6
"""Ohm above which a contact is open to whatever it switches."""


def state(name: str, **told: float) -> SimpleNamespace:
    """The parameters of a kind as they are by default, but for what is told."""
    kind = Kind.registry[name]
    usual = {item.name: item.default for item in kind.parameters}
    assert set(told) <= set(usual)
    return SimpleNamespace(**{**usual, **told})


def drive(name: str, given: Any, **told: float) -> dict[str, Any]:
    return Kind.registry[name].drive(state(name, **told), given)


def shown(name: str, given: Any, volts: float = 0.0, of: str = "shows", **told: float) -> float:
    """The level of a display, or of what is handed on (``of="signal"``)."""
    shows = getattr(Kind.registry[name], of)
    assert isinstance(shows, Shows)
    gain, offset = shows.level(state(name, **told), given)
    return float(gain * volts + offset)


def handed(name: str, given: Any, volts: float = 0.0, **told: float) -> float:
    return shown(name, given, volts, "signal", **told)


def current(name: str, volts: float, branch: int = 0, **told: float) -> float:
    """Amperes through a branch at some volts."""
    q = state(name, **told)
    for segment in Kind.registry[name].branches[branch].segments:
        if segment.until is None or volts <= segment.until(q):
            slope, fixed = segment.law(q)
            return float(slope * volts + fixed)
    raise AssertionError("no segment")


def after(name: str, mode: str, size: float, **told: float) -> dict[str, float]:
    """The own parameters of a part that a fault moves, by name."""
    q = state(name, **told)
    changes = [c for c in Kind.registry[name].mode(mode).changes if not c.of]
    return {c.parameter: float(c.value(getattr(q, c.parameter), size)) for c in changes}


# --- air ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "pressure"),
    [({}, 60e3), ({"lost": 0.25}, 45e3), ({"hold": 1.0, "held": 80e3}, 80e3),
     ({"hold": 1.0, "held": 80e3, "lost": 0.5}, 80e3)],
)  # fmt: skip
def test_tubing_leaks_a_share_or_shuts_in_what_was_there(
    told: dict[str, float], pressure: float
) -> None:
    assert handed("tubing", 60e3, **told) == pytest.approx(pressure)


@pytest.mark.parametrize(
    ("signal", "told", "kpa"),
    [(0.0, {}, 20), (0.5, {}, 60), (1.0, {}, 100), (1.0, {"span_error": 0.1}, 108),
     (0.0, {"zero_error": 0.1}, 28), (-0.5, {}, 0), (2.0, {}, 140), (0.5, {"plugged": 1.0}, 140),
     (0.5, {"plugged": 1.0, "plugged_share": 0.5}, 70),
     (0.5, {"starved": 1.0, "starved_at": 5e3}, 5), (0.5, {"starved": 1.0, "starved_at": 2e5}, 140),
     (0.5, {"calibration": 0.01}, 60.8)],
)  # fmt: skip
def test_a_transducer_gives_20_to_100_kpa_of_140(
    signal: float, told: dict[str, float], kpa: float
) -> None:
    """Never under zero and never above its air; plugged or starved it gives what then stands."""
    assert handed("ip_transducer", (signal, 140e3), **told) == pytest.approx(kpa * 1e3)


def test_the_other_span_of_20_to_100_kpa_is_3_to_15_psi_and_the_other_way_round() -> None:
    """1 psi is 6.894 757 kPa (NIST SP 811): 20.68 and 103.4 kPa."""
    psi = {"low": 3 * 6894.757, "high": 15 * 6894.757}
    assert after("ip_transducer", "other span", 0.0) == pytest.approx(psi, rel=1e-6)
    back = after("ip_transducer", "other span", 0.0, **psi)
    assert back == pytest.approx({"low": 20e3, "high": 100e3}, abs=0.01)


@pytest.mark.parametrize(
    ("signal", "told", "limit"),
    [(0.5, {}, 0), (-0.3, {}, -1), (1.6, {}, 1), (1.6, {"plugged": 1.0}, 0),
     (-0.3, {"starved": 1.0}, 0)],
)  # fmt: skip
def test_a_transducer_that_is_stopped_stands_at_no_limit(
    signal: float, told: dict[str, float], limit: int
) -> None:
    q = state("ip_transducer", **told)
    assert int(Kind.registry["ip_transducer"].limited(q, (signal, 140e3))) == limit


# --- valves ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kpa", "told", "travel"),
    [(20, {}, 0), (60, {}, 0.5), (100, {}, 1), (60, {"lost": 0.5}, 0.125),
     (60, {"shift": 0.1}, 0.6), (60, {"setting": -0.1}, 0.4), (60, {"ceiling": 0.3}, 0.3),
     (60, {"floor": 0.7}, 0.7),
     (60, {"stuck": 1.0, "stuck_at": 0.9, "ceiling": 0.3}, 0.9)],
)  # fmt: skip
def test_a_control_valve_follows_its_pressure_between_the_stops(
    kpa: float, told: dict[str, float], travel: float
) -> None:
    assert shown("control_valve", kpa * 1e3, **told) == pytest.approx(travel)


@pytest.mark.parametrize(
    ("signal", "told", "travel", "kpa"),
    [
        (0.5, {}, 0.5, 160), (0.0, {}, 0.0, 80), (1.3, {}, 1.0, 240),
        (0.5, {"feedback_shift": 0.1}, 0.6, 176), (0.5, {"calibration": -0.1}, 0.4, 144),
        # 0.5 of 400 kPa leaks away: 200 kPa are 120 of 160 kPa above the spring, 0.75
        (1.0, {"lost": 0.5}, 0.75, 200),
        # held back it has all the air, held up it has none
        (0.5, {"ceiling": 0.2}, 0.2, 400), (0.5, {"floor": 0.8}, 0.8, 0),
        (0.5, {"stuck": 1.0, "stuck_at": 0.1}, 0.1, 400),
        # below 3.6 mA, -2.5 %, its electronics are asleep: no air
        (-0.03, {}, 0.0, 0), (-0.02, {}, 0.0, 80),
        # a relay that has failed gives half of the air: 200 kPa are 0.75 of travel
        (0.1, {"failed": 1.0, "failed_share": 0.5}, 0.75, 200),
    ],
)  # fmt: skip
def test_a_positioned_valve_goes_where_it_is_sent_as_far_as_its_air_reaches(
    signal: float, told: dict[str, float], travel: float, kpa: float
) -> None:
    given = np.array(signal), np.array(400e3)
    assert shown("positioned_valve", given, **told) == pytest.approx(travel)
    assert handed("positioned_valve", given, **told) == pytest.approx(kpa * 1e3)


@pytest.mark.parametrize(
    ("ma", "told", "target"),
    [(4, {}, 0), (12, {}, 0.5), (20, {}, 1), (12, {"input_error": 0.1}, 0.6),
     (12, {"local": 1.0, "local_at": 0.3}, 0.3), (12, {"alive": 0.0}, -1),
     (12, {"alive": 0.0, "local": 1.0, "local_at": 0.3}, -1)],
)  # fmt: skip
def test_a_positioner_takes_its_current_for_a_target(
    ma: float, told: dict[str, float], target: float
) -> None:
    """9 V, and 50 ohm above them; set at its own keys it heeds no current, dead it has none."""
    volts = 9.0 + 50.0 * ma * 1e-3
    assert handed("positioner", None, volts, **told) == pytest.approx(target)
    assert current("positioner", volts) == pytest.approx(ma * 1e-3, rel=1e-3)


@pytest.mark.parametrize(
    ("coil", "override", "told", "share"),
    [(1, 0, {}, 1), (0, 0, {}, 0), (0, 1, {}, 1), (1, 1, {}, 1), (0, 0, {"plugged": 1.0}, 1),
     (1, 0, {"stuck": 1.0, "stuck_at": 0.0}, 0), (0, 0, {"stuck": 1.0, "stuck_at": 1.0}, 1),
     (0, 0, {"stuck": 1.0, "stuck_at": 0.4}, 0.4)],
)  # fmt: skip
def test_a_pilot_valve_gives_its_air_by_coil_or_by_hand(
    coil: float, override: float, told: dict[str, float], share: float
) -> None:
    found = drive("pilot_valve", (coil, override, 500e3), **told)
    assert found["pressure"] == pytest.approx(share * 500e3)


@pytest.mark.parametrize(
    ("air", "opens", "told", "where"),
    [(500e3, 1.0, {}, 1), (0.0, 1.0, {}, 0), (500e3, -1.0, {}, 0), (0.0, -1.0, {}, 1),
     (500e3, 1.0, {"stuck": 1.0, "stuck_at": 0.0}, 0)],
)  # fmt: skip
def test_a_valve_opens_or_shuts_by_air_and_fails_the_other_way(
    air: float, opens: float, told: dict[str, float], where: float
) -> None:
    assert float(drive("on_off_valve", air, opens=opens, **told)["open"]) == where


@pytest.mark.parametrize(
    ("stands", "end", "lit"),
    [(1.0, 1.0, True), (0.0, 1.0, False), (0.0, -1.0, True), (1.0, -1.0, False), (0.5, 1.0, False),
     (0.5, -1.0, False), (0.7, 1.0, False), (0.8, 1.0, True)],
)  # fmt: skip
def test_no_lamp_is_lit_while_a_valve_is_on_its_way(stands: float, end: float, lit: bool) -> None:
    """Either switch is made within a quarter of the travel from its own end."""
    assert (shown("position_switch", stands, end=end, seen=stands) > 0) is lit
    assert shown("position_switch", stands, end=end, seen=stands, forced=10.0) > 0
    assert shown("position_switch", stands, end=end, seen=stands, forced=-10.0) < 0


# --- currents -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("station", "told", "ma"),
    [(0.0, {}, 4), (0.5, {}, 12), (1.0, {}, 20), (-0.5, {}, 3.6), (1.5, {}, 21),
     (0.5, {"gain": -1.0, "offset": 1.0}, 12), (0.25, {"gain": -1.0, "offset": 1.0}, 16),
     (0.5, {"stuck": 1.0, "stuck_at": 0.75}, 16), (0.5, {"output_error": 1e-3}, 13),
     (1.5, {"output_error": 1e-3}, 22), (0.5, {"failed": 1.0, "failed_current": 1e-3}, 1),
     (0.5, {"alive": 0.0}, 0), (-0.5, {"output_error": -5e-3}, 0)],
)  # fmt: skip
def test_an_output_channel_asks_for_4_to_20_ma(
    station: float, told: dict[str, float], ma: float
) -> None:
    assert drive("current_output", station, **told)["demand"] == pytest.approx(ma * 1e-3)


def test_an_output_channel_delivers_it_up_to_its_compliance() -> None:
    """12 mA and 0.1 % more out of its plus, which is minus as seen into it; 18 V at the most."""
    for trim, ma in ((0.0, 12.0), (0.001, 12.012)):
        told = {"demand": 12e-3, "trim": trim, "leak": 1e12}
        assert current("current_output", 5.0, **told) == pytest.approx(-ma * 1e-3)
        assert current("current_output", 18.0, **told) == pytest.approx(-ma * 1e-3)
        assert abs(current("current_output", 18.6, **told)) < 0.1e-3  # 50 ohm beyond: 0.6 V


@pytest.mark.parametrize(
    ("process", "told", "ma"),
    [(0.0, {}, 4), (0.5, {}, 12), (1.0, {}, 20), (0.5, {"zero_error": 0.1}, 13.6),
     (0.5, {"span_error": 0.1}, 12.8), (0.5, {"sensed_shift": 0.1, "span_error": 0.1}, 14.56),
     (0.5, {"hold": 1.0, "held": 0.25}, 8), (0.5, {"stuck": 1.0, "stuck_at": 0.75}, 16),
     (-1.0, {}, 3.8), (2.0, {}, 20.5), (2.0, {"output_error": 1e-3}, 21.5),
     (0.5, {"failed": 1.0, "failed_current": 3.6e-3}, 3.6),
     (0.5, {"driven": 1.0, "driven_current": 4e-3}, 4),
     (0.5, {"driven": 1.0, "driven_current": 4e-3, "output_error": 1e-3}, 5),
     (0.5, {"driven": 1.0, "driven_current": 4e-3, "stuck": 1.0, "stuck_at": 0.75}, 16),
     (0.5, {"alive": 0.0}, 0)],
)  # fmt: skip
def test_a_transmitter_asks_for_4_to_20_ma_of_what_it_senses(
    process: float, told: dict[str, float], ma: float
) -> None:
    """Zero moves all readings alike, span goes with the reading; to drive it shows its output."""
    found = drive("two_wire_transmitter", process, **told)
    assert found["demand"] == pytest.approx(ma * 1e-3)


@pytest.mark.parametrize(
    ("process", "told", "volts"),
    [(0.0, {}, 1), (0.5, {}, 3), (1.0, {}, 5), (0.5, {"shifted": 0.1}, 3.4),
     (0.5, {"lost": 1.0}, 0), (0.5, {"fed": 1.0, "fed_volts": 2.0}, 2),
     (0.5, {"fed": 1.0, "fed_volts": 2.0, "lost": 1.0}, 2), (-1.0, {}, 0.95), (2.0, {}, 5.125)],
)  # fmt: skip
def test_a_bus_stands_where_3_8_to_20_5_ma_put_it(
    process: float, told: dict[str, float], volts: float
) -> None:
    """3.8 mA and 20.5 mA across 250 ohm are 0.95 and 5.125 V (NAMUR NE 43)."""
    assert drive("signal_bus", process, **told)["volts"] == pytest.approx(volts)


@pytest.mark.parametrize(
    ("told", "output"),
    [({}, 0.6), ({"hold": 1.0, "held": 0.2}, 0.2), ({"by_hand": 1.0, "typed": 0.9}, 0.9),
     ({"hold": 1.0, "held": 0.2, "by_hand": 1.0, "typed": 0.9}, 0.9), ({"high_limit": 0.4}, 0.4),
     ({"low_limit": 0.7}, 0.7), ({"by_hand": 1.0, "typed": 0.9, "high_limit": 0.4}, 0.4)],
)  # fmt: skip
def test_a_station_puts_out_what_is_asked_within_its_limits(
    told: dict[str, float], output: float
) -> None:
    """By hand goes before held, and held before automatic; the limits hold for all of them."""
    assert drive("output_station", 0.6, **told)["output"] == pytest.approx(output)
    assert handed("controller", None, output=0.6, **told) == pytest.approx(output)


def test_points_of_a_proof_are_the_quarters_of_the_range() -> None:
    for name in ("output_station", "controller"):
        points = [a.proves(state(name)) for a in Kind.registry[name].actions if a.proves]
        assert points == [(0.0, 0.25, 0.5, 0.75, 1.0)]
    points = [a.proves(state("two_wire_transmitter"))
              for a in Kind.registry["two_wire_transmitter"].actions if a.proves]  # fmt: skip
    assert points[0] == pytest.approx((4e-3, 8e-3, 12e-3, 16e-3, 20e-3))


# --- switches and trips ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tripped", "makes", "told", "closed"),
    [(1, 1.0, {}, True), (0, 1.0, {}, False), (1, 0.0, {}, False), (0, 0.0, {}, True),
     (0, 1.0, {"stuck": 1.0, "stuck_at": 1.0}, True),
     (1, 1.0, {"stuck": 1.0, "stuck_at": 0.0}, False)],
)  # fmt: skip
def test_a_contact_follows_its_relay_or_goes_against_it(
    tripped: float, makes: float, told: dict[str, float], closed: bool
) -> None:
    found = drive("relay_contact", np.array(tripped), makes=makes, **told)
    assert (float(found["resistance"]) < BARRED) is closed


@pytest.mark.parametrize(
    ("tripped", "powered", "told", "conducts"),
    [(0, 1, {}, True), (1, 1, {}, False), (0, 0, {}, False), (1, 1, {"fail_safe": 0.0}, True),
     (0, 1, {"fail_safe": 0.0}, False), (0, 1, {"inverted": 1.0}, False),
     (1, 1, {"inverted": 1.0}, True), (1, 1, {"fail_safe": 0.0, "inverted": 1.0}, False),
     (1, 1, {"stuck": 1.0, "stuck_at": 1.0}, True)],
)  # fmt: skip
def test_a_trip_output_conducts_until_it_trips_or_has_no_power(
    tripped: float, powered: float, told: dict[str, float], conducts: bool
) -> None:
    """De-energised to trip, as sheets have it by default (IEC 61511-1, by its title)."""
    found = drive("transistor_output", (np.array(tripped), np.array(powered)), **told)
    assert (float(found["resistance"]) < BARRED) is conducts


@pytest.mark.parametrize(
    ("volts", "direction", "told", "trips"),
    [(3.1, 1.0, {}, True), (2.9, 1.0, {}, False), (2.9, -1.0, {}, True), (3.1, -1.0, {}, False),
     (1.0, 1.0, {"forced": 1000.0}, True), (5.0, 1.0, {"forced": -1000.0}, False),
     (5.0, -1.0, {"forced": 1000.0}, True)],
)  # fmt: skip
@pytest.mark.parametrize("name", ["comparator", "trip_amplifier"])
def test_a_trip_is_high_or_low_and_may_be_forced(
    name: str, volts: float, direction: float, told: dict[str, float], trips: bool
) -> None:
    found = shown(name, 0.0, volts, set_point=3.0, direction=direction, **told)
    assert (found > 0) is trips


@pytest.mark.parametrize(("direction", "sides"), [(1.0, (2.92, 3.04)), (-1.0, (3.08, 2.96))])
def test_a_trip_is_tried_beyond_its_dead_band_and_just_past_its_set_point(
    direction: float, sides: tuple[float, float]
) -> None:
    """3 V to 20 mV, twice that on either side, and 40 mV more to get out of the dead band."""
    q = state("trip_amplifier", set_point=3.0, direction=direction)
    assert either_side(q) == pytest.approx(sides)
    plain = state("comparator", set_point=3.0, direction=direction)
    assert either_side(plain) == pytest.approx((3.0 - direction * 0.04, 3.0 + direction * 0.04))


@pytest.mark.parametrize(
    ("ma", "fault"),
    [(3.5, False), (0.8, False), (0.05, True), (7.0, True), (6.4, False), (0.2, False),
     (-5.0, False)],
)  # fmt: skip
def test_a_line_fault_is_below_0_15_or_above_6_5_ma(ma: float, fault: bool) -> None:
    """IEC 60947-5-6; an amplifier without power tells nothing."""
    assert (shown("line_fault_lamp", ma) > 0) is fault
    assert shown("line_fault_lamp", ma, forced=1000.0) > 0


@pytest.mark.parametrize(
    ("ma", "told", "on"),
    [(3.5, {}, True), (0.8, {}, False), (7.0, {}, False), (7.0, {"monitored": 0.0}, True),
     (0.8, {"direction": -1.0}, True), (3.5, {"direction": -1.0}, False),
     (0.05, {"direction": -1.0}, False), (0.05, {"direction": -1.0, "monitored": 0.0}, True),
     (-5.0, {"direction": -1.0, "monitored": 0.0}, False), (0.8, {"forced": 1000.0}, True)],
)  # fmt: skip
def test_a_switch_output_is_on_at_its_current_unless_the_line_is_at_fault(
    ma: float, told: dict[str, float], on: bool
) -> None:
    """It turns at 1.65 mA; monitored, an open or shorted line holds it off."""
    assert (handed("switch_output", ma, **told) > 0) is on


def test_the_wrong_sense_is_the_other_sense() -> None:
    for direction in (1.0, -1.0):
        modes = [m.name for m in Kind.registry["switch_output"].modes
                 if any(c.parameter == "direction" for c in m.changes)]  # fmt: skip
        (mode,) = modes
        found = after("switch_output", mode, 0.0, direction=direction)
        assert found["direction"] == -direction


def test_a_proximity_sensor_draws_its_rated_currents_from_its_rated_source() -> None:
    """8.2 V behind 1 kohm: 3.5 mA leave 4.7 V without a target, 0.8 mA leave 7.4 V with one."""
    for where, ma, volts in ((0.0, 3.5, 4.7), (1.0, 0.8, 7.4)):
        found = drive("proximity_sensor", np.array(where))
        assert float(found["drawn"]) == pytest.approx(ma * 1e-3)
        assert float(found["across"]) == pytest.approx(volts)
        told = {name: float(value) for name, value in found.items()}
        assert current("proximity_sensor", volts, leak=1e12, **told) == pytest.approx(ma * 1e-3)
        spread = current("proximity_sensor", volts, leak=1e12, trim=1.1, **told)
        assert spread == pytest.approx(1.1 * ma * 1e-3)


def test_an_amplifier_tells_the_current_and_that_it_has_no_power() -> None:
    """8.2 V behind 1 kohm: 4.7 V are 3.5 mA; without power -5 mA, which nothing acts on."""
    assert handed("switch_amplifier", None, 4.7) == pytest.approx(3.5)
    assert handed("switch_amplifier", None, 4.7, alive=0.0) == -5.0
    assert shown("power_lamp", 3.5) > 0 > shown("power_lamp", -5.0)


@pytest.mark.parametrize(
    ("told", "closed"),
    [({}, 1), ({"failed": 1.0, "failed_closed": 0.0}, 0), ({"forced": 1.0, "forced_told": 0.0}, 0)],
)
def test_a_channel_that_failed_does_what_it_likes_and_its_lamp_what_it_is_told(
    told: dict[str, float], closed: float
) -> None:
    found = drive("discrete_output", 1.0, **told)
    assert found["closed"] == closed
    assert found["told"] == (0.0 if "forced" in told else 1.0)
    stuck = drive("discrete_output", 0.0, failed=1.0, failed_closed=1.0)
    assert (stuck["closed"], stuck["told"]) == (1.0, 0.0)


def test_a_suppressor_at_50_hz() -> None:
    """22 nF are 1 / (2 pi 50 x 22e-9) = 144.7 kohm; 100 ohm in series add nothing to speak of."""
    assert suppressor_impedance(22e-9, 100.0, 50.0) == pytest.approx(144.7e3, rel=1e-3)
    assert suppressor_impedance(1e-6, 4e3, 50.0) == pytest.approx(
        sqrt(4e3**2 + (1 / (2 * pi * 50 * 1e-6)) ** 2)
    )


@pytest.mark.parametrize(("commanded", "volts"), [(1.0, 18.0), (0.0, 6.0)])
def test_a_coil_is_judged_by_its_pull_in_when_commanded_and_by_its_drop_out_when_not(
    commanded: float, volts: float
) -> None:
    """75 % and 25 % of 24 V."""
    assert drive("solenoid_coil", commanded)["threshold"] == pytest.approx(volts)


@pytest.mark.parametrize("kind", ["solenoid_coil", "alternating_coil"])
def test_a_coil_for_twice_the_volts_has_four_times_the_ohms_at_the_same_watts(kind: str) -> None:
    """P = U^2 / R."""
    usual = state(kind)
    found = after(kind, "wrong coil", 2.0)
    windings = {"resistance"} if kind == "solenoid_coil" else {"impedance", "winding"}
    assert set(found) == {"rated", *windings}
    assert found["rated"] == 2 * usual.rated
    for name in windings:
        assert found[name] == pytest.approx(4 * getattr(usual, name))


# --- temperature ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("contact", "celsius"), [(1.0, 150.0), (0.5, 87.5), (0.0, 25.0)])
def test_a_sensor_that_is_not_home_feels_the_air_as_well(contact: float, celsius: float) -> None:
    """Half of 100 to 200 degC is 150; half in touch, halfway between that and 25 degC."""
    q = state("rtd", low=100.0, high=200.0, contact=contact)
    assert Kind.registry["rtd"].felt(q, 0.5) == pytest.approx(celsius)  # type: ignore[attr-defined]


def test_a_pt100_at_100_degrees() -> None:
    """138.51 ohm (IEC 60751, table 1, from memory); class B is 0.3 + 0.005 x 100 = 0.8 K there, at
    0.379 ohm/K; a drift of 1 % is 1 % of the ohms, and a decade box is what it is set to.
    """
    usual: dict[str, float] = {"low": 0.0, "high": 200.0}
    found = drive("rtd", 0.5, **usual)
    assert float(found["resistance"]) == pytest.approx(138.51, abs=0.01)
    classes = Kind.registry["rtd"].choices["accuracy_class"]  # type: ignore[attr-defined]
    of_b = drive("rtd", 0.5, **usual, accuracy_class=classes["B"])
    assert float(of_b["class_step"]) == pytest.approx(0.8 * 0.379, rel=0.005)
    assert float(drive("rtd", 0.5, **usual, drift=1.01)["resistance"]) == pytest.approx(
        139.89, abs=0.01
    )
    boxed = drive("rtd", 0.5, **usual, boxed=1.0, box=119.4)
    assert (float(boxed["resistance"]), float(boxed["class_step"])) == (119.4, 0.0)


def test_terminals_of_a_pair_carry_the_tangent_of_its_curve() -> None:
    """Type K: 1.000 mV at 25 degC and 40.5 uV/K (IEC 60584-1, from memory): 5 K more, 1.203 mV."""
    found = drive("thermocouple_terminals", None, temperature=25.0, type=0.0)
    assert float(found["emf"]) == pytest.approx(1.000e-3, abs=1e-6)
    assert float(found["seebeck"]) == pytest.approx(40.5e-6, abs=0.2e-6)


# --- what a fault leaves of a part ----------------------------------------------------------------


def broken(name: str, mode: str, size: float = 0.0) -> dict[str, float]:
    """All own parameters that a fault or an action moves, ready to be told."""
    return after(name, mode, size)


def test_a_relay_out_of_its_socket_lets_go_and_one_that_sticks_holds() -> None:
    """24 V on the coil, and none: 16 V hold it."""
    assert shown("relay_coil", None, 24.0) > 0 > shown("relay_coil", None, 15.0)
    assert shown("relay_coil", None, 24.0, **broken("relay_coil", "out of its socket")) < 0
    assert shown("relay_coil", None, 0.0, **broken("relay_coil", "sticking")) > 0
    opened = broken("relay_coil", "open")
    assert shown("relay_coil", None, 24.0, **opened) < 0
    assert current("relay_coil", 24.0, **opened) < 1e-6 < current("relay_coil", 24.0)


@pytest.mark.parametrize(
    ("name", "draws", "mute"),
    [("lamp", "burnt out", "dark"), ("horn", "open", "silent"),
     ("binary_input", "open", "stuck off")],
)  # fmt: skip
def test_what_is_open_draws_nothing_and_what_is_mute_draws_as_ever(
    name: str, draws: str, mute: str
) -> None:
    """24 V across 600 ohm are 40 mA; lit, loud or seen from 12 V on."""
    assert shown(name, None, 24.0) > 0 > shown(name, None, 11.0)
    for mode, amperes in ((draws, 0.0), (mute, 0.04)):
        found = broken(name, mode)
        assert shown(name, None, 24.0, **found) < 0
        assert current(name, 24.0, **found) == pytest.approx(amperes, abs=1e-6)


def test_a_key_that_was_left_on_joins_what_it_holds() -> None:
    assert current("bypass_switch", 24.0, **broken("bypass_switch", "left on")) > 100.0
    assert current("bypass_switch", 24.0) < 1e-6
    (turned,) = Kind.registry["bypass_switch"].actions
    assert [(c.parameter, c.value(0.0, 0.0)) for c in turned.changes] == [("resistance", 0.1)]


def test_a_contact_that_is_welded_is_closed_and_one_that_is_open_is_not() -> None:
    for mode, closed in (("welded", True), ("open", False)):
        for given in (0.0, 1.0):
            found = drive("relay_contact", np.array(given), **broken("relay_contact", mode))
            assert (float(found["resistance"]) < BARRED) is closed
    burnt = broken("relay_contact", "high resistance", 500.0)
    assert float(drive("relay_contact", np.array(1.0), **burnt)["resistance"]) == 500.0


def test_a_supply_holds_its_volts_until_its_limit() -> None:
    """24 V behind 0.5 ohm: 0.5 A leave 23.75 V; shorted it gives its limit of 1 A; dead it is half
    an ohm, and isolated it carries nothing that an ohmmeter sees.
    """
    assert current("supply", 23.75, voltage=24.0) == pytest.approx(-0.5)
    assert current("supply", 0.0, voltage=24.0) == pytest.approx(-1.0, rel=1e-4)
    dead = {"voltage": 24.0, **after("supply", "dead", 0.0, voltage=24.0)}
    assert current("supply", 0.1, **dead) == pytest.approx(0.2)
    low = {"voltage": 24.0, **after("supply", "low", 18.0, voltage=24.0)}
    assert current("supply", 17.9, **low) == pytest.approx(-0.2)
    sags = {"voltage": 24.0, **after("supply", "sagging", 400.0, voltage=24.0)}
    assert current("supply", 16.0, **sags) == pytest.approx(-0.02)
    (off,) = Kind.registry["supply"].actions
    told = {c.parameter: float(c.value(0.0, 0.0)) for c in off.changes}
    assert abs(current("supply", 1.2, **told)) < 1e-8


def test_a_series_indicator_lives_on_its_drop() -> None:
    """1.1 V and 10 ohm: 12 mA drop 1.22 V and are shown as half of the range."""
    at = 1.1 + 10.0 * 12e-3
    assert current("series_indicator", at) == pytest.approx(12e-3, rel=1e-3)
    assert shown("series_indicator", None, at) == pytest.approx(0.5)
    more = broken("series_indicator", "drop too high", 5.0)
    assert current("series_indicator", 5.0 + 0.12, **more) == pytest.approx(12e-3, rel=1e-3)
    wrong = broken("series_indicator", "scaling", 0.2)
    assert shown("series_indicator", None, at, **wrong) == pytest.approx(0.7)
    stuck = broken("series_indicator", "display stuck", 0.3)
    assert shown("series_indicator", None, at, **stuck) == pytest.approx(0.3)
    dark = broken("series_indicator", "display dead")
    assert shown("series_indicator", None, at, **dark) < -5  # no scale goes there
    assert current("series_indicator", at, **dark) == pytest.approx(12e-3, rel=1e-3)


@pytest.mark.parametrize(
    ("mode", "size", "volts", "due"),
    [("scaling", 0.1, 3.0, 0.6), ("frozen", 0.25, 3.0, 0.25), ("second resistor", 0, 3.0, 0.5)],
)
def test_a_receiver_shows_1_to_5_volts_as_its_range(
    mode: str, size: float, volts: float, due: float
) -> None:
    found = broken("voltage_receiver", mode, size)
    assert shown("voltage_receiver", None, volts, **found) == pytest.approx(due)
    assert shown("voltage_receiver", None, volts) == pytest.approx(0.5)
    drawn = 250.0 if mode == "second resistor" else 1e6
    assert current("voltage_receiver", volts, **found) == pytest.approx(volts / drawn)


def test_a_suppressor_diode_blocks_conducts_or_is_turned() -> None:
    """24 V the right way round pass nothing; the coil's surge passes from 0.7 V on, 0.5 ohm above
    it.  Turned round, the supply passes instead: 24 V less 0.7 V across half an ohm.
    """
    assert current("suppressor_diode", 24.0) == pytest.approx(0.0, abs=1e-6)
    assert current("suppressor_diode", -1.2) == pytest.approx(-1.0, rel=1e-6)
    turned = broken("suppressor_diode", "reversed")
    assert current("suppressor_diode", 1.2, **turned) == pytest.approx(1.0, rel=1e-6)
    assert current("suppressor_diode", -24.0, **turned) == pytest.approx(0.0, abs=1e-6)


def test_a_coil_that_is_open_short_or_jammed() -> None:
    """An open coil does not pull, whatever ohms or impedance say; a jammed one does not move."""
    for name, ohms in (("solenoid_coil", {"resistance"}),
                       ("alternating_coil", {"impedance", "winding"})):  # fmt: skip
        opened = broken(name, "open")
        assert {key for key, value in opened.items() if value >= BARRED} == ohms
        assert handed(name, 1.0, 1e4, **opened) < 0
        assert handed(name, 1.0, 1e4, **broken(name, "jammed", 0.5)) < 0
        assert handed(name, 1.0, 24.0, threshold=18.0) > 0
        assert {value for key, value in broken(name, "short", 2.0).items()} == {2.0}
    hums = broken("alternating_coil", "jammed", 0.5)
    assert hums["impedance"] == pytest.approx(3300.0)  # half of 6.6 kohm: twice the current
    fed, read = (current("alternating_coil", 230.0, direct=way) for way in (0.0, 1.0))
    assert (fed, read) == (pytest.approx(230 / 6600), pytest.approx(230 / 1600))


# --- isolators, barriers, insulation --------------------------------------------------------------


def test_a_return_channel_of_a_barrier_passes_one_way_less_its_diode() -> None:
    """0.9 V and 25 ohm: 12 mA drop 1.2 V; backwards next to nothing passes."""
    assert current("barrier_return", 1.2) == pytest.approx(12e-3, rel=1e-3)
    assert current("barrier_return", -20.0) == pytest.approx(0.0, abs=1e-6)


def test_the_diodes_of_a_barrier_take_over_at_27_volts_and_backwards_at_0_7() -> None:
    """10 ohm beyond: 28 V are 0.1 A to earth, and 1.7 V backwards as much the other way."""
    for name in ("barrier_return", "shunt_diode_barrier"):
        branches = Kind.registry[name].branches
        (to_earth,) = [n for n, b in enumerate(branches) if len(b.segments) == 3][-1:]
        assert current(name, 28.0, to_earth) == pytest.approx(0.1, rel=1e-3)
        assert current(name, 24.0, to_earth) == pytest.approx(0.0, abs=1e-5)
        assert current(name, -1.7, to_earth) == pytest.approx(-0.1, rel=1e-3)


def test_earth_in_the_field_lifts_what_leaks_to_it() -> None:
    """Across 1 kohm, 5 V against an earth that stands 3 V higher drive 2 mA."""
    told = {"resistance": 1e3, "shift": 3.0}
    assert current("earth_insulation", 5.0, **told) == pytest.approx(2e-3)


@pytest.mark.parametrize(
    ("signal", "told", "ma"),
    [(0.5, {}, 12), (0.5, {"gain_error": 0.1}, 13.2), (0.0, {"gain_error": 0.1}, 4.4),
     (0.5, {"failed": 1.0, "failed_current": 3e-3, "gain_error": 0.1}, 3), (-0.5, {}, 0)],
)  # fmt: skip
def test_an_isolator_hands_on_what_it_is_given(
    signal: float, told: dict[str, float], ma: float
) -> None:
    for name, way in (("isolator_output", "demand"), ("isolator_sink", "demand")):
        found = drive(name, (np.array(signal), 1.0), **told)
        assert float(found[way]) == pytest.approx(ma * 1e-3, abs=1e-12)
        assert float(drive(name, (np.array(signal), 0.0), **told)[way]) == 0.0  # no power


def test_the_feed_of_an_isolator_gives_its_volts_up_to_30_ma() -> None:
    """23 V behind 300 ohm: 17 V are 20 mA, seen as full scale; shorted 30 mA, and not 77 mA."""
    assert current("isolator_feed", 17.0, given=23.0) == pytest.approx(-20e-3)
    assert current("isolator_feed", 0.0, given=23.0) == pytest.approx(-30e-3, rel=2e-3)
    assert handed("isolator_feed", 1.0, 17.0) == pytest.approx(1.0)
    assert handed("isolator_feed", 1.0, 23.0 - 0.3 * 4) == pytest.approx(0.0, abs=1e-12)
    assert drive("isolator_feed", 1.0)["given"] == pytest.approx(23.0)
    assert drive("isolator_feed", 1.0, alive=0.0)["given"] == 0.0


@pytest.mark.parametrize(("swapped", "out", "back"), [(0.0, 12e-3, 0.0), (1.0, 0.0, 12e-3)])
def test_swapped_wires_send_the_current_the_other_way(
    swapped: float, out: float, back: float
) -> None:
    found = drive("three_wire_transmitter", 0.5, swapped=swapped)
    assert (found["demand"], found["swapped_demand"]) == pytest.approx((out, back))
    four = drive("four_wire_transmitter", (0.5, 1.0), reversed=swapped)
    assert (four["demand"], four["turned_demand"]) == pytest.approx((out, back))


@pytest.mark.parametrize(
    ("signal", "power", "told", "ma"),
    [(0.5, 1.0, {}, 12), (0.5, 0.0, {}, 0), (0.5, 1.0, {"alive": 0.0}, 0),
     (0.5, 0.0, {"stand_in": 1.0, "stand_in_current": 8e-3}, 8),
     (0.5, 1.0, {"output_error": 1e-3}, 13), (0.5, 1.0, {"failed": 1.0, "failed_current": 2e-3}, 2),
     (0.5, 1.0, {"driven": 1.0, "driven_current": 20e-3}, 20)],
)  # fmt: skip
def test_an_output_with_power_of_its_own(
    signal: float, power: float, told: dict[str, float], ma: float
) -> None:
    """What stands in for it needs none of its power."""
    found = drive("four_wire_transmitter", (signal, power), **told)
    assert float(found["demand"]) == pytest.approx(ma * 1e-3)


def test_a_transmitter_needs_its_volts_and_passes_none_backwards_but_its_diode() -> None:
    """12 V in full, nothing below 10 V, and half of it between."""
    told = {"demand": 12e-3, "leak": 1e12}
    for volts, ma in ((24.0, 12.0), (12.0, 12.0), (11.0, 6.0), (10.0, 0.0), (5.0, 0.0)):
        found = current("two_wire_transmitter", volts, **told)
        assert found == pytest.approx(ma * 1e-3, abs=1e-9)
    assert current("two_wire_transmitter", -0.8, **told) == pytest.approx(-10e-3)  # 0.1 V, 10 ohm
    trimmed = current("two_wire_transmitter", 24.0, **told, trim=0.01)
    assert trimmed == pytest.approx(12.12e-3)


@pytest.mark.parametrize(
    ("position", "told", "ohms"),
    [(1.0, {}, 0.1), (0.5, {}, 2000.1), (0.55, {}, 0.1), (0.475, {}, 6000.1),
     (0.5, {"stuck": 1.0, "stuck_at": 1.0}, 0.1), (0.0, {"hold": 1.0, "held": 1.0}, 0.1)],
)  # fmt: skip
def test_a_contact_closes_between_its_two_positions(
    position: float, told: dict[str, float], ohms: float
) -> None:
    """It has 2 kohm halfway between 45 and 55 %, three times as much at a quarter of the way."""
    found = drive("monitored_contact", np.array(position), **told)
    assert float(found["beyond"]) + 0.1 == pytest.approx(ohms)
    assert float(drive("monitored_contact", np.array(0.4))["beyond"]) > 1e9


# --- cards for sensors ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ohms", "told", "celsius"),
    [(100.0, {}, 0), (138.51, {}, 100), (175.86, {}, 200), (138.51, {"shown_shift": 0.1}, 120),
     (138.51, {"stuck": 1.0, "stuck_at": 0.25}, 50), (4000.0, {}, 400),
     (4000.0, {"burnout": -1.0}, -400), (-300.0, {}, 400), (-100.0, {}, -474.14),
     (4000.0, {"stuck": 1.0, "stuck_at": 0.25}, 50)],
)  # fmt: skip
def test_a_card_makes_degrees_of_ohms_or_goes_to_its_configured_end(
    ohms: float, told: dict[str, float], celsius: float
) -> None:
    """IEC 60751, table 1 (from memory): 138.51 ohm at 100, 175.86 ohm at 200 degC.  1 mA finds more
    than 3 kohm where the element is open: two ranges up, or down.  A tenth of a volt the wrong way
    is a shorted element behind a bad lead, and reads low: 18.52 ohm at -200 degC and 0.4323 ohm/K
    below, 274.14 K further down for 118.52 ohm.  No element and no lead makes 0.3 V of it.
    """
    q = state("rtd_input_four_wire", low=0.0, high=200.0, **told)
    shows = Kind.registry["rtd_input_four_wire"].shows
    assert shows is not None
    level, _ = shows.bend(q, np.array(ohms))
    assert float(level) * 200.0 == pytest.approx(celsius, abs=0.03)


@pytest.mark.parametrize(
    ("millivolts", "told", "celsius"),
    [(0.0, {}, 0), (4.096, {}, 100), (8.138, {}, 200), (4.096, {"setting": 0.5}, 50.6)],
)
def test_a_card_makes_degrees_of_the_volts_of_type_k(
    millivolts: float, told: dict[str, float], celsius: float
) -> None:
    """IEC 60584-1 (from memory): 4.096 mV at 100, 8.138 mV at 200, 2.048 mV at 50.6 degC."""
    q = state("thermocouple_input", low=0.0, high=200.0, type=0.0, **told)
    shows = Kind.registry["thermocouple_input"].shows
    assert shows is not None
    level, _ = shows.bend(q, np.array(millivolts * 1e-3))
    assert float(level) * 200.0 == pytest.approx(celsius, abs=0.05)


def test_what_finds_an_open_thermocouple_drives_it_up_or_down() -> None:
    """20 nA out of its plus, which is minus as seen into it; the other way where it goes low."""
    for burnout, amperes in ((1.0, -2e-8), (-1.0, 2e-8), (0.0, 0.0)):
        found = current("thermocouple_input", 0.0, burnout=burnout)
        assert found == pytest.approx(amperes, abs=1e-15)


@pytest.mark.parametrize(
    ("told", "millivolts"),
    [({}, 4.096), ({"share": 0.5}, 2.048), ({"beside": 0.5, "beside_at": 0.0}, 2.048),
     ({"beside": 1.0, "beside_at": 1.0}, 8.138), ({"replaced": 1.0, "set_at": 200.0}, 8.138)],
)  # fmt: skip
def test_a_thermocouple_of_type_k_at_100_degrees(told: dict[str, float], millivolts: float) -> None:
    """Another in parallel at the other end of the wires pulls it half of the way; a calibrator in
    its place plays what it is set to, and knows no class.
    """
    found = drive("thermocouple", 0.5, low=0.0, high=200.0, type=0.0, **told)
    assert float(found["emf"]) == pytest.approx(millivolts * 1e-3, abs=1e-6)
    assert (float(found["class_step"]) == 0.0) is ("replaced" in told)


def test_a_thermocouple_has_the_more_ohms_the_less_is_left_of_it() -> None:
    """Wires that have scaled or thinned are longer for their volts (common practice, no source)."""
    ohms = [
        after("thermocouple", "degraded", share, resistance=5.0)["resistance"]
        for share in (1.0, 0.99, 0.9, 0.75)
    ]
    assert ohms[0] == pytest.approx(5.0)  # a new one has what the sheet says
    assert ohms[0] < ohms[1] < 1.5 * 5.0
    assert ohms[1] < ohms[2] < ohms[3]
    assert ohms[3] > 3 * 5.0


def test_a_card_drives_its_excitation_and_reads_ohms_by_it() -> None:
    """1 mA, and 5 % more with an error of 5 %; 138.51 mV are then 138.51 ohm.  Out of its plus, so
    that volts and amperes are those of a source.
    """
    name = "rtd_input_four_wire"
    for error, ma in ((0.0, 1.0), (0.05, 1.05)):
        found = current(name, 0.0, excitation_error=error)
        assert abs(found) == pytest.approx(ma * 1e-3, rel=1e-6)
    assert shown(name, None, 0.13851) == pytest.approx(138.51)


def test_an_element_is_off_by_its_class_and_by_a_crack() -> None:
    """100 ohm, half of a limit of 0.3 ohm, and 5 ohm of a crack: 105.15 ohm."""
    told = {"resistance": 100.0, "class_step": 0.3, "class_error": 0.5, "crack": 5.0}
    assert 1.0 / current("rtd", 1.0, **told) == pytest.approx(105.15)


def test_an_output_with_an_error_of_reading() -> None:
    """12 mA and 1 % out of its plus, which is minus as seen into it."""
    found = current("four_wire_transmitter", 3.0, demand=12e-3, trim=0.01, leak=1e12)
    assert found == pytest.approx(-12.12e-3)


@pytest.mark.parametrize(
    ("value", "power", "told", "level"),
    [
        (0.5, 1.0, {}, 0.5),
        (0.0, 1.0, {}, 0.0),
        (0.5, 0.0, {}, -1.0),
        (0.5, 1.0, {"alive": 0.0}, -1),
    ],
)
def test_a_display_without_power_stands_a_whole_range_below(
    value: float, power: float, told: dict[str, float], level: float
) -> None:
    assert shown("four_wire_transmitter", (value, power), **told) == pytest.approx(level)


def test_a_feed_goes_over_into_its_limit_without_a_step() -> None:
    """23 V less 30 mA in 300 ohm are 14 V: 30 mA by either law."""
    assert current("isolator_feed", 14.0, given=23.0) == pytest.approx(-30e-3, rel=1e-9)
    assert current("isolator_feed", 14.0 + 1e-9, given=23.0) == pytest.approx(-30e-3, rel=1e-6)


def test_a_card_for_two_wires_takes_its_allowance_off() -> None:
    """143.51 mV at 1 mA, less 5 ohm for the wires."""
    found = shown("rtd_input_two_wire", None, 0.14351, allowance=5.0)
    assert found == pytest.approx(138.51)


def test_a_trip_with_the_wrong_direction_goes_the_other_way() -> None:
    for direction in (1.0, -1.0):
        found = after("trip_amplifier", "direction wrong", 0.0, direction=direction)
        assert found == {"direction": -direction}


def test_a_module_works_from_18_volts_on() -> None:
    assert handed("module_supply", None, 24.0) > 0 > handed("module_supply", None, 17.0)


def test_terminals_that_warm_up_make_more_volts() -> None:
    """1.000 mV at 25 degC, 40 uV/K, 5 K warmer: 1.2 mV across 5 mohm of contact are 0.24 A."""
    found = current(
        "thermocouple_terminals", 0.0, entering=1.0, emf=1e-3, seebeck=40e-6, temperature=30.0,
        at=25.0, contact=5e-3,
    )  # fmt: skip
    assert abs(found) == pytest.approx(0.24)


def test_a_transmitter_that_is_turned_conducts_from_the_drop_of_its_diode_on() -> None:
    """0.7 V, and 10 ohm above it: 1.7 V are 100 mA."""
    assert current("two_wire_transmitter", 1.7, 1, turned=0.1) == pytest.approx(0.1)
    assert current("two_wire_transmitter", 0.5, 1, turned=0.1) == 0.0
    assert current("two_wire_transmitter", 1.7, 1) == 0.0


def test_a_supply_that_sags_loses_volts_with_every_milliampere() -> None:
    """24 V behind 500 ohm: 24 V without a load, 14 V at 20 mA, and the limit is far."""
    sagging = after("supply", "sagging", 500.0, voltage=24.0)
    assert sagging == {"source_resistance": 500.0}
    assert current("supply", 24.0, voltage=24.0, **sagging) == pytest.approx(0.0, abs=1e-12)
    assert current("supply", 14.0, voltage=24.0, **sagging) == pytest.approx(-20e-3)


def test_of_the_faults_of_a_supply_the_one_with_dry_capacitors_hums() -> None:
    """Ripple comes through where they have dried out; each fault is felt by all that hang on it
    (common practice, no source).
    """
    modes = {mode.name: mode for mode in Kind.registry["supply"].modes}
    assert {name for name, mode in modes.items() if mode.hum} == {"sagging"}
    assert all(mode.favoured["shared supply"] >= 10 for mode in modes.values())
    assert {name for name, mode in modes.items() if "erratic" in mode.symptoms} == {"sagging"}
