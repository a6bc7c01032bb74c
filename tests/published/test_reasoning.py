"""What a good instrument technician concludes from a few readings on the reference loop.

Readings: reference loop computed with ngspice-39 (the table of ``test_signature_table.py``), with
the decimals of a hand-held meter.  Reasoning: common practice, no source.  A bound is a share of
belief that the practice would still accept; it is no figure of any source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.hypotheses import hypotheses
from diagnose.inference.ranking import Ranked, Ranking
from diagnose.inference.readings import describe, parse_line
from diagnose.loops.sheet import load_sheet

SHEETS = Path(__file__).parents[1] / "sheets"
Keys = tuple[tuple[str, str], ...]

SHUNTS: Keys = (("I.TX", "leakage"), ("I.W1", "leakage"))
RECEIVERS: Keys = tuple((f"U{n}", "input collapsed") for n in (1, 2, 3))
SECOND: Keys = tuple((f"U{n}", "second resistor") for n in (1, 2, 3))
BUS: Keys = (*RECEIVERS, *SECOND, ("R1", "drift"))
LEAKS: Keys = tuple((part, mode) for part in ("E.W1+", "E.W1-") for mode in ("leakage", "earthed"))
ADDED: Keys = tuple((part, "high resistance") for part in ("A1", "LK1", "LK2", "W1+", "W1-"))
OPENS: Keys = tuple((part, "open") for part in ("A1", "LK1", "LK2", "W1+", "W1-"))
SUPPLY: Keys = tuple(("G1", mode) for mode in ("dead", "low", "sagging"))


@cache
def engine(sheet: str) -> Engine:
    return Engine(load_sheet(SHEETS / f"{sheet}.toml"))


def rank(*lines: str, sheet: str = "b3", place: str = "cabinet") -> Ranking:
    known = engine(sheet)
    return known.rank([parse_line(line, known.loop) for line in lines], place)


def share(ranking: Ranking, wanted: Callable[[Ranked], bool]) -> float:
    return sum(item.probability for item in ranking.hypotheses if wanted(item))


def chance(ranking: Ranking, keys: Iterable[tuple[str | None, str]]) -> float:
    """Probability of single faults."""
    keys = set(keys)
    return share(ranking, lambda item: not item.also and (item.part, item.fault) in keys)


def among(ranking: Ranking, keys: Keys) -> float:
    """Probability of faults, alone or as one of two."""
    return share(ranking, lambda item: bool({(item.part, item.fault), *item.also} & set(keys)))


def part(ranking: Ranking, name: str) -> float:
    return share(ranking, lambda item: item.part == name and not item.also)


def sound(ranking: Ranking) -> float:
    return chance(ranking, [(None, "none"), ("T1", "blocked"), ("T1", "shifted")])


def top(ranking: Ranking) -> tuple[str | None, str]:
    return ranking.hypotheses[0].part, ranking.hypotheses[0].fault


def offered(ranking: Ranking, sheet: str = "b3") -> list[str]:
    return [describe(advice.measurement, engine(sheet).loop) for advice in ranking.next]


def odds_moved(ranking: Ranking, keys: Keys) -> float:
    """By how much the readings moved the odds of faults against the sound loop."""
    prior = {item.key: item.prior for item in hypotheses(engine("b3").loop)}
    before = sum(prior[key] for key in keys) / prior[None, "none"]
    return chance(ranking, keys) / chance(ranking, [(None, "none")]) / before


# -- row 1, 2: moisture across the transmitter is invisible to the laws of the circuit -------------

MOISTURE = ("V d n 3.397", "V tp tn 15.97")


def test_f1_own_display_at_odds_with_the_signal_means_a_shunt() -> None:
    """10 kohm across a transmitter at 12 mA: 13.598 mA reach the resistor."""
    ranking = rank(*MOISTURE, "TX 50 %")
    assert top(ranking) == ("I.TX", "leakage")
    assert chance(ranking, SHUNTS) > 0.5
    assert part(ranking, "TX") < 0.5
    assert not ranking.resolved
    size = ranking.hypotheses[0].size
    assert size is not None
    assert size.low < 10e3 < size.high
    assert size.median == pytest.approx(10e3, rel=0.05)


def test_f2_without_independent_truth_shunt_and_healthy_are_a_tie() -> None:
    """The readings fit 13.6 mA of a healthy loop as well as a shunt: they move neither much."""
    ranking = rank(*MOISTURE)
    assert 0.3 < odds_moved(ranking, SHUNTS) < 3
    assert not ranking.resolved
    assert ranking.hypotheses[0].probability < 0.6
    assert chance(ranking, SHUNTS) > 0.02
    assert sound(ranking) > 0.5


@pytest.mark.parametrize("place", ["cabinet", "transmitter"])
def test_f2_asks_for_independent_truth_first(place: str) -> None:
    ranking = rank(*MOISTURE, "complaint reads high", place=place)
    assert offered(ranking)[0] in {"LG", "TX"}
    assert not ranking.resolved


# -- row 3: leak of the - core against a shunt at the receivers ------------------------------------

MINUS_LEAK = ("V d n 2.361", "clamp TX 12.00", "V tp tn 17.60")


def test_f3_leak_of_the_minus_core_and_low_bus_are_a_tie() -> None:
    """Predicted volts at the transmitter are 51 mV apart (17.604 and 17.553)."""
    ranking = rank(*MINUS_LEAK)
    assert chance(ranking, [("E.W1-", "leakage")]) < 0.9
    assert chance(ranking, BUS) < 0.9
    assert chance(ranking, [("E.W1-", "leakage"), *BUS]) > 0.95
    assert not ranking.resolved
    leak = next(item.size for item in ranking.hypotheses if item.part == "E.W1-")
    assert leak is not None
    assert leak.low < 1e3 < leak.high
    drift = next(item.size for item in ranking.hypotheses if item.part == "R1")
    assert drift is not None
    assert drift.median == pytest.approx(197, abs=2)


def test_f3_asks_for_the_current_in_the_minus_leg() -> None:
    advice = rank(*MINUS_LEAK).next
    assert advice[0].measurement.function in {"mA", "clamp"}
    assert advice[0].measurement.points in {("W1-",), ("c", "d")}
    lows = {item.part: (item.low, item.high) for item in advice[0].expects}
    assert lows["E.W1-"][0] < 9.45e-3 < lows["E.W1-"][1]


@pytest.mark.parametrize("reading", ["mA LK2 {}", "clamp W1- {}"])
def test_f3_the_minus_leg_breaks_the_tie(reading: str) -> None:
    assert chance(rank(*MINUS_LEAK, reading.format("9.45")), [("E.W1-", "leakage")]) > 0.99
    assert chance(rank(*MINUS_LEAK, reading.format("12.00")), BUS) > 0.99


# -- row 4: receiver shunt and sense drift are the same number on the bus --------------------------

LOW_BUS = ("V d n 2.399", "mA LK2 12.00")


def test_f4_receiver_and_sense_resistor_are_a_tie_and_no_leak() -> None:
    ranking = rank(*LOW_BUS)
    assert chance(ranking, [("R1", "drift")]) > 0.1
    assert chance(ranking, RECEIVERS) > 0.1
    assert chance(ranking, [("R1", "drift"), *RECEIVERS]) > 0.7
    assert chance(ranking, LEAKS) < 0.02
    group = {item.group for item in ranking.hypotheses if (item.part, item.fault) in RECEIVERS}
    assert group == {ranking.hypotheses[0].group}
    collapsed = next(item.size for item in ranking.hypotheses if item.part == "U1")
    assert collapsed is not None
    assert collapsed.low < 1e3 < collapsed.high


def test_f4_lifting_the_receivers_is_what_splits_them() -> None:
    lines = (*LOW_BUS, "V b c 18.00")
    ranking = rank(*lines, sheet="b3_terminals")
    assert not ranking.resolved
    assert offered(ranking, "b3_terminals")
    assert all(
        "lifted" in text or text.startswith("ohm") for text in offered(ranking, "b3_terminals")
    )
    lifted = rank(*lines, "V d n 2.998 with X1 lifted", sheet="b3_terminals")
    assert chance(lifted, [("U1", "input collapsed")]) > 0.95
    stays = rank(
        *lines, *(f"V d n 2.400 with X{n} lifted" for n in (1, 2, 3)), sheet="b3_terminals"
    )
    assert chance(stays, [("R1", "drift")]) > 0.95


# -- row 5, 6: perfect below a certain current, then flat ------------------------------------------

STARVED = ("V d n 3.928", "process 100 %", "V tp tn 11.6", "V ps n 24.0")


def test_f5_starved_transmitter_with_a_good_supply_means_added_resistance() -> None:
    ranking = rank(*STARVED)
    assert among(ranking, ADDED) > 0.5
    assert sound(ranking) < 0.01
    assert part(ranking, "TX") < 0.01
    assert chance(ranking, SUPPLY) < 0.01
    added = {"A1": 500.0, "LK1": 200.0, "LK2": 200.0, "W1+": 220.0, "W1-": 220.0}
    for item in ranking.hypotheses:
        if item.size and (item.part, item.fault) in ADDED:
            assert item.size.median == pytest.approx(added[item.part], abs=6)


def test_f6_starved_transmitter_with_a_low_supply_means_the_supply() -> None:
    ranking = rank("V d n 3.62", "process 100 %", "V tp tn 11.4", "V ps n 20.0")
    assert top(ranking) == ("G1", "low")
    assert chance(ranking, SUPPLY) > 0.99
    assert among(ranking, ADDED) < 0.01


def test_f6_loops_on_the_same_supply_raise_the_supply() -> None:
    lines = ("V d n 3.62", "process 100 %", "V tp tn 11.4")
    alone, asked = rank(*lines), rank(*lines, "context shared supply")
    assert 0.1 < chance(alone, SUPPLY) < 0.9
    assert among(alone, ADDED) > 0.1
    assert chance(asked, SUPPLY) > 0.8
    assert among(asked, ADDED) < among(alone, ADDED) / 3


# -- row 7, 8: where do the 24 V stop? -------------------------------------------------------------


def test_f7_volts_at_the_cabinet_and_none_at_the_device_mean_an_open_core() -> None:
    ranking = rank("V d n 0.000", "V b c 24.00", "V tp tn 0.00")
    assert chance(ranking, [("W1+", "open"), ("W1-", "open")]) > 0.95
    assert chance(ranking, [("W1+", "open")]) == pytest.approx(0.5, abs=0.2)
    assert chance(ranking, SUPPLY) < 0.01
    assert any("PE" in text for text in offered(ranking))


def test_f8_both_device_terminals_up_to_earth_mean_an_open_minus_leg() -> None:
    """The meter's own 10 Mohm draws the transmitter to where it stops conducting: 24 - 10 V."""
    ranking = rank("V d n 0.000", "V tp PE 24.00", "V tn PE 14.00")
    assert chance(ranking, [("W1-", "open"), ("LK2", "open")]) > 0.95
    assert among(ranking, (("TX", "dead"),)) < 0.01
    assert among(ranking, (("W1+", "open"), *SUPPLY)) < 0.01


