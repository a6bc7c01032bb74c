"""What shows a state is spoken of in its own words.

That a lamp is lit, a horn sounds, a relay is pulled in, a valve stands open or shut and a handwheel
is engaged or neutral is common practice, no source.
"""

import pytest

from diagnose.errors import ReadingError
from diagnose.inference.expected import expected_table
from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.meters import GENERIC
from diagnose.inference.readings import describe, parse_line, suggest
from diagnose.loops.kind import Kind
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.loops.states import STATES

SPOKEN = {
    ("LAHH-214", "H1"): ("lit", "dark"),
    ("LAHH-214", "H2"): ("sounds", "silent"),
    ("LAHH-214", "RL1"): ("pulled in", "dropped out"),
    ("XV-221", "HS-221"): ("on", "off"),
    ("XV-221", "MO"): ("turned", "not turned"),
    ("XV-221", "ZLO-221"): ("lit", "dark"),
    ("LV-214", "HW"): ("engaged", "neutral"),
    ("LV-214", "LIC-214.M"): ("lit", "dark"),
}


def loop(tag: str) -> Loop:
    return open_plant().load(tag)


def sort(line: str, tag: str) -> str:
    found = parse_line(line, loop(tag))
    assert isinstance(found, Reading)
    return found.sort


@pytest.mark.parametrize(("where", "words"), SPOKEN.items(), ids=lambda item: "-".join(item))
def test_a_state_has_its_own_words(where: tuple[str, str], words: tuple[str, str]) -> None:
    """Typed, told, offered; and what an old case says of it is read as ever."""
    tag, part = where
    wanted = Measurement("shows", (part,))
    for word, old in zip(words, ("lit", "dark"), strict=True):
        assert sort(f"{part} {word}", tag) == sort(f"{part} {old}", tag) == old
        assert describe(Reading(wanted, old), loop(tag)) == f"{part} {word}"
    assert suggest(f"{part} ", loop(tag)) == list(words)


@pytest.mark.parametrize(
    ("tag", "line", "wanted"),
    [
        ("LAHH-214", "H2 quiet", "dark"),
        ("LAHH-214", "H2 is sounding", "lit"),
        ("LAHH-214", "H2 on", "lit"),
        ("LAHH-214", "RL1 de-energised", "dark"),
        ("LAHH-214", "RL1 Pulled In", "lit"),
        ("LAHH-214", "H1 tripped", "lit"),
        ("XV-221", "HS-221 energised", "lit"),
        ("LV-214", "HW disengaged", "dark"),
        ("LV-214", "LIC-214.M manual", "lit"),
        ("LV-214", "LIC-214.M auto", "dark"),
    ],
)
def test_other_words_for_a_state(tag: str, line: str, wanted: str) -> None:
    assert sort(line, tag) == wanted


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("H2 50 %", "H2 is 'sounds' or 'silent'"),
        ("RL1 open", "RL1 is 'pulled in' or 'dropped out'"),
        # A fail-safe relay is dropped when it has tripped: the word would be taken the wrong way.
        ("RL1 tripped", "RL1 is 'pulled in' or 'dropped out'"),
    ],
)
def test_a_wrong_word_is_told_the_right_ones(line: str, words: str) -> None:
    with pytest.raises(ReadingError, match=words):
        parse_line(line, loop("LAHH-214"))


def test_what_is_expected_of_a_state_has_its_word_for_a_unit() -> None:
    rows = expected_table(loop("LAHH-214"), GENERIC, (0.2, 0.8)).rows
    horn = next(row for row in rows if row.text == "H2")
    assert horn.unit == "sounds"
    assert [value.value for value in horn.values] == [0.0, 1.0]


def test_every_kind_has_words_that_are_known_by_their_unit() -> None:
    """And no word means both."""
    for kind in Kind.registry.values():
        if kind.shows is not None and kind.shows.what == "state":
            states = kind.shows.states
            assert (STATES[states.on].on, STATES[states.on].off) == (states.on, states.off)
            assert states.words[states.on] == "lit"
            assert states.words[states.off] == "dark"
            assert not {states.on, *states.also_on} & {states.off, *states.also_off}


def test_a_fault_of_what_shows_a_state_is_called_in_its_own_words() -> None:
    """A lamp that fails with its volts on is dark; only a horn is silent."""
    called = set()
    for kind in Kind.registry.values():
        if kind.shows is not None and kind.shows.what == "state":
            names = {mode.name for mode in kind.modes} & {"dark", "silent"}
            assert names <= {kind.shows.states.off}, kind.name
            called |= names
    assert called == {"dark", "silent"}


@pytest.mark.parametrize("line", ["LIC-214 1116 mm", "LV-214 1116 mm"])
def test_an_output_and_a_travel_are_no_level(line: str) -> None:
    """A signal to a valve and the travel of its stem are in % whatever the loop's range is."""
    with pytest.raises(ReadingError, match=r"write % of range$"):
        parse_line(line, loop("LIC-214"))
    assert parse_line(f"{line.split()[0]} 62 %", loop("LIC-214"))
    assert parse_line("LR-214 1116 mm", loop("LIC-214"))


@pytest.mark.parametrize(
    ("said", "low", "high"),
    [("open", 1.0, 1.0), ("is open", 1.0, 1.0), ("shut", 0.0, 0.0), ("closed", 0.0, 0.0),
     ("lit", 1.0, 1.0), ("dark", 0.0, 0.0), ("40 %", 0.4, 0.4), ("part way", 0.2, 0.8),
     ("half open", 0.2, 0.8), ("20..40 %", 0.2, 0.4)],
)  # fmt: skip
def test_a_pointer_stands_at_an_end_or_between(said: str, low: float, high: float) -> None:
    """0 % is shut and 100 % open; old cases say lit and dark of it."""
    found = parse_line(f"XV-221 {said}", loop("XV-221"))
    assert isinstance(found, Reading)
    half = found.spread if found.sort == "span" else 0.0
    assert (found.value - half, found.value + half) == (pytest.approx(low), pytest.approx(high))
    assert suggest("XV-221 ", loop("XV-221")) == ["open", "shut", "part way"]
