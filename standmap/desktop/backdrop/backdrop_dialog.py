"""What lies under the map: which file, whom it is from, how strongly it is drawn."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFileDialog, QSlider, QVBoxLayout, QWidget
from shiboken6 import isValid

from standmap.desktop.backdrop.keeper import BackdropKeeper
from standmap.desktop.desk import Desk, wording
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
)
from standmap.desktop.measuring.fitting import fit_height
from standmap.desktop.words import tr
from standmap.formats.backdrops import LONGEST_ATTRIBUTION, PICTURE, TERRAIN
from standmap.jobs.backdrop import Backdrop, change_backdrop, choose_backdrop

WIDTH_PX = 460

FILES = "*.tif *.tiff *.mbtiles *.gpkg *.jp2 *.png *.jpg *.vrt *.asc *.img"


class BackdropDialog(QDialog):
    """Every change in it is an edit of the stand, at once, and comes undone like any other.

    Attributes
    ----------
    strength
        The slider, 0 to 100; None while there is no backdrop.
    source
        The field for whom it is from; None while there is no backdrop.
    system
        The field for a reference system that the file does not name; hidden until it is wanted.
    wrong
        What could not be done, and what to do.
    """

    strength: QSlider | None
    source: Field[str] | None

    def __init__(self, desk: Desk, keeper: BackdropKeeper, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._keeper = keeper
        self._wanted: Path | None = None
        self._filled: tuple[Backdrop | None, bool] | None = None
        self.setWindowTitle(tr("under the map"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        down = QVBoxLayout(self)
        down.setContentsMargins(24, 20, 24, 20)
        down.setSpacing(12)
        down.addWidget(heading(tr("under the map")))
        self._facts = QWidget()
        self._down = QVBoxLayout(self._facts)
        self._down.setContentsMargins(0, 0, 0, 0)
        self._down.setSpacing(8)
        down.addWidget(self._facts)
        self.wrong = label("", "error")
        self.wrong.hide()
        self.system: Field[str] = Field(
            tr("reference system of the picture"), str.strip, hint=tr("such as {code}", code="EPSG:3067")
        )
        self.system.hide()
        self.system.entered.connect(self._again)
        down.addWidget(self.wrong)
        down.addWidget(self.system)
        down.addWidget(hairline())
        self.choose = button(tr("choose a file..."), self._choose, "primary")
        self.off = button(tr("take it away"), self._keeper.take_off, "quiet")
        self.shut = button(tr("done"), self.close, "quiet")
        down.addWidget(side_by_side(self.choose, self.off, self.shut))
        scale = desk.settings.text_size_percent / 100
        self._wide = min(round(WIDTH_PX * scale), self.screen().availableSize().width())
        desk.seen_changed.connect(self._fill)
        self._fill()

    def _fill(self) -> None:
        kept, may = self._keeper.kept, not self._desk.read_only
        if (kept, may) == self._filled:
            return
        self._filled = (kept, may)
        clear(self._down)
        self.strength, self.source = None, None
        self.choose.setEnabled(may)
        self.off.setEnabled(may and kept is not None)
        if kept is None:
            self._down.addWidget(
                second(
                    tr(
                        "A picture of the ground from a file of yours: a GeoTIFF, or tiles in an MBTiles or GeoPackage "
                        "file. Heights of the ground are drawn as hill shade. Nothing is fetched from a network."
                    )
                )
            )
        else:
            self._fill_kept(kept, may)
        fit_height(self, self._wide)

    def _fill_kept(self, kept: Backdrop, may: bool) -> None:
        self._down.addWidget(fact_row(tr("file"), kept.path.name))
        words = {PICTURE: tr("picture"), TERRAIN: tr("terrain, as hill shade")}
        self._down.addWidget(fact_row(tr("drawn as"), words[kept.kind]))
        self.source = Field(tr("whom it is from, shown on the map"), str.strip, text=kept.attribution)
        self.source.edit.setMaxLength(LONGEST_ATTRIBUTION)
        self.source.edit.setEnabled(may)
        self.source.edit.editingFinished.connect(self._name_source)
        self._down.addWidget(self.source)
        if not kept.attribution:
            self._down.addWidget(
                caution_line(tr("The file does not say. Look whether you may use it, and write it down."))
            )
        self._down.addWidget(second(tr("how strongly it is drawn")))
        slider = QSlider(Qt.Orientation.Horizontal)
        slider.setRange(0, 100)
        slider.setPageStep(10)
        slider.setMinimumHeight(round(28 * self._desk.settings.text_size_percent / 100))
        slider.setValue(round(100 * kept.strength))
        slider.setTracking(False)  # one edit when it is let go, not one a step
        slider.setEnabled(may)
        slider.setAccessibleName(tr("how strongly it is drawn"))
        slider.valueChanged.connect(lambda value: self._change(strength=value / 100))
        self.strength = slider
        self._down.addWidget(slider)

    def _name_source(self) -> None:
        kept, field = self._keeper.kept, self.source
        if kept is not None and field is not None and field.text().strip() != kept.attribution:
            self._change(attribution=field.text())

    def _change(self, *, attribution: str | None = None, strength: float | None = None) -> None:
        now = self._desk.now()
        self._desk.run(
            lambda file, _: change_backdrop(file, now, attribution=attribution, strength=strength),
            "",
            failed=self._say,
        )

    def _choose(self) -> None:
        folder = str(self._desk.path.parent) if self._desk.path is not None else ""
        kinds = ";;".join((tr("pictures of the ground and heights") + f" ({FILES})", tr("all files") + " (*)"))
        name, _ = QFileDialog.getOpenFileName(self, tr("choose a picture of the ground"), folder, kinds)
        if name:
            self.lay(Path(name))

    def lay(self, picture: Path) -> None:
        """Lay a file under the map."""
        self._wanted = picture
        self._lay(None)

    def _again(self) -> None:
        self._lay(self.system.text().strip() or None)

    def _lay(self, crs: str | None) -> None:
        picture = self._wanted
        if picture is None:
            return
        now = self._desk.now()
        self._desk.run(
            lambda file, _: choose_backdrop(file, picture, now, crs=crs),
            tr("laying {name} under the map", name=picture.name),
            lambda _: self._say(None),
            self._say,
        )

    def _say(self, error: Exception | None) -> None:
        if not isValid(self):  # closed before the answer came
            if error is not None:
                self._desk.error(error)
            return
        text = "" if error is None else wording(error)
        self.wrong.setText(text)
        self.wrong.setVisible(bool(text))
        self.system.setVisible("reference system" in str(error or ""))
        fit_height(self, self._wide)
