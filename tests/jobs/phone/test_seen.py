"""The page as it is seen and pressed, and what it must never do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from standmap.jobs.planned_round import Purpose
from tests.jobs.phone.browser import Phone
from tests.jobs.phone.using import Given, begin, emptied, written
from tests.jobs.phone.walks import NASTY, walk

LEAST_PX = 56
"""What a finger in a glove hits: our own choice, above the 44 CSS pixels of WCAG 2.1, success criterion 2.5.5."""


def test_a_time_that_has_passed_is_told_loudly(phone: Phone, given: Given) -> None:
    begin(phone, given(replace(walk(), back_by=datetime(2020, 3, 28, 9, 30, tzinfo=UTC))))
    loud = phone.text("#late")
    assert "turn home" in loud
    assert "somebody at home" in loud


def test_a_vessel_that_runs_over_that_day_says_when(phone: Phone, given: Given) -> None:
    phone.do("Emulation.setTimezoneOverride", timezoneId="Europe/Helsinki")
    try:
        begin(phone, given(walk()))
        assert "runs over about 11:40" in phone.text("section.next")  # still winter time there
        emptied(phone, "1")
        assert "runs over" not in phone.text("section.next")  # not before the next day
    finally:
        phone.do("Emulation.setTimezoneOverride", timezoneId="")


def test_dark_at_night_and_by_a_switch(phone: Phone, given: Given) -> None:
    page = given(walk())
    phone.night(dark=True)
    phone.open(page)
    look = "return document.documentElement.dataset.look"
    ground = "return getComputedStyle(document.body).backgroundColor"
    assert (phone.js(look), phone.js(ground)) == ("dark", "rgb(16, 21, 15)")
    phone.press_text("light")
    assert (phone.js(look), phone.js(ground)) == ("light", "rgb(251, 250, 246)")
    phone.open(page)
    assert phone.js(look) == "light"  # remembered


def test_nothing_is_asked_of_any_network_and_nothing_could_be(phone: Phone, given: Given) -> None:
    page = given(walk())
    begin(phone, page)
    emptied(phone, "1")
    phone.press("#save-now")
    asked = phone.asked_for()
    assert page.as_uri() in asked
    assert [url for url in asked if not url.startswith(("file:", "blob:"))] == []
    phone.js(
        "window.refused = []; addEventListener('securitypolicyviolation', (e) => refused.push(e.effectiveDirective));"
        "fetch('https://example.invalid/x').catch(() => {}); new Image().src = 'https://example.invalid/y.png';"
        "const s = document.createElement('style'); s.textContent = 'b{}'; document.head.append(s);"
    )
    phone.until(lambda: {"connect-src", "img-src", "style-src-elem"} <= set(phone.js("return refused")))
    assert [url for url in phone.asked_for() if "example" in url] == []


def test_markup_long_and_right_to_left_names_pass_unharmed(phone: Phone, given: Given) -> None:
    planned = walk(names=NASTY)
    nasty = replace(planned, contact=NASTY[0], cautions=NASTY, start=replace(planned.start, name=NASTY[2]))
    begin(phone, given(nasty))
    assert "owned" not in phone.driver.title
    for name in NASTY:
        assert phone.js("return document.querySelector('section.next .name bdi').textContent") == name
        assert phone.js("return document.documentElement.scrollWidth") <= 360
        phone.press("#at-tree")
        assert phone.js("return document.documentElement.scrollWidth") <= 360
        phone.type("textarea", "</script><b>note")
        phone.press("#unmeasured")
    assert [e.note for e in written(phone).entries] == ["</script><b>note"] * 4
    assert phone.js("return JSON.parse(returnsText()).stops.map((s) => s.tree)") == list(NASTY)
    assert phone.js("return getComputedStyle(document.querySelector('bdi')).unicodeBidi") == "isolate"
    assert phone.js("return document.scripts.length") == 2
    assert phone.complaints() == []


@pytest.mark.parametrize("width", [320, 360, 412])
@pytest.mark.parametrize("purpose", list(Purpose))
def test_everything_pressed_is_large_and_apart(phone: Phone, given: Given, width: int, purpose: Purpose) -> None:
    phone.screen(width, 740)
    phone.open(given(walk(purpose)))
    screens: list[Callable[[], None]] = [
        lambda: None,
        lambda: phone.press("#begin"),
        lambda: phone.press("#at-tree"),
        lambda: phone.press_text("skip"),
        lambda: phone.press("#back"),
        lambda: phone.press("#menu"),
        lambda: phone.press("#file"),
        lambda: phone.press_text("all stops"),
    ]
    for number, reach in enumerate(screens):
        reach()
        assert phone.js("return document.documentElement.scrollWidth") <= width, number
        boxes = phone.js(
            "return [...document.querySelectorAll('button, input, summary, textarea')].map((e) => {"
            " const r = e.getBoundingClientRect(); return [r.left, r.top, r.right, r.bottom, e.textContent,"
            " parseFloat(getComputedStyle(e).fontSize), !!e.closest('.stays')]; })"
        )
        assert boxes
        for left, top, right, bottom, text, font_px, _ in boxes:
            assert right - left >= LEAST_PX, (number, text)
            assert bottom - top >= LEAST_PX, (number, text)
            assert font_px >= 16, (number, text)
        # What stays at the foot lies over what is scrolled; everything else is apart.
        rest = [box for box in boxes if not box[6]]
        for i, (left, top, right, bottom, text, *_) in enumerate(rest):
            for other in rest[:i]:
                across = max(left - other[2], other[0] - right)
                along = max(top - other[3], other[1] - bottom)
                assert max(across, along) >= 7.5, (number, text, other[4])
    smallest = phone.js(
        "return Math.min(...[...document.querySelectorAll('body *')].filter((e) => e.textContent.trim())"
        ".map((e) => parseFloat(getComputedStyle(e).fontSize)))"
    )
    assert smallest >= 16


CONTRAST = """
const rgb = (text) => text.match(/[\\d.]+/g).map(Number);
const light = ([r, g, b]) => [r, g, b].map((v) => v / 255)
  .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4))
  .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