def test_f8_as_printed_an_open_minus_leg_is_part_of_every_explanation() -> None:
    """24 V at the - terminal while a meter hangs there: something conducts besides."""
    ranking = rank("V d n 0.000", "V tp PE 24.00", "V tn PE 24.00")
    assert among(ranking, (("W1-", "open"), ("LK2", "open"))) > 0.9
    assert chance(ranking, [("TX", "dead")]) < 0.01


def test_f8_plus_up_and_minus_at_earth_mean_a_dead_transmitter() -> None:
    ranking = rank("V d n 0.000", "V tp PE 24.00", "V tn PE 0.00")
    assert top(ranking) == ("TX", "dead")
    assert among(ranking, OPENS) < 0.02


# -- row 9: the limiter sets the current of a short ------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "where"),
    [
        (("V d n 10.2", "V tp tn 0.00"), "I.TX"),
        (("V d n 10.16", "V tp tn 0.000"), "I.TX"),
        (("V d n 10.9", "V b c 0.00"), "I.W1"),
        (("V d n 10.90", "V b c 0.000"), "I.W1"),
    ],
    ids=["at the device", "at the device, sharp", "at the cabinet", "at the cabinet, sharp"],
)
def test_f9_short_is_found_where_it_is(lines: tuple[str, ...], where: str) -> None:
    """43.6 mA at the cabinet against 40.7 mA through 40 ohm of cores."""
    ranking = rank(*lines)
    assert chance(ranking, [(where, "short")]) > 0.9
    assert chance(ranking, [("TX", "failed high")]) < 0.01


