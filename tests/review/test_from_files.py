"""Rows of cases by the query over their text, against what `casework.case` makes of each file."""

import json
import os
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from casework.told import OPENED, START, reading, stamp
from diagnose.casework import events as e
from diagnose.casework.case import Case
from diagnose.casework.checks import CaseError
from diagnose.casework.disk import line_of
from diagnose.casework.events import to_record
from diagnose.casework.log import CaseFile, case_files
from diagnose.library import demo_plant
from diagnose.loops.record import loop_to_record
from diagnose.review import from_files
from diagnose.review.case_judged import read_where
from diagnose.review.records import Records, Source
from diagnose.review.refused import ReviewError
from diagnose.review.rows import CaseRow, Filters
from small_loop import LOOP

DEMO = demo_plant() / "cases"


def row_of(folder: Path) -> CaseRow:
    (row,) = Records.open([Source(str(folder), "here")], keep=False).rows()
    return row


def write(folder: Path, events: Sequence[e.Event], name: str = "LT-214_2024-03-12_01") -> Path:
    opened = e.Opened("LT-214", loop_to_record(LOOP), "1.2", "two-wire-input")
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{name}.jsonl"
    lines = [line_of(to_record(event, n, START)) for n, event in enumerate((opened, *events), 1)]
    path.write_bytes(b"".join(lines))
    return path


def assert_as_folded(path: Path, row: CaseRow) -> None:
    """The judge: everything of a row that a fold over the events says too."""
    case = CaseFile.open(path, write=False).case
    last = case.last_ranking
    assert row.name == path.stem
    assert (row.tag, row.loop_type, row.tool) == (case.tag, case.loop_type, case.tool)
    assert case.opened is not None
    assert row.day == case.opened.date()
    assert row.status == case.status
    cause = (case.cause.part, case.cause.fault) if case.cause else (None, None)
    assert (row.part, row.fault) == cause
    assert row.readings == len(case.readings)
    assert row.readings - row.withdrawn == len(case.in_force)
    assert row.advised == sum(item.advised for item in case.readings)
    assert row.minutes == pytest.approx(case.minutes)
    assert row.acknowledged == len(case.acknowledged)
    assert list(row.open_items) == sorted({item.item for item in case.open_items})
    assert row.damaged == 0
    if last and last.top:
        assert (row.suspect_part, row.suspect_fault, row.suspect_chance) == (
            last.top[0][0], last.top[0][1], last.top[0][3],
        )  # fmt: skip
        assert row.unmodelled == last.unexplained


def test_a_row_is_what_the_fold_says() -> None:
    """All cases of the demo plant."""
    rows = {row.name: row for row in Records.open([Source(str(DEMO), "here")], keep=False).rows()}
    paths = case_files(DEMO)
    assert len(paths) == len(rows) > 4
    for path in paths:
        assert_as_folded(path, rows[path.stem])


texts = st.text(min_size=1, max_size=12).map(lambda text: text.strip() or "x")
plain = st.text("ab|:'\"Ωé ", min_size=1, max_size=4)
chances = st.floats(0, 1)
tops = st.lists(
    st.tuples(st.none() | plain, plain, st.just(()), chances), min_size=1, max_size=4,
    unique_by=lambda item: item[:2],
).map(tuple)  # fmt: skip
happens = st.one_of(
    texts.map(e.Complained),
    texts.map(e.Context),
    texts.map(lambda text: reading(text, 2.5)),
    st.builds(e.ReadingWithdrawn, st.integers(2, 8), texts),
    st.builds(e.ReadingCorrected, st.integers(2, 8), texts),
    texts.map(e.CautionAcknowledged),
    st.builds(e.Altered, st.sampled_from(["wire lifted", "bypass"]), st.sampled_from(["a", "b"])),
    st.builds(e.Restored, st.sampled_from(["wire lifted", "bypass"]), st.sampled_from(["a", "b"])),
    st.builds(e.Ranked, tops, chances, st.just({"engine": "x"})),
    st.builds(e.CauseConfirmed, st.sampled_from(["W3+", "G1"]), texts, texts),
    texts.map(e.Noted),
    st.sampled_from(e.ENDINGS).map(e.Closed),
)


