"""The trees of a view as one picture: sprites are set into an array of pixels, many at a time.

Where dials lie over each other the later one takes the pixel whole. Its rim is a halo of ground colour, so that what
would shine through at the edge is the ground, as it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter, QTransform

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.sprites import SpriteBook
from standmap.desktop.canvas.trees import FAR_LOOKS, Trees

WHOLE_PX = 0.02
"""So near to a whole pixel is whole."""

STEP_PIXELS = 400_000
"""Pixels set between two moments at which the drawing can be interrupted: about 2 ms."""


@dataclass(frozen=True, slots=True, eq=False)
class TreePicture:
    """Trees as they were drawn for one camera.

    Attributes
    ----------
    pixels
        Premultiplied 0xAARRGGBB, larger than the view by `beyond` device pixels on each side, shape (rows, columns).
    """

    pixels: NDArray[np.uint32]
    camera: Camera
    beyond: int
    dpr: float

    def serves(self, camera: Camera, dpr: float) -> bool:
        """Return whether it is as good as drawn anew: for the same view, or one pushed by whole pixels."""
        own = self.camera
        if dpr != self.dpr or (own.px_per_m, own.turn_deg, own.width, own.height) != (
            camera.px_per_m,
            camera.turn_deg,
            camera.width,
            camera.height,
        ):
            return False
        x, y = camera.point_to_screen(own.centre_x, own.centre_y)
        pushed = np.array([x - own.width / 2, y - own.height / 2]) * dpr
        return bool((np.abs(pushed) <= self.beyond).all() and (np.abs(pushed - np.rint(pushed)) < WHOLE_PX).all())

    def paint(self, painter: QPainter, camera: Camera) -> None:
        """Draw it where it belongs in a view: as it is in its own, moved, scaled and turned in another."""
        rows, columns = self.pixels.shape
        image = QImage(
            self.pixels.data,
            columns,
            rows,
            4 * columns,
            QImage.Format.Format_ARGB32_Premultiplied,
        )
        image.setDevicePixelRatio(self.dpr)
        off = -self.beyond / self.dpr
        if camera != self.camera:
            painter.save()
            painter.setTransform(placing(self.camera, camera, self.dpr), combine=True)
        painter.drawImage(QRectF(off, off, columns / self.dpr, rows / self.dpr), image)
        if camera != self.camera:
            painter.restore()


def placing(drawn: Camera, shown: Camera, dpr: float) -> QTransform:
    """Return how what was drawn for one camera is moved, turned and scaled to lie right in another."""
    x, y = shown.point_to_screen(drawn.centre_x, drawn.centre_y)
    scale = shown.px_per_m / drawn.px_per_m
    turned = (shown.turn_deg - drawn.turn_deg) % 360.0
    made = QTransform()
    if turned or scale != 1.0:
        made.translate(x, y)
        made.rotate(-turned)
        made.scale(scale, scale)
        made.translate(-drawn.width / 2, -drawn.height / 2)
        return made
    # Moved only: by whole device pixels it stays sharp.
    return made.translate(round((x - drawn.width / 2) * dpr) / dpr, round((y - drawn.height / 2) * dpr) / dpr)


def draw_trees(trees: Trees, camera: Camera, book: SpriteBook, beyond_px: float) -> Iterator[TreePicture | None]:
    """Draw the trees of a view in short steps; what comes last is the picture, before it None.

    Parameters
    ----------
    beyond_px
        How far beyond the view to draw, logical pixels, so that a moved picture has no empty edge at once.
    """
    dpr, reach = book.dpr, book.reach
    beyond = int(np.ceil(beyond_px * dpr)) + 2 * reach
    columns = int(np.ceil(camera.width * dpr)) + 2 * beyond
    rows = int(np.ceil(camera.height * dpr)) + 2 * beyond
    pixels = np.zeros((rows, columns), np.uint32)
    flat = pixels.ravel()

    seen = trees.nearby.within(camera.box_m(beyond_px + reach / dpr))
    spots = np.rint(camera.to_screen(trees.xy[seen]) * dpr - 0.5).astype(np.intp) + beyond
    inside = (
        (spots[:, 0] >= reach) & (spots[:, 0] < columns - reach) & (spots[:, 1] >= reach) & (spots[:, 1] < rows - reach)
    )
    seen, spots = seen[inside], spots[inside]
    looks = trees.looks[seen]
    if book.detail.dial_scale is None:
        looks = FAR_LOOKS[looks]
    order = np.argsort(looks, kind="stable")
    looks = looks[order]
    places = (spots[:, 1] * columns + spots[:, 0])[order]
    yield None

    starts = np.flatnonzero(np.append(True, looks[1:] != looks[:-1])[: len(looks)])
    ends = np.append(starts, len(looks))[1:]
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        sprite = book.sprite(int(looks[start]))
        offsets = sprite.down * columns + sprite.right
        many = max(STEP_PIXELS // max(len(offsets), 1), 1)
        for at in range(start, end, many):
            some = places[at : min(at + many, end)]
            flat[some[:, None] + offsets] = sprite.colour
            yield None
    yield TreePicture(pixels, camera, beyond, dpr)


def drawn_at_once(trees: Trees, camera: Camera, book: SpriteBook) -> TreePicture:
    """Draw the trees of a view without stopping."""
    *_, picture = draw_trees(trees, camera, book, 0.0)
    assert picture is not None  # noqa: S101 - the last step always brings it
    return picture
