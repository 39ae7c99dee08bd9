"""A sheet laid over what the collect page shows: it has its own buttons below, and a way back."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from standmap.desktop.canvas.overlay import Overlay
from standmap.desktop.desk import Desk
from standmap.desktop.kit import button
from standmap.desktop.pages.collect.trip_lines import AnyWalk
from standmap.desktop.words import tr
from standmap.units_shown import UnitsShown


class OverSheet(QWidget):
    """One such sheet; add its parts to `.down`, its buttons to `.foot`.

    Signals: `back_wanted`, `map_changed` (what it shows on the map is another).
    """

    back_wanted = Signal()
    map_changed = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.down = QVBoxLayout(self)
        self.down.setContentsMargins(0, 0, 0, 0)
        self.down.setSpacing(6)
        self.foot = QWidget()
        self.foot_line = QVBoxLayout(self.foot)
        self.foot_line.setContentsMargins(0, 0, 0, 0)
        self.foot_line.setSpacing(8)
        self.back = button(tr("back"), self.back_wanted.emit, "link")

    @property
    def units(self) -> UnitsShown:
        """How measures are shown and typed."""
        return self._desk.units

    @property
    def map_walk(self) -> AnyWalk | None:
        """The walk that the map shows with it; None for the one that is planned."""
        return None

    def overlays(self) -> tuple[Overlay, ...]:
        """Return what else the map shows with it."""
        return ()

    def tell(self) -> object:
        """Show it as it stands, after the stand or the units have changed."""

    def go(self) -> None:
        """Do what its first button does."""
