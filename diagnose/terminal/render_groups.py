"""Faults of a loop that no reading within reach tells apart, as text."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.inference.ambiguity import Group, Split
from diagnose.inference.checking import Checked
from diagnose.terminal.outcome import Look
from diagnose.terminal.wording import count, listed, paragraph, percent


def group_lines(item: Checked, file: str, look: Look) -> Iterator[str]:
    """One paragraph for each group; nothing where none was asked for."""
    for group in item.groups:
        yield from paragraph(f"{file}: {_sentence(group)}", look, "group    ")


def _sentence(group: Group) -> str:
    names = [" ".join(filter(None, fault)) for fault in group.faults]
    if group.latent:
        told = f"no reading within reach tells {listed(names, 'or')} from a sound loop"
    else:
        told = f"no reading within reach tells apart {listed(names)}"
    share = f"{percent(group.share)} of what calls find"
    return f"{told} ({share}); {_split(group, group.split)}"


def _split(group: Group, split: Split | None) -> str:
    if split is None:
        return "no lead on any node would split them"
    points = f"a test point at {listed(split.points)}" if split.points else "what would"
    return (
        f"{points}, {split.place}, would: {split.reading} tells {split.bits:.1f} of "
        f"{count_bits(group.bits)}"
    )


def count_bits(bits: float) -> str:
    """``1 bit``, ``2.3 bits``."""
    text = f"{bits:.1f}"
    return count(1, "bit") if text == "1.0" else f"{text} bits"
