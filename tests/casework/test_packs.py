"""Packs: closed cases in one file a month; found as before, byte for byte, and never lost.

The judge is the folder as it was before: bytes, and what each command says of them.
"""

import json
import shutil
from datetime import date, datetime, timedelta, timezone
from hashlib import sha256
from io import StringIO
from pathlib import Path

import pytest

from casework.demo_cases import CASES
from casework.kill_pack import content, kill_many
from casework.told import reading
from diagnose.__main__ import main
from diagnose.casework import events as e
from diagnose.casework import packing
from diagnose.casework.checks import CaseError
from diagnose.casework.lock import Lock
from diagnose.casework.log import CaseFile, case_files, create
from diagnose.casework.packing import pack_folder, unpack_folder
from diagnose.casework.reader import read_case
from diagnose.casework.verify import verify
from small_loop import LOOP

LATER = date(2024, 7, 1)
ZONE = timezone(timedelta(hours=1))


def one(folder: Path, *events: e.Event, month: int = 5, ending: str = e.SOUND) -> Path:
    """A case of 2024, closed with an ending (open if there is none); its file."""
    with create(folder, LOOP, clock=lambda: datetime(2024, month, 2, 6, tzinfo=ZONE)) as file:
        for event in (*events, *([e.Closed(ending)] if ending else [])):
            file.append(event)
    return file.path


def tidy(folder: Path) -> list[str]:
    """All that lies in a folder, but for locks of cases that have files of their own."""
    return sorted(path.name for path in folder.iterdir() if path.suffix != ".lock")


@pytest.fixture
def plant(tmp_path: Path) -> Path:
    """The demo plant's file and sheets, and some of its cases."""
    shutil.copy(CASES.parent / "plant.toml", tmp_path)
    shutil.copytree(CASES.parent / "sheets", tmp_path / "sheets")
    (tmp_path / "cases").mkdir()
    for path in sorted(CASES.glob("*.jsonl"))[::4]:
        shutil.copy(path, tmp_path / "cases")
    return tmp_path


def said(capsys: pytest.CaptureFixture[str], *words: object, code: int = 0) -> str:
    assert main([*map(str, words)]) == code
    told = capsys.readouterr()
    return told.err if code == 2 else told.out


# -- found as before -------------------------------------------------------------------------------


def test_every_byte_is_there_and_the_files_are_gone(plant: Path) -> None:
    folder = plant / "cases"
    before = content(folder)
    done = pack_folder(folder, date(2099, 1, 1))
    assert content(folder) == before
    assert done.taken == sum(done.packs.values()) > 10
    assert {path.stem for path in folder.glob("*.jsonl")} == {path.stem for path in done.kept}
    assert len(before) == done.taken + len(done.kept)
    months = {name.split("_")[1][:7] for name in before.keys() - {path.stem for path in done.kept}}
    assert {path.stem for path in done.packs} == months
    assert [path.name for path in folder.iterdir() if path.name.startswith(".")] == []
    assert unpack_folder(folder) == done.taken
    assert {path.stem: path.read_bytes() for path in folder.glob("*.jsonl")} == before
    assert not list(folder.glob("*.cases"))


def test_a_pack_is_an_index_and_the_bytes_of_the_cases(tmp_path: Path) -> None:
    """Read here by the form that the module states, with nothing of its code."""
    first, second = one(tmp_path), one(tmp_path, e.Noted("Ωé"))
    second.write_bytes(second.read_bytes() + b'{"schema": 1, "num')  # torn: it has no line end
    kept = {path.stem: path.read_bytes() for path in (first, second)}
    pack_folder(tmp_path, LATER)
    assert tidy(tmp_path) == ["2024-05.cases"]
    index, body = (tmp_path / "2024-05.cases").read_bytes().split(b"\n", 1)
    told = json.loads(index)
    assert told["packs"] == 1
    found = {name: body[start : start + size] for name, start, size, _ in told["index"]}
    assert found == kept
    assert [sha256(kept[row[0]]).hexdigest() for row in told["index"]] == [
        row[3] for row in told["index"]
    ]
    assert body.count(b"\n") == sum(text.count(b"\n") for text in kept.values()) + 1


