"""Whole hunts typed at the full screen in a real terminal (tmux); every screen is kept.

    python tests/terminal/drive_hunts.py FOLDER [TAG ...]

Five loop types, five sizes and looks: the technician and the fault are simulated, the program and
the terminal are not.  What each hunt came to is printed; the screens are in FOLDER/TAG.txt.
"""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from terminal.simulated_field import Field, Technician  # noqa: E402

PATIENCE = 120.0
"""Seconds for one answer on a slow machine."""

MOST_LINES = 60


@dataclass(frozen=True)
class Plan:
    """One hunt: fault, complaint, process value; the terminal that it is hunted on."""

    tag: str
    part: str
    fault: str
    complaint: str
    process: float
    columns: int
    rows: int
    environment: str = ""


PLANS = (
    Plan("LT-214", "R1", "drift", "reads low", 0.62, 80, 24),
    Plan("TT-131", "W31A.X31", "high resistance", "reads high", 0.4, 120, 40),
    Plan("XV-221", "XY-221", "open", "does not follow", 1.0, 60, 20),
    Plan("FV-118", "FV-118", "stuck", "does not follow", 0.62, 80, 24, "NO_COLOR=1"),
    Plan("ZS-221", "ZS-221", "dead", "stays off", 1.0, 200, 60),
)


class Pane:
    """One terminal of its own."""

    def __init__(self, plan: Plan, home: Path) -> None:
        self.name = f"screen-hunt-{plan.tag}-{os.getpid()}"
        words = [sys.executable, "-m", "diagnose", "troubleshoot", plan.tag, "--new"]
        command = f"{plan.environment} XDG_DATA_HOME={shlex.quote(str(home))} {shlex.join(words)}"
        size = ["-x", str(plan.columns), "-y", str(plan.rows)]
        done = f"cd {shlex.quote(str(ROOT))}; PYTHONPATH=. {command}; echo ENDED; sleep 60"
        self._tmux("new-session", "-d", "-s", self.name, *size, done)

    def _tmux(self, *words: str) -> str:
        done = subprocess.run(["tmux", *words], capture_output=True, text=True, check=True)
        return done.stdout

    def shown(self) -> list[str]:
        """The screen as it is."""
        return self._tmux("capture-pane", "-p", "-t", self.name).splitlines()

    def still(self, before: list[str]) -> list[str]:
        """The screen once it has answered: changed, nothing computed, and the same twice."""
        end, last = time.monotonic() + PATIENCE, before
        while time.monotonic() < end:
            time.sleep(0.25)
            now = self.shown()
            calm = "".join(now).strip() and not any("omputing" in row for row in now)
            if calm and now == last and now != before:
                return now
            last = now
        raise SystemExit(f"{self.name}: no answer in {PATIENCE:.0f} s:\n" + "\n".join(last))

    def type(self, line: str) -> None:
        """Type a line and Enter."""
        if line:
            self._tmux("send-keys", "-t", self.name, "-l", "--", line)
        self._tmux("send-keys", "-t", self.name, "Enter")

    def close(self) -> None:
        """End the terminal."""
        self._tmux("kill-session", "-t", self.name)


def drive(plan: Plan, folder: Path) -> str:
    """One hunt to its end; what it came to."""
    technician = Technician(Field(plan.tag, plan.part, plan.fault, plan.process), plan.complaint)
    pane = Pane(plan, folder / "data")
    kept: list[str] = []
    try:
        screen = pane.still([])
        for _ in range(MOST_LINES):
            kept += [f"{'=' * 20} {plan.tag} {plan.columns}x{plan.rows}", *screen]
            if any(row.startswith("ENDED") for row in screen):
                break
            prompt = screen[-2]
            line = technician.line(prompt, "\n".join(screen))
            kept.append(f"{'-' * 20} typed: {line}")
            pane.type(line)
            screen = pane.still(screen)
    finally:
        pane.close()
        (folder / f"{plan.tag}.txt").write_text("\n".join(kept) + "\n", encoding="utf-8")
    return next((row for row in reversed(screen) if row.startswith("Case ")), "not ended")


if __name__ == "__main__":
    target = Path(sys.argv[1])
    (target / "data").mkdir(parents=True, exist_ok=True)
    for one in PLANS:
        if one.tag in sys.argv[2:] or not sys.argv[2:]:
            print(f"{one.tag:<8}{one.columns}x{one.rows} {one.environment:<12}", drive(one, target))
