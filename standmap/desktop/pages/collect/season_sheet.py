"""When to tap: where the season stands, its first and last day, this spring beside earlier ones, and what was seen."""

from __future__ import annotations

from datetime import date
from functools import partial
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QVBoxLayout, QWidget

from standmap.desktop.card import typed
from standmap.desktop.card.forms import Choice
from standmap.desktop.desk import Desk
from standmap.desktop.file_asking import asked_file, usual_folder
from standmap.desktop.kit import (
    Field,
    button,
    caution_line,
    clear,
    fact_row,
    hairline,
    heading,
    label,
    second,
    side_by_side,
    source_line,
)
from standmap.desktop.pages.collect.ask_more import row_of
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.plot_view import PlotView
from standmap.desktop.words import day_text, said, short_day_text, tr, tr_n
from standmap.desktop.working import CautionsOf, Work
from standmap.formats.plot import make_ready
from standmap.formats.season_plot import Words, season_plot, season_words
from standmap.jobs.bring import BringOptions, BringReport, bring
from standmap.jobs.season_files import season_plot_bytes
from standmap.jobs.signs import note_sign, remove_sign, signs_of
from standmap.jobs.when import when
from standmap.jobs.writing_files import write_files
from standmap.season.answer import DaySpread, ModelTold, Phase, SeasonAnswer, Sign
from standmap.stand.records import SeasonSign
from standmap.stand.snapshot import Stand

PLOT_PX = 230.0
SHOWN_SIGNS = 5
WORDS = Words(said, short_day_text)


