"""The exported SPICE text, run by ngspice as it stands, against the operating point it stands for.

Source: ngspice on the text that `netlist` writes.  A second road beside `test_spice_agreement`:
there the deck is written by the tests from physics, here by the program from its own laws.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from diagnose.circuit.netlist import netlist
from diagnose.circuit.operating import OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet
from spice import Answer, Circuit, NoAnswer, parameters, run_alone
from spice_trials import Trial, differences, far, trials

ROOT = Path(__file__).parents[2]
SHEET = ROOT / "cases" / "larkmere" / "sheets" / "LT-214.toml"
COUNT = 250

pytestmark = pytest.mark.spice


def nodes_of(text: str) -> dict[str, str]:
    """Node of the loop -> node of the text, from the list in its head."""
    listed = text.split("* Nodes of this text and of the loop:\n")[1]
    pairs = re.findall(r"^\*   (\S+) +(\S.*)$", listed, re.MULTILINE)
    return {node: spice for spice, node in pairs}


def ammeters_of(text: str) -> list[tuple[str, str]]:
    """(part, ammeter) for each branch, from the comment above its ammeter."""
    return re.findall(r"^\* ([^\n]+?): [^\n]*\n(Vm_\S+) ", text, re.MULTILINE)


def read(circuit: Circuit, text: str, printed: dict[str, float]) -> Answer:
    """What ngspice printed, under the names of the loop; a part's branches added up."""
    try:
        volts = {
            node: 0.0 if spice == "0" else printed[f"v({spice})"]
            for node, spice in nodes_of(text).items()
        }
        amperes: dict[str, float] = {}
        for part, name in ammeters_of(text):
            amperes[part] = amperes.get(part, 0.0) + printed[f"i({name.lower()})"]
    except KeyError as missing:
        raise NoAnswer(f"ngspice printed no {missing} for:\n{text}") from None
    return Answer(volts, amperes, parameters(circuit))


@pytest.fixture(scope="module")
def loop() -> Loop:
    return load_sheet(SHEET)


@pytest.fixture(scope="module")
def compared(loop: Loop) -> list[tuple[Trial, OperatingPoint, Answer]]:
    asked = list(trials(loop, COUNT, seed=118))
    texts = [netlist(loop, trial.changes, trial.process, trial.meter) for trial in asked]
    machine = Predictor(loop)
    return [
        (
            trial,
            operating_point(loop, trial.changes, trial.process, trial.meter, machine),
            read(trial.circuit(loop), text, printed),
        )
        for trial, text, printed in zip(asked, texts, run_alone(texts), strict=True)
    ]


def test_exported_text_agrees(
    loop: Loop, compared: list[tuple[Trial, OperatingPoint, Answer]]
) -> None:
    wrong = [
        f"{trial.told}:\n    " + "\n    ".join(found[:6])
        for trial, point, answer in compared
        if (found := differences(loop, point, answer))
    ]
    assert len(compared) == COUNT
    assert not wrong, f"{len(wrong)} of {COUNT} circuits differ\n" + "\n".join(wrong[:20])


def test_meter_of_the_exported_text_agrees(
    compared: list[tuple[Trial, OperatingPoint, Answer]],
) -> None:
    for trial, point, answer in compared:
        if trial.meter:
            seen = answer.voltages[trial.meter.a] - answer.voltages[trial.meter.b]
            assert not far(point.attached, seen, 1e-6), trial.told


def test_circuits_with_and_without_a_meter_were_among_them(
    compared: list[tuple[Trial, OperatingPoint, Answer]],
) -> None:
    fitted = [trial.meter for trial, _, _ in compared]
    assert None in fitted
    assert any(meter and meter.source for meter in fitted)
    assert any(meter and not meter.source for meter in fitted)
