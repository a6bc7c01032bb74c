"""The talk of a session: answers, commands, cautions, the end of a hunt; no screen, no engine."""

import errno
import os
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.casework.case import Case, Open
from diagnose.casework.proofs import latest
from diagnose.inference.cautions import CAUTIONS
from diagnose.inference.complaints import complaints
from diagnose.inference.measurement import COMPLAINTS, CONTEXTS, Measurement
from diagnose.inference.ranking import Advice, Proof, Remedy, Size
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.terminal.render_ranking import rows, verdict
from diagnose.terminal.session_commands import TOPICS, WORDS, command_of
from diagnose.terminal.session_questions import opening
from diagnose.terminal.session_talk import Talk, is_value
from diagnose.terminal.session_view import brief, closing, foot, leading, row_name
from terminal.answers import DONE, OPEN, ranked, ranking
from terminal.session_stand import BY_HAND, SCREEN, by_hand, flat, say

STEP = "mA X21:3 X21:4"
DRIVEN = "V X21:7 X20:0 with LT-214 driven 4 mA"
AT_HAND = ("bypass shift lead until 04:00", "manual operator holds it")


@pytest.fixture(scope="module")
def loop() -> Loop:
    return open_plant().load("LT-214")


@pytest.fixture
def talk(tmp_path: Path, loop: Loop) -> Iterator[Talk]:
    talk = by_hand(tmp_path, loop)
    yield talk
    talk.hunt.file.close()


@pytest.fixture
def asked(talk: Talk) -> Talk:
    """A talk at its first question."""
    talk.told = False
    talk.questions = opening(talk)
    return talk


@pytest.fixture
def controlled(tmp_path: Path) -> Iterator[Talk]:
    """A talk at its first question, on a whole control loop."""
    talk = by_hand(tmp_path, open_plant().load("LIC-214"))
    talk.told = False
    talk.questions = opening(talk)
    yield talk
    talk.hunt.file.close()


@pytest.fixture
def ended(tmp_path: Path, loop: Loop) -> Iterator[Talk]:
    """A talk where one cause leads and measuring is over."""
    answer = replace(
        DONE,
        remedy=(Remedy("R1", "drift", "measure it and renew it", "cabinet", 0.98, 15.0),),
        proof=(
            Proof("V X21:7 X20:0 with LT-214 driven 4 mA", 0.996, 1.002, "V"),
            Proof("V X21:7 X20:0 with LT-214 driven 20 mA", 4.985, 5.005, "V"),
        ),
    )
    talk = by_hand(tmp_path / "ended", loop, answer)
    yield talk
    talk.hunt.file.close()


def evidence(talk: Talk) -> tuple[str, ...]:
    return talk.hunt.case.evidence


def still_open(talk: Talk) -> list[str]:
    return [item.item for item in talk.hunt.case.open_items]


# -- the opening


def test_a_hunt_begins_with_what_costs_nothing(asked: Talk) -> None:
    """Complaint, context, then the displays here and where somebody answers the radio."""
    prompts = [question.prompt for question in asked.questions]
    assert prompts[:2] == ["complaint", "context"]
    assert prompts[2:-1] == ["LIC-214", "LR-214", "LAHH-214", "LI-214", "LT-216"]
    assert "LG-214" not in prompts  # a sight glass twenty minutes away costs something


def told(talk: Talk, complaint: str) -> None:
    """Answer the STOP of a trip that may be missing."""
    if complaint == "no trip":
        assert talk.prompt() == "ok?> "
        say(talk, "ok")


@pytest.mark.parametrize("number", range(1, len(COMPLAINTS) - 2))
def test_a_complaint_is_a_number(asked: Talk, number: int) -> None:
    say(asked, str(number))
    name = complaints(asked.loop)[number - 1]
    assert evidence(asked) == (f"complaint {name}",)
    told(asked, name)
    assert asked.prompt() == "context> "


@pytest.mark.parametrize("words", ["reads high", "too high", "complaint reads high", "High"])
def test_a_complaint_is_words(asked: Talk, words: str) -> None:
    assert "reads high" in say(asked, words)
    assert len(evidence(asked)) == 1


@pytest.mark.parametrize("words", ["0", "10", "it is broken", "-1", "2 3"])
def test_an_unknown_complaint_leaves_the_question_standing(asked: Talk, words: str) -> None:
    said = say(asked, words)
    assert said.startswith("Not understood")
    assert asked.prompt() == "complaint> "
    assert evidence(asked) == ()


def test_context_is_none_or_several(asked: Talk) -> None:
    say(asked, "2", "1 3")
    names = list(CONTEXTS)
    assert evidence(asked)[1:] == (f"context {names[0]}", f"context {names[2]}")
    assert asked.prompt() == "LIC-214> "


@pytest.mark.parametrize(
    ("line", "facts"),
    [
        ("", []),
        ("rain, frost", ["rain", "frost"]),
        ("work and rain", ["work", "rain"]),
        ("moving 2,5 %, rain", ["moving 2,5 %", "rain"]),
    ],
)
def test_context_in_words(asked: Talk, line: str, facts: list[str]) -> None:
    say(asked, "", line)
    assert list(evidence(asked)) == [f"context {fact}" for fact in facts]


@pytest.mark.parametrize("line", ["too high", "complaint reads high"])
def test_a_complaint_that_comes_late_is_one(asked: Talk, line: str) -> None:
    """Remembered one question later; what goes on around it is still to be told."""
    assert "reads high" in say(asked, "", line)
    assert len(evidence(asked)) == 1
    assert asked.prompt() == "context> "
    say(asked, "rain")
    assert evidence(asked)[1] == "context rain"


def test_a_number_that_is_on_no_list_is_told_so(asked: Talk) -> None:
    """``'complaint 12': this complaint is not known`` named words that nobody had typed."""
    many = len(complaints(asked.loop))
    assert f"'{many + 1}': the numbers of this list are 1 to {many}" in say(asked, str(many + 1))
    assert asked.prompt() == "complaint> "
    assert "'9': the numbers of this list are 1 to 6" in flat(say(asked, "2", "1, 9"))
    assert asked.prompt() == "context> "
    assert evidence(asked) == ("complaint reads high",)


