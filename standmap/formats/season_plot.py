"""The warmth of this spring beside earlier ones, with the days it leads to, as a plot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from standmap.formats.plot import PlotLook, calm_axes, figure, text_of
from standmap.season.answer import DaySpread, SeasonAnswer, Sign, YearCourse

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Say = Callable[[str], str]

BEFORE_DAYS, AFTER_DAYS = 20, 10
"""Drawn before the earliest first day and after the latest last one; the day asked about too, unless it is far off."""

FAR_DAYS = 60
LAST_DAY = 181
"""Half a year is summed."""

ABOVE_WANTED = 1.6
"""The plot ends at so many times the warmth of leaf-out: what comes later says nothing of sap."""

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
WIDE_EM, LETTER_EM = 36.0, 0.57
"""From this width on, in sizes of the text, there is room for more words; and how wide a letter is, about."""


def short_day(day: date) -> str:
    """Return a day without its year, such as 3 Apr."""
    return f"{day.day} {MONTHS[day.month - 1]}"


@dataclass(frozen=True, slots=True)
class Words:
    """How texts and days are said: `say` turns an English text into the person's language."""

    say: Say = str
    day: Callable[[date], str] = short_day


ENGLISH = Words()


def season_plot(
    answer: SeasonAnswer, look: PlotLook, width_px: float, height_px: float, words: Words = ENGLISH
) -> Figure:
    """Draw the sums of warmth of a season and of earlier ones, by the day.

    Notes
    -----
    This year is a thick line, dashed where it is only expected; earlier years are thin, a dot where leaf-out was seen.
    Bars above tell the first and the last day to tap and leaf-out, each a line from early to late with a tick at the
    most likely day. Below them the most likely days of tapping are tinted, and across lies the warmth wanted.
    """
    sheet = figure(look, width_px, height_px)
    line_px, wide = look.text_px * 1.5, width_px > look.text_px * WIDE_EM
    bars = _bars(answer)
    left, right, foot = look.text_px * 3.2, look.text_px * 1.8, line_px * 1.5
    head = line_px * (len(bars) + 1.2)
    across, up = max(width_px - left - right, 1.0), max(height_px - foot - head, 1.0)
    axes = calm_axes(sheet, look, (left, foot, across, up))
    low, high = _shown_days(answer)
    axes.set_xlim(low, high)
    axes.set_ylim(0, _top(answer, low, high))
    axes.grid(visible=False)
    axes.locator_params(axis="y", nbins=6 if wide else 4)
    axes.set_yticks([tick for tick in axes.get_yticks() if tick < 0.92 * axes.get_ylim()[1]])
    room = _Room(axes, look, words, across, up, wide)
    _date_axis(room, answer)
    sheet.text(look.text_px * 0.4 / width_px, (foot + up + line_px * 0.5) / height_px,
               words.say("warmth, degree days"), va="center", **text_of(look, second=True))  # fmt: skip
    _draw_season(room, answer)
    _draw_wanted(room, answer)
    _draw_years(room, answer)
    _draw_day(room, answer)
    _draw_bars(room, bars, answer, line_px)
    return sheet


def season_words(answer: SeasonAnswer, words: Words = ENGLISH) -> str:
    """Return what the plot shows in words, for those who do not see it."""
    told = []
    if answer.models:
        plain = answer.models[0]
        told.append(words.say(f"{plain.reached:.0f} of {plain.wanted:.0f} degree days wanted at leaf-out"))
    for name, days in _bars(answer):
        spread = "" if days.early == days.late else f" ({words.day(days.early)} – {words.day(days.late)})"
        told.append(f"{words.say(name)} {words.day(days.likely)}{spread}")
    seen = [
        f"{words.day(answer.begins_on.replace(year=course.year) + timedelta(days=day))} {course.year}"
        for course in answer.years
        for sign, day in course.signs
        if sign is Sign.LEAF_OUT and course.year != answer.season
    ]
    if seen:
        told.append(f"{words.say('leaf-out seen')} {', '.join(seen)}")
    return "; ".join(told)


@dataclass(frozen=True, slots=True)
class _Room:
    """Axes with what it takes to place texts on them: the look, the words, and width and height in pixels."""

    axes: Axes
    look: PlotLook
    words: Words
    across_px: float
    up_px: float
    wide: bool

    @property
    def shown(self) -> tuple[float, float]:
        low, high = self.axes.get_xlim()
        return float(low), float(high)

    @property
    def top(self) -> float:
        return float(self.axes.get_ylim()[1])

    def days(self, px: float) -> float:
        """Return how many days lie in a width."""
        low, high = self.shown
        return px / self.across_px * (high - low)

    def warmth(self, px: float) -> float:
        """Return how much warmth lies in a height."""
        return px / self.up_px * self.top

    def text_days(self, text: str) -> float:
        """Return how many days a text covers, about."""
        return self.days(len(text) * self.look.text_px * LETTER_EM)


