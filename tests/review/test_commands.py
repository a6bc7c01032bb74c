"""`review`, `priors` and `orders` as the user types them, wrong words included."""

import json
import os
import re
import shutil
import sys
import tomllib
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.casework.events import ENDINGS
from diagnose.library import demo_plant
from diagnose.terminal.table import blocks

PART = '[[rate]]\nkind = "core"\nmode = "open"\nrate = 2.5\n'


@pytest.fixture
def works(tmp_path: Path) -> Path:
    """A plant of one's own: two sheets of the demo plant and its first cases."""
    folder = tmp_path / "works"
    for name in ("sheets", "cases"):
        (folder / name).mkdir(parents=True)
    for tag in ("LT-214", "LT-216"):
        shutil.copy(demo_plant() / "sheets" / f"{tag}.toml", folder / "sheets")
    for path in sorted((demo_plant() / "cases").glob("LT-21?_2024-0[3-7]*"))[:4]:
        shutil.copy(path, folder / "cases")
    (folder / "plant.toml").write_text(
        '[plant]\nname = "Own works"\n\n[in-service]\nall = 2023-01-01\n', encoding="utf-8"
    )
    return folder


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    code = main([str(word) for word in words])
    told = capsys.readouterr()
    return code, told.out, told.err


def test_a_review_answers_each_question_with_a_table(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(capsys, "review", works, "--by", "place")
    assert code == 0
    for question in ("Which place holds most", "How often does it fail?", "How right was"):
        assert question in out
    cases = len(list((works / "cases").glob("*.jsonl")))
    assert out.startswith(f"{cases} cases, ")
    assert "no day in service" not in out


def test_a_table_has_no_column_of_noughts_and_fits_eighty_columns(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Causes are of confirmed and suspected cases: no fault found is none of them."""
    code, said, _ = run(capsys, "review", "--since", "2022-01-01", "--until", "2024-12-31")
    assert code == 0
    lines = said.splitlines()
    first = next(n for n, line in enumerate(lines) if line.startswith("cause "))
    table = [re.split(r"\s{2,}", line) for line in lines[first : lines.index("", first)]]
    assert table[0][:4] == ["cause", "confirmed", "share", "so far"]
    assert set(table[0][4:]) <= {"suspected", "not found"}
    rows = [row for row in table if len(row) == len(table[0])]
    assert len(rows) > 5
    assert all({*column[1:]} != {"0"} for column in zip(*rows, strict=True))
    assert re.search(r"^process connection: blocked +\d", said, re.MULTILINE)


def test_its_json_holds_what_its_tables_hold(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(capsys, "review", works, "--json", "--since", "2024-01-01")
    told = json.loads(out)
    assert code == 0
    assert told["window"]["first"] == "2024-01-01"
    assert told["endings"]["cases"] == len(list((works / "cases").glob("*.jsonl")))
    assert {line["name"] for line in told["paretos"]["loop"]} <= {"LT-214", "LT-216"}


def test_rates_are_compared_down_a_column_at_eighty_columns(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """One line a row; where not all columns fit, the rest stands below with the names again."""
    _, said, _ = run(capsys, "review", "--since", "2022-01-01", "--until", "2024-12-31")
    lines = said.splitlines()
    assert max(map(len, lines)) <= 80
    heads = [line.split() for line in lines if line.startswith(("loop type", "part kind"))]
    assert [head[2:5] for head in heads] == [["units", "failed", "years"]] * 2
    assert all(head[-1] == "trend" for head in heads)
    first = lines.index(next(line for line in lines if line.startswith("loop type")))
    row = lines[first + 2].split()
    assert row[:2] == ["all", "loops"]
    low, high = map(float, row[6].split("-"))
    assert low < float(row[5]) < high
    ranked = [line for line in lines if line.startswith("all ")]
    assert len([line for line in lines if line.startswith("hunts of ")]) == 2
    assert len(ranked) >= 4  # rates, hunts, and the ranking in two blocks


@pytest.mark.parametrize("command", ["cases", "lessons", "priors", "review"])
def test_what_is_listed_of_a_whole_plant_fits_eighty_columns(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    _, said, _ = run(capsys, command)
    assert [line for line in said.splitlines() if len(line) > 80] == []
    assert len(said.splitlines()) > 10


def test_a_screen_says_what_its_words_and_medians_leave_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Hunts without a cause are in no median and judge no ranking; a trend is at some chance."""
    words = ("review", "--since", "2023-02-01", "--until", "2023-02-28")
    code, out, _ = run(capsys, *words, "--json", "--confidence", "95%")
    ends = json.loads(out)["endings"]
    rows = tmp_path / "rows.csv"
    code, out, _ = run(capsys, *words, "--confidence", "95%", "--export", rows)
    told = " ".join(out.split())
    assert code == 0
    left = ends["cases"] - ends["confirmed"]
    assert ends["confirmed"] and left
    assert f"how long the other {left} would have taken is not known" in told
    assert f"Judged by {ends['confirmed']} hunts whose cause was confirmed" in told
    assert "at a chance below 5 % after Holm's correction" in told
    assert f"rows.csv, {ends['cases']} rows" in told
    # 28 days of two loops are 56 / 365.25 = 0.153 years; with one decimal they were 0.2
    assert re.search(r"^two-wire-input +2 +1 +0\.15 ", out, re.MULTILINE)


def test_columns_are_told_in_blocks_that_fit() -> None:
    """By hand: 10 + 2 + 30 + 2 + 30 are 74; a column that is too wide stands alone."""
    assert list(blocks([10, 30, 30, 30], 80)) == [[0, 1, 2], [0, 3]]
    assert list(blocks([10, 90, 5], 80)) == [[0, 1], [0, 2]]
    assert list(blocks([10], 80)) == [[0]]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--since", "yesterday"), "--since: 'yesterday' is no day; write 2024-01-31"),
        (("--since", "2024-02-01", "--until", "2024-01-01"), "is before --since"),
        (("--by", "colour"), "--by: 'colour' is none of part, kind"),
        (("--confidence", "200 %"), "is no share from 50 % to below 100 %"),
        (("--repeat-days", "-3"), "--repeat-days"),
        (("--export", "cases.xls"), "name it .csv, .json or .parquet"),
        (("--against-advice", "many"), "is no whole number"),
        (("--compare", "2024-01-01", "2024-01-31"), "--compare needs --since and --until"),
        (("nowhere",), "there is no folder 'nowhere'"),
        (("nowhere.parquet",), "nowhere.parquet"),
    ],
)
def test_wrong_words_are_answered_in_one_line(
    works: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], sentence: str
) -> None:
    code, out, err = run(capsys, "review", *words, "--plant", works)
    assert (code, out) == (2, "")
    assert sentence in err
    assert err.count("\n") == 1


