"""One phone for all of these tests, and pages to open on it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from standmap.jobs.planned_round import PlannedRound
from standmap.jobs.walk_phone import PhoneOptions, walk_phone
from tests.jobs.phone.browser import CHROMIUM, DRIVER, LACKING, Phone
from tests.jobs.phone.using import Given
from tests.jobs.phone.walks import GROUND


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Phone]:
    if CHROMIUM is None or DRIVER is None:
        pytest.skip(LACKING)
    folder = tmp_path_factory.mktemp("phone")
    phone = Phone(folder / "profile", folder / "downloads")
    yield phone
    phone.close()


@pytest.fixture
def phone(browser: Phone) -> Phone:
    """Return the one browser with nothing kept, on a phone that is light and says no position."""
    browser.driver.get("about:blank")
    browser.screen(360, 740)
    browser.night(dark=False)
    browser.deny_position()
    for file in browser.downloads.iterdir():
        file.unlink()
    browser.asked_for()
    browser.complaints()
    return browser


@pytest.fixture
def given(tmp_path: Path) -> Given:
    """Return what writes the page of a walk to a file; what is kept of one test's plan never meets another's."""

    def write(planned: PlannedRound, options: PhoneOptions | None = None) -> Path:
        page = tmp_path / "walk.html"
        page.write_text(walk_phone(planned, GROUND, f"plan {tmp_path}", options), encoding="utf-8")
        return page

    return write