class SeasonSheet(OverSheet):
    """Reckons the season of today off the GUI thread whenever the stand has changed.

    Signals: `told` (another answer is there).

    Attributes
    ----------
    answer
        What is shown; None until it is reckoned.
    """

    told = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.answer: SeasonAnswer | None = None
        self._asked: Work[SeasonAnswer] | None = None
        self._for: tuple[Stand, date] | None = None
        self.heading = heading(tr("When to tap"))
        self.phase = label("", "name")
        self.why = label("")
        self.plot = PlotView(desk, PLOT_PX, tr("warmth of this spring beside earlier ones"))
        self._days = _column(2)
        self._cautions = _column(4)
        self._signs = _column(2)
        self._models = _column(2)
        self._all_signs = False
        self.more_signs = button("", self._show_every_sign, "link")
        self.models_fold = button("", self._turn_models, "link")
        self.what = Choice(tr("seen"), [(tr(str(sign)), sign) for sign in Sign])
        self.on = Field(tr("on which day"), lambda text: typed.day(text, desk.today), hint=tr("today"))
        self.note_button = button(tr("note it"), self.note_it, "plain")
        self.bring_button = button(tr("bring weather..."), self.ask_weather, "quiet")
        self.save_button = button(tr("save the plot..."), self.ask_plot, "link")
        for part in (self.heading, self.phase, self.why, self._days, self.plot):
            self.down.addWidget(part)
        for part in (self.save_button, self._cautions, hairline()):
            self.down.addWidget(part)
        self.down.addWidget(label(tr("what the stand showed"), "strong"))
        self.down.addWidget(row_of(self.what, self.on))
        self.down.addWidget(side_by_side(self.note_button, stretch=False))
        for part in (self._signs, self.more_signs, hairline(), self.models_fold, self._models):
            self.down.addWidget(part)
        self._models.hide()
        self._tell_fold()
        self.foot_line.addWidget(side_by_side(self.bring_button, self.back))
        self.on.entered.connect(self.note_it)

    # What is shown

    def tell(self) -> None:
        """Reckon again if the stand or the day is another, and show it."""
        seen = self._desk.seen
        if seen is None:
            self.answer, self._for = None, None
            return
        stand, day = seen.stand, self._desk.today
        if self._for is not None and self._for[0] is stand and self._for[1] == day:
            self._show()
            return
        self._for = (stand, day)
        if self._asked is not None:
            self._asked.cancel()

        def take(answer: SeasonAnswer) -> None:
            if self._for is None or self._for[0] is not stand:
                return  # another stand was opened meanwhile
            self.answer = answer
            self._show()
            self.told.emit()

        self._asked = self._desk.compute(lambda _: _reckoned(stand, day), tr("reckoning the season"), take)

    def short(self) -> str:
        """Return where the season stands in a few words, empty until it is reckoned."""
        answer = self.answer
        if answer is None:
            return ""
        if answer.phase in (Phase.RUNNING, Phase.LAST_DAYS) and answer.last is not None:
            return tr("when to tap: until about {day}", day=short_day_text(answer.last.days.likely))
        if answer.phase in (Phase.SOON, Phase.TOO_EARLY) and answer.first is not None:
            return tr("when to tap: from about {day}", day=short_day_text(answer.first.days.likely))
        return tr("when to tap: {phase}", phase=said(answer.phase))

    def _show(self) -> None:
        answer = self.answer
        if answer is None:
            return
        self.phase.setText(said(answer.phase))
        self.why.setText(said(answer.phase_why))
        self._show_days(answer)
        self._show_plot(answer)
        self._show_signs()
        self._show_cautions(answer)
        self._show_models(answer)
        writable = not self._desk.read_only
        for one in (self.note_button, self.bring_button):
            one.setEnabled(writable)

    def _show_days(self, answer: SeasonAnswer) -> None:
        down = _down(self._days)
        clear(down)
        for name, advised in ((tr("first day"), answer.first), (tr("last day"), answer.last)):
            if advised is None:
                continue
            days = advised.days
            if down.count():
                down.addSpacing(6)
            down.addWidget(fact_row(name, day_text(days.likely), strong=True))
            between = _between(days)
            sure = days.early == days.late
            down.addWidget(second(said(advised.why) if sure else f"{between}; {said(advised.why)}"))
            down.addWidget(source_line(said(advised.source)))

    def _show_plot(self, answer: SeasonAnswer) -> None:
        self.save_button.setVisible(bool(answer.years))
        if not answer.years:
            self.plot.show_plot(None)
            return
        self.plot.show_plot(
            lambda look, width, height: season_plot(answer, look, width, height, WORDS), season_words(answer, WORDS)
        )

    def _show_signs(self) -> None:
        down, seen = _down(self._signs), self._desk.seen
        clear(down)
        if seen is None:
            return
        rows = signs_of(seen.stand)
        shown = rows if self._all_signs else rows[:SHOWN_SIGNS]
        self.more_signs.setVisible(len(shown) < len(rows))
        self.more_signs.setText(tr("all {n} signs", n=len(rows)))
        for row in shown:
            told = f"{said(row.what)}, {day_text(row.seen_on)}"
            away = button(tr("take out"), partial(self.remove, row), "link")
            away.setAccessibleName(tr("take out: {sign}", sign=told))
            away.setEnabled(not self._desk.read_only)
            line = QWidget()
            across = QHBoxLayout(line)
            across.setContentsMargins(0, 0, 0, 0)
            across.addWidget(label(told), 1)
            across.addWidget(away)
            down.addWidget(line)

    def _show_cautions(self, answer: SeasonAnswer) -> None:
        down = _down(self._cautions)
        clear(down)
        for text in answer.cautions:
            down.addWidget(caution_line(said(text)))

    def _show_models(self, answer: SeasonAnswer) -> None:
        down = _down(self._models)
        clear(down)
        self.models_fold.setVisible(bool(answer.models or answer.notes))
        for model in answer.models:
            _show_model(down, model)
            down.addSpacing(8)
        if answer.station or answer.weather_until is not None:
            down.addWidget(second(_weather(answer)))
        for text in answer.notes:
            down.addWidget(second(said(text)))

    def _show_every_sign(self) -> None:
        self._all_signs = True
        self._show_signs()

    def _turn_models(self) -> None:
        self._models.setVisible(self._models.isHidden())
        self._tell_fold()

    def _tell_fold(self) -> None:
        folded, name = self._models.isHidden(), tr("what these days rest on")
        self.models_fold.setText(f"{name} {'▸' if folded else '▾'}")
        self.models_fold.setAccessibleName(name)
        self.models_fold.setAccessibleDescription(tr("folded") if folded else tr("unfolded below"))

    # What can be done

    def go(self) -> None:
        """Note what is chosen, as Enter does."""
        self.note_it()

    def note_it(self) -> None:
        """Write down what was seen."""
        if self._desk.read_only:
            return
        on = self.on.value() if self.on.text().strip() else self._desk.today
        if on is None:
            self.on.setFocus()
            return
        sign, today, moment = self.what.value(), self._desk.today, self._desk.now()

        def failed(error: Exception) -> None:
            self.on.say(said(str(error)))
            self.on.setFocus()

        def noted(row: SeasonSign) -> None:
            self.on.set_text("")
            self._desk.tell(tr("noted: {sign}, {day}", sign=said(row.what), day=day_text(row.seen_on)))

        self._desk.run(
            lambda file, _: note_sign(file, str(sign), on, today, moment), tr("noting a sign"), noted, failed
        )

    def remove(self, row: SeasonSign, *_: object) -> None:
        """Take a sign out."""
        moment = self._desk.now()
        self._desk.run(lambda file, _: remove_sign(file, row.what, row.seen_on, moment), tr("taking a sign out"))

    def ask_weather(self) -> None:
        """Ask for files of daily weather and bring them in."""
        chosen, _ = QFileDialog.getOpenFileNames(self, tr("daily weather: CSV or GHCN-Daily"), usual_folder(self._desk))
        if chosen:
            self.bring_weather([Path(name) for name in chosen])

    def bring_weather(self, paths: list[Path]) -> None:
        """Bring files of daily weather in, as one edit."""
        moment = self._desk.now()

        def told(report: BringReport) -> None:
            added = sum(source.added for source in report.sources)
            updated = sum(source.updated for source in report.sources)
            self._desk.tell(
                tr_n("{n} day of weather is new", "{n} days of weather are new", added)
                + (tr(", {n} told anew", n=updated) if updated else "")
            )

        self._desk.run(
            lambda file, watch: bring(file, paths, BringOptions(), moment, CautionsOf(watch), watch),
            tr("bringing weather in"),
            told,
        )

    def ask_plot(self) -> None:
        """Ask for a file and draw the plot into it."""
        if self.answer is None:
            return
        name = f"season-{self.answer.season}.svg"
        path = asked_file(self, self._desk, None, tr("the plot"), name, tr("pictures (*.svg *.png *.pdf)"))
        if path is not None:
            self.save_plot(path)

    def save_plot(self, path: Path) -> None:
        """Draw the plot into a file, off the GUI thread."""
        answer = self.answer
        if answer is None:
            return
        self._desk.compute(
            lambda _: write_files(path.parent, {path.name: season_plot_bytes(answer, path, WORDS)}, replace=True),
            tr("drawing the plot"),
            lambda paths: self._desk.tell(tr("{names} is in {folder}", names=path.name, folder=paths[0].parent)),
        )


