"""Cases behind an address: object storage or a web server, read through fsspec.

Who may read is not said in an address: keys come from where the tools of that storage look for them
(environment, profile of the machine).  What an address may hold of secrets is never shown.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from importlib import import_module
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

from diagnose.casework.checks import CaseError
from diagnose.casework.packs import PACK, cases_of
from diagnose.loops.names import shown
from diagnose.review.bundles import cases_in
from diagnose.review.refused import ReviewError

if TYPE_CHECKING:
    from diagnose.review.take import Named

SCHEMES = ("s3", "s3a", "http", "https")

AT_ONCE = 500
"""Files fetched together."""


def told(address: str) -> str:
    """An address as it may be shown: without user, password and query."""
    if "://" in address:
        address = re.sub(r"://[^/@]*@", "://", address).partition("?")[0]
    return shown(address, 200)


def reason(error: BaseException, address: str) -> str:
    """The first line of what went wrong, without the secrets of the address."""
    if isinstance(error, FileNotFoundError):
        return "it is not there, or may not be read"
    text = next(iter(str(error).strip().splitlines()), "") or type(error).__name__
    for secret in _secrets(address):
        text = text.replace(secret, "...")
    text = re.sub(r"\?[^\s'\"]+=[^\s'\"]*", "?...", text)
    return shown(text, 200)


def _secrets(address: str) -> list[str]:
    """Passwords and queries of an address, as they stand there and as they are meant."""
    found = re.findall(r"://[^/@:]*:([^@]*)@", address) + re.findall(r"\?(.+)", address)
    found += re.findall(r"(?:password|sig|signature|token|key)=([^&\s]+)", address, re.IGNORECASE)
    return sorted({text for each in found for text in (each, unquote(each)) if text}, key=len)[::-1]


def file_system(address: str) -> Any:
    """What reads an address.

    Raises
    ------
    ReviewError
        The scheme is none of ``SCHEMES``, or the package that reads it is not installed.
    """
    scheme = urlsplit(address).scheme.casefold()
    if scheme not in SCHEMES or "::" in address:
        raise ReviewError(f"{told(address)}: an address begins with {', '.join(SCHEMES)}")
    try:
        import fsspec

        return fsspec.filesystem(scheme)
    except ImportError as error:
        raise ReviewError(
            f"{told(address)}: to read it, install diagnose with its extra 'remote'"
        ) from error


def fetched(address: str, folder: Path) -> list[str]:
    """Copy one file, or all that a pattern with ``*`` names, into a folder; the paths there."""
    system = file_system(address)
    paths = sorted(system.glob(address)) if "*" in path_of(address) else [address]
    copies = [str(folder / f"{number}.parquet") for number, _ in enumerate(paths)]
    for path, copy in zip(paths, copies, strict=True):
        system.get_file(path, copy)
    if not copies:
        raise ReviewError(f"{told(address)}: no file has such a name")
    return copies


def texts(address: str) -> Iterator[Named]:
    """The cases behind an address: of a file ``.jsonl``, of a pack, or of all in a folder.

    A ``*`` stands for any part of a name.  Raises ReviewError where there is none.
    """
    system = file_system(address)
    plain = path_of(address)
    ending = next((ending for ending in (".jsonl", PACK) if plain.endswith(ending)), "")
    if ending and "*" not in plain:
        yield from _in_file(system, address)
        return
    folder = address.rstrip("/")
    patterns = [address] if ending else [f"{folder}/*.jsonl", f"{folder}/*{PACK}"]
    paths = sorted(path for pattern in patterns for path in system.glob(pattern))
    if not paths:
        raise ReviewError(f"{told(address)}: there is no case file (.jsonl) behind it")
    alone = iter([path for path in paths if not path.endswith(PACK)])
    own = {_stem(path) for path in paths}
    while some := list(islice(alone, AT_ONCE)):
        yield from ((_stem(path), text) for path, text in sorted(system.cat(some).items()))
    for path in paths:
        if path.endswith(PACK):  # what has a file of its own again was gone on with
            yield from (case for case in _in_file(system, path) if case[0] not in own)


def _in_file(system: Any, address: str) -> Iterator[Named]:
    """The cases of one file: a pack, or cases written one after the other."""
    plain = path_of(address)
    with system.open(address, "rb") as file:
        if not plain.endswith(PACK):
            yield from cases_in(file, _stem(plain))
            return
        try:
            yield from cases_of(file, told(address))
        except CaseError as error:
            raise ReviewError(str(error)) from error


def path_of(address: str) -> str:
    """An address without its query."""
    return address.partition("?")[0]


def errors() -> tuple[type[Exception], ...]:
    """What a storage that cannot be read raises."""
    found: list[type[Exception]] = [OSError, ValueError]
    for module, name in (
        ("botocore.exceptions", "BotoCoreError"),
        ("botocore.exceptions", "ClientError"),
        ("aiohttp", "ClientError"),
    ):
        if module.partition(".")[0] in sys.modules:
            found.append(getattr(import_module(module), name))
    return tuple(found)


def _stem(path: str) -> str:
    return path.rpartition("/")[2].removesuffix(".jsonl")
