"""The note for the next shift: one page, open items first, suspicion apart from proof.

Common practice, no source, for what a note holds; CommonMark 0.31.2, section 2.4, for what a
backslash takes the meaning from.
"""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from casework.demo_cases import CASES
from casework.told import case_of, reading
from diagnose.casework import events as e
from diagnose.casework.handover import escaped, handover
from diagnose.casework.log import CaseFile, case_files
from diagnose.inference.measurement import Measurement
from diagnose.inference.ranking import Advice, Group, Ranking, Remedy, Suspect
from diagnose.inference.ranking import Ranked as Hypothesis

RANKING = Ranking(
    tag="LT-214",
    hypotheses=(
        Hypothesis("R1", "drift", "off its value", "cabinet", 0.9, 1),
        Hypothesis(None, "none", "sound", "", 0.08, 2),
        Hypothesis("F1", "open", "blown", "cabinet", 0.001, 3, also=(("R1", "open"),)),
    ),
    groups=(Group(1, 0.9, (("R1", "drift"), ("LIC-214", "scaling"))),),
    unexplained=0.02,
    sound=0.08,
    suspects=(Suspect(2, "LG-214 5 %", 0.7, "decimal point slipped?"),),
    next=(
        Advice(Measurement("V", ("X21:7", "X20:0")), "V X21:7 X20:0", "cabinet", 0.5, 3.0, False,
               False, (0.0, 1.0, "V"), ()),
    ),
    resolved=False,
)  # fmt: skip


def section(note: str, title: str) -> list[str]:
    """The lines below a heading that begins so."""
    [found] = re.findall(rf"^## {title}[^\n]*\n\n(.*?)(?=^## |\Z)", note, re.M | re.S)
    return [line for line in found.splitlines() if line]


def test_open_items_come_first_and_in_capitals() -> None:
    note = handover(
        case_of(
            e.Altered("bypass on", "trip LAHH-214"),
            e.Altered("link open", "LK1"),
            e.Restored("link open", "LK1"),
        )
    )
    lines = note.splitlines()
    assert lines[2] == "## OPEN ITEMS: NOT AS THEY BELONG"
    assert lines[4] == "- **BYPASS ON: TRIP LAHH-214** since 2024-03-12 02:42 +01:00"
    assert "LK1" not in lines[5]
    assert section(note, "Next")[0].startswith("1. Put back the open items above")
    assert "- put back: link open: LK1" in section(note, "Done")


def test_without_open_items_the_note_says_so() -> None:
    assert handover(case_of()).splitlines()[2].startswith("Open items: none.")


def test_readings_stand_with_what_is_to_be_said_of_them() -> None:
    case = case_of(
        reading("V a b 30.2"),
        reading("V c d 1"),
        e.ReadingWithdrawn(3, "wrong terminals"),
        e.ReadingCorrected(2, "V a b 3.02"),
        reading("LG-214 5 %"),
    )
    rows = section(handover(case, RANKING), "Readings")[2:]
    cells = [[cell.strip() for cell in row.strip("|").split("|")] for row in rows]
    assert [row[0] for row in cells] == ["1", "2", "3"]
    assert [row[2] for row in cells] == ["V a b 3.02", "V c d 1", "LG-214 5 %"]
    assert cells[0][4] == "corrected; first written as V a b 30.2"
    assert cells[1][4] == "WITHDRAWN: wrong terminals"
    # Reading 2 of the ranking is the second one in force: the third of the session.
    assert cells[2][4] == "DISTRUSTED, 70 %; take it again; decimal point slipped?"


def test_one_minute_is_no_minutes() -> None:
    quick = replace(RANKING, next=(replace(RANKING.next[0], minutes=1.2),))
    note = handover(case_of(reading("V X21:7 X20:0 3.02", 1.0)), quick)
    assert "Spent on readings: 1 minute\n" in note
    assert section(note, "Next")[0] == "1. Measure V X21:7 X20:0 (cabinet, 1 minute)."


