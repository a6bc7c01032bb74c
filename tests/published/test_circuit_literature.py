"""The circuit layer against published numbers and closed forms of circuits."""

from __future__ import annotations

from collections.abc import Callable
from math import dist

import numpy as np
import pytest

from diagnose.circuit.operating import OperatingPoint, operating_point
from diagnose.loops import kinds  # noqa: F401 - registers the kinds
from diagnose.loops.kind import Kind
from diagnose.loops.loop import Loop, Part

Changes = dict[tuple[str, str], float]
FACTORS = [10.0**power for power in range(-6, 7) if power]


def part(name: str, kind: str, a: str, b: str, **values: float) -> Part:
    """A part between two nodes, silent parameters at their defaults."""
    found = Kind.registry[kind]
    silent = {item.name: item.default or 0.0 for item in found.parameters}
    pins = dict(zip(found.pins, (a, b), strict=True))
    return Part(name, found, pins, silent | values, "bench")


def made(*parts: Part) -> Loop:
    """A loop on nodes of its own, voltages to ``0``."""
    return Loop("bench", "", "", ("%", 0.0, 100.0), "0", parts, (), ())


def resistor(name: str, a: str, b: str, ohms: float) -> Part:
    return part(name, "resistor", a, b, resistance=ohms)


def supply(volts: float, ohms: float) -> Part:
    return part("G", "supply", "p", "0", voltage=volts, source_resistance=ohms, current_limit=1e9)


def volts(loop: Loop, changes: Changes, *nodes: str) -> list[float]:
    found = operating_point(loop, changes, 0.5)
    return [found.voltages[node] for node in nodes]


# --- large-change sensitivity ----------------------------------------------------------------
# J. A. Starzyk, lecture "Large change sensitivities": T0 = [[2,-1,0],[-1,3,-1],[0,0,2]], w =
# (1,0,0), X0 = (0.6, 0.2, 0); with +1 at row 3, column 2, z = 1/6 and X = (7, 2, -1)/12
# (numbers seen in the lecture, and recomputed).  The third row is a controlled source, which no
# part here is: by the substitution theorem a fixed voltage stands in for it.


def starzyk(third: float) -> Loop:
    """Rows 1 and 2 of T0: 1 A beside 1 S into node p, 1 S to node q, 1 S to earth, 1 S to node 3.

    The 1 S to node 3 is a wire behind the voltage ``third`` of that node.
    """
    return made(
        supply(1.0, 1.0),
        resistor("g12", "p", "q", 1.0),
        resistor("g2", "q", "0", 1.0),
        part("g23", "common_wire", "q", "0", resistance=1.0, emf=third),
    )


def test_starzyk_before_the_change() -> None:
    assert volts(starzyk(0.0), {}, "p", "q") == pytest.approx([0.6, 0.2], rel=1e-12)


def test_starzyk_after_the_change() -> None:
    """Row 3 reads X2 + 2 X3 = 0: with X3 = -1/12 in place, X2 must come out as z = 1/6."""
    x1, x2 = volts(starzyk(0.0), {("g23", "emf"): -1 / 12}, "p", "q")
    assert [x1, x2, -x2 / 2] == pytest.approx([7 / 12, 2 / 12, -1 / 12], rel=1e-12)


# --- ladder ----------------------------------------------------------------------------------
# One element of a linear network moves all node voltages along one fixed direction (rank-one
# update, Sherman and Morrison; Augusto & Almeida, VLSI Design 2008, 630951).  The numbers of this
# ladder were recomputed for this project with another linear solver.

LADDER = made(
    supply(24.0, 100.0),
    resistor("S1", "p", "0", 1000.0),
    resistor("R1", "p", "q", 100.0),
    resistor("S2", "q", "0", 1000.0),
    resistor("R2", "q", "r", 100.0),
    resistor("S3", "r", "0", 250.0),
)
ELEMENTS = {"R0": ("G", "source_resistance", 100.0)} | {
    name: (name, "resistance", ohms)
    for name, ohms in {"R1": 100.0, "R2": 100.0, "S1": 1e3, "S2": 1e3, "S3": 250.0}.items()
}
DIRECTIONS = {
    "R0": (0.748171, 0.539917, 0.385655),
    "S1": (0.748171, 0.539917, 0.385655),
    "R1": (-0.274384, 0.782503, 0.558930),
    "R2": (-0.248947, -0.522789, 0.815302),
    "S2": (0.361315, 0.758761, 0.541972),
    "S3": (0.242264, 0.508755, 0.826121),
}