@given(st.lists(st.lists(happens, max_size=12), min_size=1, max_size=25))
@settings(max_examples=5)
def test_rows_of_invented_hunts_are_what_the_fold_says(
    tmp_path_factory: pytest.TempPathFactory, hunts: list[list[e.Event]]
) -> None:
    """Only what can happen is written: the case itself refuses the rest, as the session does."""
    folder = tmp_path_factory.mktemp("hunts")
    paths = [write(folder, possible(hunt), f"case-{n}") for n, hunt in enumerate(hunts)]
    rows = {row.name: row for row in Records.open([Source(str(folder))], keep=False).rows()}
    for path in paths:
        assert_as_folded(path, rows[path.stem])


def possible(wanted: list[e.Event]) -> list[e.Event]:
    case, kept = Case().then(stamp(1, OPENED)), []
    for event in wanted:
        try:
            case = case.then(stamp(case.number + 1, event))
        except CaseError:
            continue
        kept.append(event)
    return kept


def ranked(*top: tuple[str, str, float], rest: float = 0.0) -> e.Ranked:
    return e.Ranked(tuple((part, fault, (), p) for part, fault, p in top), rest, {"engine": "abc"})


def test_the_ranking_is_judged_before_the_cause_was_known(tmp_path: Path) -> None:
    """Quadratic score by hand: said 0.6, 0.3 and 0.1 unmodelled, the second was it.

    (0.6^2 + (1 - 0.3)^2 + 0.1^2) / 2 = 0.43 (Brier 1950, halved so that surely wrong is 1).
    """
    write(tmp_path, [
        ranked(("G1", "dead", 0.6), ("W3+", "open", 0.3), rest=0.1),
        e.CauseConfirmed("W3+", "open", "seen"),
        ranked(("W3+", "open", 1.0)),
        e.Closed(e.CONFIRMED),
    ])  # fmt: skip
    row = row_of(tmp_path)
    assert (row.chance, row.rank, row.lead) == (0.3, 2, 0.6)
    assert row.brier == pytest.approx(0.43)
    assert (row.kind, row.place, row.engine) == ("core", "cabinet", "abc")


def test_members_of_one_group_share_a_place_and_an_unlisted_cause_has_none(tmp_path: Path) -> None:
    write(tmp_path / "a", [
        ranked(("G1", "dead", 0.402), ("W3+", "open", 0.4)), e.CauseConfirmed("W3+", "open", "s"),
    ])  # fmt: skip
    write(tmp_path / "b", [ranked(("G1", "dead", 0.8)), e.CauseConfirmed("W3+", "open", "seen")])
    assert row_of(tmp_path / "a").rank == 1
    assert row_of(tmp_path / "a").lead == pytest.approx(0.402 + 0.4)  # either of them is right
    unlisted = row_of(tmp_path / "b")
    assert (unlisted.rank, unlisted.chance) == (None, 0.0)
    assert unlisted.brier == pytest.approx((0.8**2 + (1 - 0.2) ** 2) / 2)


def test_a_reading_after_which_nothing_moves_told_nothing(tmp_path: Path) -> None:
    """One of two; of the reading before any ranking it cannot be known."""
    write(tmp_path, [
        reading("LT-214 50 %"),
        ranked(("G1", "dead", 0.6), ("W3+", "open", 0.3)),
        reading("V X20:1 X20:0 24.0"),
        ranked(("G1", "dead", 0.605), ("W3+", "open", 0.296)),
        reading("V X21:1 X20:0 24.0"),
        ranked(("W3+", "open", 0.9), ("G1", "dead", 0.05)),
    ])  # fmt: skip
    row = row_of(tmp_path)
    assert (row.told_nothing, row.judged, row.readings) == (1, 2, 3)
    assert (row.tried, row.idle) == (("V X20:1 X20:0", "V X21:1 X20:0"), ("V X20:1 X20:0",))


