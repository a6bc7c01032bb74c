"""What was looked at and is good is said in one line, kept, told, and taken back.

That a part which was inspected is written down as found good, so that nobody inspects it twice,
is common practice, no source.
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.casework.handover import handover
from diagnose.casework.hunt import Hunt
from diagnose.casework.log import CaseFile
from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Remedy
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.terminal.session_talk import Talk
from diagnose.training.anonymous import text_of
from terminal.answers import DONE
from terminal.session_stand import SCREEN, by_hand, flat, say, talk_on


@pytest.fixture(scope="module")
def loop() -> Loop:
    return open_plant().load("LT-214")


@pytest.fixture
def talk(tmp_path: Path, loop: Loop) -> Iterator[Talk]:
    """A talk where two repairs are listed and measuring is over."""
    remedies = (
        Remedy("R1", "drift", "measure it and renew it", "cabinet", 0.6, 15.0),
        Remedy("F1", "open", "renew the fuse", "cabinet", 0.3, 5.0),
    )
    talk = by_hand(tmp_path, loop, replace(DONE, remedy=remedies))
    yield talk
    talk.hunt.file.close()


def looks(talk: Talk) -> tuple[str, ...]:
    return talk.hunt.case.found_good


def test_one_line_says_it_and_counts_as_evidence(talk: Talk) -> None:
    said = flat(say(talk, "good R1 drift 249.9 ohm out of circuit"))
    assert "Found good, so out of the running: R1 drift (sense resistor)." in said
    assert looks(talk) == ("good R1 drift",)
    assert talk.hunt.case.evidence == ("good R1 drift",)
    assert talk.hunt.case.looks[0].seen == "249.9 ohm out of circuit"
    assert "good R1 drift" in say(talk, "list")
    note = handover(talk.hunt.case, None)
    assert "found good: R1 drift (249.9 ohm out of circuit)" in note


@pytest.mark.parametrize("words", ["found good F1 open", "cleared F1 open", "good 2"])
def test_other_ways_to_say_it(talk: Talk, words: str) -> None:
    say(talk, words)
    assert looks(talk) == ("good F1 open",)


def test_one_look_does_not_rule_out_every_fault(talk: Talk) -> None:
    """Where a part can fail in several ways it is asked which was looked for."""
    assert "which of these was looked for" in flat(say(talk, "good R1"))
    assert looks(talk) == ()
    assert "Type numbers from 1 to 3" in say(talk, "7")
    say(talk, "1, 3")
    assert looks(talk) == ("good R1 open", "good R1 short")
    say(talk, "good R1", "drift")
    assert looks(talk)[-1] == "good R1 drift"
    assert say(talk, "good R1 all").startswith("Not done: R1 was found good already")
    say(talk, "good F1", "all")
    assert [line for line in looks(talk) if "F1" in line] == [
        "good F1 open", "good F1 high resistance",
    ]  # fmt: skip


def test_the_last_fault_of_a_part_is_not_asked_for(talk: Talk) -> None:
    say(talk, "good R1 open", "good R1 short", "good R1")
    assert looks(talk)[-1] == "good R1 drift"
    assert talk.question is None


def test_undo_leaves_the_question_and_takes_nothing_back(talk: Talk) -> None:
    say(talk, "good R1 open", "good R1", "undo")
    assert talk.question is None
    assert looks(talk) == ("good R1 open",)


def test_a_part_with_one_fault_needs_no_more_words(talk: Talk) -> None:
    say(talk, "good E1")
    assert looks(talk) == ("good E1 open",)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("good", "Not done: say which part was looked at and is good, such as: good "),
        ("good RX1", "Not understood: no part that can fail called 'RX1'"),
        ("good 5", "Not done: there is no remedy 5"),
    ],
)
def test_what_cannot_be_meant_changes_nothing(talk: Talk, line: str, told: str) -> None:
    assert told in flat(say(talk, line))
    assert looks(talk) == ()
    assert talk.question is None


def test_it_is_not_said_twice(talk: Talk) -> None:
    assert "on record already" in say(talk, "good R1 drift", "good R1 drift")
    assert looks(talk) == ("good R1 drift",)


def test_undo_takes_back_what_one_line_said(talk: Talk) -> None:
    say(talk, "V X21:7 X20:0 3.02", "good R1 all", "undo")
    assert looks(talk) == ()
    assert len(talk.hunt.case.in_force) == 1
    say(talk, "good R1 drift", "good R1 open", "withdraw good R1 drift")
    assert looks(talk) == ("good R1 open",)


def test_it_lasts_and_is_taken_back_in_a_later_session(tmp_path: Path, loop: Loop) -> None:
    """In the order in which things were entered, whatever they are."""
    talk = by_hand(tmp_path, loop)
    say(talk, "V X21:7 X20:0 3.02", "good R1 drift", "V X21:4 X20:0 23.9")
    path = talk.hunt.file.path
    talk.hunt.file.close()
    file = CaseFile.open(path)
    hunt = Hunt(file, loop, lambda: Engine(loop), "cabinet")
    assert hunt.case.found_good == ("good R1 drift",)
    assert "Reading 2" in hunt.mending.undo()
    assert "good R1 drift" in hunt.mending.undo()
    assert "Reading 1" in hunt.mending.undo()
    assert hunt.case.evidence == ()
    file.close()


def test_where_nothing_is_found_before_the_repair_there_is_none(talk: Talk) -> None:
    say(talk, "remedy 1", "ok")
    assert talk.prompt() == "as found> "
    say(talk, "good")
    assert looks(talk) == ("good R1 drift",)
    assert talk.hunt.case.remedies == ()
    assert talk.question is None


def test_good_is_an_answer_to_how_it_was_left(talk: Talk) -> None:
    say(talk, "remedy 1", "ok", "310 ohm", "good")
    assert talk.hunt.case.remedies[0].as_left == "good"
    assert looks(talk) == ()


def test_what_was_found_good_is_not_confirmed(talk: Talk) -> None:
    said = say(talk, "good R1 drift", "confirm R1 drift: 310 ohm")
    assert said == "Not done: it was found good; if it was not: withdraw good R1 drift"
    say(talk, "withdraw good R1 drift", "confirm R1 drift: 310 ohm")
    assert talk.hunt.case.cause is not None


def test_the_words_stay_at_home_where_a_case_is_made_anonymous(talk: Talk) -> None:
    say(talk, "good W3+ open seen by Larkmere shift")
    text = text_of(talk.hunt.file.events)
    assert '"found good"' in text
    assert "Larkmere" not in text
    assert "W3+" not in text


def test_the_engine_believes_it(tmp_path: Path, loop: Loop) -> None:
    talk = talk_on(tmp_path, loop, lambda: Engine(loop))
    talk = Talk(talk.hunt, SCREEN)
    say(talk, "complaint reads low", "V X21:7 X20:0 0.0")
    first = next(item for item in talk.hunt.ranking().hypotheses if item.part)
    said = flat(say(talk, f"what if good {first.part} {first.fault}"))
    assert f"< 1 % {first.part} {first.fault}" in said
    assert looks(talk) == ()
    say(talk, f"good {first.part} {first.fault}")
    left = {(item.part, item.fault): item.probability for item in talk.hunt.ranking().hypotheses}
    assert left[first.part, first.fault] < 1e-9
    talk.hunt.file.close()


def test_how_it_was_found_is_kept_before_anything_is_done(talk: Talk) -> None:
    """A clamp is seen loose, and the shift ends: what was seen must not hang on what was done."""
    say(talk, "remedy 1", "ok", "310 ohm, one end brown")
    assert [note.text for note in talk.hunt.case.notes] == [
        "as found, R1 drift: 310 ohm, one end brown"
    ]
    said = flat(say(talk, ""))
    assert "how it was found is noted" in said
    assert talk.question is None
    assert talk.hunt.case.remedies == ()
    note = flat(say(talk, "handover"))
    assert "note: as found, R1 drift: 310 ohm, one end brown" in note


def test_what_was_noted_as_found_is_offered_again(talk: Talk) -> None:
    say(talk, "remedy 1", "ok", "310 ohm", "")
    assert "As noted before: 310 ohm. Enter keeps that." in flat(say(talk, "remedy 1", "ok"))
    say(talk, "", "renewed, 250.1 ohm")
    tried = talk.hunt.case.remedies[0]
    assert (tried.as_found, tried.as_left) == ("310 ohm", "renewed, 250.1 ohm")
    assert len(talk.hunt.case.notes) == 1
    assert "note: as found" not in flat(say(talk, "handover"))  # it stands with the repair
    assert "As noted before" not in flat(say(talk, "remedy 1", "ok"))
