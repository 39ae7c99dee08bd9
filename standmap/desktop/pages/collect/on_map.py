"""The round on the map while the page is shown: the best so far, the planned one drawing itself, what steps back."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QEasingCurve, QObject, QVariantAnimation

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.pages.collect.overlay import Marks, RoundLines, RoundOverlay, round_lines
from standmap.desktop.seen import Seen
from standmap.jobs.planned_round import PlannedRound
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
        self._planned: PlannedRound | None = None
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

    def show(self, planned: PlannedRound | None, *, sketch: bool = False, drawing: bool = False) -> None:
        """Show a round, or none.

        Parameters
        ----------
        sketch
            It is the best so far.
        drawing
            Let it draw itself, unless less motion is asked for.
        """
        seen = self._desk.seen
        self._drawing.stop()
        if planned is None or seen is None or seen.frame is None:
            self._planned = None
            self._canvas.set_overlays([])
            self._canvas.set_faded(None)
            return
        if seen is not self._seen:
            self._seen = seen
            self._marks = Marks(np.concatenate([seen.xy, xy(seen.frame, [place.at for place in seen.stand.places])]))
        if planned is not self._planned or seen.frame is not self._frame:
            self._lines = round_lines(planned, seen.frame)
            self._planned, self._frame = planned, seen.frame
        self._sketch = sketch
        faded = np.ones(len(seen.trees), bool)
        faded[seen.rows_of([stop.tree.key for trip in planned.trips for stop in trip.stops])] = False
        self._canvas.set_faded(faded)
        if drawing and self._desk.settings.motion != "less":
            self._drawing.start()
        else:
            self._lay()

    def chosen_changed(self) -> None:
        """Keep the numbers clear of the ring of the chosen tree."""
        if self._planned is not None and self._drawing.state() is not QVariantAnimation.State.Running:
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
        if chosen is not None and seen is not None and self._planned is not None:
            at = seen.xy[[seen.row_of[chosen.key]]]
            on = (k for k, t in enumerate(self._planned.trips) if any(s.tree.key == chosen.key for s in t.stops))
            trip = next(on, None)
        self._canvas.set_overlays([RoundOverlay(self._lines, part, self._sketch, scale, self._marks, trip, at)])
