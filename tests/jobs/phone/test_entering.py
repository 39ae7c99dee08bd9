"""A walk entered on a phone without network, as somebody in the wood enters it."""

from __future__ import annotations

import pytest

from standmap.jobs.planned_round import Purpose
from standmap.jobs.walk_phone import PhoneOptions
from standmap.stand.tapping import Act
from standmap.units_shown import System, UnitsShown
from tests.jobs.phone.browser import Phone
from tests.jobs.phone.using import Given, begin, emptied, saved, written
from tests.jobs.phone.walks import two_collectors, walk


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
