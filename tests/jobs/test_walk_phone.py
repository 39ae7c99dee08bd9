from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import pairwise, starmap
from typing import Any

import pytest

from standmap.jobs.cautions import LOCAL_RULES, TAPPING, WALKING
from standmap.jobs.language import Language, said_in
from standmap.jobs.opening import open_stand
from standmap.jobs.planned_round import Light, PlannedRound, Purpose
from standmap.jobs.round import plan_round
from standmap.jobs.round_options import RoundOptions
from standmap.jobs.sample_wood import DAY as SAMPLE_DAY
from standmap.jobs.sample_wood import make_sample
from standmap.jobs.walk_phone import PhoneOptions, phone_options, walk_phone
from standmap.settings import Settings
from standmap.stand.snapshot import Stand
from standmap.survey.frame import true_distance
from standmap.units_shown import System, UnitsShown
from tests.conftest import NOW
from tests.jobs.phone.walks import DAY, GROUND, walk


def data_of(planned: PlannedRound, options: PhoneOptions | None = None, stand: Stand = GROUND) -> dict[str, Any]:
    page = walk_phone(planned, stand, "plan-1", options)
    found: dict[str, Any] = json.loads(page.partition('id="plan">')[2].partition("</script>")[0])
    return found


def test_the_page_holds_the_walk_with_its_ground() -> None:
    data = data_of(walk())
    assert (data["plan"], data["purpose"], data["day"], data["start"]) == ("plan-1", "collecting", "2026-03-28", "gate")
    stops = data["trips"][0]["stops"]
    assert [(s["key"], s["order"], s["name"], s["litres"]) for s in stops] == [
        ("hole-1", 1, "A1", 3.1),
        ("hole-2", 2, "A2", 3.1),
        ("hole-3", 3, "B7", 3.1),
        ("hole-4", 4, "C12", 3.1),
    ]
    assert [len(s["leg"]) for s in stops] == [2, 4, 2, 5]
    for before, after in pairwise(stops):
        assert after["leg"][0] == before["leg"][-1] == before["at"]
    assert data["trips"][0]["home"][-1] == [0.0, 0.0]
    ground = data["ground"]
    assert [len(ground[kind]) for kind in ("paths", "streams", "fences", "no_go", "permitted")] == [1, 1, 0, 1, 1]
    assert {(p["kind"], p["opens"]) for p in ground["places"]} == {("gate", True), ("bridge", True)}
    assert data["left_out"] == [{"name": "D4", "why": "cut off by the brook"}]
    assert [line["count"] for line in data["kit"]] == [2, None]


def test_cautions_of_the_walk_and_of_the_work_come_before_it() -> None:
    collecting, tapping = data_of(walk()), data_of(walk(Purpose.TAPPING))
    assert collecting["cautions"][0] == "steep below the bridge"
    assert set(WALKING) <= set(collecting["cautions"])
    assert set(TAPPING) <= set(tapping["cautions"])
    assert tapping["cautions"].count(LOCAL_RULES) == 1


def test_what_is_known_of_a_hole_is_told() -> None:
    assert data_of(walk(Purpose.CLOSING))["trips"][0]["stops"][0]["about"] == [
        "hole above ground: 90 cm",
        "side of the stem: south-east (135°)",
    ]
    assert data_of(walk(Purpose.TAPPING))["trips"][0]["stops"][0]["about"] == []


def test_figures_of_the_rule_set_go_along() -> None:
    units = data_of(walk(Purpose.TAPPING))["units"]
    assert (units["depth"]["rule_least"], units["depth"]["rule_most"], units["depth"]["first"]) == (10.0, 15.0, 10.0)
    assert (units["bit"]["first"], units["bit"]["rule_most"]) == (10.0, None)


@pytest.mark.parametrize("system", list(System))
def test_units_are_those_of_the_person(system: System) -> None:
    units = data_of(walk(), PhoneOptions(units=UnitsShown(system)))["units"]
    names = {
        "metric": ("L", "m", "cm", "mm"),
        "imperial": ("imp gal", "yd", "in", "in"),
        "us": ("US gal", "ft", "in", "in"),
    }
    assert tuple(units[kind]["unit"] for kind in ("volume", "distance", "height", "depth")) == names[system]
    per = {"metric": (1.0, 1.0, 10.0), "imperial": (4.54609, 0.9144, 25.4), "us": (3.785411784, 0.3048, 25.4)}
    assert tuple(units[kind]["per"] for kind in ("volume", "distance", "height")) == per[system]
    assert units["volume"]["most"] * units["volume"]["per"] == pytest.approx(60.0)


def test_bearings_are_true_where_no_edition_of_the_model_says_otherwise() -> None:
    assert data_of(walk())["north"] == {"turn": 0.0, "label": "true"}
    magnetic = data_of(walk(), PhoneOptions(magnetic=True))["north"]
    assert magnetic["label"] == "magnetic"
    assert 5 < magnetic["turn"] < 20
    long_ago = replace(walk(), day=date(1999, 3, 28))
    assert data_of(long_ago, PhoneOptions(magnetic=True))["north"] == {"turn": 0.0, "label": "true"}


def test_the_sun_of_the_day_goes_along() -> None:
    rise, fall = datetime(2026, 3, 28, 4, 30, tzinfo=UTC), datetime(2026, 3, 28, 17, 10, tzinfo=UTC)
    assert data_of(walk())["light"] == {"sunrise": None, "sunset": None}
    lit = replace(walk(), light=Light(None, rise, fall, None))
    assert data_of(lit)["light"] == {"sunrise": "2026-03-28T04:30:00+00:00", "sunset": "2026-03-28T17:10:00+00:00"}


def test_everything_that_jobs_say_is_said_in_german() -> None:
    german = PhoneOptions("de", UnitsShown(decimal_mark=","), say=said_in(Language("de", ",")))
    data = data_of(walk(Purpose.CLOSING), german)
    english = data_of(walk(Purpose.CLOSING))
    assert [name for name, text in data["words"].items() if text == english["words"][name]] == []
    same = set(data["cautions"]) & set(english["cautions"])
    assert same == {"steep below the bridge"}  # the test's own
    assert data["trips"][0]["stops"][0]["about"][1] == "Seite des Stamms: Südost (135°)"


def test_settings_become_options() -> None:
    options = phone_options(Settings(units="us", language="de", bearings="magnetic"))
    assert (options.language, options.units.system, options.magnetic) == ("de", System.US, True)
    assert options.say("write it down") == "aufschreiben"
    assert phone_options(Settings(language="en")).say("write it down") == "write it down"


def test_a_planned_walk_of_the_sample_wood_keeps_its_legs(tmp_path: Any) -> None:
    path = tmp_path / "wood.gpkg"
    make_sample("alder-brook", path, NOW)
    with open_stand(path, read_only=True) as file:
        stand = file.stand()
    planned = plan_round(stand, SAMPLE_DAY, RoundOptions())
    data = data_of(planned, stand=stand)
    told = [stop for trip in data["trips"] for stop in trip["stops"]]
    stops = [stop for trip in planned.trips for stop in trip.stops]
    assert len(told) == planned.taps > 5
    for shown, stop in zip(told, stops, strict=True):
        length = sum(((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5 for (ax, ay), (bx, by) in pairwise(shown["leg"]))
        assert length == pytest.approx(sum(starmap(true_distance, pairwise(stop.course))), abs=0.5)
        assert length == pytest.approx(stop.leg_m, rel=0.01, abs=0.5)
    assert DAY == SAMPLE_DAY
