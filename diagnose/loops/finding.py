"""Loops found by what people call them: tag, service, place, terminal, supply, card, cable."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from diagnose.loops.catalogue import Card, plain_name, table_of
from diagnose.loops.index.fields import field_of

STOP = frozenset((
    "a", "all", "and", "any", "are", "at", "by", "for", "from", "go", "goes", "in", "is", "it",
    "loop", "loops", "near", "of", "on", "or", "pass", "passes", "share", "shares", "that", "the",
    "through", "to", "use", "uses", "what", "where", "which", "with",
))  # fmt: skip
"""Words of a question that name nothing."""

LIKE = 75
"""Likeness, per cent, from which on a slip of the finger is taken for the word."""

MOST_LIKE = 12
"""Loops that are offered where nothing fits as it was typed."""

TAG, BEGINS, NAME, SERVICE, PLACE, ALIKE = range(6)
"""How near a hit is: the smaller, the sooner it is shown."""


@dataclass(frozen=True, slots=True)
class Hit:
    """A loop that was found, and why: ``rank`` is how near it is."""

    card: Card
    why: tuple[str, ...]
    rank: int


@dataclass(frozen=True, slots=True)
class Shared:
    """Something that a loop has in common with others: what, its name, and their tags."""

    what: str
    name: str
    tags: tuple[str, ...]


def find(text: str, cards: Mapping[str, Card]) -> list[Hit]:
    """The loops that a text means, the nearest first; those that are like it where none fits.

    ``which loops pass through JB-9?`` finds by the name JB9; several words have all to fit.
    """
    words = [word for word in re.findall(r"[^\s,;?!]+", text) if word.casefold() not in STOP]
    if not words:
        return []
    whole = plain_name("".join(words))
    hits = [hit for card in cards.values() if (hit := _fit(card, [whole], [" ".join(words)]))]
    if not hits and len(words) > 1:
        plain = [plain_name(word) for word in words]
        hits = [hit for card in cards.values() if (hit := _fit(card, plain, words))]
    return sorted(hits or _alike(" ".join(words), cards), key=lambda hit: (hit.rank, hit.card.tag))


def _fit(card: Card, plain: Sequence[str], words: Sequence[str]) -> Hit | None:
    """A card that fits every word, and by what."""
    why, rank = [], TAG
    for name, word in zip(plain, words, strict=True):
        found = _fits(card, name, word.casefold())
        if found is None:
            return None
        rank = max(rank, found[0])
        why.append(found[1])
    return Hit(card, tuple(filter(None, dict.fromkeys(why))), rank)


def _fits(card: Card, name: str, word: str) -> tuple[int, str] | None:
    tag = plain_name(card.tag)
    if name == tag:
        return TAG, ""
    if f" {name} " in card.words:
        return NAME, _named(card, name)
    if len(name) > 1 and tag.startswith(name):
        return BEGINS, ""
    # From the beginning of a word on, and not JB1 in JB12.
    stands = re.compile(rf"(?<![^\W_]){re.escape(word)}(?![0-9])")
    if stands.search(card.service.casefold()):
        return SERVICE, ""
    titles = [title for title in (card.places or {}).values() if stands.search(title.casefold())]
    return (PLACE, titles[0]) if titles else None


def _named(card: Card, name: str) -> str:
    """Where a name stands in a sheet: terminals with their place, else a part, else a thing."""
    points = table_of(card.points)
    ends = [p for p in points if name in (plain_name(p), plain_name(p.partition(":")[0]))]
    if ends:
        place = points[ends[0]]
        title = (card.places or {}).get(place, place)
        return f"{', '.join(ends[:4])}{' …' if len(ends) > 4 else ''} in {title}"
    for part, title in table_of(card.parts).items():
        if plain_name(part) == name:
            return f"{part}, {title}" if title else part
    for thing, called in (card.things or {}).items():
        if plain_name(called) == name:
            return f"{called}, {field_of('index', thing).title.removeprefix('name of the ')}"
    return name


def _alike(text: str, cards: Mapping[str, Card]) -> list[Hit]:
    """The loops whose tag or words are most like the text: slips of the finger."""
    from rapidfuzz import fuzz

    whole, words = plain_name(text), text.casefold().split()
    near: dict[str, float] = {}
    for tag, card in cards.items():
        texts = f"{card.service} {' '.join((card.places or {}).values())}".casefold().split()
        told = [max((fuzz.ratio(word, other) for other in texts), default=0.0) for word in words]
        near[tag] = max(fuzz.ratio(whole, plain_name(tag)), min(told))
    best = sorted((t for t in near if near[t] >= LIKE), key=lambda tag: (-near[tag], tag))
    return [Hit(cards[tag], (f"like '{text}'",), ALIKE) for tag in best[:MOST_LIKE]]


# -- neighbours ----------------------------------------------------------------------------------


def neighbours(tag: str, cards: Mapping[str, Card]) -> list[Shared]:
    """What a loop has in common with others: as its sheet says, then by names that both tell.

    A name that only the loop type gives is no sign: every loop of the type has it.
    """
    card = cards[tag]
    return [*_said(card), *_common(card, [other for other in cards.values() if other is not card])]


def _said(card: Card) -> Iterator[Shared]:
    """Neighbours by reason; the sheet names them."""
    by_reason: dict[str, list[str]] = {}
    for other, why in (card.beside or {}).items():
        by_reason.setdefault(why or "said to be a neighbour", []).append(other)
    yield from (Shared("by the sheet", why, tuple(tags)) for why, tags in by_reason.items())


def _common(card: Card, others: Iterable[Card]) -> Iterator[Shared]:
    others = list(others)
    for thing in card.told:
        name = (card.things or {}).get(thing, "")
        same = [
            other.tag for other in others if _has(other, thing, name) and _near(thing, card, other)
        ]
        if same:
            yield Shared(_WORDS[thing], name, tuple(same))


_WORDS = {"supply": "supply", "card": "module", "cable": "cable", "branch": "cable to the device",
          "box": "junction box", "strip": "terminal strip"}  # fmt: skip


def _has(card: Card, thing: str, name: str) -> bool:
    return thing in card.told and plain_name((card.things or {}).get(thing, "")) == plain_name(name)


def _near(thing: str, one: Card, two: Card) -> bool:
    """Supplies, modules and strips of one name are one only in the same cabinet."""
    if thing in ("cable", "branch", "box"):
        return True
    return (one.places or {}).get("cabinet") == (two.places or {}).get("cabinet")
