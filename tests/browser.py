"""A real browser without a window, for pages that the package writes: Chromium by its driver.

Tests that use it carry the marker ``chromium``.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from selenium.webdriver import Chrome
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service


@contextmanager
def chromium() -> Iterator[Chrome]:
    """A browser that keeps a log of its console and of every request."""
    options = Options()
    options.binary_location = str(shutil.which("chromium"))
    for word in ("--headless=new", "--no-sandbox", "--disable-gpu", "--window-size=1200,1000"):
        options.add_argument(word)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = Chrome(options, Service(shutil.which("chromedriver")))
    try:
        yield driver
    finally:
        driver.quit()


def visit(driver: Chrome, path: Path) -> None:
    """Open a page of the disk, the logs before it forgotten."""
    for log in ("browser", "performance"):
        driver.get_log(log)
    driver.get(path.as_uri())


def complaints(driver: Chrome) -> list[str]:
    """What the console said since the last look."""
    return [str(entry["message"]) for entry in driver.get_log("browser")]


def requests(driver: Chrome) -> list[str]:
    """Addresses that were asked for since the last look, the pages of the disk apart."""
    told = (json.loads(str(entry["message"]))["message"] for entry in driver.get_log("performance"))
    urls = (
        item["params"]["request"]["url"]
        for item in told
        if item["method"] == "Network.requestWillBeSent"
    )
    return [url for url in urls if not url.startswith(("file:", "data:"))]
