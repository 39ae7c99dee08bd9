"""What an empty map says: files can be dropped here."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPen

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.canvas.labels import Label
from standmap.desktop.theme import Theme
from standmap.desktop.words import tr

WIDE_PX, HIGH_PX = 420.0, 150.0
CORNER_PX = 12.0


class DropHint:
    """A dashed sheet in the middle of the free part of the map."""

    def __init__(self, canvas: MapCanvas, scale: float) -> None:
        self._canvas = canvas
        self._scale = scale

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw it."""
        del camera
        x, y = self._canvas.free_middle()
        wide, high = WIDE_PX * self._scale, HIGH_PX * self._scale
        box = QRectF(x - wide / 2, y - high / 2, wide, high)
        pen = QPen(QColor(theme.second_ink), 1.4)
        pen.setDashPattern([4, 4])
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(pen)
        painter.setBrush(QColor(theme.background))
        painter.drawRoundedRect(box, CORNER_PX, CORNER_PX)
        middle = box.center().y()
        upper = QRectF(box.left(), middle - 30 * self._scale, wide, 28 * self._scale)
        lower = QRectF(box.left() + 20, middle + 2 * self._scale, wide - 40, 40 * self._scale)
        font = QFont(self._canvas.font())
        font.setPixelSize(round(15 * self._scale))
        font.setWeight(QFont.Weight.DemiBold)
        painter.setFont(font)
        painter.setPen(QColor(theme.ink))
        painter.drawText(upper, Qt.AlignmentFlag.AlignCenter, tr("drop files here"))
        font.setPixelSize(round(12.5 * self._scale))
        font.setWeight(QFont.Weight.Normal)
        painter.setFont(font)
        painter.setPen(QColor(theme.second_ink))
        flags = int(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap)
        painter.drawText(
            lower, flags, tr("a GPS walk, notes, a field sheet, pictures, ground:\nGPX, NMEA, CSV, GeoJSON, JPEG")
        )

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return no labels."""
        del camera
        return ()
