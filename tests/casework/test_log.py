"""The file of a case keeps what it acknowledged, whatever happens to process, disk and file.

Sources: POSIX.1-2017 write() (short writes, ENOSPC), fsync(); otherwise common practice.
"""

import errno
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from casework.kill import kill_many
from casework.told import OPENED, START, reading, stamp
from diagnose.casework import disk, log
from diagnose.casework import events as e
from diagnose.casework.checks import CaseError
from diagnose.casework.log import CaseFile, case_files, create
from diagnose.casework.reader import read_case
from diagnose.errors import SheetError
from diagnose.inference.meters import Meter, MeterFunction
from small_disk import small_disk
from small_loop import LOOP


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A case of four records, closed again."""
    with create(tmp_path, LOOP) as file:
        for text in ("V X21:7 X20:0 3.406", "LIC-214 60 %", "LG-214 50 %"):
            file.append(reading(text))
    return file.path


def looked_at(path: Path) -> CaseFile:
    return CaseFile.open(path, write=False)


def numbers(file: CaseFile) -> list[int]:
    return [entry.number for entry in file.events]


def lines(path: Path) -> list[bytes]:
    return path.read_bytes().splitlines(keepends=True)


def refused(path: Path, write: bool = False) -> str:
    with pytest.raises(CaseError) as caught:
        CaseFile.open(path, write)
    assert "\n" not in str(caught.value)
    return str(caught.value)


# -- in the ordinary -------------------------------------------------------------------------------


def test_a_case_comes_back_as_it_was_left(path: Path) -> None:
    with CaseFile.open(path) as file:
        file.append(e.Noted("one more"))
        left = file.case
    again = looked_at(path)
    assert (again.case, again.warnings, again.damage) == (left, [], ())
    assert again.case.evidence == ("V X21:7 X20:0 3.406", "LIC-214 60 %", "LG-214 50 %")


def test_the_file_is_named_by_tag_day_and_counter(tmp_path: Path) -> None:
    made = []
    for _ in range(3):
        with create(tmp_path, LOOP, clock=lambda: START) as file:
            made.append(file.path.name)
    assert made == [f"LT-214_2024-03-12_{n:02d}.jsonl" for n in (1, 2, 3)]
    assert case_files(tmp_path, tmp_path / "none") == tuple(tmp_path / name for name in made)


@pytest.mark.parametrize("tag", ["../up", "a/b", "", "a\0b", "C:\\x", "tag\n", "-rf", ".hidden"])
def test_no_other_tag_names_a_file(tag: str, tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="the tag of the loop names no file"):
        create(tmp_path, replace(LOOP, tag=tag))
    assert list(tmp_path.iterdir()) == []


def test_the_first_line_holds_all_that_a_ranking_rests_on(tmp_path: Path) -> None:
    meter = Meter("old one", {"V": MeterFunction(0.5, 3, (2.0, 20.0, 200.0), 2000)}, burden=10.0)
    rates = {("R1", "drift"): 4.0, ("F1", "open"): 0.5}
    with create(tmp_path, LOOP, meter, rates) as file:
        path = file.path
    found = looked_at(path)
    assert replace(found.loop, digest="", source="") == replace(LOOP, digest="", source="")
    assert found.meter.functions["V"] == meter.functions["V"]
    assert (found.meter.name, found.meter.burden) == ("old one", 10.0)
    assert found.rates == rates


def test_every_append_is_on_the_disk_before_it_returns(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    flushed: list[int] = []
    real = os.fsync
    monkeypatch.setattr(os, "fsync", lambda n: (flushed.append(os.fstat(n).st_size), real(n))[1])
    with CaseFile.open(path) as file:
        for count in range(1, 4):
            file.append(e.Noted("x"))
            assert len(flushed) == count
            assert flushed[-1] == path.stat().st_size


def test_an_impossible_event_is_not_written(path: Path) -> None:
    before = path.read_bytes()
    with CaseFile.open(path) as file:
        with pytest.raises(CaseError, match="no reading 99"):
            file.append(e.ReadingCorrected(99, "V a b 3"))
        with pytest.raises(CaseError, match="9000 characters"):
            file.append(e.Noted("x" * 9000))
    assert path.read_bytes() == before


def test_a_case_open_for_reading_takes_no_event(path: Path) -> None:
    with pytest.raises(CaseError, match="open for reading only"):
        looked_at(path).append(e.Noted("x"))


# -- damaged files ---------------------------------------------------------------------------------


@pytest.mark.parametrize("cut", [1, 2, 10, 60, 90])
def test_a_torn_last_line_costs_nothing_before_it(path: Path, cut: int) -> None:
    whole = lines(path)
    path.write_bytes(b"".join(whole)[:-cut])
    missing = 0 if cut == 1 else 1  # without its line end a record is still whole
    with CaseFile.open(path) as file:
        assert numbers(file) == [1, 2, 3, 4][: 4 - missing]
        assert len(file.warnings) == missing
        assert all("line 4 was cut short" in text for text in file.warnings)
        assert file.append(e.Noted("gone on")).number == 5 - missing
    again = looked_at(path)
    assert numbers(again) == list(range(1, 6 - missing))
    assert again.damage == ()
    assert lines(path)[:3] == whole[:3]


@pytest.mark.parametrize("size", [0, 1, 30])
def test_a_file_torn_in_its_first_line_is_no_case(path: Path, size: int) -> None:
    path.write_bytes(path.read_bytes()[:size])
    assert re.search(r"is empty|is no case file|line 1 with the copy of the sheet", refused(path))


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b'{"schema": 1, "number": 3, "event": "noted"}\n', "at: nothing stands"),
        (b'{"schema": 1, "number": 3, "ev}\n', "it is not JSON"),
        (b'{"schema": 1, "number": 3, "ev\n', "it is not JSON"),  # its record is missing
        (b"\xff\xfe{}}\n", "it is not UTF-8 text"),
        (b"[" * 100_000 + b"}\n", "it is not JSON"),
        (b'{"number": ' + b"9" * 5000 + b"}\n", "it is not JSON"),
        (b'{"schema": 1, "number": NaN}\n', "NaN is no number"),
        (b"\0" * 40 + b"}\n", "it is not JSON"),
    ],
)
def test_a_damaged_line_is_told_and_costs_no_other(path: Path, line: bytes, why: str) -> None:
    kept = lines(path)
    path.write_bytes(b"".join([*kept[:2], line, kept[3]]))
    file = looked_at(path)
    assert numbers(file) == [1, 2, 4]
    assert any(text.startswith("line 3 is damaged") and why in text for text in file.warnings)
    assert "record 3 is missing" in file.damage


def test_a_line_gone_without_trace_is_told(path: Path) -> None:
    kept = lines(path)
    path.write_bytes(b"".join([*kept[:2], kept[3]]))
    assert looked_at(path).damage == ("record 3 is missing",)


def test_the_first_line_lost_is_the_case_lost(path: Path) -> None:
    kept = lines(path)
    path.write_bytes(b'{"schema": 1, "numb\n' + b"".join(kept[1:]))
    assert "line 1 with the copy of the sheet is damaged" in refused(path)
    path.write_bytes(b"".join(kept[1:]))
    assert "does not begin with the event 'opened'" in refused(path)


def test_line_ends_of_another_system_do_not_matter(path: Path) -> None:
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert (numbers(looked_at(path)), looked_at(path).warnings) == ([1, 2, 3, 4], [])


def written(path: Path, *entries: e.Stamped) -> CaseFile:
    records = (e.to_record(item.event, item.number, item.at) for item in entries)
    path.write_bytes(b"".join(map(disk.line_of, records)))
    return looked_at(path)


def test_a_number_used_twice_counts_once(path: Path) -> None:
    entries = stamp(1, OPENED), stamp(2, e.Noted("first")), stamp(2, e.Noted("second"))
    file = written(path, *entries, stamp(3, e.Noted("third")))
    assert [note.text for note in file.case.notes] == ["first", "third"]
    assert file.damage == ("line 3 is left out: number 2 is used already; the next is 3",)


def test_a_line_repeated_is_no_damage(path: Path) -> None:
    note = stamp(2, e.Noted("first"))
    file = written(path, stamp(1, OPENED), note, note)
    assert (file.damage, len(file.case.notes)) == ((), 1)
    assert file.warnings == ["line 3 repeats record 2; it counts once"]


def test_events_are_in_the_order_of_their_numbers(path: Path) -> None:
    entries = [stamp(n, e.Noted(str(n))) for n in (3, 2, 4)]
    file = written(path, stamp(1, OPENED), *entries)
    assert [note.text for note in file.case.notes] == ["2", "3", "4"]


def test_a_clock_set_back_is_told_and_changes_no_order(path: Path) -> None:
    early = stamp(3, e.Noted("later"), START - timedelta(hours=1))
    file = written(path, stamp(1, OPENED), stamp(2, e.Noted("earlier")), early)
    assert [note.text for note in file.case.notes] == ["earlier", "later"]
    assert ["the clock was set back" in text for text in file.warnings] == [True]
    assert file.damage == ()


def test_a_clock_set_back_while_writing_is_told(tmp_path: Path) -> None:
    times = iter([START, START - timedelta(days=1)])
    with create(tmp_path, LOOP, clock=lambda: next(times)) as file:
        file.append(e.Noted("x"))
    assert "the clock was set back" in file.warnings[0]


def test_an_event_that_cannot_have_happened_is_left_out(path: Path) -> None:
    entries = stamp(1, OPENED), stamp(2, e.ReadingWithdrawn(9, "slip")), stamp(3, e.Noted("x"))
    file = written(path, *entries)
    assert numbers(file) == [1, 3]
    assert "line 2 is left out: there is no reading 9" in file.damage[0]


@pytest.mark.parametrize("where", [0, 2])
def test_a_newer_case_is_refused(path: Path, where: int) -> None:
    kept = lines(path)
    kept[where] = kept[where].replace(b'"schema": 1', b'"schema": 2')
    path.write_bytes(b"".join(kept))
    before = path.read_bytes()
    assert "written by a newer diagnose (schema 2" in refused(path, write=True)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "content", [b"hello\n", b"{}\n", b"[1]\n", b"\x89PNG\r\n\x1a\n", b'{"tag": "LT-214"}\n', b"1\n"]
)
def test_a_foreign_file_is_refused_and_left_alone(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "photo.jsonl"
    path.write_bytes(content)
    assert "is no case file" in refused(path, write=True)
    assert list(tmp_path.iterdir()) == [path]
    assert path.read_bytes() == content


def test_a_folder_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    assert "is a folder" in refused(tmp_path)
    assert "cannot be read: no such file" in refused(tmp_path / "none.jsonl")
    assert "cannot be read" in refused(Path("nul\0byte"))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("form", 99), ("tag", "../x"), ("parts", [{}]), ("parts", "x"), ("range", ["mm", 0, "x"]),
        ("places", [{"name": "a"}]), ("shares", {"sound": 2.0}), ("points", [{"name": 5}]),
        ("reference", "nowhere"), ("signalling", "yes"), ("drift", None), ("role", [[]]),
        ("places", [{"name": "a", "title": "a", "minutes": 1, "sudo": 1}]),
    ],
)  # fmt: skip
def test_a_damaged_copy_of_the_sheet_is_told(path: Path, key: str, value: object) -> None:
    sheet = {**OPENED.sheet, key: value}
    file = written(path, stamp(1, replace(OPENED, sheet=sheet)))
    with pytest.raises(SheetError, match="copy of the sheet"):
        _ = file.loop


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused_in_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    path = tmp_path_factory.mktemp("any") / "any.jsonl"
    path.write_bytes(content)
    assert refused(path)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=6,
)
heads = st.fixed_dictionaries(
    {},
    optional={
        "schema": st.integers(-1, 3) | json_values,
        "number": st.integers(-1, 9) | json_values,
        "event": st.sampled_from(sorted(e.Event.registry)) | json_values,
        "at": st.just("2024-03-12T02:40:00+01:00") | json_values,
        "text": json_values,
        "reading": json_values,
        "top": json_values,
        "minutes": json_values,
    },
)


@given(st.lists(st.binary(max_size=60) | heads.map(lambda it: json.dumps(it).encode()), max_size=6))
def test_any_lines_after_the_first_cost_no_whole_record(
    tmp_path_factory: pytest.TempPathFactory, found: list[bytes]
) -> None:
    path = tmp_path_factory.mktemp("any") / "any.jsonl"
    first, last = stamp(1, OPENED), stamp(1000, e.Noted("the last"))
    ends = [disk.line_of(e.to_record(item.event, item.number, item.at)) for item in (first, last)]
    path.write_bytes(b"\n".join([ends[0].rstrip(), *found, ends[1]]))
    try:
        file = looked_at(path)
    except CaseError as error:
        assert "newer diagnose" in str(error)
        return
    assert file.events[0] == first
    assert last in file.events or not file.case.is_open
    assert file.case.number == file.events[-1].number


@given(st.integers(0, 10**6), st.integers(0, 255))
def test_one_wrong_byte_never_stops_the_reader(
    tmp_path_factory: pytest.TempPathFactory, where: int, byte: int
) -> None:
    entries = [stamp(1, OPENED), *(stamp(n, e.Noted(f"note {n}")) for n in range(2, 6))]
    content = bytearray(
        b"".join(disk.line_of(e.to_record(it.event, it.number, it.at)) for it in entries)
    )
    content[where % len(content)] = byte
    path = tmp_path_factory.mktemp("any") / "any.jsonl"
    path.write_bytes(content)
    try:
        read = read_case(path)
    except CaseError:
        return
    assert len(read.events) >= len(entries) - 2


# -- killed ----------------------------------------------------------------------------------------


def test_a_killed_writer_loses_nothing_that_it_acknowledged(tmp_path: Path) -> None:
    """`python tests/casework/kill.py 500` kills more of them; DIAGNOSE_KILLS says how many here."""
    times = int(os.environ.get("DIAGNOSE_KILLS", "25"))
    assert kill_many(times, tmp_path) > times


# -- two writers -----------------------------------------------------------------------------------

HOLDER = """
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from diagnose.casework.log import CaseFile
file = CaseFile.open(sys.argv[1])
print("open", flush=True)
sys.stdin.read()
"""


@contextmanager
def other_writer(path: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process that has the case open for writing."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(path)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as child:  # fmt: skip
        assert child.stdout is not None
        assert child.stdout.readline() == "open\n"
        try:
            yield child
        finally:
            child.kill()


def test_a_second_writer_is_told_who_writes(path: Path) -> None:
    with other_writer(path) as child:
        assert re.search(
            rf"written by process {child.pid} on \S+ since 20\d\d-", refused(path, True)
        )
        assert numbers(looked_at(path)) == [1, 2, 3, 4]


def test_the_lock_of_a_dead_process_holds_nobody_up(path: Path) -> None:
    with other_writer(path) as child:
        child.kill()
        child.wait()
        with CaseFile.open(path) as file:
            assert file.append(e.Noted("after it died")).number == 5


def test_one_process_cannot_write_twice_either(path: Path) -> None:
    with CaseFile.open(path):
        assert f"process {os.getpid()}" in refused(path, write=True)
    CaseFile.open(path).close()


@pytest.mark.parametrize("note", [b"", b"{", b"[]", b'{"pid": "x"}', b"\xff", b"[" * 900])
def test_a_damaged_note_of_the_holder_is_no_harm(path: Path, note: bytes) -> None:
    with CaseFile.open(path):
        (path.parent / f".{path.name}.holder").write_bytes(note)
        assert "written by another process" in refused(path, write=True)


# -- disks that refuse -----------------------------------------------------------------------------


def full_after(size: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that takes ``size`` more bytes, as POSIX has it: a short write, then ENOSPC."""
    real, room = os.write, [size]

    def write(number: int, content: bytes) -> int:
        if not room[0]:
            raise OSError(errno.ENOSPC, "No space left on device")
        done = real(number, bytes(content)[: room[0]])
        room[0] -= done
        return done

    monkeypatch.setattr(disk.os, "write", write)