def test_one_unknown_fact_enters_none_of_the_line(asked: Talk) -> None:
    assert say(asked, "", "rain, martians").startswith("Not understood")
    assert evidence(asked) == ()
    assert asked.prompt() == "context> "


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("LR-214 50", "Reading 1: LR-214 50 %, that is 900 mm"),  # of 0 to 1800 mm
        ("LR-214 50 %", "Reading 1: LR-214 50 %"),
        ("LR-214 900 mm", "Reading 1: LR-214 900 mm"),
        ("LIC-214 50", "Reading 1: LIC-214 50 %"),  # an output has no millimetres
    ],
)
def test_a_share_typed_without_its_unit_is_told_in_the_other(
    controlled: Talk, line: str, said: str
) -> None:
    assert said in say(controlled, "", "", line).splitlines()


@pytest.mark.parametrize(
    ("line", "kept"),
    [
        ("lr214 68 %", "LR-214 68 %"),
        ("lr214 68,50", "LR-214 68.50 %"),  # the digits that were read stay
        ("v x21:7 x20:0 3,40", "V X21:7 X20:0 3.40 V"),
        ("V X21:7 X20:0 3.4 with lt214 driven 4 mA", "V X21:7 X20:0 3.4 V with LT-214 driven 4 mA"),
    ],
)
def test_a_reading_is_kept_as_the_tool_writes_it(controlled: Talk, line: str, kept: str) -> None:
    """Two spellings of one display stood beside each other in lists and notes."""
    assert f"Reading 1: {kept}" in say(controlled, "", "", line)
    assert evidence(controlled)[-1] == kept
    say(controlled, "correct 1 lr214 60 %")
    assert evidence(controlled)[-1] == "LR-214 60 %"


def test_a_reading_between_two_places_is_doubted_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Leads reach as far as an arm does (common practice, no source); a long lead there is."""
    loop = open_plant().load("LT-214")
    places = {point.place: point.name for point in loop.points if point.name != "PE"}
    here, there = list(places.values())[:2]
    line = f"V {here} {there} 0.1 V"
    doubt = "few leads reach that far"
    talk = by_hand(tmp_path, loop)
    assert doubt in flat(say(talk, line))
    assert evidence(talk)[-1] == line
    assert doubt not in flat(say(talk, "V X21:7 X20:0 3.0", f"V {there} PE 3.0"))
    assert main(["rank", "LT-214", line, "V X21:7 X20:0 3.0"]) in (0, 1)
    assert flat(capsys.readouterr().out).count(doubt) == 1


@pytest.mark.parametrize(("line", "kept"), [("low", "process low"), ("above", "process above")])
def test_the_level_at_a_switch_is_low_or_high_and_no_complaint(
    tmp_path: Path, line: str, kept: str
) -> None:
    talk = by_hand(tmp_path, open_plant().load("LSL-216"))
    talk.told = False
    talk.questions = opening(talk)[-1:]
    assert "High (the end called 100 %) or low (0 %)" in flat("\n".join(talk.questions[0].text))
    say(talk, line)
    assert evidence(talk) == (kept,)
    assert talk.question is None
    talk.hunt.file.close()


@pytest.mark.parametrize(
    ("tag", "order", "value", "asked"),
    [
        ("LV-214", "LIC-214", "60", "What does the plant ask of LV-214?"),
        ("XV-221", "HS-221", "on", "Should it be on or off"),
    ],
)
def test_what_is_asked_of_an_output_is_asked_once(
    tmp_path: Path, tag: str, order: str, value: str, asked: str
) -> None:
    """No gauge, dip or sample tells it: the faceplate or the command does."""
    talk = by_hand(tmp_path, open_plant().load(tag))
    talk.told = False
    talk.questions = opening(talk)
    assert asked in flat("\n".join(talk.questions[-1].text))
    say(talk, "", "", f"{order} {value}")
    assert [question.prompt for question in talk.questions][-1] != "true value"
    talk.hunt.file.close()


def test_options_stand_in_columns_however_many_there_are(controlled: Talk) -> None:
    """Ten complaints: the tenth has two digits."""
    options = [line for line in controlled.questions[0].text if line[:4].strip().isdigit()]
    assert len(options) == 10
    names = complaints(controlled.loop)
    assert (
        len({line.index(COMPLAINTS[name]) for name, line in zip(names, options, strict=True)}) == 1
    )


def test_what_was_told_unasked_is_not_asked(controlled: Talk) -> None:
    """What stands is asked on; what cannot be read is not asked for either."""
    prompts = [question.prompt for question in controlled.questions]
    said = say(controlled, "", "", "LIC-214 60 %", "H2 quiet", "H1 not possible", "process 45 %")
    left = [question.prompt for question in controlled.questions]
    assert left == [name for name in prompts[2:-1] if name != "LIC-214"]
    assert left[-1] == "lamps"
    lamps = "\n".join(controlled.questions[-1].text)
    assert "RL1 (trip relay" in lamps and "H1 (" not in lamps and "H2 (" not in lamps
    assert "H1 (" not in said
    say(controlled, *[""] * len(left))
    assert controlled.question is None


def test_a_state_is_asked_for_in_its_own_words_and_an_output_in_percent(controlled: Talk) -> None:
    asked = {item.prompt: flat("\n".join(item.text)) for item in controlled.questions}
    assert "sounds or silent, as it was before anybody silenced it" in asked["lamps"]
    assert "flag of the relay, cabinet): pulled in or dropped out" in asked["lamps"]
    assert "Such as 62 % or 1116 mm;" in asked["LR-214"]
    assert "Such as 62 %;" in asked["LIC-214"]
    assert "Such as 45 % +- 3 % or 810 mm;" in asked["true value"]  # of 0 to 1800 mm


def test_a_state_that_is_called_like_a_command_is_an_answer_where_it_is_asked(
    tmp_path: Path,
) -> None:
    """``manual`` answers the lamp of the controller; elsewhere it records who agreed to it."""
    talk = by_hand(tmp_path, open_plant().load("LV-214"))
    talk.told = False
    talk.questions = opening(talk)
    while talk.questions[0].prompt != "LIC-214.M":
        del talk.questions[0]
    say(talk, "manual")
    assert evidence(talk) == ("LIC-214.M manual",)
    assert talk.prompt() != "LIC-214.M> "
    assert "Who agreed to manual" in say(talk, "manual")
    talk.hunt.file.close()


def test_many_lamps_are_one_question(controlled: Talk) -> None:
    """Seven lamps of a control loop, at three o'clock: none, one or several on a line."""
    prompts = [question.prompt for question in controlled.questions]
    assert prompts == [
        "complaint", "context", "LI-214A", "LR-214", "LI-214", "LIC-214", "lamps", "true value",
    ]  # fmt: skip
    del controlled.questions[:6]
    said = say(controlled, "h1 lit lahh214 lit RL1 dropped out and H2 silent")
    assert evidence(controlled) == (
        "H1 lit", "LAHH-214 lit", "RL1 dropped out", "H2 silent",
    )  # fmt: skip

    assert "Left: U6, LIC-214.M and AO1" in said
    assert controlled.prompt() == "lamps> "
    say(controlled, "U6 lit, LIC-214.M manual, AO1 dark")
    assert len(evidence(controlled)) == 7
    assert controlled.prompt() == "true value> "


