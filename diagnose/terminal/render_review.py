"""A review as tables for a screen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.loops.names import shown
from diagnose.review.comparison import Comparison
from diagnose.review.figures import (
    digits_of,
    estimate_of,
    middle_of,
    number_of,
    percent_of,
    share_of,
    years_of,
)
from diagnose.review.in_short import in_short
from diagnose.review.pareto import untold
from diagnose.review.tables import FEW, TOO_FEW, TRENDLESS, Rate, Review
from diagnose.review.trends import FEWEST
from diagnose.review.which import of_which
from diagnose.terminal.outcome import Look
from diagnose.terminal.table import grid, grids
from diagnose.terminal.wording import count, paragraph

LONG = 12
"""Lines of one table; --json has them all."""


def lines(found: Review, by: str, look: Look, other: Comparison | None = None) -> Iterator[str]:
    """All tables that have a line, each under its question; ``other`` is told in the head."""
    yield from _head(found, look, other)
    if not found.endings.cases:  # why there is none comes before what is counted all the same
        yield from _notes(found, look)
    for section in (
        _pareto(found, by, look), _rates(found, "loop type", look),
        _rates(found, "part kind", look), _bad_actors(found, look),
        _clusters(found, look), _repeats(found, look), _work(found, look),
        _idle(found, look), _neglects(found, look), _records(found, look),
        _reliability(found, look),
    ):  # fmt: skip
        told = list(section)
        if told:
            yield ""
            yield from told
    if found.endings.cases:
        yield from _notes(found, look)


def _notes(found: Review, look: Look) -> Iterator[str]:
    if found.notes:
        yield ""
        for note in found.notes:
            yield from paragraph(note, look, "note  ")


def _head(found: Review, look: Look, other: Comparison | None) -> Iterator[str]:
    ends, days = found.endings, found.window
    if not ends.cases:
        text = "0 cases: there is no case file, or the filters leave none."
        text += " What follows counts years without a failure." if found.rates else ""
        yield from map(look.strong, paragraph(text, look))
        return
    period = f"{count(ends.cases, 'case')}, {days.first} to {days.last}"
    yield from paragraph(look.strong("; ".join((period, *found.filters.chosen))), look)
    yield from paragraph(
        f"{ends.confirmed} with a confirmed cause, {ends.suspected} suspected, "
        f"{ends.no_fault_found} no fault found, {ends.not_found} cause not found"
        + (f", {ends.unreadable} unreadable" if ends.unreadable else ""),
        look,
    )
    if ends.unread:
        pairs = zip(ends.unread[:LONG], ends.reasons[:LONG], strict=True)
        named = ", ".join(_unread(name, reason) for name, reason in pairs)
        more = f" and {left} more" if (left := ends.unreadable - LONG) > 0 else ""
        yield from paragraph(
            f"{named}{more} could not be read and count in nothing below; diagnose check says why",
            look, "unreadable  ",
        )  # fmt: skip
    for sentence in in_short(found, other):
        yield from paragraph(sentence, look, "- ")


def _unread(name: str, reason: str) -> str:
    return f"{shown(name)} ({reason})" if reason else shown(name)


def _titled(
    title: str, head: Sequence[str], rows: Sequence[Sequence[str]], look: Look, texts: int = 1
) -> Iterator[str]:
    """A table under its title; the first ``texts`` columns stand to the left, numbers right."""
    if not rows:
        return
    yield from paragraph(look.strong(title), look)
    kept = _told(rows[:LONG], len(head))
    yield from grids(
        [head[n] for n in kept],
        [[row[n].replace("_", " ") if n == 0 else row[n] for n in kept] for row in rows[:LONG]],
        look,
        frozenset(k for k, n in enumerate(kept) if n >= texts),
    )
    if len(rows) > LONG:
        yield look.faint(f"and {len(rows) - LONG} more; --json lists them")


def _told(rows: Sequence[Sequence[str]], many: int) -> list[int]:
    """Columns that tell something: the first, and those that are not nought in every row."""
    return [n for n in range(many) if n == 0 or any(row[n] not in ("0", "-", "") for row in rows)]


def _pareto(found: Review, by: str, look: Look) -> Iterator[str]:
    known = any(line.confirmed for line in found.paretos[by])
    rows = [
        (line.name, str(line.confirmed), percent_of(line.share) if known else "-",
         percent_of(line.running) if known else "-",
         str(line.suspected), str(line.no_fault_found), str(line.not_found))
        for line in found.paretos[by]
    ]  # fmt: skip
    head = (by, "confirmed", "share", "so far", "suspected", "no fault", "not found")
    yield from _titled(f"Which {by} holds most of the cases?", head, rows, look)
    if left := untold(found, by):
        said = f"{count(left, 'confirmed case')} without a known {by}: in no line and no share."
        yield from paragraph(said, look)


def _rates(found: Review, level: str, look: Look) -> Iterator[str]:
    """Rates of all loops and of the loop types, or of the part kinds that failed."""
    shown = [rate for rate in found.rates if rate.level == level]
    shown = [rate for rate in shown if rate.failures] or shown[:3]
    if level == "loop type":
        shown = [*(rate for rate in found.rates if rate.level == "all"), *shown]
    rows = [(*_rate(rate), _TREND.get(rate.trend.verdict, rate.trend.verdict)) for rate in shown]
    head = (level, "units", "failed", "years", "a year", "interval", "", "trend")
    sure = f"({found.settings.sure} intervals)"
    what = "it" if level == "loop type" else "each part"
    yield from _titled(f"How often does {what} fail? {sure}", head, rows, look)
    if level == "part kind" and rows:
        notable = f"{100 * (1 - found.settings.confidence):.10g} %"
        yield from paragraph(
            f"few: a rate of fewer than {FEW} failures. Trend: by Laplace's test or the power law, "
            f"at a chance below {notable} after Holm's correction for its table; too few: fewer "
            f"than {FEWEST} failures to test.",
            look,
        )


def _rate(rate: Rate) -> tuple[str, ...]:
    bounds = "-".join("" if v is None else digits_of(v, 2) for v in (rate.rate.low, rate.rate.high))
    flag = "few" if rate.few else ""
    name = "all loops" if rate.level == "all" else rate.name or "not told"
    return (
        name, str(rate.units), str(rate.failures), years_of(rate.years),
        number_of(rate.rate.value), bounds, flag,
    )  # fmt: skip


_TREND = {TRENDLESS: "no trend", TOO_FEW: "too few"}
"""Verdicts that are too long for a column."""


def _bad_actors(found: Review, look: Look) -> Iterator[str]:
    where = of_which(item.plant for item in found.bad_actors)
    rows = [
        (item.tag + where(item.plant), str(item.failures), f"{item.expected:.1f}",
         f"{item.years:.1f}",
         f"{item.corrected:.2g}")
        for item in found.bad_actors
    ]  # fmt: skip
    head = ("loop", "failures", "like its like", "years", "chance")
    yield from _titled("Which loops fail more than their like?", head, rows, look)


def _clusters(found: Review, look: Look) -> Iterator[str]:
    where = of_which(item.plant for item in found.clusters)
    rows = [
        (item.sort, item.name + where(item.plant),
         ", ".join(item.tags[:4]) + " ..." * (len(item.tags) > 4),
         str(item.calls), f"{item.expected:.2f}", f"{item.corrected:.2g}")
        for item in found.clusters
    ]  # fmt: skip
    head = ("in common", "which", "loops", "calls", "expected", "chance")
    yield from _titled("What do call-outs have in common?", head, rows, look, 3)


def _repeats(found: Review, look: Look) -> Iterator[str]:
    where = of_which(item.plant for item in found.repeats)
    rows = [
        (item.tag + where(item.plant), f"{item.first}", f"{item.last}", str(item.calls))
        for item in found.repeats
    ]
    title = f"Called for again within {found.settings.repeat_days} days (one failure each)"
    yield from _titled(title, ("loop", "first", "last", "calls"), rows, look, 3)


def _work(found: Review, look: Look) -> Iterator[str]:
    head = [
        "hunts",
        "cases",
        "cause found",
        "minutes to cause",
        "readings",
        "told nothing",
        "own choice",
        "breaks",
    ]
    simulated = any(item.minutes_advised is not None for item in found.work)
    head += ["advice: measuring", "advice: readings"] if simulated else []
    rows = []
    for item in found.work:
        advised = (item.minutes_advised, item.readings_advised) if simulated else ()
        rows.append([
            item.group, str(item.cases), str(item.confirmed), middle_of(item.to_cause),
            middle_of(item.readings, 1), share_of(item.told_nothing), share_of(item.unadvised),
            f"{item.interruptions:.1f}",
            *("-" if value is None else f"{value:.1f}" for value in advised),
        ])  # fmt: skip
    yield from _titled(
        "What did the hunts take? (minutes, readings: median, quartiles)", head, rows, look
    )
    whole = next((item for item in found.work if item.group == "all"), None)
    if whole and whole.cases > whole.confirmed:
        yield from paragraph(
            f"Minutes and readings to cause are of the {count(whole.confirmed, 'hunt')} that found "
            f"one; how long the other {whole.cases - whole.confirmed} would have taken is not "
            "known.",
            look,
        )


def _idle(found: Review, look: Look) -> Iterator[str]:
    rows = [
        (item.tag, item.reading, f"{item.told_nothing.count} of {item.told_nothing.of}",
         next(iter(item.cases), ""))
        for item in found.idle
    ]  # fmt: skip
    head = ("loop", "reading", "told nothing", "such as")
    yield from _titled("Which readings told nothing, time and again?", head, rows, look, 2)


def _neglects(found: Review, look: Look) -> Iterator[str]:
    rows = [
        (item.what, str(item.count), next(iter(item.cases), ""), item.key)
        for item in found.neglects
    ]
    if rows:
        yield look.warning("What was left undone?")
        head = ("what", "cases", "such as", "which")
        yield from grid(head, rows[:LONG], look, frozenset({1}))


def _records(found: Review, look: Look) -> Iterator[str]:
    rows = [
        (f"version {item.name}" if item.level == "version" else item.name, str(item.hunts),
         share_of(item.first), share_of(item.first_three), estimate_of(item.brier),
         share_of(item.unmodelled), share_of(item.distrust))
        for item in found.records
    ]  # fmt: skip
    head = ("hunts of", "hunts", "first", "top 3", "Brier", "unmodelled", "distrust")
    yield from _titled("How right was the ranking?", head, rows, look)


def _reliability(found: Review, look: Look) -> Iterator[str]:
    whole = next((item for item in found.records if item.level == "all"), None)
    rows = [
        (f"{line.low:.1f} to {line.high:.1f}", str(line.hunts), f"{line.said:.2f}",
         share_of(line.right))
        for line in (whole.classes if whole else ())
    ]  # fmt: skip
    head = ("said of the leading group", "hunts", "said", "held the cause")
    yield from _titled("Did what it said come true?", head, rows, look)
    if whole and whole.hunts < found.endings.cases:
        yield from paragraph(
            f"Judged by {count(whole.hunts, 'hunt')} whose cause was confirmed; those that found "
            "none may have been the harder ones.",
            look,
        )
