"""The round on the map while the page is shown: the best so far, the planned one drawing itself, what steps back."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QEasingCurve, QObject, QVariantAnimation

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.canvas.overlay import Overlay
from standmap.desktop.desk import Desk
from standmap.desktop.pages.collect.overlay import Marks, RoundLines, RoundOverlay, round_lines
from standmap.desktop.pages.collect.trip_lines import AnyWalk, TripLine, trip_lines
from standmap.desktop.seen import Seen
from standmap.jobs.positions import xy
from standmap.survey.frame import WorkingFrame

DRAWING_MS = 450
"""How long a planned round takes to draw itself."""


class RoundOnMap(QObject):
    """Lays one round over the map."""

    def __init__(self, desk: Desk, canvas: MapCanvas, parent: QObject) -> None:
        super().__init__(parent)
        self._desk = desk
        self._canvas = canvas
        self._walk: AnyWalk | None = None
        self._trips: tuple[TripLine, ...] = ()
        self._beside: tuple[Overlay, ...] = ()
        self._frame: WorkingFrame | None = None
        self._lines: RoundLines | None = None
        self._sketch = False
        self._seen: Seen | None = None
        self._marks: Marks | None = None
        self._drawing = QVariantAnimation(self)
        self._drawing.setDuration(DRAWING_MS)
        self._drawing.setStartValue(0.0)
        self._drawing.setEndValue(1.0)
        self._drawing.setEasingCurve(QEasingCurve.Type.InOutSine)
        self._drawing.valueChanged.connect(lambda _: self._lay())

    def show(
        self,
        walk: AnyWalk | None,
        *,
        sketch: bool = False,
        drawing: bool = False,
        beside: tuple[Overlay, ...] = (),
    ) -> None:
        """Show a walk, or none.

        Parameters
        ----------
        sketch
            It is the best so far.
        drawing
            Let it draw itself, unless less motion is asked for.
        beside
            What else is shown, below it.
        """
        seen = self._desk.seen
        self._drawing.stop()
        self._beside = beside
        if walk is None or seen is None or seen.frame is None:
            self._walk, self._trips, self._lines = None, (), None
            self._canvas.set_overlays(list(beside))
            self._canvas.set_faded(None)
            return
        if seen is not self._seen:
            self._seen = seen
            self._marks = Marks(np.concatenate([seen.xy, xy(seen.frame, [place.at for place in seen.stand.places])]))
        if walk is not self._walk or seen.frame is not self._frame:
            self._trips = trip_lines(walk)
            self._lines = round_lines(self._trips, seen.frame)
            self._walk, self._frame = walk, seen.frame
        self._sketch = sketch
        faded = np.ones(len(seen.trees), bool)
        faded[seen.rows_of([key for trip in self._trips for key in trip.tree_keys])] = False
        self._canvas.set_faded(faded)
        if drawing and self._desk.settings.motion != "less":
            self._drawing.start()
        else:
            self._lay()

    def chosen_changed(self) -> None:
        """Keep the numbers clear of the ring of the chosen tree."""
        if self._walk is not None and self._drawing.state() is not QVariantAnimation.State.Running:
            self._lay()

    def leave(self) -> None:
        """Draw no more: another page has the map."""
        self._drawing.stop()

    def _lay(self) -> None:
        if self._lines is None:
            return
        running = self._drawing.state() is QVariantAnimation.State.Running
        part = float(self._drawing.currentValue()) if running else 1.0
        scale = self._desk.settings.text_size_percent / 100
        chosen, seen = self._desk.chosen_tree, self._desk.seen
        at, trip = np.zeros((0, 2)), None
        if chosen is not None and seen is not None:
            at = seen.xy[[seen.row_of[chosen.key]]]
            trip = next((k for k, line in enumerate(self._trips) if chosen.key in line.tree_keys), None)
        shown = RoundOverlay(self._lines, part, self._sketch, scale, self._marks, trip, at)
        self._canvas.set_overlays([*self._beside, shown])
