"""A case can be computed again, years later and without its plant; the demo cases are.

Sources: none outside; the engine is compared with its own record, and the record is spoilt on
purpose.  Common practice, no source: a record that nobody can reproduce proves nothing.
"""

import json
import random
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path

import pytest

from casework.demo_cases import CASES, STORIES, TOLD
from casework.told import OPENED, reading, stamp
from diagnose.casework import disk
from diagnose.casework import events as e
from diagnose.casework.digest import ranked, versions
from diagnose.casework.log import CaseFile, case_files, create
from diagnose.casework.verify import Engines, verify
from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_lines
from diagnose.loops.plant import open_plant
from diagnose.loops.record import loop_from_record, loop_to_record
from diagnose.loops.sheet import load_sheet, load_type
from small_loop import LOOP

ROOT = Path(__file__).resolve().parents[2]
TALES = [CASES / f"{name}.jsonl" for name in TOLD]
HISTORY = [path for path in case_files(CASES) if path not in TALES]
QUICK = [path for path in HISTORY if not path.stem.startswith("LIC-214")]
SOME = random.Random(7).sample(QUICK, min(6, len(QUICK)))
"""Of the three years only some are verified here, for time; all of them: ``cases verify``."""
ENGINES: Engines = {}


def test_no_more_than_the_last_engines_are_kept() -> None:
    """A folder of cases on many loops takes the room of two."""
    engines: Engines = {}
    first = {path.stem.partition("_")[0]: path for path in reversed(QUICK)}
    for path in [first[tag] for tag in ("FV-118", "LSL-216", "ZS-221")]:
        assert verify(path, engines) == []
    assert [engine.loop.tag for engine in engines.values()] == ["LSL-216", "ZS-221"]


# -- the copy of the sheet -------------------------------------------------------------------------


def bare(loop: object) -> object:
    return replace(loop, digest="", source="")  # type: ignore[type-var]


@pytest.mark.parametrize("tag", open_plant(CASES.parent).tags())
def test_the_loop_of_a_case_is_the_loop_of_the_plant(tag: str) -> None:
    loop = open_plant(CASES.parent).load(tag)
    record = json.loads(json.dumps(loop_to_record(loop), allow_nan=False))
    assert bare(loop_from_record(record)) == bare(loop)


@pytest.mark.parametrize("name", ["two-wire-input"])
def test_a_loop_type_comes_back(name: str) -> None:
    loop = load_type(name)
    assert bare(loop_from_record(json.loads(json.dumps(loop_to_record(loop))))) == bare(loop)


@pytest.mark.parametrize("path", sorted((ROOT / "tests" / "sheets").glob("*.toml")), ids=str)
def test_a_sheet_comes_back(path: Path) -> None:
    loop = load_sheet(path)
    assert bare(loop_from_record(json.loads(json.dumps(loop_to_record(loop))))) == bare(loop)


def test_a_parameter_that_came_later_has_its_default() -> None:
    record = json.loads(json.dumps(loop_to_record(LOOP)))
    [resistor] = [part for part in record["parts"] if part["name"] == "G1"]
    del resistor["values"]["source_resistance"]
    assert bare(loop_from_record(record)) == bare(LOOP)


def test_two_loops_that_differ_have_digests_that_differ() -> None:
    record = loop_to_record(LOOP)
    other = {**record, "drift": 0.01}
    assert loop_from_record(record).digest != loop_from_record(other).digest
    same = json.loads(json.dumps(dict(reversed(record.items()))))  # the order of its keys is none
    assert loop_from_record(record).digest == loop_from_record(same).digest


# -- recorded rankings -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A case whose second ranking rests on a corrected reading."""
    loop = open_plant(CASES.parent).load("LT-214")
    engine = Engine(loop)
    with create(tmp_path_factory.mktemp("kept"), loop) as file:
        for event in (
            e.Complained("reads high"),
            reading("V X21:7 X20:0 34.06"),
            e.Declined("mA X21:4", "not allowed"),
        ):
            file.append(event)
        file.append(ranked(engine.rank(parse_lines(file.case.evidence, loop)), file.case))
        file.append(e.ReadingCorrected(3, "V X21:7 X20:0 3.406"))
        file.append(ranked(engine.rank(parse_lines(file.case.evidence, loop)), file.case))
    return file.path


def test_a_case_comes_out_as_recorded(kept: Path) -> None:
    assert verify(kept, ENGINES) == []


def test_a_faceplate_that_stands_elsewhere_is_taken_as_it_stood(tmp_path: Path) -> None:
    """The ranking was made for the controller's output that was read, far from the sheet's."""
    loop = open_plant(CASES.parent).load("LIC-214")
    engine = Engine(loop)
    with create(tmp_path, loop) as file:
        for event in (e.Complained("does not follow"), reading("LIC-214 20 %")):
            file.append(event)
        said = parse_lines(file.case.evidence, loop)
        assert engine.at(said) is not engine
        file.append(ranked(engine.rank(said), file.case))
    assert verify(file.path, {}) == []


def spoilt(kept: Path, folder: Path, change: Callable[[dict], None]) -> list[str]:
    """What is found after ``change`` was made to every record of a copy."""
    records = [json.loads(line) for line in kept.read_text(encoding="utf-8").splitlines()]
    for record in records:
        change(record)
    path = folder / "spoilt.jsonl"
    path.write_bytes(b"".join(map(disk.line_of, records)))
    return verify(path, ENGINES)


