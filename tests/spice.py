"""An outside opinion on a circuit: ngspice, on decks written here from the physics of the kinds.

Nothing of ``diagnose.circuit`` and no law of a kind is used.  What the decks rely on:

- B-source forms that converge: continuous, never falling, full current reached at lift-off.
- The return code of ngspice is 0 even when it found no operating point, so every value that was
  asked for must be printed, or `NoAnswer` is raised.
- The volts of a supply are a source of their own: ngspice finds a deeply starved transmitter by
  raising its sources bit by bit, and a constant inside a B-source it cannot raise.
- Every part carries a zero-volt source as ammeter, and resistances below 1 Mohm are written as
  current-controlled voltage sources ``v = R i``.  A conductance of 200 S (a 5 mohm contact) in a
  nodal matrix would drown the 1e-11 S of the insulation that alone holds a lifted wire; as
  voltages per ampere both keep their digits.
"""

from __future__ import annotations

import re
import subprocess
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path

from diagnose.loops.kind import Change
from diagnose.loops.loop import Loop, Part

NGSPICE = "ngspice"
BATCH = 40
ROUNDS = 8
OPTIONS = (
    ".options reltol=1e-8 vntol=1e-9 abstol=1e-13 gmin=1e-20 "
    "pivtol=1e-30 pivrel=1e-3 itl1=1000 itl6=200"
)
EASIER = OPTIONS.replace("reltol=1e-8", "reltol=1e-6")
"""For circuits that find no operating point otherwise; the digits are put right afterwards."""

_LINE = re.compile(r"^(\S+) = ([-+]?\d\.\d+e[-+]\d+)\s*$")
_MARK = "circuit-number"


class NoAnswer(AssertionError):
    """ngspice did not print a value that was asked for."""