def test_a_lamp_that_is_not_named_or_spelt_wrong_changes_nothing(controlled: Talk) -> None:
    del controlled.questions[:6]
    assert "say which: LAHH-214 lit" in say(controlled, "lit")
    assert "'foo' is neither" in flat(say(controlled, "H1 lit, U6 foo"))
    assert evidence(controlled) == ()
    assert controlled.prompt() == "lamps> "
    say(controlled, "")
    assert controlled.prompt() == "true value> "


def test_displays_take_a_value_a_word_or_nothing(asked: Talk) -> None:
    say(asked, "", "", "62", "1116 mm", "lit", "", "", "45 % +- 3 %")
    shown = ("LIC-214 62 %", "LR-214 1116 mm", "LAHH-214 lit")
    assert evidence(asked) == (*shown, "process 45 % +- 3 %")
    assert asked.question is None


def test_any_reading_is_taken_while_a_question_stands(asked: Talk) -> None:
    say(asked, "V X21:7 X20:0 3.02", "2", "", "V X21:4 PE 20.1")
    assert asked.prompt() == "LIC-214> "
    assert len(evidence(asked)) == 3
    say(asked, "LIC-214 62 %")
    assert asked.prompt() == "LR-214> "
    say(asked, "lr214 61 %")
    assert asked.prompt() == "LAHH-214> "
    say(asked, "lahh214 lit", "", "lt216 well")
    assert asked.prompt() == "true value> "


def test_a_temperature_is_known_from_a_thermometer_and_a_level_from_a_dip(tmp_path: Path) -> None:
    for tag, told in (("TE-140", "from another thermometer?"), ("LT-214", "a dip or a sample?")):
        talk = by_hand(tmp_path / tag, open_plant().load(tag))
        assert told in flat(" ".join(opening(talk)[-1].text))
        talk.hunt.file.close()


def test_a_complaint_taken_back_is_asked_for_again(asked: Talk) -> None:
    say(asked, "1", "undo")
    assert asked.prompt() == "complaint> "
    say(asked, "2")
    assert asked.prompt() == "context> "
    assert evidence(asked) == ("complaint reads high",)


def test_what_was_shown_and_taken_back_is_asked_for_again(asked: Talk) -> None:
    """A display that was mistyped and undone was never asked for again."""
    say(asked, "2", "2", "26 %", "undo")
    assert asked.prompt() == "LIC-214> "
    assert evidence(asked) == ("complaint reads high", "context rain")
    say(asked, "62 %", "undo", "undo")
    assert [question.prompt for question in asked.questions[:3]] == ["context", "LIC-214", "LR-214"]
    assert len({question.prompt for question in asked.questions}) == len(asked.questions)
    say(asked, "3", "62 %", "61 %", "", "", "LT-216 well", "undo")
    assert asked.prompt() == "LT-216> "


def test_a_lamp_that_was_taken_back_is_asked_for_beside_the_others(controlled: Talk) -> None:
    del controlled.questions[:6]
    say(controlled, "LAHH-214 lit, RL1 dropped out", "undo")
    assert controlled.prompt() == "lamps> "
    told = "\n".join(controlled.question.text if controlled.question else ())
    assert "RL1 (" in told and "H1 (" in told and "LAHH-214 (" not in told
    say(controlled, "", "undo")
    assert [question.prompt for question in controlled.questions] == ["lamps", "true value"]


def test_a_neighbour_is_affected_or_well(asked: Talk) -> None:
    say(asked, "2", "", "", "", "", "")
    assert asked.prompt() == "LT-216> "
    for wrong in ("50 %", "banana"):
        assert "LT-216 is 'affected' or 'well'" in flat(say(asked, wrong))
    assert "Reading 1" in say(asked, "V X21:7 X20:0 3.02")
    assert asked.prompt() == "LT-216> "
    say(asked, "well")
    assert asked.prompt() == "true value> "


def test_at_the_end_of_the_questions_the_step_is_shown(asked: Talk) -> None:
    said = say(asked, "2", "", "", "", "", "", "", "")
    assert "Working it out" in said
    assert "Next:" in said
    assert asked.prompt() == f"{STEP} = "


# -- the step


def test_only_the_number_is_typed(talk: Talk) -> None:
    assert talk.prompt() == f"{STEP} = "
    assert "Reading 1: mA X21:3 X21:4 12.03 mA" in say(talk, "12.03")
    assert evidence(talk) == ("mA X21:3 X21:4 12.03 mA",)


@pytest.mark.parametrize("value", ["12", "12.0 mA", "12,0", "-0.02 mA", "11.8..12.1", "+12"])
def test_a_value_has_any_form_of_a_reading(talk: Talk, value: str) -> None:
    say(talk, value)
    whole = value if value.endswith("mA") else f"{value} mA"
    assert evidence(talk) == (f"{STEP} {whole.replace(',', '.')}",)


@pytest.mark.parametrize("value", ["12 V", "lit", "OL", "12000 mA", "1.2.3", "12 mA and more"])
def test_a_wrong_value_leaves_the_step_standing(talk: Talk, value: str) -> None:
    assert say(talk, value).startswith("Not understood")
    assert evidence(talk) == ()
    assert talk.prompt() == f"{STEP} = "


def test_any_other_reading_is_taken_at_the_step(talk: Talk) -> None:
    say(talk, "v x21:7 x20:0 3.02", "LAHH-214 lit", "reads high", "context rain")
    assert len(evidence(talk)) == 4


def test_a_red_caution_is_answered_before_the_value_and_nothing_is_lost(talk: Talk) -> None:
    """Common practice, no source: what moves the plant is agreed before, not after."""
    say(talk, "other")
    assert talk.prompt() == "ok?> "
    assert "ok first" in say(talk, "1.002")
    assert evidence(talk) == ()
    said = say(talk, "ok")
    assert "Reading 1: V X21:7 X20:0 1.002 V with LT-214 driven 4 mA" in flat(said)
    assert talk.hunt.case.acknowledged == ("inject",)
    assert still_open(talk) == ["transmitter made to drive a fixed current"]


