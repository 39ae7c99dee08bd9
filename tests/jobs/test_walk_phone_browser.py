"""The page for a phone, used in a browser without network as somebody in the wood uses it."""

from __future__ import annotations

import json
import math
import random
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from shapely import LineString, Point, Polygon

from standmap.formats.phone_returns import PhoneReturns, phone_returns_of, read_phone_returns
from standmap.jobs.planned_round import PlannedRound, Purpose
from standmap.jobs.walk_phone import PhoneOptions, walk_phone
from standmap.stand.tapping import Act
from standmap.units_shown import System, UnitsShown
from tests.jobs.phone_browser import CHROMIUM, DRIVER, LACKING, Phone
from tests.jobs.phone_walks import GROUND, NASTY, at, two_collectors, walk

pytestmark = pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason=LACKING)

LEAST_PX = 56


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Phone]:
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


Given = Callable[..., Path]


@pytest.fixture
def given(tmp_path: Path) -> Given:
    """Return what writes the page of a walk to a file; what is kept of one test's plan never meets another's."""

    def write(planned: PlannedRound, options: PhoneOptions | None = None) -> Path:
        page = tmp_path / "walk.html"
        page.write_text(walk_phone(planned, GROUND, f"plan {tmp_path}", options), encoding="utf-8")
        return page

    return write


def begin(phone: Phone, page: Path, *, position: bool = False) -> None:
    phone.open(page)
    if position:
        phone.press_text("show where I am")
    phone.press("#begin")


def emptied(phone: Phone, litres: str) -> None:
    phone.press("#at-tree")
    phone.type(".stepper input", litres)
    phone.press("#write")


def written(phone: Phone) -> PhoneReturns:
    return phone_returns_of(phone.js("return returnsText()"))


def saved(phone: Phone) -> PhoneReturns:
    """Return what the file says that the phone has just saved."""
    phone.until(lambda: [f for f in phone.downloads.iterdir() if f.suffix == ".txt" and f.stat().st_size])
    return read_phone_returns(next(phone.downloads.iterdir()))


# A whole morning


def test_a_morning_of_collecting_comes_home_as_a_file(phone: Phone, given: Given) -> None:
    begin(phone, given(walk()))
    emptied(phone, "3,5")
    phone.press("#at-tree")
    phone.press(".stepper button[aria-label=more]")  # takes what is expected, 3.1 L to the next half
    phone.press(".stepper button[aria-label=more]")
    phone.press_text("overflowed")
    phone.type("textarea", "lid off\nbark wet")
    phone.press("#write")
    phone.press("#skip")
    phone.press_text("vessel gone or spilled")
    phone.press("#at-tree")
    phone.press("#unmeasured")
    phone.press("#trip-total")
    phone.type(".stepper input", "9.5")
    phone.press("#write")
    phone.press("#arrived")
    assert "all done" in phone.text()
    assert "done 3 of 4, skipped 1 · 7.0 L" in phone.text()
    phone.press("#save")
    home = saved(phone)
    assert home == written(phone) or home.entries == written(phone).entries  # the moment of writing moves on
    assert home.plan_key.startswith("plan ")
    assert (home.purpose, home.day, home.collector) == ("collecting", walk().day, 1)
    assert [(e.stop, e.tree, e.volume.ml if e.volume else None, e.reason) for e in home.entries] == [
        ("hole-1", "A1", 3500.0, ""),
        ("hole-2", "A2", 3500.0, ""),
        ("hole-3", "B7", None, "spilled"),
        ("hole-4", "C12", None, ""),
    ]
    second = home.entries[1]
    assert (second.overflowed, second.note) == (True, "lid off\nbark wet")
    assert [(t.trip, t.volume.ml) for t in home.totals] == [(1, 9500.0)]
    assert home.begun_at is not None
    assert home.begun_at <= home.entries[0].at <= home.entries[3].at <= home.written_at
    assert phone.complaints() == []


