"""How calls end as the cases leave it, beside what was assumed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.review.page.grid import Cell, Tracer, figure, percent, shares, spoken, table
from diagnose.review.page.intervals import Range, intervals
from diagnose.review.page.markup import Markup, el, pct
from diagnose.review.shares import STRENGTH, ShareLine


def how_calls_end(lines: Sequence[ShareLine], tracer: Tracer) -> Iterator[object]:
    """The shares of all calls as a picture, then a table by plant and loop type."""
    yield el("p", "A call counts here if its cause was confirmed, or if it was closed with no "
                  f"fault found. Each assumed share weighs as much as {STRENGTH:.0f} calls that "
                  "ended so; one odd call moves none of them far. The engine uses these shares "
                  "only where a plant keeps them as priors.toml.")  # fmt: skip
    yield el("div", _picture([line for line in lines if not line.plant]), class_="figures")
    yield _table(lines, tracer)


def _picture(lines: Sequence[ShareLine]) -> Markup:
    top = max(lines, key=lambda line: abs(line.share - line.assumed))
    way = "more" if top.share > top.assumed else "fewer"
    answer = (f"Furthest: {_name(top)}, {way} than assumed ({pct(top.share)} for "
              f"{pct(top.assumed)}), after {top.ended} of {top.calls} calls. "
              "The rings are the assumed shares.")  # fmt: skip
    return intervals(
        "How do calls end, and what was assumed?",
        answer,
        "share of calls",
        [Range(_name(line), line.share, line.low, line.high, f"{line.ended} of {line.calls}",
               line.assumed) for line in lines],
    )  # fmt: skip


def _name(line: ShareLine) -> str:
    return {"sound": "no fault found"}.get(line.ending, spoken(line.ending))


def _table(lines: Sequence[ShareLine], tracer: Tracer) -> Markup:
    several = len({line.plant for line in lines}) > 2
    lines = [line for line in lines if several or line.plant]
    heads = ("plant", "loop type", "ending", "assumed", "learned", "bounds", "ended so",
             "expected", "calls")  # fmt: skip
    return table("Shares of calls, assumed and learned", heads, [
        (Cell(line.plant or "all"), Cell(line.loop_type or "all"), Cell(_name(line)),
         percent(line.assumed), percent(line.share), shares(line.low, line.high),
         tracer.count(line.ended, line.cases),
         figure(line.expected, 1), figure(line.calls, 0))
        for line in lines
    ])  # fmt: skip