def test_cautions_are_folded_once_seen_but_for_red_ones(talk: Talk) -> None:
    advice = replace(BY_HAND.next[1], cautions=("inject", "live volts"))
    talk.hunt.engine.ranking = replace(BY_HAND, next=(advice,))  # type: ignore[attr-defined]
    first, again = say(talk, "note x", "LIC-214 60 %"), say(talk, "LIC-214 61 %")
    for said in (first, again):
        assert CAUTIONS["inject"].text in flat(said)
    assert CAUTIONS["live volts"].text in flat(first)
    assert CAUTIONS["live volts"].text not in flat(again)
    assert "As before: live volts" in again


def test_a_whole_line_does_not_pass_by_the_cautions_of_its_step(talk: Talk) -> None:
    """Typed before ok, the reading of the step was taken and its STOP never answered."""
    say(talk, "other")
    line = "V X21:7 X20:0 1.002 with LT-214 driven 4 mA"
    said = flat(say(talk, line))
    assert "Reading 1" in said
    assert "cautions of its own; type ok" in said
    assert said.count(CAUTIONS["inject"].text) == 1  # the step says it: not a second time
    say(talk, "ok")
    assert "inject" in talk.hunt.case.acknowledged


def test_a_free_reading_in_a_zone_asks_for_its_cautions_afterwards(talk: Talk) -> None:
    said = say(talk, "V JB9:1 JB9:2 17.0")
    assert "Reading 1" in said
    assert CAUTIONS["zone"].text in flat(said)
    say(talk, "ok")
    assert talk.hunt.case.acknowledged == ("zone", "enclosure")
    assert CAUTIONS["zone"].text not in flat(say(talk, "V JB9:1 JB9:2 17.1"))


@pytest.mark.parametrize(
    "words", ["not possible", "not possible the ladder is gone", "cannot", "no access", "Forbidden"]
)
def test_a_step_that_cannot_be_done_is_declined(talk: Talk, words: str) -> None:
    say(talk, words)
    (declined,) = talk.hunt.case.declined
    assert declined.text == STEP
    assert (declined.reason == "the ladder is gone") == ("ladder" in words)


def test_calm_advice_says_what_would_open_more(talk: Talk) -> None:
    engine = talk.hunt.engine
    assert engine.asked[-1]["calm"] is True  # type: ignore[attr-defined]
    say(talk, *AT_HAND)
    assert engine.asked[-1]["calm"] is False  # type: ignore[attr-defined]
    assert talk.hunt.case.acknowledged == ("trip", "manual")
    assert still_open(talk) == ["bypass", "manual"]


def test_a_bypass_needs_words_and_enter_records_nothing(talk: Talk) -> None:
    assert CAUTIONS["trip"].text in flat(say(talk, "bypass"))
    assert talk.prompt() == "bypass> "
    say(talk, "")
    assert still_open(talk) == []
    assert talk.hunt.case.acknowledged == ()
    say(talk, "bypass", "list of valves is with the shift lead")  # begins like a command
    assert str(talk.hunt.case.open_items[0]) == "bypass: list of valves is with the shift lead"


# -- commands


def test_command_names_are_unique_and_lead_to_themselves() -> None:
    names = [name for word in WORDS for name in (word.name, *word.also)]
    assert len(names) == len(set(names))
    for word in WORDS:
        assert word.help, word.name
        for name in (word.name, *word.also):
            assert command_of(f"{name.upper()}  some words") == (word, "some words")


def test_no_command_hides_a_reading(loop: Loop) -> None:
    """What begins a reading, a complaint or a fact begins no command."""
    first = {"v", "vlow", "vac", "ma", "clamp", "ohm", "shows", "process", "complaint", "context"}
    first |= {name.casefold() for name in (*COMPLAINTS, *CONTEXTS)}
    first |= {part.name.casefold() for part in loop.parts}
    for line in first:
        assert command_of(line)[0] is None, line


@pytest.mark.parametrize("word", WORDS, ids=lambda word: word.name)
@pytest.mark.parametrize("rest", ["", " 1", " 99", " xyz", " X21:7", " R1 drift"])
def test_every_command_answers_whatever_follows(talk: Talk, word: object, rest: str) -> None:
    assert isinstance(say(talk, f"{word.name}{rest}"), str)  # type: ignore[attr-defined]


def test_help_lists_every_command(talk: Talk) -> None:
    short, whole = say(talk, "help"), say(talk, "help all")
    assert sorted(name for _, names in TOPICS for name in names) == sorted(w.name for w in WORDS)
    for word in WORDS:
        assert f"  {word.name}" in whole
        assert word.name in flat(short)
    assert len(short.splitlines()) < 20  # it fits a small screen with the step still in sight
    assert "not allowed" in say(talk, "help not possible")
    assert "did you mean remedy" in say(talk, "help remdy")


def test_list_shows_numbers_and_marks_what_is_distrusted(tmp_path: Path, loop: Loop) -> None:
    talk = by_hand(tmp_path, loop, replace(OPEN, next=BY_HAND.next))
    say(talk, "V X21:7 X20:0 3.02", "V X21:7 X20:0 34.06", "LIC-214 62 %", "withdraw 3")
    said = say(talk, "list")
    assert "1  V X21:7 X20:0 3.02 V" in said
    assert "2  V X21:7 X20:0 34.06 V   distrusted (40 %): retake 2" in said
    assert "LIC-214" not in said
    talk.hunt.file.close()


def test_mending_by_number(talk: Talk) -> None:
    say(talk, "V X21:7 X20:0 34.06", "correct 1 3.406")
    assert evidence(talk) == ("V X21:7 X20:0 3.406 V",)
    say(talk, "undo")
    assert evidence(talk) == ("V X21:7 X20:0 34.06 V",)
    say(talk, "retake 1")
    assert talk.prompt() == "V X21:7 X20:0 = "
    say(talk, "3.4")
    assert evidence(talk) == ("V X21:7 X20:0 3.4 V",)


def test_what_was_withdrawn_is_not_asked_for_again(talk: Talk) -> None:
    say(talk, "V X21:7 X20:0 3.02", "retake 1")
    assert talk.prompt().startswith("V X21:7 X20:0 =")
    say(talk, "withdraw 1 wrong terminal")
    assert talk.prompt().startswith(STEP)


