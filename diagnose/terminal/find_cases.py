"""Which cases, of which plants, a review is about: the words of the command line made data."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from diagnose.loops.names import shown
from diagnose.loops.plant import PLANT_FILE, Plant, open_plant
from diagnose.review.exposure import Population, population
from diagnose.review.records import Records, Source
from diagnose.review.rows import Filters
from diagnose.review.tables import Settings
from diagnose.terminal.arguments import UsageError, whole
from diagnose.terminal.find_loop import plant_of


def records_of(arguments: Namespace) -> tuple[Records, Population | None, list[Plant]]:
    """The cases of all sources, and the loops in service where the sources are plants."""
    plants, sources = _sources(arguments)
    records = Records.open(sources)
    return records, population(plants) if plants else None, plants


def _sources(arguments: Namespace) -> tuple[list[Plant], list[Source]]:
    """Plants and where cases lie.

    Cases that are not in a plant folder belong to the plant of ``--plant``, if that is given.
    """
    words = [word for word in arguments.sources if not (Path(word) / PLANT_FILE).is_file()]
    plants = _each([open_plant(word) for word in arguments.sources if word not in words])
    sources = [
        Source(str(folder), plant.name)
        for plant in plants
        for folder in plant.case_folders
        if folder.is_dir()
    ]
    if arguments.sources and not arguments.plant:
        return plants, [*sources, *(Source(word, _name(word)) for word in words)]
    home = plant_of(arguments)
    kept = words or [str(folder) for folder in home.case_folders if folder.is_dir()]
    if not words and len(_each([*plants, home])) == len(plants):
        return plants, sources  # it is one of those named
    return _each([*plants, home]), [*sources, *(Source(word, home.name) for word in kept)]


def _each(plants: Sequence[Plant]) -> list[Plant]:
    """The plants, a folder that was named twice once."""
    return list({plant.folder.resolve(): plant for plant in plants}.values())


def _name(word: str) -> str:
    return Path(word).resolve().name if Path(word).is_dir() else ""


def filters_of(arguments: Namespace) -> Filters:
    """The filters; UsageError for a day that is none."""
    since, until = day("--since", arguments.since), day("--until", arguments.until)
    if since and until and until < since:
        raise UsageError(f"--until {until} is before --since {since}")
    return Filters(
        since=since,
        until=until,
        tags=arguments.tag,
        types=arguments.type,
        places=arguments.place,
        parts=arguments.part,
        kinds=arguments.kind,
        faults=arguments.fault,
        modes=arguments.mode,
        status=arguments.status,
    )


def settings_of(arguments: Namespace) -> Settings:
    """What the review takes for granted; UsageError for a number that makes no sense."""
    days = whole("--repeat-days", arguments.repeat_days, 0, 3650)
    return Settings(confidence=_share(arguments.confidence), repeat_days=days)


def _share(text: str) -> float:
    number = text.strip().removesuffix("%").strip()
    try:
        value = float(number) / (100 if text.strip().endswith("%") else 1)
    except ValueError:
        value = 0.0
    if not 0.5 <= value < 1:
        raise UsageError(f"--confidence: '{shown(text)}' is no share from 50 % to below 100 %")
    return value


def day(option: str, text: str | None) -> date | None:
    """A day, or None where none was given."""
    return None if text is None else date_of(option, text)


def date_of(option: str, text: str) -> date:
    """A day as ``2024-01-31``; UsageError for any other text."""
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise UsageError(f"{option}: '{shown(text)}' is no day; write 2024-01-31") from error
