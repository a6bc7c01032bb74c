"""What is there is documented, and what is documented is true.

`python tests/test_documented.py` rewrites the lists between the ``<!-- list: … -->`` marks of
README.md and DEVELOPERS.md from the tables of the program; the tests check that they are current.
"""

import doctest
import os
import re
import shlex
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
DOCUMENTS = ("README.md", "DEVELOPERS.md")
MARKED = re.compile(r"(?<=<!-- list: )(\w+)( -->\n)(.*?)(?=<!-- end -->)", re.DOTALL)
BLOCK = re.compile(r"^```console\n(.*?)^```", re.DOTALL | re.MULTILINE)


def text(document: str) -> str:
    return (ROOT / document).read_text(encoding="utf-8")


def commands() -> tuple:
    return import_module("diagnose.terminal.commands").COMMANDS


def kinds() -> dict:
    import_module("diagnose.loops.kinds")
    return import_module("diagnose.loops.kind").Kind.registry


def models() -> list[Path]:
    return sorted((ROOT / "models").glob("*.toml"))


def table(*rows: tuple[str, ...]) -> str:
    head, *body = (f"| {' | '.join(row)} |\n" for row in rows)
    return head + "|" + " --- |" * len(rows[0]) + "\n" + "".join(body)


def command_list() -> str:
    rows = [(f"`{command.name}`", command.help) for command in commands()]
    return table(("command", "does"), *rows)


def kind_list() -> str:
    rows = [
        (f"`{name}`", (kind.__doc__ or "").splitlines()[0], ", ".join(m.name for m in kind.modes))
        for name, kind in sorted(kinds().items())
    ]
    return table(("kind", "is", "fault modes"), *rows)


def model_list() -> str:
    rows = []
    for path in models():
        loop = tomllib.loads(path.read_text(encoding="utf-8")).get("loop", {})
        rows.append((f"`{path.stem}`", loop.get("service") or loop.get("title") or ""))
    return table(("loop type", "is"), *rows)


def session_list() -> str:
    session = import_module("diagnose.terminal.session_commands")
    rows = [(topic, ", ".join(f"`{name}`" for name in names)) for topic, names in session.TOPICS]
    return table(("about", "commands"), *rows)


LISTS: dict[str, Callable[[], str]] = {
    "commands": command_list,
    "kinds": kind_list,
    "models": model_list,
    "session": session_list,
}


def current(document: str) -> str:
    """A document with its lists as the program would write them."""
    return MARKED.sub(lambda found: found[1] + found[2] + LISTS[found[1]](), text(document))


def sessions(document: str) -> Iterator[tuple[str, list[str]]]:
    """Each ``$ diagnose …`` of the shell blocks, with the output that is shown below it."""
    for block in BLOCK.findall(text(document)):
        for part in re.split(r"^\$ ", block.replace("\\\n", " "), flags=re.MULTILINE)[1:]:
            line, *shown = part.splitlines()
            if line.startswith("diagnose "):
                yield line, shown


SHOWN = [(name, *session) for name in DOCUMENTS for session in sessions(name)]


