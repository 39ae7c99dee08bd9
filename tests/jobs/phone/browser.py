"""A headless browser as a phone without signal, for tests of the page."""

from __future__ import annotations

import base64
import json
import os
import shutil
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
DRIVER = shutil.which("chromedriver")
LACKING = "no Chromium with its chromedriver is installed: apt-get install chromium chromium-driver"

FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
    "--host-resolver-rules=MAP * ~NOTFOUND",
)
LONGEST_WAIT_S = 60.0


class Phone:
    """One phone: a profile that outlives the browser, no network, and a screen of 360 by 740."""

    def __init__(self, profile: Path, downloads: Path) -> None:
        options = Options()
        options.binary_location = CHROMIUM or ""
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
        self.driver = webdriver.Chrome(options=options, service=Service(DRIVER))
        self.profile = profile
        downloads.mkdir(exist_ok=True)
        self.downloads = downloads
        self.screen(360, 740)
        self.do("Browser.setDownloadBehavior", behavior="allow", downloadPath=str(downloads))
        self.do("Network.enable")
        self.do("Network.emulateNetworkConditions", offline=True, latency=0, downloadThroughput=0, uploadThroughput=0)

    def do(self, command: str, **values: Any) -> Any:
        """Send one command of the browser's own protocol."""
        return self.driver.execute_cdp_cmd(command, values)

    def screen(self, width: int, height: int) -> None:
        self.do("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=2, mobile=True)

    def night(self, dark: bool) -> None:
        value = "dark" if dark else "light"
        self.do("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": value}])

    def stand_at(self, lon: float, lat: float, accuracy_m: float = 5.0) -> None:
        self.do("Browser.grantPermissions", permissions=["geolocation"])
        self.do("Emulation.setGeolocationOverride", longitude=lon, latitude=lat, accuracy=accuracy_m)

    def deny_position(self) -> None:
        self.do("Browser.setPermission", permission={"name": "geolocation"}, setting="denied")

    def open(self, page: Path) -> None:
        self.driver.get(page.as_uri())
        self.until(lambda: self.js("return typeof state !== 'undefined' && state !== null"))

    def open_without_origin(self, page: Path) -> None:
        """Open a page as some phones open local files: with an origin that may store nothing."""
        self.driver.get(f"data:text/html;base64,{base64.b64encode(page.read_bytes()).decode()}")
        self.until(lambda: self.js("return typeof state !== 'undefined' && state !== null"))

    def js(self, script: str, *arguments: object) -> Any:
        return self.driver.execute_script(script, *arguments)

    def find(self, css: str) -> WebElement:
        return self.driver.find_element(By.CSS_SELECTOR, css)

    def all(self, css: str) -> list[WebElement]:
        return self.driver.find_elements(By.CSS_SELECTOR, css)

    def text(self, css: str = "body") -> str:
        return str(self.find(css).text)

    def press(self, css: str) -> None:
        """Press what answers to a selector with a real click, once it is there."""
        self.until(lambda: bool(self.all(css)))
        element = self.find(css)
        self.js("arguments[0].scrollIntoView({block: 'center'})", element)
        element.click()

    def press_text(self, text: str) -> None:
        """Press the button with exactly this text."""
        found = [b for b in self.all("button") if b.text == text]
        assert found, f"no button says {text}: {[b.text for b in self.all('button')]}"
        self.js("arguments[0].scrollIntoView({block: 'center'})", found[0])
        found[0].click()

    def press_at(self, css: str) -> None:
        """Press the screen where something is drawn, whatever lies on top of it."""
        ActionChains(self.driver).move_to_element(self.find(css)).click().perform()

    def type(self, css: str, text: str) -> None:
        field = self.find(css)
        field.clear()
        field.send_keys(text)

    def until(self, holds: Callable[[], Any]) -> None:
        """Wait until something holds."""
        end = time.monotonic() + LONGEST_WAIT_S
        while not holds():
            assert time.monotonic() < end, f"it did not come about; the page says: {self.text()[:600]}"
            time.sleep(0.05)

    def asked_for(self) -> list[str]:
        """Return every address that was requested since this was last asked."""
        told = [json.loads(entry["message"])["message"] for entry in self.driver.get_log("performance")]
        # What the page's policy refuses is told, too, though it is never sent.
        refused = {m["params"]["requestId"] for m in told if m["params"].get("blockedReason") == "csp"}
        sent = [m["params"] for m in told if m["method"] == "Network.requestWillBeSent"]
        return [one["request"]["url"] for one in sent if one["requestId"] not in refused]

    def complaints(self) -> list[str]:
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def shot(self) -> bytes:
        """Return what the screen shows as PNG."""
        return base64.b64decode(self.do("Page.captureScreenshot", format="png")["data"])

    def die(self) -> None:
        """End the browser as a phone ends it that runs out of memory: at once and unasked."""
        # The lock on the profile names the process that holds it: host-number.
        holder = int((self.profile / "SingletonLock").readlink().name.rpartition("-")[2])
        os.kill(holder, signal.SIGKILL)
        self.driver.service.stop()

    def close(self) -> None:
        self.driver.quit()