def test_a_hole_is_entered_with_its_place_and_the_rule_set_warns(phone: Phone, given: Given) -> None:
    begin(phone, given(walk(Purpose.TAPPING)))
    phone.press("#at-tree")
    assert phone.find("#write").get_attribute("disabled")  # the tag first
    assert "read the tag first" in phone.text()
    phone.press_text("the tag reads A1")
    height, depth, bit = phone.all(".stepper input")
    height.send_keys("95")
    depth.send_keys("40")
    assert "depth in the wood: the rule set says 10 to 15" in phone.text()
    depth.clear()
    depth.send_keys("12")
    assert "the rule set says" not in phone.text()
    bit.send_keys("9.5")
    phone.press_text("south-east")
    phone.press("#write")
    phone.press("#at-tree")
    assert [f.get_attribute("value") for f in phone.all(".stepper input")] == [
        "",
        "12",
        "9.5",
    ]  # the same bit and collar
    phone.press_text("the tag reads A2")
    phone.press("#write")
    first, second = written(phone).entries
    assert (first.stop, first.tag_read) == ("tree-1/1", True)
    assert (first.height_mm, first.depth_mm, first.bit_mm, first.side_deg) == (950.0, 12.0, 9.5, 135.0)
    assert (second.height_mm, second.depth_mm, second.bit_mm, second.side_deg) == (None, 12.0, 9.5, None)


def test_closing_asks_what_was_done(phone: Phone, given: Given) -> None:
    begin(phone, given(walk(Purpose.CLOSING)))
    phone.press("#at-tree")
    assert "take the tube out\ncommon practice, no source" in phone.text()
    assert phone.find("#write").get_attribute("disabled")
    phone.press_text("left open")
    phone.press_text("plugged")  # instead
    phone.press_text("taken out")
    phone.press("#write")
    assert "A1: taken out, plugged" in phone.text("#saved-bar")
    assert written(phone).entries[0].acts == (Act.TAKEN_OUT, Act.PLUGGED)


def test_an_entry_can_be_put_right_and_keeps_its_moment(phone: Phone, given: Given) -> None:
    begin(phone, given(walk()))
    emptied(phone, "35")
    moment = written(phone).entries[0].at
    phone.press("#menu")
    phone.press("#all-stops")
    phone.press(".row")
    assert phone.find(".stepper input").get_attribute("value") == "35"
    phone.type(".stepper input", "350")
    assert phone.find("#write").get_attribute("disabled")
    assert "more than 60.0 L: look for a slip" in phone.text("#lacks")
    phone.type(".stepper input", "3.5")
    phone.press("#write")
    entries = written(phone).entries
    assert [(e.volume.given if e.volume else "", e.at) for e in entries] == [("3.5", moment)]


def test_gallons_come_home_as_they_were_given(phone: Phone, given: Given) -> None:
    begin(phone, given(walk(), PhoneOptions(units=UnitsShown(System.US))))
    assert "expected 0.82 US gal" in phone.text()
    emptied(phone, "0.75")
    volume = written(phone).entries[0].volume
    assert volume is not None
    assert (volume.given, volume.unit) == ("0.75", "us_gal")
    assert volume.ml == pytest.approx(2839.06, abs=0.01)


def test_two_people_each_walk_their_own_part(phone: Phone, given: Given) -> None:
    phone.open(given(two_collectors()))
    assert phone.find("#begin").get_attribute("disabled")
    assert phone.text().count("Ann") == 1  # the other one gave no name
    phone.press_text("collector 2")
    phone.press("#begin")
    assert "0 of 2" in phone.text()
    emptied(phone, "2")
    home = written(phone)
    assert (home.collector, home.entries[0].stop, home.entries[0].trip) == (2, "hole-3", 2)


# Kept


def test_a_killed_browser_and_a_crashed_tab_lose_nothing(tmp_path: Path, given: Given) -> None:
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


# The way


def told(phone: Phone, words: str) -> str:
    phone.until(lambda: words in phone.text("#hint"))
    return phone.text("#hint")


def arrow_deg(phone: Phone) -> float | None:
    arrows = phone.all("#arrow")
    return float((arrows[0].get_attribute("transform") or "")[7:-1]) if arrows else None


