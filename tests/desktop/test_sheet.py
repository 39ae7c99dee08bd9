"""The sheet of paper: true scale, where things go, what is refused. No window here."""

from __future__ import annotations

import numpy as np
import pytest

from standmap.desktop.pictures.sheet import NEEDED, PX_PER_MM, extent_of, scale_of, sheet_for
from standmap.errors import UserError

WOOD = (-100.0, -50.0, 100.0, 50.0)


@pytest.mark.parametrize("scale", [250.0, 1000.0, 2500.0])
@pytest.mark.parametrize("paper", ["A4", "A3", "Letter", NEEDED])
def test_a_sheet_is_at_its_scale(scale: float, paper: str) -> None:
    sheet = sheet_for(WOOD, scale=scale, paper=paper)
    a, b = sheet.camera.to_screen(np.array([[-30.0, 0.0], [70.0, 0.0]]))
    assert (b[0] - a[0]) / PX_PER_MM == pytest.approx(100_000 / scale)
    left, top, width, height = sheet.map_mm
    assert left >= 10
    assert left + width <= sheet.width_mm - 10
    assert top + height < sheet.height_mm - 30


def test_the_largest_common_scale_that_fits() -> None:
    sheet = sheet_for(WOOD)
    assert (sheet.scale, sheet.width_mm, sheet.height_mm) == (1000.0, 297.0, 210.0)
    assert sheet.outside(np.array([[-100.0, -50.0], [100.0, 50.0]])) == 0
    closer = sheet_for(WOOD, scale=500)
    assert closer.outside(np.array([[-100.0, -50.0], [100.0, 50.0], [0.0, 0.0], [np.nan, np.nan]])) == 2


def test_a_large_wood_gets_a_round_scale() -> None:
    assert sheet_for((0.0, 0.0, 60_000.0, 40_000.0)).scale == 290_000.0


@pytest.mark.parametrize(("landscape", "size"), [(True, (297, 210)), (False, (210, 297))])
def test_the_paper_lies_as_asked(landscape: bool, size: tuple[int, int]) -> None:
    sheet = sheet_for(WOOD, landscape=landscape)
    assert (sheet.width_mm, sheet.height_mm) == size


def test_paper_as_large_as_needed() -> None:
    sheet = sheet_for(WOOD, scale=200, paper=NEEDED)
    assert sheet.width_mm == pytest.approx(1000 + 12 + 20)
    assert sheet.outside(np.array([[-100.0, -50.0], [100.0, 50.0]])) == 0
    with pytest.raises(UserError, match=r"would be 20\.0 m long; choose a smaller scale"):
        sheet_for(WOOD, scale=10, paper=NEEDED)


@pytest.mark.parametrize(("text", "scale"), [("1000", 1000.0), ("1:2500", 2500.0), (" 1: 500 ", 500.0)])
def test_scales_are_typed(text: str, scale: float) -> None:
    assert scale_of(text) == scale


@pytest.mark.parametrize("text", ["", "0", "-5", "1/1000", "1:", "9999999999", "1000.5", "big"])
def test_what_is_no_scale(text: str) -> None:
    with pytest.raises(UserError, match="is no scale of a map; write it like 1:1000"):
        scale_of(text)


def test_what_makes_no_sheet() -> None:
    with pytest.raises(UserError, match="'B7' is no paper known here; choose A4, A3, Letter or 'as needed'"):
        sheet_for(WOOD, paper="B7")
    with pytest.raises(UserError, match="1:3 makes no map"):
        sheet_for(WOOD, scale=3)


def test_extent_leaves_out_what_has_no_place() -> None:
    assert extent_of(np.array([[1.0, 2.0], [np.nan, np.nan]]), np.array([[5.0, -2.0]])) == (1.0, -2.0, 5.0, 2.0)
    assert extent_of(np.full((2, 2), np.nan)) is None
    assert extent_of() is None
