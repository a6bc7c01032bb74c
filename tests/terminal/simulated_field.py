"""A plant and a technician that are simulated: a hidden fault, and who types what a session asks.

For scripts that walk a whole hunt; what the meter shows comes from the circuit, with all errors.
"""

import re

import numpy as np

from diagnose.casework.hunt import RECORDS
from diagnose.errors import DiagnoseError
from diagnose.inference.complaints import complaints
from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_measurement, value_text
from diagnose.inference.world import World
from diagnose.loops.plant import open_plant

MOST = 14
"""Readings after which the technician gives up measuring."""

_BACK = re.compile(r"Put back first: (.*?)(?:;|\. Then type done)")
_CONFIRM = re.compile(r"Then: (confirm.*?)\.(?:\s|$)")


class Field:
    """A loop with a fault; once it is repaired it is sound."""

    def __init__(self, tag: str, part: str, fault: str, process: float, size: float = 0.5) -> None:
        self.loop = open_plant().load(tag)
        self.engine = Engine(self.loop)
        self._process, self._size = process, size
        self._world = self._with((part, fault))

    def _with(self, key: tuple[str | None, str]) -> World:
        engine, rng = self.engine, np.random.default_rng(214)
        hypothesis = engine.hypothesis(key)
        return World(
            engine.observer, engine.atlas.ground, hypothesis, self._size, self._process, rng,
            mistakes=False,
        )  # fmt: skip

    def repair(self) -> None:
        """The fault is put right."""
        self._world = self._with((None, "none"))

    def shows(self, text: str) -> str:
        """What is seen for a measurement line, as it would be typed."""
        return value_text(self._world.read(parse_measurement(text, self.loop)), self.loop)


class Technician:
    """Types what a session asks for, by its prompt and what stands on the screen."""

    def __init__(self, field: Field, complaint: str) -> None:
        self.field, self.complaint = field, complaint
        roles = sorted(field.loop.role & set(RECORDS))
        agreed = dict.fromkeys(RECORDS[role] for role in roles)
        self.left = [f"{record} shift lead, until 06:00" for record in agreed]
        self.readings, self.confirm, self.ending = 0, "", list[str]()

    def line(self, prompt: str, screen: str) -> str:
        """The next line; ``quit`` where nothing more is to be done."""
        text = " ".join(screen.split())
        found = _CONFIRM.search(text)
        self.confirm = found[1] if found else self.confirm
        name = prompt.strip().removesuffix(">").removesuffix("=").strip()
        if name in ("ok?", "as found", "as left", "evidence"):
            return {"ok?": "ok", "evidence": "seen, and read after it"}.get(name, "seen and noted")
        if prompt.rstrip().endswith("="):
            back = _BACK.search(text)
            return f"done {back[1]}" if back else self._read(name)
        return self._answer(name)

    def _read(self, name: str) -> str:
        self.readings += 1
        return self.field.shows(name) if self.readings <= MOST else "remedy 1"

    def _answer(self, name: str) -> str:
        """The answer to a question, or the next command where measuring is over."""
        if name == self.field.loop.tag:
            return self._command()
        if name == "complaint":
            return str(1 + complaints(self.field.loop).index(self.complaint))
        try:
            return self.field.shows(name)
        except DiagnoseError:  # context, true value, a neighbour: nothing is known
            return ""

    def _command(self) -> str:
        """What ends a hunt, in turn."""
        if self.left:
            return self.left.pop(0)
        steps = ["remedy", "remedy 1", "proof", "", "done all", "close 1"]
        done = len(self.ending)
        if done >= len(steps):
            return "quit"
        step = steps[done] or self.confirm or "quit"
        self.ending.append(step)
        if step == "remedy 1":
            self.field.repair()
        return step