# -- row 10, 11 ------------------------------------------------------------------------------------


def test_f10_one_receiver_that_disagrees_is_at_fault_itself() -> None:
    """2.1 V of 1-5 V is 27.5 %."""
    ranking = rank("V d n 3.00", "U1 50.0 %", "U2 50.0 %", "U3 27.5 %")
    assert top(ranking) == ("U3", "scaling")
    size = ranking.hypotheses[0].size
    assert size is not None
    assert size.median == pytest.approx(-0.225, abs=0.005)
    own = chance(ranking, [("U3", "scaling"), ("U3", "frozen")])
    assert own > 0.5
    others = [item for item in ranking.hypotheses if item.part not in {None, "T1", "U3"}]
    assert sum(item.probability for item in others) < 0.1


def test_f11_alarm_current_against_a_process_in_range_means_failed_low() -> None:
    ranking = rank("V d n 0.90", "V tp tn 21.9", "process 40 %")
    assert top(ranking) == ("TX", "failed low")
    assert ranking.hypotheses[0].probability > 0.9
    assert among(ranking, OPENS) < 0.001


# -- row 12: on a floating supply one earth fault changes nothing ----------------------------------

LATENT = ("V tp PE 16.9", "V tn PE 0.0", "V d n 2.998")


@pytest.mark.parametrize("more", [(), ("TX 50 %", "U1 50.0 %")], ids=["bare", "signal right"])
def test_f12_latent_earth_of_the_minus_core_is_recognised(more: tuple[str, ...]) -> None:
    ranking = rank(*LATENT, *more, sheet="b3_floating")
    minus = [("E.W1-", "leakage"), ("E.W1-", "earthed")]
    assert chance(ranking, minus) > 0.95
    assert chance(ranking, [(None, "none")]) < 0.01
    assert ranking.remedy[0].part == "E.W1-"
    assert ranking.resolved