@dataclass(frozen=True, slots=True)
class Circuit:
    """A loop with parameters moved, at a process value, with a branch ``i = g v + j`` clipped on.

    ``clips`` are ``(a, b, g, j)``, current counted from ``a`` to ``b``.
    """

    loop: Loop
    changes: Mapping[tuple[str, str], float] = field(default_factory=dict)
    process: float = 0.5
    clips: tuple[tuple[str, str, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """Node voltages to the reference, V; part currents from first pin to second, A."""

    voltages: dict[str, float]
    currents: dict[str, float]
    parameters: dict[str, dict[str, float]]


# --- the physics of the kinds ----------------------------------------------------------------


def demand(q: Mapping[str, float], process: float) -> float:
    """Current that a two-wire transmitter asks for, A.

    Process connection, then sensor, then electronics, then output stage, each with its fault; a
    person can drive the output unless the electronics stand still.
    """
    if q["alive"] == 0.0:
        return 0.0
    if q["driven"] == 1.0 and q["stuck"] == 0.0:
        return max(q["driven_current"] + q["output_error"], 0.0)
    if q["failed"] == 1.0:
        return max(q["failed_current"], 0.0)
    stands = q["at_nothing"] if q["equalised"] == 1.0 else q["held"]
    seen = stands if q["hold"] == 1.0 else process + q["sensed_shift"]
    believed = seen * (1.0 + q["span_error"]) + q["zero_error"]
    shown = q["stuck_at"] if q["stuck"] == 1.0 else believed
    current = q["zero_current"] + shown * (q["full_current"] - q["zero_current"])
    limited = min(max(current, q["saturation_low"]), q["saturation_high"])
    return max(limited + q["output_error"], 0.0)


Element = tuple[str, float | str]
"""``("R", ohms)``, ``("emf", volts)``, ``("BI", amperes by {v})`` or ``("BV", volts by {i})``."""


def _ohmic(name: str) -> Callable[[Mapping[str, float]], list[Element]]:
    return lambda q: [("R", q[name])]


def _behind(name: str) -> Callable[[Mapping[str, float]], list[Element]]:
    return lambda q: [("emf", q[name]), ("R", q["resistance"])]


def _supply(q: Mapping[str, float]) -> list[Element]:
    """Volts behind a resistance; beyond the current limit they give way by 1 V per uA."""
    limit = q["current_limit"]
    held = f"{q['source_resistance']!r}*max({{i}},{-limit!r})"
    return [("emf", q["voltage"]), ("BV", f"{held}+1e6*min({{i}}+{limit!r},0)")]


def _transmitter(q: Mapping[str, float]) -> list[Element]:
    """A sink that ramps up to its demand at lift-off, a leak, and diodes either way."""
    foot, full = q["lift_off"] - q["ramp"], q["demand"] * (1.0 + q["trim"])
    sink = f"{full!r}*min(max(({{v}}-({foot!r}))/{q['ramp']!r},0),1)"
    backwards = f"min({{v}}+{q['reverse_drop']!r},0)/{q['reverse_resistance']!r}"
    turned = f"{q['turned']!r}*max({{v}}-{q['reverse_drop']!r},0)"
    return [("BI", f"{{v}}/{q['leak']!r}+{sink}+{backwards}+{turned}")]


PHYSICS: dict[str, Callable[[Mapping[str, float]], list[Element]]] = {
    **dict.fromkeys(
        (
            "core", "signal_wire", "termination", "link", "fuse", "series_limiter", "resistor",
            "earth_bond", "insulation", "surge_protector",
        ),
        _ohmic("resistance"),
    ),
    **dict.fromkeys(("voltage_receiver", "comparator"), _ohmic("input_resistance")),
    "common_wire": _behind("emf"),
    "earth_insulation": _behind("shift"),
    "supply": _supply,
    "two_wire_transmitter": _transmitter,
}  # fmt: skip

Given = float | tuple[float, ...]
Branch = tuple[str, str, list[Element]]
MORE_PHYSICS: dict[str, Callable[[Mapping[str, float], Given], list[Branch]]] = {}
SIGNALS: dict[str, Callable[[Mapping[str, float], float, Given], float]] = {}
"""From the modules of ``physics``: (parameters, volts across the first pins, given) -> signal."""

for _path in sorted(Path(__file__).with_name("physics").glob("[a-z]*.py")):
    _module = import_module(f"physics.{_path.stem}")
    MORE_PHYSICS |= getattr(_module, "PHYSICS", {})
    SIGNALS |= getattr(_module, "SIGNALS", {})


def parameters(circuit: Circuit) -> dict[str, dict[str, float]]:
    """Values of every part after the changes, with the demand of the transmitters."""
    found = {}
    for part in circuit.loop.parts:
        q = {name: float(value) for name, value in part.values.items()}
        q |= {name: float(v) for (owner, name), v in circuit.changes.items() if owner == part.name}
        if part.kind.name == "two_wire_transmitter":
            q["demand"] = demand(q, circuit.process)
        found[part.name] = q
    return found


def branches(part: Part, q: Mapping[str, float], given: Given) -> list[Branch]:
    """What a part consists of: (pin, pin, elements in series), at what it is given."""
    plain = PHYSICS.get(part.kind.name)
    if plain:
        return [(part.kind.pins[0], part.kind.pins[1], plain(q))]
    return MORE_PHYSICS[part.kind.name](q, given)


def givens(circuit: Circuit, volts: Mapping[str, float] | None) -> dict[str, Given]:
    """What every part is given: the process value, or signals at the voltages found before."""
    values, found, signals = parameters(circuit), {}, dict[str, float]()
    waiting = [*circuit.loop.parts]
    while waiting:
        part = waiting.pop(0)
        leaders = [part.references[name] for name in part.kind.follows]
        if any(name in {item.name for item in waiting} for name in leaders):
            waiting.append(part)
            continue
        told = tuple(signals[name] for name in leaders)
        given = circuit.process if not told else told[0] if len(told) == 1 else told
        found[part.name] = given
        if part.kind.signal is not None:
            pins = [*part.pins.values()][:2]
            across = volts[pins[0]] - volts[pins[1]] if volts and len(pins) == 2 else 0.0
            signals[part.name] = SIGNALS[part.kind.name](values[part.name], across, given)
    return found


def moved(
    loop: Loop, part: Part, changes: Iterable[Change], severity: float = 0.0
) -> dict[tuple[str, str], float]:
    """What a fault or an action moves, by part and parameter.

    ``of`` is empty (the part itself), a reference such as ``to`` (the part it refers to), ``*``
    (every part that has the parameter) or ``=NAME`` (take the nominal of another parameter).
    """
    found = {}
    for change in changes:
        if change.of == "*":
            having = [other for other in loop.parts if change.parameter in other.values]
            found |= {(p.name, change.parameter): float(change.value(0, severity)) for p in having}
            continue
        owner = loop.part(part.references[change.of]) if change.of in part.references else part
        source = change.of[1:] if change.of.startswith("=") else change.parameter
        nominal = owner.values[source]
        found[owner.name, change.parameter] = float(change.value(nominal, severity))
    return found


# --- decks -----------------------------------------------------------------------------------


def wired(loop: Loop) -> list[Part]:
    """The parts that the circuit consists of."""
    return [part for part in loop.parts if part.kind.branches]


def _node_names(loop: Loop) -> dict[str, str]:
    return {node: str(number) for number, node in enumerate(loop.nodes)}


def _resistor(name: str, a: str, b: str, ohms: float, ammeter: str) -> str:
    if abs(ohms) < 1e6:
        return f"H{name} {a} {b} {ammeter} {ohms!r}"
    return f"R{name} {a} {b} {ohms!r}"


def _series(name: str, a: str, b: str, elements: Iterable[Element]) -> list[str]:
    elements = list(elements)
    emf = sum(float(value) for sort, value in elements if sort == "emf")
    inner, lines = f"m{name}", [f"Vm{name} {a} m{name} {emf!r}"]
    for sort, value in elements:
        if sort == "R":
            lines.append(_resistor(name, inner, b, float(value), f"Vm{name}"))
        elif sort != "emf":
            law = str(value).format(v=f"V({inner},{b})", i=f"I(Vm{name})")
            lines.append(f"B{name} {inner} {b} {sort[1]} = {law}")
    return lines


def deck(circuit: Circuit, given: Mapping[str, Given]) -> str:
    """The SPICE text of a circuit: node ``k`` is ``loop.nodes[k]``.

    ``vmN_K`` measures branch K of part N.
    """
    nodes, values = _node_names(circuit.loop), parameters(circuit)
    lines = [f"* {circuit.loop.tag}"]
    for number, part in enumerate(wired(circuit.loop)):
        for k, (first, second, elements) in enumerate(_branches(part, values, given)):
            a, b = nodes[part.pins[first]], nodes[part.pins[second]]
            lines += _series(f"{number}_{k}", a, b, elements)
    for number, (a, b, conductance, source) in enumerate(circuit.clips):
        lines += _series(f"c{number}", nodes[a], nodes[b], [("R", 1 / conductance)])
        if source:
            lines.append(f"Ic{number} {nodes[a]} {nodes[b]} {source!r}")
    return "\n".join([*lines, OPTIONS, ".end", ""])


def _branches(
    part: Part, values: Mapping[str, dict[str, float]], given: Mapping[str, Given]
) -> list[Branch]:
    return branches(part, values[part.name], given[part.name])


# --- running ---------------------------------------------------------------------------------


def run(decks: Sequence[str]) -> list[dict[str, float]]:
    """Everything that ngspice prints at the operating point of each deck, by lower-case name."""
    batches = [decks[start : start + BATCH] for start in range(0, len(decks), BATCH)]
    with ThreadPoolExecutor(2) as pool:
        return [found for batch in pool.map(_run_batch, batches) for found in batch]


def _run_batch(decks: Sequence[str]) -> list[dict[str, float]]:
    with tempfile.TemporaryDirectory() as folder:
        control = ["* many circuits", ".control", "set numdgt=16", "set ngbehavior=none"]
        for number, text in enumerate(decks):
            path = Path(folder, f"{number}.cir")
            path.write_text(text, encoding="utf-8")
            control += [f"echo {_MARK} {number}", f"source {path}", "op", "print all"]
            control += ["destroy all", "remcirc"]
        batch = Path(folder, "batch.cir")
        batch.write_text("\n".join([*control, "quit", ".endc", ".end", ""]), encoding="utf-8")
        done = subprocess.run(
            [NGSPICE, "-b", str(batch)], capture_output=True, text=True, timeout=300, check=False
        )
    return _sort_out(done.stdout, len(decks))


def run_alone(decks: Sequence[str]) -> list[dict[str, float]]:
    """What ngspice prints for decks that say themselves what to do, by lower-case name."""
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(_run_alone, decks))


def _run_alone(text: str) -> dict[str, float]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "deck.cir")
        path.write_text(text, encoding="utf-8")
        done = subprocess.run(
            [NGSPICE, "-b", str(path)], capture_output=True, text=True, timeout=60, check=False
        )
    return _sort_out(f"{_MARK} 0\n{done.stdout}", 1)[0]


