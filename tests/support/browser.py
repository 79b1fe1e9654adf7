"""A real browser, headless: Debian's chromium by its WebDriver."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver

__all__ = ["Browser", "browsing", "needs_browser"]

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
AXE = Path(__file__).parent / "axe" / "axe.min.js"
QUIET = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars",
)  # fmt: skip

needs_browser = pytest.mark.skipif(not (CHROMIUM and DRIVER), reason="needs chromium and chromedriver")


class Browser:
    """Opens pages and tells what happened."""

    def __init__(self, driver: webdriver.Chrome) -> None:
        self.driver = driver

    def open(self, page: Path | str, width: int = 1200, height: int = 900) -> None:
        """Open a page in a window of this size, in pixels of CSS."""
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600},
        )
        self._log("browser"), self._log("performance")  # what came before
        self.driver.get(page if isinstance(page, str) else page.as_uri())

    def _log(self, kind: str) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self.driver.get_log(kind)  # type: ignore[no-untyped-call]
        return found

    def run(self, script: str, *arguments: object) -> Any:
        """Run a script in the page and return what it returns."""
        return self.driver.execute_script(script, *arguments)

    def console(self) -> list[str]:
        """Return what the page's console says, violations of its content security policy included."""
        return [entry["message"] for entry in self._log("browser")]

    def requested(self) -> list[str]:
        """Return every address that was asked for since the page was opened."""
        events = (json.loads(entry["message"])["message"] for entry in self._log("performance"))
        return [event["params"]["request"]["url"] for event in events if event["method"] == "Network.requestWillBeSent"]

    def faults(self) -> list[str]:
        """Return what axe-core finds against WCAG 2.2 A and AA in the page."""
        self.driver.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
        self.driver.execute_script(AXE.read_text("utf-8"))
        tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
        found = self.driver.execute_async_script(
            "const done = arguments[1];"
            "axe.run(document, {runOnly: {type: 'tag', values: arguments[0]}}).then("
            "  r => done(r.violations.map(v => v.id + ': ' + v.nodes.map(n => n.html).slice(0, 3).join(' | '))),"
            "  e => done(['axe failed: ' + e]))",
            tags,
        )
        return list(found)

    def screenshot(self, to: Path) -> None:
        """Save what is seen."""
        self.driver.save_screenshot(str(to))


@contextmanager
def browsing(profile: Path, *, dark: bool = False) -> Iterator[Browser]:
    """Run a browser with a profile of its own meanwhile."""
    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM or ""
    for flag in (*QUIET, f"--user-data-dir={profile}", *(["--force-dark-mode"] if dark else [])):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(DRIVER))
    try:
        yield Browser(driver)
    finally:
        driver.quit()
