"""``priors``: rates of faults and shares of calls learned from cases, beside the assumed ones."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import datetime

from diagnose.loops.names import shown
from diagnose.loops.plant import Plant
from diagnose.review.exposure import of_cases
from diagnose.review.priors import Prior, Priors, priors
from diagnose.review.priors_file import priors_text, write_priors
from diagnose.review.review import counted, doubts
from diagnose.review.shares import STRENGTH, ShareLine
from diagnose.review.tables import Settings
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.find_cases import filters_of, records_of, settings_of
from diagnose.terminal.outcome import SCHEMA, Look, Outcome
from diagnose.terminal.table import grid, grids
from diagnose.terminal.wording import count, paragraph, percent

MOVED = 0.05
"""A rate that moved by less than this share is not listed."""


def learn(arguments: Namespace) -> Outcome:
    """Rates learned from the cases of some plants; with ``--write``, kept in their folders."""
    filters, settings = filters_of(arguments), settings_of(arguments)
    if filters.by_ending:
        raise UsageError(
            f"{_option(filters.by_ending[0])} chooses cases by what was found: rates learned from "
            "them would be wrong; choose by day, tag or type"
        )
    records, people, plants = records_of(arguments)
    if arguments.write and not plants:
        raise UsageError("--write needs plant folders: name them, or add --plant FOLDER")
    if arguments.write and any(plant.is_demo for plant in plants):
        raise UsageError("--write: the demo plant is read-only; copy its folder first")
    people = people or of_cases(records, filters)
    days = counted(records, people, filters, settings)
    notes = doubts(records, people, days, filters)
    found, cases = priors(records, settings.confidence), records.count(filters)
    left = _left_out(found)
    if arguments.write and not found.failures and not found.calls(""):
        raise UsageError(
            "--write: no cause was confirmed and no call ended with no fault found: there is "
            "nothing to keep, and nothing was written"
        )
    today = datetime.now().astimezone().date()
    note = "; ".join([*filters.chosen, *notes, *left])
    written = [
        write_priors(plant.folder, priors_text(found, plant.name, days, cases, today, note))
        for plant in (plants if arguments.write else ())
    ]
    data = {
        "schema": SCHEMA,
        "failures": found.failures,
        "strength": dict(found.strength),
        "priors": [asdict(line) for line in found.lines],
        "shares": [asdict(line) for line in found.shares],
        "notes": notes,
        "left_out": left,
        "written": [str(path) for path, *_ in written],
        "kept": [str(kept) for _, *more in written for kept in more],
    }

    def lines(look: Look) -> Iterator[str]:
        yield from _lines(found, plants, settings, look)
        for note in (*notes, *left):
            yield from paragraph(note, look, "note  ")
        for path, *more in written:
            yield f"Written: {path}"
            yield from (f"Kept: {kept}, what stood there before" for kept in more)

    return Outcome(data, lines)


def _left_out(found: Priors) -> tuple[str, ...]:
    """Notes on failures that move no rate, and on calls that tell of no share."""
    notes = []
    if found.unplaced:
        named = ", ".join(shown(name).replace("_", " ") for name, _ in found.unplaced[:NAMED])
        more = " ..." if len(found.unplaced) > NAMED else ""
        many = sum(n for _, n in found.unplaced)
        move = "moves" if many == 1 else "move"
        notes.append(
            f"{count(many, 'failure')} {move} no rate, as no part of a sheet fails so: "
            f"{named}{more}"
        )
    if found.unresolved:
        known = found.calls("")
        notes.append(
            f"of {count(known + found.unresolved, 'call')}, {found.unresolved} ended with neither "
            "a cause that was confirmed nor no fault found and tell of no share: if most of them "
            "were faults, the share that ends sound is put too high"
        )
    return tuple(notes)


NAMED = 5
"""Causes without a rate that are named."""


def _option(name: str) -> str:
    return f"--{name if name == 'status' else name.removesuffix('s')}"


def _lines(found: Priors, plants: Sequence[Plant], settings: Settings, look: Look) -> Iterator[str]:
    names = [plant.name for plant in plants] if len(plants) > 1 else [""]
    if not found.lines:
        yield "There is no rate to learn: no case, or no sheet, tells of a day in service."
        return
    yield look.strong(f"Rates of faults after {count(found.failures, 'confirmed failure')}")
    for plant in names:
        lines = _moved(found.of(plant))
        if plant:
            yield from ("", plant)
        if lines:
            yield from grids(HEAD, [_row(line) for line in lines], look, frozenset(range(1, 7)))
        left = len(found.of(plant)) - len(lines)
        yield f"{count(left, 'rate')} moved by less than {100 * MOVED:.0f} %."
    yield from paragraph(
        "A rate is a weight among the faults of a loop; before is assumed, after is learned; due "
        "is how many of these failures it would have if the assumed rates were right; years are "
        f"those of all such parts; intervals are of {settings.sure}.  "
        "The assumed rates weigh as much as "
        + " and ".join(f"{value:.0f} failures ({name})" for name, value in found.strength.items())
        + " in each of them, and one failure more than due counts as none: it may be the odd one.",
        look,
    )
    for plant in names:
        yield from _shares(found.shares_of(plant), plant, look)


def _shares(lines: Sequence[ShareLine], plant: str, look: Look) -> Iterator[str]:
    """How calls end: all together, then the loop types where a share moved."""
    shown = [line for line in lines if not line.loop_type or abs(line.factor - 1) >= MOVED]
    if not shown:
        return
    yield ""
    where = f", {plant}" if plant else ""
    yield look.strong(f"How {count(shown[0].calls, 'call')} ended, {TOLD}{where}")
    rows = [
        (line.loop_type or "all", line.ending.replace("_", " "), percent(line.assumed),
         percent(line.share), f"{100 * line.low:.0f}-{100 * line.high:.0f} %", str(line.ended),
         f"{line.expected:.1f}", str(line.calls))
        for line in shown
    ]  # fmt: skip
    yield from grid(SHARES_HEAD, rows, look, frozenset(range(2, 8)))
    yield from paragraph(
        f"Each assumed share weighs as much as {STRENGTH:.0f} calls that ended so; one odd call "
        "moves none far.  A share of a loop type starts from that of all calls.",
        look,
    )


TOLD = "by a confirmed cause or with no fault found"
SHARES_HEAD = (
    "loop type", "ending", "before", "after", "interval", "ended", "due", "calls",
)  # fmt: skip
HEAD = ("fault", "before", "after", "interval", "found", "due", "years")


def _moved(lines: Sequence[Prior]) -> list[Prior]:
    """The rates that moved, the furthest first."""
    far = [line for line in lines if abs(line.rate / line.assumed - 1) >= MOVED]
    return sorted(far, key=lambda line: -abs(line.rate / line.assumed - 1))


def _row(line: Prior) -> tuple[str, ...]:
    return (
        f"{line.kind.replace('_', ' ')}: {line.mode}",
        f"{line.assumed:.2f}",
        f"{line.rate:.2f}",
        f"{line.low:.2f}-{line.high:.2f}",
        str(line.confirmed),
        f"{line.expected:.1f}",
        f"{line.years:.0f}",
    )
