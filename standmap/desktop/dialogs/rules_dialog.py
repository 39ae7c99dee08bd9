"""The rules of the stand: which set speaks, each figure with its source and bounds, and the stand's own values."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QFrame,
    QHBoxLayout,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)
from shiboken6 import isValid

from standmap.desktop.desk import Desk, wording
from standmap.desktop.dialogs.figure_row import FigureRow
from standmap.desktop.dialogs.figure_words import in_plain_words
from standmap.desktop.dialogs.rules_form import changed_counts
from standmap.desktop.guard import guard_of
from standmap.desktop.kit import button, caution_line, clear, hairline, heading, label, second, source_line
from standmap.desktop.words import said, tr, tr_n
from standmap.errors import UserError
from standmap.jobs.cautions import LOCAL_RULES
from standmap.jobs.rule_choice import keep_rules, own_figures
from standmap.jobs.seasons import verdict_counts
from standmap.rules.ruleset import RuleSet, available, load

WAIT_MS = 150
"""A pause in typing after which the counts are looked at anew."""

WIDTH_PX, HEIGHT_PX = 620, 700


class RulesDialog(QDialog):
    """Nothing is kept until it is asked for; then it is one edit.

    Attributes
    ----------
    choice
        The rule sets by title.
    figures
        The figures of the set that is chosen, by name.
    """

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        seen = desk.seen
        assert seen is not None  # noqa: S101 - asked for only while a stand is open
        self._desk = desk
        self._kept = seen.rules
        self._kept_own = own_figures(seen.stand)
        self._can_write = not desk.read_only
        self.figures: dict[str, FigureRow] = {}
        self.setWindowTitle(tr("rules of this stand"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._wait = QTimer(self)
        self._wait.setSingleShot(True)
        self._wait.setInterval(WAIT_MS)
        self._wait.timeout.connect(self._look_ahead)
        scale = self._scale = desk.settings.text_size_percent / 100
        self._build()
        self._show_set(self._kept.id)
        room = self.screen().availableSize()
        self.resize(min(round(WIDTH_PX * scale), room.width()), min(round(HEIGHT_PX * scale), room.height()))

    def _build(self) -> None:
        down = QVBoxLayout(self)
        down.setContentsMargins(24, 20, 24, 20)
        down.setSpacing(8)
        self.choice = QComboBox()
        self.choice.setAccessibleName(tr("rule set"))
        for name in available():
            self.choice.addItem(said(load(name).title), name)
        self.choice.setEnabled(self._can_write)
        self.choice.setCurrentIndex(self.choice.findData(self._kept.id))
        self.choice.currentIndexChanged.connect(lambda _: self._show_set(self.choice.currentData()))
        self.about = label("")
        self.notes = QVBoxLayout()
        self.notes.setSpacing(4)
        self._sheet = QWidget()
        in_sheet = QVBoxLayout(self._sheet)
        in_sheet.setContentsMargins(0, 4, 12, 4)
        in_sheet.setSpacing(12)
        self._list = QVBoxLayout()
        self._list.setSpacing(12)
        in_sheet.addWidget(self.about)
        in_sheet.addLayout(self.notes)
        in_sheet.addWidget(hairline())
        in_sheet.addLayout(self._list)
        in_sheet.addStretch(1)
        self.sheet_scroll = QScrollArea()
        self.sheet_scroll.setWidgetResizable(True)
        self.sheet_scroll.setFrameShape(QFrame.Shape.NoFrame)
        self.sheet_scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.sheet_scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.sheet_scroll.setWidget(self._sheet)
        self.change = label("", "strong")
        self.wrong = label("", "error")
        self.wrong.hide()
        self.keep_button = button(tr("keep these rules"), self.keep, "primary")
        self.keep_button.setVisible(self._can_write)
        leave = button(tr("leave them as they are") if self._can_write else tr("close"), self.reject, "quiet")
        across = QHBoxLayout()
        across.addStretch(1)
        across.addWidget(leave)
        across.addWidget(self.keep_button)
        down.addWidget(heading(tr("rules of this stand")))
        down.addWidget(self.choice)
        down.addWidget(self.sheet_scroll, 1)
        down.addWidget(hairline())
        down.addWidget(self.change)
        down.addWidget(self.wrong)
        down.addWidget(caution_line(said(LOCAL_RULES)))
        down.addLayout(across)

    def _show_set(self, rule_set_id: str) -> None:
        rules = load(rule_set_id)
        own = self._kept_own if rules.id == self._kept.id else {}
        self.about.setText(said(rules.about))
        clear(self.notes)
        for text in (*rules.notes, *rules.cautions):
            self.notes.addWidget(second(said(text)))
        clear(self._list)
        self.figures = {}
        for figure in rules.figures.values():
            row = FigureRow(rules, figure, own.get(figure.name), can_write=self._can_write, scale=self._scale)
            row.changed.connect(self._typed)
            self.figures[figure.name] = row
            self._list.addWidget(row)
        self._list.addWidget(_read_only(rules))
        self.sheet_scroll.verticalScrollBar().setValue(0)
        self._typed()

    def _typed(self) -> None:
        self._wait.start()

    def wanted(self) -> RuleSet | None:
        """Return the rules as they are typed now, or None after saying what is wrong with them."""
        own = self._own()
        self._say("")
        if own is None:
            self._say(tr("a figure above cannot be kept: what is wrong stands beside it"))
            return None
        try:
            return load(self.choice.currentData(), own)
        except UserError as error:
            self._say(in_plain_words(wording(error)))
            return None

    def keep(self) -> None:
        """Keep the rules as one edit and close."""
        rules, own = self.wanted(), self._own()
        if rules is None or own is None:
            return
        if rules == self._kept:
            self.accept()
            return
        self.keep_button.setEnabled(False)
        now = self._desk.now()
        guard_of(self._desk).once(
            "rules",
            lambda file, _: keep_rules(file, now, rules.id, own),
            tr("keeping the rules"),
            lambda _: self._was_kept(),
            self._refused,
        )

    def _was_kept(self) -> None:
        if self._open:
            self.accept()
        else:
            self._desk.tell(tr("the rules of this stand are kept as they were typed"))

    @property
    def _open(self) -> bool:
        """Whether it is still there: it can be left while its rules are being written."""
        return isValid(self) and self.isVisible()

    def _refused(self, error: Exception) -> None:
        if not self._open:
            self._desk.error(error)
            return
        self.keep_button.setEnabled(True)
        self._say(wording(error))

    def _own(self) -> dict[str, float] | None:
        found: dict[str, float] = {}
        sound = True
        for name, row in self.figures.items():
            value = row.value()
            sound &= row.sound
            if value is not None:
                found[name] = value
        return found if sound else None

    def _look_ahead(self) -> None:
        rules, desk = self.wanted(), self._desk
        self.keep_button.setEnabled(rules is not None)
        self.change.setVisible(rules is not None)
        if rules is None or desk.seen is None:
            return
        before = verdict_counts(desk.codes)
        differs = changed_counts(before, verdict_counts(desk.judged_for(desk.season, rules)))
        told = [tr("{verdict} {before} → {after}", verdict=said(v), before=a, after=b) for v, (a, b) in differs.items()]
        if told:
            self.change.setText(tr("season {year} would change: {counts}", year=desk.season, counts=", ".join(told)))
        else:
            self.change.setText(tr("no verdict of season {year} would change", year=desk.season))

    def _say(self, text: str) -> None:
        self.wrong.setText(text)
        self.wrong.setVisible(bool(text))


def _read_only(rules: RuleSet) -> QWidget:
    """Return what a set also says and no one can set here: holes by diameter, and species."""
    made = QWidget()
    down = QVBoxLayout(made)
    down.setContentsMargins(0, 0, 0, 0)
    down.setSpacing(2)
    for step in rules.hole_steps:
        holes = tr_n("{n} hole a season", "{n} holes a season", step.holes)
        size = (
            tr("from {mm} mm through", mm=f"{step.from_diameter_mm:g}")
            if step.from_diameter_mm
            else tr("at every size")
        )
        down.addWidget(label(tr("{holes}, {size}", holes=holes, size=size)))
        down.addWidget(source_line(said(step.source)))
    down.addWidget(label(tr("species: {names}", names=", ".join(rules.species))))
    down.addWidget(source_line(said(rules.species_source)))
    return made