def test_what_was_complained_of_can_be_taken_back(talk: Talk) -> None:
    say(talk, "reads high", "context rain", "V X21:7 X20:0 3.02", "undo", "undo")
    assert evidence(talk) == ("complaint reads high",)
    assert "complaint reads high" in say(talk, "list")
    assert "'reads high' counts no more." in say(talk, "withdraw reads")
    assert evidence(talk) == ()
    assert say(talk, "undo").startswith("Not done: there is nothing to take back")
    assert say(talk, "withdraw rain").startswith("Not done: say which")


def test_a_supposed_value_changes_nothing(talk: Talk) -> None:
    before = talk.hunt.case
    assert "Nothing was entered." in say(talk, "what if 12.0")
    assert "Nothing was entered." in say(talk, "what if V X21:7 X20:0 3.4")
    lamp = replace(
        BY_HAND.next[0], measurement=Measurement("shows", ("LAHH-214",)), text="LAHH-214"
    )
    talk.hunt.engine.ranking = replace(BY_HAND, next=(lamp,))  # type: ignore[attr-defined]
    say(talk, "note x", "LIC-214 60 %")
    before = talk.hunt.case
    assert "Nothing was entered." in say(talk, "what if lit")
    assert say(talk, "what if").startswith("Not done")
    assert talk.hunt.case == before


def test_why_without_a_step_explains_the_last_reading(ended: Talk) -> None:
    assert say(ended, "why").startswith("Not done: say what to explain")
    said = say(ended, "V X21:7 X20:0 3.02", "LIC-214 50 %", "why")
    assert said.startswith("The last reading, V X21:7 X20:0:")
    assert "V(X21:7) = I(R1) x R1" in said


def test_why_reckons_with_the_process_that_the_drawing_stands_at(tmp_path: Path) -> None:
    """A valve that is commanded on stood at 50 % in the formula; a gauge was left for a display."""
    valve = by_hand(tmp_path / "valve", open_plant().load("XV-221"), DONE)
    assert "process at 100.0 %" in flat(say(valve, "HS-221 on", "why JB21:1"))
    valve.hunt.file.close()
    level = by_hand(tmp_path / "level", open_plant().load("LT-214"), DONE)
    said = flat(say(level, "LG-214 900 mm", "LIC-214 68 %", "why X21:7"))
    assert "process at 50.0 %" in said
    level.hunt.file.close()


def test_why_names_the_law(talk: Talk) -> None:
    assert "V(X21:7) = I(R1) x R1" in say(talk, "why X21:7")
    assert "I(W3+)" in say(talk, "why W3+")
    assert say(talk, "why X99:1").startswith("Not understood: no point")  # no heading before
    assert "one bit halves what is in question" in flat(say(talk, "why"))


def test_places_and_functions_are_ruled_out(talk: Talk) -> None:
    assert "junction box" in say(talk, "without Junction Box")
    assert talk.hunt.without == {"junction box"}
    assert say(talk, "without the moon").startswith("Not understood")
    assert "panel 2" in say(talk, "at control room")
    assert talk.hunt.place == "control room"


def test_items_are_put_back_by_number_by_words_or_all(talk: Talk) -> None:
    say(talk, *AT_HAND, "V X21:7 X20:0 3.0 with LR-214+.X22 lifted")
    assert say(talk, "done 7").startswith("Not done")
    say(talk, "done")  # manual and bypass stay until they are named
    assert still_open(talk) == ["bypass", "manual"]
    say(talk, "restored bypass")
    assert still_open(talk) == ["manual"]
    say(talk, "done all")
    assert still_open(talk) == []
    assert say(talk, "done") == "Not done: nothing is open"


@pytest.mark.parametrize("command", ["items", "remedy"])
def test_a_bare_number_behind_a_list_is_no_reading(
    tmp_path: Path, loop: Loop, command: str
) -> None:
    """It is meant for the list: nobody is to enter 1 mA by it; with its unit it is a value."""
    remedy = Remedy("R1", "drift", "renew it", "cabinet", 0.5, 15.0)
    talk = by_hand(tmp_path, loop, replace(BY_HAND, remedy=(remedy,)))
    say(talk, "manual operator holds it")
    word = {"items": "done", "remedy": "remedy"}[command]
    assert f"type {word} 1" in flat(say(talk, command, "1"))
    assert evidence(talk) == ()
    say(talk, command, "2")  # no such number in the list: a value like any other
    assert evidence(talk) == ("mA X21:3 X21:4 2 mA",)
    talk.hunt.file.close()


def test_quit_leaves_the_case_open(talk: Talk) -> None:
    say(talk, "12.0", "quit")
    assert talk.over
    assert talk.hunt.case.is_open
    assert talk.summary().endswith("open, 1 reading, 1 open item.")


# -- the end of a hunt


def prove(talk: Talk, *values: str) -> str:
    return say(talk, *AT_HAND, "proof", "ok", *values)


def test_the_end_from_remedy_to_close(ended: Talk) -> None:
    assert "R1 drift" in say(ended, "remedy")
    say(ended, "remedy 1", "ok", "310 ohm out of circuit", "renewed")
    assert ended.hunt.case.remedies[0].as_found == "310 ohm out of circuit"
    assert ended.hunt.case.cause is None  # tried is not confirmed
    assert "2 of 2" in prove(ended, "1.000", "4.995")
    assert [item.passed for item in ended.hunt.case.proofs] == [True, True]
    say(ended, "confirm R1 drift")
    cause = ended.hunt.case.cause
    assert cause is not None
    assert ended.hunt.task() is None
    assert leading(DONE, ended.hunt.case) == "confirmed: R1 drift"
    assert (cause.part, cause.fault) == ("R1", "drift")
    assert "310 ohm out of circuit" in cause.evidence
    assert "2 proof readings within limits" in cause.evidence
    assert say(ended, "close cause confirmed").startswith("Not done: put back first")
    say(ended, "done all", "close cause confirmed")
    assert ended.over
    assert ended.hunt.case.status == "cause confirmed"
    note = ended.hunt.file.path.with_suffix(".md").read_text(encoding="utf-8")
    assert note.startswith("# Hand-over LT-214")


def test_a_failed_proof_is_no_evidence_until_it_is_taken_again(ended: Talk) -> None:
    say(ended, "remedy 1", "ok", "310 ohm", "renewed")
    assert "NOT within" in prove(ended, "1.2")
    assert "Not proved: 1 of 2" in flat(say(ended, "4.995"))
    say(ended, "confirm R1 drift")
    assert ended.prompt() == "evidence> "
    say(ended, "cancel", "proof", "ok", "1.0", "4.995", "confirm R1 drift")
    assert ended.hunt.case.cause is not None