@pytest.mark.parametrize(
    "words",
    [
        ("cases", "list"), ("cases", "show", "{name}"), ("cases", "export", "{name}"),
        ("cases", "export", "{name}", "--json"), ("cases", "verify", "{name}"),
        ("completion", "cases"), ("check", "{plant}"), ("replay", "{name}", "--plain"),
        ("cases", "show", "{plant}/cases/{name}.jsonl"),
    ],
    ids=lambda words: " ".join(words),
)  # fmt: skip
def test_each_command_says_what_it_said_before(
    plant: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
) -> None:
    """Only the path that is told is that in the pack."""
    monkeypatch.setattr("sys.stdin", StringIO())
    name = "LT-214_2024-03-12_01"
    shutil.copy(CASES / f"{name}.jsonl", plant / "cases")
    full = [word.format(name=name, plant=plant) for word in words]
    home = [] if words[0] == "check" else ["--plant", plant]
    code = main([*map(str, full + home)])
    before = capsys.readouterr().out
    assert code in (0, 1)  # a ranking may be recorded by another version of the engine
    assert said(capsys, "cases", "pack", plant).endswith("left in own files.\n")
    assert not (plant / "cases" / f"{name}.jsonl").exists()
    shutil.rmtree(plant / "drills", ignore_errors=True)
    after = said(capsys, *full, *home, code=code)
    for pack in plant.glob("cases/*.cases"):
        after = after.replace(f"{pack.name}/", "")
    assert "".join(after.split()) == "".join(before.split())


# -- what stays ------------------------------------------------------------------------------------


def test_what_is_not_over_stays_and_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "cases"
    shutil.copy(CASES.parent / "plant.toml", tmp_path)
    still, over = one(folder, ending=""), one(folder, ending=e.HANDED_OVER)
    closed = one(folder)
    (folder / "odd.jsonl").write_text("x\n", encoding="utf-8")
    told = " ".join(said(capsys, "cases", "pack", tmp_path).split())
    assert f"left {still.stem}: it is open; close it first" in told
    assert f"left {over.stem}: it was handed over and may be gone on with" in told
    assert "left odd: its first line does not tell when it was opened" in told
    assert told.endswith("1 case packed, 3 left in own files.")
    assert tidy(folder) == sorted(["2024-05.cases", still.name, over.name, "odd.jsonl"])
    assert not closed.exists()
    data = json.loads(said(capsys, "cases", "pack", tmp_path, "--json"))
    assert (data["packed"], len(data["left"]), data["packs"]) == (0, 3, [])


def test_the_month_that_is_not_over_stays(tmp_path: Path) -> None:
    may, june = one(tmp_path, month=5), one(tmp_path, month=6)
    done = pack_folder(tmp_path, date(2024, 6, 30))
    assert (done.taken, done.later) == (1, 1)
    assert not may.exists()
    assert june.exists()


def test_a_case_that_somebody_writes_to_stays(tmp_path: Path) -> None:
    path = one(tmp_path)
    lock = Lock(path)
    try:
        done = pack_folder(tmp_path, LATER)
    finally:
        lock.release()
    assert path.exists()
    assert "is being written by" in done.kept[path]
    assert pack_folder(tmp_path, LATER).taken == 1


def test_a_case_that_grows_while_it_is_packed_stays_and_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = one(tmp_path)
    write = packing._write

    def slow(*words: object) -> None:
        write(*words)
        with CaseFile.open(path) as file:
            file.append(e.Noted("one more thing"))

    monkeypatch.setattr(packing, "_write", slow)
    done = pack_folder(tmp_path, LATER)
    assert done.kept == {path: "it was gone on with meanwhile"}
    monkeypatch.undo()
    assert [item.text for item in read_case(*case_files(tmp_path)).case.notes] == ["one more thing"]
    assert pack_folder(tmp_path, LATER).taken == 1
    assert [item.text for item in read_case(*case_files(tmp_path)).case.notes] == ["one more thing"]


