"""Whatever a sheet or a plant file holds, it is loaded or refused in sentences; nothing is run.

Texts come from a grammar of TOML with the keys that real sheets use, from real sheets with one
value changed, and from bytes.  What a loader must never do with them follows from the rules for
names (`loops.names`) and from TOML 1.0; the traps are those that any reader of foreign text meets.
"""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from diagnose.circuit.graph import CircuitError
from diagnose.circuit.graph import check as check_circuit
from diagnose.errors import SheetError
from diagnose.library import demo_plant, models
from diagnose.loops.kind import Kind
from diagnose.loops.loop import Loop
from diagnose.loops.names import TAG
from diagnose.loops.plant import open_plant
from diagnose.loops.record import loop_from_record, loop_to_record
from diagnose.loops.sheet import load_sheet

SHEETS = Path(__file__).parents[1] / "sheets"
REAL = [
    tomllib.loads(path.read_text(encoding="utf-8"))
    for folder in (SHEETS, demo_plant() / "sheets", models())
    for path in sorted(folder.glob("*.toml"))
]
PLANT = tomllib.loads((demo_plant() / "plant.toml").read_text(encoding="utf-8"))

CRASHER = "__import__('pathlib').Path('PWNED').touch()"
NASTY = [
    "9**9**9**9", CRASHER, "eval('1')", "1e400", "-1e400 V", "nan", "nan ohm", "inf", "inf V",
    "-inf", "1/0", "0 V", "-5 ohm", "1e308 Mohm", "9" * 400, "9" * 5000, "1" + "0" * 60 + " V",
    "../../etc/passwd", "..", "/", "C:\\x", "con", "~", "$HOME", "%s%n", "{0}", "{tag}", "",
    " ", "\t", "\n", "\r\n", "\x00", "\x1b[2J", "\x7f", "\u202e", "\ufeff", "\u2028", "\u2126",
    "ohm", "V", "12 V 12 V", "1,2,3 V", "1.2.3", "4k7", "0x10", "1_000 V", "--5", "+-5 V", "5 ±",
    "X21:7", "X20:0", "TX:+", "PE", "W3+", "W3+.1", "two-wire-input", "resistor", "[loop]", "'",
    '"""', "#", "a" * 41, "a" * 300, "\U0001f600", "lambda: 0", "import os",
]  # fmt: skip


def keys_of(value: Any) -> Iterator[str]:
    """All keys below a value."""
    if isinstance(value, dict):
        yield from value
    for item in value.values() if isinstance(value, dict) else value:
        if isinstance(item, dict | list):
            yield from keys_of(item)


def texts_of(value: Any) -> Iterator[str]:
    """All texts below a value."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for item in value.values() if isinstance(value, dict) else value:
            yield from texts_of(item)


OF_KINDS = {
    name
    for kind in Kind.registry.values()
    for name in (*kind.pins, *(parameter.name for parameter in kind.parameters))
}
KEYS = sorted({key for sheet in REAL for key in keys_of(sheet)} | OF_KINDS)
TEXTS = sorted({text for sheet in REAL for text in texts_of(sheet)} | set(Kind.registry))

texts = st.sampled_from(TEXTS) | st.sampled_from(NASTY) | st.text(max_size=30)
numbers = st.integers() | st.integers(-3, 30) | st.floats() | st.sampled_from([10**40, -0.0])
scalars = texts | numbers | st.booleans() | st.dates() | st.times() | st.datetimes()
keys = st.sampled_from(KEYS) | st.sampled_from(NASTY) | st.text(max_size=8)
values = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3),
    max_leaves=6,
)  # fmt: skip
entries = st.dictionaries(keys, values, max_size=6)


# -- TOML from values ------------------------------------------------------------------------------


def quoted(text: str) -> str:
    """A basic string; what TOML 1.0 does not allow as it is becomes an escape."""
    plain = "".join(
        letter if letter.isprintable() and letter not in '"\\' and ord(letter) < 0xD800
        else f"\\U{ord(letter):08x}" if not 0xD800 <= ord(letter) <= 0xDFFF else "?"
        for letter in text
    )  # fmt: skip
    return f'"{plain}"'


def literal(value: Any) -> str:
    """A value as TOML writes it."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{quoted(k)} = {literal(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return f"[{', '.join(map(literal, value))}]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return quoted(value)
    return value.isoformat() if hasattr(value, "isoformat") else repr(value)


def document(table: dict[str, Any]) -> str:
    return "".join(f"{quoted(key)} = {literal(value)}\n" for key, value in table.items())


@pytest.mark.parametrize("sheet", [*REAL, {"a": {"b": [1, 2.5, True, "x\n\x00\u2028"]}}])
def test_what_is_written_reads_back(sheet: dict[str, Any]) -> None:
    assert tomllib.loads(document(sheet)) == sheet


# -- loaded, or refused in sentences ---------------------------------------------------------------


def told(error: SheetError) -> None:
    """Each problem is one line that a terminal can print, and says something."""
    assert error.problems
    for file, key, text in error.problems:
        assert text.strip()
        assert max(map(len, (key, text))) < 1000
        for piece in (file, key, text):
            assert piece.isprintable(), piece


