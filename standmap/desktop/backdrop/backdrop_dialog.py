"""What lies under the map: which file, whom it is from, how strongly it is drawn."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSlider, QWidget

from standmap.desktop.backdrop.file_sheet import FileSheet
from standmap.desktop.backdrop.keeper import BackdropKeeper
from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, caution_line, clear, fact_row, second
from standmap.desktop.words import tr
from standmap.formats.backdrops import LONGEST_ATTRIBUTION, PICTURE, TERRAIN
from standmap.jobs.backdrop import Backdrop, change_backdrop, choose_backdrop

FILES = "*.tif *.tiff *.mbtiles *.gpkg *.jp2 *.png *.jpg *.vrt *.asc *.img"


class BackdropDialog(FileSheet):
    """The sheet of the backdrop.

    Attributes
    ----------
    strength
        The slider, 0 to 100; None while there is no backdrop.
    source
        The field for whom it is from; None while there is no backdrop.
    """

    strength: QSlider | None
    source: Field[str] | None

    def __init__(self, desk: Desk, keeper: BackdropKeeper, parent: QWidget | None = None) -> None:
        kinds = ";;".join((tr("pictures of the ground and heights") + f" ({FILES})", tr("all files") + " (*)"))
        super().__init__(desk, tr("under the map"), tr("choose a picture of the ground"), kinds, parent)
        self._keeper = keeper
        self._filled: tuple[Backdrop | None, bool] | None = None
        desk.seen_changed.connect(self._fill)
        self._fill()

    def take_away(self) -> None:
        """Take the backdrop away."""
        self._keeper.take_off()

    def take(self, path: Path, crs: str | None) -> None:
        """Lay a file under the map."""
        now = self._desk.now()
        self._desk.run(
            lambda file, _: choose_backdrop(file, path, now, crs=crs),
            tr("laying {name} under the map", name=path.name),
            lambda _: self._say(None),
            self._say,
        )

    def _fill(self) -> None:
        kept, may = self._keeper.kept, not self._desk.read_only
        if (kept, may) == self._filled:
            return
        self._filled = (kept, may)
        clear(self.facts)
        self.strength, self.source = None, None
        self.choose.setEnabled(may)
        self.off.setEnabled(may and kept is not None)
        if kept is None:
            self.facts.addWidget(
                second(
                    tr(
                        "A picture of the ground from a file of yours: a GeoTIFF, or tiles in an MBTiles or GeoPackage "
                        "file. Heights of the ground are drawn as hill shade. Nothing is fetched from a network."
                    )
                )
            )
        else:
            self._fill_kept(kept, may)
        self._fit()

    def _fill_kept(self, kept: Backdrop, may: bool) -> None:
        self.facts.addWidget(fact_row(tr("file"), kept.path.name))
        words = {PICTURE: tr("picture"), TERRAIN: tr("terrain, as hill shade")}
        self.facts.addWidget(fact_row(tr("drawn as"), words[kept.kind]))
        self.source = Field(tr("whom it is from, shown on the map"), str.strip, text=kept.attribution)
        self.source.edit.setMaxLength(LONGEST_ATTRIBUTION)
        self.source.edit.setEnabled(may)
        self.source.edit.editingFinished.connect(self._name_source)
        self.facts.addWidget(self.source)
        if not kept.attribution:
            self.facts.addWidget(
                caution_line(tr("The file does not say. Look whether you may use it, and write it down."))
            )
        self.facts.addWidget(second(tr("how strongly it is drawn")))
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
        self.facts.addWidget(slider)

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
