"""Tonight: what will run until the planned hour, which vessels may run over, and what to hang there."""

from __future__ import annotations

from datetime import date, datetime, time
from functools import partial
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QVBoxLayout

from standmap.desktop.canvas.overlay import Overlay
from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import Field, button, caution_line, clear, fact_row, heading, keys_text, label, second
from standmap.desktop.pages.collect.ask_more import read_time, row_of
from standmap.desktop.pages.collect.brim_overlay import BrimOverlay
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.run_plots import NightPlot, PastPlot
from standmap.desktop.pages.collect.spread_bar import SpreadBar
from standmap.desktop.pages.collect.wording import long_day
from standmap.desktop.words import day_text, said, tr, tr_n
from standmap.desktop.working import Work
from standmap.formats.plot import make_ready
from standmap.jobs.preferences import round_options
from standmap.jobs.returns import called
from standmap.jobs.round_options import RoundOptions
from standmap.jobs.sap_readings import read_temperature_c
from standmap.jobs.tonight import WARMTH_BOUNDS_C, HoleTonight, TonightAnswer, past_seasons, tonight, until_of
from standmap.sap.calibration import Calibration
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree

MOST_ROWS = 60
MOST_NAMED = 12

Asked = tuple[date, datetime | time | None, float | None, time | None, RoundOptions]
"""The day, until when, how warm, when the vessels are emptied, and the settings that count."""


