"""A review made by hand, with every table filled and names that try to be HTML."""

from __future__ import annotations

from datetime import date

from diagnose.review import tables as t
from diagnose.review.priors import Prior, Priors
from diagnose.review.rows import CaseRow, Filters, Window

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(2)>',
    "</title></style></script><b>bold</b>",
    "javascript:alert(3)",
    "&lt;i&gt; ' \" `${7*7}` {{7*7}}",
    "\u202egnissim\u0000\u0007",
)
"""What a tag, a note or a name may hold."""


def share(count: int, of: int) -> t.Share:
    """A share with an interval that is wide enough for a picture."""
    value = count / of
    return t.Share(count, of, value, max(value - 0.1, 0.0), min(value + 0.1, 1.0))


def rows() -> tuple[CaseRow, ...]:
    """Twelve cases; the hostile names stand in every field that is text."""
    found = []
    for n in range(12):
        bad = HOSTILE[n % len(HOSTILE)]
        status = ("cause confirmed", "no fault found", "cause not found", "open")[n % 4]
        part = bad if status == "cause confirmed" else None
        found.append(
            CaseRow(
                f"case {n} {bad}", plant=bad, tag=bad, loop_type=bad, day=date(2024, 1 + n, 3),
                status=status, part=part, fault=bad if part else None,
                kind="core", place=bad, suspect_part=bad, suspect_fault=bad, suspect_chance=0.4,
                complaint=bad, readings=10 - n % 7, elapsed=30.0 * n, note=bad,
                open_items=(bad,) if status == "open" else (),
            )
        )  # fmt: skip
    return tuple(found)


def priors() -> Priors:
    """Rates of faults with such names."""
    lines = tuple(
        Prior("", name, name, name, 1.0, 0.7 + 0.2 * n, 0.5, 2.5, n, 1.5, 120.0)
        for n, name in enumerate(HOSTILE)
    )
    return Priors(lines, {HOSTILE[0]: 10.0}, 15)


def review() -> t.Review:
    """A review of those cases."""
    cases = tuple(row.name for row in rows())
    trend = t.Trend(6, 1.2, 0.23, t.Estimate(1.3, 0.8, 1.9), 0.3, t.TRENDLESS)
    pareto = tuple(
        t.ParetoLine(name, 9 - n, n, 1, 2, 0.2, 0.2 * n, cases) for n, name in enumerate(HOSTILE)
    )
    rates = tuple(
        t.Rate(level, name, 3, 6 - n, 9.0, t.Estimate((6 - n) / 9, 0.1, 1.2), n > 1, trend, cases)
        for level in ("loop type", "loop")
        for n, name in enumerate(HOSTILE)
    )
    day = date(2024, 5, 2)
    work = tuple(
        t.Work(name, 12, t.Estimate(60.0 + 10 * n, 30.0, 120.0), t.Estimate(5.0, 3.0, 8.0),
               share(8, 60), share(20, 60), share(2, 60), 0.4, 45.0, 4.2)
        for n, name in enumerate((*HOSTILE, "all"))
    )  # fmt: skip
    classes = (t.ReliabilityClass(0.0, 0.5, 3, 0.3, share(1, 3)),
               t.ReliabilityClass(0.9, 1.0, 9, 0.97, share(9, 9)))  # fmt: skip
    records = tuple(
        t.EngineRecord(level, name, 12, share(10, 12), share(11, 12), t.Estimate(0.1, 0.05, 0.2),
                       share(1, 12), share(2, 3), classes, cases)
        for level, name in (("all", "all"), ("loop type", HOSTILE[0]), ("version", HOSTILE[1]))
    )  # fmt: skip
    return t.Review(
        t.Settings(),
        Filters(tags=HOSTILE[:2]),
        Window(date(2024, 1, 1), date(2024, 12, 31)),
        t.Endings(12, 3, 3, 3, 3, 0),
        dict.fromkeys(("cause", "part", "loop", "type", "place", "mode"), pareto),
        rates,
        (t.Repeat(HOSTILE[0], HOSTILE[1], day, day, 2, cases[:2]),),
        (t.BadActor(HOSTILE[0], HOSTILE[1], HOSTILE[2], 6, 3.0, 1.2, 0.001, 0.02, cases),),
        (t.Cluster(HOSTILE[0], "supply", HOSTILE[1], HOSTILE[:3], 3, 0.1, 1e-4, 2e-3, cases),),
        work,
        (t.Neglect("caution", HOSTILE[0], 3, cases[:3]),),
        records,
        (HOSTILE[0],),
        tuple(t.Idle(name, HOSTILE[0], share(2, 3), 2, cases[:2]) for name in HOSTILE),
    )
