"""``evaluate``: simulated faults at scale, and how right, how soon and how sure they were found."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from math import isnan
from pathlib import Path

from diagnose.loops.loop import Loop
from diagnose.loops.names import shown
from diagnose.loops.site_rates import FILE, site_rates
from diagnose.terminal.arguments import UsageError, whole
from diagnose.terminal.find_loop import find_loop, plant_of
from diagnose.terminal.outcome import SCHEMA, Look, Outcome
from diagnose.terminal.progress import progress
from diagnose.terminal.table import grid
from diagnose.training.hunts import Hunt
from diagnose.training.policies import POLICIES
from diagnose.training.tally import Tally, by, tally
from diagnose.training.trials import SPACING, executor, jobs, run
from diagnose.training.troubles import TROUBLES

MOST_EVER = 200
"""More readings than any sheet offers are not worth asking for."""

HARD = 8
"""Fault modes that are listed as the hardest."""


def evaluate(arguments: Namespace) -> Outcome:
    """Simulated hunts on some loops by some policies."""
    loops, policies = _loops(arguments), _policies(arguments.policy)
    count = whole("--hunts", arguments.hunts, 1, SPACING)
    workers = whole("--workers", arguments.workers or str(os.cpu_count() or 1), 1, 256)
    seed, trouble = whole("--seed", arguments.seed, 0, 10**6), _trouble(arguments.trouble)
    site = site_rates(plant_of(arguments).folder)
    if arguments.compare_priors and not site:
        raise UsageError(f"--compare-priors: the plant has no {FILE}; see diagnose priors --write")
    if arguments.compare_priors and trouble != "none":
        raise UsageError("--compare-priors goes without --trouble")
    most = whole("--readings", arguments.readings, 1, MOST_EVER)
    wanted = jobs(loops, policies, count, seed, trouble, site, arguments.compare_priors, most)
    names = list(dict.fromkeys(job.name for job in wanted))
    kept = _kept(arguments.keep) if arguments.keep else None
    with executor(workers, arguments.scheduler or "") as pool:
        hunts = list(progress(run(wanted, pool, kept), len(wanted), "hunts"))
    hunts.sort(key=lambda h: (names.index(h.policy), h.tag, h.seed))
    return Outcome(_json(hunts, names), lambda look: _lines(hunts, names, look))


def _kept(name: str) -> Path:
    """The file of finished hunts; UsageError where none can be written, before any is hunted."""
    path = Path(name)
    if path.exists() and not path.is_file():  # a device would be read without end
        raise UsageError(f"--keep: '{shown(name)}' is no file")
    try:
        with path.open("ab"):
            return path
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise UsageError(f"--keep: '{shown(name)}' cannot be written: {reason}") from error


def _loops(arguments: Namespace) -> list[Loop]:
    """The loops that are named, else all of the plant."""
    plant = plant_of(arguments)
    found = [find_loop(word, plant) for word in arguments.loops or plant.tags()]
    if not found:
        raise UsageError("the plant has no loops to evaluate")
    return found


def _policies(names: Sequence[str]) -> list[str]:
    for name in names:
        if name not in POLICIES:
            raise UsageError(f"--policy: '{name[:40]}' is none of {', '.join(POLICIES)}")
    return list(dict.fromkeys(names)) or ["advice"]


def _trouble(name: str) -> str:
    if name not in TROUBLES:
        raise UsageError(f"--trouble: '{name[:40]}' is none of {', '.join(TROUBLES)}")
    return name


def _json(hunts: Sequence[Hunt], policies: Sequence[str]) -> dict[str, object]:
    return {
        "schema": SCHEMA,
        "policies": {
            policy: {
                "all": _figures(some),
                "loops": {tag: _figures(few) for tag, few in by(some, lambda h: h.tag).items()},
                "types": {name: _figures(few) for name, few in by(some, lambda h: h.type).items()},
                "faults": {name: _figures(few) for name, few in by(some, _fault).items()},
            }
            for policy in policies
            for some in [[h for h in hunts if h.policy == policy]]
        },
        "hunts": [asdict(h) for h in hunts],
    }


def _figures(hunts: Sequence[Hunt]) -> dict[str, object]:
    """A tally as JSON holds it: what is not a number is null."""
    return {key: _plain(value) for key, value in asdict(tally(hunts)).items()}


def _plain(value: object) -> object:
    if isinstance(value, dict):
        return {key: [_plain(end) for end in ends] for key, ends in value.items()}
    return None if isinstance(value, float) and isnan(value) else value


def _fault(each: Hunt) -> str:
    return f"{each.type}: {each.fault}"


HEAD = (
    "loop", "hunts", "first", "top 3", "95 %", "right", "readings", "minutes", "breaks", "Brier",
    "ECE",
)  # fmt: skip


def _lines(hunts: Sequence[Hunt], policies: Sequence[str], look: Look) -> Iterator[str]:
    for policy in policies:
        some = [h for h in hunts if h.policy == policy]
        title = TROUBLES[some[0].trouble].title if some else ""
        yield from (f"Policy: {policy}.  Hunts: {title}.", "")
        sheets = by(some, lambda h: h.tag)
        rows = [_row(tag, tally(few)) for tag, few in sheets.items()]
        if len(sheets) > 1:
            rows.append(_row("all", tally(some)))
        yield from grid(HEAD, rows, look, frozenset(range(1, len(HEAD))))
        yield ""
        yield from grid(("figure", "value", "95 % interval"), _summary(tally(some)), look,
                        frozenset({1, 2}))  # fmt: skip
        yield from ("", *_hardest(some, look), *_reliability(tally(some), look), "")
    yield "first, top 3: share with the true group first, among the first three.  95 %: share that"
    yield "ended sure; right: of these, share that was right.  breaks: interruptions of the loop."
    yield "Brier: mean quadratic score, 0 is perfect.  ECE: mean distance of what was said from"
    yield "what came true.  Beyond 3 tolerances: one fault without a size, or that moves a value"
    yield "by more than three times its limit of error.  Two faults: both in the first three before"
    yield "any repair; or each by its repair, the second after the proof of the first has failed."


FIGURES = (
    ("true group first", "first", 3), ("a fault that there is first", "touched", 3),
    ("among the first three", "first_three", 3),
    ("the same, beyond 3 tolerances", "plain", 3), ("sound loop called faulty", "accused", 3),
    ("ended sure", "sure", 3), ("right when sure", "right_when_sure", 3),
    ("sure of a part that is not wrong", "misled", 3), ("and not warned", "unwarned", 3),
    ("readings or sheet doubted", "warned", 3),
    ("none of the modelled leads", "unmodelled", 3), ("readings", "readings", 1),
    ("minutes", "minutes", 1), ("interruptions", "interruptions", 2), ("Brier score", "brier", 3),
    ("90 % set holds the truth", "credible", 3), ("worthless reading named", "named", 3),
    ("calibration error, equal classes", "equal_mass", 3),
    ("both in first 3 before repairs", "before", 3),
    ("second fault can be seen", "shown", 3), ("each named by its repair", "both", 3),
    ("of those that can be seen", "both_shown", 3), ("readings, all", "all_readings", 1),
    ("minutes, repairs and proof too", "all_minutes", 1),
)  # fmt: skip


def _summary(t: Tally) -> list[tuple[str, str, str]]:
    """Each figure with its interval; what there is none of is left out."""
    found = []
    for title, name, digits in FIGURES:
        value, ends = getattr(t, name), t.intervals.get(name)
        if not isnan(value):
            known = ends is not None and not isnan(ends[0])
            between = f"{ends[0]:.{digits}f} to {ends[1]:.{digits}f}" if ends and known else "-"
            found.append((title, f"{value:.{digits}f}", between))
    return found


def _row(name: str, t: Tally) -> tuple[str, ...]:
    right = "-" if isnan(t.right_when_sure) else f"{t.right_when_sure:.3f}"
    return (
        name, str(t.hunts), f"{t.first:.3f}", f"{t.first_three:.3f}", f"{t.sure:.3f}", right,
        f"{t.readings:.1f}", f"{t.minutes:.1f}", f"{t.interruptions:.2f}", f"{t.brier:.3f}",
        f"{t.calibration:.3f}",
    )  # fmt: skip


def _hardest(hunts: Sequence[Hunt], look: Look) -> Iterator[str]:
    """Fault modes whose group did not lead in the end, the most missed first."""
    modes = {name: tally(some) for name, some in by(hunts, _fault).items()}
    missed = sorted(modes.items(), key=lambda pair: (-(1 - pair[1].first) * pair[1].hunts, pair[0]))
    rows = [(n, str(t.hunts), f"{t.first:.3f}", f"{t.first_three:.3f}") for n, t in missed]
    rows = [row for row, (_, t) in zip(rows, missed, strict=True) if t.first < 1][:HARD]
    if rows:
        yield from grid(
            ("missed most", "hunts", "first", "top 3"), rows, look, frozenset({1, 2, 3})
        )
        yield ""


def _reliability(t: Tally, look: Look) -> Iterator[str]:
    rows = [
        (f"{c.low:.1f} to {c.high:.1f}", str(c.hunts), f"{c.said:.3f}", f"{c.right:.3f}")
        for c in t.classes
    ]
    yield from grid(("said in the end", "hunts", "said", "came true"), rows, look,
                    frozenset({1, 2, 3}))  # fmt: skip
