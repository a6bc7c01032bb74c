"""Section: rates of faults, and how calls end, as the cases leave them, beside the assumed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import log

from diagnose.review.page.calls_end import how_calls_end
from diagnose.review.page.grid import Cell, Tracer, between, figure, spoken, table
from diagnose.review.page.intervals import Range, intervals
from diagnose.review.page.markup import Markup, el
from diagnose.review.priors import NOTHING, Prior, Priors
from diagnose.review.rows import CaseRow

TITLE = "Priors beside the assumed"

Confirmed = Mapping[tuple[str, str], Sequence[str]]
"""Names of cases by the confirmed kind and fault."""


def what_was_learned(priors: Priors, rows: Sequence[CaseRow], tracer: Tracer) -> Iterator[object]:
    """The rates that moved most, then all that have a count or moved; then how calls ended."""
    if priors == NOTHING:
        yield el(
            "p",
            "Nothing: these cases were chosen by what was found or complained of, so "
            "they do not tell how often faults are. Choose by day, tag or type.",
        )
        return
    strength = ", ".join(f"{value:.0f} failures ({group})"
                         for group, value in priors.strength.items())  # fmt: skip
    yield el("p", "Each rate is the assumed weight of a fault among the faults of a loop, times a "
                  "factor that the confirmed failures give it. The assumed rates weigh as much as "
                  f"{strength}; one odd case moves none of them far. The engine uses these rates "
                  "only where a plant keeps them as priors.toml.")  # fmt: skip
    lines = [line for line in priors.of("") if line.confirmed or _moved(line) > 0.05]
    lines.sort(key=lambda line: (-_moved(line), line.kind, line.mode))
    if lines:
        yield el("div", _picture(lines), class_="figures")
    yield _table(lines, _by_cause(rows), tracer)
    if priors.shares:
        yield from how_calls_end(priors.shares, tracer)


def _moved(line: Prior) -> float:
    """How far a rate has moved, either way, in its logarithm."""
    return abs(log(line.rate / line.assumed))


def _by_cause(rows: Sequence[CaseRow]) -> Confirmed:
    found: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        if row.part is not None and row.kind and row.fault:
            found.setdefault((row.kind, row.fault), []).append(row.name)
    return found


def _picture(lines: Sequence[Prior]) -> Markup:
    top = lines[0]
    way = "up" if top.rate > top.assumed else "down"
    answer = (f"Furthest: {_name(top)}, {way} to {top.rate / top.assumed:.2f} times the assumed "
              f"rate, after {top.confirmed} failures where {top.expected:.1f} were to be expected. "
              "The ring at 1 is the assumed rate.")  # fmt: skip
    return intervals(
        "How far have the cases moved the rates from what was assumed?",
        answer,
        "times the assumed rate",
        [Range(_name(line), line.rate / line.assumed, line.low / line.assumed,
               line.high / line.assumed, f"{line.confirmed} for {line.expected:.1f}", 1.0)
         for line in lines],
    )  # fmt: skip


def _name(line: Prior) -> str:
    return f"{spoken(line.kind)}: {line.mode}"


def _table(lines: Sequence[Prior], cases: Confirmed, tracer: Tracer) -> Markup:
    heads = ("kind and fault", "group", "assumed", "learned", "bounds", "times",
             "confirmed", "expected", "part years")  # fmt: skip
    return table("Rates of faults, assumed and learned", heads, [
        (Cell(_name(line)), Cell(line.group), figure(line.assumed, 3), figure(line.rate, 3),
         between(line.low, line.high, 3), figure(line.rate / line.assumed),
         tracer.count(line.confirmed, cases.get((line.kind, line.mode), ()), "failures"),
         figure(line.expected, 2), figure(line.years, 0))
        for line in lines
    ])  # fmt: skip
