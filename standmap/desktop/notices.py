"""What the window says in passing: short sentences at the foot of the map, and the work that is on its way."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QProgressBar, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, label
from standmap.desktop.words import said, tr
from standmap.desktop.working import Work

PASSING_MS = 6000
SHOW_WORK_AFTER_MS = 300
MOST_NOTICES = 4
SIDE_PX = GAP_PX = 16


class Notices(QWidget):
    """Sentences one above the other: what is merely told passes; cautions and errors stay until put away.

    Every sentence has a way to put it away by keyboard, and is announced to a screen reader.
    """

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self._down = QVBoxLayout(self)
        self._down.setContentsMargins(0, 0, 0, 0)
        self._down.setSpacing(8)
        desk.notice.connect(self.show_notice)
        self.hide()

    def show_notice(self, kind: str, text: str) -> None:
        """Show a sentence; the same one is not shown twice at a time."""
        if not text or any(note.text == text for note in self._notes()):
            return
        for old in self._notes()[: -MOST_NOTICES + 1]:
            self._put_away(old)
        note = _Notice(kind, text, self)
        note.away.clicked.connect(lambda: self._put_away(note))
        self._down.addWidget(note)
        if kind == "tell":
            QTimer.singleShot(PASSING_MS, note, lambda: self._put_away(note))
        note.show()  # one that is not shown yet takes no room
        self.show()
        self._fit()
        event = QAccessible.Event.Alert
        QAccessible.updateAccessibility(QAccessibleEvent(note, event))

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return the width in which the longest sentence stands in one line."""
        widest = max((note.one_line_px for note in self._notes()), default=0)
        return QSize(widest, super().sizeHint().height())

    def put_all_away(self) -> None:
        """Clear the map of sentences."""
        for note in self._notes():
            self._put_away(note)

    def _notes(self) -> list[_Notice]:
        items = [self._down.itemAt(i) for i in range(self._down.count())]
        return [w for i in items if i is not None and isinstance(w := i.widget(), _Notice)]

    def _put_away(self, note: _Notice) -> None:
        self._down.removeWidget(note)
        note.hide()
        note.deleteLater()
        if not self._notes():
            self.hide()
        self._fit()

    def _fit(self) -> None:
        self.adjustSize()
        parent = self.parentWidget()
        if parent is not None and parent.layout() is None:
            parent.updateGeometry()
            place = getattr(parent, "place_notices", None)
            if place is not None:
                place()


class _Notice(QFrame):
    def __init__(self, kind: str, text: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.text = text
        self.setObjectName("notice")
        self.setProperty("kind", kind)
        self.setAccessibleName(text)
        across = QHBoxLayout(self)
        across.setContentsMargins(SIDE_PX, 10, SIDE_PX, 10)
        across.setSpacing(GAP_PX)
        self._sentence = QLabel(text)
        self._sentence.setTextFormat(Qt.TextFormat.PlainText)
        self._sentence.setWordWrap(True)
        self._sentence.setMinimumWidth(160)
        across.addWidget(self._sentence, 1)
        self.away = button(tr("put away"))
        across.addWidget(self.away, 0, Qt.AlignmentFlag.AlignTop)

    @property
    def one_line_px(self) -> int:
        """The width that lets no line of the sentence wrap."""
        self._sentence.ensurePolished()
        metrics = self._sentence.fontMetrics()
        text = max(metrics.horizontalAdvance(line) for line in self.text.split("\n"))
        margins = self.contentsMargins().left() + self.contentsMargins().right() + 2 * SIDE_PX
        return text + GAP_PX + self.away.sizeHint().width() + margins + 8


class WorkLine(QFrame):
    """The work on its way, shown once it takes longer than a moment: what, how far, and a way to stop it."""

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk
        self._work: Work[object] | None = None
        self.setObjectName("panel")
        down = QVBoxLayout(self)
        down.setContentsMargins(16, 10, 16, 12)
        self._what = label("", "second", wrap=False)
        self._bar = QProgressBar()
        self._bar.setTextVisible(False)
        self.stop = button(tr("stop"), self._stop, "link")
        across = QHBoxLayout()
        across.addWidget(self._what, 1)
        across.addWidget(self.stop)
        down.addLayout(across)
        down.addWidget(self._bar)
        self.setMinimumWidth(320)
        self._wait = QTimer(self)
        self._wait.setSingleShot(True)
        self._wait.setInterval(SHOW_WORK_AFTER_MS)
        self._wait.timeout.connect(self._show)
        desk.work_changed.connect(self._changed)
        self.hide()

    def _changed(self) -> None:
        work = self._desk.works[0] if self._desk.works else None
        if work is self._work:
            return
        self._work = work
        if work is None:
            self._wait.stop()
            self.hide()
            return
        work.progressed.connect(self._progressed)
        self._what.setText(work.what)
        self._bar.setRange(0, 0)
        self.stop.setEnabled(True)
        if not self.isVisible():
            self._wait.start()

    def _show(self) -> None:
        if self._work is not None:
            self.adjustSize()
            self.show()
            self.raise_()
            place = getattr(self.parentWidget(), "place_notices", None)
            if place is not None:
                place()

    def _progressed(self, done: float, total: float, what: str) -> None:
        if self._work is None:
            return
        self._bar.setRange(0, 1000 if total > 0 else 0)
        if total > 0:
            self._bar.setValue(round(1000 * min(done / total, 1.0)))
        self._what.setText(f"{self._work.what} · {said(what)}" if what else self._work.what)

    def _stop(self) -> None:
        if self._work is not None:
            self.stop.setEnabled(False)
            self._what.setText(tr("stopping..."))
            self._work.cancel()
