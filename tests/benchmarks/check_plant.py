"""Check of a plant of 2,000 generated loops, against the same sheets with nothing shared.

    python tests/benchmarks/check_plant.py [LOOPS]

1. the whole `check` with one process for each core, in seconds, from an empty cache and again;
2. what a sheet costs one process: its text, its circuit from known equations, the rest;
3. deriving the circuit of a sheet anew, which would be due for each if names made a circuit.
Nothing is asserted, since machines differ.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]


def timed(action: Callable[[], object]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def generated(folder: Path, loops: int) -> Path:
    """A plant folder with the sheets of an invented index of all loop types."""
    from diagnose.loops.index.importing import import_index
    from diagnose.loops.index.mapping import read_mapping
    from diagnose.loops.index.tables import read_grid
    from diagnose.loops.new_plant import new_plant
    from messy_index import mapping_text, messy

    plant = folder / "plant"
    new_plant(plant, "Invented works")
    (plant / "index.toml").write_text(mapping_text(), encoding="utf-8")
    tables = messy(loops, seed=1).write(folder)
    grids = {name: read_grid(path) for name, path in tables.items()}
    import_index(plant, read_mapping(plant / "index.toml"), grids)
    return plant


def spent() -> float:
    """Processor time of this process and its ended children, s: what others do leaves it alone."""
    return sum(os.times()[:4])


def whole(plant: Path) -> Callable[[], object]:
    words = [sys.executable, "-m", "diagnose", "check", "--plant", str(plant)]

    def run() -> None:
        done = subprocess.run(words, check=False, capture_output=True, text=True, cwd=ROOT)
        print("   ", done.stdout.splitlines()[-1] if done.stdout else done.stderr)

    return run


def main(loops: int) -> None:
    with tempfile.TemporaryDirectory() as home:
        os.environ["DIAGNOSE_CACHE"] = str(Path(home) / "derived")
        plant = generated(Path(home), loops)
        sheets = sorted((plant / "sheets").glob("*.toml"))
        print(f"{len(sheets)} sheets, {os.cpu_count()} cores")
        for name in ("empty cache", "again"):
            before = spent()
            warm = timed(whole(plant))
            print(f"check, {name:<25}{warm:8.1f} s, {spent() - before:.1f} s of processor")
        pieces(sheets[:: max(1, len(sheets) // 60)], warm / len(sheets))


def pieces(sheets: list[Path], share: float) -> None:
    """Medians over some sheets, in this process."""
    from diagnose.circuit.equations import derive
    from diagnose.circuit.predictor import Predictor
    from diagnose.circuit.wiring import Wiring
    from diagnose.inference.checking import Wanted, check_sheet
    from diagnose.loops.sheet import load_sheet

    loops = [load_sheet(path) for path in sheets]
    rows = {
        "derive the circuit anew": [timed(lambda m=loop: derive(Wiring(m))) for loop in loops],
        "read the text of a sheet": [timed(lambda p=path: load_sheet(p)) for path in sheets],
        "circuit from known equations": [timed(lambda m=loop: Predictor(m)) for loop in loops],
        "all that is checked": [timed(lambda p=path: check_sheet(p, Wanted())) for path in sheets],
    }
    base = statistics.median(rows["derive the circuit anew"])
    for name, times in rows.items():
        middle = statistics.median(times)
        print(f"{name:<32}{middle * 1e3:8.1f} ms   {middle / base:.3f}")
    print(f"{'a sheet of the whole check':<32}{share * 1e3:8.1f} ms   {share / base:.3f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