def test_after_a_failed_proof_the_hunt_begins_anew(ended: Talk) -> None:
    assert say(ended, "anew").startswith("Not done: nothing was repaired yet")
    say(ended, "V X21:7 X20:0 3.02", "remedy 1", "ok", "310 ohm", "renewed")
    assert say(ended, "anew").startswith("Not done: no proof reading of the repair failed")
    assert "Did it not help" not in flat(say(ended, "show"))
    said = flat(say(ended, "V X21:4 PE 23.9", "show"))
    assert "Did it not help? Type anew" in said
    prove(ended, "1.2", "4.995")
    assert "1 of the readings" in flat(say(ended, "anew"))
    assert evidence(ended) == (
        "V X21:4 PE 23.9 V",
        "V X21:7 X20:0 1.2 V with LT-214 driven 4 mA",
        "V X21:7 X20:0 4.995 V with LT-214 driven 20 mA",
    )
    assert ended.hunt.case.readings[0].withdrawn == "read before the repair"
    assert "Repaired, but it did not help: R1 drift" in flat(say(ended, "show"))


def test_a_repair_that_plainly_did_not_help_needs_no_failed_proof(ended: Talk) -> None:
    """The supply is back, and the display as low as before: what was read dead counts no more."""
    say(ended, "V X21:7 X20:0 0.00", "LIC-214 -10 %", "remedy 1", "ok", "310 ohm", "renewed")
    said = flat(say(ended, "LIC-214 -9.9 %", "anew"))
    assert "Left behind, for the loop is another since: 2 of the readings." in said
    assert evidence(ended) == ("LIC-214 -9.9 %",)
    said = flat(say(ended, "show"))
    assert "Did it not help" not in said and "Repaired, but it did not help: R1 drift" in said
    note = say(ended, "handover")
    assert "that did not help" in note and "Prove the repair, then confirm" not in note


@pytest.mark.parametrize(
    ("tag", "how"), [("PT-119", "as it runs"), ("LAHH-214", "proof test of the trip")]
)
def test_where_nothing_can_be_driven_no_proof_is_asked_for(
    tmp_path: Path, tag: str, how: str
) -> None:
    """What cannot be typed is not advised: words confirm the cause, and anew is open."""
    remedy = Remedy("R1" if tag == "PT-119" else "H2", "open", "renew it", "cabinet", 0.98, 15.0)
    talk = by_hand(tmp_path, open_plant().load(tag), replace(DONE, remedy=(remedy,), proof=()))
    said = flat(say(talk, "V G2:+ PE 24" if tag == "LAHH-214" else "V G1:+ PE 24", "remedy 1"))
    said = flat(say(talk, "ok", "open, 310 ohm", "renewed", "show"))
    assert how in said
    assert "type proof" not in said
    assert f"confirm {remedy.part} open and what shows it" in said
    assert how in flat(say(talk, "proof"))
    assert "1 of the readings" in flat(say(talk, "anew"))
    talk.hunt.file.close()


def test_a_trip_is_proved_from_its_safe_side_and_its_key_is_minded(tmp_path: Path) -> None:
    """The value comes up to the trip point; a relay that is held by the key proves nothing."""
    loop = open_plant().load("LAHH-214")
    proofs = (
        Proof("K1 with B1 fed 2.96 V", 0.0, 0.0, "lit"),
        Proof("K1 with B1 fed 3.04 V", 1.0, 1.0, "lit"),
    )
    talk = by_hand(tmp_path, loop, replace(DONE, proof=proofs))
    assert "first bypass" in flat(say(talk, "proof"))
    said = flat(say(talk, "bypass shift lead until 04:00", "proof"))
    assert "2 points, on either side of the trip point, the safe side first" in said
    assert "With S1 on, the relay is held" in said
    assert "STOP" in said
    assert "Proved: 2 of 2" in flat(say(talk, "ok", "dark", "lit"))
    assert [item.item for item in talk.hunt.case.open_items if item.item != "bypass"]
    talk.hunt.file.close()


def test_what_stands_behind_stop_is_told_again_to_any_other_answer(ended: Talk) -> None:
    say(ended, *AT_HAND, "remedy 1")
    assert ended.prompt() == "ok?> "
    said = say(ended, "all of it")
    assert "STOP: " in said and "Type ok once" in said
    assert "STOP: " not in say(ended, "ok")


def test_confirm_alone_means_what_was_put_right_last(ended: Talk) -> None:
    assert say(ended, "confirm").startswith("Not done: say which part and fault")
    say(ended, *AT_HAND, "remedy 1", "ok", "310 ohm", "renewed")
    assert "Type confirm, put back, close." in flat(prove(ended, "1.0", "4.995"))
    say(ended, "confirm")
    cause = ended.hunt.case.cause
    assert cause is not None
    assert (cause.part, cause.fault) == ("R1", "drift")


def test_a_command_with_a_number_is_no_evidence(ended: Talk) -> None:
    """Free words are asked for: ``undo`` and ``done 1`` are not meant as such."""
    say(ended, "bypass shift lead until 04:00", "confirm R1 drift")
    assert ended.prompt() == "evidence> "
    assert "Put back: bypass" in say(ended, "done 1")
    assert ended.hunt.case.cause is None
    say(ended, "done over: 250 ohm again")
    assert ended.hunt.case.cause is not None


def test_a_slip_in_the_proof_is_taken_back_and_the_readings_stay(ended: Talk) -> None:
    say(ended, "V X21:7 X20:0 3.02", "remedy 1", "ok", "310 ohm", "renewed")
    assert "A slip? Type undo." in prove(ended, "1.2")
    assert "Point 1 of 2" in say(ended, "undo")
    assert "first point" in say(ended, "undo")
    assert "Proved: 2 of 2" in flat(say(ended, "1.0", "4.995"))
    assert say(ended, "undo").startswith("Not done: a proof is taken again")
    assert evidence(ended) == ("V X21:7 X20:0 3.02 V",)
    assert [item.passed for item in latest(ended.hunt.case)] == [True, True]


