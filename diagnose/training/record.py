"""A drill on disk: its setting, its loop, and the lines that were typed.

All else follows from these, so that a drill can be gone on with, scored again, and told from its
file alone.  JSON Lines, flushed line by line; a torn last line is left out.

The setting names what is hidden, so it is packed: whoever opens the file does not read the answer.
That is no encryption, and keeps nothing from one who unpacks it.

Each line has a digest of itself and all before it, so that one which was changed, put in or taken
out by hand is seen.  Lines that were cut off at the end are not, and who computes the digests anew
is not stopped.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from hashlib import sha256
from pathlib import Path
from typing import Any
from unicodedata import normalize

from diagnose.casework.disk import Appender, line_of, new_file
from diagnose.casework.meter_record import meter_from_record, meter_to_record
from diagnose.errors import DiagnoseError
from diagnose.inference.engine import Engine
from diagnose.inference.meters import GENERIC, Meter
from diagnose.library import package_version
from diagnose.loops.loop import Loop
from diagnose.loops.names import TAG, name_fault
from diagnose.loops.record import loop_from_record, loop_to_record
from diagnose.training.commands import do
from diagnose.training.drill import Drill
from diagnose.training.handout import packed, unpacked
from diagnose.training.setting import DrillError, Setting
from diagnose.training.steps import Step

SUFFIX = ".drill.jsonl"
SCHEMA = 3
READ = (1, 2, SCHEMA)
"""Schemas of files that are read: in the first the setting stood in plain words, lines of the
first two have no digest."""

ABOUT = "the setting is packed so that it is not read by accident; it is not encrypted"

_HEAD = '{"line": "'
"""How each line behind the first begins."""

LONGEST_NAME = 60


class _DamagedError(DrillError):
    """A line in the middle that is no record."""


@dataclass(frozen=True)
class Kept:
    """What a file of a drill holds.

    ``changed`` is the number of the first record that is not as it was written, 0 where there is
    none or where lines have no digest; ``seal`` is the digest that the next line goes on from.
    """

    path: Path
    trainee: str
    setting: Setting
    loop: Loop
    meter: Meter | None
    lines: tuple[str, ...]
    rates: tuple[tuple[str, str, float], ...] = ()
    changed: int = 0
    seal: str = ""

    def engine(self) -> Engine:
        """The engine that the drill was set with."""
        rates = {(part, mode): rate for part, mode, rate in self.rates}
        return Engine(self.loop, self.meter or GENERIC, rates or None)


class Recorder:
    """Carries out lines and keeps those that could be carried out."""

    def __init__(self, drill: Drill, path: Path, seal: str = "") -> None:
        self.drill, self.path, self._seal = drill, path, seal
        self._appender = Appender(path, "drill")

    @classmethod
    def create(cls, folder: Path, drill: Drill, trainee: str, meter: Meter | None) -> Recorder:
        """A new file of a drill in a folder."""
        trainee = checked(trainee)
        head = {
            "schema": SCHEMA,
            "event": "drill",
            "tool": package_version(),
            "trainee": trainee,
            "about": ABOUT,
            "setting": packed(asdict(drill.setting)),
            "sheet": loop_to_record(drill.loop),
            "meter": meter_to_record(meter) if meter else {},
            "rates": [[*key, rate] for key, rate in (drill.engine.rates or {}).items()],
        }
        stem = drill.loop.tag if not name_fault(TAG, drill.loop.tag) else "drill"
        first = line_of(head)
        path = new_file(folder, stem, SUFFIX, first, what="drill")
        return cls(drill, path, _first_seal(json.loads(first)))

    def do(self, line: str) -> Step:
        """Carry out a line, and keep it."""
        step = do(self.drill, line)
        row = {"line": " ".join(line.split())}
        if self._seal:
            row["seal"] = self._seal = _sealed(self._seal, row["line"])
        self._appender.append(line_of(row))
        return step

    def close(self) -> None:
        """Let the file go."""
        self._appender.close()


def checked(trainee: str) -> str:
    """A trainee's name, or number; DrillError where it is too long or no text.

    Spaces around it and how a keyboard composes an accent make no other trainee of it.
    """
    if len(trainee) > LONGEST_NAME or not trainee.isprintable():
        raise DrillError(f"a trainee's name has at most {LONGEST_NAME} printable characters")
    return normalize("NFC", " ".join(trainee.split()))


def read(path: Path) -> Kept:
    """What a file of a drill holds; DrillError where it is none."""
    try:
        rows = list(_rows(path))
        head = rows[0]
        if head.get("event") != "drill" or head.get("schema") not in READ:
            raise ValueError
        told = head["setting"]
        setting = _setting(unpacked(told) if isinstance(told, str) else {**told})
        meter = meter_from_record(head["meter"]) if head.get("meter") else None
        lines = tuple(str(row["line"]) for row in rows[1:])
        loop = loop_from_record(head["sheet"])
        trainee = checked(str(head.get("trainee", "")))
        rates = tuple((str(p), str(m), float(rate)) for p, m, rate in head.get("rates", ()))
        sealed = _looked_at(rows) if head["schema"] >= SCHEMA else (0, "")
        return Kept(path, trainee, setting, loop, meter, lines, rates, *sealed)
    except OSError as error:
        raise DrillError(f"{path}: {error.strerror or error}") from error
    except _DamagedError:
        raise
    except (ValueError, KeyError, TypeError, IndexError, RecursionError, DiagnoseError) as error:
        raise DrillError(f"{path}: this is no file of a drill") from error


def _looked_at(rows: Sequence[Mapping[str, Any]]) -> tuple[int, str]:
    """The first record whose digest is not that of what stands there (0: none), and the last."""
    changed, seal = 0, _first_seal(rows[0])
    for number, row in enumerate(rows[1:], 2):
        due = _sealed(seal, str(row["line"]))
        if row.get("seal") != due:
            changed = changed or number
        seal = due
    return changed, seal


def _first_seal(head: Mapping[str, Any]) -> str:
    return _sealed("", json.dumps(head, sort_keys=True))


def _sealed(before: str, text: str) -> str:
    return sha256(f"{before}\n{text}".encode()).hexdigest()[:16]


def _rows(path: Path) -> Iterator[Mapping[str, Any]]:
    lines = path.read_text(encoding="utf-8").splitlines()
    for number, line in enumerate(lines, 1):
        try:
            row = json.loads(line)
        except ValueError as error:
            if number == 1:
                raise
            if number == len(lines) or _torn(line):
                continue  # never acknowledged; a drill that is gone on with has lines after it
            raise _DamagedError(f"{path}: line {number} is damaged; take it from a copy") from error
        if not isinstance(row, dict):
            raise ValueError(line)
        yield row


def _torn(line: str) -> bool:
    """Whether a line was cut off while it was written: it begins as each does, and has no end."""
    begins = line.startswith(_HEAD) or _HEAD.startswith(line)
    return begins and not line.endswith("}")


def _setting(data: Mapping[str, Any]) -> Setting:
    known = {item.name for item in fields(Setting)}
    values: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in data.items()}
    if set(values) - known:
        raise ValueError("unknown key")
    return Setting(**values)


def played(kept: Kept, engine: Engine | None = None) -> Drill:
    """The drill of a file as it stands: all its lines carried out again."""
    drill = Drill(kept.setting, engine or kept.engine(), kept.meter)
    for number, line in enumerate(kept.lines, 2):
        try:
            do(drill, line)
        except DiagnoseError as error:
            why = "not as the drill wrote it" if kept.changed else str(error)
            raise DrillError(f"{kept.path}: line {kept.changed or number}: {why}") from error
    return drill


def closed(folder: Path, trainee: str, lesson: str) -> bool:
    """Whether a trainee has closed a lesson; files that are no drill do not count."""
    for path in records([folder]):
        try:
            kept = read(path)
        except DrillError:
            continue
        if (kept.trainee, kept.setting.name) == (trainee, lesson) and kept.lines[-1:] == ("close",):
            return True
    return False


def records(folders: Sequence[Path]) -> list[Path]:
    """The files of drills in some folders, by name."""
    return sorted(path for folder in folders for path in folder.glob(f"*{SUFFIX}"))
