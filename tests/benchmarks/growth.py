"""How derivation, first ranking and update grow with the number of parts.

    python tests/benchmarks/growth.py [PARTS ...]

A two-wire loop is drawn longer and longer: each junction box adds two cores, four wire ends and
the insulation between them.  Printed are processor seconds, each also as a ratio to the smallest
loop, and the exponent of a straight line through the logarithms; nothing is asserted.
Default sizes: 10, 30, 100 and 300 parts.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

HEAD = """
[loop]
tag = "LT-900"
service = "a loop as long as one likes"
range = ["0 %", "100 %"]
reference = "N"

[[place]]
name = "cabinet"
title = "cabinet"
minutes = 1

[[place]]
name = "field"
title = "field"
minutes = 10
"""
HUNT = ("complaint reads low", "U1 30 %", "V S N 2.2")


def part(name: str, kind: str, place: str, pins: dict[str, str], **values: str) -> str:
    """One part of a sheet, as text."""
    held = ", ".join(f'{pin} = "{node}"' for pin, node in pins.items())
    lines = [f'name = "{name}"', f'kind = "{kind}"', f"pins = {{ {held} }}", f'place = "{place}"']
    return "\n[[part]]\n" + "\n".join(lines + [f'{k} = "{v}"' for k, v in values.items()]) + "\n"


def sheet(parts: int) -> str:
    """A two-wire loop with about that many parts."""
    text = HEAD
    text += part("G1", "supply", "cabinet", {"plus": "P0", "minus": "N"}, voltage="24 V")
    text += part("F1", "fuse", "cabinet", {"a": "P0", "b": "P1"})
    text += part("R1", "resistor", "cabinet", {"a": "S", "b": "N"}, resistance="250 ohm")
    text += part("U1", "voltage_receiver", "cabinet", {"signal": "S", "common": "N"})
    text += part("E1", "earth_bond", "cabinet", {"a": "N", "earth": "PE"})
    plus, minus, points = "P1", "S", ["P0", "P1", "S", "N"]
    for box in range(max(1, round((parts - 6) / 7))):
        for side, near in (("+", plus), ("-", minus)):
            far = f"J{box}:{'1' if side == '+' else '2'}"
            core = f"W{box}{side}"
            ends = {"a": f"{core}.a", "b": f"{core}.b"}
            text += part(
                f"{core}.n", "termination", "cabinet", {"terminal": near, "wire": ends["a"]}
            )
            text += part(core, "core", "cabinet", ends, length="50 m", area="0.75 mm2")
            text += part(f"{core}.f", "termination", "field", {"terminal": far, "wire": ends["b"]})
            points.append(far)
        plus, minus = f"J{box}:1", f"J{box}:2"
        text += part(f"I{box}", "insulation", "field", {"a": plus, "b": minus})
    text += part("TX", "two_wire_transmitter", "field", {"plus": plus, "minus": minus})
    for point in points:
        place = "field" if point[0] == "J" else "cabinet"
        text += f'\n[[point]]\nname = "{point}"\nplace = "{place}"\n'
    return text


def spent(action: Callable[[], object]) -> float:
    """Processor time of an action, s."""
    start = time.process_time()
    action()
    return time.process_time() - start


def measured(parts: int) -> tuple[int, int, list[float]]:
    """Parts, hypotheses, and the seconds of the three steps."""
    from diagnose.circuit.predictor import Predictor
    from diagnose.inference.engine import Engine
    from diagnose.inference.readings import parse_line
    from diagnose.loops.sheet import load_sheet

    with tempfile.TemporaryDirectory() as folder:
        os.environ["DIAGNOSE_CACHE"] = folder
        path = Path(folder) / "LT-900.toml"
        path.write_text(sheet(parts), encoding="utf-8")
        loop = load_sheet(path)
        derived = spent(lambda: Predictor(loop))
        told = [parse_line(line, loop) for line in HUNT]
        engine: list[Engine] = []

        def first() -> None:
            engine.append(Engine(loop))
            engine[0].rank(told[:2])

        begun = spent(first)
        engine[0].rank(told)
        again = min(spent(lambda: engine[0].rank(told)) for _ in range(3))
    return len(loop.parts), len(engine[0].hypotheses), [derived, begun, again]


def main() -> None:
    """Print one line for each size, and the exponents."""
    import sympy  # noqa: F401 - its own start is no part of a derivation

    sizes = [int(word) for word in sys.argv[1:]] or [10, 30, 100, 300]
    rows = [measured(size) for size in sizes]
    titles = ("derivation", "first ranking", "update + advice")
    print("parts  faults" + "".join(f"{title:>24}" for title in titles))
    for parts, faults, times in rows:
        cells = (f"{t:14.3f} s {t / b:6.1f} x" for t, b in zip(times, rows[0][2], strict=True))
        print(f"{parts:5}  {faults:6}" + "".join(cells))
    logs = np.log([row[0] for row in rows])
    slopes = [np.polyfit(logs, np.log([row[2][k] for row in rows]), 1)[0] for k in range(3)]
    print("exponent     " + "".join(f"{slope:24.2f}" for slope in slopes))


if __name__ == "__main__":
    main()