# -- gone on with ----------------------------------------------------------------------------------


def test_a_packed_case_that_is_gone_on_with_has_a_file_of_its_own_again(tmp_path: Path) -> None:
    path, other = one(tmp_path), one(tmp_path, e.Noted("other"))
    pack_folder(tmp_path, LATER)
    pack = (tmp_path / "2024-05.cases").read_bytes()
    packed = tmp_path / "2024-05.cases" / path.name
    for where in (packed, path):  # as it is listed, and as it was called before
        with CaseFile.open(where) as file:
            assert file.path == path
            file.append(e.Noted("seen again"))
    assert case_files(tmp_path) == (path, tmp_path / "2024-05.cases" / other.name)
    assert len(read_case(path).case.notes) == 2
    assert (tmp_path / "2024-05.cases").read_bytes() == pack
    assert pack_folder(tmp_path, LATER).taken == 1
    assert case_files(tmp_path) == (packed, tmp_path / "2024-05.cases" / other.name)
    assert len(read_case(packed).case.notes) == 2
    assert [item.text for item in read_case(case_files(tmp_path)[1]).case.notes] == ["other"]


def test_one_case_is_unpacked_and_the_rest_stays(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(CASES.parent / "plant.toml", tmp_path)
    path, other = one(tmp_path / "cases"), one(tmp_path / "cases")
    text = path.read_bytes()
    said(capsys, "cases", "pack", tmp_path)
    assert str(path) in "".join(
        said(capsys, "cases", "unpack", path.stem, "--plant", tmp_path).split()
    )
    assert path.read_bytes() == text
    assert not other.exists()
    assert "has a file of its own" in said(
        capsys, "cases", "unpack", path.stem, "--plant", tmp_path, code=2
    )
    assert not [*path.parent.rglob(".*.lock")]
    assert said(capsys, "cases", "unpack", tmp_path) == "2 cases unpacked.\n"
    assert other.exists()


def test_a_new_case_takes_no_name_that_is_packed(tmp_path: Path) -> None:
    first = one(tmp_path)
    pack_folder(tmp_path, LATER)
    second = one(tmp_path)
    assert (first.name[-9:], second.name[-9:]) == ("_01.jsonl", "_02.jsonl")
    assert len(content(tmp_path)) == 2


def test_another_case_of_the_same_name_is_refused(tmp_path: Path) -> None:
    path = one(tmp_path)
    text = path.read_bytes()
    pack_folder(tmp_path, LATER)
    other = one(tmp_path / "elsewhere", e.Noted("another"))
    shutil.copy(other, path)
    done = pack_folder(tmp_path, LATER)
    assert done.kept == {
        path: "2024-05.cases holds another case of that name; give this one another"
    }
    with pytest.raises(CaseError, match="is another case of that name; rename it first"):
        unpack_folder(tmp_path)
    path.unlink()
    assert content(tmp_path) == {path.stem: text}


# -- damage ----------------------------------------------------------------------------------------


def test_a_damaged_pack_is_told_and_never_written_over(tmp_path: Path) -> None:
    path = one(tmp_path, reading("V X21:7 X20:0 3.02"))
    pack_folder(tmp_path, LATER)
    pack = tmp_path / "2024-05.cases"
    assert verify(pack / path.name) == []
    pack.write_bytes(pack.read_bytes().replace(b"3.02", b"3.03"))
    assert verify(pack / path.name) == [
        "the pack is damaged: these are not the bytes that were packed"
    ]
    spoilt = pack.read_bytes()
    more = one(tmp_path)
    with pytest.raises(CaseError, match=r"the pack is damaged.*it is left as it is"):
        pack_folder(tmp_path, LATER)
    with pytest.raises(CaseError, match="it cannot be gone on with"):
        CaseFile.open(pack / path.name)
    assert (pack.read_bytes(), tidy(tmp_path)) == (spoilt, [pack.name, more.name])


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        (b"", "line 1 is not the index of one"),
        (b"hello", "line 1 is not the index of one"),
        (b'{"packs": 1, "index": [["a", 0]]}', "line 1 is not the index of one"),
        (b'{"packs": 1, "index": [["a", -1, 5, "x"]]}', "line 1 is not the index of one"),
        (b'{"packs": 1, "index": [["..", 0, 5, "x"]]}', "line 1 is not the index of one"),
        (b'{"packs": 1, "index": [["", 0, 5, "x"]]}', "line 1 is not the index of one"),
        (b'{"packs": 1, "index": [["../a", 0, 5, "x"]]}', "line 1 is not the index of one"),
        (b'{"packs": 1, "index": [["a", 0, 5, "x"], ["a", 0, 5, "x"]]}', "not the index of one"),
        (b'{"packs": 2, "index": []}', "was written by a newer diagnose"),
    ],
)  # fmt: skip
def test_what_is_no_pack_is_told_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], line: bytes, sentence: str
) -> None:
    shutil.copy(CASES.parent / "plant.toml", tmp_path)
    one(tmp_path / "cases", ending="")
    (tmp_path / "cases" / "2024-05.cases").write_bytes(line + b"\n{}\n")
    told = " ".join(said(capsys, "cases", "list", "--plant", tmp_path, code=1).split())
    assert "problem" in told
    assert sentence in told
    assert "1 case, and 1 file that cannot be used" in told
    with pytest.raises(CaseError, match=sentence):
        read_case(tmp_path / "cases" / "2024-05.cases")