@pytest.mark.parametrize(
    ("line", "where"),
    [
        ("V X21:7 X20:0 3.406 V", "V X21:7 X20:0"),
        ("v x21:7  x20:0 156,2mV", "V X21:7 X20:0"),
        ("VAC X61:3 X60:0 230", "VAC X61:3 X60:0"),
        ("mA X21:4 8.03", "mA X21:4"),
        ("mA X21:2 X21:3 0.00 mA", "mA X21:2 X21:3"),
        ("clamp w3+ 13.6", "clamp W3+"),
        ("ohm JB9:1 JB9:2 OL with supply off", "ohm JB9:1 JB9:2 with supply off"),
        ("lic-214 62 %", "LIC-214"),
        ("shows LIC-214 62 %", "LIC-214"),
        ("RL1 dropped out", "RL1"),
        ("K1 lit with B1 fed 5 V", "K1 with B1 fed 5 V"),
        ("process 45 % +- 3 %", "process"),
        ("", ""),
    ],
)
def test_what_a_reading_looked_at_is_told_without_its_value(line: str, where: str) -> None:
    """Terminals and displays as the sheet writes them, however they were typed."""
    names = {name.casefold(): name for name in ("W3+", "LIC-214", "RL1", "K1")}
    assert read_where(line, names) == where


def test_cautions_that_nobody_answered_before_the_step(tmp_path: Path) -> None:
    """The sheet says what is classified, and who uses the signal; the order is what counts."""
    record = loop_to_record(LOOP)
    record["role"] = ["control", "trip"]
    record["places"][-1]["area"] = "zone 1"
    far = record["places"][-1]["name"]
    opened = e.Opened("LT-214", record, "1.2", "two-wire-input")
    told = [
        opened,
        e.CautionAcknowledged("trip"),
        e.Altered("wire lifted", "W3+"),
        e.ReadingTaken("V JB9:1 JB9:2 3.0", far, 3.0, True),
        e.CautionAcknowledged("zone"),
        e.Altered("bypass", "trip"),
    ]
    path = tmp_path / "LT-214_2024-03-12_01.jsonl"
    path.write_bytes(b"".join(line_of(to_record(x, n, START)) for n, x in enumerate(told, 1)))
    row = row_of(tmp_path)
    assert set(row.unacknowledged) == {"zone", "manual"}
    assert (row.interruptions, row.open_items) == (1, ("bypass", "wire lifted"))


@pytest.mark.parametrize(
    ("spoil", "damaged", "status"),
    [
        (lambda raw: raw + b'{"schema": 1, "numb', 1, "open"),
        (lambda raw: raw + b"not json\n" + b"{}\n", 2, "open"),
        (lambda raw: raw + raw.splitlines(keepends=True)[-1], 0, "open"),
        (lambda raw: raw + b"\n\n", 0, "open"),
        (lambda raw: raw + b'{"text": "\xff"}\n', 1, "open"),
        (lambda raw: b"\xff" + raw, 1, "unreadable"),
        (lambda raw: b"", 0, "unreadable"),
        (lambda raw: b"no case at all\n", 1, "unreadable"),
    ],
    ids=["torn", "garbage", "twice", "blank", "not UTF-8", "first line", "empty", "no case"],
)
def test_damage_costs_one_row_at_most(tmp_path: Path, spoil, damaged: int, status: str) -> None:
    path = write(tmp_path, [reading("V X20:1 X20:0 24.0")])
    write(tmp_path, [reading("V X20:1 X20:0 24.0")], "LT-214_2024-03-12_02")
    path.write_bytes(spoil(path.read_bytes()))
    spoilt, whole = sorted(Records.open([Source(str(tmp_path))]).rows(), key=lambda row: row.name)
    assert (spoilt.damaged, spoilt.status) == (damaged, status)
    assert (whole.damaged, whole.status, whole.readings) == (0, "open", 1)


