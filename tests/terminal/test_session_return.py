"""Back to service: what was altered, proved and agreed is on the list, done or not.

What belongs on such a list is common practice, no source.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest

from diagnose.casework import events as e
from diagnose.loops.plant import open_plant
from diagnose.terminal.session_return import checks
from diagnose.terminal.session_talk import Talk
from terminal.session_stand import by_hand, flat, say

LOOP = open_plant().load("LT-214")


@pytest.fixture
def talk(tmp_path: Path) -> Iterator[Talk]:
    talk = by_hand(tmp_path, LOOP)
    yield talk
    talk.hunt.file.close()


def listed(talk: Talk) -> dict[str, bool]:
    return {text: done for done, text in checks(talk.hunt.case, LOOP)}


def test_what_was_altered_is_listed_until_it_is_put_back(talk: Talk) -> None:
    say(talk, "12.0")
    text = "put back: opened for the meter: X21:3 to X21:4"
    assert listed(talk)[text] is False
    say(talk, "done")
    assert listed(talk)[text] is True


def test_bypass_and_manual_are_taken_off_last(talk: Talk) -> None:
    say(talk, "bypass shift lead until 04:00", "manual operator holds it")
    found = listed(talk)
    assert [done for text, done in found.items() if "bypass" in text or "controller" in text] == [
        False, False,
    ]  # fmt: skip
    say(talk, "done all")
    assert [text for text, done in listed(talk).items() if done] == [
        "bypass taken off, and confirmed by whoever authorised it",
        "controller as it was before, agreed with the operator",
    ]


@pytest.mark.parametrize(
    ("passed", "done", "told"),
    [((), False, "no proof reading"), ((True, True), True, "2 of 2 proof readings"),
     ((True, False), False, "1 of 2 proof readings")],
)  # fmt: skip
def test_the_proof_counts(talk: Talk, passed: tuple[bool, ...], done: bool, told: str) -> None:
    for number, good in enumerate(passed):
        text = f"V X21:7 X20:0 3.0 V with LT-214 driven {4 + 4 * number} mA"
        talk.hunt.file.append(e.ProofTaken(text, 2.9, 3.1, good))
    [(text, found)] = [(t, d) for t, d in listed(talk).items() if t.startswith("function checked")]
    assert told in text
    assert found is done


def test_a_confirmed_cause_shows_the_list_and_so_does_close(talk: Talk) -> None:
    said = flat(say(talk, "V X21:7 X20:0 3.0", "confirm R1 drift measured 310 ohm"))
    assert "[ ] covers, seals, glands and terminals tight: marshalling cabinet 2" in said
    assert "[ ] operator told" in flat(say(talk, "close"))


def test_to_look_at_a_display_opens_no_cover(talk: Talk) -> None:
    say(talk, "LIC-214 50 %", "LR-214 50 %")
    assert not any("covers" in text for text in listed(talk))
    talk.hunt.file.append(e.RemedyTried("W4+", "open", "loose", "tightened"))
    assert any("covers" in text and "JB9" in text for text in listed(talk))


def test_one_command_is_one_thing_to_be_put_back(tmp_path: Path) -> None:
    """A hand that was on and is off now; a transmitter in its output test stays in it."""
    talk = by_hand(tmp_path, open_plant().load("XV-221"))
    say(talk, "ZLO-221 lit with HS-221 commanded on", "ZLO-221 dark with HS-221 commanded off")
    assert [str(item) for item in talk.hunt.case.open_items] == [
        "output commanded off in manual: HS-221"
    ]
    talk.hunt.file.close()
    talk = by_hand(tmp_path, LOOP)
    say(talk, "V X21:7 X20:0 1.0 with LT-214 driven 4 mA")
    say(talk, "V X21:7 X20:0 1.0 with LT-214 replaced 4 mA")
    assert len(talk.hunt.case.open_items) == 2
    talk.hunt.file.close()


def test_work_on_a_trip_is_followed_by_its_own_test(talk: Talk) -> None:
    """Volts across the resistor do not make the shutdown act (IEC 61511-1, 16.3, from memory)."""
    say(talk, "V X21:7 X20:0 3.0")
    assert not any(text.startswith("trip tested") for text in listed(talk))
    talk.hunt.file.append(e.RemedyTried("R1", "drift", "310 ohm", "renewed"))
    found = list(listed(talk))
    (tested,) = [n for n, text in enumerate(found) if text.startswith("trip tested")]
    assert listed(talk)[found[tested]] is False


def test_where_a_part_was_altered_its_cover_was_open(talk: Talk) -> None:
    """A transmitter was driven in the field and no meter put to it: its cover was left out."""
    say(talk, "ok", "V X21:7 X20:0 1.002 with LT-214 driven 4 mA")
    [closed] = [text for text in listed(talk) if text.startswith("covers")]
    assert "marshalling cabinet 2" in closed
    assert "solvent receiver" in closed
