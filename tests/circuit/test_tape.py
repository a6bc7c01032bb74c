"""Stored equations are data from outside: anything but plain arithmetic of ours is refused."""

from __future__ import annotations

import pytest

from diagnose.circuit.tape import Tape, TapeError

WRONG = {
    "call": "__import__('os')",
    "attribute": "p0.real",
    "foreign name": "secret",
    "large power": "p0**9**9",
    "text": "'p0'",
    "damaged": "p0 +",
    "unknown name": "p7",
}


@pytest.mark.parametrize("text", WRONG.values(), ids=list(WRONG))
def test_a_foreign_expression_is_refused(text: str) -> None:
    data = {"inputs": ["p0"], "steps": [["x0", text]], "outputs": ["x0"]}
    with pytest.raises(TapeError):
        Tape.from_data(data)


@pytest.mark.parametrize("text", ["p0 - p1", "2 * p0", "p0 / (p0 + p1)", "-p0"])
def test_a_step_that_is_no_sum_of_products_is_refused_for_running(text: str) -> None:
    tape = Tape.from_data({"inputs": ["p0", "p1"], "steps": [["x0", text]], "outputs": ["x0"]})
    with pytest.raises(TapeError):
        tape.check_terms()


def test_running_leaves_out_what_is_nothing() -> None:
    """3 * 5 / 2 = 7.5 by hand; the term with the missing input adds nothing."""
    tape = Tape(["p0", "p1", "p2", "p3"], [("x0", "p0*p1/p2 + p3*p0")], ["x0"])
    assert tape.run({"p0": 3.0, "p1": 5.0, "p2": 2.0})["x0"] == 7.5
