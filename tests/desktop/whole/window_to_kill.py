"""A window in a process of its own, at work until it is killed; it prints what was confirmed as soon as that is told.

Arguments: the stand, and what it does ("import", "solve" or "drag").
"""

from __future__ import annotations

import sys
from pathlib import Path

from PySide6.QtCore import QPointF, Qt, QTimer
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.start import Shell, application
from standmap.jobs.mark import mark_trees
from standmap.settings import Settings

BROUGHT = 400
"""Trees of one file."""


def told(text: str) -> None:
    print(text, flush=True)  # noqa: T201 - the parent listens


class AtWork:
    """Marks tree after tree, each told once it is confirmed, beside the work that is asked for."""

    def __init__(self, path: Path, what: str) -> None:
        self.shell = Shell(application(), Settings(motion="less"), keep=False)
        self.desk, self.window = self.shell.desk, self.shell.window
        self.path, self.what = path, what
        self.number = 0  # of what is brought or marked next
        self.shell.show()
        self.desk.stand_opened.connect(lambda _: QTimer.singleShot(0, self.begin))
        self.desk.open_stand(path)

    def begin(self) -> None:
        told("open" if not self.desk.read_only else "read only")
        seen = self.desk.seen
        assert seen is not None
        self.number = len(seen.plans) or sum(t.name.startswith("N") for t in seen.trees) // BROUGHT
        if self.what == "import":
            self.bring()
        elif self.what == "solve":
            self.mark()
            self.solve()
        else:
            self.mark()
            self.drag()

    def mark(self) -> None:
        """Mark the next tree for the next season, and tell its name when that is confirmed."""
        seen = self.desk.seen
        assert seen is not None
        tree = seen.trees[self.number % len(seen.trees)]
        season = 2027 + self.number // len(seen.trees)
        self.number += 1
        now = self.desk.now()

        def confirmed(_: object) -> None:
            told(f"marked {tree.name} {season}")
            self.mark()

        self.desk.run(lambda file, watch: mark_trees(file, [tree.key], season, now, messages=watch), "", confirmed)

    def bring(self) -> None:
        """Bring a long list in and store it; once more when that is confirmed."""
        self.number += 1
        path = self.path.with_name(f"more{self.number}.csv")
        rows = [
            f"N{self.number}-{i},{26.05 + i / 1e6:.6f},{58.317 + self.number / 1e4:.6f},800" for i in range(BROUGHT)
        ]
        path.write_text("name,lon,lat,girth_mm\n" + "\n".join(rows) + "\n")
        page = self.window.pages["survey"]
        assert isinstance(page, SurveyPage)
        self.window.show_page("survey")
        before = self.desk.seen
        page.bring_files([path])

        def look() -> None:
            if page.bringing.sheet.isVisible() and self.desk.seen is before:
                if page.bringing.sheet.store.isEnabled():
                    page.bringing.store()
            elif self.desk.seen is not before:
                looking.stop()
                told(f"stored {self.number}")
                self.bring()

        looking = QTimer(self.desk)
        looking.timeout.connect(look)
        looking.start(5)
        told("importing")

    def solve(self) -> None:
        """Search for walk after walk."""
        self.window.show_page("collect")
        page = self.window.pages["collect"]
        assert isinstance(page, CollectPage)
        page.planning.changed.connect(lambda: QTimer.singleShot(0, page.plan))
        page.plan()
        told("solving")

    def drag(self) -> None:
        """Drag the map hither and thither."""
        canvas = self.window.canvas
        QTest.mousePress(canvas, Qt.MouseButton.LeftButton, pos=canvas.rect().center())
        step = 0

        def move() -> None:
            nonlocal step
            step += 1
            at = QPointF(canvas.rect().center()) + QPointF(40 * (step % 9), 25 * (step % 7))
            there = QPointF(canvas.mapToGlobal(at.toPoint()))
            left, none = Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton
            moved = QMouseEvent(QMouseEvent.Type.MouseMove, at, there, none, left, Qt.KeyboardModifier.NoModifier)
            QApplication.sendEvent(canvas, moved)

        moving = QTimer(self.desk)
        moving.timeout.connect(move)
        moving.start(8)
        told("dragging")


if __name__ == "__main__":
    work = AtWork(Path(sys.argv[1]), sys.argv[2])
    application().exec()
