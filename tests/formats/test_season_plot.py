"""The plot of a season: what stands in it, how much of the spring it shows, and that it stays the same."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from standmap.formats.plot import PAPER, PNG_DPI, plot_bytes
from standmap.formats.season_plot import LAST_DAY, Words, season_plot, season_words, short_day
from standmap.season.answer import Advised, DaySpread, ModelTold, Phase, SeasonAnswer, Sign, YearCourse

BEGINS = date(2026, 1, 1)
NARROW, WIDE = (256.0, 230.0), (760.0, 440.0)


def course(year: int, shift: float, known: int, *signs: tuple[Sign, float]) -> YearCourse:
    days = np.arange(LAST_DAY, dtype=float)
    sums = np.maximum(days - 70 - shift, 0) ** 1.4
    return YearCourse(year, days, sums, known, signs)


def spread(month: int, day: int, wide: int) -> DaySpread:
    likely = date(2026, month, day)
    return DaySpread(likely - timedelta(days=wide), likely, likely + timedelta(days=wide))


def answer() -> SeasonAnswer:
    return SeasonAnswer(
        day=date(2026, 3, 28),
        season=2026,
        begins_on=BEGINS,
        station="X",
        station_km=3.0,
        weather_until=date(2026, 3, 27),
        missing_days=0,
        phase=Phase.RUNNING,
        phase_why="first sap was seen",
        models=(ModelTold("plain warmth", "", "", spread(4, 30, 12), 3, 3.0, 5.0, 14.0, 140.0),),
        leaf_out_seen=None,
        first=Advised(spread(3, 21, 0), "", ""),
        last=Advised(spread(4, 28, 12), "", ""),
        years=(
            course(2026, 0, 86, (Sign.FIRST_SAP, 79.0), (Sign.LEAF_OUT, 118.0)),
            course(2025, -6, LAST_DAY, (Sign.LEAF_OUT, 101.0)),
            course(2024, 5, LAST_DAY, (Sign.LEAF_OUT, 112.0)),
        ),
        notes=(),
        cautions=(),
    )


def drawn(told: SeasonAnswer, size: tuple[float, float] = NARROW) -> Figure:
    return season_plot(told, PAPER, *size)


def svg(told: SeasonAnswer, size: tuple[float, float] = NARROW) -> str:
    return plot_bytes(drawn(told, size), ".svg").decode()


@pytest.mark.parametrize("size", [NARROW, WIDE])
def test_it_names_its_days_its_year_and_the_warmth_wanted(size: tuple[float, float]) -> None:
    found = svg(answer(), size)
    texts = ("first day 21 Mar", "last day 28 Apr", "leaf-out 30 Apr", "2026", "140 wanted", "leaf-out seen", "28 Mar")
    assert [text for text in texts if f">{text}</text>" not in found] == []
    assert "warmth, degree days" in found


def test_earlier_years_are_named_where_there_is_room_for_it() -> None:
    assert ">2025<" in svg(answer(), WIDE)
    assert ">2025<" not in svg(answer(), NARROW)


def test_it_shows_spring_up_to_leaf_out_and_little_more() -> None:
    axes = drawn(answer()).axes[0]
    low, high = axes.get_xlim()
    assert (BEGINS + timedelta(days=low), BEGINS + timedelta(days=high)) == (date(2026, 3, 1), date(2026, 5, 22))
    assert axes.get_ylim() == (0, 1.6 * 140)


def test_this_year_is_drawn_known_and_expected_apart_and_without_a_gap() -> None:
    own = [line for line in drawn(answer()).axes[0].get_lines() if line.get_zorder() == 4]
    known, expected = own
    assert known.get_linestyle() != expected.get_linestyle()
    assert known.get_xdata()[-1] == expected.get_xdata()[0] == 85  # type: ignore[index]


def test_what_was_seen_after_the_day_asked_about_is_not_drawn() -> None:
    marks = [line for line in drawn(answer()).axes[0].get_lines() if line.get_marker() == "D"]
    assert [float(line.get_xdata()[0]) for line in marks] == [79.0]  # type: ignore[index,arg-type]


def test_a_season_of_which_little_is_known_is_drawn_as_far_as_it_goes() -> None:
    bare = replace(answer(), models=(), first=None, last=None, years=(course(2026, 0, 0),))
    found = svg(bare)
    assert "2026" in found
    assert "wanted" not in found
    assert "first day" not in found
    assert "degree days" in svg(replace(bare, years=()))


def test_words_say_the_same_as_the_plot() -> None:
    told = season_words(answer())
    assert "14 of 140 degree days wanted at leaf-out" in told
    assert "first day 21 Mar;" in told
    assert "last day 28 Apr (16 Apr – 10 May)" in told
    assert told.endswith("leaf-out seen 12 Apr 2025, 22 Apr 2024")


def test_days_and_texts_are_said_as_the_person_says_them() -> None:
    german = {"first day": "erster Tag"}
    words = Words(lambda text: german.get(text, text), lambda day: f"{day.day}. {day.month}.")
    found = plot_bytes(season_plot(answer(), PAPER, *NARROW, words), ".svg").decode()
    assert ">erster Tag 21. 3.<" in found
    assert short_day(date(2026, 12, 9)) == "9 Dec"


def test_a_file_has_the_asked_size() -> None:
    image = Image.open(io.BytesIO(plot_bytes(drawn(answer(), WIDE), ".png")))
    assert image.size == (760 * PNG_DPI // 96, 440 * PNG_DPI // 96)


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_the_same_season_is_the_same_file(suffix: str) -> None:
    assert plot_bytes(drawn(answer()), suffix) == plot_bytes(drawn(answer()), suffix)


@pytest.mark.parametrize("size", [NARROW, WIDE, (560.0, 460.0)])
def test_names_of_days_stay_within_the_sheet(size: tuple[float, float]) -> None:
    sheet = drawn(answer(), size)
    FigureCanvasAgg(sheet).draw()
    boxes = [text.get_window_extent() for text in sheet.axes[0].texts if text.get_text()]
    assert min(box.x0 for box in boxes) >= 0
    assert max(box.x1 for box in boxes) <= size[0]
    assert max(box.y1 for box in boxes) <= size[1]