@pytest.mark.parametrize("missing", ["duckdb", "msgspec", "scipy"])
def test_without_the_extra_it_says_what_to_install(
    works: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, missing: str
) -> None:
    monkeypatch.setitem(sys.modules, missing, None)
    code, _, err = run(capsys, "review", works)
    assert code == 2
    assert f"a review needs '{missing}'" in err


def test_priors_are_written_and_a_ranking_says_that_it_uses_them(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(capsys, "priors", works, "--write")
    assert code == 0
    assert f"Written: {works / 'priors.toml'}" in out
    (works / "priors.toml").write_text(f"[priors]\nfailures = 12\n{PART}", encoding="utf-8")
    code, out, _ = run(capsys, "rank", "LT-214", "complaint reads low", "--plant", works)
    assert "The rates of faults (12 failures) are the site's own (priors.toml)." in out
    (works / "priors.toml").write_text(PART.replace("core", "cor"), encoding="utf-8")
    code, _, err = run(capsys, "rank", "LT-214", "complaint reads low", "--plant", works)
    assert code == 2
    assert "did you mean core" in err


def test_a_file_of_learned_rates_says_of_what_and_keeps_the_one_before(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What was learned of one loop holds for the whole plant: the file has to say so."""
    (works / "priors.toml").write_text(PART, encoding="utf-8")
    code, out, _ = run(capsys, "priors", works, "--write", "--tag", "LT-214")
    assert code == 0
    assert f"Kept: {works / 'priors.before.toml'}, what stood there before" in out
    assert (works / "priors.before.toml").read_text(encoding="utf-8") == PART
    told = tomllib.loads((works / "priors.toml").read_text(encoding="utf-8"))["priors"]
    assert told["note"].startswith("only tags: LT-214; ")
    code, out, _ = run(capsys, "rank", "LT-214", "complaint reads low", "--plant", works)
    assert code == 0
    assert "are the site's own (priors.toml" in " ".join(out.split())


def test_nothing_learned_is_not_written(works: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An empty file, dated from the year 1900, took the place of what stood there."""
    for path in (works / "cases").glob("*.jsonl"):
        path.unlink()
    (works / "priors.toml").write_text(PART, encoding="utf-8")
    code, out, err = run(capsys, "priors", works, "--write")
    assert (code, out) == (2, "")
    assert "there is nothing to keep" in err
    assert (works / "priors.toml").read_text(encoding="utf-8") == PART
    code, out, _ = run(capsys, "priors", works)
    assert code == 0
    assert out.startswith("There is no rate to learn")


def test_calls_that_tell_of_no_share_are_counted(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only "no fault found" among calls that are mostly open made most calls end sound."""
    for path in (works / "cases").glob("*.jsonl"):
        path.unlink()
    for path in sorted((demo_plant() / "cases").glob("LT-21*")):
        if '"cause confirmed"' not in path.read_text(encoding="utf-8"):
            shutil.copy(path, works / "cases")
    code, out, _ = run(capsys, "priors", works)
    told = " ".join(out.split())
    assert code == 0
    found = re.search(r"of (\d+) calls, (\d+) ended with neither", told)
    assert found is not None
    sound = re.search(r"How (\d+) calls ended", told)
    assert sound is not None
    assert int(found[1]) - int(found[2]) == int(sound[1])
    assert "the share that ends sound is put too high" in told
    assert "intervals are of 90 %" in told


def test_what_learned_rates_change_is_seen_beside_the_assumed_ones(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("rank", "LT-214", "complaint reads low", "--plant", works)

    def hypotheses(*more: str) -> object:
        code, out, _ = run(capsys, *words, "--json", *more)
        assert code == 0
        return json.loads(out)["hypotheses"]

    plain = hypotheses()
    (works / "priors.toml").write_text(f"[priors]\nfailures = 12\n{PART}", encoding="utf-8")
    assert hypotheses() != plain
    assert hypotheses("--assumed-rates") == plain
    _, out, _ = run(capsys, *words, "--assumed-rates")
    assert "The rates are the assumed ones; priors.toml is left out." in out


@pytest.mark.parametrize(
    "words",
    [("--tag", "X-1"), ("--mode", "x"), ("--place", "nowhere"), ("--since", "2031-01-01"),
     ("--type", "trip", "--status", "open"), ("--tag", "X-1", "--html", "none.html")],
)  # fmt: skip
def test_filters_that_leave_no_case_are_answered(
    works: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
) -> None:  # fmt: skip
    monkeypatch.chdir(works)
    code, out, err = run(capsys, "review", works, *words)
    assert (code, err) == (0, "")
    assert out.startswith("0 cases: there is no case file")
    assert "1900" not in out


def test_a_word_of_a_filter_that_no_case_has_is_named(
    works: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beside a word that fits it was passed over: half of the answer was missing, and not said."""
    monkeypatch.chdir(works)
    code, out, _ = run(
        capsys, "review", works, "--kind", "insulation", "--kind", "insulations", "--json"
    )
    assert code == 0
    assert [n for n in json.loads(out)["notes"] if "insulations" in n] == [
        "no case has a cause in the part kind 'insulations'; did you mean insulation?"
    ]
    _, out, _ = run(capsys, "review", works, "--kind", "Process connection", "--json")
    told = json.loads(out)
    assert not [note for note in told["notes"] if "no case has" in note]
    assert told["endings"]["cases"] > 0  # as the tables write it, and not as it is kept


def test_a_word_that_leaves_no_case_is_named_before_what_is_counted(
    works: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bounds of a fault that was mistyped stood first, as if it had been looked for."""
    monkeypatch.chdir(works)
    out = run(capsys, "review", works, "--fault", "opne")[1]
    assert out.index("no case has the fault mode 'opne'") < out.index("How often does it fail?")
    assert "What follows counts years without a failure." in " ".join(out.split())


def test_a_plant_without_a_case_names_no_first_day(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    run(capsys, "plant", "new", "mine")
    (tmp_path / "mine" / "cases" / "old.jsonl").mkdir(parents=True)  # a folder is no case
    code, out, err = run(capsys, "review", "--plant", "mine")
    assert (code, err) == (0, "")
    assert "1900" not in out
    assert "first case" not in out


def test_what_is_asked_does_not_move_the_first_day_of_the_log(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Failures of one kind are set against all days of the log, not from the first of that kind."""
    whole = json.loads(run(capsys, "review", works, "--json")[1])
    some = json.loads(run(capsys, "review", works, "--kind", "core", "--json")[1])
    assert some["window"]["first"] == whole["window"]["first"]
    years = [next(r["years"] for r in found["rates"] if r["level"] == "all")
             for found in (whole, some)]  # fmt: skip
    assert years[0] == years[1]


def test_rates_are_not_learned_from_cases_chosen_by_what_was_found(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, "priors", works, "--kind", "core")
    assert (code, out) == (2, "")
    assert "--kind chooses cases by what was found" in err


def test_a_ranking_starts_from_the_shares_of_the_site(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a reading that tells, sound loops rank as the file says; "none" is the sound loop."""
    words = ("rank", "LT-214", "process 50 %", "--plant", works, "--json")

    def sound() -> float:
        code, out, _ = run(capsys, *words)
        assert code == 0
        return next(h["probability"] for h in json.loads(out)["hypotheses"] if h["fault"] == "none")

    before = sound()
    (works / "priors.toml").write_text(
        "[priors]\ncalls = 40\n" + "".join(
            f'[[share]]\nending = "{name}"\nfactor = {factor}\n'
            for name, factor in (("sound", 3), ("electrical", 0.5), ("process_connection", 0.2))
        )
    )  # fmt: skip
    assert sound() > 2 * before
    out = run(capsys, *words[:-1])[1]
    assert "The shares of calls (40 calls) are the site's own (priors.toml)." in out


def test_the_demo_plant_keeps_its_rates(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "priors", demo_plant(), "--write")
    assert code == 2
    assert "read-only" in err
    assert not (demo_plant() / "priors.toml").exists()


def test_orders_come_into_a_review_beside_the_cases(
    works: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    orders, rows = tmp_path / "orders.csv", tmp_path / "orders.parquet"
    orders.write_text(
        "number,day,tag,status,fault\nA,2024-02-03,LT-214,cause confirmed,core: open\n"
        "B,3 Feb,LT-214,open,\n"
    )
    code, out, _ = run(capsys, "orders", orders, "--plant", works, "--write", rows)
    assert code == 1
    assert "2 work orders: 1 taken, 1 rejected" in out
    code, out, _ = run(capsys, "review", works, rows, "--json")
    told = json.loads(out)
    assert code == 0
    causes = {line["name"]: line["confirmed"] for line in told["paretos"]["cause"]}
    assert causes["core: open"] == 1
    assert told["endings"]["cases"] == len(list((works / "cases").glob("*.jsonl"))) + 1


def test_what_cannot_be_read_is_named_and_is_in_no_other_number(
    works: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file cut within its first line: named on the screen, in JSON and under its number."""
    whole = len(list((works / "cases").glob("*.jsonl")))
    one = min((works / "cases").glob("*.jsonl"))
    (works / "cases" / "LT-214_2023-01-01_01.jsonl").write_bytes(one.read_bytes()[:3000])
    page = tmp_path / "report.html"
    code, out, _ = run(capsys, "review", works, "--html", page)
    assert code == 0
    told = " ".join(out.split())
    assert ", 1 unreadable" in told
    assert "LT-214_2023-01-01_01 could not be read" in told
    ends = json.loads(run(capsys, "review", works, "--json")[1])["endings"]
    assert ends["unread"] == ["LT-214_2023-01-01_01"]
    text = page.read_text(encoding="utf-8")
    stood = text[text.index("How the cases stand") :]
    stood = stood[: stood.index("</table>")]
    rows = dict(re.findall(r'<th scope="row"[^>]*>([^<]+)</th>(.*?)</tr>', stood))
    links = {title: len(re.findall(r'href="#case-', row)) for title, row in rows.items()}
    assert links.pop("could not be read") == 1
    assert sum(links.values()) == whole


def test_a_plant_without_a_case_has_no_rate_and_a_day_of_log_says_what_it_is(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No day in service, no rate; days that the user names are days without a failure."""
    kept = min((works / "cases").glob("*.jsonl"))
    for path in (works / "cases").glob("*.jsonl"):
        if path != kept:
            path.unlink()
    one = " ".join(run(capsys, "review", works)[1].split())
    assert "makes rates come out high" in one
    assert "e+0" not in one  # a failure in one day: 1 / (2 / 365.25) = 183 a loop-year
    assert "183" in one
    kept.unlink()
    assert json.loads(run(capsys, "review", works, "--json")[1])["rates"] == []
    assert "How often" not in run(capsys, "review", works)[1]
    days = "--since", "2024-01-01", "--until", "2024-12-31"
    years = json.loads(run(capsys, "review", works, "--json", *days)[1])["rates"][0]["years"]
    assert years == pytest.approx(2 * 366 / 365.25)


def test_a_case_in_two_sources_counts_once_by_its_latest_state(
    works: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An export of last month beside the folder itself: a case that was open then is closed now."""
    path = min((works / "cases").glob("*.jsonl"))
    now, whole = path.read_bytes(), len(list((works / "cases").glob("*.jsonl")))
    path.write_bytes(b"".join(now.splitlines(keepends=True)[:5]))
    old = tmp_path / "old.parquet"
    run(capsys, "review", works, "--export", old)
    path.write_bytes(now)
    alone = json.loads(run(capsys, "review", works, "--json")[1])
    copy = tmp_path / "copy"
    shutil.copytree(works, copy)
    assert json.loads(run(capsys, "review", works, works, "--json")[1]) == alone
    assert json.loads(run(capsys, "review", works, "--plant", works, "--json")[1]) == alone
    for sources in ((works, old), (old, works), (works, copy)):
        both = json.loads(run(capsys, "review", *sources, "--json")[1])
        assert both["endings"] == alone["endings"]
        assert [both["rates"][0][name] for name in ("units", "failures", "years")] == [
            alone["rates"][0][name] for name in ("units", "failures", "years")
        ]
        assert f"{whole} cases stand in more than one source" in " ".join(both["notes"])
    assert "more than one source" not in " ".join(alone["notes"])


def test_two_periods_stand_side_by_side(capsys: pytest.CaptureFixture[str]) -> None:
    """What is told of each is what a review of it alone tells; their lengths may differ.

    A cause that did not fail in one of them had years in service there nevertheless.
    """
    later, earlier = ("2025-10-01", "2025-12-31"), ("2024-01-01", "2025-06-30")

    def counts(since: str, until: str) -> dict[tuple[str, str], tuple[int, float]]:
        code, out, _ = run(capsys, "review", "--since", since, "--until", until, "--json")
        assert code == 0
        rates = json.loads(out)["rates"]
        return {(r["level"], r["name"]): (r["failures"], r["years"]) for r in rates}

    words = ("review", "--since", later[0], "--until", later[1], "--compare", *earlier)
    code, out, _ = run(capsys, *words, "--json")
    assert code == 0
    found = json.loads(out)["compared"]
    now, before = counts(*later), counts(*earlier)
    told = {(c["level"], c["name"]): c for c in found["changes"]}
    assert told.keys() == {key for key in now.keys() | before if (now.get(key) or (0,))[0]
                           or (before.get(key) or (0,))[0]}  # fmt: skip
    for key, change in told.items():
        assert change["failures"] == now.get(key, (0, 0.0))[0]
        assert change["before"] == before.get(key, (0, 0.0))[0]
        assert change["corrected"] >= change["chance"]
        # every loop of the demo plant was in service all the time: 92 and 547 days
        assert change["years"] / change["years_before"] == pytest.approx(92 / 547)
    one = told["all", "all"]
    rates = one["failures"] / one["years"], one["before"] / one["years_before"]
    assert one["ratio"]["value"] == pytest.approx(rates[0] / rates[1])
    code, out, _ = run(capsys, *words)
    assert code == 0
    assert "What changed against 2024-01-01 to 2025-06-30?" in out
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (("2025-06-01", "2025-07-01"), "have days in common"),
        (("2025-02-01", "2025-01-01"), "2025-01-01 is before 2025-02-01"),
        (("soon", "2025-01-01"), "--compare: 'soon' is no day"),
    ],
)
def test_periods_that_cannot_be_compared_are_refused(
    days: tuple[str, str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("--since", "2025-07-01", "--until", "2025-12-31", "--compare", *days)
    code, _, err = run(capsys, "review", *words)
    assert code == 2
    assert said in err


def test_a_period_without_a_log_is_noted(capsys: pytest.CaptureFixture[str]) -> None:
    """The demo plant logs cases from 2023 on: before that, nothing seems to fail."""
    words = ("--since", "2023-01-01", "--until", "2023-12-31", "--compare", "2022-01-01")
    code, out, _ = run(capsys, "review", *words, "2022-12-31")
    assert code == 0
    assert "2022-01-01 to 2022-12-31 goes beyond the log" in " ".join(out.split())
    assert "2023-01-01 to 2023-12-31 goes beyond" not in " ".join(out.split())


@pytest.mark.parametrize(
    ("day", "option", "said"),
    [
        ("1970-01-01", "--since", "1 case is of a day years apart from all others, such as "),
        ("9998-12-31", "--until", "1 case is of a day to come, such as "),
    ],
)
def test_a_case_of_a_wrong_clock_is_named(
    day: str, option: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One laptop with an empty battery made every rate of the plant four times too low."""
    shutil.copytree(demo_plant() / "cases", tmp_path / "cases")
    text = (tmp_path / "cases" / "LT-214_2024-04-26_01.jsonl").read_text(encoding="utf-8")
    path = tmp_path / "cases" / f"LT-214_{day}_01.jsonl"
    path.write_text(text.replace("2024-04-26", day), encoding="utf-8")
    words = ("review", tmp_path / "cases", "--plant", demo_plant())
    code, out, _ = run(capsys, *words)
    told = " ".join(out.split())
    assert code == 0
    assert f"{said}LT-214_{day}_01 of {day}" in told
    assert f"{option} leaves it out" in told
    code, out, _ = run(capsys, *words, "--since", "2023-01-01", "--until", "2025-12-31")
    assert "where a clock was wrong" not in " ".join(out.split())


def test_days_that_are_still_to_come_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "review", "--until", "9000-01-01")
    assert code == 0
    assert "count as in service, though nothing can have failed yet" in " ".join(out.split())
    code, out, _ = run(capsys, "review")
    assert code == 0
    assert "failed yet" not in out and "a clock was wrong" not in " ".join(out.split())


def test_a_case_without_a_first_line_counts_in_nothing(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its cause stands in a later line: it was told as unreadable and counted as confirmed."""
    path = next(
        path
        for path in sorted((works / "cases").iterdir())
        if b"cause confirmed" in path.read_bytes()
    )
    before = json.loads(run(capsys, "review", works, "--json")[1])["endings"]
    path.write_bytes(b"\xff" + path.read_bytes())
    after = json.loads(run(capsys, "review", works, "--json")[1])["endings"]
    assert after["unread"] == [path.stem]
    assert (after["cases"], after["unreadable"]) == (before["cases"], 1)
    assert after["confirmed"] == before["confirmed"] - 1


def test_a_case_of_a_newer_version_is_not_read_here_either(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As `cases` refuses it: what a newer version means by its lines is not known."""
    path = min((works / "cases").glob("*.jsonl"))
    first, rest = path.read_text(encoding="utf-8").split("\n", 1)
    newer = json.dumps({**json.loads(first), "schema": 99})
    path.write_text(f"{newer}\n{rest}", encoding="utf-8")
    code, out, _ = run(capsys, "review", works)
    assert code == 0
    assert ", 1 unreadable" in " ".join(out.split())
    assert path.stem in out


def test_priors_say_what_makes_them_doubtful(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The review's own words: of days that are assumed, and of cases without a plant."""
    notes = {}
    for word in ("review", "priors"):
        code, out, _ = run(capsys, word, works / "cases", "--json")
        assert code == 0
        notes[word] = json.loads(out)["notes"]
    assert notes["priors"] and set(notes["priors"]) <= set(notes["review"])
    assert "note  no plant file was given" in run(capsys, "priors", works / "cases")[1]


def test_help_names_how_a_case_can_stand(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["review", "--help"])
    told = " ".join(capsys.readouterr().out.split())
    assert all(ending in told for ending in ENDINGS)


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have no such names")
@pytest.mark.parametrize("digest", [False, True], ids=["few", "with a digest"])
def test_a_file_that_cannot_be_read_costs_no_other_case(
    works: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, digest: bool
) -> None:
    """A name that is not UTF-8, a link that leads back to itself, and one that leads nowhere."""
    if digest:
        monkeypatch.setattr("diagnose.review.digests.FEW", 0)
        monkeypatch.setattr("diagnose.review.processes.FEW", 0)
    folder = works / "cases"
    whole = len(list(folder.glob("*.jsonl")))
    one = min(folder.glob("*.jsonl"))
    shutil.copy(one, os.fsencode(folder) + b"/LT-214_\xff_01.jsonl")
    (folder / "LT-214_loop.jsonl").symlink_to("LT-214_loop.jsonl")
    (folder / "LT-214_lost.jsonl").symlink_to("nowhere.jsonl")
    for _ in range(2):  # the second time by what was kept
        code, out, _ = run(capsys, "review", works)
        assert code == 0
        told = " ".join(out.split())
        assert f"{whole + 3} cases" in told
        assert ", 3 unreadable" in told
        assert r"LT-214_\udcff_01 (its name is not UTF-8 text: rename it)" in told
        assert "LT-214_loop (it cannot be read: too many levels of symbolic links)" in told
        assert "LT-214_lost (it is a link that leads to no file)" in told
    code, out, err = run(capsys, "priors", works)
    assert (code, err) == (0, "")
    code, out, _ = run(capsys, "cases", "list", works)
    told = " ".join(out.split())
    assert code == 1
    assert "LT-214_loop.jsonl cannot be read: too many levels of symbolic links" in told
    assert f"{whole + 1} cases, and 2 files that cannot be used." in told
