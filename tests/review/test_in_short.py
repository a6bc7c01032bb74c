"""The sentences that a meeting reads first, and what they leave unsaid."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from scipy.stats import beta, binomtest, chi2

from diagnose.__main__ import main
from diagnose.review.comparison import compared
from diagnose.review.exposure import Population
from diagnose.review.in_short import in_short
from diagnose.review.records import Records
from diagnose.review.review import review
from diagnose.review.rows import CaseRow, Filters
from review.test_review import DAYS, START, WINDOW, confirmed, unit

YEARS = DAYS / 365.25
TAGS = ("LT-1", "LT-2", "LT-3", "LT-4")
PEOPLE = Population(tuple(unit("p", tag) for tag in TAGS))


def said(rows: list[CaseRow], people: Population = PEOPLE) -> str:
    return "\n".join(in_short(review(Records.of_rows(rows), people, WINDOW)))


def failures(tag: str, count: int, **told: object) -> list[CaseRow]:
    """So many, evenly over the five years, and further apart than call-outs that are joined."""
    step = DAYS // (count + 1)
    return [confirmed("p", tag, START + timedelta(step * n), **told) for n in range(1, count + 1)]


def test_the_rate_of_all_loops_is_told_with_its_bounds() -> None:
    """Chi-square bounds of 12 failures in 20 loop-years, by scipy.stats."""
    rows = [row for tag in TAGS for row in failures(tag, 3)]
    low, high = (chi2.ppf(p, 2 * n) / 2 / (4 * YEARS) for p, n in ((0.05, 12), (0.95, 13)))
    assert (
        f"12 failures with a confirmed cause, on 4 loops in 20.0 years of service: "
        f"{12 / (4 * YEARS):.3g} a year on each loop "
        f"({low:.3g} to {high:.3g} with 90 % confidence)."
    ) in said(rows)


def test_what_is_out_of_the_ordinary_is_named_and_nothing_else() -> None:
    even = [row for tag in TAGS for row in failures(tag, 3)]
    assert "loops like them" not in said(even)
    bad = said([*even[3:], *failures("LT-1", 20)])
    assert "More failures than on loops like them: LT-1 (20 failures, 3.0 expected)." in bad
    assert "Most often confirmed: core: open, 29 of 29 cases; 1 of 1 cause makes half" in bad
    assert "Failing" not in bad
    late = [confirmed("p", "LT-2", date(2023, 6, 1) + timedelta(40 * n)) for n in range(14)]
    assert "Failing more and more often: loop type two-wire-input (14 failures)" in said(late)


def test_a_bound_is_told_only_where_every_cause_is_known() -> None:
    """Thirty calls that found no cause may all have been failures: no bound follows from them."""
    unknown = [
        CaseRow(f"c{n}", plant="p", tag="LT-1", day=START + timedelta(50 * n), status=status)
        for n, status in enumerate(["open", "cause not found"] * 15)
    ]
    told = said(unknown)
    assert "30 cases whose cause is not known count in no rate. How often loops fail" in told
    assert "Below" not in told
    sound = [replace(row, status="no fault found") for row in unknown]
    # with no failure the bound is one-sided: -ln(1 - 0.9) = 2.303 over the loop-years
    assert f"Below {2.302585 / (4 * YEARS):.3g} a year on each loop (90 %)." in said(sound)
    assert "count in no rate" in said([*unknown, *failures("LT-2", 6)])


def test_what_was_altered_and_not_put_back_comes_first() -> None:
    rows = failures("LT-1", 3)
    rows[0] = replace(rows[0], open_items=("bypass", "manual"))
    rows[1] = replace(rows[1], open_items=("bypass",))
    first = said(rows).splitlines()[0]
    assert first.startswith("Altered and not noted as put back: bypass (2 cases), manual (1 case)")
    assert "Altered" not in said(failures("LT-1", 3))


def test_another_period_is_told_before_the_rates() -> None:
    """Two and twelve failures in equal times, by scipy's exact test and Clopper's interval."""
    later = date(2022, 1, 1)
    first, last = START, START + timedelta(729)
    rows = [
        confirmed("p", tag, day + timedelta(60 * n))
        for tag, day, count in (("LT-1", START, 2), ("LT-1", later, 6), ("LT-2", later, 6))
        for n in range(1, count + 1)
    ]
    records = Records.of_rows(rows)
    now = review(records, PEOPLE, Filters(since=later, until=later + timedelta(729)))
    other = compared(now, first, last, records, PEOPLE)
    shares = beta.ppf(0.05, 12, 3), beta.ppf(0.95, 13, 2)
    low, high = (share / (1 - share) for share in shares)
    assert binomtest(12, 14, 0.5).pvalue < 0.05
    told = in_short(now, other)
    assert told[0] == (
        f"Against {first} to {last}: loops fail 6 times as often ({low:.3g} to {high:.3g}; 12 now, "
        "2 before), more than chance makes it."
    )
    assert told[1].startswith("Changed beyond chance: loop type two-wire-input (12 now, 2 before)")
    half = review(records, PEOPLE, Filters(since=later, until=later + timedelta(182)))
    after = later + timedelta(183), later + timedelta(365)
    told = in_short(half, compared(half, *after, records, PEOPLE))
    assert "loops fail 1 times as often" in told[0] and "no more than chance makes it" in told[0]
    assert "Changed" not in "\n".join(told)
    before = later - timedelta(99), later - timedelta(1)
    quiet = in_short(half, compared(half, *before, records, PEOPLE))
    assert "6 failures now, none before: " in quiet[0]


def test_a_period_without_a_loop_in_service_is_no_period_without_a_failure() -> None:
    people = Population((unit("p", "LT-1").__class__("p", "LT-1", "trip", START, None, ()),))
    records = Records.of_rows(failures("LT-1", 3))
    now = review(records, people, WINDOW)
    other = compared(now, date(2010, 1, 1), date(2010, 12, 31), records, people)
    assert in_short(now, other)[0].endswith("no loop is known to have been in service then.")


def test_without_a_case_nothing_is_said() -> None:
    assert said([]) == ""


def test_screen_and_page_begin_with_the_same_sentences(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "report.html"
    assert main(["review", "--html", str(path)]) == 0
    lines = capsys.readouterr().out.splitlines()
    screen = " ".join(" ".join(lines[: lines.index("")]).split())
    page = path.read_text(encoding="utf-8")
    short = page[page.index('id="short"') : page.index("How the cases stand")]
    sentences = [item.split("</li>")[0] for item in short.split("<li>")[1:]]
    assert len(sentences) >= 5
    assert all(sentence in screen for sentence in sentences)
