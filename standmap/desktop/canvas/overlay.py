"""What others may lay over the map, put under it, or do with the pointer on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol, runtime_checkable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.labels import Label
from standmap.desktop.theme import Theme

if TYPE_CHECKING:
    from standmap.desktop.canvas.canvas import MapCanvas


class Overlay(Protocol):
    """Something drawn over the trees, in logical pixels."""

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw it; the painter's state is put back afterwards."""

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return its labels, which are set among those of trees and places so that none cover each other."""


class Gesture(Protocol):
    """What the pointer and the keyboard do while it is set; each method returns whether it took the event."""

    cursor: Qt.CursorShape

    def press(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Take a button going down."""

    def move(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Take the pointer moving, with or without a button down."""

    def release(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Take a button going up."""

    def double(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Take a double click."""

    def key(self, event: QKeyEvent, canvas: MapCanvas) -> bool:
        """Take a key going down."""

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw what is being done."""


@runtime_checkable
class TakesKeysFirst(Protocol):
    """A gesture that takes keys which are shortcuts elsewhere, such as the one that takes an edit back."""

    def takes_first(self, event: QKeyEvent) -> bool:
        """Return whether `key` is to have this key before any shortcut."""


class Backdrop(Protocol):
    """A picture of the ground under everything else."""

    @property
    def attribution(self) -> str:
        """Whose picture it is, shown in a corner; empty for none."""

    def paint(self, painter: QPainter, camera: Camera) -> None:
        """Draw what is in sight of it."""
