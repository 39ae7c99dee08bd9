"""The warmth of this spring beside earlier ones, with the days it leads to, as a plot."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from standmap.formats.plot import PlotLook, calm_axes, figure, text_of
from standmap.season.answer import DaySpread, SeasonAnswer, Sign, YearCourse

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Say = Callable[[str], str]

BEFORE_DAYS, AFTER_DAYS = 25, 14
"""Drawn before the earliest first day and after the latest last one; the day asked about too, unless it is far off."""

FAR_DAYS = 60

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def season_plot(answer: SeasonAnswer, look: PlotLook, width_px: float, height_px: float, say: Say = str) -> Figure:
    """Draw the sums of warmth of a season and of earlier ones, by the day.

    Parameters
    ----------
    say
        Turns an English text into the person's language.

    Notes
    -----
    This year is a thick line, dashed where it is only expected; earlier years are thin, a dot where leaf-out was seen.
    Bars above tell the first and the last day to tap and leaf-out, each a line from early to late with a tick at the
    most likely day.
    """
    sheet = figure(look, width_px, height_px)
    line_px = look.text_px * 1.5
    bars = _bars(answer, say)
    left, right, foot = look.text_px * 3.2, look.text_px * 1.6, line_px * 1.5
    head = line_px * (len(bars) + 1.2)
    axes = calm_axes(sheet, look, (left, foot, width_px - left - right, height_px - foot - head))
    low, high = _shown_days(answer)
    top = _draw_years(axes, answer, look, low, high)
    axes.set_xlim(low, high)
    axes.set_ylim(0, top)
    if answer.years and answer.years[0].year == answer.season:
        _name_this_year(axes, answer.years[0], look)
    _date_axis(axes, answer, look, low, high, width_px, say)
    axes.locator_params(axis="y", nbins=4)
    sheet.text(
        0.0 + look.text_px * 0.4 / width_px,
        1 - line_px * 0.8 / height_px,
        say("warmth, degree days"),
        va="center",
        **text_of(look, second=True),
    )
    day = (answer.day - answer.begins_on).days
    if low <= day <= high:
        axes.axvline(day, color=look.second_ink, linewidth=0.8, linestyle=(0, (1, 2)))
    _draw_bars(axes, bars, answer, look, line_px, height_px - foot - head, width_px - left - right)
    return sheet


def season_words(answer: SeasonAnswer, say: Say = str) -> str:
    """Return what the plot shows in words, for those who do not see it."""
    told = [f"{say(name)}: {days.early.isoformat()} – {days.likely.isoformat()} – {days.late.isoformat()}"
            for name, days in _bars(answer, str)]  # fmt: skip
    return "; ".join([f"{say('warmth, degree days')}, {len(answer.years)}", *told])


def _bars(answer: SeasonAnswer, say: Say) -> list[tuple[str, DaySpread]]:
    found = []
    if answer.first is not None:
        found.append((say("first day"), answer.first.days))
    if answer.last is not None:
        found.append((say("last day"), answer.last.days))
    told = [m.leaf_out for m in answer.models if m.leaf_out is not None]
    if told:
        likely = sorted(days.likely for days in told)[len(told) // 2]
        spread = DaySpread(min(d.early for d in told), likely, max(d.late for d in told))
        found.append((say("leaf-out"), spread))
    return found


def _shown_days(answer: SeasonAnswer) -> tuple[int, int]:
    spreads = [days for _, days in _bars(answer, str)]
    if not spreads:
        return 0, 181
    early, late = min(days.early for days in spreads), max(days.late for days in spreads)
    low, high = early - timedelta(days=BEFORE_DAYS), late + timedelta(days=AFTER_DAYS)
    if (early - answer.day).days < FAR_DAYS and (answer.day - late).days < FAR_DAYS:
        low, high = min(low, answer.day - timedelta(days=3)), max(high, answer.day + timedelta(days=3))
    return max(0, (low - answer.begins_on).days), min(181, (high - answer.begins_on).days)


def _draw_years(axes: Axes, answer: SeasonAnswer, look: PlotLook, low: int, high: int) -> float:
    top = 50.0
    for course in reversed(answer.years):
        here = course.year == answer.season
        seen = (course.days >= low) & (course.days <= high)
        if seen.any():
            top = max(top, float(course.sums[seen].max()))
        if here:
            _draw_this_year(axes, course, look)
            continue
        axes.plot(course.days, course.sums, color=look.second_ink, linewidth=0.7, alpha=0.55)
        for sign, day in course.signs:
            if sign is Sign.LEAF_OUT and low <= day <= high:
                axes.plot([day], [np.interp(day, course.days, course.sums)], "o", color=look.ink, markersize=3.4)
    return top * 1.05


def _draw_this_year(axes: Axes, course: YearCourse, look: PlotLook) -> None:
    known = course.known_until
    axes.plot(course.days[:known], course.sums[:known], color=look.ink, linewidth=2.2, zorder=4)
    axes.plot(course.days[max(known - 1, 0) :], course.sums[max(known - 1, 0) :], color=look.ink, linewidth=1.5,
              linestyle=(0, (4, 2)), zorder=4)  # fmt: skip
    for _, day in course.signs:
        axes.plot([day], [np.interp(day, course.days, course.sums)], "D", color=look.ink, markersize=4.5, zorder=5)


def _name_this_year(axes: Axes, course: YearCourse, look: PlotLook) -> None:
    """Write the year above the end of what is known of it."""
    known = course.known_until
    if not known:
        return
    low, high = axes.get_xlim()
    x = course.days[known - 1] - 0.01 * (high - low)
    y = course.sums[known - 1] + 0.02 * axes.get_ylim()[1]
    axes.text(x, y, str(course.year), ha="right", clip_on=True, **text_of(look, bold=True))


def _date_axis(
    axes: Axes, answer: SeasonAnswer, look: PlotLook, low: int, high: int, width_px: float, say: Say
) -> None:
    ticks, labels = [], []
    for index in range(low, high + 1):
        day = answer.begins_on + timedelta(days=index)
        if day.day == 1 or (day.day == 15 and (high - low) < 100 and width_px > look.text_px * 26):
            ticks.append(index)
            labels.append(f"{day.day} {say(MONTHS[day.month - 1])}")
    axes.set_xticks(ticks, labels)
    axes.tick_params(axis="x", pad=look.text_px * 0.4)


def _draw_bars(
    axes: Axes,
    bars: list[tuple[str, DaySpread]],
    answer: SeasonAnswer,
    look: PlotLook,
    line_px: float,
    axes_px: float,
    across_px: float,
) -> None:
    low, high = axes.get_xlim()
    unit = line_px / axes_px

    def at(day: date) -> float:
        return float((day - answer.begins_on).days)

    for number, (name, days) in enumerate(reversed(bars)):
        y = 1 + unit * (number + 0.55)
        where = axes.get_xaxis_transform()
        ends = [min(max(at(day), low), high) for day in (days.early, days.late)]
        axes.plot(ends, [y, y], color=look.ink, linewidth=1.2, transform=where, clip_on=False)
        axes.plot([at(days.likely)] * 2, [y - unit * 0.28, y + unit * 0.28], color=look.ink, linewidth=2.2,
                  transform=where, clip_on=False)  # fmt: skip
        # The name stands on the side that has room.
        room_left = (ends[0] - low) / (high - low) * across_px > look.text_px * 6
        x, side = (ends[0], "right") if room_left else (ends[1], "left")
        pad = look.text_px * 0.4 / across_px * (high - low)
        axes.text(x - pad if room_left else x + pad, y, name, ha=side, va="center", transform=where, clip_on=False,
                  **text_of(look))  # fmt: skip
