"""Section: what failed, and how the calls ended."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.review.page.bars import Bar, bars, columns
from diagnose.review.page.grid import Cell, Tracer, figure, folded, percent, spoken, table
from diagnose.review.page.markup import Markup, counted, el, pct
from diagnose.review.pareto import untold
from diagnose.review.rows import CaseRow
from diagnose.review.tables import ParetoLine, Review

TITLE = "What failed"

FIRST = {"cause": "Causes: kind of part and fault", "loop": "Loops"}
FURTHER = {
    "part": "Parts",
    "type": "Loop types",
    "place": "Places",
    "mode": "What operations saw",
}
"""Key of a Pareto -> caption of its table."""

TOLD = (
    "Only confirmed causes count in shares and rates. Suspected ones (open, or handed over without "
    "a proof), “no fault found” and “cause not found” are kept apart and counted."
)


def what_failed(review: Review, rows: Sequence[CaseRow], tracer: Tracer) -> Iterator[object]:
    """Pictures first, then a table for each way to sort the cases."""
    yield el("p", TOLD)
    yield el("div", *_pictures(review, rows), class_="figures")
    for key, caption in FIRST.items():
        yield pareto_table(_caption(caption, review, key), review.paretos.get(key, ()), tracer)
    for key, caption in FURTHER.items():
        if some := review.paretos.get(key, ()):
            title = f"{caption}: {counted(len(some), 'line')}"
            yield folded(title, pareto_table(_caption(caption, review, key), some, tracer))


def _caption(caption: str, review: Review, key: str) -> str:
    """The caption of a table, with how many confirmed cases it cannot hold."""
    left = untold(review, key) if key in review.paretos else 0
    return f"{caption} ({counted(left, 'confirmed case')} in no line)" if left else caption


def _pictures(review: Review, rows: Sequence[CaseRow]) -> Iterator[Markup]:
    loops = sorted(review.paretos.get("loop", ()), key=lambda item: (-whole(item), item.name))
    if loops:
        yield bars("Which loops call most, and how do their calls end?", _most(loops),
                   [Bar(item.name, pieces(item)) for item in loops], legend=True)  # fmt: skip
    causes = [item for item in review.paretos.get("cause", ()) if item.confirmed]
    if causes:
        yield bars("Which causes were confirmed most often?", _half(causes),
                   [Bar(spoken(item.name), (("confirmed", item.confirmed),),
                        f"{item.confirmed}, {pct(item.running)}")
                    for item in causes])  # fmt: skip
    quarters = _quarters(rows)
    if len(quarters) > 1:
        yield columns("Do calls come more often than they did?", _course(quarters), quarters,
                      legend=True)  # fmt: skip


def whole(item: ParetoLine) -> int:
    """All cases of a line."""
    return item.confirmed + item.suspected + item.no_fault_found + item.not_found


def pieces(item: ParetoLine) -> tuple[tuple[str, float], ...]:
    """The pieces of a bar: one for each way to end."""
    return (
        ("confirmed", item.confirmed),
        ("suspected", item.suspected),
        ("sound", item.no_fault_found),
        ("unfound", item.not_found),
    )


def _most(loops: Sequence[ParetoLine]) -> str:
    calls = sum(map(whole, loops))
    top = loops[: max(1, len(loops) // 5)]
    share = sum(map(whole, top)) / max(calls, 1)
    names = ", ".join(item.name for item in top[:5])
    do = "makes" if len(top) == 1 else "make"
    few = f"{len(top)} of {counted(len(loops), 'loop')}"
    return f"{names}: {few} {do} {pct(share)} of {counted(calls, 'call')}."


def _half(causes: Sequence[ParetoLine]) -> str:
    total = sum(item.confirmed for item in causes)
    few = next((n for n, item in enumerate(causes, 1) if item.running >= 0.5), len(causes))
    return (f"{few} of {len(causes)} causes make half of {total:,} confirmed ones. Beside each: "
            "how many, and the share of all down to here.")  # fmt: skip


def stands(row: CaseRow) -> str:
    """How a case stands, as the class of a piece of a bar: what ``pareto.STANDS`` says in SQL."""
    if row.status != "unreadable" and (row.fault is not None or row.status == "cause confirmed"):
        return "confirmed"
    return {"no fault found": "sound", "cause not found": "unfound", "unreadable": "unread"}.get(
        row.status, "suspected"
    )


def _quarters(rows: Sequence[CaseRow]) -> list[Bar]:
    counts: dict[tuple[int, int], dict[str, int]] = {}
    for row in rows:
        if row.day is not None:
            quarter = counts.setdefault((row.day.year, (row.day.month - 1) // 3 + 1), {})
            quarter[stands(row)] = quarter.get(stands(row), 0) + 1
    if not counts:
        return []
    (year, number), last = min(counts), max(counts)
    found = []
    while (year, number) <= last:
        some = counts.get((year, number), {})
        found.append(Bar(f"{number}/{year % 100:02d}", tuple(
            (key, some.get(key, 0)) for key in ("confirmed", "suspected", "sound", "unfound")
        )))  # fmt: skip
        year, number = (year + 1, 1) if number == 4 else (year, number + 1)
    return found


def _course(quarters: Sequence[Bar]) -> str:
    half = len(quarters) // 2
    early = sum(bar.whole for bar in quarters[:half]) / max(half, 1)
    late = sum(bar.whole for bar in quarters[half:]) / max(len(quarters) - half, 1)
    return (f"Calls in each quarter (1/24 is January to March 2024): {early:.1f} a quarter in the "
            f"first half, {late:.1f} in the second. Whether it is more than chance, for those "
            "with a confirmed cause: see the trend tests below.")  # fmt: skip


def pareto_table(caption: str, lines: Sequence[ParetoLine], tracer: Tracer) -> Markup:
    """One way to sort the cases, as a table."""
    heads = ("name", "cases", "confirmed", "suspected", "no fault found", "cause not found",
             "share of confirmed", "running share")  # fmt: skip
    return table(caption, heads, [
        (Cell(spoken(item.name)), tracer.count(whole(item), item.cases), figure(item.confirmed, 0),
         figure(item.suspected, 0), figure(item.no_fault_found, 0), figure(item.not_found, 0),
         percent(item.share), percent(item.running))
        for item in lines
    ])  # fmt: skip