def _reckoned(stand: Stand, day: date) -> SeasonAnswer:
    answer = when(stand, day)
    if answer.years:
        make_ready()
    return answer


def _show_model(down: QVBoxLayout, model: ModelTold) -> None:
    name = tr("leaf-out by {model}", model=said(model.title))
    days = model.leaf_out
    down.addWidget(fact_row(name, tr("cannot be told") if days is None else day_text(days.likely)))
    parts = []
    if days is not None:
        parts.append(_between(days))
    parts.append(tr("warmth {reached} of {wanted}", reached=f"{model.reached:.0f}", wanted=f"{model.wanted:.0f}"))
    if model.error_days is not None and model.mean_error_days is not None:
        told = tr_n("by {n} own spring", "by {n} own springs", model.own_years)
        miss = tr("misses by {miss} days, the mean day by {mean}", miss=f"{model.error_days:.1f}",
                  mean=f"{model.mean_error_days:.1f}")  # fmt: skip
        parts += [told, said(miss)]
    down.addWidget(second("; ".join(parts)))
    down.addWidget(source_line(f"{said(model.about)}; {said(model.source)}"))


def _between(days: DaySpread) -> str:
    return tr("{early} to {late}", early=short_day_text(days.early), late=short_day_text(days.late))


def _weather(answer: SeasonAnswer) -> str:
    until = "" if answer.weather_until is None else day_text(answer.weather_until)
    parts = [tr("weather of {station} until {day}", station=answer.station or tr("a nameless station"), day=until)]
    if answer.station_km is not None:
        parts.append(tr("{n} km away", n=f"{answer.station_km:.0f}"))
    if answer.missing_days:
        parts.append(tr_n("{n} day filled in", "{n} days filled in", answer.missing_days))
    return ", ".join(parts)


def _column(spacing: int) -> QWidget:
    made = QWidget()
    down = QVBoxLayout(made)
    down.setContentsMargins(0, 0, 0, 0)
    down.setSpacing(spacing)
    return made


def _down(part: QWidget) -> QVBoxLayout:
    down = part.layout()
    assert isinstance(down, QVBoxLayout)  # noqa: S101 - made so above
    return down