def test_a_number_or_a_moment_out_of_all_bounds_counts_as_none(tmp_path: Path) -> None:
    """A chance is within 0 to 1 and no reading takes years; a case written elsewhere may say so."""
    done = [
        ranked(("W3+", "open", 0.9)),
        reading("V X20:1 X20:0 24.0"),
        e.CauseConfirmed("W3+", "open", "seen"),
    ]
    path = write(tmp_path, done)
    lines = [json.loads(line) for line in path.read_bytes().splitlines()]
    for line in lines:
        if line["event"] == "ranked":
            line["unexplained"], line["top"][0][3] = 1e308, 1e308
        if line["event"] == "reading":
            line["minutes"] = 1e308
    lines[0]["at"] = "0001-01-01T00:00:00+14:00"  # in UTC the year before the first
    path.write_text("".join(f"{json.dumps(line)}\n" for line in lines), encoding="utf-8")
    row = row_of(tmp_path)
    assert (row.unmodelled, row.brier, row.suspect_chance, row.minutes) == (None, None, 0.0, 0.0)
    assert (row.status, row.part, row.opened, row.elapsed) == ("open", "W3+", None, 0.0)


def test_filters_compare_whole_words_and_never_run_them(tmp_path: Path) -> None:
    seen = e.CauseConfirmed("W3+", "open", "seen")
    write(tmp_path, [seen, e.Closed(e.CONFIRMED)], "a")
    write(tmp_path, [e.Closed(e.SOUND)], "b")
    write(tmp_path, [ranked(("W3+", "open", 0.9))], "c")
    records = Records.open([Source(str(tmp_path), "here")])
    assert records.count(Filters(tags=["lt-214"])) == 3
    assert records.count(Filters(tags=["LT-21"])) == 0
    assert records.count(Filters(status=["cause confirmed", "open"])) == 2
    assert records.count(Filters(parts=["W3+"], faults=["open"], plants=["HERE"])) == 2
    assert records.count(Filters(since=START.date(), until=START.date())) == 3
    assert records.count(Filters(tags=["x') or true --"])) == 0


def test_a_source_that_is_not_there_is_said(tmp_path: Path) -> None:
    for where in ("nowhere", "nowhere.parquet", "duckdb:nowhere.db"):
        with pytest.raises(ReviewError, match="nowhere"):
            Records.open([Source(str(tmp_path / where) if ":" not in where else where)])


def test_a_digest_follows_its_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """New, changed and removed files; a damaged digest; each time the rows are those of the files.

    What is not changed is not read again: a file emptied behind the digest's back, its size and
    time kept, still has its row.
    """
    from diagnose.review import digests

    monkeypatch.setattr(digests, "FEW", 1)
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "cases"
    source = [Source(str(folder), "here")]

    def told() -> list[tuple[str, int]]:
        return [(row.name, row.readings) for row in Records.open(source).rows()]

    first = write(folder, [reading("V X20:1 X20:0 24.0")], "a")
    write(folder, [], "b")
    assert told() == told() == [("a", 1), ("b", 0)]
    write(folder, [reading("V X20:1 X20:0 24.0")] * 2, "b")
    write(folder, [], "c")
    assert told() == told() == [("a", 1), ("b", 2), ("c", 0)]
    kept = first.stat()
    first.write_bytes(b" " * kept.st_size)
    os.utime(first, ns=(kept.st_atime_ns, kept.st_mtime_ns))
    (folder / "c.jsonl").unlink()
    assert told() == told() == [("a", 1), ("b", 2)]
    digests.digest_path(folder, "here").write_bytes(b"spoilt")
    assert told() == [("b", 2), ("a", 0)]  # what has no day stands last


