"""The start: the stand opened last, those before it, a place to drop one, a new one, and two invented woods."""

from __future__ import annotations

from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import (
    QDragEnterEvent,
    QDragLeaveEvent,
    QDropEvent,
    QHideEvent,
    QPainter,
    QPaintEvent,
    QPixmap,
    QResizeEvent,
    QShowEvent,
)
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import button, clear, heading, label, second
from standmap.desktop.pages.start.drop_place import DropPlace
from standmap.desktop.pages.start.rings import paint_rings
from standmap.desktop.pages.start.stand_rows import LastStand, RecentRow, set_role, told_row
from standmap.desktop.stand_actions import make_new, open_chosen
from standmap.desktop.theme import Theme
from standmap.desktop.words import said, tr
from standmap.jobs.preferences import read_lately, write_lately
from standmap.jobs.recent_stands import KnownStand, look_at
from standmap.jobs.sample_wood import SAMPLES, make_sample, sample_path

if TYPE_CHECKING:
    from standmap.desktop.window import Window

STANDS = (".gpkg",)
COLUMN_PX, LEAST_COLUMN_PX, GAP_PX, EDGE_PX, TOP_PX = 400, 300, 64, 48, 80


class StartPage(QWidget):
    """What there is to begin with; it looks anew at what was open lately whenever it is shown.

    Attributes
    ----------
    recent
        The rows of stands, the one opened last first.
    samples
        The buttons of the invented woods, by name.
    """

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._scale = desk.settings.text_size_percent / 100
        self.recent: list[LastStand | RecentRow] = []
        self._rings: QPixmap | None = None
        self._rings_of: tuple[QSize, float, Theme] | None = None
        self.setAcceptDrops(True)
        self.setAccessibleName(tr("start"))
        self._build()
        desk.settings_changed.connect(self.update)

    def _build(self) -> None:
        self._lately = QVBoxLayout()
        self._lately.setSpacing(4)
        left = QVBoxLayout()
        left.setSpacing(4)
        left.addLayout(self._lately)
        left.addStretch(1)

        right = QVBoxLayout()
        right.setSpacing(8)
        self.new_button = button(tr("make a new stand..."), lambda: make_new(self._window()), "primary")
        self.open_button = button(tr("choose one..."), lambda: open_chosen(self._window()), "link")
        self.drop_place = DropPlace(self._desk, self.open_button)
        right.addWidget(self.drop_place)
        right.addSpacing(8)
        right.addWidget(self.new_button, 0, Qt.AlignmentFlag.AlignLeft)
        right.addWidget(second(tr("an empty stand asks for a GPS walk, a list of trees, or a tree set by hand")))
        right.addSpacing(20)
        right.addWidget(heading(tr("try an invented wood")))
        self.samples = {}
        for wood in SAMPLES:
            name = wood.name.replace("-", " ")
            made = button(tr("try it"), partial(self._try, wood.name), "link")
            made.setAccessibleName(tr("try {name}", name=name))
            self.samples[wood.name] = made
            right.addWidget(told_row(name, said(wood.about), made))
        self.told = label("", "second")
        self.wrong = label("", "error")
        right.addWidget(self.told)
        right.addWidget(self.wrong)
        right.addStretch(1)

        sheet = QWidget()
        across = QHBoxLayout(sheet)
        across.setContentsMargins(EDGE_PX, TOP_PX, EDGE_PX, EDGE_PX)
        self._columns = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._columns.setSpacing(GAP_PX)
        for column in (left, right):
            holder = QWidget()
            holder.setLayout(column)
            column.setContentsMargins(0, 0, 0, 0)
            holder.setMaximumWidth(round(COLUMN_PX * self._scale))
            self._columns.addWidget(holder, 1)
        across.addStretch(1)
        across.addLayout(self._columns, 1000)
        across.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(sheet)
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.addWidget(scroll)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Put the two columns one below the other where there is no room for both."""
        super().resizeEvent(event)
        room = self.width() - 2 * EDGE_PX - GAP_PX
        side_by_side = room >= 2 * round(LEAST_COLUMN_PX * self._scale)
        direction = QBoxLayout.Direction.LeftToRight if side_by_side else QBoxLayout.Direction.TopToBottom
        self._columns.setDirection(direction)
        self._columns.setSpacing(GAP_PX if side_by_side else GAP_PX // 2)

    def _window(self) -> Window:
        return cast("Window", self.window())

    # What was open lately

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802 - Qt's name
        """Look at what was open lately; a slow drive is waited for elsewhere."""
        super().showEvent(event)
        self._say("", "")
        paths = read_lately().recent
        self._desk.compute(lambda _: look_at(paths), "", self._show)

    def hideEvent(self, event: QHideEvent) -> None:  # noqa: N802 - Qt's name
        """Forget what was said."""
        super().hideEvent(event)
        self._say("", "")

    def _show(self, known: tuple[KnownStand, ...]) -> None:
        clear(self._lately)
        self.recent = []
        set_role(self.new_button, "quiet" if known else "primary")
        if not known:
            self._show_what_is_first()
            return
        first, *others = known
        self._add(LastStand(first))
        if others:
            self._lately.addSpacing(28)
            self._lately.addWidget(heading(tr("before that")))
            self._lately.addSpacing(4)
        for stand in others:
            self._add(RecentRow(stand))
        stops = [*(row.go for row in self.recent), self.open_button, self.new_button, *self.samples.values()]
        for before, after in pairwise(stops):
            QWidget.setTabOrder(before, after)
        self.recent[0].setFocus()

    def _show_what_is_first(self) -> None:
        self._lately.addWidget(label(tr("no stand yet"), "name"))
        self._lately.addWidget(second(tr("a stand is one file that holds a wood and all its years")))
        self._lately.addSpacing(20)
        for name, about in (
            (tr("first the file"), tr("make a new stand, or try an invented wood")),
            (tr("then its trees"), tr("bring a GPS walk or a list in, or set them on the map one by one")),
            (tr("then the year"), tr("choose who may give, collect in one short walk, close each wound")),
        ):
            self._lately.addWidget(label(name, "strong"))
            self._lately.addWidget(second(about))
            self._lately.addSpacing(10)
        self.new_button.setFocus()

    def _add(self, row: LastStand | RecentRow) -> None:
        row.wanted.connect(self._desk.open_stand)
        row.unwanted.connect(self._forget)
        self.recent.append(row)
        self._lately.addWidget(row)
        row.show()  # at once, for what is hidden cannot take the focus

    def _forget(self, path: Path) -> None:
        write_lately(read_lately().forgotten(path))
        self._show(tuple(row.stand for row in self.recent if row.stand.path != path))

    # Invented woods

    def _try(self, name: str) -> None:
        path = sample_path(name)
        if path.exists():
            self._desk.open_stand(path)
            return
        now = self._desk.now()
        self._enable(False)
        self._say(tr("building {name}...", name=name.replace("-", " ")), "")
        work = self._desk.compute(
            lambda watch: make_sample(name, path, now, progress=watch),
            tr("building an invented wood"),
            lambda _: self._built(path),
            self._not_built,
        )
        work.ended.connect(lambda: self._enable(True))

    def _built(self, path: Path) -> None:
        self._say("", "")
        self._enable(True)  # opening a stand lets all other work go, and what it would still have told
        self._desk.open_stand(path)

    def _not_built(self, error: Exception) -> None:
        self._say("", wording(error))

    def _enable(self, on: bool) -> None:
        for made in self.samples.values():
            made.setEnabled(on)

    def _say(self, told: str, wrong: str) -> None:
        self.told.setText(told)
        self.told.setVisible(bool(told))
        self.wrong.setText(wrong)
        self.wrong.setVisible(bool(wrong))

    # Dropping and drawing

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802 - Qt's name
        """Take files, and show where."""
        if event.mimeData().hasUrls():
            self.drop_place.light(True)
            event.acceptProposedAction()

    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:  # noqa: N802 - Qt's name
        """Show that nothing is held over it any more."""
        self.drop_place.light(False)
        super().dragLeaveEvent(event)

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802 - Qt's name
        """Open a stand; other files have to wait for one."""
        self.drop_place.light(False)
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        stands = [path for path in paths if path.suffix.lower() in STANDS]
        event.acceptProposedAction()
        if stands:
            self._desk.open_stand(stands[0])
        elif paths:
            self._say("", tr("open or make a stand first: files are brought into it"))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the ground with the rings of a stem, cut across."""
        del event
        dpr = self.devicePixelRatioF()
        asked = (self.size(), dpr, self._desk.theme)
        if self._rings is None or self._rings_of != asked:
            # Drawn once: what lies over it makes it be painted again and again.
            self._rings_of, self._rings = asked, QPixmap(self.size() * dpr)
            self._rings.setDevicePixelRatio(dpr)
            with QPainter(self._rings) as drawing:
                paint_rings(drawing, self.rect(), self._desk.theme)
        with QPainter(self) as painter:
            painter.drawPixmap(0, 0, self._rings)