def test_ctrl_c_while_an_event_is_written_leaves_none_of_it(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It was in the file and not in the session: the next event got its number and was left out."""

    def interrupted(_: int) -> None:
        raise KeyboardInterrupt

    before = path.read_bytes()
    with CaseFile.open(path) as file:
        with monkeypatch.context() as patch:
            patch.setattr(disk.os, "fsync", interrupted)
            with pytest.raises(KeyboardInterrupt):
                file.append(e.Noted("interrupted"))
            with pytest.raises(KeyboardInterrupt):
                create(tmp_path / "new", LOOP)
        assert path.read_bytes() == before
        file.append(e.Noted("after it"))
    assert looked_at(path).warnings == []
    assert numbers(looked_at(path)) == [1, 2, 3, 4, 5]
    assert list((tmp_path / "new").glob("*.jsonl")) == []


@pytest.mark.parametrize("size", [0, 1, 40])
def test_a_full_disk_costs_only_the_event_that_is_refused(
    path: Path, size: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = path.read_bytes()
    with CaseFile.open(path) as file:
        with monkeypatch.context() as patch:
            full_after(size, patch)
            with pytest.raises(CaseError, match="the disk is full: this event is not in the case"):
                file.append(e.Noted("too much"))
        assert (path.read_bytes(), file.case.number) == (before, 4)
        assert file.append(e.Noted("room again")).number == 5
    assert numbers(looked_at(path)) == [1, 2, 3, 4, 5]


def test_what_cannot_be_cut_off_is_left_aside(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no(*_: object) -> None:
        raise OSError(errno.EIO, "Input/output error")

    with CaseFile.open(path) as file:
        with monkeypatch.context() as patch:
            full_after(30, patch)
            patch.setattr(disk.os, "ftruncate", no)
            with pytest.raises(CaseError, match="the disk is full"):
                file.append(e.Noted("too much"))
        file.append(e.Noted("room again"))
    again = looked_at(path)
    assert (numbers(again), again.damage) == ([1, 2, 3, 4, 5], ())
    assert "line 5 was cut short" in again.warnings[0]


def test_what_is_not_flushed_is_not_acknowledged(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    with CaseFile.open(path) as file:
        with monkeypatch.context() as patch:
            patch.setattr(disk.os, "fsync", broken)
            with pytest.raises(CaseError, match="cannot be written: input/output error"):
                file.append(e.Noted("lost"))
        assert file.case.number == 4
    assert numbers(looked_at(path)) == [1, 2, 3, 4]


def test_no_case_is_left_behind_on_a_full_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full_after(100, monkeypatch)
    with pytest.raises(CaseError, match="the disk is full: no case is opened"):
        create(tmp_path, LOOP)
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_is_really_full(tmp_path: Path) -> None:
    with small_disk(tmp_path) as folder, create(folder, LOOP) as file:
        with pytest.raises(CaseError, match="the disk is full: this event is not in the case"):
            for _ in range(1000):
                file.append(e.Noted("x" * 500))
        known = file.case.number
        assert 10 < known < 300
        assert numbers(looked_at(file.path)) == list(range(1, known + 1))
        file.close()
        with pytest.raises(CaseError, match="the disk is full: no case is opened"):
            create(folder, LOOP)
        assert [item.name for item in case_files(folder)] == [file.path.name]


def test_a_disk_that_is_read_only(tmp_path: Path) -> None:
    with small_disk(tmp_path) as folder:
        with create(folder, LOOP) as file:
            path = file.path
        subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
        assert re.search(r"cannot be (locked for writing|written): read-only", refused(path, True))
        assert numbers(looked_at(path)) == [1]
        with pytest.raises(CaseError, match="cannot be written: read-only file system; no case"):
            create(folder, LOOP)


def test_a_folder_that_may_not_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def denied(*_: object, **__: object) -> int:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(disk.os, "open", denied)
    with pytest.raises(CaseError, match="cannot be written: permission denied; no case is opened"):
        create(tmp_path, LOOP)


def test_a_file_where_the_folder_should_be(tmp_path: Path) -> None:
    (tmp_path / "cases").write_text("x")
    with pytest.raises(CaseError, match="cannot be written"):
        create(tmp_path / "cases", LOOP)


def test_a_thousand_cases_a_day_are_enough(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(disk, "MOST_CASES", 2)
    create(tmp_path, LOOP).close()
    with pytest.raises(CaseError, match="there are 1 cases called LT-214_"):
        create(tmp_path, LOOP)


def test_local_time_tells_its_offset() -> None:
    assert log.local_time().utcoffset() is not None