@pytest.mark.parametrize(
    ("at", "day", "opened"),
    [
        ("2024-03-12T00:30:00+01:00", date(2024, 3, 12), "2024-03-11 23:30:00"),
        ("2024-03-12T23:30:00Z", date(2024, 3, 12), "2024-03-12 23:30:00"),
        ("2024-03-12T23:30:00-05:00", date(2024, 3, 12), "2024-03-13 04:30:00"),
        ("2024-03-12T23:30:00", date(2024, 3, 12), None),
        ("some day", None, None),
    ],
)  # fmt: skip
def test_the_day_is_local_and_the_moment_is_utc(
    tmp_path: Path, at: str, day: date | None, opened: str | None
) -> None:
    """By hand; without an offset from UTC the moment is not known (RFC 3339, 4.3)."""
    path = write(tmp_path, [reading("V X20:1 X20:0 24.0")])
    first, *rest = path.read_bytes().splitlines(keepends=True)
    record = json.loads(first) | {"at": at}
    path.write_bytes(json.dumps(record).encode() + b"\n" + b"".join(rest))
    row = row_of(tmp_path)
    assert (row.day, row.opened and str(row.opened), row.readings) == (day, opened, 1)


def test_values_of_another_type_are_left_out_and_cost_nothing_else(tmp_path: Path) -> None:
    """As a careless hand or another program might have written them."""
    path = write(tmp_path, [reading("V X20:1 X20:0 24.0", 2.5)])
    head = {"schema": 1, "at": START.isoformat()}
    more = [
        {"number": 3, "event": "reading", "text": "mA X21:4 8", "minutes": "long", "advised": 7},
        {"number": 4, "event": "ranked", "top": {"a": 1}, "unexplained": "some", "versions": 3},
        {"number": "five", "event": "reading", "text": "mA X21:4 8"},
        {"number": 6, "event": "complained", "text": "\ud800"},
        {"number": 7, "event": "complained", "text": ["reads low"]},
        {"number": 8, "event": "closed", "ending": "no fault found"},
        ["no", "record"],
    ]
    lines = [json.dumps(head | item if isinstance(item, dict) else item) for item in more]
    path.write_bytes(path.read_bytes() + "\n".join(lines).encode() + b"\n")
    row = row_of(tmp_path)
    assert (row.readings, row.minutes, row.advised, row.complaint) == (2, 2.5, 0, "")
    assert (row.status, row.suspect_part, row.damaged) == ("no fault found", None, 3)


def test_a_ranking_with_odd_chances_costs_no_other_case(tmp_path: Path) -> None:
    """A chance that is no number counts as none, and a fault listed twice counts once."""
    write(tmp_path, [ranked(("G1", "dead", 0.6)), reading("x", 1.0), ranked(("G1", "dead", 0.6))])
    path = write(tmp_path, [ranked(("G1", "dead", 0.6))], "LT-214_2024-03-12_02")
    odd = ["G1", "dead", [], "much"], ["G1", "dead", [], 0.5], ["G1", "dead", [], 0.7]
    line = {"schema": 1, "number": 3, "event": "ranked", "at": START.isoformat(), "top": odd}
    path.write_bytes(path.read_bytes() + json.dumps(line).encode() + b"\n")
    rows = {row.name[-2:]: row for row in Records.open([Source(str(tmp_path))], keep=False).rows()}
    assert rows["02"].suspect_chance == 0.0
    assert rows["01"].told_nothing == 1


def test_more_cases_than_one_batch_are_shared_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each case has its row once, one that is not UTF-8 among them; more than one process works."""
    monkeypatch.setattr(from_files, "BATCH", 3)
    names = [f"LT-214_2024-03-12_{n:02d}" for n in range(1, 12)]
    for name in names:
        write(tmp_path, [e.Complained("complaint reads low")], name)
    (tmp_path / "LT-214_2024-03-13_01.jsonl").write_bytes(b"\xff\xfe")
    rows = {row.name: row for row in Records.open([Source(str(tmp_path))], keep=False).rows()}
    assert rows.pop("LT-214_2024-03-13_01").status == "unreadable"
    assert sorted(rows) == names
    assert {row.tag for row in rows.values()} == {"LT-214"}


def test_a_digest_is_of_the_cases_that_can_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What an older version could not read is read anew by one that can."""
    from diagnose.review import digests

    before = digests.digest_path(tmp_path, "p")
    monkeypatch.setattr(digests, "CASES", digests.CASES + 1)
    assert digests.digest_path(tmp_path, "p") != before
