"""The STOP of a complaint: a trip that did not come in may leave the plant without it.

Whoever runs the plant has to know before anything is measured (IEC 61511, by its title): so it
waits for an answer, as other STOPs do, and the answer is kept in the case and its note.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.casework.handover import handover
from diagnose.casework.hunt import Hunt
from diagnose.casework.log import CaseFile
from diagnose.inference.cautions import CAUTIONS
from diagnose.loops.plant import open_plant
from diagnose.terminal.outcome import Look
from diagnose.terminal.session_questions import begin
from diagnose.terminal.session_talk import AGREE, Talk
from terminal.answers import ranked
from terminal.session_stand import BY_HAND, by_hand, flat, say

TEXT = CAUTIONS["no trip"].text


def fresh(folder: Path) -> Talk:
    """A talk whose first question stands."""
    talk = by_hand(folder, open_plant().load("LAHH-214"))
    talk.told = False
    list(begin(talk, True))
    return talk


def test_it_waits_for_ok_whatever_else_is_typed(tmp_path: Path) -> None:
    """Enter, a value, a reading and words are no answer; commands are."""
    talk = fresh(tmp_path)
    assert f"STOP: {TEXT}" in flat(say(talk, "no trip"))
    for line in ("", "62 %", "LIC-214 62 %", "told him"):
        said = flat(say(talk, line))
        assert TEXT in said
        assert "Not taken" in said
        assert talk.prompt() == f"{AGREE}> "
    assert TEXT in flat(say(talk, "cancel"))
    assert talk.prompt() == f"{AGREE}> "
    assert talk.hunt.case.readings == ()
    talk.hunt.file.close()


def test_its_answer_is_kept_and_the_questions_go_on(tmp_path: Path) -> None:
    talk = fresh(tmp_path)
    assert "What goes on around it?" in flat(say(talk, "no trip", "ok"))
    assert talk.hunt.case.acknowledged == ("no trip",)
    assert "Cautions acknowledged: no trip" in handover(talk.hunt.case, None)
    say(talk, "complaint did not trip")
    assert talk.prompt() != f"{AGREE}> "
    talk.hunt.file.close()


def test_it_goes_with_the_complaint(tmp_path: Path) -> None:
    """A wrong number in the list of complaints is taken back without answering for it."""
    talk = fresh(tmp_path)
    say(talk, "no trip", "undo")
    assert talk.prompt() == "complaint> "
    assert "What goes on around it?" in flat(say(talk, "reads high"))
    assert talk.hunt.case.acknowledged == ()
    talk.hunt.file.close()


def test_on_a_screen_it_stands_with_its_question(tmp_path: Path) -> None:
    """An answer is wiped away by the next one; a question is not."""
    talk = fresh(tmp_path)
    talk.drawn = True
    assert TEXT not in flat(say(talk, "no trip"))
    assert talk.question is not None
    assert TEXT in flat("\n".join(talk.question.text))
    say(talk, "")
    assert TEXT in flat("\n".join(talk.question.text))
    talk.hunt.file.close()


def test_the_next_shift_is_asked_where_nobody_answered(tmp_path: Path) -> None:
    talk = fresh(tmp_path)
    say(talk, "no trip", "quit")
    path, engine = talk.hunt.file.path, talk.hunt.engine
    talk.hunt.file.close()
    with CaseFile.open(path) as file:
        after = Talk(Hunt(file, talk.loop, lambda: engine, "cabinet"), Look(80))
        assert TEXT in flat("\n".join(begin(after, False)))
        assert after.prompt() == f"{AGREE}> "
        assert "Next:" in flat(say(after, "ok"))


def test_a_state_at_a_step_is_no_complaint_that_the_loop_has_not(tmp_path: Path) -> None:
    """``high`` was taken for "reads high", which nobody can complain of where states are shown."""
    talk = by_hand(tmp_path, open_plant().load("ZS-221"))
    assert "is no complaint of this loop" in flat(say(talk, "high"))
    assert talk.hunt.case.complaints == ()
    talk.told = False
    list(begin(talk, True))
    assert "is no complaint of this loop" in flat(say(talk, "high"))
    assert talk.prompt() == "complaint> "
    say(talk, "stays open")
    assert talk.hunt.case.complaints == ("stays open",)
    talk.hunt.file.close()


@pytest.mark.parametrize(
    ("part", "fault", "chance", "looked"),
    [
        ("S1", "left on", 0.45, True),
        ("S1", "left on", 0.03, False),
        ("K1", "stuck off", 0.45, False),
    ],
)
def test_a_bypass_that_may_be_on_is_looked_at_before_anything_is_measured(
    tmp_path: Path, part: str, fault: str, chance: float, looked: bool
) -> None:
    """To look costs nothing, and the plant may be without its trip (common practice, no source)."""
    ranking = replace(BY_HAND, hypotheses=(ranked(part, fault, chance, 0),))
    talk = by_hand(tmp_path, open_plant().load("LAHH-214"), ranking)
    said = flat(say(talk, "show"))
    assert (f"Look first: {part} (" in said) == looked
    assert ("If it is off: good S1 left on." in said) == looked
    say(talk, "bypass shift lead, until six")  # it is on, and for whom is on record
    assert "Look first" not in flat(say(talk, "show"))
    talk.hunt.file.close()
