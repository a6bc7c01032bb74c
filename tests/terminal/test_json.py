"""The objects that scripts read: schema 1 of rank and simulate."""

import json
from dataclasses import replace

import pytest

from diagnose.inference.ranking import Ranking
from diagnose.terminal.as_json import ranking_json
from terminal.answers import CAUTIONS, DONE, ENDLESS, OPEN

KEYS = {
    "schema", "tag", "hypotheses", "unexplained", "suspect_readings", "next", "resolved",
}  # fmt: skip


@pytest.mark.parametrize("answer", [OPEN, DONE], ids=["open", "done"])
def test_the_object_has_its_keys_and_is_strict_json(answer: Ranking) -> None:
    found = json.loads(json.dumps(ranking_json(answer, CAUTIONS), allow_nan=False))
    assert set(found) >= KEYS
    assert (found["schema"], found["tag"]) == (1, "LT-214")


def test_probabilities_add_up_to_one() -> None:
    found = ranking_json(OPEN, CAUTIONS)
    total = sum(item["probability"] for item in found["hypotheses"]) + found["unexplained"]
    assert total == pytest.approx(1, abs=1e-9)


def test_all_hypotheses_are_there_with_size_group_and_pair() -> None:
    found = ranking_json(OPEN, CAUTIONS)["hypotheses"]
    assert len(found) == len(OPEN.hypotheses)
    assert found[0]["severity"] == {
        "quantity": "resistance", "unit": "ohm", "median": 9900.0, "low": 8100.0, "high": 12300.0,
    }  # fmt: skip
    assert [item["group"] for item in found] == [1, 1, 2, 3, 4]
    assert (found[3]["part"], found[3]["fault"]) == (None, "none")
    assert found[4]["also"] == [{"part": "F1", "fault": "open"}]
    assert "also" not in found[0]


def test_the_next_step_has_what_a_script_needs() -> None:
    found = ranking_json(OPEN, CAUTIONS)["next"][0]
    assert found["measurement"] == "V X21:7 X20:0 with LT-214 driven 4 mA"
    assert (found["place"], found["gain_bits"], found["minutes"]) == ("transmitter", 0.83, 28.0)
    assert found["interrupts_loop"] is False
    assert found["cautions"] == ["The plant will believe this current."]
    first = found["expects"][0]
    assert (first["part"], first["fault"]) == ("I.W3", "leakage")
    assert (first["low"], first["high"], first["unit"]) == (1.44, 1.6, "V")


def test_a_suspect_reading_is_named_by_its_number() -> None:
    (found,) = ranking_json(OPEN, CAUTIONS)["suspect_readings"]
    assert (found["index"], found["probability"]) == (2, 0.4)


def test_what_is_beyond_the_meter_is_null() -> None:
    """JSON (RFC 8259, section 6) has no infinity."""
    found = ranking_json(replace(OPEN, next=(ENDLESS,)), CAUTIONS)["next"][0]["expects"][0]
    assert (found["low"], found["high"]) == (1000.0, None)
    assert "OL" in found["text"]


def test_remedy_and_proof_are_told() -> None:
    found = ranking_json(DONE, CAUTIONS)
    assert found["resolved"] is True
    assert found["remedy"][0]["part"] == "R1"
    assert found["proof"][0]["measurement"] == "V X21:7 X20:0 with LT-214 driven 12 mA"
