"""How sure positions are: around each tree the ellipse in which it stands with 95 % confidence."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.theme import Theme

CONFIDENCE_95 = float(np.sqrt(-2 * np.log(0.05)))
"""Size of the ellipse in standard deviations: the 0.95 quantile of the Rayleigh distribution."""

MOST_DRAWN = 400
"""Ellipses in one picture; of more the largest are drawn."""

LEAST_PX = 3.0
"""A smaller one would be hidden under its dial."""

_TURN = np.linspace(0, 2 * np.pi, 33)[:-1]
_CIRCLE = np.column_stack((np.cos(_TURN), np.sin(_TURN)))


def ellipses(xy: NDArray[np.float64], covariance_m2: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the outlines of the ellipses of 95 % confidence, metres, shape (n, 32, 2).

    Parameters
    ----------
    xy
        Metres, shape (n, 2).
    covariance_m2
        Variances east and north, and their covariance, shape (n, 3); a covariance not told (NaN) is none.
    """
    var_e, var_n, cov = np.where(np.isnan(covariance_m2), [np.nan, np.nan, 0.0], covariance_m2).T
    # The Cholesky factor of each covariance takes the circle to its ellipse.
    first = np.sqrt(np.maximum(var_e, 0))
    second = np.divide(cov, first, out=np.zeros_like(cov), where=first > 0)
    third = np.sqrt(np.maximum(var_n - second**2, 0))
    east = first[:, None] * _CIRCLE[:, 0]
    north = second[:, None] * _CIRCLE[:, 0] + third[:, None] * _CIRCLE[:, 1]
    return xy[:, None, :] + CONFIDENCE_95 * np.stack((east, north), axis=2)


def paint_spreads(
    painter: QPainter,
    xy: NDArray[np.float64],
    covariance_m2: NDArray[np.float64],
    camera: Camera,
    theme: Theme,
) -> None:
    """Draw the ellipses of trees, shapes (n, 2) and (n, 3); unknown ones are NaN and left out."""
    size_px = CONFIDENCE_95 * np.sqrt(np.maximum(covariance_m2[:, :2].max(axis=1), 0)) * camera.px_per_m
    with np.errstate(invalid="ignore"):
        drawn = np.flatnonzero(np.isfinite(covariance_m2[:, :2]).all(axis=1) & (size_px >= LEAST_PX))
    drawn = drawn[np.argsort(-size_px[drawn], kind="stable")[:MOST_DRAWN]]
    outlines = ellipses(xy[drawn], covariance_m2[drawn])
    on_screen = camera.to_screen(outlines.reshape(-1, 2)).reshape(outlines.shape)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(QColor(theme.accent), 1.0, Qt.PenStyle.DashLine))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for outline in on_screen:
        painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in outline]))
    painter.restore()
