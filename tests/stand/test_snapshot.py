"""Looking things up in a stand, and telling what is open on a day."""

from __future__ import annotations

from datetime import date

import pytest

from standmap.errors import UserError
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Observation, TapHole, Wound
from standmap.stand.tree import Measurement, Standing, Tree

AT = (27.0, 62.0)


def measured(key: str, on: date | None, girth_mm: float | None = None, diameter_mm: float | None = None) -> Measurement:
    return Measurement(key, "1", on, girth_mm, diameter_mm, "", "mm")


def test_trees_are_found_by_name_or_key_whatever_the_case() -> None:
    stand = Stand(
        trees=(Tree("k1", "B1", AT), Tree("k2", "Straße 7", AT), Tree("k3", "old", AT, standing=Standing.MERGED))
    )
    assert stand.tree("b1").key == "k1"
    assert stand.tree(" STRASSE 7 ").key == "k2"
    assert stand.tree("k2").name == "Straße 7"
    for text in ("B2", "old", "k3", ""):
        with pytest.raises(UserError, match="no tree is called"):
            stand.tree(text)


def test_one_name_for_two_trees_asks_for_an_id() -> None:
    stand = Stand(trees=(Tree("k1", "B1", AT), Tree("k2", "b1", AT)))
    with pytest.raises(UserError, match="2 trees are called 'B1'; use an id: k1, k2"):
        stand.tree("B1")


def test_the_newest_measurement_is_that_of_the_latest_day() -> None:
    rows = (measured("a", date(2024, 9, 1), 800.0), measured("b", None, 500.0), measured("c", date(2021, 9, 1), 700.0))
    stand = Stand(trees=(Tree("1", "B1", AT),), measurements=rows)
    newest = [stand.newest_measurement("1", by) for by in (None, date(2023, 1, 1), date(2020, 1, 1))]
    assert [m.key for m in newest if m] == ["a", "c", "b"]
    assert stand.newest_measurement("2") is None


def test_a_measurement_is_compared_in_the_quantity_that_was_measured() -> None:
    assert measured("a", None, diameter_mm=228.6).at_least(228.6)
    assert not measured("a", None, diameter_mm=228.5999999).at_least(228.6)
    assert measured("a", None, girth_mm=718.168081).at_least(228.6)
    assert not measured("a", None, girth_mm=718.168).at_least(228.6)


def test_a_wound_is_open_from_its_day_until_the_tube_is_out_in_its_own_season() -> None:
    holes = (
        TapHole("h", "1", 1, Wound.HOLE, date(2026, 3, 20)),
        TapHole("old", "1", 1, Wound.HOLE, date(2025, 3, 20)),
        TapHole("late", "1", 2, Wound.SLIT, date(2026, 3, 25)),
    )
    seen = (
        Observation("a", "1", "h", Act.LOOKED_AT, date(2026, 3, 21)),
        Observation("b", "1", "h", Act.PLUGGED, date(2026, 3, 24)),
        Observation("c", "1", "h", Act.TAKEN_OUT, date(2026, 3, 23)),
    )
    stand = Stand(trees=(Tree("1", "B1", AT),), holes=holes, observations=seen)

    def open_on(day: int, *, closing_day: bool = False) -> list[str]:
        return [h.key for h in stand.open_holes("1", date(2026, 3, day), closing_day=closing_day)]

    assert [open_on(d) for d in (19, 20, 22, 23, 25)] == [[], ["h"], ["h"], [], ["late"]]
    assert open_on(23, closing_day=True) == ["h"]
    assert [h.key for h in stand.all_open_holes(date(2026, 3, 22))] == ["h"]