def _bars(answer: SeasonAnswer) -> list[tuple[str, DaySpread]]:
    found = []
    if answer.first is not None:
        found.append(("first day", answer.first.days))
    if answer.last is not None:
        found.append(("last day", answer.last.days))
    told = [m.leaf_out for m in answer.models if m.leaf_out is not None]
    if told:
        likely = sorted(days.likely for days in told)[len(told) // 2]
        spread = DaySpread(min(d.early for d in told), likely, max(d.late for d in told))
        found.append(("leaf-out", spread))
    return found


def _shown_days(answer: SeasonAnswer) -> tuple[int, int]:
    spreads = [days for _, days in _bars(answer)]
    if not spreads:
        return 0, LAST_DAY
    early, late = min(days.early for days in spreads), max(days.late for days in spreads)
    low, high = early - timedelta(days=BEFORE_DAYS), late + timedelta(days=AFTER_DAYS)
    if (early - answer.day).days < FAR_DAYS and (answer.day - late).days < FAR_DAYS:
        low, high = min(low, answer.day - timedelta(days=3)), max(high, answer.day + timedelta(days=3))
    first, last = max(0, (low - answer.begins_on).days), min(LAST_DAY, (high - answer.begins_on).days)
    return (first, last) if first < last else (0, LAST_DAY)


def _at_leaf_out(answer: SeasonAnswer) -> list[float]:
    """Return the warmth of earlier years on the days on which leaf-out was seen."""
    return [
        float(np.interp(day, course.days, course.sums))
        for course in answer.years
        for sign, day in course.signs
        if sign is Sign.LEAF_OUT and course.year != answer.season
    ]


def _top(answer: SeasonAnswer, low: int, high: int) -> float:
    counts = [ABOVE_WANTED * m.wanted for m in answer.models[:1]] + [1.2 * sum_ for sum_ in _at_leaf_out(answer)]
    if not counts:
        seen = [course.sums[(course.days >= low) & (course.days <= high)] for course in answer.years]
        counts = [1.05 * float(sums.max()) for sums in seen if len(sums)]
    return max([20.0, *counts])


def _draw_season(room: _Room, answer: SeasonAnswer) -> None:
    if answer.first is not None and answer.last is not None:
        ends = [(on.days.likely - answer.begins_on).days for on in (answer.first, answer.last)]
        if ends[0] < ends[1]:
            room.axes.axvspan(*ends, facecolor=room.look.cool, alpha=0.18, linewidth=0, zorder=0)


def _draw_wanted(room: _Room, answer: SeasonAnswer) -> None:
    """Draw the warmth wanted, and as a band what earlier springs had at leaf-out."""
    look, own = room.look, _at_leaf_out(answer)
    if len(own) > 1:
        room.axes.axhspan(min(own), max(own), facecolor=look.warm, alpha=0.3, linewidth=0, zorder=0)
    for model in answer.models[:1]:
        room.axes.axhline(model.wanted, color=look.ink, linewidth=look.stroke(0.9), zorder=2)
        text, day = room.words.say(f"{model.wanted:.0f} wanted"), (answer.day - answer.begins_on).days
        x, y = room.shown[0] + room.days(2), model.wanted + room.warmth(look.text_px * 0.25)
        aside = day + room.days(4)
        if x - room.days(4) < day < x + room.text_days(text) and aside + room.text_days(text) < _reached(answer, y):
            x = aside  # where the line of the day does not cross it
        room.axes.text(x, y, text, ha="left", va="bottom", **text_of(look))


def _reached(answer: SeasonAnswer, sum_: float) -> float:
    """Return the first day on which any of the years has a sum."""
    days = [float(course.days[course.sums >= sum_][0]) for course in answer.years if (course.sums >= sum_).any()]
    return min(days, default=float(LAST_DAY))


def _draw_years(room: _Room, answer: SeasonAnswer) -> None:
    dots, ends = [], []
    for course in answer.years:
        if course.year == answer.season:
            _draw_this_year(room, course, answer)
            continue
        room.axes.plot(
            course.days, course.sums, color=room.look.second_ink, linewidth=room.look.stroke(0.8), alpha=0.75
        )
        ends.append((_leaves_at(room, course), str(course.year)))
        dots += [
            (day, float(np.interp(day, course.days, course.sums)))
            for sign, day in course.signs
            if sign is Sign.LEAF_OUT and room.shown[0] <= day <= room.shown[1]
        ]
    for day, sum_ in dots:
        room.axes.plot([day], [sum_], "o", color=room.look.ink, markersize=room.look.text_px * 0.28, zorder=5)
    if dots:
        day, sum_ = min(dots)
        x, line = day - room.days(room.look.text_px * 0.5), room.warmth(room.look.text_px * 0.9)
        for model in answer.models[:1]:
            if abs(sum_ - model.wanted) < line:  # the line of what is wanted would cross it
                sum_ = model.wanted - line
        room.axes.text(x, sum_, room.words.say("leaf-out seen"), ha="right", va="center", **text_of(room.look))
    _name_years(room, answer, ends)


def _draw_this_year(room: _Room, course: YearCourse, answer: SeasonAnswer) -> None:
    known, ink = course.known_until, room.look.ink
    room.axes.plot(course.days[:known], course.sums[:known], color=ink, linewidth=room.look.stroke(2.2), zorder=4)
    later = max(known - 1, 0)
    room.axes.plot(
        course.days[later:],
        course.sums[later:],
        color=ink,
        linewidth=room.look.stroke(1.5),
        linestyle=(0, (4, 2)),
        zorder=4,
    )
    until = (answer.day - answer.begins_on).days
    for sign, day in course.signs:
        if day <= until and room.shown[0] <= day <= room.shown[1]:
            y = float(np.interp(day, course.days, course.sums))
            size = room.look.text_px * 0.36
            room.axes.plot([day], [y], "D", color=ink, markersize=size, zorder=5, clip_on=False)
            if room.wide:
                x, y = day - room.days(size), y + room.warmth(size * 1.6)
                room.axes.text(x, y, room.words.say(sign), ha="right", va="bottom", **text_of(room.look))


def _leaves_at(room: _Room, course: YearCourse) -> float | None:
    """Return the day on which a course leaves the plot at its top; None where it does not."""
    over = np.flatnonzero(course.sums >= room.top)
    if not len(over):
        return None
    day = float(course.days[over[0]])
    return day if room.shown[0] < day <= room.shown[1] else None


def _name_years(room: _Room, answer: SeasonAnswer, ends: list[tuple[float | None, str]]) -> None:
    """Name this year, and where there is room the others, above the point at which they leave the plot."""
    look, (low, high) = room.look, room.shown
    here = next((c for c in answer.years if c.year == answer.season), None)
    # The name of the axis stands in the same row, at the left.
    taken = [(low - high, low + room.text_days(room.words.say("warmth, degree days")) - room.days(look.text_px * 2))]
    names = [(day, text, False) for day, text in ends if day is not None] if room.wide else []
    if here is not None:
        at = _leaves_at(room, here)
        text = str(here.year)
        if at is None:
            y = min(float(np.interp(high, here.days, here.sums)) + room.warmth(look.text_px * 0.4), room.top)
            room.axes.text(high, y, text, ha="right", va="bottom", **text_of(look, bold=True))
        else:
            names.insert(0, (at, text, True))
    for day, text, bold in names:
        half = room.text_days(text) / 2 + room.days(look.text_px * 0.3)
        if not bold and any(day - half < end and day + half > begin for begin, end in taken):
            continue
        taken.append((day - half, day + half))
        y = room.top + room.warmth(look.text_px * 0.3)
        room.axes.text(
            day, y, text, ha="center", va="bottom", clip_on=False, **text_of(look, second=not bold, bold=bold)
        )


def _draw_day(room: _Room, answer: SeasonAnswer) -> None:
    day, (low, high) = (answer.day - answer.begins_on).days, room.shown
    if low <= day <= high:
        room.axes.axvline(day, color=room.look.second_ink, linewidth=room.look.stroke(0.9), linestyle=(0, (1, 2)))
        text = room.words.day(answer.day)
        left = day - low > high - day
        x = day + room.days(4) * (-1 if left else 1)
        y = room.top - room.warmth(room.look.text_px * 0.7)
        room.axes.text(x, y, text, ha="right" if left else "left", va="center", **text_of(room.look, second=True))


def _date_axis(room: _Room, answer: SeasonAnswer) -> None:
    (low, high), ticks, labels = room.shown, [], []
    for index in range(int(low), int(high) + 1):
        day = answer.begins_on + timedelta(days=index)
        if day.day == 1 or (day.day == 15 and high - low < 100 and room.wide):
            ticks.append(index)
            labels.append(room.words.day(day))
    room.axes.set_xticks(ticks, labels)
    room.axes.tick_params(axis="x", pad=room.look.text_px * 0.4)


def _draw_bars(room: _Room, bars: list[tuple[str, DaySpread]], answer: SeasonAnswer, line_px: float) -> None:
    (low, high), look, axes = room.shown, room.look, room.axes
    unit = line_px / room.up_px
    where = axes.get_xaxis_transform()
    pad = room.days(look.text_px * 0.4)
    for number, (name, days) in enumerate(reversed(bars)):
        y = 1 + unit * (number + 1.6)
        early, likely, late = (
            min(max(float((day - answer.begins_on).days), low), high) for day in (days.early, days.likely, days.late)
        )
        axes.plot([early, late], [y, y], color=look.ink, linewidth=look.stroke(1.2), transform=where, clip_on=False)
        axes.plot([likely] * 2, [y - unit * 0.28, y + unit * 0.28], color=look.ink, linewidth=look.stroke(2.2),
                  transform=where, clip_on=False)  # fmt: skip
        text = f"{room.words.say(name)} {room.words.day(days.likely)}"
        # The name stands at the left where there is room, which the name of the row of years need not leave.
        left = early - low + room.days(look.text_px * 3) > room.text_days(text) + pad
        x, side = (early - pad, "right") if left else (late + pad, "left")
        axes.text(x, y, text, ha=side, va="center", transform=where, clip_on=False, **text_of(look))
