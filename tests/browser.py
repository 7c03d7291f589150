"""Debian's chromium, driven without a screen, for tests that look at a page as a person would.

Where it is not installed those tests skip; with CI=true in the environment they fail instead.
"""

from __future__ import annotations

import base64
import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

PAPER = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
"""Width and height [in]."""


def missing() -> str | None:
    """What a browser test lacks here, or None."""
    for program in ("chromium", "chromedriver"):
        if shutil.which(program) is None:
            return program
    return None


def need_browser() -> None:
    """Skip where there is no browser; fail where there must be one."""
    lacking = missing()
    if lacking is not None and os.environ.get("CI") == "true":
        pytest.fail(f"{lacking} is not installed, and CI must not skip this")
    if lacking is not None:
        pytest.skip(f"{lacking} is not installed (Debian: apt-get install chromium chromium-driver)")


class Browser:
    """One browser window."""

    def __init__(self, driver: Any) -> None:
        self.driver = driver

    def open(self, page: Path, width: int, scheme: str = "light", media: str = "screen") -> None:
        """Show a file in a window of that width [px], in a colour scheme, as on screen or in print."""
        self.look(width, scheme, media)
        self.driver.get(page.as_uri())

    def look(self, width: int, scheme: str = "light", media: str = "screen") -> None:
        """The same page in another window, scheme or medium."""
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        self._command("Emulation.setEmulatedMedia", media=media, features=features)
        self._command(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=900,
            deviceScaleFactor=1,
            mobile=width < 600,
        )

    def ask(self, script: str) -> Any:
        """What a script in the page answers."""
        return self.driver.execute_script(script)

    def printed(self, paper: str, scheme: str = "light") -> bytes:
        """The page as a PDF, by its own rules for print, from a browser in that scheme."""
        width, height = PAPER[paper]
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        self._command("Emulation.setEmulatedMedia", media="", features=features)
        made = self._command("Page.printToPDF", paperWidth=width, paperHeight=height, printBackground=True)
        return base64.b64decode(made["data"])

    def complaints(self) -> list[str]:
        """What the console said since it was last asked."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def requests(self) -> list[str]:
        """Every address that was asked for since it was last asked."""
        events = (json.loads(entry["message"])["message"] for entry in self.driver.get_log("performance"))
        return [
            event["params"]["request"]["url"]
            for event in events
            if event["method"] == "Network.requestWillBeSent"
        ]

    def _command(self, name: str, **parameters: object) -> Any:
        return self.driver.execute_cdp_cmd(name, parameters)


@contextmanager
def browsing() -> Iterator[Browser]:
    """A browser for as long as it lasts. Both programs are named, so the library looks for no other."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = str(shutil.which("chromium"))
    for argument in (
        *("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"),
        *("--disable-background-networking", "--disable-component-update", "--no-first-run"),
    ):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(str(shutil.which("chromedriver"))))
    try:
        yield Browser(driver)
    finally:
        driver.quit()
