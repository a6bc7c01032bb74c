"""A ring as one draws it by hand: source on top, out on the left, back on the right.

What stands at one place is in one frame, so that both cores of a cable pass a junction box side by
side.  What leads from a terminal straight to earth is drawn between the two sides.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from difflib import SequenceMatcher

from diagnose.circuit.figure import SMALL, Figure, wrapped
from diagnose.circuit.figure_bands import ROOM, STUB, Band, Ends, pages
from diagnose.circuit.figure_rows import Row, by_place, rows, total
from diagnose.circuit.lettering import Lettering, Words, height
from diagnose.circuit.strands import Strand
from diagnose.loops.loop import EARTH


def fold(strand: Strand, lettering: Lettering) -> int:
    """The step at the far end: what acts or shows, else what is farthest, near the middle."""
    loop = lettering.loop
    minutes = {place.name: place.minutes for place in loop.places}
    here = minutes.get(loop.part(strand.steps[0].part).place, 0.0)
    middle = len(strand.steps) / 2

    def worth(number: int) -> tuple[bool, float, float]:
        part = loop.part(strand.steps[number].part)
        kind = part.kind
        acts = bool(kind.driven or kind.signal or (kind.shows and not kind.senses))
        return acts, abs(minutes.get(part.place, 0.0) - here), -abs(number - middle)

    return max(range(1, len(strand.steps)), key=worth)


def ring_figures(title: str, strand: Strand, lettering: Lettering) -> Iterator[Figure]:
    """One ring, with the ways straight to earth from its terminals; a long one in pieces."""
    far = fold(strand, lettering)
    stubs = _stub_rows([s for s in lettering.stubs if s.nodes[0] in strand.nodes], lettering)
    bands = _bands(strand, far, lettering, stubs)
    return pages(
        title, bands, Ends(strand.steps[0], strand.steps[far], strand.nodes), lettering, stubs
    )


def _bands(
    strand: Strand, far: int, lettering: Lettering, stubs: Mapping[str, Sequence[Row]]
) -> list[Band]:
    out = _roomy(rows(Strand(strand.steps[:far], ring=True), lettering, ROOM, strand.nodes), stubs)
    way_back = rows(Strand(strand.steps[far:], ring=True), lettering, ROOM, strand.nodes)
    back = _roomy(way_back, stubs)[::-1]
    runs, turned = by_place(out), by_place(back)
    bands: list[Band] = []
    match = SequenceMatcher(None, [p for p, _ in runs], [p for p, _ in turned], autojunk=False)
    for what, a, b, c, d in match.get_opcodes():
        if what == "equal":
            pairs = zip(runs[a:b], turned[c:d], strict=True)
            bands += [Band(place, left, right) for (place, left), (_, right) in pairs]
        else:
            bands += [Band(place, left) for place, left in runs[a:b]]
            bands += [Band(place, [], right) for place, right in turned[c:d]]
    ends = (strand.steps[0], strand.steps[far])
    first, last = (lettering.loop.part(step.part).place for step in ends)
    if not bands or bands[0].place != first:
        bands.insert(0, Band(first))
    if bands[-1].place != last:
        bands.append(Band(last))
    return bands


def _roomy(found: Sequence[Row], stubs: Mapping[str, Sequence[Row]]) -> list[Row]:
    """Rows with room enough for what leads to earth beside them."""
    return [
        replace(row, least=total(stubs[row.name]))
        if row.sign == "node" and row.name in stubs
        else row
        for row in found
    ]


def _stub_rows(stubs: Sequence[Strand], lettering: Lettering) -> dict[str, list[Row]]:
    """For each terminal the boxes of what leads from it to earth."""
    found: dict[str, list[Row]] = {}
    for strand in stubs:
        part = lettering.loop.part(strand.steps[0].part)
        suspect = lettering.marks.suspected.get(part.name, "")
        lines = [
            Words(line, SMALL, len(line))
            for text in (part.name, suspect)
            for line in wrapped(text, STUB - 2, SMALL)
        ]
        row = Row(
            part.name, "stub", part.place, tuple(lines), bool(suspect), part.kind.latent,
            height(lines) + 2.4,
        )  # fmt: skip
        found.setdefault(strand.nodes[0], []).append(row)
    return found


def earthed(strand: Strand) -> bool:
    """Whether a branch is one part that leads straight to earth."""
    return len(strand.steps) == 1 and strand.nodes[-1] == EARTH
