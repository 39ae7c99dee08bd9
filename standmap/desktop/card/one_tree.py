"""What the card shows of one tree: verdict and reasons, measures, the stem, the seasons."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from standmap.desktop.card.dial import Dial
from standmap.desktop.card.stem_disc import StemDisc
from standmap.desktop.card.stem_unrolled import StemUnrolled
from standmap.desktop.card.stem_view import stem_view
from standmap.desktop.card.unrolled_view import unrolled_view
from standmap.desktop.card.wording import (
    about,
    fact_lines,
    hole_line,
    left_line,
    place_line,
    rule_line,
    season_line,
    zone_line,
)
from standmap.desktop.kit import button, caution_line, clear, fact_row, hairline, label, second, source_line
from standmap.desktop.theme import Theme
from standmap.desktop.words import said, tr
from standmap.jobs.readiness import Answer
from standmap.jobs.tree_facts import TreeFacts
from standmap.rules.judgement import Reason, Verdict
from standmap.stand.tree import Tree
from standmap.stem.column import RATIO_TOLD
from standmap.stem.zone import ZONE_TOLD
from standmap.units_shown import UnitsShown

LONG_NAME = 28
"""A longer name is written smaller: it would push the verdict out of sight."""


class Head(QWidget):
    """Name, species, tag, and the verdict beside its dial."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self.name = label("", "name")
        self.about = second("")
        self.dial = Dial(theme)
        self.verdict = label("", "heading")
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(1, 1)
        grid.addWidget(self.name, 0, 0, 1, 2)
        grid.addWidget(self.about, 1, 0, 1, 2)
        grid.setRowMinimumHeight(2, 6)
        grid.addWidget(self.dial, 3, 0, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(self.verdict, 3, 1, Qt.AlignmentFlag.AlignVCenter)

    def tell(self, tree: Tree, verdict: Verdict, sentence: str, rest: float, theme: Theme) -> None:
        """Show a tree."""
        self.name.setText(breakable(tree.name))
        self.name.setProperty("role", "name" if len(tree.name) <= LONG_NAME else "heading")
        self.name.style().polish(self.name)
        self.about.setText(about(tree))
        self.verdict.setText(said(sentence))
        self.dial.tell(verdict, rest, theme)
        self.setAccessibleName(f"{tree.name}, {said(sentence)}")


class Reasons(QWidget):
    """Every reason in two lines, cautions, and, folded away, what would make the tree ready."""

    def __init__(self) -> None:
        super().__init__()
        self._down = QVBoxLayout(self)
        self._down.setContentsMargins(0, 0, 0, 0)
        self._down.setSpacing(10)
        self._reasons, self._cautions, self._answers = _column(10), _column(6), _column(10)
        self.unfolded = False
        self.fold = button("", self._turn, "link")
        self._down.addWidget(self._reasons)
        self._down.addWidget(self._cautions)
        self._down.addWidget(self.fold, 0, Qt.AlignmentFlag.AlignLeft)
        self._down.addWidget(self._answers)
        self._tell_fold()

    def tell(self, facts: TreeFacts, units: UnitsShown) -> None:
        """Show what speaks for and against a tree."""
        shown = units.in_sentence
        _fill(self._reasons, [_two_lines(shown(said(r.text)), rule_line(r)) for r in facts.reasons])
        _fill(self._cautions, [caution_line(shown(said(text))) for text in facts.cautions])
        _fill(self._answers, [_answer(a, units) for a in facts.answers])
        self._cautions.setVisible(bool(facts.cautions))
        self.fold.setVisible(bool(facts.answers))
        self._answers.setVisible(self.unfolded and bool(facts.answers))

    def clear(self) -> None:
        """Show nothing while another tree is being judged."""
        for part in (self._reasons, self._cautions, self._answers):
            _fill(part, [])
        self.fold.hide()

    def _turn(self) -> None:
        self.unfolded = not self.unfolded
        self._tell_fold()

    def _tell_fold(self) -> None:
        question = tr("what would make this tree ready?")
        self.fold.setText(f"{'▾' if self.unfolded else '▸'}  {question}")
        self.fold.setAccessibleName(question)
        self.fold.setAccessibleDescription(tr("unfolded below") if self.unfolded else tr("folded"))
        self._answers.setVisible(self.unfolded)


class Record(QWidget):
    """Measures, the stem disc, and a line for each season."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        self._facts = _column(2)
        self.caption = second("")
        self.disc = StemDisc(theme)
        self.sheet = second(
            tr("stem unrolled; grey: wood that old holes left without sap, dotted where new wood has buried it")
        )
        self.unrolled = StemUnrolled(theme)
        self.place = second("")
        self.place_source = source_line(f"{said(RATIO_TOLD)}; {said(ZONE_TOLD)}")
        self.zone = second("")
        self.closing_source = source_line("")
        self._loose = _column(2)
        self._seasons = _column(4)
        self._stem_line, self._season_line = hairline(), hairline()
        stem = (
            self._stem_line,
            self.caption,
            self.disc,
            self._loose,
            self.sheet,
            self.unrolled,
            self.place,
            self.zone,
            self.place_source,
        )
        for part in (hairline(), self._facts, *stem, self._season_line, self._seasons, self.closing_source):
            down.addWidget(part)

    def tell(self, facts: TreeFacts, units: UnitsShown, this_season: int, theme: Theme) -> None:
        """Show a tree's record."""
        _fill(self._facts, [fact_row(name, value) for name, value in fact_lines(facts, units)])
        girth = facts.measurement.girth() if facts.measurement is not None else None
        seen_from_above = stem_view(girth, facts.holes, facts.stem, facts.place)
        left = facts.stem.by_key()
        lines = {h.key: left_line(h, left.get(h.key), units, this_season) for h in facts.holes}
        self.disc.show_stem(seen_from_above, facts.holes, lines, theme)
        view = self.disc.view
        self.caption.setText(
            tr("stem seen from above") if view.measured else tr("stem seen from above, girth not known")
        )
        for part in (self._stem_line, self.caption, self.disc):
            part.setVisible(bool(view.marks))
        loose = [source_line(hole_line(hole, units, this_season)) for hole in view.loose]
        _fill(self._loose, loose)
        self._loose.setVisible(bool(loose))
        told = place_line(facts.place, units)
        unrolled = unrolled_view(girth, facts.holes, facts.place, facts.stem)
        self.unrolled.show_stem(unrolled, told, lines, units, theme)
        self.sheet.setVisible(self.unrolled.view is not None)
        self.place.setText(told)
        self.zone.setText(zone_line(facts.stem, units))
        self.closing_source.setText(said(facts.closing_rests_on))
        self.closing_source.setVisible(any(row.closing for row in facts.seasons))
        for part, shown in ((self.place, told), (self.zone, self.zone.text()), (self.place_source, told or left)):
            part.setVisible(bool(shown))
        rows = [_season(str(row.season), season_line(row, units, this_season)) for row in facts.seasons]
        _fill(self._seasons, rows or [second(tr("no hole on record"))])


def breakable(name: str) -> str:
    """Return a name that may be broken anywhere: a long one without spaces wraps and is not cut."""
    longest = max((len(word) for word in name.split()), default=0)
    return name if longest <= 12 else "\u200b".join(name[i : i + 8] for i in range(0, len(name), 8))


def _column(spacing: int) -> QWidget:
    column = QWidget()
    down = QVBoxLayout(column)
    down.setContentsMargins(0, 0, 0, 0)
    down.setSpacing(spacing)
    return column


def _fill(column: QWidget, widgets: Sequence[QWidget]) -> None:
    down = column.layout()
    assert isinstance(down, QVBoxLayout)  # noqa: S101 - made so by _column
    clear(down)
    for widget in widgets:
        down.addWidget(widget)


def _two_lines(text: str, source: str) -> QWidget:
    pair = _column(0)
    _fill(pair, [label(text), source_line(source)])
    pair.setAccessibleName(f"{text}; {source}")
    return pair


def _answer(answer: Answer, units: UnitsShown) -> QWidget:
    reason = Reason(answer.rule, answer.text, answer.source, against=True)
    return _two_lines(units.in_sentence(said(answer.text)), tr("answers: {rule}", rule=rule_line(reason)))


def _season(season: str, line: str) -> QWidget:
    row = QWidget()
    grid = QGridLayout(row)
    grid.setContentsMargins(0, 0, 0, 0)
    grid.setHorizontalSpacing(12)
    grid.setColumnStretch(1, 1)
    grid.addWidget(label(season, wrap=False), 0, 0, Qt.AlignmentFlag.AlignTop)
    grid.addWidget(label(line), 0, 1)
    row.setAccessibleName(f"{season}: {line}")
    return row
