"""Which part of the wood is in sight, how large, and which way is up. No Qt here."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

LEAST_PX_PER_M = 1e-3
MOST_PX_PER_M = 2_000.0
"""Half a millimetre a pixel: nearer than any position is known."""

ALONE_PX_PER_M = 12.0
"""Nothing to fit but one point: the map is shown no nearer than this."""

FIT_PADDING_PX = 28.0
"""Room between what is fitted and the edge of the free part, so that no dial is cut."""

Margins = tuple[float, float, float, float]
"""What floats over the map at its left, top, right and bottom, logical pixels."""

NO_MARGINS: Margins = (0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Camera:
    """A view of the plane: metres east and north to logical pixels right and down.

    Parameters
    ----------
    centre_x, centre_y
        Metres, what stands in the middle of the view.
    px_per_m
        Logical pixels a metre.
    turn_deg
        The grid bearing that points up, degrees clockwise from north, 0 up to 360.
    width, height
        Size of the view in logical pixels.
    """

    centre_x: float = 0.0
    centre_y: float = 0.0
    px_per_m: float = 1.0
    turn_deg: float = 0.0
    width: float = 1.0
    height: float = 1.0

    def _matrix(self) -> FloatArray:
        """Columns: where a metre east and a metre north go, pixels right and up."""
        t = math.radians(self.turn_deg)
        return self.px_per_m * np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]])

    def to_screen(self, xy: FloatArray) -> FloatArray:
        """Return where positions in metres, shape (n, 2), stand in the view, logical pixels; NaN stays NaN."""
        (a, b), (c, d) = self._matrix().tolist()
        xy = np.asarray(xy, dtype=float).reshape(-1, 2)
        east, north = xy[:, 0] - self.centre_x, xy[:, 1] - self.centre_y
        out = np.empty_like(xy)
        out[:, 0] = a * east + b * north + self.width / 2
        out[:, 1] = self.height / 2 - c * east - d * north
        return out

    def to_world(self, px: FloatArray) -> FloatArray:
        """Return the positions in metres, shape (n, 2), of places in the view."""
        px = np.asarray(px, dtype=float).reshape(-1, 2)
        right, up = px[:, 0] - self.width / 2, self.height / 2 - px[:, 1]
        # A turn is taken back by its transpose, a scale by its square.
        (a, b), (c, d) = (self._matrix() / self.px_per_m**2).tolist()
        out = np.empty_like(px)
        out[:, 0] = a * right + c * up + self.centre_x
        out[:, 1] = b * right + d * up + self.centre_y
        return out

    def point_to_screen(self, x: float, y: float) -> tuple[float, float]:
        """Return where one position in metres stands in the view."""
        px = self.to_screen(np.array([[x, y]]))[0]
        return float(px[0]), float(px[1])

    def point_to_world(self, px: float, py: float) -> tuple[float, float]:
        """Return the position in metres of one place in the view."""
        xy = self.to_world(np.array([[px, py]]))[0]
        return float(xy[0]), float(xy[1])

    def box_m(self, beyond_px: float = 0.0) -> tuple[float, float, float, float]:
        """Return least x, least y, most x and most y of what is in sight, metres.

        Parameters
        ----------
        beyond_px
            How far beyond the edges of the view to look.
        """
        w, h, b = self.width, self.height, beyond_px
        corners = self.to_world(np.array([[-b, -b], [w + b, -b], [w + b, h + b], [-b, h + b]]))
        low, high = corners.min(axis=0), corners.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def resized(self, width: float, height: float) -> Camera:
        """Return the same view in another size, its middle kept."""
        return replace(self, width=max(width, 1.0), height=max(height, 1.0))

    def panned(self, right_px: float, down_px: float) -> Camera:
        """Return the view after the map was pushed by so many pixels."""
        x, y = self.point_to_world(self.width / 2 - right_px, self.height / 2 - down_px)
        return replace(self, centre_x=x, centre_y=y)

    def zoomed(self, factor: float, at: tuple[float, float] | None = None) -> Camera:
        """Return a nearer view (factor above 1) or a farther one; what lies at `at`, logical pixels, stays there."""
        scale = min(max(self.px_per_m * factor, LEAST_PX_PER_M), MOST_PX_PER_M)
        return self._kept(replace(self, px_per_m=scale), at)

    def turned(self, bearing_deg: float, at: tuple[float, float] | None = None) -> Camera:
        """Return the view with another grid bearing up; what lies at `at` stays there."""
        return self._kept(replace(self, turn_deg=_around(bearing_deg)), at)

    def _kept(self, changed: Camera, at: tuple[float, float] | None) -> Camera:
        if at is None:
            return changed
        before, after = self.point_to_world(*at), changed.point_to_world(*at)
        return replace(
            changed,
            centre_x=changed.centre_x + before[0] - after[0],
            centre_y=changed.centre_y + before[1] - after[1],
        )

    def centred(self, x: float, y: float, margins: Margins = NO_MARGINS) -> Camera:
        """Return the view with a position in the middle of its free part."""
        left, top, right, bottom = margins
        here = replace(self, centre_x=x, centre_y=y)
        return here.panned((left - right) / 2, (top - bottom) / 2)

    def fitted(self, xy: FloatArray, margins: Margins = NO_MARGINS) -> Camera:
        """Return the nearest view, turned as it is, that holds all positions in the part that nothing floats over.

        Parameters
        ----------
        xy
            Metres, shape (n, 2); those that are NaN are left out, and without any the view stays as it is.
        """
        xy = np.asarray(xy, dtype=float).reshape(-1, 2)
        xy = xy[np.isfinite(xy).all(axis=1)]
        if not len(xy):
            return self
        left, top, right, bottom = margins
        across = replace(self, centre_x=0.0, centre_y=0.0, px_per_m=1.0, width=0.0, height=0.0)
        spread = across.to_screen(xy)
        low, high = spread.min(axis=0), spread.max(axis=0)
        room = np.array([self.width - left - right, self.height - top - bottom]) - 2 * FIT_PADDING_PX
        room = np.maximum(room, 16.0)
        size = high - low
        alone = (size < room / ALONE_PX_PER_M).all()
        scale = ALONE_PX_PER_M if alone else float(np.min(room / np.maximum(size, 1e-9)))
        scale = min(max(scale, LEAST_PX_PER_M), MOST_PX_PER_M)
        middle = across.to_world(((low + high) / 2)[None, :])[0]
        return replace(self, px_per_m=scale).centred(float(middle[0]), float(middle[1]), margins)

    def toward(self, other: Camera, part: float) -> Camera:
        """Return a view on the way to another one, 0 here up to 1 there; turned the shorter way round."""
        if part >= 1:
            return other
        turn = (other.turn_deg - self.turn_deg + 180.0) % 360.0 - 180.0
        scale = self.px_per_m * (other.px_per_m / self.px_per_m) ** part
        # With a changing scale the middle moves so that it goes straight over the screen.
        gone = part
        if abs(other.px_per_m - self.px_per_m) > 1e-9 * self.px_per_m:
            gone = (1 / self.px_per_m - 1 / scale) / (1 / self.px_per_m - 1 / other.px_per_m)
        return replace(
            other,
            centre_x=self.centre_x + (other.centre_x - self.centre_x) * gone,
            centre_y=self.centre_y + (other.centre_y - self.centre_y) * gone,
            px_per_m=scale,
            turn_deg=_around(self.turn_deg + turn * part),
        )


def _around(bearing_deg: float) -> float:
    """Return a bearing as 0 up to 360; what is a hair below 0 becomes 360 at first."""
    return bearing_deg % 360.0 % 360.0
