"""The verdicts with their counts: buttons that keep only some of the trees in sight."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen, QPixmap
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.pages.choose.rows import LISTED
from standmap.desktop.theme import FADED
from standmap.desktop.words import said, tr, tr_n
from standmap.rules.judgement import Verdict

ROW_PX = 27
DIAL_PX = 20
SIDE_PX = 8
"""How far the shade of a pressed row goes beyond the line on which all texts stand."""

Dial = Callable[[Verdict, int], QPixmap]
"""Draws the dial of a verdict, so many logical pixels wide."""


class VerdictRow(QPushButton):
    """One verdict: its dial, its name and how many trees have it; pressed, its trees are among those shown.

    Attributes
    ----------
    quiet
        Whether other verdicts are asked for and this one is not: it is drawn faint, as its trees are on the map.
    """

    def __init__(self, desk: Desk, verdict: Verdict, dial: Dial) -> None:
        super().__init__()
        self._desk = desk
        self._dial = dial
        self.verdict = verdict
        self.count = 0
        self.quiet = False
        self.setCheckable(True)
        self.setAutoDefault(False)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        # It draws itself whole: the sheet's button would take the room of the count.
        self.setStyleSheet("QPushButton { border: none; padding: 0; min-height: 0; background: transparent; }")

    def tell(self, count: int, *, quiet: bool) -> None:
        """Put in how many trees have the verdict and whether they are out of sight."""
        self.count, self.quiet = count, quiet
        shown = tr("not shown") if quiet else tr("shown")
        trees = tr_n("{n} tree", "{n} trees", count)
        self.setAccessibleName(
            tr("{verdict}, {trees}, {shown}", verdict=said(str(self.verdict)), trees=trees, shown=shown)
        )
        self.setToolTip(tr("show only these trees; press others to add them"))
        self.update()

    @property
    def _scale(self) -> float:
        return self._desk.settings.text_size_percent / 100

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return the height of a row."""
        return QSize(120, round(ROW_PX * self._scale))

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return the same: a row is never squeezed."""
        return self.sizeHint()

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the row."""
        theme, scale = self._desk.theme, self._scale
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        whole = QRectF(self.rect()).adjusted(1, 0.5, -1, -0.5)
        if self.isChecked() or self.underMouse() or self.hasFocus():
            edge = QPen(QColor(theme.accent), 2 if self.hasFocus() else 1)
            drawn = self.hasFocus() or self.isChecked()
            painter.setPen(edge if drawn else Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.chosen if self.isChecked() else theme.panel))
            if self.underMouse() and not self.isChecked():
                painter.setBrush(QColor(theme.ground))
            painter.drawRoundedRect(whole, 6, 6)
        side, dial = SIDE_PX, round(DIAL_PX * scale)
        if self.isChecked() and theme.plates:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.panel))
            painter.drawEllipse(QRectF(side, (self.height() - dial) / 2, dial, dial).adjusted(-1, -1, 1, 1))
        painter.setOpacity(FADED if self.quiet else 1.0)
        picture = self._dial(self.verdict, dial)
        painter.drawPixmap(side, round((self.height() - dial) / 2), picture)
        painter.setOpacity(1.0)
        shown = theme.on_chosen if self.isChecked() else theme.ink
        painter.setPen(QColor(theme.second_ink if self.quiet else shown))
        text = whole.adjusted(side + dial + 11 * scale, 0, -side, 0)
        painter.setFont(self._font(bold=False))
        painter.drawText(text, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, said(str(self.verdict)))
        painter.setFont(self._font(bold=not self.quiet))
        painter.drawText(text, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, str(self.count))

    def _font(self, *, bold: bool) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(round(13 * self._scale))
        font.setWeight(QFont.Weight.DemiBold if bold else QFont.Weight.Normal)
        return font


class VerdictRows(QWidget):
    """All verdicts; with none pressed every tree is shown, with some pressed only theirs."""

    changed = Signal()

    def __init__(self, desk: Desk, dial: Dial) -> None:
        super().__init__()
        self.rows = {verdict: VerdictRow(desk, verdict, dial) for verdict in LISTED}
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(0)
        for row in self.rows.values():
            down.addWidget(row)
            row.toggled.connect(lambda _: self._pressed())
        self._counts: Mapping[Verdict, int] = dict.fromkeys(LISTED, 0)
        self._still = False
        self._tell()

    @property
    def wanted(self) -> frozenset[Verdict]:
        """The verdicts whose trees are shown."""
        pressed = self._asked()
        return pressed or frozenset(self.rows)

    @property
    def all_shown(self) -> bool:
        """Whether nothing is kept back."""
        return not self._asked()

    def show_counts(self, counts: Mapping[Verdict, int]) -> None:
        """Put in how many trees have each verdict."""
        self._counts = counts
        self._tell()

    def look_changed(self) -> None:
        """Take on another size of text or other colours."""
        for row in self.rows.values():
            row.updateGeometry()
            row.update()

    def show_only(self, *verdicts: Verdict) -> None:
        """Show the trees of these verdicts; of none given, all trees."""
        self._still = True
        for verdict, row in self.rows.items():
            row.setChecked(verdict in verdicts)
        self._still = False
        self._pressed()

    def _asked(self) -> frozenset[Verdict]:
        return frozenset(v for v, row in self.rows.items() if row.isChecked())

    def _pressed(self) -> None:
        if not self._still:
            self._tell()
            self.changed.emit()

    def _tell(self) -> None:
        wanted = self.wanted
        for verdict, row in self.rows.items():
            row.tell(self._counts.get(verdict, 0), quiet=verdict not in wanted)
