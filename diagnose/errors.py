"""One root error; its children hold facts and write their own sentence."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


class DiagnoseError(Exception):
    """Something the user can put right; its text is one sentence for them."""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A tail for a sentence: the nearest known words, or all of a few, or nothing."""
    names = sorted({name for name in known if name.isprintable()})
    folded: dict[str, list[str]] = {}
    for name in names:
        folded.setdefault(name.casefold(), []).append(name)
    close = get_close_matches(word.casefold(), folded, n=3, cutoff=0.6)
    near = folded.get(word.casefold()) or [name for key in close for name in folded[key]][:3]
    if near:
        return f"; did you mean {' or '.join(near)}?"
    if 0 < len(names) <= 12:
        return f"; known: {', '.join(names)}"
    return ""


class SheetError(DiagnoseError):
    """One or more faults of a sheet, each with the file and key where it stands."""

    def __init__(self, problems: Iterable[tuple[str, str, str]]) -> None:
        """``problems``: (file, key, sentence) in the order found."""
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{file}: {key}: {text}" for file, key, text in self.problems))


class ReadingError(DiagnoseError):
    """A reading line that cannot be understood."""

    def __init__(self, text: str, reason: str) -> None:
        self.text, self.reason = text, reason
        shown = text if len(text) <= 60 else text[:57] + "..."
        super().__init__(
            f"{shown.encode('unicode_escape').decode('ascii')!r}: {reason}"
            if not shown.isprintable()
            else f"'{shown}': {reason}"
        )


class UnknownNameError(DiagnoseError):
    """A tag, part, point or mode that does not exist."""

    def __init__(self, what: str, name: str, known: Iterable[str], besides: str = "") -> None:
        """``besides`` says what else can be done, beside one of those that are ``known``."""
        self.what, self.name = what, name
        shown = name if name.isprintable() else name.encode("unicode_escape").decode("ascii")
        tail = did_you_mean(name, known)
        if besides:
            tail += f" {besides[:1].upper()}{besides[1:]}" if tail[-1:] == "?" else f"; {besides}"
        super().__init__(f"no {what} called '{shown[:60]}'{tail}")


class QuantityError(DiagnoseError):
    """Text that is no quantity of the kind wanted."""

    def __init__(self, text: str, reason: str) -> None:
        self.text, self.reason = text, reason
        super().__init__(reason)
