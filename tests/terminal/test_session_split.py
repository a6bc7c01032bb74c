"""``split``: the reading that tells two faults apart, judged by what each does to the circuit.

A drifted sense resistor leaves the loop current right and the bus volts wrong; an output stage that
is off leaves both wrong in proportion.  So a current, or volts that do not hang on the resistor,
tells them apart (common practice, no source; arithmetic by Ohm's law).
"""

from collections.abc import Iterator

import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_lines
from diagnose.inference.telling import telling
from diagnose.loops.plant import open_plant
from diagnose.terminal.session_talk import Talk
from terminal.session_stand import flat, say, talk_on

LOOP = open_plant().load("LT-214")
SAID = ("complaint reads high", "LIC-214 60 %", "LR-214 60.1 %", "LT-214 50 %")
DRIFT, OUTPUT = ("R1", "drift"), ("LT-214", "output error")


@pytest.fixture(scope="module")
def engine() -> Engine:
    return Engine(LOOP)


@pytest.fixture(scope="module")
def talk(tmp_path_factory: pytest.TempPathFactory, engine: Engine) -> Iterator[Talk]:
    talk = talk_on(tmp_path_factory.mktemp("split"), LOOP, lambda: engine)
    talk.told, talk.changed = True, False
    for line in SAID:
        talk.hunt.take(line)
    yield talk
    talk.hunt.file.close()


def test_a_current_tells_a_resistor_from_an_output_stage(engine: Engine) -> None:
    """At 50 %: 12 mA through a resistor that is off; at 60 % shown, 13.6 mA if the output is."""
    found = telling(engine, parse_lines(SAID, LOOP), DRIFT, OUTPUT)
    assert found[0].bits > 0.9
    clamps = [item for item in found if item.measurement.function in ("clamp", "mA")]
    assert clamps
    for item in clamps:
        assert item.first[0] < 0.012 < item.first[1] + 0.0002
        assert item.second[0] < 0.0136 < item.second[1] + 0.0002


def test_receivers_alone_tell_nothing_apart_by_themselves(engine: Engine) -> None:
    """Both faults move the bus alike: no reading of the bus is among the telling ones."""
    found = telling(engine, parse_lines(SAID, LOOP), DRIFT, OUTPUT, calm=True)
    assert found
    assert all("X22:1" not in item.measurement.points for item in found)


def test_an_explanation_that_is_ruled_out_is_none(engine: Engine) -> None:
    with pytest.raises(KeyError):
        telling(engine, parse_lines(SAID, LOOP), DRIFT, ("F1", "open"))


def test_nothing_tells_apart_where_all_is_ruled_out(engine: Engine) -> None:
    places = frozenset(place.name for place in LOOP.places)
    assert telling(engine, parse_lines(SAID, LOOP), DRIFT, OUTPUT, without=places) == ()


def test_split_names_both_and_what_each_would_show(talk: Talk) -> None:
    said = flat(say(talk, "split R1 drift, LT-214 output error"))
    assert said.startswith("R1 drift (sense resistor), or LT-214 output error (transmitter):")
    assert "V X21:1 X21:3" in said  # the volts across the limiter tell the current
    assert "tells" in said


def test_without_names_the_two_likeliest_are_split(talk: Talk) -> None:
    assert ", or " in say(talk, "split")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("R1 drift", "name two faults"),
        ("R1 drift, R1 drift", "the same"),
        ("R1 drift, F1 open", "ruled out"),
        ("R1 drift, R9 open", "no part called 'R9'"),
        ("R1 drift, R1 sideways", "no fault of R1"),
    ],
)
def test_what_cannot_be_split_is_told(talk: Talk, words: str, told: str) -> None:
    assert told in flat(say(talk, f"split {words}"))
