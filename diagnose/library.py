"""Finds the loop types and plants that ship with the package, in a wheel or in a checkout."""

from __future__ import annotations

import os
import re
import sys
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent
DEMO = "larkmere"


def shipped(name: str) -> Path:
    """A shipped folder: inside the package (wheel) or beside it (checkout)."""
    beside = PACKAGE.parent / name
    # The checkout wins: an editable install may leave a stale copy inside the package.
    if (PACKAGE.parent / "pyproject.toml").is_file() and beside.is_dir():
        return beside
    inside = PACKAGE / name
    return inside if inside.is_dir() else beside


def models() -> Path:
    """The folder of the shipped loop types."""
    return shipped("models")


def demo_plant() -> Path:
    """The folder of the demo plant; read-only for the user."""
    return shipped("cases") / DEMO


def cache_folder() -> Path:
    """Where derived data are kept; ``DIAGNOSE_CACHE`` names another folder."""
    chosen = os.environ.get("DIAGNOSE_CACHE")
    if chosen:
        return Path(chosen)
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(base) if base else Path.home() / ".cache") / "diagnose"


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is there as a whole or not at all; OSError where it cannot be.

    A link is followed, and into a device or a pipe it is written: no file takes their place.
    """
    if path.exists() and not path.is_file():
        path.write_bytes(data)
        return
    path = Path(os.path.realpath(path))
    # Not by tempfile: what it makes can be read by its maker alone, whatever the umask says.
    beside = path.with_name(f".{path.name[:40]}.{os.urandom(6).hex()}")
    try:
        beside.write_bytes(data)
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)


def write_new(path: Path, data: bytes) -> None:
    """Write a file that was not there; OSError where it is, or cannot be: then none is left."""
    file = path.open("xb")
    try:
        with file:
            file.write(data)
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def type_names(*folders: Path) -> tuple[str, ...]:
    """Names of all loop types in the shipped folder and in further ``folders``."""
    found = {path.stem for folder in (models(), *folders) for path in folder.glob("*.toml")}
    return tuple(sorted(found))


@cache
def package_version() -> str:
    """The version: of the checkout that this is, else of the installed package; else ``0``."""
    return _checkout_version() or installed_version("diagnose")


def installed_version(name: str) -> str:
    """The version of an installed package; ``0`` where there is none."""
    for folder in sys.path:
        for found in Path(folder or ".").glob(f"{name}-*.dist-info"):
            return found.name.removeprefix(f"{name}-").removesuffix(".dist-info")
    # Imported here: the usual way to ask takes as long as reading a loop.
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version(name)
    except PackageNotFoundError:
        return "0"


def _checkout_version() -> str | None:
    """What ``pyproject.toml`` beside the package says; None where there is none of ours."""
    try:
        text = (PACKAGE.parent / "pyproject.toml").read_text(encoding="utf-8")
    except OSError:
        return None
    project = text.partition("[project]")[2].partition("\n[")[0]
    said = dict(re.findall(r'^(name|version) *= *"([^"]*)"', project, re.MULTILINE))
    return said.get("version") if said.get("name") == "diagnose" else None
