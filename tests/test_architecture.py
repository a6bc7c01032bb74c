"""The house keeps its shape: arrows, confinement, lazy imports, sizes, docstrings.

The rules are the project's own (DEVELOPERS.md, "The house"); they are read off the source text
with `ast`, so that a module which nobody imports is checked as well.
"""

import ast
import json
import re
import statistics
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from itertools import chain, pairwise
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "diagnose"
MODULES = sorted(PACKAGE.rglob("*.py"))

ARROWS = (
    "errors", "unit_table", "quantities", "library", "loops", "circuit", "inference", "casework",
    "review", "training", "terminal", "__main__",
)  # fmt: skip
"""Each may import those before it, never those after it."""

CONFINED = {
    "pint": {"quantities"},
    "sympy": {"circuit"},
    "networkx": {"circuit"},
    "prompt_toolkit": {"terminal"},
    "duckdb": {"review"},
    "msgspec": {"review"},
    "openpyxl": {"loops"},
    "python_calamine": {"loops"},
    "rapidfuzz": {"loops", "terminal"},
    "scipy": {"review"},
    "numpy": {"loops", "circuit", "inference", "review", "training"},
}
LAZY = {"pint", "sympy", "networkx", "duckdb", "openpyxl", "python_calamine", "rapidfuzz", "scipy"}
SCREENS = {"terminal", "__main__"}

FILE_AIM, FILE_LIMIT = 250, 300
BODY_AIM, BODY_LIMIT = 40, 60


def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def room(path: Path) -> str:
    """The sub-package (or single module) of diagnose that a file belongs to."""
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def name(path: Path) -> str:
    return path.relative_to(PACKAGE.parent).as_posix()