def test_the_way_is_told_without_a_position(phone: Phone, given: Given) -> None:
    begin(phone, given(walk()))
    assert not phone.find("#late").is_displayed()
    assert "36 m to walk\nnorth-east, 034° true" in told(phone, "to walk")
    emptied(phone, "1")
    # To the bridge first, though the tree stands due north beyond the water.
    assert "97 m to walk\neast, 069° true · bends after 43 m" in told(phone, "97 m")
    assert arrow_deg(phone) == pytest.approx(69.4, abs=0.3)


def test_the_next_bend_is_told_along_the_leg(phone: Phone, given: Given) -> None:
    phone.stand_at(*at(45, 41))
    begin(phone, given(walk()), position=True)
    emptied(phone, "1")
    assert "bends after 15 m" in told(phone, "70 m to walk")
    assert arrow_deg(phone) == pytest.approx(69.4, abs=0.5)
    phone.stand_at(*at(60, 50))
    assert "north, 000° true · bends after 5 m" in told(phone, "50 m to walk")
    phone.stand_at(*at(40, 66))
    assert "north-west" in told(phone, "22 m to walk")
    phone.stand_at(*at(22, 74))
    told(phone, "you are there")
    assert arrow_deg(phone) is None


def test_no_arrow_leads_across_water_or_barred_ground(phone: Phone, given: Given) -> None:
    phone.stand_at(*at(-40, 40))
    begin(phone, given(walk()), position=True)
    emptied(phone, "1")
    assert "61 m beside the planned way\neast" in told(phone, "beside")
    assert arrow_deg(phone) is not None
    phone.press("#skip")  # to tree 3, whose way lies all beyond the brook
    phone.press_text("could not get there")
    phone.js("before.along = 0")
    phone.stand_at(*at(40, 20))
    assert "water or barred ground lies between" in told(phone, "no straight way")
    assert arrow_deg(phone) is None
    phone.stand_at(*at(120, 20))  # in the bog
    phone.until(lambda: arrow_deg(phone) is None and "no straight way" in phone.text("#hint"))


def test_wherever_one_stands_the_arrow_keeps_clear_of_what_is_barred(phone: Phone, given: Given) -> None:
    """Held against shapely, from 1,500 places, accuracies of 3 to 30 m."""
    begin(phone, given(walk()))
    rng = random.Random(8)
    places = [[rng.uniform(-60, 220), rng.uniform(-20, 140), rng.uniform(3, 30)] for _ in range(1500)]
    way, ground, told_all = phone.js(
        "const way = wayTo(plan.trips[0], plan.trips[0].stops[3]);"
        "return [way, plan.ground, arguments[0].map(([x, y, accuracy]) => guide(way, {at: [x, y], accuracy}, 0))]",
        places,
    )
    line = LineString(way)
    brook, bog = LineString(ground["streams"][0]), Polygon(ground["no_go"][0][0])
    bridge = Point(next(place["at"] for place in ground["places"] if place["kind"] == "bridge")).buffer(6.01)
    seen = Counter(told["state"] for told in told_all)
    assert min(seen[state] for state in ("on", "off", "barred")) > 30
    for (x, y, accuracy), told in zip(places, told_all, strict=True):
        foot = line.interpolate(told["along"])
        straight = LineString([(x, y), foot])
        barred = straight.difference(bridge).intersects(brook) or straight.intersects(bog)
        if told["state"] in ("on", "off"):
            assert not barred, (x, y, told)
        elif told["state"] == "barred":
            assert told["toward"] is None
        if told["state"] == "on":
            assert foot.distance(Point(x, y)) <= max(12, accuracy) + 0.01
            reach = min(told["bend"] or told["left"], 60.0)
            turned = math.radians(told["toward"])
            ahead = LineString([foot, (foot.x + reach * math.sin(turned), foot.y + reach * math.cos(turned))])
            assert ahead.hausdorff_distance(line.intersection(ahead.buffer(1.7))) < 2.5, (x, y, told)


