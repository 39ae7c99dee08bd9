"""The way to the next tree, told along the planned leg, and the map."""

from __future__ import annotations

import math
import random
from collections import Counter

import pytest
from shapely import LineString, Point, Polygon

from standmap.jobs.walk_phone import PhoneOptions
from tests.jobs.phone.browser import Phone
from tests.jobs.phone.using import Given, begin, emptied, written
from tests.jobs.phone.walks import at, walk


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