def run(words: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONUTF8": "1", "COLUMNS": "100", "NO_COLOR": "1"}
    return subprocess.run(
        [sys.executable, "-m", "diagnose", *words],
        cwd=folder, env=environment, stdin=subprocess.DEVNULL, capture_output=True,
        text=True, encoding="utf-8", check=False,
    )  # fmt: skip


def test_each_list_is_in_a_document() -> None:
    assert sorted(found[0] for name in DOCUMENTS for found in MARKED.findall(text(name))) == sorted(
        LISTS
    )


@pytest.mark.parametrize("document", DOCUMENTS)
def test_the_lists_are_current(document: str) -> None:
    assert text(document) == current(document), "run: python tests/test_documented.py"


def test_each_command_has_help_and_an_example() -> None:
    assert len(commands()) == len({command.name for command in commands()})
    for command in commands():
        assert len(command.help.split()) >= 2, command.name
        assert command.examples, command.name
        for example in command.examples:
            assert shlex.split(example)[:2] == ["diagnose", command.name]
            assert "cases/" not in example, "an example runs from any folder"


def test_each_command_tells_its_help_and_examples(tmp_path: Path) -> None:
    for command in commands():
        done = run([command.name, "--help"], tmp_path)
        assert done.returncode == 0, done.stderr
        squeezed = " ".join(done.stdout.split())
        for example in command.examples:
            assert " ".join(example.split()) in squeezed, command.name


def test_each_command_is_named_in_a_document() -> None:
    both = "".join(map(text, DOCUMENTS))
    assert [c.name for c in commands() if f"`{c.name}`" not in both] == []


def test_each_command_of_a_session_is_in_the_list() -> None:
    session = import_module("diagnose.terminal.session_commands")
    told = re.search(r"<!-- list: session -->.*?<!-- end -->", text("README.md"), re.DOTALL)
    assert told
    assert {word.name for word in session.WORDS} == set(re.findall(r"`(.*?)`", told[0]))


def test_each_key_of_the_full_screen_is_named() -> None:
    keys = import_module("diagnose.terminal.full_screen_parts").KEYS
    assert [key for names, _ in keys for key in names.split() if key not in text("README.md")] == []


def test_each_kind_has_a_sentence_and_its_modes_a_title() -> None:
    assert kinds()
    for name, kind in kinds().items():
        assert kind.__doc__, name
        assert kind.title, name
        assert [mode.name for mode in kind.modes if not mode.title] == [], name


def test_each_loop_type_says_what_it_is() -> None:
    assert models()
    assert "|  |" not in model_list()


def test_the_documents_run_something() -> None:
    assert SHOWN


@pytest.mark.parametrize(("document", "line", "shown"), SHOWN, ids=[line for _, line, _ in SHOWN])
def test_shown_commands_print_what_is_shown(
    document: str, line: str, shown: list[str], tmp_path: Path
) -> None:
    """Every line shown is printed, in this order; a line of three dots stands for any others."""
    done = run(shlex.split(line)[1:], tmp_path)
    assert done.returncode in (0, 1), done.stderr
    printed = iter([" ".join(out.split()) for out in done.stdout.splitlines()])
    for wanted in (" ".join(out.split()) for out in shown):
        if wanted not in ("", "..."):
            assert wanted in printed, f"{document} shows a line that is not printed: {wanted}"


def test_readings_in_the_table_are_understood(plant: Path) -> None:
    """What the README says that one may type, typed at the demo loop."""
    load_sheet = import_module("diagnose.loops.sheet").load_sheet
    parse_line = import_module("diagnose.inference.readings").parse_line
    loop = load_sheet(plant / "sheets" / "LT-214.toml")
    rows = re.findall(
        r"^\| (`.*?`) \|", text("README.md").split("## What you type")[1], re.MULTILINE
    )
    typed = [line for row in rows for line in re.findall(r"`(.*?)`", row) if " " in line]
    assert len(typed) >= 8
    for line in typed:
        assert parse_line(line, loop).text == line


def test_sheets_shown_are_toml() -> None:
    shown = [
        block
        for document in DOCUMENTS
        for block in re.findall(r"^```toml\n(.*?)^```", text(document), re.DOTALL | re.MULTILINE)
    ]
    assert shown
    assert all(tomllib.loads(block) for block in shown)


def test_the_recipe_of_a_kind_makes_a_kind(tmp_path: Path) -> None:
    """Run apart, because a kind once defined stays in the registry."""
    [block] = re.findall(r"^```python\n(.*?)^```", text("DEVELOPERS.md"), re.DOTALL | re.MULTILINE)
    code = f"from diagnose.loops.kind import *\n{block}\nassert Kind.registry['ferrite'].modes"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("document", DOCUMENTS)
def test_nothing_is_left_to_fill_in(document: str) -> None:
    assert "TODO" not in text(document)


@pytest.mark.parametrize("document", DOCUMENTS)
def test_links_lead_somewhere(document: str) -> None:
    targets = re.findall(r"\]\((?!https?:)([^)#]+)", text(document))
    targets += re.findall(r"`((?:diagnose|tests|models|cases|\.ci)/[\w./-]*)`", text(document))
    assert [target for target in targets if not (ROOT / target).exists()] == []


@pytest.mark.parametrize(
    "module",
    [
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        for path in sorted((ROOT / "diagnose").rglob("*.py"))
        if path.name != "__main__.py"
    ],
)
def test_examples_in_docstrings_are_true(module: str) -> None:
    assert doctest.testmod(import_module(module)).failed == 0


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    for name in DOCUMENTS:
        (ROOT / name).write_text(current(name), encoding="utf-8", newline="\n")