def loaded(content: str | bytes, name: str = "sheet.toml") -> Loop | None:
    """The loop of a sheet, None where it was refused; nothing else may come of it."""
    raw = content if isinstance(content, bytes) else content.encode("utf-8", "replace")
    with TemporaryDirectory() as home:
        folder = Path(home) / "plant" / "sheets"
        folder.mkdir(parents=True)
        path = folder / name
        path.write_bytes(raw)
        before = sorted(Path(home).rglob("*"))
        try:
            loop = load_sheet(path)
            check_circuit(loop)
        except SheetError as error:
            told(error)
            return None
        except CircuitError as error:
            assert all(reason.isprintable() for reason in error.reasons)
            return None
        finally:
            assert sorted(Path(home).rglob("*")) == before
            assert not Path("PWNED").exists()
    return loop


def usable(loop: Loop | None) -> None:
    """What was loaded has a tag that names a file, and its copy in a case gives it back."""
    if loop is not None:
        assert TAG.fullmatch(loop.tag)
        again = loop_from_record(loop_to_record(loop))
        assert (again.parts, again.points) == (loop.parts, loop.points)


@settings(max_examples=200)
@given(st.binary(max_size=400) | st.text(max_size=200).map(lambda text: text.encode("utf-16")))
@example(b"\xff\xfe[loop]")
@example(b"[" * 100_000)
@example(b"a" + b".a" * 20_000 + b" = 1")
@example(b"a = " + b"9" * 5000)
@example(b"a = " + b"[" * 5000)
@example(b"a = { b = " * 2000)
@example(b"[loop]\ntag = " + b'"' + b"x" * 1_100_000 + b'"')
@example(b'[[part]]\nname = "R1"\n' * 3000)
def test_any_bytes_are_loaded_or_refused(content: bytes) -> None:
    usable(loaded(content))


@settings(max_examples=300)
@given(
    st.fixed_dictionaries(
        {"loop": entries | values},
        optional={
            "shares": entries | values, "place": st.lists(entries, max_size=3) | values,
            "part": st.lists(entries, max_size=4) | values, "omit": values, "rename": values,
            "point": st.lists(entries, max_size=3) | values,
        },
    ),
    st.dictionaries(keys, values, max_size=1),
)  # fmt: skip
def test_any_table_with_real_keys_is_loaded_or_refused(
    sheet: dict[str, Any], more: dict[str, Any]
) -> None:
    usable(loaded(document({**more, **sheet})))


def places(value: Any, here: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The paths to everything in a table."""
    if here:
        yield here
    if not isinstance(value, dict | list):
        return
    for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
        yield from places(inner, (*here, key))


def changed(sheet: Any, path: tuple[Any, ...], new: Any) -> Any:
    """A copy of a table with one thing replaced."""
    first, *rest = path
    copy = dict(sheet) if isinstance(sheet, dict) else list(sheet)
    copy[first] = changed(copy[first], tuple(rest), new) if rest else new
    return copy


@st.composite
def spoilt(draw: st.DrawFn, what: str) -> dict[str, Any]:
    """A real ``sheet``, or the ``plant`` file, in which up to three things are another value."""
    real = {"sheet": REAL, "plant": [PLANT]}[what]
    sheet = real[draw(st.integers(0, len(real) - 1))]
    for _ in range(draw(st.integers(1, 3))):
        paths = [*places(sheet)]
        path = paths[draw(st.integers(0, len(paths) - 1))]
        sheet = changed(sheet, path, draw(values))
    return sheet


@settings(max_examples=300)
@given(spoilt("sheet"))
def test_a_real_sheet_with_anything_in_it_is_loaded_or_refused(sheet: dict[str, Any]) -> None:
    usable(loaded(document(sheet)))


@pytest.mark.parametrize("text", NASTY)
@pytest.mark.parametrize(
    "path",
    [("loop", "tag"), ("loop", "type"), ("loop", "reference"), ("loop", "range", 0),
     ("part", 0, "length"), ("part", 0, "name"), ("place", 0, "title")],
    ids=lambda path: ".".join(map(str, path)),
)  # fmt: skip
def test_every_trap_at_every_place_is_loaded_or_refused(text: str, path: tuple[Any, ...]) -> None:
    """LT-214 with one text of it replaced: tags, types and quantities are never run or opened."""
    sheet = next(one for one in REAL if one.get("loop", {}).get("tag") == "LT-214")
    usable(loaded(document(changed(sheet, path, text))))


# -- the plant file --------------------------------------------------------------------------------


@settings(max_examples=200)
@given(spoilt("plant") | st.dictionaries(keys | st.sampled_from(["plant", "meter"]), values,
                                         max_size=4))  # fmt: skip
def test_any_plant_file_is_opened_or_refused(table: dict[str, Any]) -> None:
    with TemporaryDirectory() as folder:
        Path(folder, "plant.toml").write_bytes(document(table).encode("utf-8", "replace"))
        try:
            assert open_plant(folder).name.isprintable()
        except SheetError as error:
            told(error)
