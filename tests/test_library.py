"""The version that cases carry: a checkout that is not installed says its own."""

import importlib.metadata
import tomllib
from pathlib import Path

import pytest

from diagnose import library


@pytest.fixture(autouse=True)
def fresh() -> None:
    library.package_version.cache_clear()


def not_installed(name: str) -> str:
    raise importlib.metadata.PackageNotFoundError(name)


def test_a_checkout_says_its_own_version(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever is installed beside it: a demo case made here carries this version."""
    monkeypatch.setattr(importlib.metadata, "version", not_installed)
    stated = tomllib.loads((library.PACKAGE.parent / "pyproject.toml").read_text())
    assert library.package_version() == stated["project"]["version"]


@pytest.mark.parametrize("name", ["numpy", "sympy", "hypothesis", "no-such-package"])
def test_versions_are_those_of_the_installer(name: str) -> None:
    """importlib.metadata of the standard library is the judge."""
    try:
        told = importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        told = "0"
    assert library.installed_version(name) == told


@pytest.mark.parametrize("text", [None, '[project]\nname = "other"\nversion = "9"\n', "\x00["])
def test_without_a_checkout_the_installed_version_counts(
    text: str | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if text is not None:
        (tmp_path / "pyproject.toml").write_text(text)
    monkeypatch.setattr(library, "PACKAGE", tmp_path / "diagnose")
    monkeypatch.setattr("sys.path", [])
    monkeypatch.setattr(importlib.metadata, "version", lambda name: f"{name} 7")
    assert library.package_version() == "diagnose 7"
    library.package_version.cache_clear()
    monkeypatch.setattr(importlib.metadata, "version", not_installed)
    assert library.package_version() == "0"
