"""``find``: loops by tag, service, place, terminal or what they share."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterator, Sequence

from diagnose.loops.catalogue import Card, Progress, catalogue
from diagnose.loops.finding import ALIKE, TAG, Hit, Shared, find, neighbours
from diagnose.terminal.arguments import whole
from diagnose.terminal.find_loop import plant_of
from diagnose.terminal.outcome import DONE, NEGATIVE, SCHEMA, Look, Outcome
from diagnose.terminal.table import grid
from diagnose.terminal.wording import count, listed, paragraph

WIDE = 76
"""Columns from which on what a loop is and where a name stands have a column each."""

FEW = 12
"""Tags that are named of a long list, unless all are asked for."""


def find_loops(arguments: Namespace) -> Outcome:
    """The loops that a text means, and the neighbours of one that is named by its tag."""
    most = whole("--most", arguments.most, 1, 100_000)
    text = " ".join(arguments.text)
    cards = catalogue(plant_of(arguments), reading_sheets())
    hits = find(text, cards)
    exact = [hit.card for hit in hits if hit.rank == TAG][:1]
    shared = neighbours(exact[0].tag, cards) if exact else []
    data = {
        "schema": SCHEMA,
        "text": text,
        "found": [_json(hit) for hit in hits],
        "neighbours": [
            {"what": item.what, "name": item.name, "tags": list(item.tags)} for item in shared
        ],
    }
    return Outcome(
        data,
        lambda look: _lines(text, hits, exact, shared, most, look),
        DONE if hits and hits[0].rank != ALIKE else NEGATIVE,
    )


def _json(hit: Hit) -> dict[str, object]:
    card = hit.card
    found = {"tag": card.tag, "service": card.service, "type": card.type, "range": card.range}
    known = {**found, "where": list(hit.why), "like": hit.rank == ALIKE}
    return {**known, "problem": card.problem} if card.problem else known


def _lines(
    text: str,
    hits: Sequence[Hit],
    exact: Sequence[Card],
    shared: Sequence[Shared],
    most: int,
    look: Look,
) -> Iterator[str]:
    if not hits:
        yield from paragraph(f"No loop is called by '{text}', and none is like it.", look)
        return
    if hits[0].rank == ALIKE:
        yield from paragraph(f"No loop is called by '{text}'. Like it:", look)
    yield from grid(*_columns(hits[:most], look), look)
    if len(hits) > most:
        yield f"And {len(hits) - most} more; --most {len(hits)} shows them."
    for card in exact:
        yield ""
        yield from _about(card, shared, look)


def _columns(hits: Sequence[Hit], look: Look) -> tuple[Sequence[str], Sequence[Sequence[str]]]:
    """Head and rows; on a narrow screen what and where share a column."""
    rows = [
        (hit.card.tag, hit.card.problem or hit.card.service, "; ".join(hit.why)) for hit in hits
    ]
    if not any(where for _, _, where in rows):
        return ("tag", "service"), [(tag, what) for tag, what, _ in rows]
    if look.width < WIDE:
        told = [(tag, ": ".join(filter(None, (what, where)))) for tag, what, where in rows]
        return ("tag", "service: where"), told
    return ("tag", "service", "where"), rows


def _about(card: Card, shared: Sequence[Shared], look: Look) -> Iterator[str]:
    for name, title in (card.places or {}).items():
        yield from paragraph(title if title == name else f"{name}: {title}", look, "  ")
    if not shared:
        yield from paragraph(f"No sheet says what {card.tag} shares with other loops.", look)
    for item in shared:
        tags = listed(item.tags[:FEW])
        if len(item.tags) > FEW:
            tags = f"{', '.join(item.tags[:FEW])} and {count(len(item.tags) - FEW, 'more loop')}"
        yield from paragraph(f"{tags}", look, f"  {item.what}, {item.name}: ", "    ")


def reading_sheets() -> Progress | None:
    """Tells how far the first reading of all sheets has come, where somebody watches."""
    return _progress if sys.stderr.isatty() else None


def _progress(done: int, of: int) -> None:
    if of > 50 and (done % 50 == 0 or done == of):
        print(f"\rreading the sheets once: {done} of {of}", end="\n" if done == of else "",
              file=sys.stderr, flush=True)  # fmt: skip
