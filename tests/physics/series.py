"""Physics of what stands in a current loop, for the circuit simulator."""

from collections.abc import Callable, Mapping

Element = tuple[str, float | str]
Branches = list[tuple[str, str, list[Element]]]


def _knee(volts: str, slope: str) -> Callable[[Mapping[str, float], float], Branches]:
    """A junction that conducts from some volts on, and a leak beside it."""

    def branches(q: Mapping[str, float], process: float) -> Branches:
        beyond = f"max({{v}}-({q[volts]!r}),0)/{q[slope]!r}"
        return [("plus", "minus", [("BI", f"{{v}}/{q['leak']!r}+{beyond}")])]

    return branches


PHYSICS: dict[str, Callable[[Mapping[str, float], float], Branches]] = {
    "series_indicator": _knee("drop", "resistance"),
    "test_diode": _knee("forward", "slope"),
}
