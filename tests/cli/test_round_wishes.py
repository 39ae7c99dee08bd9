"""What is asked of a walk at the terminal becomes the options of a round."""

from __future__ import annotations

from datetime import time
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.cli.round_wishes import Wishes, from_here_of, names_of, purpose_of
from standmap.errors import UserError
from standmap.jobs.planned_round import Purpose
from standmap.jobs.round_options import FromHere, Walker
from standmap.jobs.who_walks import hour_of, walker_of
from standmap.settings import Settings

NOTHING: dict[str, Any] = {
    "purpose": "collecting", "trees": None, "not_today": None, "start": None, "tank": None, "aim": None,
    "capacity_kg": None, "can_kg": None, "dark": False, "wet": False, "barrow": None, "swap_vessels": None,
    "collectors": None, "collector": None, "sets_out": None, "latest": None, "handling_min": None, "margin_min": None,
    "contact": "", "run_l": None, "vessel_l": None, "seed": 1, "together": None, "from_here": None, "done": None,
    "carrying": None,
}  # fmt: skip


def wishes(**typed: Any) -> Wishes:
    return Wishes(**{**NOTHING, **typed})


def test_what_was_not_typed_is_as_the_person_has_set_it() -> None:
    settings = Settings(capacity_kg=11, can_kg=2, collectors=2, vessel_ml=3000, aim="effort", swap_vessels=True)
    options = wishes().options(settings)
    assert (options.capacity_kg, options.can_kg, options.collectors) == (11, 2, 2)
    assert (options.vessel_ml, options.aim, options.swap_vessels) == (3000, "effort", True)
    assert not options.capacity_as_given
    typed = wishes(capacity_kg=9.0, vessel_l=5.0, aim="time", swap_vessels=False).options(settings)
    assert (typed.capacity_kg, typed.vessel_ml, typed.aim, typed.swap_vessels) == (9.0, 5000, "time", False)
    assert typed.capacity_as_given


def test_people_who_differ_are_back_soonest_unless_said_otherwise() -> None:
    two = ["Ilse, 12 kg, from gate, 06:10", "8 kg"]
    options = wishes(collector=two).options(Settings())
    assert options.walkers == (Walker("Ilse", 12.0, "gate", time(6, 10)), Walker(capacity_kg=8.0))
    assert options.aim == "time"
    assert wishes(collector=two, aim="effort").options(Settings()).aim == "effort"


@pytest.mark.parametrize(
    ("text", "walker"),
    [
        ("Ilse", Walker("Ilse")),
        ("06:10 , From  upper gate", Walker("", None, "upper gate", time(6, 10))),
        ("12.5KG,Ott", Walker("Ott", 12.5)),
        ("", Walker()),
    ],
)
def test_a_collector_in_one_line(text: str, walker: Walker) -> None:
    assert walker_of(text) == walker


@pytest.mark.parametrize("text", ["24:00", "6", "06:60", "half past six", "06:10:00", ""])
def test_no_time_of_day(text: str) -> None:
    with pytest.raises(UserError, match="no time of day"):
        hour_of(text)


def test_where_one_stands() -> None:
    assert from_here_of(None, None) is None
    assert from_here_of("B12", None) == FromHere("B12")
    assert from_here_of(" 61.9012 , 27.6034", 8.0) == FromHere((27.6034, 61.9012), 8.0)
    for text, carried, why in ((None, 3.0, "not where"), ("91,0", None, "no position"), (" ", None, "names no place")):
        with pytest.raises(UserError, match=why):
            from_here_of(text, carried)
    options = wishes(from_here="B12").options(Settings())
    assert options.sets_out is not None


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ({"trees": [","]}, "--trees names no tree"),
        ({"collectors": 2, "collector": ["Ilse"]}, "both say who walks"),
        ({"together": ["B1"]}, "names one tree only"),
        ({"purpose": "picking"}, "'picking' is nothing that a walk is for"),
    ],
)
def test_wishes_that_contradict_or_say_nothing(typed: dict[str, Any], why: str) -> None:
    with pytest.raises(UserError, match=why):
        wishes(**typed).options(Settings())


def test_purposes_and_names() -> None:
    assert purpose_of(" Closing ") is Purpose.CLOSING
    assert names_of(["B1, B2", "", "B3,"]) == ("B1", "B2", "B3")


@given(st.text(max_size=60))
def test_any_text_is_a_collector_or_is_refused(text: str) -> None:
    try:
        walker = walker_of(text)
    except UserError:
        return
    assert walker.name == walker.name.strip()