def ladder(element: str, factor: float) -> np.ndarray:
    name, parameter, nominal = ELEMENTS[element]
    return np.array(volts(LADDER, {(name, parameter): nominal * factor}, "p", "q", "r"))


def direction(element: str, factor: float) -> np.ndarray:
    """Unit vector of what the element does to the nodes; its sign is of no account."""
    moved = ladder(element, factor) - ladder(element, 1.0)
    unit = moved / np.linalg.norm(moved)
    return unit * np.sign(unit @ np.array(DIRECTIONS[element]))


def test_ladder_nodes() -> None:
    assert ladder("R0", 1.0) == pytest.approx([17.41211668, 12.56544503, 8.97531788], abs=5e-9)


@pytest.mark.parametrize("element", DIRECTIONS)
@pytest.mark.parametrize("factor", FACTORS)
def test_ladder_direction_is_fixed(element: str, factor: float) -> None:
    found = direction(element, factor)
    assert found == pytest.approx(DIRECTIONS[element], abs=5.1e-7)
    assert dist(found, direction(element, 2.0)) < 3e-10


def test_ladder_cannot_tell_its_source_resistance_from_the_first_shunt() -> None:
    assert dist(direction("R0", 3.0), direction("S1", 0.2)) < 1e-10


def test_ladder_supply_current_tells_them_apart() -> None:
    """The same node voltages from either element, but not the same supply current."""
    up, target = 1.5, ladder("R0", 1.5)[0]
    shunt = target / ((24 - target) / 100 - (target - ladder("R0", up)[1]) / 100)
    assert ladder("S1", shunt / 1e3) == pytest.approx(ladder("R0", up), rel=1e-9)
    one = operating_point(LADDER, {("G", "source_resistance"): 150.0}, 0.5).currents["G"]
    other = operating_point(LADDER, {("S1", "resistance"): shunt}, 0.5).currents["G"]
    assert abs(one - other) > 0.05 * abs(one)


@pytest.mark.parametrize("element", ELEMENTS)
@pytest.mark.parametrize("node", range(3))
def test_ladder_is_bilinear_in_each_element(element: str, node: int) -> None:
    """Bilinear theorem (textbook): v = (a + b x)/(1 + d x); three severities predict a fourth."""
    xs, y = np.array([0.2, 1.0, 6.0]), [ladder(element, x)[node] for x in (0.2, 1.0, 6.0)]
    a, b, d = np.linalg.solve(np.column_stack([np.ones(3), xs, -xs * y]), y)
    assert (a + b * 50.0) / (1 + d * 50.0) == pytest.approx(ladder(element, 50.0)[node], rel=1e-9)


# --- two-wire loops --------------------------------------------------------------------------


def two_wire(lift_off: float, **more: float) -> Loop:
    """Supply, all series resistance as one, transmitter, 250 ohm; leaks that can be moved."""
    return made(
        part("G", "supply", "p", "0", voltage=24.0, source_resistance=1e-6, current_limit=1e3),
        resistor("hi", "p", "tp", 1e-3),
        part("T", "two_wire_transmitter", "tp", "tn", lift_off=lift_off, leak=1e15, alive=1.0,
             failed=1.0, **more),
        resistor("lo", "tn", "0", 250.0),
        part("wet", "insulation", "tp", "tn", resistance=1e15),
        part("leak+", "insulation", "tp", "0", resistance=1e15),
        part("leak-", "insulation", "tn", "0", resistance=1e15),
    )  # fmt: skip


def two_wire_point(
    volts: float, lift_off: float, amperes: float, hi: float, lo: float, **leaks: float
) -> OperatingPoint:
    changes = {
        ("G", "voltage"): volts,
        ("T", "failed_current"): amperes,
        ("hi", "resistance"): hi,
        ("lo", "resistance"): lo,
    }
    changes |= {(name, "resistance"): ohms for name, ohms in leaks.items()}
    return operating_point(two_wire(lift_off), changes, 0.5)


# R_max = (V_supply - V_min) / I_max, whole ohms.  Manual worked examples (650, 800 ohm, and
# 43.5 (V - 10.5) = 587 ohm at 23 mA) were seen; the others are the same formula.
BUDGETS = [
    (24.0, 12.0, 20e-3, 600),
    (24.0, 12.0, 20.5e-3, 585),
    (24.0, 12.0, 21e-3, 571),
    (24.0, 12.0, 22.5e-3, 533),
    (24.0, 12.0, 23e-3, 522),
    (24.0, 10.5, 23e-3, 587),
    (24.0, 11.0, 20e-3, 650),
    (24.0, 8.0, 20e-3, 800),
]


