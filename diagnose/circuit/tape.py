"""A sequence of exact expressions: stored as data, checked, pruned and compiled to numpy code.

A tape is untrusted when it comes from disk: every name and every operation is checked against a
whitelist before anything is compiled, so that a damaged or foreign cache can never run code.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

NAME = re.compile(r"[a-z]{1,2}[0-9]{1,5}(_[0-9]{1,5}){0,2}\Z")
Compiled = tuple[Sequence[str], Sequence[str], Callable[..., Any]]
"""Names of inputs (scalars or arrays that broadcast) and of outputs, and the function of these."""

_OPERATORS = (ast.Add, ast.Sub, ast.Mult, ast.Div)


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
        for name, (_, names) in zip((name for name, _ in self.steps), self._parsed, strict=True):
            if not names <= known:
                raise TapeError(f"expression of {name} uses something unknown")
            known.add(name)
        if not set(self.outputs) <= known:
            raise TapeError("an output is never computed")

    @cached_property
    def _parsed(self) -> list[tuple[ast.expr, frozenset[str]]]:
        """Every step as a tree of plain arithmetic with the names in it, parsed once."""
        return [_parse(text) for _, text in self.steps]

    @cached_property
    def terms(self) -> list[tuple[str, list[_Term]]]:
        """Every step as a sum of terms (factors, divisor); for steps that are nothing else."""
        names = (name for name, _ in self.steps)
        return [
            (name, list(_terms(tree))) for name, (tree, _) in zip(names, self._parsed, strict=True)
        ]

    def check_terms(self) -> None:
        """TapeError unless every step is a sum of products, as ``run`` needs it."""
        _ = self.terms

    def run(self, values: dict[str, Any]) -> dict[str, Any]:
        """Evaluate step by step, leaving out whatever a missing input makes nothing of.

        ``values`` holds the inputs that are not zero (scalars or arrays that broadcast) and
        receives what is computed.  Quicker than a compiled function when few inputs are given.
        """
        for name, terms in self.terms:
            total = None
            for factors, divisor in terms:
                value = None
                for factor in factors:
                    part = values.get(factor)
                    if part is None:
                        value = None
                        break
                    value = part if value is None else value * part
                if value is None:
                    continue
                if divisor is not None:
                    value = value / values[divisor]
                total = value if total is None else total + value
            if total is not None:
                values[name] = total
        return values

    def without(self, absent: frozenset[str]) -> Tape:
        """The same where some inputs are nothing: without the terms and steps that fall away."""
        if absent not in self._without:
            self._without[absent] = self._left(absent)
        return self._without[absent]

    @cached_property
    def _without(self) -> dict[frozenset[str], Tape]:
        return {}

    def _left(self, absent: frozenset[str]) -> Tape:
        alive = {name for name in self.inputs if name not in absent}
        needed, steps = set[str](), list[tuple[str, str]]()
        for name, terms in self.terms:
            left = [term for term in terms if alive.issuperset(term[0])]
            if left:
                alive.add(name)
                needed.update(*(factors for factors, _ in left), (d for _, d in left if d))
                steps.append((name, " + ".join(map(_product, left))))
        needed &= alive
        inputs = [name for name in self.inputs if name in needed]
        return Tape(inputs, steps, [name for name in self.outputs if name in alive])

    def compiled(self) -> Compiled:
        """All steps and outputs as a function; the same as ``run`` to the last bit."""
        program = [f"    {name} = {text}" for name, text in self.steps]
        return self.inputs, self.outputs, _function(self.inputs, program, self.outputs)

    def after(self, moved: frozenset[str]) -> Compiled:
        """The outputs that hang on some inputs; those that do not count among its inputs."""
        if moved not in self._after:
            self._after[moved] = self._hanging(moved)
        return self._after[moved]

    @cached_property
    def _after(self) -> dict[frozenset[str], Compiled]:
        return {}

    def _hanging(self, moved: frozenset[str]) -> Compiled:
        hang = {name for name in self.inputs if name in moved}
        for (name, _), (_, names) in zip(self.steps, self._parsed, strict=True):
            if not names.isdisjoint(hang):
                hang.add(name)
        outputs = [name for name in self.outputs if name in hang]
        known = {*self.inputs, *(name for name in self.outputs if name not in hang)}
        needed, program = set(outputs), list[str]()
        for (name, text), (_, names) in zip(self.steps[::-1], self._parsed[::-1], strict=True):
            if name in needed and name not in known:
                program.append(f"    {name} = {text}")
                needed |= names
        # An output may well be an input that goes through.
        every = dict.fromkeys((*self.inputs, *self.outputs))
        needed &= known
        inputs = [name for name in every if name in needed]
        return inputs, outputs, _function(inputs, program[::-1], outputs)

    @cached_property
    def _programs(self) -> dict[tuple[str, ...], tuple[list[str], Callable[..., Any]]]:
        return {}

    def program(self, outputs: Sequence[str] | None = None) -> tuple[list[str], Callable[..., Any]]:
        """Compiled function for some outputs.

        Returns the names of the inputs it needs, and a function of these (scalars or arrays that
        broadcast) returning a tuple of the outputs.  Steps nobody needs are left out.
        """
        wanted = tuple(self.outputs if outputs is None else outputs)
        if wanted not in self._programs:
            self._programs[wanted] = _compile(self, wanted)
        return self._programs[wanted]


def _parse(text: str) -> tuple[ast.expr, frozenset[str]]:
    """The expression as a tree of permitted nodes only, and the names in it."""
    if len(text) > 20_000:
        raise TapeError("an expression is too long")
    names: set[str] = set()
    try:
        tree = ast.parse(text, mode="eval").body
        _allow(tree, names)
    except (SyntaxError, ValueError, RecursionError, MemoryError) as error:
        raise TapeError("an expression is damaged, or is not plain arithmetic") from error
    return tree, frozenset(names)


def _allow(node: ast.expr, names: set[str]) -> None:
    """ValueError unless the tree is plain arithmetic of our names; collects these."""
    if isinstance(node, ast.BinOp):
        power = isinstance(node.op, ast.Pow) and _small_power(node.right)
        if not power and not isinstance(node.op, _OPERATORS):
            raise TapeError("a power is not a small number, or an operation is not ours")
        _allow(node.left, names)
        _allow(node.right, names)
    elif isinstance(node, ast.Name):
        if not NAME.match(node.id):
            raise TapeError(f"name {node.id!r} is not one of ours")
        names.add(node.id)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        _allow(node.operand, names)
    elif not isinstance(node, ast.Constant) or type(node.value) not in (int, float):
        raise TapeError(f"{type(node).__name__} is not plain arithmetic")


def _small_power(node: ast.expr) -> bool:
    inner = node.operand if isinstance(node, ast.UnaryOp) else node
    return isinstance(inner, ast.Constant) and inner.value in (1, 2, 3, 4)


_Term = tuple[tuple[str, ...], str | None]


def _terms(tree: ast.expr) -> Iterator[_Term]:
    """A sum of products of names, each perhaps over a name."""
    if isinstance(tree, ast.BinOp) and isinstance(tree.op, ast.Add):
        yield from _terms(tree.left)
        yield from _terms(tree.right)
    elif isinstance(tree, ast.BinOp) and isinstance(tree.op, ast.Div):
        if not isinstance(tree.right, ast.Name):
            raise TapeError("a divisor is not a name")
        yield tuple(_factors(tree.left)), tree.right.id
    else:
        yield tuple(_factors(tree)), None


def _product(term: _Term) -> str:
    factors, divisor = term
    return "*".join(factors) + (f"/{divisor}" if divisor else "")


def _factors(tree: ast.expr) -> Iterator[str]:
    if isinstance(tree, ast.BinOp) and isinstance(tree.op, ast.Mult):
        yield from _factors(tree.left)
        yield from _factors(tree.right)
    elif isinstance(tree, ast.Name):
        yield tree.id
    else:
        raise TapeError("a step is no sum of products of names")


def _compile(tape: Tape, wanted: tuple[str, ...]) -> tuple[list[str], Callable[..., Any]]:
    needed, program = set(wanted), []
    for (name, text), (_, names) in zip(reversed(tape.steps), reversed(tape._parsed), strict=True):
        if name in needed:
            program.append(f"    {name} = {text}")
            needed |= names
    inputs = [name for name in tape.inputs if name in needed]
    return inputs, _function(inputs, program[::-1], wanted)


def _function(
    inputs: Sequence[str], program: Sequence[str], outputs: Sequence[str]
) -> Callable[..., Any]:
    """A function of the inputs that goes through the lines of a program; all of them checked."""
    returned = "".join(f"{name}, " for name in outputs)
    source = "\n".join([f"def run({', '.join(inputs)}):", *program, f"    return ({returned})"])
    space: dict[str, Any] = {"__builtins__": {}}
    exec(compile(source, "<tape>", "exec"), space)  # noqa: S102 - every step went through _parse
    run: Callable[..., Any] = space["run"]
    return run
