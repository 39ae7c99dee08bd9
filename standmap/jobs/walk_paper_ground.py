"""The ground of a walk sheet: everything brought into the stand's working frame, metres."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from standmap.formats.walk_sheet_values import XY, Ground, Sign, Spot, Way
from standmap.jobs.opening import working_frame
from standmap.jobs.planned_round import PlannedRound, PlannedTrip
from standmap.jobs.positions import xy
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat, Standing
from standmap.survey.frame import WorkingFrame

_SIGNS = {str(sign): sign for sign in Sign}


@dataclass(frozen=True, slots=True)
class Flat:
    """The plane that a sheet is drawn on."""

    frame: WorkingFrame

    @classmethod
    def of(cls, stand: Stand, planned: PlannedRound) -> Flat:
        """Return the stand's own plane; one about the start where the stand has none."""
        return cls.about(stand, planned.start.at)

    @classmethod
    def about(cls, stand: Stand, at: LonLat) -> Flat:
        """Return the stand's own plane; one about a position where the stand has none."""
        return cls(working_frame(stand) or WorkingFrame(*at))

    def way(self, course: Sequence[LonLat]) -> Way:
        """Return positions in metres, without those that the plane does not reach."""
        at = xy(self.frame, course)
        return tuple((float(x), float(y)) for x, y in at[np.isfinite(at).all(axis=1)].tolist())

    def spot(self, at: LonLat) -> XY:
        """Return one position in metres.

        Raises
        ------
        UserError
            If the plane does not reach it.
        """
        x, y = self.frame.to_xy(np.array([at[0]]), np.array([at[1]]))
        return float(x[0]), float(y[0])

    def legs(self, trip: PlannedTrip) -> tuple[Way, ...]:
        """Return the ways of a trip: to each stop and back, or all in one where only that is known."""
        if any(stop.course for stop in trip.stops):
            courses: list[Sequence[LonLat]] = [*(stop.course for stop in trip.stops), trip.home_course]
        else:
            courses = _cut(trip.course, [stop.tree.at for stop in trip.stops])
        return tuple(way for way in map(self.way, courses) if len(way) > 1)


def _cut(course: Sequence[LonLat], stops: Sequence[LonLat]) -> list[Sequence[LonLat]]:
    """Return a course in pieces, cut where it comes nearest to each stop in turn."""
    pieces: list[Sequence[LonLat]] = []
    begun = 0
    for lon, lat in stops:
        away = [(x - lon) ** 2 + (y - lat) ** 2 for x, y in course[begun:]]
        reached = begun + away.index(min(away)) if away else begun
        pieces.append(course[begun : reached + 1])
        begun = reached
    return [*pieces, course[begun:]]


def ground_of(stand: Stand, planned: PlannedRound, flat: Flat) -> Ground:
    """Return what is drawn under a walk: places, lines, areas, and the trees that it does not stop at."""
    return ground_round(stand, {stop.tree.key for trip in planned.trips for stop in trip.stops}, flat)


def ground_round(stand: Stand, visited: Collection[str], flat: Flat) -> Ground:
    """Return the same round trees by their keys."""
    others = [t.at for t in stand.present if t.standing is Standing.STANDING and t.key not in visited]
    spots = []
    for place in stand.places:
        spots += [Spot(_SIGNS.get(str(place.kind), Sign.LANDMARK), place.name, at) for at in flat.way([place.at])]
    lines = [(_SIGNS.get(str(line.kind), Sign.FENCE), flat.way(line.course)) for line in stand.lines]
    areas = [(_SIGNS[str(area.kind)], tuple(map(flat.way, area.outline))) for area in stand.areas]
    return Ground(
        spots=tuple(spots),
        lines=tuple((sign, way) for sign, way in lines if len(way) > 1),
        areas=tuple((sign, rings) for sign, rings in areas if rings and all(len(ring) > 2 for ring in rings)),
        trees=flat.way(others),
    )


def signs_of(ground: Ground) -> tuple[Sign, ...]:
    """Return the signs that a ground is drawn with, in the order of a legend; trees apart."""
    used = {spot.sign for spot in ground.spots}
    used |= {sign for sign, _ in (*ground.lines, *ground.areas)}
    return tuple(sign for sign in Sign if sign in used)
