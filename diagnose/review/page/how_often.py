"""Section: how often loops fail, how sure that is, and what is not left to chance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.review.page.grid import Cell, Tracer, between, chance, figure, folded, spoken, table
from diagnose.review.page.intervals import Range, intervals
from diagnose.review.page.markup import Markup, counted, el, spaced
from diagnose.review.tables import Rate, Review
from diagnose.review.which import of_which

TITLE = "How often"

FIRST = ("all", "plant", "loop type")
"""Levels whose rates are shown at once; those of the others open under their title."""

PICTURED = ("loop type", "loop")


def how_often(review: Review, tracer: Tracer) -> Iterator[object]:
    """Rates with their bounds, the trend before them, then what chance does not explain."""
    sure = spaced(review.settings.sure)
    yield el("p", f"Confirmed failures per year in service, with exact chi-square bounds ({sure}, "
                  "two-sided) for a time-censored count; with no failure, the one-sided upper "
                  f"bound. A call within {review.settings.repeat_days} days of the last on its "
                  "loop is the same failure. A rate means little where a trend is shown: by either "
                  "of two tests, after Holm's correction over all that stand together. A failure "
                  "that opens or ends the log is in the rate and in no test for a "
                  "trend.")  # fmt: skip
    levels = list(dict.fromkeys(item.level for item in review.rates))
    drawn = [level for level in PICTURED if level in levels]
    yield el("div", *(_picture(level, review.rates, sure) for level in drawn), class_="figures")
    many = sum(item.level == "plant" for item in review.rates) > 1
    first = [item for item in review.rates if item.level in FIRST and (
        many or item.level != "plant")]  # fmt: skip
    yield from _rates("Rates of all loops together, and by plant and loop type", first, tracer)
    for level in levels:
        if level not in FIRST:
            some = [item for item in review.rates if item.level == level]
            yield folded(f"Rates by {level}: {counted(len(some), 'line')}",
                         *_rates(f"Rates by {level}", some, tracer))  # fmt: skip
    yield from _chance(review, tracer)


def _picture(level: str, rates: Sequence[Rate], sure: str) -> Markup:
    some = [item for item in rates if item.level == level]
    some.sort(key=lambda item: -(item.rate.value or 0.0))
    return intervals(
        f"How often does each {level} fail, and how sure is that?",
        _widest(some, sure),
        "confirmed failures per year in service of one",
        [Range(item.name, item.rate.value, item.rate.low or 0.0, item.rate.high or 0.0,
               f"{item.failures} in {item.years:,.1f} y" + (", few" if item.few else ""))
         for item in some],
    )  # fmt: skip


def _widest(some: Sequence[Rate], sure: str) -> str:
    few = sum(item.few for item in some)
    known = [item for item in some if item.rate.value is not None and item.failures]
    if not known:
        return "No confirmed failure: each line is an upper bound."
    top = known[0]
    low, high = top.rate.low or 0.0, top.rate.high or 0.0
    return (f"Highest: {top.name}, {top.rate.value:.2f} a year, {low:.2f} to {high:.2f}. Each line "
            f"holds the true rate in {sure} of such counts, or more; {few} of {len(some)} rest on "
            "fewer than five failures.")  # fmt: skip


def _rates(caption: str, some: Sequence[Rate], tracer: Tracer) -> Iterator[Markup]:
    """The rates, and then the tests behind the word on their trend."""
    yield table(
        caption,
        ("name", "units", "years in service", "failures", "per year", "bounds", "count", "trend"),
        [(Cell(spoken(item.name)), figure(item.units, 0), figure(item.years, 1),
          tracer.count(item.failures, item.cases, "failures"), figure(item.rate.value, 3),
          between(item.rate.low, item.rate.high, 3), Cell("few" if item.few else "enough"),
          Cell(item.trend.verdict)) for item in some],
    )  # fmt: skip
    tested = [item for item in some if item.trend.laplace is not None]
    if tested:
        yield table(
            f"{caption}: tests for a trend",
            ("name", "trend", "Laplace", "chance of it", "power-law shape", "bounds of it",
             "chance of that"),
            [(Cell(spoken(item.name)), Cell(item.trend.verdict), figure(item.trend.laplace),
              figure(item.trend.laplace_chance), figure(item.trend.shape.value),
              between(item.trend.shape.low, item.trend.shape.high),
              figure(item.trend.shape_chance)) for item in tested],
        )  # fmt: skip


def _chance(review: Review, tracer: Tracer) -> Iterator[Markup]:
    yield el("h3", "What is not left to chance")
    plants = [item.plant for item in review.bad_actors]
    plants += [item.plant for item in review.clusters] + [item.plant for item in review.repeats]
    where = of_which(plants)
    yield table(
        "Bad actors: loops that fail more than their like",
        ("loop", "type", "failures", "expected", "years", "chance", "chance among all looked at"),
        [(Cell(item.tag + where(item.plant)), Cell(item.loop_type),
          tracer.count(item.failures, item.cases, "failures"), figure(item.expected, 2),
          figure(item.years, 1), chance(item.chance, 5), chance(item.corrected, 4))
         for item in review.bad_actors],
    )  # fmt: skip
    yield table(
        "Common causes: calls that have a place, a supply or a day in common",
        ("in common", "which", "loops", "calls", "expected", "chance",
         "chance among all looked at"),
        [(Cell(item.sort), Cell(item.name + where(item.plant)), Cell(", ".join(item.tags)),
          tracer.count(item.calls, item.cases, "calls"), figure(item.expected, 2),
          chance(item.chance, 5), chance(item.corrected, 4)) for item in review.clusters],
    )  # fmt: skip
    yield table(
        "Repeat calls on one loop, joined to one failure",
        ("loop", "first", "last", "calls"),
        [(Cell(item.tag + where(item.plant)), Cell(f"{item.first}", item.first.toordinal()),
          Cell(f"{item.last}", item.last.toordinal()),
          tracer.count(item.calls, item.cases, "calls")) for item in review.repeats],
    )  # fmt: skip