@pytest.mark.parametrize("name", ["../up", "/top", "..\\up", "a\nb", "a\0b", "\x1b[2J", "a\ud800"])
def test_a_name_that_leaves_the_folder_or_the_line_is_none(tmp_path: Path, name: str) -> None:
    """What a file may be called on one system leaves the folder on another, or moves the cursor."""
    pack = tmp_path / "2024-05.cases"
    pack.write_text(json.dumps({"packs": 1, "index": [[name, 0, 2, "0" * 64]]}) + "\n{}\n")
    with pytest.raises(CaseError, match="line 1 is not the index of one"):
        unpack_folder(tmp_path)
    assert tidy(tmp_path) == [pack.name]


@pytest.mark.parametrize(
    ("start", "size"), [(0, 10**12), (0, 10**30), (10**17, 5), (10**30, 5), (2**62, 1)]
)
def test_a_case_that_is_said_to_be_vast_takes_no_room(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], start: int, size: int
) -> None:
    """Reading asked for as many bytes as the index said: a terabyte, and more than can be said."""
    pack = tmp_path / "2024-05.cases"
    pack.write_text(json.dumps({"packs": 1, "index": [["x", start, size, "0" * 64]]}) + "\n{}\n")
    assert said(capsys, "cases", "unpack", tmp_path, code=2).count("\n") == 1
    assert main(["cases", "list", str(tmp_path)]) in (0, 1)
    assert tidy(tmp_path) == [pack.name]


def test_a_case_whose_file_is_named_over_two_lines_stays_and_is_told(tmp_path: Path) -> None:
    path = one(tmp_path)
    odd = path.rename(path.with_name("odd\n\x1b[2J.jsonl"))
    assert pack_folder(tmp_path, LATER).kept == {
        odd: "its name holds what no name in a pack may; give it another"
    }
    assert odd.is_file()


def test_a_full_disk_leaves_all_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = one(tmp_path)
    text = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(packing, "write_pack", full)
    with pytest.raises(CaseError, match="no space left on device; all cases are as they were"):
        pack_folder(tmp_path, LATER)
    assert path.read_bytes() == text
    assert tidy(tmp_path) == [path.name]


# -- killed ----------------------------------------------------------------------------------------


def test_a_killed_packer_loses_nothing(tmp_path: Path) -> None:
    """`python tests/casework/kill_pack.py 300` kills more of them."""
    cases = {}
    for n in range(60):
        path = one(tmp_path / "made", e.Noted("x" * (n + 1)), month=1 + n % 6)
        cases[f"{n:02d}_{path.stem}"] = path.read_bytes()
    assert kill_many(10, cases, tmp_path / "cases") > 0
