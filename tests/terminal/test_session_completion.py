"""Completion: what it offers is understood, and it never fails."""

from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.casework.case import Case
from diagnose.casework.events import ENDINGS
from diagnose.loops.plant import open_plant
from diagnose.terminal.session_commands import WORDS, command_of
from diagnose.terminal.session_completion import offers
from terminal.session_stand import by_hand, say

LOOP = open_plant().load("LT-214")


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Case]:
    """Two readings, the first withdrawn, and one open item."""
    talk = by_hand(tmp_path_factory.mktemp("completion"), LOOP)
    say(talk, "V X21:7 X20:0 3.02", "ohm X21:7 X20:0 250 with supply off", "withdraw 1")
    yield talk.hunt.case
    talk.hunt.file.close()


def test_every_command_is_offered_word_by_word(case: Case) -> None:
    assert {word.name for word in WORDS} <= set(offers("", LOOP, case))
    assert "if" in offers("what i", LOOP, case)
    assert "possible" in offers("not ", LOOP, case)


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        ("V X21:", "X21:7"),
        ("at jun", "junction box"),
        ("at junction ", "box"),
        ("without cl", "clamp"),
        ("withdraw ", "2"),
        ("done ", "1"),
        ("done a", "all"),
        ("close no ", "fault found"),
        ("confirm R", "R1"),
        ("confirm R1 ", "drift"),
        ("confirm LT-214 fixed ", "output"),
        ("what if V X21:7 X2", "X20:0"),
        ("why X21", "X21:4"),
        ("why W3", "W3+"),
        ("help wh", "why"),
        ("help what ", "if"),
        ("rem", "remedy"),
    ],
)
def test_what_may_follow_is_offered(case: Case, typed: str, offered: str) -> None:
    assert offered in offers(typed, LOOP, case)


def test_a_withdrawn_reading_is_not_offered(case: Case) -> None:
    assert offers("correct ", LOOP, case) == ["2"]


@pytest.mark.parametrize("ending", ENDINGS)
def test_an_ending_is_completed(case: Case, ending: str) -> None:
    assert ending in offers("close ", LOOP, case)


def test_the_question_that_stands_offers_its_answers(case: Case) -> None:
    assert offers("", LOOP, case, "complaint")[0] == "reads low"
    assert "rain" in offers("ra", LOOP, case, "context")


def test_a_question_for_a_lamp_or_a_loop_beside_offers_its_answers(case: Case) -> None:
    assert offers("", LOOP, case, "LAHH-214")[:2] == ["lit", "dark"]
    assert offers("d", LOOP, case, "LAHH-214")[0] == "dark"
    assert offers("", LOOP, case, "LT-216")[:2] == ["affected", "well"]
    assert "V" in offers("V", LOOP, case, "LAHH-214")  # a reading may be typed at any question


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        ("lt216 ", ["affected", "well"]),
        ("lt216 a", ["affected"]),
        ("lt216", ["LT-216"]),
        ("good lt214 fi", ["fixed output"]),
        ("good lt214", ["LT-214"]),
    ],
)
def test_a_tag_is_completed_without_its_hyphen(case: Case, typed: str, offered: list[str]) -> None:
    assert offers(typed, LOOP, case)[: len(offered)] == offered


def test_only_the_complaints_of_a_loop_are_offered(case: Case) -> None:
    """A transmitter has no valve that stays on; a valve has no value that is moving."""
    asked = offers("", LOOP, case, "complaint")
    assert {"reads low", "tripped"} <= set(asked)
    assert {"stays on", "does not follow"}.isdisjoint({*asked, *offers("complaint ", LOOP, case)})
    valve = open_plant().load("XV-221")
    assert "moving" not in {*offers("", valve, case, "context"), *offers("context ", valve, case)}
    assert "stays on" in offers("complaint ", valve, case)


@given(st.text(max_size=60))
def test_any_text_is_completed_without_failing(typed: str) -> None:
    for asked in ("", "complaint", "LIC-214"):
        assert all(isinstance(word, str) and word for word in offers(typed, LOOP, Case(), asked))


@given(st.lists(st.sampled_from([*(w.name for w in WORDS), "V", "X21:7", "3", "with", "supply"])))
def test_any_words_are_completed_without_failing(words: list[str]) -> None:
    line = " ".join(words)
    for typed in (line, f"{line} "):
        assert isinstance(offers(typed, LOOP, Case()), list)
        assert command_of(typed) is not None
