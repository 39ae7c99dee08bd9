"""The ground under the trees: which areas each stands in, how near their edges, and plane coordinates in metres.

Whether a tree is in an area is decided in longitude and latitude as drawn, so that a tree on an edge is on it
exactly. Distances are taken in a plane that is scaled about the middle of the stand: over a few kilometres its error
is far below that of any position (for a stand of 5 km at 60 degrees north, below one part in a thousand).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from standmap.rules.decisions import in_force
from standmap.rules.ruleset import RuleSet
from standmap.stand.ground import Area
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat, Tree
from standmap.stand.walks import Stop

if TYPE_CHECKING:
    from shapely import Polygon

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

M_PER_DEGREE = math.pi * 6_371_008.8 / 180
"""Metres in one degree of a great circle; mean radius of the earth after IUGG (from memory)."""

EDGE_SIGMAS = 2.0
"""A tree nearer to an edge than so many standard deviations may stand on its other side."""


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """Where the trees stand in the plane, arrays of shape (n,): metres east and north, covariance in square metres."""

    x_m: FloatArray
    y_m: FloatArray
    var_e_m2: FloatArray
    var_n_m2: FloatArray
    cov_en_m2: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class GroundContext:
    """What one tree's judgement needs to know of all the others, for one stand and season.

    Attributes
    ----------
    row
        Place of each present tree, by key.
    inside, near
        By row: indexes into `stand.areas` of the areas that a tree stands in, and of those whose edge is near.
    giving_in
        For each area: how many trees in it give this season.
    stems
        By rootstock: its stems, where it has more than one.
    undecided
        Where the stops were made of which nobody has said yet at which tree.
    """

    season: int
    mistake_sigma_m: float
    row: Mapping[str, int]
    inside: Mapping[int, tuple[int, ...]]
    near: Mapping[int, tuple[int, ...]]
    giving_in: tuple[int, ...]
    stems: Mapping[str, tuple[Tree, ...]]
    spots: Spots
    undecided: Spots


def ground_context(stand: Stand, season: int, rules: RuleSet) -> GroundContext:
    """Prepare the ground once for the judging of many trees."""
    trees = stand.present
    sigma_m = rules.value("mistake_sigma_m")
    plane = _Plane.about([t.at for t in trees])
    within = inside_areas(stand.areas, trees)
    giving = np.fromiter((gives(stand, t, season) for t in trees), bool, len(trees))
    return GroundContext(
        season=season,
        mistake_sigma_m=sigma_m,
        row={t.key: i for i, t in enumerate(trees)},
        inside=_by_row(within),
        near=_by_row(_near_edges(stand.areas, trees, plane, sigma_m)),
        giving_in=tuple(int(n) for n in (within & giving).sum(axis=1)),
        stems=stems_of(stand),
        spots=_spots(trees, plane, sigma_m),
        undecided=_spots(stand.undecided, plane, sigma_m),
    )


def gives(stand: Stand, tree: Tree, season: int) -> bool:
    """Return whether a tree has a wound of this season."""
    return any(h.season == season for h in stand.holes_of.get(tree.key, ()))


def stems_of(stand: Stand) -> dict[str, tuple[Tree, ...]]:
    """Return the stems of every rootstock that has more than one, in the trees' order.

    Dead and felled stems belong to it still: what was drilled in them was drawn from the same root.
    """
    found: dict[str, list[Tree]] = defaultdict(list)
    for tree in stand.present:
        if tree.rootstock:
            found[tree.rootstock].append(tree)
    return {root: tuple(stems) for root, stems in found.items() if len(stems) > 1}


def inside_areas(areas: Sequence[Area], trees: Sequence[Tree]) -> BoolArray:
    """Return which trees stand in which areas, edges included: shape (areas, trees)."""
    within = np.zeros((len(areas), len(trees)), bool)
    if areas and trees:
        import shapely

        lon, lat = np.array([t.at for t in trees], float).T
        for i, area in enumerate(areas):
            outline = _polygon(area.outline)
            shapely.prepare(outline)
            within[i] = shapely.intersects_xy(outline, lon, lat)
    return within


def full(area: Area, season: int, giving: int) -> bool:
    """Return whether no further tree may be tapped in a permitted area: as many give as its owner lets give."""
    return area.most_trees is not None and giving >= area.most_trees and in_force(area, season)


def _polygon(outline: Sequence[Sequence[LonLat]]) -> Any:
    import shapely

    shape: Polygon = shapely.Polygon(outline[0], list(outline[1:]))
    # A ring that crosses itself is mended to the ground that it goes round.
    return shape if shape.is_valid else shapely.make_valid(shape, method="structure", keep_collapsed=False)


@dataclass(frozen=True, slots=True)
class _Plane:
    """An equirectangular plane about a middle, metres."""

    lon: float
    lat: float

    @classmethod
    def about(cls, positions: Sequence[LonLat]) -> _Plane:
        if not positions:
            return cls(0.0, 0.0)
        # The median of either: one tree put down far away by mistake must not stretch the whole wood.
        lon, lat = np.median(np.array(positions, float), axis=0)
        return cls(float(lon), float(lat))

    def metres(self, positions: Any) -> FloatArray:
        """Return x and y in metres, shape (n, 2), from longitudes and latitudes."""
        at = np.asarray(positions, float).reshape(-1, 2)
        scale = (M_PER_DEGREE * math.cos(math.radians(self.lat)), M_PER_DEGREE)
        return np.column_stack(((at[:, 0] - self.lon) * scale[0], (at[:, 1] - self.lat) * scale[1]))


def _near_edges(areas: Sequence[Area], trees: Sequence[Tree], plane: _Plane, sigma_m: float) -> BoolArray:
    near = np.zeros((len(areas), len(trees)), bool)
    if areas and trees:
        import shapely

        points = shapely.points(plane.metres([t.at for t in trees]))
        reach = np.array([edge_reach_m(t, sigma_m) for t in trees])
        for i, area in enumerate(areas):
            edge = _polygon([[tuple(p) for p in plane.metres(ring)] for ring in area.outline]).boundary
            shapely.prepare(edge)
            # The stubs know one distance only; the function takes an array of them.
            near[i] = shapely.dwithin(edge, points, reach)  # type: ignore[call-overload]
    return near


def edge_reach_m(tree: Tree, mistake_sigma_m: float) -> float:
    """Return how far from an edge a tree's position is in doubt about its side, metres."""
    sigma = tree.sigma_m
    return EDGE_SIGMAS * (mistake_sigma_m if sigma is None else sigma)


def _spots(trees: Sequence[Tree | Stop], plane: _Plane, sigma_m: float) -> Spots:
    at = plane.metres([t.at for t in trees])
    unknown = (sigma_m**2, sigma_m**2, 0.0)
    covariance = np.array(
        [
            unknown if t.var_e_m2 is None or t.var_n_m2 is None else (t.var_e_m2, t.var_n_m2, t.cov_en_m2 or 0.0)
            for t in trees
        ],
        float,
    ).reshape(-1, 3)
    return Spots(at[:, 0], at[:, 1], covariance[:, 0], covariance[:, 1], covariance[:, 2])


def _by_row(matrix: BoolArray) -> dict[int, tuple[int, ...]]:
    found: dict[int, list[int]] = defaultdict(list)
    for row, area in np.argwhere(matrix.T).tolist():
        found[row].append(area)
    return {row: tuple(areas) for row, areas in found.items()}
