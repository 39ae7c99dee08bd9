"""The survey page with a map beside it, for tests that click and type; and the rows of a stand to compare."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.actions import Actions
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.map_area import MapArea
from standmap.desktop.map_content import MapContent
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.theme import LIGHT, Theme, style_sheet
from standmap.jobs.positions import xy
from standmap.settings import Settings
from standmap.stand.tree import LonLat
from standmap.stand.walks import Stop, Walk
from standmap.store.stand_file import StandFile


class Bench(QWidget):
    """Map, panel and keys of the survey page, without the other pages."""

    def __init__(self, theme: Theme = LIGHT, settings: Settings | None = None) -> None:
        super().__init__()
        self.setObjectName("window")
        self.desk = Desk(settings or Settings(), theme)
        scale = self.desk.settings.text_size_percent / 100
        self.setStyleSheet(style_sheet(theme, scale))
        self.canvas = MapCanvas(theme)
        self.content = MapContent(self.desk, self.canvas)
        self.page = SurveyPage(self.desk, self.canvas)
        self.card = QWidget()
        self.area = MapArea(self.desk, self.canvas, self.card, scale)
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.addWidget(self.area)
        self.acts = Actions(self, lambda _: None, lambda: "survey")
        self.acts.add(self.page.actions())
        self.notices: list[str] = []
        self.desk.notice.connect(lambda _, text: self.notices.append(text))
        self.resize(1280, 800)
        self.show()
        self.area.show_panel(self.page.panel)
        self.page.shown = True
        self.page.entered()

    def open(self, qtbot: QtBot, path: Path) -> None:
        """Open a stand and wait until it is read."""
        self.desk.open_stand(path)
        qtbot.waitUntil(lambda: self.desk.seen is not None, timeout=15_000)
        self.page.entered()
        self.activateWindow()
        QTest.qWaitForWindowActive(self)

    def idle(self, qtbot: QtBot) -> None:
        """Wait until nothing is under way."""
        qtbot.waitUntil(lambda: not self.desk.busy, timeout=30_000)
        QApplication.processEvents()

    def px(self, at: LonLat) -> QPoint:
        """Return where on the map a position is."""
        frame = self.canvas.frame
        review = self.page.bringing.review
        frame = frame or (review.frame if review is not None else None)
        assert frame is not None
        x, y = self.canvas.camera.to_screen(xy(frame, [at]))[0].tolist()
        return QPoint(round(x), round(y))

    def click(self, qtbot: QtBot, at: QPoint) -> None:
        """Click on the map."""
        qtbot.mouseMove(self.canvas, at)
        qtbot.mouseClick(self.canvas, Qt.MouseButton.LeftButton, pos=at)

    def drag(self, start: QPoint, end: QPoint) -> None:
        """Drag on the map with the left button."""
        left, none = Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton
        QTest.mousePress(self.canvas, left, pos=start)
        for part in np.linspace(0, 1, 5)[1:]:
            at = QPointF(start) + (QPointF(end) - QPointF(start)) * float(part)
            there = QPointF(self.canvas.mapToGlobal(at.toPoint()))
            event = QMouseEvent(QMouseEvent.Type.MouseMove, at, there, none, left, Qt.KeyboardModifier.NoModifier)
            QApplication.sendEvent(self.canvas, event)
        QTest.mouseRelease(self.canvas, left, pos=end)

    def settled(self, qtbot: QtBot) -> None:
        """Wait until the map has come to rest."""
        before = None
        while before != self.canvas.camera:
            before = self.canvas.camera
            qtbot.wait(150)


def bare(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Return every row of a stand with names in place of keys, so that two stands can be compared row by row."""
    with StandFile.open(path, read_only=True) as file:
        stand = file.stand()
        named = {t.key: t.name for t in stand.trees}
        walks = {w.key: w.name for w in file.rows(Walk)}
        row: Callable[..., tuple[object, ...]] = lambda *parts: parts  # noqa: E731 - one word for many tuples
        return {
            "trees": [
                row(t.name, t.at, t.species, t.proposed, t.pinned, t.soundness, t.rootstock, t.note)
                + row(t.var_e_m2, t.var_n_m2, t.cov_en_m2, walks.get(t.walk_key or ""))
                for t in stand.trees
            ],
            "measurements": [
                row(named[m.tree_key], m.girth_mm, m.diameter_mm, m.given, m.given_unit, m.measured_on, m.note)
                for m in stand.measurements
            ],
            "stops": [
                row(walks[s.walk_key], named.get(s.tree_key or ""), s.at, s.from_at, s.to_at, s.fix_count, s.state)
                for s in file.rows(Stop)
            ],
            "walks": [row(w.name, w.note, w.fixes.lon.tolist(), w.fixes.time_s.tolist()) for w in file.rows(Walk)],
            "places": [row(p.name, p.kind, p.at, p.note) for p in stand.places],
            "lines": [row(line.name, line.kind, line.course, line.note) for line in stand.lines],
            "areas": [
                row(a.name, a.kind, a.outline, a.owner, a.from_date, a.until_date, a.most_trees, a.note)
                for a in stand.areas
            ],
            "settings": [row(name, repr(value)) for name, value in sorted(stand.settings.items())],
        }
