"""Kills a process that packs cases, again and again, and looks whether a byte is lost.

`python tests/casework/kill_pack.py 300`: each time a fresh process packs the closed cases of a
folder and is killed (SIGKILL: no handler, no flush) at a random moment.  Then every case must be
there under its name with the bytes that it had, once; a run that is left alone must clear all.
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from datetime import date
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
for folder in (ROOT, ROOT / "tests"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

from diagnose.casework.log import case_files  # noqa: E402
from diagnose.casework.packing import pack_folder, unpack_folder, why_not  # noqa: E402
from diagnose.casework.packs import in_pack, packed_bytes  # noqa: E402

PACKER = """
import sys
sys.path.insert(0, {root!r})
from datetime import date
from pathlib import Path
from diagnose.casework import reader
from diagnose.casework.packing import pack_folder
print("begun", flush=True)
pack_folder(Path({folder!r}), date(2099, 1, 1))
print("done", flush=True)
"""


def content(folder: Path) -> dict[str, bytes]:
    """Every case of a folder by its name, wherever it lies."""
    found: dict[str, bytes] = {}
    for path in case_files(folder):
        assert path.stem not in found, f"{path.stem} is there twice"
        packed, damage = packed_bytes(path) if in_pack(path) else (path.read_bytes(), "")
        assert not damage, damage
        found[path.stem] = packed
    return found


def kill_once(folder: Path, wait: float) -> tuple[bool, float]:
    """Start to pack and kill after ``wait`` s; whether it was done before, and how long it took."""
    code = PACKER.format(root=str(ROOT), folder=str(folder))
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "begun\n"
        start = time.perf_counter()
        try:
            child.wait(wait)
        except subprocess.TimeoutExpired:
            child.kill()
        told = child.stdout.read()
    return told == "done\n", time.perf_counter() - start


def kill_many(times: int, cases: Mapping[str, bytes], folder: Path, seed: int = 1) -> int:
    """Kill ``times`` packers on closed cases (name -> bytes); how many were killed in between.

    More of them, up to ten times as many, while none was: the moment is a matter of luck.  Every
    third time, the packs that are there are unpacked again.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in cases.items():
        (folder / f"{name}.jsonl").write_bytes(text)
    chance = random.Random(seed)
    longest, amid = 0.5, 0
    for count in range(10 * times):
        if count >= times and amid:
            break
        done, took = kill_once(folder, chance.uniform(0, longest))
        longest = took * 1.1 if done else longest
        assert content(folder) == cases
        own = len(list(folder.glob("*.jsonl")))
        amid += 0 < own < len(cases)
        if done or count % 3 == 2:
            unpack_folder(folder)
            assert content(folder) == cases
    pack_folder(folder, date(2099, 1, 1))
    assert content(folder) == cases
    assert not list(folder.glob("*.jsonl"))
    return amid


if __name__ == "__main__":
    many = int(sys.argv[1]) if len(sys.argv) > 1 else 25
    demo = ROOT / "cases" / "larkmere" / "cases"
    texts = {path.stem: path.read_bytes() for path in sorted(demo.glob("LT-21*.jsonl"))}
    with tempfile.TemporaryDirectory() as found:
        closed = {name: text for name, text in texts.items() if not why_not(demo / f"{name}.jsonl")}
        halfway = kill_many(many, closed, Path(found))
    print(f"{many} packers killed, {halfway} with part of {len(closed)} cases packed; none lost")
