"""The report as a file of the command line: the cases of a plant in, one page out.

Sources: none; bad input is told in one line, with exit code 2 and nothing lost (the project's own
rule).
"""

import json
import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.review.comparison import compared
from diagnose.review.exposure import Population
from diagnose.review.page import written
from diagnose.review.page.what_was_said import said_within
from diagnose.review.records import Records, Source
from diagnose.review.review import review
from diagnose.review.rows import CaseRow, Filters
from diagnose.review.tables import Settings
from review.test_review import confirmed, unit

DEMO = Path(__file__).resolve().parents[2] / "cases" / "larkmere"


@pytest.fixture(scope="module")
def html(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("demo") / "report.html"
    assert main(["review", "--plant", str(DEMO), "--html", str(path)]) == 0
    return path.read_text(encoding="utf-8")


def test_the_report_of_the_demo_plant_lists_every_case(html: str) -> None:
    names = {path.stem for path in (DEMO / "cases").glob("*.jsonl")}
    cells = set(re.findall(r'<td class="whole">([^<]+)</td>', html))
    assert names <= cells
    assert html.count('id="case-') == len(names)
    assert "Review of Larkmere resin works" in html
    assert "\ufffd" not in html


def test_its_numbers_are_those_of_the_review(html: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", "--plant", str(DEMO), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    short = re.search(r'id="short".*?</section>', html, re.DOTALL)
    assert short is not None
    shown = [int(n) for n in re.findall(r"<summary><span>(\d+)</span>", short[0])]
    ends = found["endings"]
    wanted = [ends[key] for key in ("confirmed", "suspected", "no_fault_found", "not_found")]
    assert shown == [n for n in wanted if n]
    for rate in found["rates"]:
        if rate["level"] == "loop type" and rate["failures"]:
            assert f"{rate['rate']['value']:,.3f}" in html


def test_the_cases_behind_the_diagram_are_as_many_as_it_says() -> None:
    """The table holds counts only; the cases are found again from their own columns."""
    records = Records.open([Source(str(DEMO / "cases"), "Larkmere resin works")], keep=False)
    found, rows = review(records), records.rows()
    [whole] = [item for item in found.records if item.level == "all"]
    assert len(whole.classes) > 3
    for item in whole.classes:
        assert len(said_within(item, rows)) == item.hunts


@pytest.mark.parametrize(
    ("name", "sentence"),
    [("report.csv", "let its name end in .html"), ("no/such/x.html", "cannot be written: no such")],
)
def test_a_file_that_cannot_be_is_told(
    name: str, sentence: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["review", "--plant", str(DEMO), "--html", str(tmp_path / name)]) == 2
    err = capsys.readouterr().err
    assert sentence in err
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_of_very_many_cases_those_that_numbers_name_are_listed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Each line names a hundred cases at most: 120 calls on one loop name a hundred."""
    row = CaseRow("x", plant="p", tag="LT-1", loop_type="t", status="no fault found")
    rows = [replace(row, name=f"c{n:03d}", day=date(2024, 1, 1)) for n in range(120)]
    records = Records.of_rows(rows)
    found = review(records)
    assert len(written.listed(records, found)) == 120
    monkeypatch.setattr(written, "MOST_LISTED", 50)
    assert 90 < len(written.listed(records, found)) < 120


def test_the_page_sets_two_periods_side_by_side(tmp_path: Path) -> None:
    """On paper: 2 failures in the later year and 8 in the earlier, of as many loop-years, are 0.25;
    nothing before and some now has no upper bound.
    """
    days = [date(2021, 1, 5) + timedelta(days=40 * n) for n in range(8)]
    rows = [confirmed("p", "A", day) for day in (*days, date(2022, 2, 1), date(2022, 8, 1))]
    rows.append(confirmed("p", "B", date(2022, 5, 1), fault="<script>alert(1)</script>"))
    records = Records.of_rows(rows)
    people = Population((unit("p", "A"), unit("p", "B")))
    year = Filters(since=date(2022, 1, 1), until=date(2022, 12, 31))
    found = review(records, people, year, Settings(repeat_days=1))
    other = compared(found, date(2021, 1, 1), date(2021, 12, 31), records, people)
    written.write_page(records, found, "p", tmp_path / "r.html", other)
    text = (tmp_path / "r.html").read_text(encoding="utf-8")
    section = text.split('<section id="changed"')[1].split("</section>")[0]
    assert "Beside 01 January 2021 to 31 December 2021" in section
    line = section.split('<th scope="row" class="whole">A</th>')[1].split("</tr>")[0]
    assert [*re.findall(r">([^<>]+)</td>", line)][:5] == ["2", "1.0", "8", "1.0", "0.25"]
    assert "or more" in section.split('<th scope="row" class="whole">B</th>')[1].split("</tr>")[0]
    assert "<script>alert" not in text
    written.write_page(records, found, "p", tmp_path / "alone.html")
    assert 'id="changed"' not in (tmp_path / "alone.html").read_text(encoding="utf-8")


def test_a_period_without_a_case_is_set_beside_one_with_some(tmp_path: Path) -> None:
    """Nothing is known of its hunts: there is a line for each figure all the same."""
    records = Records.of_rows([confirmed("p", "A", date(2022, 2, 1))])
    people = Population((unit("p", "A"),))
    year = Filters(since=date(2022, 1, 1), until=date(2022, 12, 31))
    found = review(records, people, year, Settings(repeat_days=1))
    for now, first, last in (
        (found, date(2021, 1, 1), date(2021, 12, 31)),
        (compared(found, date(2021, 1, 1), date(2021, 12, 31), records, people).before,
         date(2022, 1, 1), date(2022, 12, 31)),
    ):  # fmt: skip
        other = compared(now, first, last, records, people)
        written.write_page(records, now, "p", tmp_path / "r.html", other)
        text = (tmp_path / "r.html").read_text(encoding="utf-8")
        section = text.split('<section id="changed"')[1].split("</section>")[0]
        for name in ("cases", "cause confirmed", "minutes to cause", "own choice"):
            assert f">{name}</th>" in section


def test_a_part_without_its_fault_stands_as_it_is_counted(tmp_path: Path) -> None:
    """Its cause is not told and the case is open: under its number the page opens as many cases."""
    open_case = confirmed("p", "LT-1", date(2024, 3, 1), fault=None, kind=None)
    rows = [replace(open_case, status="open"), confirmed("p", "LT-2", date(2024, 5, 1))]
    records = Records.of_rows(rows)
    found = review(records, Population((unit("p", "LT-1"), unit("p", "LT-2"))))
    assert (found.endings.confirmed, found.endings.suspected) == (1, 1)
    path = tmp_path / "report.html"
    written.write_page(records, found, "p", str(path))
    text = path.read_text(encoding="utf-8")
    short = text[text.index('id="short"') :]
    lines = re.findall(r'<th scope="row"[^>]*>([^<]+)</th>(.*?)</tr>', short[: short.index("</ta")])
    assert {title: line.count('href="#case-') for title, line in lines} == {
        "cause confirmed": 1, "suspected only: open, or handed over": 1,
        "no fault found": 0, "cause not found": 0,
    }  # fmt: skip


@pytest.mark.parametrize(("given", "said"), [("0.9", "90"), ("99.5%", "99.5"), ("0.999", "99.9")])
def test_the_confidence_is_told_with_its_digits(
    given: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A 99.5 % interval is no 100 % interval, which would reach without bound."""
    path = tmp_path / "report.html"
    words = ["review", "--plant", str(DEMO), "--confidence", given, "--html", str(path)]
    days = ["--since", "2025-01-01", "--until", "2025-12-31"]
    assert main([*words, *days, "--compare", "2024-01-01", "2024-12-31"]) == 0
    screen = " ".join(capsys.readouterr().out.split())
    assert f"({said} % intervals)" in screen
    assert f"with its {said} % interval" in screen
    page = path.read_text(encoding="utf-8").replace("\u00a0", " ")
    assert f"({said} %, two-sided)" in page
    assert f"with its {said} % interval" in page
