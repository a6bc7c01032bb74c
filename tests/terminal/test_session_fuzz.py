"""Whatever is typed in a session, it answers, and the case on disk is the case in hand."""

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.casework.log import CaseFile
from diagnose.inference.measurement import COMPLAINTS, CONTEXTS
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_lines
from diagnose.loops.plant import open_plant
from diagnose.terminal.session_commands import WORDS
from diagnose.terminal.session_questions import opening
from terminal.answers import DONE, OPEN, ranked, ranking
from terminal.session_stand import BY_HAND, by_hand

LOOP = open_plant().load("LT-214")
NAMES = [name for word in WORDS for name in (word.name, *word.also)]
PIECES = [
    *NAMES, *COMPLAINTS, *CONTEXTS, "V", "mA", "ohm", "clamp", "X21:7", "X20:0", "X21:4", "JB9:1",
    "LR-214", "LAHH-214", "W3+", "R1", "drift", "3.02", "12 mA", "62 %", "OL", "lit", "0", "1", "2",
    "99", "-1", "with", "supply off", "LR-214+.X22 lifted", "LT-214 driven 4 mA", "junction box",
    "all", "ok", "cause confirmed", "handed over", "", "\u2126", "\x1b[A", "\x00", "1e400", "nan",
]  # fmt: skip

RANKINGS = [
    BY_HAND, OPEN, DONE, ranking(unexplained=1.0), ranking(),
    ranking(ranked("R1", "drift", 0.01, 1), unexplained=0.99, next=BY_HAND.next),
    ranking(ranked("F1", "open", 0.5, 1), ranked("R1", "drift", 0.5, 1), next=BY_HAND.next),
]  # fmt: skip

line = st.one_of(
    st.lists(st.sampled_from(PIECES), max_size=5).map(" ".join),
    st.text(max_size=80),
    st.sampled_from([
        "V X21:7 X20:0 3.02", "mA X21:3 X21:4 12.0", "V X21:7 X20:0 3.0 with LR-214+.X22 lifted",
        "ok", "undo", "retake 1", "correct 1 3.0", "withdraw 1", "done", "bypass somebody",
        "manual somebody", "proof", "remedy 1", "confirm R1 drift seen", "1.0", "",
    ]),
)  # fmt: skip


@settings(max_examples=150)
@given(st.lists(line, max_size=25), st.booleans(), st.sampled_from(RANKINGS))
def test_any_lines_are_answered_and_what_is_acknowledged_is_on_disk(
    lines: list[str], at_first: bool, answer: Ranking
) -> None:
    with TemporaryDirectory() as folder:
        talk = by_hand(Path(folder), LOOP, answer)
        if at_first:
            talk.told, talk.questions = False, opening(talk)
        for typed in lines:
            if talk.over:
                break
            said = list(talk.hear(typed))
            assert all(isinstance(text, str) and "\n" not in text for text in said)
            assert isinstance(talk.prompt(), str)
        case = talk.hunt.case
        talk.hunt.file.close()
        again = CaseFile.open(talk.hunt.file.path, write=False)
        assert again.case == case
        assert again.warnings == []
        parse_lines(case.evidence, LOOP)