class TonightSheet(OverSheet):
    """Reckons the coming night off the GUI thread whenever it is shown and something has changed.

    Signals: `told` (another answer, or why there is none, is there), `tree_chosen` (a tree's key).

    Attributes
    ----------
    answer
        What is shown; None until it is reckoned, or where there is none.
    """

    told = Signal()
    tree_chosen = Signal(str)

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.answer: TonightAnswer | None = None
        self.past: Calibration | None = None
        self._work: Work[Any] | None = None
        self._for: tuple[Stand, Asked] | None = None
        self._all_rows = False
        self.heading = heading(tr("Tonight"))
        self.about = second("")
        self.until = Field(tr("until"), until_of, hint=tr("sunrise"))
        self.warmth = Field(tr("warmth, °C"), lambda text: read_temperature_c(text, WARMTH_BOUNDS_C))
        self.emptied = Field(tr("last emptied"), read_time, hint=tr("as noted"))
        self.wrong = caution_line("")
        self.total = label("", "name")
        self.bar = SpreadBar(desk, tr("what the vessels hold together"))
        self._facts = QVBoxLayout()
        self._facts.setSpacing(4)
        self._rows = QGridLayout()
        self._below = QVBoxLayout()
        self._below.setSpacing(4)
        self.plot = NightPlot(desk)
        self.past_plot = PastPlot(desk)
        self.more = button("", self._show_all, "link")
        self.past_button = button(tr("how past seasons came"), self.look_back, "link")
        self._past = QVBoxLayout()
        self._past.setSpacing(4)
        self._build()
        for field in self.fields:
            field.entered.connect(self.go)
            field.edit.editingFinished.connect(self._reckon)

    def _build(self) -> None:
        for part in (self.heading, self.about, row_of(self.until, self.warmth, self.emptied)):
            self.down.addWidget(part)
        for part in (self.wrong, self.total, self.bar):
            self.down.addWidget(part)
        self.down.addLayout(self._facts)
        self.down.addWidget(self.plot)
        self._rows.setContentsMargins(0, 8, 0, 0)
        self._rows.setHorizontalSpacing(10)
        self._rows.setVerticalSpacing(2)
        self._rows.setColumnStretch(0, 1)
        self.down.addLayout(self._rows)
        self.down.addWidget(self.more)
        self.down.addWidget(self.past_button)
        self.down.addLayout(self._past)
        self.down.addWidget(self.past_plot)
        self.down.addLayout(self._below)
        self.down.addWidget(self.back)
        self.go_button = button(tr("reckon"), self.go, "primary", keys_text("Ctrl+Return"))
        self.foot_line.addWidget(self.go_button)
        for part in (self.wrong, self.total, self.bar, self.plot, self.more, self.past_button, self.past_plot):
            part.hide()

    @property
    def fields(self) -> tuple[Field[Any], ...]:
        """What may be typed."""
        return (self.until, self.warmth, self.emptied)

    # Reckoning

    def go(self) -> None:
        """Reckon anew, or go to what is wrong."""
        wrong = next((field for field in self.fields if not field.check()), None)
        if wrong is not None:
            wrong.setFocus()
            return
        self._reckon()

    def tell(self) -> None:
        """Reckon again if the stand or the settings are others, and show it."""
        self._reckon(again=True)

    def forget(self) -> None:
        """Let go of what was typed: another stand is open."""
        for field in self.fields:
            field.set_text("")
        self.answer, self.past, self._for = None, None, None
        self._show()

    def _asked(self) -> Asked | None:
        """Return what is asked for; None while something typed is wrong."""
        until, warmth, emptied = (field.given() for field in self.fields)
        if any(field.wrong.text() for field in self.fields):
            return None
        return self._desk.today, until, warmth, emptied, round_options(self._desk.settings)

    def _reckon(self, *, again: bool = False) -> None:
        seen, asked = self._desk.seen, self._asked()
        if seen is None or asked is None or not self.isVisible():
            return
        if self._for is not None and self._for[0] is seen.stand and self._for[1] == asked:
            if again:
                self._show()
            return
        if self._for is None or self._for[0] is not seen.stand:
            self.past = None
        wanted = self._for = (seen.stand, asked)
        if self._work is not None:
            self._work.cancel()
        day, until, warm_c, emptied, options = asked

        def take(answer: TonightAnswer | None, text: str = "") -> None:
            if self._for is not wanted:
                return  # asked anew meanwhile
            self.answer = answer
            self.wrong.setText(text)
            self._show()
            self.told.emit()

        def reckoned(_: object) -> TonightAnswer:
            make_ready()
            return tonight(
                seen.stand, day, until, warm_c=warm_c, emptied=emptied, options=options, model=seen.sap_model
            )

        self._work = self._desk.compute(
            reckoned,
            tr("reckoning the night"),
            take,
            lambda error: take(None, wording(error)),
        )

    def look_back(self) -> None:
        """Hold past seasons against what would have been told of them."""
        seen, options = self._desk.seen, round_options(self._desk.settings)
        if seen is None:
            return
        self.past_button.setEnabled(False)

        def take(past: Calibration | None, text: str = "") -> None:
            self.past_button.setEnabled(True)
            if self._desk.seen is seen:
                self.past = past
                self._show_past(text)

        self._desk.compute(
            lambda _: past_seasons(seen.stand, options.vessel_ml),
            tr("looking back at past seasons"),
            take,
            lambda error: take(None, wording(error)),
        )

    # What is shown

    def overlays(self) -> tuple[Overlay, ...]:
        """Return which vessels may run over, as the map shows them."""
        seen, answer = self._desk.seen, self.answer
        if seen is None or answer is None:
            return ()
        likely: dict[str, float] = {}
        for hole in answer.likely_over:  # the likeliest first, so that of two holes in a tree it is told
            likely.setdefault(hole.tree.key, hole.overflow)
        there = [key for key in likely if key in seen.row_of]
        if not there:
            return ()
        told = tuple(_percent(likely[key]) for key in there)
        return (BrimOverlay(seen.xy[seen.rows_of(there)], told, self._desk.settings.text_size_percent / 100),)

    def _show(self) -> None:
        answer = self.answer
        for part in (self.total, self.bar, self.past_button):
            part.setVisible(answer is not None)
        self.wrong.setVisible(answer is None and bool(self.wrong.text()))
        clear(self._facts)
        clear(self._below)
        self.plot.show_night(answer, self.units)
        self._show_rows(answer)
        self._show_past()
        if answer is None:
            self.about.setText("")
        else:
            self._show_total(answer)
            self._show_vessels(answer)
            for text in answer.notes:
                self._below.addWidget(second(self.units.in_sentence(said(text))))
            for text in answer.cautions:
                self._below.addWidget(caution_line(said(text)))
        self.map_changed.emit()

    def _show_total(self, answer: TonightAnswer) -> None:
        units, total = self.units, answer.total
        hour = f"{answer.until:%H:%M}"
        self.about.setText(tr("until {day}, {hour}", day=long_day(answer.until.date()), hour=hour))
        degrees = f"{round(answer.warmth_c, 1):g}".replace(".", units.decimal_mark)
        for field, usual in ((self.warmth, degrees), (self.until, hour)):
            if not field.text().strip():
                field.edit.setPlaceholderText(usual)
        self.total.setText(units.volume(total.median_ml))
        span = units.volumes(total.low_ml, total.most_ml)
        holes = tr_n("from {n} hole", "from {n} holes", len(answer.holes))
        told = tr("to carry home, eight times of ten {span}, {holes}", span=span, holes=holes)
        room = sum(hole.vessel_ml for hole in answer.holes)
        self.bar.show_spread(total.low_ml, total.median_ml, total.most_ml, room, told)
        self._facts.addWidget(second(told))
        why, basis = said(answer.warmth_basis), said(answer.basis)
        self._facts.addWidget(second(tr("{c} °C, {why}; {basis}", c=degrees, why=why, basis=basis)))
        if answer.run.median_ml > total.median_ml * 1.02:
            run = units.volume(answer.run.median_ml)
            self._facts.addWidget(caution_line(tr("{volume} run, more than the vessels hold", volume=run)))
        if answer.cans:
            cans = tr("cans of {volume}", volume=units.volume(answer.options.can_l * 1000))
            self._facts.addWidget(fact_row(cans, str(answer.cans)))

    def _show_vessels(self, answer: TonightAnswer) -> None:
        units, chance = self.units, _percent(answer.options.overflow_chance)
        usual = units.volume(answer.options.vessel_ml)
        if not answer.likely_over:
            text = tr("no vessel of {volume} runs over likelier than {chance}", volume=usual, chance=chance)
            self._facts.addWidget(label(text))
        for larger in answer.larger:
            name = tr("hang {volume} at", volume=units.volume(larger.vessel_l * 1000))
            self._facts.addWidget(label(f"{name} {_names(larger.trees)}"))
        if answer.evening_helps:
            trees = _names([hole.tree for hole in answer.evening_helps])
            self._facts.addWidget(label(tr("or empty in the evening as well: {trees}", trees=trees)))
        for name, why in answer.left_out:
            self._facts.addWidget(second(tr("left out: {tree}: {why}", tree=name, why=said(why))))

    def _show_rows(self, answer: TonightAnswer | None) -> None:
        clear(self._rows)
        holes = () if answer is None else answer.holes
        shown = holes if self._all_rows else holes[:MOST_ROWS]
        self.more.setVisible(len(shown) < len(holes))
        self.more.setText(tr("all {n} holes", n=len(holes)))
        if answer is None:
            return
        titles = (tr("tree"), tr("median"), tr("90 %"), tr("runs over"))
        for column, title in enumerate(titles):
            side = Qt.AlignmentFlag.AlignRight if column else Qt.AlignmentFlag.AlignLeft
            self._rows.addWidget(label(title, "source", wrap=False), 0, column, side)
        for number, hole in enumerate(shown, start=1):
            self._show_hole(number, hole, likely=hole.overflow > answer.options.overflow_chance)

    def _show_hole(self, number: int, hole: HoleTonight, *, likely: bool) -> None:
        run, name = hole.hanging.run, said(called(hole.tree.name, hole.hanging.hole.number))
        median, most = self.units.volume(run.median_ml), self.units.volume(run.most_ml)
        chance = _percent(hole.overflow)
        row = button(name, partial(self.tree_chosen.emit, hole.tree.key), "row")
        about = tr("median {median}, 90 % {most}, runs over with {chance}", median=median, most=most, chance=chance)
        row.setAccessibleDescription(about)
        full = hole.hanging.fills_at
        if full is not None:
            row.setToolTip(tr("full about {day}, {hour}", day=day_text(full.date()), hour=f"{full:%H:%M}"))
        self._rows.addWidget(row, number, 0)
        for column, text in enumerate((median, most, chance), start=1):
            cell = label(text, "strong" if likely and column == 3 else "text", wrap=False)
            self._rows.addWidget(cell, number, column, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)

    def _show_past(self, text: str = "") -> None:
        clear(self._past)
        if text:
            self._past.addWidget(second(text))
        past = self.past
        self.past_plot.show_past(past)
        if past is None:
            return
        half, nine = (_percent(past.inside(part) or 0.0) for part in (0.5, 0.9))
        count = tr_n("{n} collection", "{n} collections", past.collections)
        told = tr(
            "of {count}, {half} lay in the middle half of what was told and {nine} in nine tenths of it",
            count=count,
            half=half,
            nine=nine,
        )
        self._past.addWidget(label(told))
        for one in past.seasons:
            inside = tr("{half} and {nine}", half=_percent(one.inside_50), nine=_percent(one.inside_90))
            over = tr("told to run over {told}, ran over {came}", told=f"{one.run_over_told:.0f}", came=one.run_over)
            self._past.addWidget(second(f"{one.season}: {inside}; {over}"))

    def _show_all(self) -> None:
        self._all_rows = True
        self._show_rows(self.answer)

    def focus_first(self) -> None:
        """Go to the first field."""
        self.until.setFocus()


def _percent(part: float) -> str:
    return f"{part * 100:.0f} %"


def _names(trees: list[Tree] | tuple[Tree, ...]) -> str:
    names = list(dict.fromkeys(tree.name for tree in trees))
    more = tr(" and {n} more", n=len(names) - MOST_NAMED) if len(names) > MOST_NAMED else ""
    return ", ".join(names[:MOST_NAMED]) + more
