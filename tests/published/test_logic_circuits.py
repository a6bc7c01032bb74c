"""Textbook circuits of model-based diagnosis, by the hypothesis and gain code of the loops.

A hypothesis is a set of faulty components; a faulty one may put out anything, each value alike.
Marks: [O] the page was opened, [M] from memory, [R] recomputed from the fully stated model.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import combinations, product

import numpy as np
import pytest

from diagnose.inference.decisions import Problem, State, Test, entropy

Faults = tuple[str, ...]

# --- multiplier-adder circuit --------------------------------------------------------------
# J. de Kleer and B. C. Williams, "Diagnosing multiple faults", Artificial Intelligence
# 32(1):97-130, 1987.  Circuit and numbers [O: B. C. Williams, lecture slides, 2004]; sets and
# bits [R].
# X = 3*2, Y = 2*3, Z = 2*3, F = X + Y, G = Y + Z; F = 10 and G = 12 were seen.

LAWS = {
    "M1": ((1, 0, 0, 0, 0), 6), "M2": ((0, 1, 0, 0, 0), 6), "M3": ((0, 0, 1, 0, 0), 6),
    "A1": ((-1, -1, 0, 1, 0), 0), "A2": ((0, -1, -1, 0, 1), 0),
}  # fmt: skip
QUANTITIES = "XYZFG"
SEEN = {"F": 10, "G": 12}


def told(faults: Faults, seen: Mapping[str, int]) -> dict[str, int] | None:
    """What the sound components and the readings make certain; None where they contradict."""
    rows = [LAWS[name] for name in LAWS if name not in faults]
    rows += [(tuple(int(q == name) for q in QUANTITIES), value) for name, value in seen.items()]
    matrix = np.array([row for row, _ in rows], float).reshape(-1, 5)
    values = np.array([value for _, value in rows], float)
    found = np.linalg.pinv(matrix) @ values
    if not np.allclose(matrix @ found, values, atol=1e-9):
        return None
    fixed = np.linalg.pinv(matrix) @ matrix
    return {
        name: round(found[n])
        for n, name in enumerate(QUANTITIES)
        if np.allclose(fixed[n], np.eye(5)[n], atol=1e-9)
    }


def subsets(names: Sequence[str]) -> Iterator[Faults]:
    for count in range(len(names) + 1):
        yield from combinations(names, count)


def smallest(found: Sequence[Faults]) -> set[Faults]:
    return {one for one in found if not any(set(other) < set(one) for other in found)}


def polybox(values: int) -> tuple[Problem, list[Faults]]:
    """Probing X, Y or Z; an unknown value is any of ``values``, each component fails 1 in 100."""
    candidates = [faults for faults in subsets(list(LAWS)) if told(faults, SEEN) is not None]
    prior = []
    for faults in candidates:
        before, also = told(faults, {}) or {}, told(faults, {"F": 10}) or {}
        unknown = ("F" not in before) + ("G" not in also)
        prior.append(0.01 ** len(faults) * 0.99 ** (5 - len(faults)) / values**unknown)
    tests = []
    for name in "XYZ":
        chance = np.zeros((values, len(candidates)))
        for n, faults in enumerate(candidates):
            known = told(faults, SEEN) or {}
            if name in known:
                chance[known[name] % values, n] = 1
            else:
                chance[:, n] = 1 / values
        tests.append(Test(name, chance, 1.0))
    return Problem(np.array(prior), tests), candidates


def test_polybox_conflicts() -> None:
    """Sets of components that cannot all be sound, none of them larger than needed."""
    clash = [s for s in subsets(list(LAWS)) if told(tuple(set(LAWS) - set(s)), SEEN) is None]
    assert smallest(clash) == {("M1", "M2", "A1"), ("M1", "M3", "A1", "A2")}


def test_polybox_diagnoses_and_their_probabilities() -> None:
    problem, candidates = polybox(16)
    assert smallest(candidates) == {("M1",), ("A1",), ("M2", "M3"), ("M2", "A2")}
    chance = dict(zip(candidates, problem.begin().weight, strict=True))
    assert chance[("M1",)] == pytest.approx(0.4962, abs=5e-5)
    assert chance[("A1",)] == pytest.approx(0.4962, abs=5e-5)


@pytest.mark.parametrize(
    ("values", "now", "later"),
    [(16, 1.0714, (0.0383, 1.0635, 1.0670)), (100, 1.0466, (0.0075, 1.0451, 1.0458))],
)
def test_polybox_probe_at_x(values: int, now: float, later: tuple[float, ...]) -> None:
    problem, _ = polybox(values)
    state = problem.begin()
    assert entropy(state, problem) == pytest.approx(now, abs=5e-5)
    assert entropy(state, problem) - problem.gains(state) == pytest.approx(later, abs=5e-5)
    assert int(problem.gains(state).argmax()) == 0


@pytest.mark.parametrize(
    ("probe", "value", "left"),
    [
        ("X", 4, {("M1",)}),
        ("X", 6, {("A1",), ("M2", "M3"), ("M2", "A2")}),
        ("Y", 6, {("M1",), ("A1",)}),
        ("Y", 4, {("M2", "M3"), ("M2", "A2")}),
        # Neither of the two single faults explains it: a measured value forces two.
        ("X", 5, {("M1", "A1"), ("M1", "M2", "M3"), ("M1", "M2", "A2")}),
    ],
)
def test_polybox_after_one_probe(probe: str, value: int, left: set[Faults]) -> None:
    problem, candidates = polybox(16)
    test = "XYZ".index(probe)
    weight = problem.table[test, value] * problem.begin().weight
    assert smallest([c for c, w in zip(candidates, weight, strict=True) if w > 0]) == left


# --- inverters -----------------------------------------------------------------------------------

Mode = tuple[str, float, Callable[[int], int] | None]
"""Name, probability, what comes out for what goes in; None: anything."""


def invert(value: int) -> int:
    return 1 - value


def weak(name: str, chance: float) -> tuple[Mode, ...]:
    return ((f"{name} sound", 1 - chance, invert), (f"{name} faulty", chance, None))


def chain(
    inverters: Sequence[Sequence[Mode]], start: int, seen: Mapping[int, int]
) -> tuple[Problem, State, list[Faults]]:
    """Inverters in a row; node 0 is fed with ``start``, and every node behind can be probed.

    Hypotheses are states of health with the values at the nodes; only the health is asked for.
    """
    health: dict[Faults, int] = {}
    prior, group, nodes = [], [], []
    for modes in product(*inverters):
        for free in product((0, 1), repeat=sum(law is None for _, _, law in modes)):
            given, values, weight = iter(free), [start], 1.0
            for _, chance, law in modes:
                values.append(next(given) if law is None else law(values[-1]))
                weight *= chance * (0.5 if law is None else 1.0)
            prior.append(weight)
            group.append(health.setdefault(tuple(name for name, _, _ in modes), len(health)))
            nodes.append(values)
    known = np.array(nodes).T
    tests = [
        Test(str(n), np.array([known[n] == 0, known[n] == 1]) * 1.0, 1.0)
        for n in range(1, len(known))
    ]
    problem = Problem(np.array(prior), tests, np.array(group))
    state = problem.begin()
    for node, value in seen.items():
        weight = state.weight * (known[node] == value)
        state = State(weight / weight.sum(), "")
    return problem, state, list(health)


# J. de Kleer and B. C. Williams, as above; the paper prefers e, then c, and b where A is more
# failure-prone [M]; the bits are exact posteriors, the paper has an approximate formula [R].
CASCADE = [
    ({}, 0.01, 0.3232, {"b": 0.2878, "c": 0.2626, "d": 0.2414, "e": 0.2228}, "e"),
    ({"e": 0}, 0.01, 2.1221, {"b": 1.3184, "c": 1.1322, "d": 1.3184}, "c"),
    ({"e": 0, "c": 1}, 0.01, 1.1322, {"b": 1.1318, "d": 0.1372}, "d"),
    ({"e": 0, "c": 0}, 0.01, 1.1322, {"b": 0.1372, "d": 1.1318}, "b"),
    ({"e": 0, "b": 0}, 0.01, 1.7119, {"c": 0.8003, "d": 0.8003}, ""),
    ({"e": 0}, 0.025, 2.0027, {"b": 1.0219, "c": 1.0708, "d": 1.3282}, "b"),
]


@pytest.mark.parametrize(("seen", "first", "now", "later", "pick"), CASCADE)
def test_inverter_cascade(
    seen: dict[str, int], first: float, now: float, later: dict[str, float], pick: str
) -> None:
    row = [weak("A", first), *(weak(name, 0.01) for name in "BCD")]
    nodes = {"abcde".index(node): value for node, value in seen.items()}
    problem, state, _ = chain(row, 1, nodes)
    left = entropy(state, problem) - problem.gains(state)
    found = {node: left["abcde".index(node) - 1] for node in later}
    assert entropy(state, problem) == pytest.approx(now, abs=5e-5)
    assert found == pytest.approx(later, abs=5e-5)
    if pick:
        assert min(found, key=lambda node: found[node]) == pick


# J. de Kleer and B. C. Williams, "Diagnosis with behavioral modes", IJCAI 1989 [O: abstract]; three
# inverters, input 0, output seen 0 instead of 1: the idea [O: lecture slides], the figures [R].


def moded(name: str, one: float, zero: float) -> tuple[Mode, ...]:
    """Stuck at one, stuck at zero, and a mode that nobody modelled (1 in 1000)."""
    return (
        (f"{name} sound", 0.99, invert),
        (f"{name} faulty: one", one, lambda _: 1),
        (f"{name} faulty: zero", zero, lambda _: 0),
        (f"{name} faulty: unknown", 0.001, None),
    )


def faulty(problem: Problem, state: State, health: list[Faults], name: str) -> float:
    share = state.weight @ problem.member
    return sum(
        w
        for modes, w in zip(health, share, strict=True)
        if any(m.startswith(f"{name} faulty") for m in modes)
    )


def test_inverters_without_modes_are_all_alike() -> None:
    problem, state, health = chain([weak(name, 0.01) for name in "ABC"], 0, {3: 0})
    left = entropy(state, problem) - problem.gains(state)
    assert left[:2] == pytest.approx([0.7546, 0.7546], abs=5e-5)
    for name in "ABC":
        assert faulty(problem, state, health, name) == pytest.approx(0.3367, abs=5e-5)


def test_modes_of_failure_tell_the_inverters_apart() -> None:
    row = [moded("A", 0.008, 0.001), moded("B", 0.008, 0.001), moded("C", 0.001, 0.008)]
    problem, state, health = chain(row, 0, {3: 0})
    left = entropy(state, problem) - problem.gains(state)
    assert left[:2] == pytest.approx([1.4109, 0.8230], abs=5e-5)
    assert faulty(problem, state, health, "A") == pytest.approx(0.0892, abs=5e-5)
    for name in "BC":
        assert faulty(problem, state, health, name) == pytest.approx(0.4623, abs=5e-5)
