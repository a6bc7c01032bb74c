"""Kills a process that writes a case, again and again, and counts what was lost.

`python tests/casework/kill.py 500`: each time a fresh process appends events and tells each one
after it was acknowledged; it is killed (SIGKILL: no handler, no flush) at a random moment.  Then
every event that was told must be in the file, the file must open, and take the next event.
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
for folder in (ROOT, ROOT / "tests"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

from diagnose.casework import events as e  # noqa: E402
from diagnose.casework.log import CaseFile, create  # noqa: E402

LONGEST = 0.05
"""Seconds that a writer lives after its first event, at most."""

OF_ONE_CASE = 20
"""Writers killed on one case, before the next is opened."""

WRITER = """
import sys
sys.path[:0] = [{root!r}, {tests!r}]
from diagnose.casework import events as e
from diagnose.casework.log import CaseFile
file = CaseFile.open({path!r})
while True:
    entry = file.append(e.Noted("x" * (1 + 37 * file.case.number % 3000)))
    print(entry.number, flush=True)
"""


def kill_once(path: Path, wait: float) -> int:
    """Start a writer, kill it after its first event and ``wait`` s; the last number it told."""
    code = WRITER.format(root=str(ROOT), tests=str(ROOT / "tests"), path=str(path))
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        last = int(child.stdout.readline())
        timer = threading.Timer(wait, child.kill)
        timer.start()
        for line in child.stdout:
            last = int(line) if line.endswith("\n") else last
        timer.join()
    return last


def check(path: Path, told: int) -> None:
    """Every event told is there, and the case goes on."""
    with CaseFile.open(path) as file:
        numbers = [entry.number for entry in file.events]
        assert numbers == list(range(1, len(numbers) + 1)), "a number is missing"
        assert len(numbers) >= told, f"{told} events were acknowledged, {len(numbers)} are there"
        assert not file.damage, file.damage
        file.append(e.Noted("gone on after the crash"))


def kill_many(times: int, folder: Path, seed: int = 1) -> int:
    """Kill ``times`` writers; the number of events that were acknowledged."""
    from small_loop import LOOP

    chance = random.Random(seed)
    acknowledged = 0
    for count in range(times):
        if count % OF_ONE_CASE == 0:
            with create(folder, LOOP) as file:
                path, before = file.path, file.case.number
        told = kill_once(path, chance.uniform(0, LONGEST))
        assert told > before
        check(path, told)
        acknowledged += told - before
        before = told
    return acknowledged


if __name__ == "__main__":
    many = int(sys.argv[1]) if len(sys.argv) > 1 else 25
    with tempfile.TemporaryDirectory() as found:
        kept = kill_many(many, Path(found))
    print(f"{many} writers killed, {kept} events acknowledged, none lost")
