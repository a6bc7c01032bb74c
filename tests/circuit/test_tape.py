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


def test_a_compiled_run_does_the_same_as_the_one_step_by_step() -> None:
    """3 * 5 / 2 = 7.5 and (7.5 + 3) / 4 = 2.625 by hand; what hangs on the missing input is out."""
    steps = [("x0", "p0*p1/p2 + p3*p0"), ("x1", "p3*p1"), ("x2", "x0/p4 + p0/p4 + x1")]
    tape = Tape(["p0", "p1", "p2", "p3", "p4"], steps, ["x0", "x1", "x2"])
    inputs, outputs, run = tape.without(frozenset({"p3"})).compiled()
    assert (inputs, outputs) == (["p0", "p1", "p2", "p4"], ["x0", "x2"])
    given = {"p0": 3.0, "p1": 5.0, "p2": 2.0, "p4": 4.0}
    assert run(*given.values()) == (7.5, 2.625)
    found = tape.run(dict(given))
    assert (found["x0"], found["x2"]) == (7.5, 2.625)
    assert "x1" not in found


def test_only_what_hangs_on_a_change_is_found_again() -> None:
    """By hand: x0 = 3 + 5 = 8, x1 = 8 * 2 = 16 and x2 = 7 * 5 = 35; with 4 for 5 behind ``p1``.

    x1 hangs on x0, which is no output: it is found again on the way where p2 moves.
    """
    steps = [("x0", "p0 + p1"), ("x1", "x0*p2"), ("x2", "p3*p1"), ("x3", "x1 + x2")]
    tape = Tape(["p0", "p1", "p2", "p3"], steps, ["x1", "x2", "x3"])
    inputs, outputs, run = tape.after(frozenset({"p2"}))
    assert (inputs, outputs) == (["p0", "p1", "p2", "x2"], ["x1", "x3"])
    assert run(3.0, 5.0, 10.0, 35.0) == (80.0, 115.0)
    inputs, outputs, run = tape.after(frozenset({"p1"}))
    assert (inputs, outputs) == (["p0", "p1", "p2", "p3"], ["x1", "x2", "x3"])
    assert run(3.0, 4.0, 2.0, 7.0) == (14.0, 28.0, 42.0)
    assert tape.after(frozenset())[:2] == ([], [])
