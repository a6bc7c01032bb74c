"""Rankings made by hand, for the tests of screens and JSON."""

from dataclasses import replace
from math import inf

from diagnose.inference.measurement import Applied, Measurement
from diagnose.inference.ranking import (
    Advice,
    Expects,
    Group,
    Proof,
    Ranked,
    Ranking,
    Remedy,
    Size,
    Suspect,
)

LEAK = Size("resistance", "ohm", 9_900.0, 8_100.0, 12_300.0)

ADVICE = Advice(
    measurement=Measurement("V", ("X21:7", "X20:0"), (Applied("LT-214", "driven", 4e-3),)),
    text="V X21:7 X20:0 with LT-214 driven 4 mA",
    place="transmitter",
    gain_bits=0.83,
    minutes=28.0,
    interrupts_loop=False,
    moves_signal=True,
    healthy=(0.995, 1.005, "V"),
    expects=(
        Expects("I.W3", "leakage", 0.7, 1.44, 1.6, "V"),
        Expects("R1", "drift", 0.2, 1.1, 1.3, "V"),
        Expects(None, "none", 0.05, 0.99, 1.2, "V"),
    ),
    cautions=("inject",),
    needs=("operator told", "loop in manual"),
)
CAUTIONS = {"inject": "The plant will believe this current."}
SERIES = replace(
    ADVICE,
    measurement=Measurement("mA", ("X21:3", "X21:4")),
    text="mA X21:3 X21:4", place="cabinet", minutes=6.4, interrupts_loop=True,
    charge=15.0,
)  # fmt: skip


def ranked(part: str | None, fault: str, share: float, group: int, **more: object) -> Ranked:
    return Ranked(part, fault, f"{fault} title", "cabinet", share, group, **more)  # type: ignore[arg-type]


def grouped(hypotheses: tuple[Ranked, ...]) -> tuple[Group, ...]:
    found = []
    for number in dict.fromkeys(item.group for item in hypotheses):
        own = [item for item in hypotheses if item.group == number]
        keys = tuple((item.part, item.fault) for item in own)
        found.append(Group(number, sum(item.probability for item in own), keys))
    return tuple(found)


def ranking(*hypotheses: Ranked, unexplained: float = 0.0, **more: object) -> Ranking:
    sound = sum(item.probability for item in hypotheses if item.part in (None, "T1"))
    facts = {
        "tag": "LT-214", "hypotheses": hypotheses, "groups": grouped(hypotheses),
        "unexplained": unexplained, "sound": sound, "suspects": (), "next": (), "resolved": False,
    }  # fmt: skip
    return Ranking(**{**facts, **more})  # type: ignore[arg-type]


OPEN = ranking(
    ranked("I.W3", "leakage", 0.4, 1, size=LEAK),
    ranked("I.W4", "leakage", 0.3, 1, size=LEAK),
    ranked("R1", "drift", 0.2, 2),
    ranked(None, "none", 0.05, 3),
    ranked("G1", "low", 0.03, 4, also=(("F1", "open"),)),
    unexplained=0.02,
    next=(ADVICE, SERIES),
    suspects=(Suspect(2, "V X21:7 X20:0 34.06", 0.4),),
    untested=(("E1", "open"),),
    assumptions=("G1: voltage",),
)
DONE = ranking(
    ranked("R1", "drift", 0.98, 1),
    ranked(None, "none", 0.02, 2),
    resolved=True,
    stop="one explanation holds 95 %: turn to the remedy",
    remedy=(Remedy("R1", "drift", "measure it and renew it", "cabinet", 0.98, 15.0),),
    proof=(Proof("V X21:7 X20:0 with LT-214 driven 12 mA", 2.99, 3.01, "V"),),
)
ENDLESS = replace(ADVICE, expects=(Expects("W3+", "open", 0.5, 1e3, inf, "ohm"),))
