"""The pictures of the chosen tree: small on the card, large when asked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QImage, QKeyEvent, QPixmap, QResizeEvent
from PySide6.QtWidgets import QDialog, QGridLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from standmap.desktop.card.wording import picture_caption
from standmap.desktop.kit import button, hairline, label, second, side_by_side
from standmap.desktop.words import tr
from standmap.stand.records import Media

Small = tuple[Media, QImage]
"""A picture with its thumbnail."""

ACROSS = 3
THUMB_PX = 74
"""Of a thumbnail, logical pixels; three fit beside each other on the card."""

WIDTH_PX, HEIGHT_PX = 900, 700


class Pictures(QWidget):
    """Thumbnails that open their picture by a click, Enter or the space bar."""

    def __init__(self, opened: Callable[[int], None]) -> None:
        super().__init__()
        self._opened = opened
        self.media: tuple[Media, ...] = ()
        self.thumbs: list[QPushButton] = []
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        self._caption = second("")
        self._grid_host = QWidget()
        self._grid = QGridLayout(self._grid_host)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(6)
        for part in (hairline(), self._caption, self._grid_host):
            down.addWidget(part)
        self.hide()

    def tell(self, pictures: Sequence[Small]) -> None:
        """Show the pictures of a tree; nothing at all where it has none."""
        self.media = tuple(one for one, _ in pictures)
        for thumb in self.thumbs:
            self._grid.removeWidget(thumb)
            thumb.hide()
            thumb.deleteLater()
        self.thumbs = []
        for number, (one, small) in enumerate(pictures):
            made = button("", None, "picture")
            made.clicked.connect(lambda _=False, n=number: self._opened(n))
            caption = picture_caption(one)
            made.setAccessibleName(tr("picture {caption}", caption=caption))
            made.setToolTip(caption)
            made.setFixedSize(THUMB_PX + 6, THUMB_PX + 6)
            made.setIconSize(QSize(THUMB_PX, THUMB_PX))
            made.setIcon(QPixmap.fromImage(small))
            self.thumbs.append(made)
            self._grid.addWidget(made, number // ACROSS, number % ACROSS)
        self._grid.setColumnStretch(ACROSS, 1)
        self._caption.setText(tr("pictures"))
        self.setVisible(bool(self.media))


def thumbnail(one: Media, dpr: float) -> QImage:
    """Return the middle square of a picture, small; asks for no GUI thread."""
    side = round(THUMB_PX * dpr)
    whole = QImage.fromData(one.content)
    if whole.isNull():
        whole = QImage(side, side, QImage.Format.Format_ARGB32)
        whole.fill(Qt.GlobalColor.transparent)
    fill = whole.scaled(
        side, side, Qt.AspectRatioMode.KeepAspectRatioByExpanding, Qt.TransformationMode.SmoothTransformation
    )
    square = fill.copy((fill.width() - side) // 2, (fill.height() - side) // 2, side, side)
    square.setDevicePixelRatio(dpr)
    return square


class PictureView(QDialog):
    """One picture as large as the window lets it be; the arrow keys go on to the next.

    Attributes
    ----------
    number
        Which of the pictures is shown.
    """

    def __init__(
        self,
        tree_name: str,
        media: Sequence[Media],
        number: int,
        remove: Callable[[Media], None] | None,
        parent: QWidget | None,
    ) -> None:
        super().__init__(parent)
        self._name = tree_name
        self._media = tuple(media)
        self.number = number
        self._removal = remove
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(tr("pictures of {tree}", tree=tree_name))
        self.picture = QLabel()
        self.picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.picture.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self.picture.setMinimumSize(200, 150)
        self.caption = label("", "strong")
        self.counted = second("")
        self.before = button(tr("before"), lambda: self.turn(-1), "quiet")
        self.after = button(tr("next"), lambda: self.turn(1), "quiet")
        self.remove = button(tr("remove this picture"), self._take_out, "quiet")
        self.remove.setEnabled(remove is not None)
        self.close_button = button(tr("close"), self.close, "primary")
        down = QVBoxLayout(self)
        down.setContentsMargins(20, 20, 20, 16)
        down.setSpacing(10)
        down.addWidget(self.picture, 1)
        down.addWidget(self.caption)
        down.addWidget(self.counted)
        down.addWidget(side_by_side(self.before, self.after, self.remove, self.close_button))
        room = self.screen().availableSize()
        self.resize(min(WIDTH_PX, room.width()), min(HEIGHT_PX, room.height()))
        self._pixmap = QPixmap()
        self._show()
        self.close_button.setFocus()

    def turn(self, by: int) -> None:
        """Go on to another picture, round and round."""
        self.number = (self.number + by) % len(self._media)
        self._show()

    def _show(self) -> None:
        one = self._media[self.number]
        self._pixmap = QPixmap()
        self._pixmap.loadFromData(one.content)
        caption = picture_caption(one)
        self.caption.setText(caption)
        several = len(self._media) > 1
        self.counted.setText(
            tr("picture {number} of {count} of {tree}", number=self.number + 1, count=len(self._media), tree=self._name)
        )
        self.before.setVisible(several)
        self.after.setVisible(several)
        self.picture.setAccessibleName(tr("picture {caption}", caption=caption))
        self._fit()

    def _fit(self) -> None:
        dpr = self.devicePixelRatioF()
        if self._pixmap.isNull():
            self.picture.setText(tr("this picture cannot be shown"))
            return
        fitted = self._pixmap.scaled(
            self.picture.size() * dpr, Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
        )
        fitted.setDevicePixelRatio(dpr)
        self.picture.setPixmap(fitted)

    def _take_out(self) -> None:
        if self._removal is not None:
            self._removal(self._media[self.number])
            self.close()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Fit the picture anew."""
        super().resizeEvent(event)
        self._fit()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Go on by the arrow keys."""
        if event.key() in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self.turn(-1 if event.key() == Qt.Key.Key_Left else 1)
        else:
            super().keyPressEvent(event)