def imports(path: Path, within: ast.AST | None = None) -> Iterator[str]:
    """Dotted names of everything that a file imports, relative imports resolved."""
    for node in ast.walk(within or tree(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parts = path.relative_to(PACKAGE.parent).parts[: -node.level]
                base = ".".join([*parts, *filter(None, [base])])
            yield from (f"{base}.{alias.name}" for alias in node.names)


def own_rooms(path: Path) -> Iterator[str]:
    """Rooms of diagnose that a file imports; ``diagnose`` for a public name of the package."""
    for dotted in imports(path):
        first, *rest = dotted.split(".")
        if first == "diagnose":
            known = bool(rest) and (rest[0] in ARROWS or rest[0].startswith("__version"))
            yield rest[0] if known else "diagnose"


def foreign(path: Path, within: ast.AST | None = None) -> set[str]:
    """Top-level packages from outside the standard library and the project."""
    tops = {dotted.partition(".")[0] for dotted in imports(path, within)}
    return tops - sys.stdlib_module_names - {"diagnose"}


def at_start(path: Path) -> ast.Module:
    """The part of a file that runs when it is imported: no functions, no type-checking block."""
    module = tree(path)

    class Strip(ast.NodeTransformer):
        def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
            return None

        def visit_AsyncFunctionDef(self, node: ast.AsyncFunctionDef) -> None:
            return None

        def visit_If(self, node: ast.If) -> ast.AST:
            return ast.Pass() if "TYPE_CHECKING" in ast.unparse(node.test) else node

    return Strip().visit(module)


def calls(path: Path) -> set[str]:
    """Functions that a file calls: ``name`` or ``.name``, with ``(strict)`` where that is set."""
    found = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Call):
            strict = "(strict)" * any(ast.unparse(key) == "strict=True" for key in node.keywords)
            if isinstance(node.func, ast.Name):
                found.add(node.func.id + strict)
            elif isinstance(node.func, ast.Attribute):
                found.add(f".{node.func.attr}{strict}")
    return found


def bodies(path: Path) -> Iterator[tuple[str, int]]:
    """Each function of a file with the lines of its body, docstring not counted."""
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[1] if ast.get_docstring(node) and len(node.body) > 1 else node.body[0]
            yield f"{name(path)}:{node.name}", (node.end_lineno or 0) - first.lineno + 1


@pytest.fixture(params=MODULES, ids=name)
def module(request: pytest.FixtureRequest) -> Path:
    return request.param


def test_every_room_has_its_place_in_the_arrows() -> None:
    assert {room(path) for path in MODULES} <= {*ARROWS, "__init__"}


def test_imports_run_one_way(module: Path) -> None:
    here = room(module)
    if here == "__init__":
        allowed = {"diagnose", *ARROWS} - {"terminal", "__main__"}
    else:
        allowed = {*ARROWS[: ARROWS.index(here) + 1], "__version__"}
        if here == "__main__":
            allowed.add("diagnose")
    wrong = set(own_rooms(module)) - allowed
    assert not wrong, f"{name(module)} may not import {sorted(wrong)}"


def test_each_library_stays_in_its_room(module: Path) -> None:
    here = room(module)
    wrong = {lib for lib in foreign(module) if here not in CONFINED.get(lib, {here})}
    assert not wrong, f"{name(module)} may not import {sorted(wrong)}"


def test_slow_libraries_are_imported_inside_functions(module: Path) -> None:
    wrong = foreign(module, at_start(module)) & LAZY
    assert not wrong, f"{name(module)} imports {sorted(wrong)} when it is imported"


def test_what_is_imported_is_declared_and_the_other_way_round(root: Path) -> None:
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = {k: v for k, v in project["optional-dependencies"].items() if k != "dev"}
    lines = [*project["dependencies"], *chain.from_iterable(extras.values())]
    declared = {re.match(r"[\w-]+", line).group().lower().replace("-", "_") for line in lines}
    assert set().union(*map(foreign, MODULES)) == declared


def test_only_a_screen_prints(module: Path) -> None:
    assert room(module) in SCREENS or "print" not in calls(module)


def test_no_text_is_ever_evaluated(module: Path) -> None:
    """``sympify`` runs text as code unless it is strict (sympy documentation, "sympify")."""
    banned = {"eval", "sympify", ".sympify", "parse_expr", ".parse_expr", "__import__"}
    if room(module) != "circuit":  # compiled equations, each step checked against a whitelist
        banned |= {"exec"}
    assert calls(module) & banned == set()


def test_every_module_says_what_it_is(module: Path) -> None:
    assert ast.get_docstring(tree(module)), f"{name(module)} has no docstring"


def test_sizes_stay_under_the_limits() -> None:
    files = {name(path): len(path.read_text(encoding="utf-8").splitlines()) for path in MODULES}
    functions = dict(pair for path in MODULES for pair in bodies(path))
    assert {k: v for k, v in files.items() if v > FILE_LIMIT} == {}
    assert {k: v for k, v in functions.items() if v > BODY_LIMIT} == {}


def test_sizes_are_near_the_aims() -> None:
    """An aim is no limit: a few may be longer where that reads better.  See with pytest -rP."""
    files = {name(path): len(path.read_text(encoding="utf-8").splitlines()) for path in MODULES}
    functions = dict(pair for path in MODULES for pair in bodies(path))
    long_files = {k: v for k, v in files.items() if v > FILE_AIM}
    long_functions = {k: v for k, v in functions.items() if v > BODY_AIM}
    median = statistics.median(functions.values())
    print(f"{len(files)} files, over {FILE_AIM} lines: {long_files}")
    print(f"{len(functions)} functions, median {median}, over {BODY_AIM} lines: {long_functions}")
    assert median <= 8
    assert len(long_files) <= 0.1 * len(files)
    assert len(long_functions) <= 0.02 * len(functions)


SLOW = ("sympy", "networkx", "pint", "prompt_toolkit")
RANK = ("rank", "LT-214", "complaint reads high", "V X21:7 X20:0 3.406", "--json")
PROBE = """
import json, sys
sys.argv = ["diagnose", *json.loads(sys.argv[1])]
try:
    {job}
except SystemExit as stop:
    code = stop.code
loaded = [name for name in json.loads({slow!r}) if name in sys.modules]
print(json.dumps([code or 0, loaded]), file=sys.stderr)
"""


def start(job: str, words: tuple[str, ...], folder: Path) -> list[object]:
    """Run a job in a fresh interpreter: its exit code, and which slow libraries it loaded."""
    code = PROBE.format(job=job, slow=json.dumps(SLOW))
    done = subprocess.run(
        [sys.executable, "-c", code, json.dumps(words)],
        cwd=folder, capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stderr.splitlines()[-1])


def test_reading_lines_are_understood_without_a_slow_library(tmp_path: Path) -> None:
    assert start("import diagnose.inference.readings; code = 0", (), tmp_path) == [0, []]


def test_a_known_loop_is_ranked_without_a_slow_library(tmp_path: Path) -> None:
    job = "from diagnose.__main__ import main; code = main()"
    first, again = (start(job, RANK, tmp_path) for _ in range(2))
    assert first[0] == again[0]
    assert again[0] in (0, 1)
    assert again[1] == []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("from diagnose.terminal import render", ["terminal"]),
        ("from diagnose import loops, __version__", ["loops", "__version__"]),
        ("from diagnose import rank", ["diagnose"]),
        ("from . import kind", ["loops"]),
        ("from ..errors import DiagnoseError", ["errors"]),
        ("def f():\n    import diagnose.circuit.store", ["circuit"]),
    ],
)
def test_the_reader_of_imports_reads(
    text: str, expected: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The checks above are worth what this one is: each way to write an import is seen."""
    monkeypatch.setattr(f"{__name__}.tree", lambda path: ast.parse(text))
    assert list(own_rooms(PACKAGE / "loops" / "loop.py")) == expected


def test_arrows_and_confinement_name_rooms_once() -> None:
    assert all(a != b for a, b in pairwise(sorted(ARROWS)))
    assert set().union(*CONFINED.values()) <= set(ARROWS)