def test_suspected_and_confirmed_are_kept_apart() -> None:
    note = handover(case_of(), RANKING)
    assert section(note, "Confirmed") == ["Nothing. No cause is proved."]
    assert section(note, "Suspected") == [
        "- 90 % R1 drift",
        "- 8 % loop electrically sound; the process, or nothing, is the cause",
        "- 2 % none of the faults that the tool knows",
    ]
    assert section(note, "Next")[0] == "1. Measure V X21:7 X20:0 (cabinet, 3 minutes)."
    proved = handover(case_of(e.CauseConfirmed("R1", "drift", "310 ohm")), RANKING)
    assert section(proved, "Confirmed") == ["- **R1 drift**: 310 ohm"]
    assert "## Suspected before the cause was confirmed" in proved
    assert section(proved, "Next")[0] == "1. Prove the repair, then close the case."


def test_a_tie_is_told_with_its_names() -> None:
    """Reference E 7: what readings do not separate is a tie; unlikely members are not told."""
    two = (
        Hypothesis("R1", "drift", "", "cabinet", 0.5, 1),
        Hypothesis("LIC-214", "scaling", "", "room", 0.4, 1),
        Hypothesis("F1", "open", "", "cabinet", 0.001, 1),
    )
    told = section(handover(case_of(), replace(RANKING, hypotheses=two)), "Suspected")
    assert "- No reading within reach tells apart: R1 drift and LIC-214 scaling." in told
    found = case_of(e.CauseConfirmed("R1", "drift", "310 ohm"))
    assert "tells apart" not in handover(found, replace(RANKING, hypotheses=two))


def test_after_a_repair_the_proof_comes_next() -> None:
    tried = e.RemedyTried("R1", "drift", "310 ohm", "renewed")
    low, high = (e.ProofTaken(f"V a b {v}", 2.99, 3.01, v == "3.0") for v in ("3.1", "3.0"))
    steps = [
        section(handover(case_of(tried, *proofs), RANKING), "Next")[0]
        for proofs in ((), (low,), (low, high))
    ]
    assert steps == [
        "1. Prove the repair, then confirm the cause: R1 drift.",
        "1. Readings of the proof are outside of their limits: go on after the repair: R1 drift.",
        "1. The proof is within limits: confirm the cause, if the proof would show it: R1 drift.",
    ]


def test_of_each_proof_point_the_last_reading_is_told() -> None:
    slip, right = (e.ProofTaken(f"V a b {v}", 2.99, 3.01, v == "3.0") for v in ("3.1", "3.0"))
    note = handover(case_of(slip, right, e.CauseConfirmed("R1", "drift", "310 ohm")))
    assert section(note, "Confirmed")[1:] == [
        "- proof: V a b 3.0 (due 2.99 to 3.01 V, passed)",
        "- 1 earlier proof reading was taken again",
    ]


def test_a_long_note_is_cut_and_says_so() -> None:
    told = section(handover(case_of(e.Noted("gland " * 500))), "Done")
    assert len(told[0]) < 450
    assert told[0].endswith("(cut: cases show)")


def test_several_repairs_are_told_apart() -> None:
    note = handover(
        case_of(
            e.RemedyTried("R1", "drift", "250.0 ohm, right", "left as it was"),
            e.RemedyTried("F1", "open", "blown", "renewed"),
        )
    )
    assert "- As found: R1 drift: 250.0 ohm, right; F1 open: blown" in note
    assert section(note, "Done") == ["- repaired: R1 drift", "- repaired: F1 open"]


def test_the_recorded_ranking_stands_in_for_one_at_hand() -> None:
    last = e.Ranked((("R1", "drift", (("F1", "open"),), 0.999),), 0.0, {})
    note = handover(case_of(last, e.AdviceGiven("V X21:7 X20:0", 0.5, 3.0)))
    assert section(note, "Suspected") == ["- \\> 99 % R1 drift together with F1 open"]
    assert section(note, "Next")[0] == "1. Measure V X21:7 X20:0 (the last advice)."


def test_where_nothing_more_is_to_be_measured_the_remedy_is_next() -> None:
    remedy = Remedy("R1", "drift", "replace the resistor", "cabinet", 0.9, 10.0)
    note = handover(case_of(), replace(RANKING, next=(), remedy=(remedy,)))
    assert section(note, "Next")[0] == "1. R1: replace the resistor. Then prove the repair."


