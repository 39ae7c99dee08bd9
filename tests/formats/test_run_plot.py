"""The plots of a night and of past seasons: what stands in them, what is drawn where, and that they stay the same."""

from __future__ import annotations

from typing import Any

import pytest
from matplotlib.figure import Figure

from standmap.formats.plot import PAPER, plot_bytes
from standmap.formats.run_plot import HoleSpread, NightDrawn, night_plot, past_plot, rows_px
from standmap.sap.calibration import Calibration, ToldSeason

NIGHT = NightDrawn(
    (HoleSpread("B1", 1.0, 2.0, 4.0, likely_over=False), HoleSpread("B2", 3.0, 6.0, 12.0, likely_over=True)),
    "L",
    4.5,
    "4.5 L",
)
PAST = Calibration((ToldSeason(2024, 40, 0.45, 0.95, 3.0, 4), ToldSeason(2025, 7, 0.6, 0.8, 1.0, 0)), ())


def night(plan: NightDrawn = NIGHT, width_px: float = 260.0) -> Figure:
    return night_plot(plan, PAPER, width_px, rows_px(len(plan.holes), PAPER.text_px))


def lines(sheet: Figure) -> list[Any]:
    return list(sheet.axes[0].get_lines())


def test_every_hole_has_its_row_with_median_and_span() -> None:
    axes = night().axes[0]
    assert [text.get_text() for text in axes.get_yticklabels()] == ["B1", "B2"]
    spans = [list(line.get_xdata()) for line in lines(night()) if len(line.get_xdata()) == 2]
    assert [1.0, 4.0] in spans
    assert [3.0, 12.0] in spans
    dots = [list(line.get_xdata()) for line in lines(night()) if len(line.get_xdata()) == 1]
    assert dots == [[2.0], [6.0]]
    low, high = axes.get_xlim()
    assert low == 0
    assert high > 12


def test_a_vessel_that_runs_over_too_likely_is_told_by_weight_and_not_by_colour_alone() -> None:
    weights = [text.get_fontweight() for text in night().axes[0].get_yticklabels()]
    assert weights[0] != weights[1]


def test_room_beyond_the_brim_is_seen_where_every_hole_stays_below_it() -> None:
    low = NightDrawn(NIGHT.holes[:1], "L", 9.0, "9.0 L")
    assert night(low).axes[0].get_xlim()[1] > 9.0


def test_a_night_says_its_unit_vessel_and_holes() -> None:
    drawn = plot_bytes(night(), ".svg").decode()
    assert all(text in drawn for text in ("B1", "B2", "4.5 L", "runs over", " L<"))


def test_rows_are_as_high_as_their_count_asks() -> None:
    assert rows_px(20, 12) - rows_px(10, 12) == pytest.approx(10 * 1.5 * 12)


def test_past_seasons_stand_beside_what_they_should_be() -> None:
    sheet = past_plot(PAST, PAPER, 260, rows_px(2, PAPER.text_px))
    drawn = plot_bytes(sheet, ".svg").decode()
    assert all(text in drawn for text in ("2024", "2025", "40", "middle half", "nine tenths", "50 %", "90 %"))
    at = [(line.get_xdata()[0], line.get_ydata()[0]) for line in lines(sheet) if len(line.get_xdata()) == 1]
    assert at == [(45.0, 0), (95.0, 0), (60.0, 1), (80.0, 1)]


def test_texts_are_said_in_the_language_that_is_given() -> None:
    sheet = past_plot(
        PAST, PAPER, 260, 120, {"middle half": "mittlere Hälfte", "nine tenths": "neun Zehntel"}.__getitem__
    )
    assert "mittlere Hälfte" in plot_bytes(sheet, ".svg").decode()


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_the_same_night_is_the_same_file(suffix: str) -> None:
    assert plot_bytes(night(), suffix) == plot_bytes(night(), suffix)
