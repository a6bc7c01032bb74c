"""Cautions that hang on what was complained of, and on what is worked on.

Work on a circuit with the supply off: EN 50110-1; on intrinsically safe wiring: IEC 60079-14
(both from memory).
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.inference.cautions import CAUTIONS
from diagnose.inference.ranking import Remedy
from diagnose.loops.plant import open_plant
from terminal.answers import DONE
from terminal.session_stand import by_hand, flat, say


def test_a_trip_that_did_not_act_is_told_of_before_anything_is_measured(tmp_path: Path) -> None:
    talk = by_hand(tmp_path, open_plant().load("LAHH-214"))
    assert CAUTIONS["no trip"].text in flat(say(talk, "complaint no trip"))
    assert CAUTIONS["no trip"].text not in flat(say(talk, "ok", "complaint reads high"))
    talk.hunt.file.close()


@pytest.mark.parametrize(
    ("tag", "part", "fault", "shown", "hidden"),
    [
        ("PT-322", "W61+", "open", ("wire work",), ("mains work", "intrinsic safety")),
        ("PT-305", "R1", "drift", ("wire work", "intrinsic safety"), ("mains work",)),
        ("XV-222", "XY-222", "open", ("mains work",), ("wire work",)),
        ("LT-214", "T1", "blocked", ("process side",), ("wire work",)),
        ("LT-214", "E1", "open", ("wire work", "earth"), ("hot work",)),
        ("LT-214", "E.JB9+", "leakage", ("earth", "hot work", "no insulation tester"), ("mains",)),
        ("LT-214", "I.JB9", "leakage", ("hot work", "no insulation tester"), ("earth",)),
        ("PDT-330", "PDI-330", "open", ("jumper",), ("hot work",)),
        ("XV-222", "XV-222", "stuck shut", ("output", "air", "process side"), ("mains work",)),
    ],
)
def test_work_on_a_circuit_is_cautioned(
    tmp_path: Path, tag: str, part: str, fault: str, shown: Sequence[str], hidden: Sequence[str]
) -> None:
    """Wires are lifted dead; mains, earths and intrinsically safe wiring have rules of their own.

    A stuck valve has air behind it, and wet insulation asks for hot air and an insulation tester:
    common practice, no source.
    """
    remedy = Remedy(part, fault, "put it right", "cabinet", 0.98, 15.0)
    talk = by_hand(tmp_path, open_plant().load(tag), replace(DONE, remedy=(remedy,)))
    said = flat(say(talk, "remedy 1"))
    assert all(CAUTIONS[key].text in said for key in shown)
    assert not any(CAUTIONS[key].text in said for key in hidden)
    talk.hunt.file.close()


def test_what_is_kept_as_acknowledged_was_shown(tmp_path: Path) -> None:
    """In one line or in two; and the command's own word is none of what is recorded."""
    for number, lines in enumerate((["bypass shift lead"], ["bypass", "bypass shift lead"])):
        talk = by_hand(tmp_path / str(number), open_plant().load("LT-214"))
        said = flat(" ".join(say(talk, line) for line in lines))
        assert CAUTIONS["trip"].text in said
        assert [str(item) for item in talk.hunt.case.open_items] == ["bypass: shift lead"]
        assert "trip" in talk.hunt.case.acknowledged
        talk.hunt.file.close()


@pytest.mark.parametrize(
    ("tag", "part", "fault", "place", "shown", "hidden"),
    [
        ("LT-214", "R1", "drift", "cabinet", ("trip", "manual"), ("zone", "enclosure", "output")),
        ("LT-214", "W3+.JB9", "open", "junction box", ("zone", "enclosure", "trip"), ("output",)),
        ("FV-118", "FV-118", "stuck", "valve", ("output", "air", "process side"), ("trip",)),
        ("FV-118", "AS", "low", "valve", ("output", "air"), ("process side",)),
    ],
)
def test_a_repair_brings_the_cautions_of_its_place_its_loop_and_its_work(
    tmp_path: Path, tag: str, part: str, fault: str, place: str,
    shown: Sequence[str], hidden: Sequence[str],
) -> None:  # fmt: skip
    """A classified place asks for gas test and permit and for what may be opened, a trip for its
    bypass, air for its being shut and bled (IEC 60079-14, IEC 61511-1 and ISO 4414, by their
    titles, from memory).
    """
    remedy = Remedy(part, fault, "put it right", place, 0.98, 15.0)
    talk = by_hand(tmp_path, open_plant().load(tag), replace(DONE, remedy=(remedy,)))
    said = flat(say(talk, "remedy 1"))
    assert [key for key in shown if CAUTIONS[key].text not in said] == []
    assert [key for key in hidden if CAUTIONS[key].text in said] == []
    talk.hunt.file.close()