def test_after_a_repair_the_proof_is_asked_for_and_not_the_repair(ended: Talk) -> None:
    assert "Type remedy and a number" in flat(say(ended, "show"))
    say(ended, *AT_HAND, "remedy 1", "ok", "310 ohm", "renewed")
    said = flat(say(ended, "show"))
    assert "Repaired, not yet proved: R1 drift (sense resistor). Prove it: type proof." in said
    assert "Type remedy" not in said
    prove(ended, "1.2", "4.995")
    assert "1 of 2 proof readings are outside of their limits" in flat(say(ended, "show"))
    say(ended, "proof", "ok", "1.0", "")
    assert "Repaired and proved: R1 drift" in flat(say(ended, "show"))
    said = flat(say(ended, "confirm R1 drift", "show"))
    assert "Confirmed: R1 drift (sense resistor). Put back what is open, then type close." in said
    assert "98 %" not in said  # what is proved needs no probability
    assert "Type close." in flat(say(ended, "done all", "show"))


def test_the_proof_drives_the_loop_and_waits_for_its_records(ended: Talk) -> None:
    assert say(ended, "proof").startswith("Not done: the proof drives the loop")
    done = flat(say(ended, "remedy 1", "ok", "310 ohm", "renewed"))
    assert "Prove it: manual and bypass with who agreed, then proof. Then: confirm." in done
    say(ended, AT_HAND[0])
    assert "manual" in say(ended, "proof")
    assert ended.question is None


def test_a_cause_needs_evidence(ended: Talk) -> None:
    say(ended, "confirm R1 drift", "")
    assert ended.hunt.case.cause is None
    say(ended, "310 ohm measured, 250 fitted, bus right")
    assert ended.hunt.case.cause is not None


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("", "say which part and fault"),
        ("R9 drift", "no part called 'R9'"),
        ("R1 melted", "no fault of R1 called 'melted'"),
        ("R1", "say which fault of R1: open, drift, short"),
    ],
)
def test_a_cause_is_a_fault_of_the_loop(ended: Talk, words: str, told: str) -> None:
    assert told in say(ended, f"confirm {words}")
    assert ended.hunt.case.cause is None


@pytest.mark.parametrize("ending", ["no fault found", "cause not found", "handed over", "2"])
def test_a_hunt_may_end_without_a_cause(talk: Talk, ending: str) -> None:
    say(talk, f"close {ending}")
    assert talk.over
    assert talk.hunt.case.cause is None


@pytest.mark.parametrize("ending", ["cause confirmed", "finished", "5"])
def test_an_ending_that_is_none_leaves_the_case_open(talk: Talk, ending: str) -> None:
    assert say(talk, f"close {ending}").startswith("Not done")
    assert not talk.over
    assert talk.hunt.case.is_open


def test_how_it_ends_is_asked_and_its_number_is_no_reading(talk: Talk) -> None:
    """A bare 2 behind ``close`` is the second ending, and no 2 mA of the step in hand."""
    assert "How does it end?" in say(talk, "close")
    assert talk.prompt() == "ending> "
    assert "Left open" in say(talk, "")
    assert talk.prompt() != "ending> "
    say(talk, "close", "7")
    assert talk.prompt() == "ending> "
    assert evidence(talk) == ()
    assert "Closed: no fault found." in say(talk, "2")
    assert talk.over
    assert evidence(talk) == ()


def test_the_note_is_printed_and_saved(talk: Talk) -> None:
    said = say(talk, "V X21:7 X20:0 3.02", "handover")
    assert "# Hand-over LT-214" in said
    assert talk.hunt.file.path.with_suffix(".md").is_file()


def test_a_clock_set_back_is_told_when_it_happens(talk: Talk) -> None:
    hour = timedelta(hours=1)
    talk.hunt.file.clock = lambda: datetime.now(UTC) - hour
    assert "the clock was set back" in flat(say(talk, "note one"))
    talk.hunt.file.clock = lambda: datetime.now(UTC) + hour
    assert "clock" not in say(talk, "note three")


