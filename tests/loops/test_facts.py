"""What a sheet says of its parts beside the values of their laws: cables and safety markings."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.errors import SheetError
from diagnose.loops.loop import Loop
from diagnose.loops.record import loop_from_record, loop_to_record
from diagnose.loops.sheet import load_sheet

SHEET = """
[loop]
tag = "PT-9"
type = "barrier-input"

[[part]]
name = "W3+"
length = "200 ft"
area = "AWG 18"
temperature = "40 degC"
capacitance = "60 pF/ft"
inductance = "0.7 mH/km"

[[part]]
name = "TX"
Ui = "30 V"
Ci = "5 nF"
"""


def load(folder: Path, text: str) -> Loop:
    (folder / "sheets").mkdir()
    path = folder / "sheets" / "PT-9.toml"
    path.write_text(text)
    return load_sheet(path)


def test_facts_are_in_si_and_nothing_else_is_assumed(tmp_path):
    """A foot is 0.3048 m exactly (NIST SP 811, appendix B.8)."""
    loop = load(tmp_path, SHEET)
    assert loop.part("W3+").facts == pytest.approx(
        {"length": 60.96, "temperature": 40.0, "capacitance": 60e-12 / 0.3048, "inductance": 0.7e-6}
    )
    assert loop.part("TX").facts == {"Ui": 30.0, "Ci": 5e-9}
    assert not loop.part("Z1+").facts
    assert "Ui" not in loop.part("TX").values


def test_a_case_keeps_the_facts(tmp_path):
    loop = load(tmp_path, SHEET)
    again = loop_from_record(loop_to_record(loop))
    assert again.part("W3+").facts == loop.part("W3+").facts
    assert again.part("Z1+").facts == {}


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('"30 V"', '"30"', 'part TX: Ui: "30" has no unit; write "30 V"'),
        ('"30 V"', "30", 'part TX: Ui: "30" has no unit; write "30 V"'),
        ('"30 V"', '"-30 V"', "part TX: Ui: it is between 0 and 1000 V"),
        (
            'Ui = "30 V"',
            'ui = "30 V"',
            "part TX: ui: a two_wire_transmitter has no such key; did you mean Ui?",
        ),
        ('Ui = "30 V"', 'Uo = "28 V"', "part TX: Uo: a two_wire_transmitter has no such key"),
        ('"5 nF"', '"5 uH"', "part TX: Ci: '5 uH': 'uH' is no unit of capacitance; write "),
        (
            '"60 pF/ft"',
            '"60 pF"',
            "part W3+: capacitance: '60 pF': 'pF' is no unit of capacitance per length; write for ",
        ),
    ],
)  # fmt: skip
def test_a_wrong_fact_is_told(tmp_path, old, new, sentence):
    with pytest.raises(SheetError) as caught:
        load(tmp_path, SHEET.replace(old, new))
    [(_, key, text)] = caught.value.problems
    assert f"{key}: {text}".startswith(sentence)
