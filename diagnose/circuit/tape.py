"""A sequence of exact expressions: stored as data, checked, pruned and compiled to numpy code.

A tape is untrusted when it comes from disk: every name and every operation is checked against a
whitelist before anything is compiled, so that a damaged or foreign cache can never run code.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

NAME = re.compile(r"[a-z]{1,2}[0-9]{1,5}(_[0-9]{1,5}){0,2}\Z")
_ALLOWED = (
    ast.Expression,
    ast.BinOp,
    ast.UnaryOp,
    ast.Add,
    ast.Sub,
    ast.Mult,
    ast.Div,
    ast.Pow,
    ast.USub,
    ast.Load,
)


class TapeError(ValueError):
    """A stored sequence that is damaged or does not come from this program."""


@dataclass(frozen=True)
class Tape:
    """``inputs`` -> ``steps`` (name, expression) -> ``outputs``, all by name."""

    inputs: Sequence[str]
    steps: Sequence[tuple[str, str]]
    outputs: Sequence[str]

    def to_data(self) -> dict[str, Any]:
        """JSON-ready form."""
        return {
            "inputs": list(self.inputs),
            "steps": [list(step) for step in self.steps],
            "outputs": list(self.outputs),
        }

    @classmethod
    def from_data(cls, data: Any) -> Tape:
        """Read and check a stored tape; TapeError if anything in it is not plain arithmetic."""
        try:
            steps = [(str(name), str(text)) for name, text in data["steps"]]
            tape = cls([str(n) for n in data["inputs"]], steps, [str(n) for n in data["outputs"]])
        except (KeyError, TypeError, ValueError) as error:
            raise TapeError("not a stored sequence of expressions") from error
        tape.check()
        return tape

    def check(self) -> None:
        """Every name well-formed and defined before use, every expression plain arithmetic."""
        known = set(self.inputs)
        for name in (*self.inputs, *(step[0] for step in self.steps)):
            if not NAME.match(name):
                raise TapeError(f"name {name!r} is not one of ours")
        for name, text in self.steps:
            if len(text) > 20_000 or not _names(_parse(text)) <= known:
                raise TapeError(f"expression of {name} uses something unknown")
            known.add(name)
        if not set(self.outputs) <= known:
            raise TapeError("an output is never computed")

    @cached_property
    def _programs(self) -> dict[tuple[frozenset[str], tuple[str, ...]], Callable[..., Any]]:
        return {}

    def program(
        self, outputs: Sequence[str] | None = None, zero: Iterable[str] = ()
    ) -> tuple[list[str], Callable[..., Any]]:
        """Compiled function for some outputs, with the inputs in ``zero`` known to be nothing.

        Returns the names of the inputs it still needs, and a function of these (scalars or arrays
        that broadcast) returning a tuple of the outputs.  Steps nobody needs are left out.
        """
        wanted = tuple(self.outputs if outputs is None else outputs)
        key = (frozenset(zero), wanted)
        if key not in self._programs:
            self._programs[key] = _compile(self, wanted, set(key[0]))
        found: tuple[list[str], Callable[..., Any]] = self._programs[key]  # type: ignore[assignment]
        return found


def _parse(text: str) -> ast.Expression:
    """The expression as a tree of permitted nodes only."""
    try:
        tree = ast.parse(text, mode="eval")
    except (SyntaxError, ValueError, RecursionError, MemoryError) as error:
        raise TapeError("an expression is damaged") from error
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            if not NAME.match(node.id):
                raise TapeError(f"name {node.id!r} is not one of ours")
        elif isinstance(node, ast.Constant):
            if type(node.value) not in (int, float):
                raise TapeError("a constant is not a number")
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Pow):
            if not _small_power(node.right):
                raise TapeError("a power is not a small number")
        elif not isinstance(node, _ALLOWED):
            raise TapeError(f"{type(node).__name__} is not plain arithmetic")
    return tree


def _small_power(node: ast.expr) -> bool:
    inner = node.operand if isinstance(node, ast.UnaryOp) else node
    return isinstance(inner, ast.Constant) and inner.value in (1, 2, 3, 4)


def _names(tree: ast.AST) -> set[str]:
    return {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}


def _without(tree: ast.expr, zero: set[str]) -> ast.expr | None:
    """The expression with nothing put in for the names in ``zero``; None if nothing is left."""
    if isinstance(tree, ast.Name):
        return None if tree.id in zero else tree
    if not isinstance(tree, ast.BinOp):
        return tree
    left, right = _without(tree.left, zero), _without(tree.right, zero)
    if isinstance(tree.op, ast.Mult):
        return None if left is None or right is None else ast.BinOp(left, tree.op, right)
    if isinstance(tree.op, ast.Div):
        return None if left is None else ast.BinOp(left, tree.op, tree.right)
    if isinstance(tree.op, ast.Add):
        return left if right is None else right if left is None else ast.BinOp(left, tree.op, right)
    return tree


def _compile(
    tape: Tape, wanted: tuple[str, ...], zero: set[str]
) -> tuple[list[str], Callable[..., Any]]:
    lines = []
    for name, text in tape.steps:
        tree = ast.parse(text, mode="eval").body
        if zero:
            kept = _without(tree, zero)
            if kept is None:
                zero.add(name)
                continue
            tree = kept
        lines.append((name, tree))
    needed, program = set(wanted) - zero, []
    for name, tree in reversed(lines):
        if name in needed:
            program.append(f"    {name} = {ast.unparse(tree)}")
            needed |= _names(tree)
    inputs = [name for name in tape.inputs if name in needed]
    results = ", ".join("0.0" if name in zero else name for name in wanted)
    source = "\n".join(
        [f"def run({', '.join(inputs)}):", *reversed(program), f"    return ({results},)"]
    )
    space: dict[str, Any] = {"__builtins__": {}}
    exec(compile(source, "<tape>", "exec"), space)  # noqa: S102 - checked by _parse
    return inputs, space["run"]
