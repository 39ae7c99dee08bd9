"""Keeps the map's backdrop true to what the stand says, and offers what can be done with it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from standmap.desktop.actions import Action
from standmap.desktop.backdrop.tiled_backdrop import TiledBackdrop
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk, wording
from standmap.desktop.seen import Seen
from standmap.desktop.words import tr
from standmap.errors import UserError
from standmap.formats.backdrops import BackdropFile
from standmap.jobs.backdrop import Backdrop, backdrop_of, look_at, take_backdrop_off


class BackdropKeeper(QObject):
    """The backdrop of the open stand.

    Attributes
    ----------
    kept
        What the stand says; None where there is none.
    """

    def __init__(self, desk: Desk, canvas: MapCanvas) -> None:
        super().__init__(desk)
        self._desk = desk
        self._canvas = canvas
        self._shown: TiledBackdrop | None = None
        self.kept: Backdrop | None = None
        desk.seen_changed.connect(self._follow)

    def actions(self, window: QWidget) -> Sequence[Action]:
        """Return what can be done with the backdrop."""

        def show_dialog() -> None:
            from standmap.desktop.backdrop.backdrop_dialog import BackdropDialog

            BackdropDialog(self._desk, self, window).open()

        return [
            Action(
                "map.backdrop",
                tr("lay a picture or a terrain under the map..."),
                show_dialog,
                "Ctrl+B",
                enabled=lambda: self._desk.seen is not None and self._desk.seen.frame is not None,
                words=tr("backdrop aerial photo hill shade GeoTIFF tiles"),
            ),
            Action(
                "map.heights",
                tr("heights of the ground..."),
                lambda: self.show_heights(window),
                enabled=lambda: self._desk.seen is not None and self._desk.seen.frame is not None,
                words=tr("slope terrain DEM elevation hills uphill"),
            ),
            Action(
                "map.no_backdrop",
                tr("take the backdrop away"),
                self.take_off,
                enabled=lambda: self.kept is not None and not self._desk.read_only,
            ),
        ]

    def show_heights(self, window: QWidget) -> None:
        """Show the sheet of the heights of the ground."""
        from standmap.desktop.backdrop.heights_dialog import HeightsDialog

        HeightsDialog(self._desk, self, window).open()

    def take_off(self) -> None:
        """Take the backdrop away, as one edit."""
        now = self._desk.now()
        self._desk.run(lambda file, _: take_backdrop_off(file, now), tr("taking the backdrop away"))

    def _follow(self) -> None:
        seen = self._desk.seen
        try:
            kept = None if seen is None else backdrop_of(seen.stand, seen.path)
        except UserError as error:
            kept = None
            self._desk.caution(wording(error))
        if kept == self.kept and self._same_frame(seen):
            return
        self.kept = kept
        self._show(None)
        if seen is None or seen.frame is None or kept is None:
            return
        frame = seen.frame

        def looked(found: BackdropFile) -> None:
            if self.kept == kept:
                self._show(TiledBackdrop(self._desk, kept, found, frame))

        def failed(error: Exception) -> None:
            if self.kept == kept:
                self._desk.caution(wording(error))

        self._frame = frame
        self._desk.compute(lambda _: look_at(kept), "", looked, failed)

    _frame: object = None

    def _same_frame(self, seen: Seen | None) -> bool:
        return self.kept is None or (seen is not None and seen.frame == self._frame)

    def _show(self, shown: TiledBackdrop | None) -> None:
        if self._shown is not None:
            self._shown.stop()
            self._shown.deleteLater()
        self._shown = shown
        self._canvas.set_backdrop(shown)
        if shown is not None:
            shown.changed.connect(self._canvas.update)
            shown.failed.connect(lambda error: self._desk.caution(wording(error)))

    @property
    def waiting(self) -> bool:
        """Whether something of the backdrop in sight is still to be drawn."""
        return self._shown is not None and self._shown.waiting
