"""The circuit layer against a circuit simulator, over random faults, conditions and meters.

Source: ngspice (written by others, by another method: modified nodal analysis with Newton
iteration) on decks that `spice` writes from the physics of the kinds.  Checked in turn against the
same circuits solved with 60 digits: the currents of those decks were right to 1e-12 A.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from diagnose.circuit.operating import OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet
from spice import Answer, Circuit, parameters, solve_from, solve_most
from spice_exact import refined
from spice_trials import Trial, actions, differences, far, state, trials

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"
SHEET = SHEETS / "LT-214.toml"
OTHERS = sorted(path for path in SHEETS.glob("*.toml") if path != SHEET)
COUNT, COUNT_OF_OTHERS = 1200, 200

pytestmark = pytest.mark.spice


def marks(loop: Loop, answer: Answer) -> set[str]:
    """What kind of circuit it was, judged by the simulator's answer alone."""
    regimes = state(loop, answer).items()
    found = {f"{loop.part(name).kind.name} {regime}" for name, regime in regimes}
    supply = next(part.name for part in loop.parts if part.kind.name == "supply")
    sink = next(part.name for part in loop.parts if part.kind.name == "two_wire_transmitter")
    q = answer.parameters[sink]
    on = answer.parameters[supply]["voltage"] > 1
    if on and abs(answer.currents[supply]) > 25e-3:
        found.add("shorted")
    if on and abs(answer.currents[sink]) < 0.1e-3:
        found.add("open")
    if not on:
        found.add("unpowered")
    if q["demand"] in (q["saturation_low"], q["saturation_high"]):
        found.add("saturated")
    if q["turned"] and answer.currents[sink] > 1e-3:
        found.add("turned")
    return found


@pytest.fixture(scope="module")
def loop() -> Loop:
    return load_sheet(SHEET)


@pytest.fixture(scope="module")
def compared(loop: Loop) -> list[tuple[Trial, OperatingPoint, Answer]]:
    return compare(loop, COUNT)


def compare(loop: Loop, count: int) -> list[tuple[Trial, OperatingPoint, Answer]]:
    """Random circuits of a loop, solved by both."""
    asked = list(trials(loop, count, seed=214))
    circuits = [trial.circuit(loop) for trial in asked]
    found = solve_most(circuits)
    machine = Predictor(loop)
    points = [
        operating_point(loop, trial.changes, trial.process, trial.meter, machine) for trial in asked
    ]
    assert found.count(None) <= count / 50, "the simulator gives up too often"
    answers = [
        answer or started(circuit, point)
        for circuit, point, answer in zip(circuits, points, found, strict=True)
    ]
    return list(zip(asked, points, answers, strict=True))


def started(circuit: Circuit, point: OperatingPoint) -> Answer:
    """The equations of the simulator, which gave up on them, solved from our own point on."""
    return refined(circuit, Answer(point.voltages, point.currents, parameters(circuit)))


@pytest.mark.parametrize("sheet", OTHERS, ids=lambda path: path.stem)
def test_every_other_sheet_of_the_plant_agrees(sheet: Path) -> None:
    loop = load_sheet(sheet)
    agree(loop, compare(loop, COUNT_OF_OTHERS), COUNT_OF_OTHERS)


def test_every_voltage_current_and_regime_agrees(
    loop: Loop, compared: list[tuple[Trial, OperatingPoint, Answer]]
) -> None:
    agree(loop, compared, 500)


def _another_point(loop: Loop, trial: Trial, point: OperatingPoint, theirs: Answer) -> bool:
    """Whether a circuit feeds its own switches: ours is a second operating point, or it has none.

    It has none where the switches would stand otherwise at either answer.
    """
    if not any(part.kind.follows and part.kind.branches for part in loop.parts):
        return False
    circuit = trial.circuit(loop)
    answer = solve_from(circuit, point.voltages)
    if answer is None:
        return solve_from(circuit, theirs.voltages) is None
    return not differences(loop, point, answer)


def agree(loop: Loop, compared: list[tuple[Trial, OperatingPoint, Answer]], least: int) -> None:
    """Every voltage, current and regime, and enough of them.

    Where they differ, the simulator's equations are solved from its answer on with more digits.
    """
    differing = [each for each in compared if differences(loop, each[1], each[2])]
    differing = [each for each in differing if not _another_point(loop, *each)]
    wrong = [
        f"{trial.told}:\n    " + "\n    ".join(found[:6])
        for trial, point, answer in differing
        if (found := differences(loop, point, refined(trial.circuit(loop), answer)))
    ]
    assert len(compared) >= least
    # Circuits behind an isolator float, tied to the rest by 100 Gohm alone.
    assert len(differing) <= len(compared) / 25, "the simulator disagrees more than digits explain"
    assert not wrong, f"{len(wrong)} of {len(compared)} circuits differ\n" + "\n".join(wrong[:20])


def test_what_a_meter_sees_agrees(compared: list[tuple[Trial, OperatingPoint, Answer]]) -> None:
    for trial, point, answer in compared:
        seen = 0.0
        if trial.meter:
            seen = answer.voltages[trial.meter.a] - answer.voltages[trial.meter.b]
        assert not far(point.attached, seen, 1e-6), trial.told


def test_every_sort_of_circuit_was_among_them(
    loop: Loop, compared: list[tuple[Trial, OperatingPoint, Answer]]
) -> None:
    counted = Counter(mark for trial, _, answer in compared for mark in marks(loop, answer))
    counted.update(mark for trial, _, _ in compared for mark in trial.marks)
    expected = {
        *(f"two_wire_transmitter {name}" for name in ("off", "starved", "regulating", "reversed")),
        *(f"supply {name}" for name in ("limited", "regulating")),
        *("shorted", "open", "unpowered", "saturated", "turned"),
        *(f"meter {name}" for name in ("none", "V", "Vlow", "mA", "jumper", "ohm")),
        *(f"action {name}" for _, name in actions(loop)),
    }
    rare = {mark for mark in expected if counted[mark] < 3}
    assert not rare, f"hardly any circuit of these sorts: {rare}; there were {dict(counted)}"