def moved(by: float) -> Callable[[dict], None]:
    def change(record: dict) -> None:
        if record["number"] == 7:
            record["top"][0][3] += by

    return change


def test_a_probability_that_was_changed_is_found(kept: Path, tmp_path: Path) -> None:
    assert spoilt(kept, tmp_path, moved(0.0)) == []
    [sentence] = spoilt(kept, tmp_path, moved(4e-6))
    assert sentence.startswith("record 7: ")
    assert sentence.endswith("; no version differs")


def test_a_reading_that_was_changed_is_found(kept: Path, tmp_path: Path) -> None:
    def change(record: dict) -> None:
        if record["number"] == 6:
            record["text"] = "V X21:7 X20:0 3.41"

    [sentence] = spoilt(kept, tmp_path, change)
    assert sentence.startswith("record 7: ")


def test_the_version_that_differed_is_named(kept: Path, tmp_path: Path) -> None:
    def change(record: dict) -> None:
        moved(0.01)(record)
        if record["event"] == "ranked":
            record["versions"] = {**record["versions"], "engine": "0123456789ab"}

    [sentence] = spoilt(kept, tmp_path, change)
    assert f"engine was 0123456789ab and is {versions()['engine']}" in sentence
    assert "numpy" not in sentence


def test_a_hypothesis_that_is_not_known_here_is_told(kept: Path, tmp_path: Path) -> None:
    def change(record: dict) -> None:
        if record["number"] == 7:
            record["top"][1][:2] = ["R99", "melted"]

    [sentence] = spoilt(kept, tmp_path, change)
    assert "R99 melted was" in sentence
    assert "not in the running" in sentence


def test_evidence_that_is_not_understood_is_told(kept: Path, tmp_path: Path) -> None:
    def change(record: dict) -> None:
        if record["number"] == 6:
            record["text"] = "V here there 3.4"

    [sentence] = spoilt(kept, tmp_path, change)
    assert sentence.startswith("record 7: its evidence is not understood: 'V here there 3.4'")


def test_a_copy_of_the_sheet_that_is_damaged_is_told(kept: Path, tmp_path: Path) -> None:
    def change(record: dict) -> None:
        if record["number"] == 1:
            record["sheet"]["parts"][0]["kind"] = "suply"

    [sentence] = spoilt(kept, tmp_path, change)
    assert "no kind is called 'suply'; did you mean supply?" in sentence


def test_a_meter_that_is_damaged_is_told(kept: Path, tmp_path: Path) -> None:
    def change(record: dict) -> None:
        if record["number"] == 1:
            record["meter"] = {"name": "x", "functions": {"V": {"percent": 1, "counts": 1}}}

    [sentence] = spoilt(kept, tmp_path, change)
    assert "meter: V: a list of ranges belongs here" in sentence


def test_a_lost_record_is_told(kept: Path, tmp_path: Path) -> None:
    lines = kept.read_bytes().splitlines(keepends=True)
    path = tmp_path / "lost.jsonl"
    path.write_bytes(b"".join([*lines[:3], *lines[4:]]))
    assert verify(path, ENGINES) == ["record 4 is missing"]


def test_a_line_that_never_counted_is_no_loss(kept: Path, tmp_path: Path) -> None:
    path = tmp_path / "torn.jsonl"
    path.write_bytes(kept.read_bytes() + b'{"schema": 1, "numb')
    assert verify(path, ENGINES) == []


def test_what_is_no_case_is_told(tmp_path: Path) -> None:
    (tmp_path / "x.jsonl").write_text("hello\n", encoding="utf-8")
    assert "is no case file" in verify(tmp_path / "x.jsonl")[0]
    assert "cannot be read" in verify(tmp_path / "none.jsonl")[0]


def test_a_case_without_a_ranking_needs_no_engine(tmp_path: Path) -> None:
    path = tmp_path / "short.jsonl"
    opened = replace(OPENED, sheet={})
    path.write_bytes(disk.line_of(e.to_record(opened, 1, stamp(1, opened).at)))
    assert verify(path) == []


# -- the demo cases --------------------------------------------------------------------------------


def test_the_stories_have_a_case_of_every_ending() -> None:
    endings = {CaseFile.open(path, write=False).case.status for path in TALES}
    assert endings == set(e.ENDINGS)
    assert len(TALES) == len(STORIES)


@pytest.mark.parametrize("path", [*TALES, *SOME], ids=lambda path: path.stem)
def test_a_demo_case_comes_out_as_recorded(path: Path) -> None:
    """After a change that is meant to change rankings: `python tests/casework/demo_cases.py`."""
    assert verify(path, ENGINES) == []
    assert CaseFile.open(path, write=False).warnings == []


@pytest.mark.parametrize("path", TALES, ids=lambda path: path.stem)
def test_a_story_tells_of_the_loop_as_it_is(path: Path) -> None:
    file = CaseFile.open(path, write=False)
    loop = open_plant(CASES.parent).load(file.case.tag)
    assert asdict(file.loop.shares) == asdict(loop.shares)
    assert bare(file.loop) == bare(loop)


@pytest.mark.parametrize("path", TALES, ids=lambda path: path.stem)
def test_a_story_confirms_what_its_last_ranking_said(path: Path) -> None:
    case = CaseFile.open(path, write=False).case
    assert (case.status == e.CONFIRMED) == (case.cause is not None)
    if case.cause:
        assert case.last_ranking is not None
        assert case.last_ranking.top[0][:2] == (case.cause.part, case.cause.fault)
        assert case.proofs
        assert all(proof.passed for proof in case.proofs)