const ground = (e) => {
  for (let one = e; one; one = one.parentElement) {
    const colour = rgb(getComputedStyle(one).backgroundColor);
    if (colour.length < 4 || colour[3] > 0) return colour;
  }
  return [255, 255, 255];
};
return [...document.querySelectorAll("body *")]
  .filter((e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()))
  .filter((e) => !e.closest("svg") && e.checkVisibility())
  .map((e) => {
    const [a, b] = [light(rgb(getComputedStyle(e).color)), light(ground(e))];
    return [(Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), e.textContent];
  });
"""


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("keeps", [True, False])
def test_everything_can_be_read_in_the_sun_and_at_night(phone: Phone, given: Given, dark: bool, keeps: bool) -> None:
    """Contrast as WCAG 2.1 reckons it, success criterion 1.4.6: 7 to 1 for text; 4.5 to 1 for second text."""
    phone.night(dark=dark)
    page = given(replace(walk(), back_by=datetime(2020, 3, 28, 9, 30, tzinfo=UTC)))
    if keeps:
        phone.open(page)
    else:
        phone.open_without_origin(page)
    ways: list[Callable[[], None]] = [
        lambda: None,
        lambda: phone.press("#begin"),
        lambda: phone.press("#at-tree"),
        lambda: phone.press("#unmeasured"),
        lambda: phone.press("#menu"),
        lambda: phone.press("#file"),
    ]
    for way in ways:
        way()
        contrasts = phone.js(CONTRAST)
        assert contrasts
        assert [(round(ratio, 1), text) for ratio, text in contrasts if ratio < 4.5] == []
        assert sum(ratio >= 7 for ratio, _ in contrasts) >= 0.7 * len(contrasts)


def test_the_buttons_stay_in_sight_on_a_small_phone(phone: Phone, given: Given) -> None:
    phone.screen(320, 568)
    late = replace(walk(names=NASTY), back_by=datetime(2020, 3, 28, 9, 30, tzinfo=UTC))
    phone.open_without_origin(given(late))
    phone.press("#begin")
    foot = phone.js("return document.querySelector('#at-tree').getBoundingClientRect().bottom")
    assert foot <= 568
    assert phone.js("return document.querySelector('.map').clientHeight") >= 100
