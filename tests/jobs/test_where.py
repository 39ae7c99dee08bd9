"""Where a point is, by the name of a tree or a place or by what was typed."""

from __future__ import annotations

from datetime import date

import pytest

from standmap.errors import UserError
from standmap.jobs.where import point_of, where
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree

STAND = Stand(
    trees=(
        Tree(key="t1", name="B1", at=(29.76, 62.6)),
        Tree(key="t2", name="twin", at=(29.77, 62.6)),
        Tree(key="t3", name="twin", at=(29.78, 62.6)),
        Tree(key="t4", name="62", at=(29.79, 62.6)),
    ),
    places=(Place(key="p1", name="Gate", kind=PlaceKind.GATE, at=(29.75, 62.59)),),
)


def test_a_point_is_told_in_every_way() -> None:
    found = where((29.76, 62.6), date(2026, 3, 28), 3067)
    assert found.decimal == "62.600000 N, 29.760000 E"
    assert found.sexagesimal == "62° 36′ 00.00″ N, 29° 45′ 36.00″ E"
    assert found.utm is not None
    assert found.utm.text == "641679 E 6944054 N"
    assert found.grid is not None
    assert found.grid.code == "EPSG:3067"
    assert found.north_text == "magnetic north 13.2° east of true"
    assert found.north_footing.startswith("WMM2025, 2026-03-28")


def test_on_a_day_without_a_model_all_else_is_told() -> None:
    found = where((29.76, 62.6), date(2031, 3, 28))
    assert found.north is None
    assert "2031-03-28" in found.north_text
    assert found.north_footing == ""
    assert found.grid is None


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("B1", (29.76, 62.6)),
        ("t2", (29.77, 62.6)),
        ("gate", (29.75, 62.59)),
        ("62", (29.79, 62.6)),
        ("62.61 29.7", (29.7, 62.61)),
        ("62°36'N 29°45'E", (29.75, 62.6)),
    ],
)
def test_points_by_name_or_typed(text: str, at: tuple[float, float]) -> None:
    assert point_of(STAND, text) == pytest.approx(at)


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("B99", "no tree or place is called 'B99'; name one of this stand, or write a position"),
        ("twin", "2 trees are called 'twin'"),
        ("95.0 29.7", "latitude"),
    ],
)
def test_what_is_no_point(text: str, wrong: str) -> None:
    with pytest.raises(UserError, match=wrong):
        point_of(STAND, text)
