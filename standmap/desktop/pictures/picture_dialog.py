"""Asking how the map is to be drawn to a file: paper, scale, what is on it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QDialog, QFileDialog, QGridLayout, QVBoxLayout, QWidget

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.card.forms import Choice
from standmap.desktop.desk import Desk, wording
from standmap.desktop.guard import while_there
from standmap.desktop.kit import Field, button, heading, label, second, side_by_side
from standmap.desktop.measuring.fitting import fit_height
from standmap.desktop.pictures.files import DPI, LEAST_DPI, MOST_DPI, checked_suffix
from standmap.desktop.pictures.making import Picture, PictureOptions, make_picture, planned_sheet
from standmap.desktop.pictures.sheet import NEEDED, PAPERS, Box, scale_of
from standmap.desktop.seen import Seen
from standmap.desktop.words import tr, tr_n
from standmap.desktop.working import Watch, Work
from standmap.errors import UserError
from standmap.jobs.writing_files import write_files

WIDTH_PX = 440


class PictureDialog(QDialog):
    """Draws the map as it is shown, for the season that is shown, to a PDF, SVG or PNG file.

    Attributes
    ----------
    outcome
        What the sheet will be, in words.
    wrong
        What could not be done, and what to do.
    """

    def __init__(self, desk: Desk, canvas: MapCanvas, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        assert desk.seen is not None  # noqa: S101 - asked for only while a stand is open
        self._desk = desk
        self._canvas = canvas
        self._seen: Seen = desk.seen
        self._work: Work[Picture | None] | None = None
        self.setWindowTitle(tr("picture of the map"))
        self.title: Field[str] = Field(tr("title"), str.strip, text=self._seen.path.stem)
        self.paper = Choice(tr("paper"), [*((name, name) for name in PAPERS), (tr("as large as needed"), NEEDED)])
        self.way = Choice(
            tr("which way it lies"), [(tr("as suits"), None), (tr("upright"), False), (tr("landscape"), True)]
        )
        self.scale: Field[float | None] = Field(
            tr("scale"), lambda text: scale_of(text) if text.strip() else None, hint=tr("the largest that fits")
        )
        self.extent = Choice(tr("what is on it"), [(tr("the whole stand"), False), (tr("what is in sight"), True)])
        self.dpi: Field[int] = Field(tr("dots an inch, for PNG"), _dots, text=str(DPI))
        self.outcome = second("")
        self.wrong = label("", "error")
        self.wrong.hide()
        self.save_button = button(tr("save as..."), self._choose, "primary")
        self.stop_button = button(tr("stop"), self._stop, "quiet")
        self.stop_button.hide()
        self.close_button = button(tr("close"), self.reject, "quiet")
        self._lay_out()
        for field in (self.scale, self.dpi):
            field.changed.connect(self._foresee)
        for choice in (self.paper, self.way, self.extent):
            choice.changed.connect(self._foresee)
        self.finished.connect(self._end)
        self._foresee()

    def _lay_out(self) -> None:
        down = QVBoxLayout(self)
        down.setContentsMargins(24, 20, 24, 20)
        down.setSpacing(12)
        down.addWidget(heading(tr("picture of the map")))
        down.addWidget(self.title)
        grid = QGridLayout()
        grid.setHorizontalSpacing(16)
        grid.setVerticalSpacing(12)
        cells = (self.paper, self.way, self.scale, self.extent, self.dpi)
        for number, cell in enumerate(cells):
            grid.addWidget(cell, number // 2, number % 2, Qt.AlignmentFlag.AlignTop)
        grid.setColumnStretch(0, 1)
        grid.setColumnStretch(1, 1)
        down.addLayout(grid)
        down.addWidget(self.outcome)
        down.addWidget(self.wrong)
        down.addWidget(side_by_side(self.save_button, self.stop_button, self.close_button))
        scale = self._desk.settings.text_size_percent / 100
        self._wide = min(round(WIDTH_PX * scale), self.screen().availableSize().width())

    def options(self) -> PictureOptions | None:
        """Return what was chosen; None after saying beside a field what is wrong with it."""
        good = all([self.scale.check(), self.dpi.check()])
        dpi = self.dpi.value()
        if not good or dpi is None:
            return None
        return PictureOptions(
            scale=self.scale.value(),
            paper=self.paper.value(),
            landscape=self.way.value(),
            dpi=dpi,
            title=self.title.text().strip(),
            extent=self._in_sight() if self.extent.value() else None,
        )

    def _in_sight(self) -> Box:
        """Return the middle of what is in sight, as far as nothing floats over it, metres."""
        left, top, right, bottom = self._canvas.margins
        camera = self._canvas.camera
        corners = [
            camera.point_to_world(x, y) for x in (left, camera.width - right) for y in (top, camera.height - bottom)
        ]
        xs, ys = zip(*corners, strict=True)
        return min(xs), min(ys), max(xs), max(ys)

    def _foresee(self) -> None:
        """Say what the sheet will be."""
        self._reckon()
        fit_height(self, self._wide)

    def _reckon(self) -> None:
        self._say("")
        options = self.options()
        if options is None:
            self.outcome.setText("")
            return
        try:
            sheet = planned_sheet(self._seen, self._canvas.scene, options)
        except UserError as error:
            self.outcome.setText("")
            self._say(wording(error))
            return
        size = tr("{width} by {height} mm", width=f"{sheet.width_mm:.0f}", height=f"{sheet.height_mm:.0f}")
        outside = sheet.outside(self._seen.xy)
        if outside:
            fits = tr_n("one tree is not on it", "{n} trees are not on it", outside)
        else:
            fits = tr("every tree is on it")
        self.outcome.setText(tr("1:{scale} on {size}; {fits}", scale=f"{sheet.scale:g}", size=size, fits=fits))

    def _choose(self) -> None:
        if self.options() is None:
            return
        start = str(self._seen.path.with_suffix(".pdf"))
        kinds = ";;".join(f"{kind} (*{suffix})" for kind, suffix in (("PDF", ".pdf"), ("SVG", ".svg"), ("PNG", ".png")))
        name, kind = QFileDialog.getSaveFileName(self, tr("save the picture"), start, kinds)
        if name:
            path = Path(name)
            self.save(path if path.suffix else path.with_suffix(f".{kind[:3].lower() or 'pdf'}"))

    def save(self, path: Path) -> None:
        """Draw the map to a file, off the GUI thread; a file that is there is written over, as was asked about."""
        options = self.options()
        try:
            suffix = checked_suffix(path)
        except UserError as error:
            self._say(wording(error))
            return
        if options is None:
            return
        desk, seen, scene = self._desk, self._seen, replace(self._canvas.scene)  # as it is now, whatever is done next
        units, font, season, today = (
            desk.units,
            QApplication.font(),
            desk.season,
            desk.today,
        )

        def draw(watch: Watch) -> Picture | None:
            made = make_picture(seen, scene, season, suffix, options, units, font, today, watch)
            if made is not None and not watch.stop_wanted():
                write_files(path.absolute().parent, {path.name: made.content}, replace=True)
                return made
            return None

        self._busy(busy=True)
        self._work = desk.compute(
            draw,
            tr("drawing {name}", name=path.name),
            while_there(self, lambda made: self._saved(path, made)),
            while_there(self, self._failed),
        )
        ended = while_there(self, lambda _: self._busy(busy=False))
        self._work.ended.connect(lambda: ended(None))

    def _saved(self, path: Path, made: Picture | None) -> None:
        if made is None:
            return
        self._desk.tell(tr("the map is drawn at 1:{scale} in {name}", scale=f"{made.sheet.scale:g}", name=path.name))
        self.accept()

    def _failed(self, error: Exception) -> None:
        self._say(wording(error))

    def _busy(self, *, busy: bool) -> None:
        self.save_button.setEnabled(not busy)
        self.stop_button.setVisible(busy)
        if not busy:
            self._work = None
            if not self.isVisible():
                self.deleteLater()

    def _end(self) -> None:
        # While something is still being drawn, its end is waited for.
        if self._work is None:
            self.deleteLater()

    def _stop(self) -> None:
        if self._work is not None:
            self._work.cancel()

    def _say(self, text: str) -> None:
        self.wrong.setText(text)
        self.wrong.setVisible(bool(text))
        fit_height(self, self._wide)

    def reject(self) -> None:
        """Close; what is being drawn is stopped."""
        self._stop()
        super().reject()


def _dots(text: str) -> int:
    cleaned = text.strip()
    if not (cleaned.isascii() and cleaned.isdecimal() and LEAST_DPI <= int(cleaned[:6]) <= MOST_DPI):
        raise UserError(f"'{cleaned[:20]}' is no number of dots", f"choose from {LEAST_DPI} to {MOST_DPI}")
    return int(cleaned)
