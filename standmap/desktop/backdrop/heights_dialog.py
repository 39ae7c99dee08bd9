"""The heights of the ground that walks reckon with: which file they came from, and what they are like."""

from __future__ import annotations

import math
from pathlib import Path

from PySide6.QtWidgets import QPushButton, QWidget
from shiboken6 import isValid

from standmap.desktop.backdrop.file_sheet import FileSheet
from standmap.desktop.backdrop.keeper import BackdropKeeper
from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, button, caution_line, clear, fact_row, second
from standmap.desktop.words import tr
from standmap.formats.backdrops import LONGEST_ATTRIBUTION, TERRAIN
from standmap.jobs.terrain import TerrainFacts, name_terrain_source, remove_terrain, take_terrain, terrain_of
from standmap.stand.records import Terrain

FILES = "*.tif *.tiff *.asc *.vrt *.img *.gpkg"


class HeightsDialog(FileSheet):
    """The sheet of the heights.

    Attributes
    ----------
    known
        What is known of the heights that are kept; None while there are none, or they are being looked at.
    from_map
        Takes the terrain under the map; None where there is none, or heights are kept.
    source
        The field for whom they are from; None while there are none.
    """

    from_map: QPushButton | None
    source: Field[str] | None

    def __init__(self, desk: Desk, keeper: BackdropKeeper, parent: QWidget | None = None) -> None:
        kinds = ";;".join((tr("heights of the ground") + f" ({FILES})", tr("all files") + " (*)"))
        super().__init__(desk, tr("heights of the ground"), tr("choose heights of the ground"), kinds, parent)
        self._keeper = keeper
        self._looked_at: tuple[Terrain | None, bool] | None = None
        self.known: TerrainFacts | None = None
        desk.seen_changed.connect(self._look)
        self._fill()
        self._look()

    def take(self, path: Path, crs: str | None) -> None:
        """Keep the heights of a file."""
        now = self._desk.now()
        self._desk.run(
            lambda file, watch: take_terrain(file, path, now, crs=crs, messages=watch, progress=watch),
            tr("reading heights from {name}", name=path.name),
            lambda _: self._say(None),
            self._say,
        )

    def take_away(self) -> None:
        """Take the heights out."""
        now = self._desk.now()
        self._desk.run(lambda file, _: remove_terrain(file, now), tr("taking out the heights"), failed=self._say)

    def _look(self) -> None:
        seen = self._desk.seen
        kept, may = (None if seen is None else seen.stand.terrain), not self._desk.read_only
        if seen is None or (kept, may) == self._looked_at:
            return
        self._looked_at = (kept, may)
        self._desk.run(lambda file, _: terrain_of(file), "", self._told)

    def _told(self, known: TerrainFacts | None) -> None:
        if isValid(self):  # it may have been closed before the answer came
            self.known = known
            self._fill()

    def _fill(self) -> None:
        known, may = self.known, not self._desk.read_only
        clear(self.facts)
        self.from_map, self.source = None, None
        self.choose.setEnabled(may)
        self.off.setEnabled(may and known is not None)
        if known is None:
            self._fill_empty(may)
        else:
            self._fill_known(known, may)
        self._fit()

    def _fill_empty(self, may: bool) -> None:
        self.facts.addWidget(
            second(
                tr(
                    "With heights from a file of yours, walks reckon with slopes: uphill is slow, downhill less so, "
                    "and a steep place is walked round. The stand keeps its own copy of the part about its trees."
                )
            )
        )
        under = self._keeper.kept
        if under is not None and under.kind == TERRAIN:
            path, crs = under.path, under.crs
            self.from_map = button(tr("take {name}, which lies under the map", name=path.name), role="link")
            self.from_map.clicked.connect(lambda: self.take(path, crs))
            self.from_map.setEnabled(may)
            self.facts.addWidget(self.from_map)

    def _fill_known(self, known: TerrainFacts, may: bool) -> None:
        length = self._desk.units.distance
        if known.file_name:
            self.facts.addWidget(fact_row(tr("file"), known.file_name))
        self.facts.addWidget(fact_row(tr("a height every"), length(known.cell_m)))
        if not math.isnan(known.lowest_m):
            self.facts.addWidget(fact_row(tr("lowest"), length(known.lowest_m)))
            self.facts.addWidget(fact_row(tr("highest"), length(known.highest_m)))
            steep = tr("{percent} %", percent=f"{100 * known.steep_slope:.0f}")
            self.facts.addWidget(fact_row(tr("a tenth of the ground is steeper than"), steep))
        if known.known_share < 0.999:
            share = f"{100 * (1 - known.known_share):.0f}"
            self.facts.addWidget(second(tr("{percent} % of it has no height and is taken for level", percent=share)))
        self.source = Field(tr("whom they are from"), str.strip, text=known.attribution)
        self.source.edit.setMaxLength(LONGEST_ATTRIBUTION)
        self.source.edit.setEnabled(may)
        self.source.edit.editingFinished.connect(self._name_source)
        self.facts.addWidget(self.source)
        if not known.attribution:
            self.facts.addWidget(
                caution_line(tr("The file does not say. Look whether you may use it, and write it down."))
            )

    def _name_source(self) -> None:
        known, field = self.known, self.source
        if known is not None and field is not None and field.text().strip() != known.attribution:
            now, text = self._desk.now(), field.text()
            self._desk.run(lambda file, _: name_terrain_source(file, text, now), "", failed=self._say)
