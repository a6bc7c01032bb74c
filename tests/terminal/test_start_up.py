"""What a session loads before its first question: a start-up is judged by `benchmarks/speed.py`.

The ratio there has to stay below 1; what would lift it over is kept out here, untimed.
"""

import os
import subprocess
import sys
from pathlib import Path

HEAVY = ("sympy", "networkx", "pint", "numpy", "importlib.metadata", "diagnose.inference.engine",
         "diagnose.circuit.predictor")  # fmt: skip

ASK = f"""
import io, sys
sys.stdin = io.TextIOWrapper(io.BytesIO(b"reads high\\nquit\\n"))
from diagnose.__main__ import main
try:
    main(["troubleshoot", "LT-214", "--new"])
except SystemExit:
    pass
print("loaded:", *[name for name in {HEAVY!r} if name in sys.modules])
"""


def test_the_first_questions_are_asked_without_the_engine(tmp_path: Path, root: Path) -> None:
    home = {"XDG_DATA_HOME": str(tmp_path), "PYTHONPATH": str(root)}
    for _ in range(2):  # the first run looks at the loop and keeps what it found
        done = subprocess.run(
            [sys.executable, "-c", ASK], env=os.environ | home, capture_output=True, text=True,
            check=True,
        )  # fmt: skip
    assert "Complaint: reads high." in done.stdout
    assert done.stdout.rstrip().splitlines()[-1] == "loaded:"
