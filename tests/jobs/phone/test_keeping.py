"""What a phone keeps, and what it says where it keeps nothing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from selenium.common.exceptions import WebDriverException

from standmap.jobs.walk_phone import walk_phone
from tests.jobs.phone.browser import CHROMIUM, DRIVER, LACKING, Phone
from tests.jobs.phone.using import Given, begin, emptied, saved, written
from tests.jobs.phone.walks import GROUND, walk


@pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason=LACKING)
def test_a_killed_browser_loses_nothing(tmp_path: Path, given: Given) -> None:
    page = given(walk())
    phone = Phone(tmp_path / "profile", tmp_path / "downloads")
    begin(phone, page)
    emptied(phone, "2.5")
    phone.press("#at-tree")
    phone.type(".stepper input", "4.")
    phone.until(lambda: phone.js("return newest([localStorage.getItem(KEPT)]).drafts['hole-2'].typed === '4.'"))
    phone.until(lambda: phone.js("return !writing"))
    phone.die()
    phone = Phone(tmp_path / "profile", tmp_path / "downloads")
    try:
        phone.open(page)
        assert phone.find(".stepper input").get_attribute("value") == "4."  # at the very field that was being typed
        phone.press("#write")
        assert [(e.stop, e.volume.ml if e.volume else None) for e in written(phone).entries] == [
            ("hole-1", 2500.0),
            ("hole-2", 4000.0),
        ]
        assert "2 of 4" in phone.text()
    finally:
        phone.close()


def test_a_crashed_tab_loses_nothing(phone: Phone, given: Given) -> None:
    page = given(walk())
    first = phone.driver.current_window_handle
    phone.driver.switch_to.new_window("tab")
    begin(phone, page)
    emptied(phone, "2.5")
    phone.press("#at-tree")
    phone.type(".stepper input", "4")
    with pytest.raises(WebDriverException, match="crashed"):
        phone.do("Page.crash")
    phone.driver.switch_to.window(first)
    phone.open(page)
    assert phone.find(".stepper input").get_attribute("value") == "4"
    phone.press("#write")
    assert [e.stop for e in written(phone).entries] == ["hole-1", "hole-2"]


def test_either_store_alone_is_enough(phone: Phone, given: Given) -> None:
    page = given(walk())
    begin(phone, page)
    emptied(phone, "2.5")
    phone.until(lambda: phone.js("return !writing"))
    phone.js("localStorage.clear()")
    phone.open(page)
    assert "1 of 4" in phone.text()  # from the database
    emptied(phone, "3")
    phone.js("indexedDB.deleteDatabase(DATABASE)")
    phone.open(page)
    assert "2 of 4" in phone.text()


def test_another_plan_does_not_meet_what_is_kept(phone: Phone, tmp_path: Path, given: Given) -> None:
    begin(phone, given(walk()))
    emptied(phone, "2.5")
    other = tmp_path / "walk.html"
    other.write_text(walk_phone(walk(), GROUND, "another plan"), encoding="utf-8")
    phone.open(other)
    assert phone.all("#begin")
    assert phone.js("return state.order") == []


def test_a_phone_that_keeps_nothing_says_so_loudly_and_offers_the_file_each_time(phone: Phone, given: Given) -> None:
    page = given(walk())
    phone.open_without_origin(page)
    assert phone.js("return [keeping.local, keeping.database]") == [False, False]
    warning = phone.text("#keeps-nothing")
    assert "keeps nothing" in warning
    assert "on paper" in warning
    phone.press("#begin")
    assert "keeps nothing" in phone.text("#saved-bar")
    for n, litres in enumerate(("1.5", "2.5"), start=1):
        emptied(phone, litres)
        assert "keeps nothing" in phone.text("#saved-bar")
        assert phone.js("return unsaved()")
        phone.press("#save-now")
        assert [e.volume.ml if e.volume else None for e in saved(phone).entries] == [1500.0, 2500.0][:n]
        for file in phone.downloads.iterdir():
            file.unlink()
        assert not phone.js("return unsaved()")
    phone.press("#menu")
    phone.press("#file")
    assert json.loads(phone.find("#returns").get_attribute("value") or "")["format"] == "standmap returns"


def test_storage_that_fills_up_on_the_way_is_noticed(phone: Phone, given: Given) -> None:
    begin(phone, given(walk()))
    assert not phone.all(".told.loud")
    phone.js(
        "Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); };"
        "IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); };"
    )
    phone.press("#menu")
    phone.until(lambda: phone.all("#keeps-nothing"))
    phone.press("#back")
    phone.until(lambda: phone.all("#saved-bar.loud"))


def test_the_phones_own_way_back_leads_to_the_walk(phone: Phone, given: Given) -> None:
    begin(phone, given(walk()))
    phone.press("#at-tree")
    phone.type(".stepper input", "4")
    phone.driver.back()
    phone.until(lambda: phone.all("#at-tree"))
    phone.press("#at-tree")
    assert phone.find(".stepper input").get_attribute("value") == "4"