def test_own_position_is_drawn_with_how_sure_it_is(phone: Phone, given: Given) -> None:
    phone.stand_at(*at(10, 12), 40.0)
    begin(phone, given(walk()), position=True)
    phone.until(lambda: phone.all(".m-round"))
    circle = phone.find(".m-round")
    assert float(circle.get_attribute("r") or 0) == 40.0
    assert float(circle.get_attribute("cx") or 0) == pytest.approx(10, abs=0.2)
    assert float(circle.get_attribute("cy") or 0) == pytest.approx(-12, abs=0.2)
    assert "good to 40 m only" in phone.text("#hint")


def test_a_refused_position_is_told_and_stops_nothing(phone: Phone, given: Given) -> None:
    begin(phone, given(walk()), position=True)
    assert "gives no position" in told(phone, "gives no position")
    emptied(phone, "1")
    assert "1 of 4" in phone.text()


def test_a_press_on_the_map_chooses_the_next_tree(phone: Phone, given: Given) -> None:
    begin(phone, given(walk()))
    phone.press("button[aria-label='show the whole walk']")
    phone.press_at(".m-stop[data-stop='hole-3'] circle")
    phone.until(lambda: "B7" in phone.text("section.next"))
    assert "225 m to walk" in phone.text("#hint")  # by way of the two trees before it
    emptied(phone, "2")
    assert [e.stop for e in written(phone).entries] == ["hole-3"]  # the order walked, not the one planned
    assert "A1" in phone.text("section.next")


def test_bearings_are_told_as_a_compass_shows_them(phone: Phone, given: Given) -> None:
    begin(phone, given(walk(), PhoneOptions(magnetic=True)))
    hint = told(phone, "magnetic")
    declination = 11.3  # World Magnetic Model 2025 at 62 N, 29 E in March 2026, from the project's own reading of it
    assert f"{round(33.8 - declination):03d}°" in hint or f"{round(33.8 - declination) - 1:03d}°" in hint


# Time and light


def test_a_time_that_has_passed_is_told_loudly(phone: Phone, given: Given) -> None:
    begin(phone, given(replace(walk(), back_by=datetime(2020, 3, 28, 9, 30, tzinfo=UTC))))
    loud = phone.text("#late")
    assert "turn home" in loud
    assert "somebody at home" in loud


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


# Safe and large enough


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


def test_the_page_speaks_german(phone: Phone, given: Given) -> None:
    from standmap.jobs.language import Language, said_in

    german = Language("de", ",")
    page = given(walk(), PhoneOptions(language="de", units=UnitsShown(decimal_mark=","), say=said_in(german)))
    begin(phone, page)
    assert phone.js("return document.documentElement.lang") == "de"
    assert "erwartet 3,1 L" in phone.text()
    phone.press("#at-tree")
    phone.type(".stepper input", "2,75")
    phone.press("#write")
    volume = written(phone).entries[0].volume
    assert volume is not None
    assert (volume.given, volume.ml) == ("2.75", 2750.0)


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


def test_the_phones_own_way_back_leads_to_the_walk(phone: Phone, given: Given) -> None:
    begin(phone, given(walk()))
    phone.press("#at-tree")
    phone.type(".stepper input", "4")
    phone.driver.back()
    phone.until(lambda: phone.all("#at-tree"))
    phone.press("#at-tree")
    assert phone.find(".stepper input").get_attribute("value") == "4"


def test_the_map_follows_fingers(phone: Phone, given: Given) -> None:
    begin(phone, given(walk()))
    seen = "return document.querySelector('.map svg').getAttribute('viewBox').split(' ').map(Number)"
    x, y, wide, _ = phone.js(seen)
    phone.do("Input.synthesizeScrollGesture", x=150, y=250, xDistance=60, yDistance=40, gestureSourceType="touch")
    phone.until(lambda: phone.js(seen)[0] < x - 1 and phone.js(seen)[1] < y - 1)
    phone.do("Input.synthesizePinchGesture", x=150, y=250, scaleFactor=2.0, gestureSourceType="touch")
    phone.until(lambda: phone.js(seen)[2] < 0.7 * wide)
    phone.press("button[aria-label='show the way to the next tree']")
    phone.until(lambda: phone.js(seen)[2] == pytest.approx(wide))
