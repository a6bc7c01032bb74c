"""What all tests share: the folders of the project, a private home, programs from outside."""

import os
import shutil
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).resolve().parents[1]

# No test is timed, and a run can be repeated: the examples are the same ones every time.
settings.register_profile(
    "project", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("project")


@pytest.fixture(scope="session")
def root() -> Path:
    """The folder that holds diagnose/, models/ and cases/."""
    return ROOT


@pytest.fixture(scope="session")
def sheets() -> Path:
    """Loop sheets made for the tests."""
    return ROOT / "tests" / "sheets"


@pytest.fixture(scope="session")
def plant() -> Path:
    """The demo plant."""
    return ROOT / "cases" / "larkmere"


@pytest.fixture(scope="session", autouse=True)
def _private_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Caches and cases of the tests stay out of the user's own folders, in children as well."""
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as patch:
        for name in ("CACHE", "DATA", "STATE", "CONFIG"):
            patch.setenv(f"XDG_{name}_HOME", str(home / name.lower()))
        patch.setenv("DIAGNOSE_CACHE", str(home / "derived"))
        patch.setenv("PYTHONPATH", str(ROOT))  # children run this checkout as well
        yield


NEEDED = {
    "spice": (("ngspice",), "DIAGNOSE_NEED_SPICE"),
    "chromium": (("chromium", "chromedriver"), "DIAGNOSE_NEED_CHROMIUM"),
    "servers": (("moto", "fsspec", "psycopg"), "DIAGNOSE_NEED_POSTGRES"),
    "postgres": (("pg_ctlcluster",), "DIAGNOSE_NEED_POSTGRES"),
    "fish": (("fish",), "DIAGNOSE_NEED_SHELLS"),
    "zsh": (("zsh",), "DIAGNOSE_NEED_SHELLS"),
    "cluster": (("distributed",), "DIAGNOSE_NEED_CLUSTER"),
}
"""Marker -> the programs or modules that its tests need, and the variable that promises them."""


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Without a program its tests are skipped by hand, and fail where it was promised."""
    for marker, (programs, promise) in NEEDED.items():
        missing = [name for name in programs if not (shutil.which(name) or find_spec(name))]
        if item.get_closest_marker(marker) and missing:
            if os.environ.get(promise) == "1":
                pytest.fail(f"{missing[0]} is needed here and is not installed", pytrace=False)
            pytest.skip(f"{missing[0]} is not installed")