def test_f12_volts_to_earth_of_a_clean_floating_loop_raise_no_alarm() -> None:
    """Nothing ties the loop to earth: a meter of 10 Mohm to earth pulls its own point there."""
    signal = ("V d n 2.998", "TX 50 %")
    ranking = rank("V tp PE 0.00", "V tn PE 0.00", *signal, sheet="b3_floating")
    assert sound(ranking) >= sound(rank(*signal, sheet="b3_floating")) - 0.01
    assert chance(ranking, LEAKS) < 0.02


# -- row 13: a blown fuse in the meter looks like an open loop -------------------------------------


@pytest.mark.parametrize("inserted", [(), ("V d n 0.00 with LK1 open",)], ids=["before", "both"])
def test_f13_zero_milliamperes_beside_a_live_signal_point_to_the_meter(
    inserted: tuple[str, ...],
) -> None:
    """3.00 V across the resistor need current; a meter with a blown fuse is an open link."""
    ranking = rank("V d n 3.00", "mA LK1 0.00", *inserted)
    assert ranking.suspects
    assert max(ranking.suspects, key=lambda item: item.probability).index == 2
    assert among(ranking, (*OPENS, ("TX", "dead"), ("G1", "dead"))) < 0.5
    assert not ranking.resolved


def test_f13_two_signs_of_life_outvote_the_meter() -> None:
    ranking = rank("V d n 3.00", "U1 50.0 %", "mA LK1 0.00")
    assert [item.index for item in ranking.suspects] == [3]
    assert among(ranking, OPENS) < 0.05
    assert not ranking.resolved


# -- row 14, 15 ------------------------------------------------------------------------------------