@pytest.mark.parametrize(("supply_volts", "lift_off", "amperes", "most"), BUDGETS)
def test_two_wire_budget(supply_volts: float, lift_off: float, amperes: float, most: int) -> None:
    """Half an ohm less and the current gets through; half an ohm more and it does not."""
    below = two_wire_point(supply_volts, lift_off, amperes, most - 250.5, 250.0)
    above = two_wire_point(supply_volts, lift_off, amperes, most - 249.5, 250.0)
    assert below.regimes["T"] == "regulating"
    assert below.currents["T"] == pytest.approx(amperes, rel=1e-9)
    assert above.regimes["T"] == "starved"
    assert above.currents["T"] < amperes * (1 - 1e-6)


@pytest.mark.parametrize(("amperes", "left"), [(4e-3, 25.0), (20e-3, 21.0)])
def test_textbook_example(amperes: float, left: float) -> None:
    """26 V and 250 ohm leave 25 V at 4 mA and 21 V at 20 mA (open textbook on current loops)."""
    found = two_wire_point(26.0, 12.0, amperes, 1e-6, 250.0)
    assert found.voltages["tp"] - found.voltages["tn"] == pytest.approx(left, abs=1e-6)


@pytest.mark.parametrize(
    ("least", "lift_off", "amperes"), [(15.5, 10.0, 22e-3), (19.0, 18.0, 4e-3)]
)
def test_least_supply(least: float, lift_off: float, amperes: float) -> None:
    """10 V + 22 mA x 250 ohm = 15.5 V; 18 V + 4 mA x 250 ohm = 19 V (manual worked example)."""
    enough = two_wire_point(least + 1e-3, lift_off, amperes, 1e-6, 250.0)
    lacking = two_wire_point(least - 1e-3, lift_off, amperes, 1e-6, 250.0)
    assert (enough.regimes["T"], lacking.regimes["T"]) == ("regulating", "starved")


def starved(volts: float, amperes: float, ohms: float) -> float:
    """I = min(I_set, (V - (lift_off - ramp)) / (R + ramp / I_set)): solve i = I_set (v - 10)/2."""
    return min(amperes, (volts - 10.0) / (ohms + 2.0 / amperes))


@pytest.mark.parametrize("volts", [11.0, 18.0, 20.0, 24.0])
@pytest.mark.parametrize("amperes", [4e-3, 12e-3, 20e-3])
@pytest.mark.parametrize("ohms", [300.0, 590.3, 2000.0])
def test_closed_form_of_starvation(volts: float, amperes: float, ohms: float) -> None:
    found = two_wire_point(volts, 12.0, amperes, ohms - 250.0, 250.0)
    assert found.currents["T"] == pytest.approx(starved(volts, amperes, ohms), rel=1e-8)


def test_closed_form_of_starvation_in_numbers() -> None:
    """18 V, 20 mA asked, 590.3 ohm: 8 / 690.3 = 11.589 mA, as ngspice-39 printed."""
    found = two_wire_point(18.0, 12.0, 20e-3, 340.3, 250.0)
    assert found.currents["T"] == pytest.approx(11.589e-3, abs=0.5e-6)


LEAKS: list[tuple[str, str, Callable[[float, float, float, float], float]]] = [
    # a shunt across the transmitter: I (1 + R/Rsh) = Iset + V/Rsh, whole loop
    ("wet", "lo", lambda i, v, hi, leak: (i + v / leak) / (1 + (hi + 250.0) / leak)),
    # the + core leaks to the negative: the supply leg carries it, the return does not
    ("leak+", "hi", lambda i, v, hi, leak: (i + v / leak) / (1 + hi / leak)),
    ("leak+", "lo", lambda i, v, hi, leak: i),
    # the - core leaks to the negative: a current divider
    ("leak-", "lo", lambda i, v, hi, leak: i * leak / (leak + 250.0)),
    ("leak-", "hi", lambda i, v, hi, leak: i),
]


@pytest.mark.parametrize(("where", "seen", "closed"), LEAKS)
@pytest.mark.parametrize("leak", [5e3, 10e3, 100e3])
@pytest.mark.parametrize("amperes", [4e-3, 12e-3])
def test_closed_forms_of_leaks(
    where: str, seen: str, closed: Callable[..., float], leak: float, amperes: float
) -> None:
    found = two_wire_point(24.0, 12.0, amperes, 340.0, 250.0, **{where: leak})
    assert found.regimes["T"] == "regulating"
    assert found.currents[seen] == pytest.approx(closed(amperes, 24.0, 340.0, leak), rel=1e-8)
