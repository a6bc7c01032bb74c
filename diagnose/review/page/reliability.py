"""Said against right: whether a probability of 80 % came true in 80 % of hunts."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.review.page.axes import LINE, dot, line, picture, text
from diagnose.review.page.markup import Markup, pct
from diagnose.review.tables import ReliabilityClass

LEFT, TOP, SIDE = 50.0, 12.0, 320.0

QUESTION = "When the engine said so much, how often was it right?"


def reliability(classes: Sequence[ReliabilityClass]) -> Markup:
    """The reliability diagram: on the straight line, what was said is what came true."""
    used = [item for item in classes if item.hunts]
    marks = _frame()
    for item in used:
        marks += _point(item)
    return picture(QUESTION, _answer(used), TOP + SIDE + 2.6 * LINE, marks)


def _x(share: float) -> float:
    return LEFT + SIDE * share


def _y(share: float) -> float:
    return TOP + SIDE * (1 - share)


def _frame() -> list[Markup]:
    marks = []
    for n in range(0, 11, 2):
        share = n / 10
        marks += [
            line(_x(share), _y(0), _x(share), _y(1), "grid"),
            line(_x(0), _y(share), _x(1), _y(share), "grid"),
            text(_x(share), _y(0) + LINE, pct(share), class_="faint", anchor="middle"),
            text(_x(0) - 6, _y(share) + 4, pct(share), class_="faint", anchor="end"),
        ]
    marks.append(line(_x(0), _y(0), _x(1), _y(1), "ideal"))
    marks.append(text(_x(0.5), _y(0) + 2.2 * LINE, "said of the leading group", class_="faint",
                      anchor="middle"))  # fmt: skip
    marks.append(text(_x(0.02), _y(1) + 12, "held the cause", class_="faint"))
    return marks


def _point(item: ReliabilityClass) -> list[Markup]:
    x, share = _x(item.said), item.right
    told = f"said {pct(item.said)}, right {share.count} of {share.of}"
    marks = []
    if share.low is not None and share.high is not None:
        marks.append(line(x, _y(share.low), x, _y(share.high), "whisker"))
    if share.value is not None:
        size = 3 + min(item.hunts, 100) ** 0.5 / 2
        marks.append(dot(x, _y(share.value), size, "dot", told))
        right = x + size + 3
        near = right > LEFT + SIDE - 16
        marks.append(text(x - size - 3 if near else right, _y(share.value) + 4, f"{item.hunts}",
                          class_="faint", anchor="end" if near else "start"))  # fmt: skip
    return marks


def _answer(used: Sequence[ReliabilityClass]) -> str:
    """Which classes the straight line misses, in words."""
    if not used:
        return "No hunt with a confirmed cause yet: nothing to judge."
    total = sum(item.hunts for item in used)
    off = [item for item in used if not _holds(item)]
    told = "; ".join(
        f"{'over' if item.said > (item.right.value or 0) else 'under'}stated where it said "
        f"{pct(item.low)} to {pct(item.high)}" for item in off
    )  # fmt: skip
    verdict = f"The interval misses the line in {len(off)}: {told}." if off else (
        "Every interval holds the line: no over- or understatement is shown."
    )  # fmt: skip
    return (f"{total} hunts with a confirmed cause, in {len(used)} classes; the number of hunts "
            f"stands beside each dot. {verdict}")  # fmt: skip


def _holds(item: ReliabilityClass) -> bool:
    low, high = item.right.low, item.right.high
    return low is None or high is None or low <= item.said <= high
