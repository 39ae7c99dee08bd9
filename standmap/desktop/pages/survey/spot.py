"""Positions between the map and the fields: what was not touched stays exactly as it was. No Qt here."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from standmap.desktop.pages.survey.course import XY
from standmap.jobs.positions import xy
from standmap.stand.tree import LonLat
from standmap.survey.frame import WorkingFrame


class Spots:
    """Turns positions into metres of a frame and back; a position that went in comes out the same.

    Without a frame, in an empty stand, nothing has a place on the map.
    """

    def __init__(self, frame: WorkingFrame | None) -> None:
        self.frame = frame
        self._known: dict[XY, LonLat] = {}

    def to_map(self, points: Sequence[LonLat]) -> list[XY]:
        """Return the places of positions that the frame reaches."""
        if self.frame is None or not points:
            return []
        found: list[XY] = []
        for point, (east, north) in zip(points, xy(self.frame, points).tolist(), strict=True):
            if np.isfinite(east):
                found.append((east, north))
                self._known[east, north] = point
        return found

    def to_earth(self, places: Sequence[XY]) -> tuple[LonLat, ...]:
        """Return the positions of places on the map, rounded to about a centimetre where they are new."""
        return tuple(self._known.get(place) or self._fresh(place) for place in places)

    def _fresh(self, place: XY) -> LonLat:
        assert self.frame is not None  # noqa: S101 - a place on the map has a frame
        lon, lat = self.frame.to_lonlat(np.array(place[0]), np.array(place[1]))
        return (round(float(lon), 7), round(float(lat), 7))
