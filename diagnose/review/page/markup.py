"""HTML that escapes by itself: text given to an element can never become part of it."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from unicodedata import category

from diagnose.review.figures import percent_of

VOID = frozenset({"br", "input", "link", "meta"})
"""Elements that have no end."""


class Markup(str):
    """Text that is HTML already; only `el`, `join` and `trusted` make it."""

    __slots__ = ()


def el(name: str, /, *children: object, **attributes: object) -> Markup:
    """One element; children and attribute values that are plain text are escaped.

    ``class_`` and ``for_`` stand for the words that Python keeps for itself, other underscores for
    dashes; an attribute that is None or False is left out, one that is True has no value.

    >>> el("td", "<b>", class_="number", data_v=1.5)
    '<td class="number" data-v="1.5">&lt;b&gt;</td>'
    """
    words = "".join(_attribute(key, value) for key, value in attributes.items())
    if name in VOID:
        return Markup(f"<{name}{words}>")
    return Markup(f"<{name}{words}>{join(children)}</{name}>")


def _attribute(key: str, value: object) -> str:
    name = key.removesuffix("_").replace("_", "-")
    if value is None or value is False:
        return ""
    return f" {name}" if value is True else f' {name}="{_escaped(str(value))}"'


def join(children: object) -> Markup:
    """Children one after the other: markup as it is, anything else as text; None is nothing."""
    if children is None:
        return Markup()
    if isinstance(children, Markup):
        return children
    if isinstance(children, str) or not isinstance(children, Iterable):
        return Markup(_escaped(str(children)))
    return Markup("".join(map(join, children)))


def _escaped(text: str) -> str:
    """Signs of HTML as references; what no page can show as the sign for it."""
    return escape("".join(sign if _shows(sign) else "\ufffd" for sign in text), quote=True)


def _shows(sign: str) -> bool:
    """Whether a sign is one to be seen, or a space of any width: no control, no turn of writing."""
    return sign.isprintable() or sign in "\n\t" or category(sign) == "Zs"


def trusted(text: str) -> Markup:
    """Text of this package's own files (style, script) as it is; never a user's."""
    return Markup(text)


def counted(number: int, one: str) -> str:
    """``1 case``, ``1,204 cases``."""
    return f"{number:,} {one}{'' if number == 1 else 's'}"


def pct(share: float) -> str:
    """A share in per cent; what is nearly sure is not called sure.

    >>> pct(0.9996).replace("\u00a0", " ")
    '> 99 %'
    """
    return percent_of(share).replace(" %", "\u00a0%")


def spaced(text: str) -> str:
    """A figure with its unit, kept on one line."""
    return text.replace(" ", "\u00a0")