def test_f14_ac_of_a_superimposed_signal_is_no_ground_loop() -> None:
    """88 mV rms are +-0.5 mA across 250 ohm (from memory: the level of the digital signal)."""
    loop = replace(engine("b3").loop, signalling=True)
    known = Engine(loop)
    bare = known.rank([parse_line("V d n 3.00", loop)])
    with_ac = known.rank([parse_line(line, loop) for line in ("V d n 3.00", "VAC d n 0.088")])
    assert sound(with_ac) >= sound(bare) - 0.02
    assert chance(with_ac, LEAKS) < 0.05
    assert top(with_ac) == top(bare)


def test_the_same_ac_where_nothing_signals_speaks_for_a_path_to_earth() -> None:
    """50/60 Hz of 5 to 500 mV across the resistor are the mark of a second earth."""
    bare, hum = rank("V d n 3.00"), rank("V d n 3.00", "VAC d n 0.088")
    assert chance(hum, LEAKS) > 3 * chance(bare, LEAKS)
    assert chance(hum, LEAKS) < 0.9
    assert not hum.resolved


@pytest.mark.parametrize("second", ["ohm d n 125 with supply off", "mA LK2 8.00"])
def test_f15_half_the_resistance_means_a_second_resistor(second: str) -> None:
    ranking = rank("V d n 1.000", second)
    assert chance(ranking, SECOND) > 0.9
    assert part(ranking, "TX") < 0.01


# -- the lessons that the signature table teaches besides ------------------------------------------


def test_leak_of_the_plus_core_leaves_the_signal_right_and_shows_between_the_legs() -> None:
    ranking = rank("V d n 2.998", "clamp W1+ 13.95", "V tp tn 16.29", "TX 50 %")
    assert top(ranking) == ("E.W1+", "leakage")
    assert ranking.hypotheses[0].probability > 0.9
    size = ranking.hypotheses[0].size
    assert size is not None
    assert size.low < 10e3 < size.high


def test_the_same_leak_is_seen_by_a_resistor_in_the_supply_leg() -> None:
    """13.623 mA through 249.81 ohm are 3.403 V; with the resistor in the return they never were."""
    lines = ("TX 50 %", "V tp tn 15.99")
    plus = rank("V s a 3.403", *lines, sheet="b3_supply_leg")
    assert chance(plus, [("E.W1+", "leakage")]) > 0.1
    assert chance(plus, [("E.W1+", "leakage"), *SHUNTS]) > 0.6
    assert chance(rank("V d n 3.403", *lines), LEAKS) < 0.01


def test_both_legs_tell_a_leak_to_earth_from_a_shunt_in_the_supply_leg_loop() -> None:
    lines = ("V s a 3.403", "TX 50 %", "V tp tn 15.99", "clamp W1+ 13.62", "clamp W1- 12.00")
    ranking = rank(*lines, sheet="b3_supply_leg")
    assert chance(ranking, [("E.W1+", "leakage")]) > 0.9
    assert chance(ranking, SHUNTS) < 0.01


def test_a_reading_at_low_signal_does_not_find_added_resistance() -> None:
    """+200 ohm at 4 mA: the signal is right, 20.838 V at the transmitter give it away."""
    blind = rank("V d n 0.999", "process 0 %", "V b c 21.80")
    assert sound(blind) > 0.5
    assert chance(blind, [("W1+", "high resistance"), ("W1-", "high resistance")]) < 0.2
    seen = rank("V d n 0.999", "process 0 %", "V b c 21.80", "V tp tn 20.84")
    assert chance(seen, [("W1+", "high resistance"), ("W1-", "high resistance")]) > 0.9


def test_error_that_shrinks_as_the_signal_rises_marks_a_shunt() -> None:
    """10 kohm across the transmitter adds 2.04 mA at 4 mA and 1.60 mA at 12 mA."""
    low = ("V d n 1.510 with TX driven 4 mA", "V d n 3.397 with TX driven 12 mA")
    assert chance(rank(*low), SHUNTS) > 0.9
    same = ("V d n 1.400 with TX driven 4 mA", "V d n 3.397 with TX driven 12 mA")
    assert chance(rank(*same), [("TX", "output error")]) > 0.9


def test_sense_resistor_open_lifts_the_bus_to_where_the_transmitter_stops() -> None:
    ranking = rank("V d n 13.98", "V tp tn 10.01")
    assert chance(ranking, [("R1", "open")]) > 0.9
