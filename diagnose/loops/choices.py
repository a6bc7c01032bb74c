"""Sheet values that are words: a type letter, a class, a direction."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from diagnose.errors import DiagnoseError
from diagnose.quantities import shown


class ChoiceError(DiagnoseError):
    """A word that is none of those that a key takes."""

    def __init__(self, key: str, word: str, known: Mapping[str, float]) -> None:
        self.key, self.word = key, word
        some = ", ".join(f'"{name}"' for name in known)
        super().__init__(f"{key}: {shown(word)} is none of {some}")


def chosen(values: Mapping[str, Any], choices: Mapping[str, Mapping[str, float]]) -> dict[str, Any]:
    """The values with each word of ``choices`` replaced by the number that stands for it.

    Raises
    ------
    ChoiceError
        A word that is none of those known for its key.
    """
    found = dict(values)
    for key, known in choices.items():
        word = values.get(key)
        if isinstance(word, str):
            number = {name.casefold(): number for name, number in known.items()}.get(
                word.strip().casefold()
            )
            if number is None:
                raise ChoiceError(key, word, known)
            found[key] = number
    return found


def numbered(words: tuple[str, ...]) -> dict[str, float]:
    """Words by their place: what a parameter holds for each."""
    return {word: float(number) for number, word in enumerate(words)}
