"""``orders`` as it is typed: exit codes, one line for a slip, and what a long answer leaves out."""

import json
import re
import shutil
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.library import demo_plant

COUNTS = "cause,flow (200),level (50)\nsensor,30,4\nwiring,20,6\ntotal,50,{level}\n"
"""Counts of an invented plant: 50 failures of 200 flow loops, 4 + 6 = 10 of 50 level loops."""


@pytest.fixture
def works(tmp_path: Path) -> Path:
    """A plant of one's own with one sheet."""
    folder = tmp_path / "works"
    (folder / "sheets").mkdir(parents=True)
    shutil.copy(demo_plant() / "sheets" / "LT-214.toml", folder / "sheets")
    (folder / "plant.toml").write_text('[plant]\nname = "Own works"\n', encoding="utf-8")
    return folder


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    code = main(["orders", *(str(word) for word in words)])
    told = capsys.readouterr()
    return code, told.out, told.err


@pytest.fixture
def counts(tmp_path: Path) -> Path:
    file = tmp_path / "counts.csv"
    file.write_text(COUNTS.format(level=10), encoding="utf-8")
    return file


def test_counts_that_add_up_are_rates_a_year_and_a_positive_answer(
    counts: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """50 in 200 * 2 unit years are 12.5 %, 10 in 50 * 2 are 10.0 %.

    With 10 failures chi-square gives 90 % between 5.425 and 16.96 (tables of the Poisson mean, from
    memory), in 100 years 5.4 to 17.0 %.
    """
    code, out, err = run(capsys, counts, "--counts", "--years", "2")
    assert (code, err) == (0, "")
    lines = {
        line.split()[0]: re.split(r"\s{2,}", line.strip()) for line in out.splitlines() if line
    }
    assert lines["flow"][:5] == ["flow", "200", "50", "50", "12.5 %"]
    assert lines["level"] == ["level", "50", "10", "10", "10.0 %", "5.4 to 17.0 %"]
    assert "add up to" not in out


def test_counts_that_do_not_add_up_are_a_negative_answer(
    counts: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """4 + 6 = 10, and 11 is printed: the one column that is wrong is named, the other is not."""
    counts.write_text(COUNTS.format(level=11), encoding="utf-8")
    code, out, err = run(capsys, counts, "--counts", "--years", "2")
    assert (code, err) == (1, "")
    assert "level: the causes add up to 10, the total says 11" in " ".join(out.split())
    assert "flow: " not in out
    code, out, _ = run(capsys, counts, "--counts", "--years", "2", "--json")
    told = {column["name"]: bool(column["problem"]) for column in json.loads(out)["columns"]}
    assert (code, told) == (1, {"flow": False, "level": True})


@pytest.mark.parametrize("years", ["0", "-1", "200.5", "two", "nan", "inf"])
def test_years_without_sense_are_told_in_one_line(
    years: str, counts: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing fails in no years, and no log of a plant is longer than two hundred."""
    code, out, err = run(capsys, counts, "--counts", f"--years={years}")
    assert (code, out) == (2, "")
    assert f"--years: '{years}' is no number of years up to 200" in err
    assert len(err.splitlines()) == 1


def test_counts_have_no_rows_to_write(
    counts: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = tmp_path / "rows.csv"
    code, out, err = run(capsys, counts, "--counts", "--years", "2", "--write", rows)
    assert (code, out) == (2, "")
    assert "counts have no rows" in err
    assert len(err.splitlines()) == 1
    assert not rows.exists()


def orders_file(folder: Path, *lines: str) -> Path:
    file = folder / "orders.csv"
    file.write_text("\n".join(("number,day,tag,status,fault", *lines, "")), encoding="utf-8")
    return file


def test_orders_that_are_all_taken_are_a_positive_answer(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = orders_file(works.parent, "A,2024-02-03,LT-214,open,")
    code, out, err = run(capsys, file, "--plant", works)
    assert (code, err) == (0, "")
    assert "1 work order: 1 taken, 0 rejected" in out
    assert "more" not in out


@pytest.mark.parametrize(("bad", "more"), [(50, ""), (51, "and 1 more"), (60, "and 10 more")])
def test_fifty_rejected_lines_are_listed_and_the_others_counted(
    bad: int, more: str, works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = [f"{n},yesterday,LT-214,open," for n in range(bad)]
    code, out, _ = run(capsys, orders_file(works.parent, *lines), "--plant", works)
    assert code == 1
    assert f"{bad} work orders: 0 taken, {bad} rejected" in out
    assert out.count("'yesterday'") == 50
    assert (more in out) if more else ("--json lists them" not in out)
    code, out, _ = run(capsys, orders_file(works.parent, *lines), "--plant", works, "--json")
    assert len(json.loads(out)["rejects"]) == bad


@pytest.mark.parametrize(("tags", "more"), [(8, ""), (9, "and 1 more"), (11, "and 3 more")])
def test_the_most_frequent_tags_without_a_sheet_are_named_first(
    tags: int, more: str, works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Eight are named: the last of the file has three lines and leads, the others have one."""
    names = [f"PT-{n}" for n in range(501, 501 + tags)]
    wanted = [*names, names[-1], names[-1]]
    lines = [f"{n},2024-02-03,{tag},open," for n, tag in enumerate(wanted)]
    code, out, _ = run(capsys, orders_file(works.parent, *lines), "--plant", works)
    said = " ".join(out.split())
    assert code == 0
    assert f"no sheet of {names[-1]} (3 lines), PT-501 (1 line)" in said
    assert len(re.findall(r"PT-\d+ \(", said)) == 8
    assert (f"{more}: these are in no rate" in said) if more else ("more" not in said)
