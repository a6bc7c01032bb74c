"""What the remedies of the fault modes tell people to do: common practice, no source.

A remedy is read at night by somebody who is about to do it.  It must not move a valve unasked, stop
the neighbours of a channel, take a trip or a limit away, or lose the cause with the symptom.
"""

from collections.abc import Iterator

import pytest

import diagnose.loops.kinds  # noqa: F401  (registers the kinds)
from diagnose.loops.kind import FaultMode, Kind


def _modes() -> Iterator[tuple[str, FaultMode]]:
    for name, kind in Kind.registry.items():
        for mode in kind.modes:
            yield f"{name} {mode.name}", mode


MODES = dict(_modes())


@pytest.mark.parametrize("name", MODES)
def test_every_fault_says_what_to_do(name: str) -> None:
    remedy = MODES[name].remedy
    assert remedy
    assert not remedy.endswith(".")  # it is printed in mid-sentence or with a stop of its own


def test_a_card_is_restarted_with_its_other_channels_in_mind() -> None:
    """A card has more channels than the one at hand."""
    restarting = [m for m in MODES.values() if "restart" in m.remedy and "card" in m.remedy]
    assert restarting
    assert all("all its channels" in mode.remedy for mode in restarting)


@pytest.mark.parametrize(
    "name",
    [
        "manual_override left on",
        "pilot_valve stuck shut",
        "pilot_valve stuck over",
        "pilot_valve exhaust plugged",
        "handwheel holds back",
        "handwheel holds up",
        "positioner left in local",
        "station_mode left in manual",
    ],
)
def test_what_makes_a_valve_move_says_who_or_when(name: str) -> None:
    assert any(word in MODES[name].remedy for word in ("may move", "goes over", "operator"))


@pytest.mark.parametrize("kind", ["on_off_valve", "control_valve", "positioned_valve"])
def test_hands_stay_off_a_stem_that_is_stuck(kind: str) -> None:
    """It may let go, with air or a spring behind it."""
    stuck = [m for m in Kind.registry[kind].modes if m.name.startswith("stuck")]
    assert stuck
    assert all("hands off the stem" in mode.remedy for mode in stuck)
    assert all({"output", "air", "process side"} <= set(mode.cautions) for mode in stuck)


@pytest.mark.parametrize("name", ["comparator stuck on", "trip_amplifier latched"])
def test_a_trip_is_not_reset_before_its_cause_is_known(name: str) -> None:
    cause, reset = (MODES[name].remedy.find(word) for word in ("what tripped it", "reset"))
    assert 0 <= cause < reset


@pytest.mark.parametrize("kind", ["controller", "output_station"])
def test_a_limit_of_an_output_is_not_moved_by_who_finds_it(kind: str) -> None:
    limits = [m for m in Kind.registry[kind].modes if m.name.endswith("limit")]
    assert len(limits) == 2
    assert all("by authority" in mode.remedy for mode in limits)


def test_an_output_that_sinks_is_not_set_to_deliver() -> None:
    assert "to sink" in MODES["isolator_sink dead"].remedy
    assert "to deliver" in MODES["isolator_output dead"].remedy


def test_no_contact_of_an_interlock_is_bridged() -> None:
    """A bridge across it tells the control system a state that is not there."""
    assert "bridge" not in MODES["output_relay does not close"].remedy


def test_a_well_that_is_wet_is_left_alone() -> None:
    assert "wet or under pressure" in MODES["thermowell poor contact"].remedy


def test_what_opened_by_itself_is_closed_after_its_reason_is_found() -> None:
    assert "what blew it" in MODES["fuse open"].remedy
    assert "why it opened" in MODES["mains_supply dead"].remedy