def _sort_out(printed: str, expected: int) -> list[dict[str, float]]:
    found: list[dict[str, float]] = [{} for _ in range(expected)]
    current: dict[str, float] = {}
    for line in printed.splitlines():
        if line.startswith(_MARK):
            current = found[int(line.split()[1])]
        elif match := _LINE.match(line):
            current[match[1].lower()] = float(match[2])
    return found


def solve(circuits: Sequence[Circuit]) -> list[Answer]:
    """Operating points of many circuits, ngspice's opinion.

    Raises `NoAnswer` where ngspice did not print each node voltage and part current.
    """
    found = solve_most(circuits)
    for circuit, answer in zip(circuits, found, strict=True):
        if answer is None:
            raise NoAnswer(f"ngspice finds no point for:\n{deck(circuit, givens(circuit, None))}")
    return [answer for answer in found if answer is not None]


def solve_most(circuits: Sequence[Circuit]) -> list[Answer | None]:
    """The same, with None where ngspice finds no operating point.

    Parts that follow others are given what the answer before made of the signals, until nothing
    moves.
    """
    given = [givens(circuit, None) for circuit in circuits]
    answers = _solve(circuits, given)
    moving = [number for number, circuit in enumerate(circuits) if _chained(circuit.loop)]
    for _ in range(ROUNDS):
        last = {n: answer for n in moving if (answer := answers[n]) is not None}
        told = {n: givens(circuits[n], answer.voltages) for n, answer in last.items()}
        moving = [n for n in last if told[n] != given[n]]
        if not moving:
            break
        for n in moving:
            given[n] = told[n]
        again = _solve([circuits[n] for n in moving], [given[n] for n in moving])
        for n, answer in zip(moving, again, strict=True):
            answers[n] = answer
    return answers