def test_as_found_and_as_left() -> None:
    note = handover(
        case_of(
            e.Complained("complaint reads high"),
            e.RemedyTried("R1", "drift", "310 ohm", "new one, 250.1 ohm"),
            e.ProofTaken("V X21:7 X20:0 3.001", 2.99, 3.01, True),
            e.CautionAcknowledged("zone"),
            e.CautionAcknowledged("zone"),
        )
    )
    for line in (
        "- Complaint: reads high",
        "- As found: 310 ohm",
        "- As left: new one, 250.1 ohm",
        "- Cautions acknowledged: zone",
        "- proof: V X21:7 X20:0 3.001 (due 2.99 to 3.01 V, passed)",
    ):
        assert line in note.splitlines()


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("**bold** _it_ `code`", r"\*\*bold\*\* \_it\_ \`code\`"),
        ("<script>alert(1)</script>", r"\<script\>alert(1)\</script\>"),
        ("[here](http://x) ![p](y)", r"\[here\](http://x) !\[p\](y)"),
        ("a | b", r"a \| b"),
        ("line\n# head\n- item", r"line \# head - item"),
        ("- no item", r"\- no item"),
        ("12. no list", r"12\. no list"),
        ("---", r"\---"),
        ("-19.99 mA, 3.5 V", "-19.99 mA, 3.5 V"),
        ("&lt; ~~x~~ $y$ \\", r"\&lt; \~\~x\~\~ \$y\$ " + "\\\\"),
    ],
)
def test_signs_of_markdown_lose_their_meaning(typed: str, shown: str) -> None:
    assert escaped(typed) == shown


@given(st.text(min_size=1, max_size=60).filter(str.strip))
def test_what_people_write_adds_no_line_and_no_column(text: str) -> None:
    usual = handover(case_of(reading("x"), e.Noted("x"), e.Altered("x", "x"), e.Complained("x")))
    event = [
        e.from_record(e.to_record(item, 1, case_of().at))
        for item in (reading(text), e.Noted(text), e.Altered(text, text), e.Complained(text))
    ]
    note = handover(case_of(*event))
    assert len(note.splitlines()) == len(usual.splitlines())
    bars = re.findall(r"(?<!\\)(?:\\\\)*\|", note)
    assert len(bars) == len(re.findall(r"\|", usual))


@pytest.mark.parametrize("path", case_files(CASES), ids=lambda path: path.stem)
def test_the_note_on_a_demo_case_is_one_page(path: Path) -> None:
    """Sixty lines of print, common practice."""
    case = CaseFile.open(path, write=False).case
    note = handover(case)
    assert len(note.splitlines()) <= 60
    assert note.startswith(f"# Hand-over {case.tag}: ")
    assert ("## OPEN ITEMS" in note) == bool(case.open_items)


def test_what_may_hide_is_told_from_the_repair_on_until_it_is_proved() -> None:
    """Above a chance of 5 %; a proof within limits has shown that nothing hides."""
    found = replace(RANKING, behind=0.09)
    remedy = e.RemedyTried("R1", "drift", "255 ohm", "renewed")
    proof = e.ProofTaken("V X21:7 X20:0 3.00 with LT-214 driven 12 mA", 2.99, 3.01, True)
    assert "hide" not in handover(case_of(), found)  # more is to be measured
    assert "further fault may hide (9 %)" in handover(case_of(), replace(found, resolved=True))
    told = section(handover(case_of(remedy), found), "Next")
    assert "put right: take every proof reading" in told[1]
    assert "hide" not in handover(case_of(remedy), replace(RANKING, behind=0.04))
    assert "hide" not in handover(case_of(remedy, proof), found)


def test_a_table_of_the_note_is_one_to_markdown() -> None:
    """GitHub Flavored Markdown 0.29, 4.10: a row of hyphens below the head, of as many cells."""
    lines = handover(case_of(reading("V X21:7 X20:0 3.397", 3.397))).splitlines()
    rules = [n for n, line in enumerate(lines) if re.fullmatch(r"\|( -+ \|)+", line)]
    assert rules
    for n in rules:
        assert lines[n - 1].count("|") == lines[n].count("|") == lines[n + 1].count("|")
