"""A case is a fold: what counts, what is open, and what cannot happen.

Common practice, no source: what was bridged, lifted or bypassed is put back before a case is
closed; a suspicion is no cause; nothing that was read is ever lost, only withdrawn.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from casework.told import OPENED, case_of, later, reading, stamp, stamped
from diagnose.casework import events as e
from diagnose.casework.case import Case, fold
from diagnose.casework.checks import CaseError
from diagnose.casework.lines import not_possible


def refused(*events: e.Event) -> str:
    """Why the last of some events cannot happen; those before it can."""
    before = case_of(*events[:-1])
    with pytest.raises(CaseError) as caught:
        before.then(stamp(before.number + 1, events[-1]))
    assert "\n" not in str(caught.value)
    return str(caught.value)


# -- folding ---------------------------------------------------------------------------------------


def taken(events: list[e.Event]) -> tuple[Case, list[e.Stamped]]:
    """The case after those events that can happen, and those events."""
    case, kept = fold([stamp(1, OPENED)]), [stamp(1, OPENED)]
    for event in events:
        entry = stamp(case.number + 1, event)
        try:
            case = case.then(entry)
        except CaseError:
            continue
        kept.append(entry)
    return case, kept


@given(st.lists(later, max_size=20))
def test_a_case_is_the_fold_of_its_events(events: list[e.Event]) -> None:
    case, kept = taken(events)
    assert fold(kept) == case
    for cut in range(1, len(kept)):
        assert fold(kept[:cut]).number == cut


@given(st.lists(later, max_size=20))
def test_nothing_is_lost_that_was_taken_in(events: list[e.Event]) -> None:
    case, kept = taken(events)
    sorts = [type(entry.event) for entry in kept]
    assert len(case.readings) == sorts.count(e.ReadingTaken)
    assert len(case.open_items) + len(case.restored) == sorts.count(e.Altered)
    assert len(case.notes) == sorts.count(e.Noted)
    assert len(case.in_force) == len(case.readings) - sorts.count(e.ReadingWithdrawn)
    assert case.number == len(kept)


@given(st.lists(later, max_size=20))
def test_an_event_leaves_the_case_before_it_alone(events: list[e.Event]) -> None:
    case, _ = taken(events)
    before = repr(case)
    taken([*events, e.Noted("one more")])
    assert repr(case) == before


@given(st.lists(later, max_size=20))
def test_a_closed_case_has_no_open_items(events: list[e.Event]) -> None:
    case, _ = taken([*events, *(e.Closed(ending) for ending in e.ENDINGS)])
    assert case.is_open or case.ending == e.HANDED_OVER or not case.open_items


# -- evidence --------------------------------------------------------------------------------------


def test_evidence_is_what_counts_now() -> None:
    case = case_of(
        reading("V a b 3.02"),
        e.Complained("reads high"),
        e.Context("context rain"),
        reading("V c d 1.2"),
        e.Declined("mA X21:4 with LT-214 driven 4 mA", "not allowed"),
        e.ReadingCorrected(2, "V a b 3.20"),
        e.ReadingWithdrawn(5, "wrong terminals"),
        reading("LIC-214 62 %"),
    )
    assert case.evidence == (
        "complaint reads high",
        "context rain",
        "V a b 3.20",
        "LIC-214 62 %",
        "mA X21:4 not possible with LT-214 driven 4 mA",
    )
    assert [item.number for item in case.in_force] == [2, 9]
    assert case.reading(2).typed == "V a b 3.02"
    assert case.minutes == 3.0


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("V a b", "V a b not possible"),
        ("ohm a b WITH supply off", "ohm a b not possible WITH supply off"),
        ("mA X21:4 not possible", "mA X21:4 not possible"),
        ("V withers b", "V withers b not possible"),
    ],
)
def test_what_was_declined_is_a_reading_that_is_not_possible(text: str, line: str) -> None:
    assert not_possible(text) == line


def test_suspicion_and_confirmation_are_apart() -> None:
    suspicion = e.Ranked((("R1", "drift", (), 0.9),), 0.01, {})
    case = case_of(suspicion)
    assert (case.last_ranking, case.cause) == (suspicion, None)
    proved = e.CauseConfirmed("R1", "drift", "310 ohm out of circuit")
    assert case_of(suspicion, proved).cause == proved


# -- what cannot happen ----------------------------------------------------------------------------


def test_a_case_begins_with_its_opening() -> None:
    with pytest.raises(CaseError, match="a case begins with the event 'opened', not with 'noted'"):
        Case().then(stamp(1, e.Noted("x")))
    assert "its first event only" in refused(OPENED)


def test_numbers_rise() -> None:
    with pytest.raises(CaseError, match="number 2 is used already; the next is 3"):
        fold([*stamped(e.Noted("x")), stamp(2, e.Noted("y"))])


@pytest.mark.parametrize(
    ("events", "sentence"),
    [
        ([e.ReadingCorrected(2, "V a b 3")], "no reading 2; readings: none yet"),
        ([reading("V a b 3"), e.ReadingCorrected(3, "x")], "no reading 3; readings: 2"),
        (
            [reading("V a b 3"), e.ReadingWithdrawn(2, "slip"), e.ReadingWithdrawn(2, "slip")],
            "reading 2 was withdrawn before",
        ),
        (
            [reading("V a b 3"), e.ReadingWithdrawn(2, "slip"), e.ReadingCorrected(2, "V a b 4")],
            "reading 2 was withdrawn; enter it again",
        ),
        ([reading("  ")], "the reading is empty"),
        ([reading("V a b 3", -1.0)], "no negative minutes"),
        ([e.Complained("")], "the complaint is empty"),
        ([e.Context(" ")], "the fact is empty"),
        ([e.Noted("\n")], "the note is empty"),
        ([e.Declined("", "no")], "the measurement is empty"),
        ([e.Altered("", "LK1")], "the open item is empty"),
        (
            [e.Altered("link open", "LK1"), e.Altered("link open", "LK1")],
            "'link open: LK1' is among the open items already",
        ),
        ([e.Restored("link open", "LK1")], "there is no open item 'link open: LK1'"),
        (
            [e.Altered("link open", "LK1"), e.Restored("link open", "LK2")],
            "no open item 'link open: LK2'; did you mean link open: LK1?",
        ),
        (
            [
                e.Altered("link open", "LK1"),
                e.Altered("link open", "LK2"),
                e.Restored("link open", ""),
            ],
            "say which: link open: LK1 or link open: LK2",
        ),
        ([e.CauseConfirmed("R1", "drift", " ")], "a cause is confirmed by evidence"),
        (
            [e.ProofTaken("V a b 3", 2.9, 2.95, False), e.CauseConfirmed("R1", "drift", "")],
            "a cause is confirmed by evidence",
        ),
        ([e.Closed("done")], "a case does not end with 'done'"),
        ([e.Closed("cause confirmed")], "no cause is confirmed yet"),
        (
            [e.CauseConfirmed("R1", "drift", "310 ohm"), e.Closed("no fault found")],
            "a cause was confirmed",
        ),
        (
            [e.Altered("bypass on", "LAHH-214"), e.Closed("cause not found")],
            "put back first, then close, or hand over: bypass on: LAHH-214",
        ),
        (
            [e.Closed("no fault found"), reading("V a b 3")],
            "the case is closed (no fault found) and takes notes only, not 'reading'",
        ),
    ],
)
def test_what_cannot_happen_is_told_in_one_sentence(events: list[e.Event], sentence: str) -> None:
    assert sentence in refused(*events)


def test_what_can_happen() -> None:
    assert case_of(e.Closed("no fault found"), e.Noted("came back")).status == "no fault found"
    one = case_of(e.Altered("link open", "LK1"), e.Restored("link open", ""))
    assert (one.open_items, len(one.restored)) == ((), 1)
    proof = e.ProofTaken("V a b 3", 2.9, 3.1, True)
    done = case_of(proof, e.CauseConfirmed("R1", "drift", ""), e.Closed("cause confirmed"))
    assert done.status == "cause confirmed"


def test_what_was_handed_over_is_gone_on_with() -> None:
    handed = case_of(e.Altered("link open", "LK1"), e.Closed("handed over"))
    assert (handed.status, len(handed.open_items)) == ("handed over", 1)
    assert handed.then(stamp(4, e.Noted("keys at the gate"))).status == "handed over"
    assert handed.then(stamp(4, e.Restored("link open", "LK1"))).status == "open"