def solve_from(circuit: Circuit, volts: Mapping[str, float]) -> Answer | None:
    """The operating point in which switches stand as they would at ``volts``, if it holds itself.

    A relay that somebody's jumper lets feed itself has two; a circuit that switches itself to and
    fro has none.
    """
    given = givens(circuit, volts)
    answer = _solve([circuit], [given])[0]
    held = answer is not None and givens(circuit, answer.voltages) == given
    return answer if held else None


def _chained(loop: Loop) -> bool:
    return any(part.kind.follows and part.kind.branches for part in loop.parts)


def _solve(
    circuits: Sequence[Circuit], given: Sequence[Mapping[str, Given]]
) -> list[Answer | None]:
    decks = [deck(*pair) for pair in zip(circuits, given, strict=True)]
    printed = run(decks)
    again = [number for number, found in enumerate(printed) if not found]
    easier = run([decks[number].replace(OPTIONS, EASIER) for number in again])
    for number, found in zip(again, easier, strict=True):
        printed[number] = found
    return [_answer(*each) for each in zip(circuits, given, printed, strict=True)]


def _answer(
    circuit: Circuit, given: Mapping[str, Given], printed: Mapping[str, float]
) -> Answer | None:
    loop, nodes, values = circuit.loop, _node_names(circuit.loop), parameters(circuit)
    try:
        return Answer(
            {node: 0.0 if k == "0" else _voltage(printed, k) for node, k in nodes.items()},
            {
                part.name: _current(printed, n, _branches(part, values, given))
                for n, part in enumerate(wired(loop))
            },
            values,
        )
    except KeyError:
        return None


def _current(printed: Mapping[str, float], number: int, parts: Sequence[Branch]) -> float:
    """Of the branches that join the same pins as the first."""
    first = parts[0][:2]
    beside = [k for k, branch in enumerate(parts) if branch[:2] == first]
    return sum(printed[f"vm{number}_{k}#branch"] for k in beside)


def _voltage(printed: Mapping[str, float], node: str) -> float:
    return printed[f"v({node})"] if f"v({node})" in printed else printed[node]
