"""The ground of a stand as rounds walk it: everything mapped, in the working frame."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from standmap.jobs.positions import xy
from standmap.rounds.ground import Course, Crossing, Gate, Ground, Hazard, NoGo, Xy
from standmap.rounds.heights import Heights
from standmap.stand.ground import AreaKind, LineKind, PlaceKind
from standmap.stand.records import Terrain
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame


def walked_ground(stand: Stand, frame: WorkingFrame) -> Ground:
    """Return what walking in a stand has to do with; what lies out of the frame's reach is left out."""

    def flat(points: Sequence[LonLat]) -> tuple[Xy, ...]:
        found = xy(frame, points)
        return tuple((float(x), float(y)) for x, y in found[np.isfinite(found[:, 0])])

    def courses(kind: LineKind) -> tuple[Course, ...]:
        found = ((flat(line.course), line.name) for line in stand.lines if line.kind is kind)
        return tuple(Course(points, name) for points, name in found if len(set(points)) > 1)

    def spots(*kinds: PlaceKind) -> list[tuple[Xy, str, PlaceKind]]:
        return [(at, p.name, p.kind) for p in stand.places if p.kind in kinds for at in flat([p.at])]

    areas = ((tuple(flat(ring) for ring in a.outline), a.name) for a in stand.areas if a.kind is AreaKind.NO_GO)
    whole = (
        (tuple(ring for ring in rings if len(set(ring)) > 2), name) for rings, name in areas if len(set(rings[0])) > 2
    )
    return Ground(
        streams=courses(LineKind.STREAM),
        crossings=tuple(
            Crossing(at, name, kind is PlaceKind.FORD) for at, name, kind in spots(PlaceKind.BRIDGE, PlaceKind.FORD)
        ),
        no_go=tuple(NoGo(rings, name) for rings, name in whole),
        hazards=tuple(Hazard(at, name) for at, name, _ in spots(PlaceKind.HAZARD)),
        fences=courses(LineKind.FENCE),
        gates=tuple(Gate(at, name) for at, name, _ in spots(PlaceKind.GATE)),
        paths=courses(LineKind.PATH),
        heights=None if stand.terrain is None else heights_in(stand.terrain),
    )


def heights_in(terrain: Terrain) -> Heights | None:
    """Return the heights that a stand keeps; None where what is kept is no grid of heights."""
    grid = np.frombuffer(terrain.heights, "<f4")
    if len(grid) != terrain.row_count * terrain.column_count:
        return None
    try:
        table = grid.reshape(terrain.row_count, terrain.column_count)
        return Heights(terrain.east_m, terrain.north_m, terrain.cell_m, table)
    except ValueError:
        return None