def test_on_a_full_disk_the_hunt_goes_on(asked: Talk, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a person says is refused and told; what can be worked out again is only told."""
    say(asked, "cancel", "V X21:7 X20:0 3.02")
    kept = asked.hunt.file.path.read_bytes()

    def full(number: int, content: bytes) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(os, "write", full)
        said = flat(say(asked, "note gland loose"))
        assert said.startswith("Not done: the disk is full")
        assert f"'diagnose rank {asked.loop.tag}' and the readings" in said
        asked.hunt.stand("junction box")
        said = flat(say(asked, "show"))
        assert "I.W3 leakage" in said
    assert asked.hunt.file.path.read_bytes() == kept
    assert "Noted." in say(asked, "note gland loose")


# -- what is shown


def test_a_tie_is_never_told_as_one_answer(loop: Loop) -> None:
    """0.3 and 0.25 of one group of 0.95: neither is the answer (reference E 7)."""
    members = [ranked("R1", "drift", 0.3, 1), ranked("LR-214", "input collapsed", 0.25, 1)]
    members += [ranked("LIC-214", "input collapsed", 0.4, 1), ranked(None, "none", 0.05, 2)]
    told = verdict(ranking(*members), loop)
    assert told.startswith("Almost certainly one of these (95 %)")
    assert "R1 drift 30 %" in told
    assert "without disturbing" in verdict(ranking(*members), loop, calm=True)
    assert "one of" not in verdict(DONE, loop)


@pytest.mark.parametrize("next_", [(), BY_HAND.next])
def test_contradiction_is_told_as_such(
    tmp_path: Path, loop: Loop, next_: tuple[Advice, ...]
) -> None:
    """Reference E 12: no single fault explains all readings; every screen can say so."""
    none = ranking(ranked("R1", "drift", 0.01, 1), unexplained=0.99, next=next_)
    talk = by_hand(tmp_path, loop, none)
    for command in ("V X21:7 X20:0 3.02", "show", "rank", "list", "what if 12", "remedy", "why",
                    "handover"):  # fmt: skip
        assert say(talk, command)
    assert "No modelled fault explains" in say(talk, "show")
    assert leading(none, Case()) == "none modelled 99 %"
    talk.hunt.file.close()


def test_a_long_group_fits_its_line(loop: Loop) -> None:
    many = [ranked(f"LT-{n}", "input collapsed", 0.1, 1) for n in range(9)]
    (row, *_) = rows(ranking(*many))
    assert len(row_name(row, loop, 50)) <= 50
    assert "more" in row_name(row, loop, 50)


def test_a_size_is_left_out_sooner_than_the_equals_of_a_fault(loop: Loop) -> None:
    """``39 %  TW-140 poor contact`` stood alone on its line, and half of that was another's."""
    size = Size("share of the process that is felt", "1", 0.885, 0.829, 0.939)
    group = [ranked("I.W3", "leakage", 0.2, 1, size=size), ranked("TX", "drift", 0.19, 1)]
    [row] = rows(ranking(*group))
    assert row_name(row, loop, 57) == "I.W3 leakage (between the cores of cable W3); or TX drift"
    assert row_name(row, loop, 50) == "I.W3 leakage; or TX drift"
    assert "88.5 %; or TX drift" in row_name(row, loop, 90)


def test_a_sound_loop_is_a_normal_result(loop: Loop, talk: Talk) -> None:
    sound = ranking(ranked(None, "none", 0.99, 1), resolved=True, stop="one explanation holds 95 %")
    said = flat(" ".join(closing(sound, loop, SCREEN)))
    assert "close no fault found" in said


@pytest.mark.parametrize(
    ("item", "text", "told"),
    [
        ("bypass", "shift lead until 04:00", "bypass"),
        ("wire lifted", "W3+.JB9", "W3+.JB9 lifted"),
        ("transmitter made to drive a fixed current", "LT-214", "LT-214 driven"),
        ("opened for the meter", "X21:3 to X21:4", "X21:3 to X21:4 open"),
        ("jumper", "X21:3 to X21:4", "jumper: X21:3 to X21:4"),
        ("scaffold", "", "scaffold"),
    ],
)
def test_open_items_are_short_at_the_foot(item: str, text: str, told: str, loop: Loop) -> None:
    assert brief(Open(1, datetime.now(UTC), item, text), loop) == told


def test_the_foot_of_the_screen_agrees_with_the_verdict() -> None:
    """A blocked connection at 40 % beside a sound loop at 30 %: neither is the answer alone.

    ``electrically sound 70 %`` stood above ``30 %  loop electrically sound``.
    """
    sound = ranking(
        ranked("T1", "blocked", 0.4, 1), ranked(None, "none", 0.3, 2), ranked("R1", "drift", 0.3, 3)
    )
    assert leading(sound, Case()) == "not electrical 70 %"
    alone = ranking(ranked(None, "none", 0.7, 1), ranked("R1", "drift", 0.3, 2))
    assert leading(alone, Case()) == "electrically sound 70 %"


def test_the_foot_of_the_screen_tells_what_is_open(talk: Talk) -> None:
    assert leading(OPEN, Case()) == "I.W3 leakage or 1 more 70 %"  # 0.4 + 0.3, one group
    assert foot(talk.hunt.case, talk.loop, "cabinet") == "nothing open | at cabinet"
    say(talk, AT_HAND[0])
    assert foot(talk.hunt.case, talk.loop, "cabinet") == "open: bypass | at cabinet"


@pytest.mark.parametrize(
    ("line", "bare"),
    [("3.02", True), ("-0.02 mA", True), ("OL", True), ("lit", True), ("OL with supply off", True),
     ("V 3", False), ("list", False), ("", False), (",5", True)],
)  # fmt: skip
def test_a_bare_value_begins_like_one(line: str, bare: bool) -> None:
    assert is_value(line) == bare


@pytest.mark.parametrize("tag", ["LT-214", "LIC-214", "XV-221", "LSL-216", "TT-131"])
def test_every_complaint_that_is_offered_is_taken_by_its_name(tmp_path: Path, tag: str) -> None:
    """ "tripped" is said of a lamp too, and is no less a complaint for that."""
    loop = open_plant().load(tag)
    for name in complaints(loop):
        talk = by_hand(tmp_path / name, loop)
        talk.questions = opening(talk)
        say(talk, name)
        (said,) = talk.hunt.case.complaints
        assert said.removeprefix("complaint ") == name
        told(talk, name)
        assert talk.prompt() == "context> "
        talk.hunt.file.close()


@pytest.mark.parametrize("line", ["LIC-214 62 %", "V X21:7 X20:0 3.0", "process 45 %"])
def test_a_reading_is_taken_whatever_is_asked_first(tmp_path: Path, loop: Loop, line: str) -> None:
    """Who knows it already types it: complaint and context are still asked for."""
    talk = by_hand(tmp_path, loop)
    talk.questions = opening(talk)
    say(talk, line)
    assert talk.prompt() == "complaint> "
    say(talk, "reads low", "LR-214 61 %")
    assert talk.prompt() == "context> "
    assert len(talk.hunt.case.in_force) == 2
    talk.hunt.file.close()


@pytest.mark.parametrize("word", ["more", "other"])
def test_before_any_step_there_is_no_other(tmp_path: Path, loop: Loop, word: str) -> None:
    talk = by_hand(tmp_path, loop)
    talk.told, talk.questions = False, opening(talk)
    assert "no step is advised yet" in flat(say(talk, word))
    assert talk.prompt() == "complaint> "
    talk.hunt.file.close()


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("remedi", "remedy"), ("hnadover", "handover"), ("confrm R1 drift", "confirm"),
        ("not posible no key", "not possible"), ("bypas shift lead", "bypass"),
        ("udno", "undo"), ("maunal operator", "manual"),
    ],
)  # fmt: skip
def test_a_command_that_is_mistyped_is_named(talk: Talk, line: str, meant: str) -> None:
    """Letters left out, doubled or swapped: what tired fingers do."""
    kept = talk.hunt.file.path.read_bytes()
    assert f"did you mean the command {meant}?" in flat(say(talk, line))
    assert talk.hunt.file.path.read_bytes() == kept


@pytest.mark.parametrize("line", ["shows R1 5", "LT-214 fifty", "banana 3", "V X21:7 X99:0 3"])
def test_a_wrong_reading_is_not_taken_for_a_command(talk: Talk, line: str) -> None:
    assert "the command" not in say(talk, line)


@pytest.mark.parametrize(
    ("display", "word", "told"),
    [
        ("LAHH-214", "drk", "LAHH-214 is 'lit' or 'dark', and 'drk' is neither"),
        ("LIC-214", "fifty", "LIC-214 fifty"),
    ],
)
def test_a_slip_in_an_answer_is_told_of_the_display_that_was_asked_for(
    asked: Talk, display: str, word: str, told: str
) -> None:
    """It was told that no function or display is called so."""
    while asked.questions[0].prompt != display:
        del asked.questions[0]
    said = flat(say(asked, word))
    assert told in said
    assert "no function or display" not in said
    assert asked.prompt() == f"{display}> "
    assert evidence(asked) == ()
