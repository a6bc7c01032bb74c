"""Learned rates and shares as ``priors.toml``, with where they come from."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from diagnose.library import package_version, write_whole
from diagnose.loops.names import shown
from diagnose.loops.site_rates import FILE
from diagnose.review.priors import Prior, Priors
from diagnose.review.refused import ReviewError
from diagnose.review.rows import Window
from diagnose.review.shares import STRENGTH, ShareLine

BEFORE = "priors.before.toml"
"""What the file was before it was last written: put it in its place to go back one step."""


def priors_text(
    found: Priors, plant: str, days: Window, cases: int, written: date, note: str = ""
) -> str:
    """The file of one plant: what it rests on, how calls end, and each fault with part years.

    ``note`` says of which cases it was learned, if not of all, and what makes it doubtful.
    """
    lines = found.of(plant)
    strength = ", ".join(f"{group} {value:.0f}" for group, value in found.strength.items())
    head = (
        "# Rates of faults, and how calls end, learned from the cases of this plant; `diagnose\n"
        "# priors` shows them beside the assumed ones.  Delete the file to go back to those; what\n"
        f"# it was before it was last written is kept as {BEFORE}.\n\n"
        "[priors]\n"
        f"written = {written.isoformat()}\n"
        f'tool = "{package_version()}"\n'
        f"plants = [{_text(plant)}]\n"
        f"first = {days.first.isoformat()}\n"
        f"last = {days.last.isoformat()}\n"
        f"cases = {cases}\n"
        f"failures = {sum(line.confirmed for line in lines)}\n"
        f"calls = {found.calls(plant)}\n"
        f'strength = "{strength} failures; shares {STRENGTH:.0f} calls"\n'
        + (f"note = {_text(note)}\n" if note else "")
    )
    return head + "".join([*map(_share, found.shares_of(plant)), *map(_entry, lines)])


def _share(line: ShareLine) -> str:
    return (
        "\n[[share]]\n"
        f"type = {_text(line.loop_type)}\n"
        f"ending = {_text(line.ending)}\n"
        f"factor = {line.factor:.6g}\n"
        f"assumed = {line.assumed:.6g}\n"
        f"share = {line.share:.6g}\n"
        f"low = {line.low:.6g}\n"
        f"high = {line.high:.6g}\n"
        f"ended = {line.ended}\n"
        f"expected = {line.expected:.6g}\n"
        f"calls = {line.calls}\n"
    )


def _entry(line: Prior) -> str:
    return (
        "\n[[rate]]\n"
        f"kind = {_text(line.kind)}\n"
        f"mode = {_text(line.mode)}\n"
        f"rate = {line.rate:.6g}\n"
        f"assumed = {line.assumed:.6g}\n"
        f"low = {line.low:.6g}\n"
        f"high = {line.high:.6g}\n"
        f"confirmed = {line.confirmed}\n"
        f"expected = {line.expected:.6g}\n"
        f"years = {line.years:.6g}\n"
    )


def _text(value: str) -> str:
    """A basic string of TOML."""
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    plain = "".join(sign if sign.isprintable() else f"\\u{ord(sign):04x}" for sign in escaped)
    return f'"{plain}"'


def write_priors(folder: Path, text: str) -> tuple[Path, ...]:
    """Put the file into a plant folder, whole or not at all, and keep what stood there.

    The file, and where the one before it is kept if there was another; ReviewError if either
    cannot be written: then nothing has changed.
    """
    path, kept = folder / FILE, folder / BEFORE
    data = text.encode()
    try:
        old = path.read_bytes() if path.is_file() else data
        if old != data:
            write_whole(kept, old)
        write_whole(path, data)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise ReviewError(f"{shown(path, 200)} cannot be written: {reason}") from error
    return (path, kept) if old != data else (path,)
