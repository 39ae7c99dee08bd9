"""Invented networks with their truth, for tests and benchmarks."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from standmap.stand.sights import North, Sight
from standmap.stand.walks import FloatArray
from standmap.survey.one_sight import XY
from standmap.survey.readings import SeenAt


@dataclass(frozen=True)
class Wood:
    """True places in metres, shape (n, 2), what was measured, and how far the walk was off."""

    truth: FloatArray
    seen: list[SeenAt]
    sights: list[Sight]
    shift_m2: dict[str, float]

    @property
    def begun(self) -> dict[str, XY]:
        """Return the places as the receiver gave them."""
        return {s.point: s.xy for s in self.seen}


def wood(
    rng: np.random.Generator,
    truth: FloatArray,
    *,
    neighbours: int = 3,
    gps_sigma_m: float = 2.5,
    shared_sigma_m: float = 1.5,
    tape_part: float = 0.01,
    compass_deg: float = 2.0,
) -> Wood:
    """Return a wood in which every tree was stopped at and taped to its nearest neighbours."""
    n = len(truth)
    apart = np.hypot(truth[:, None, 0] - truth[None, :, 0], truth[:, None, 1] - truth[None, :, 1])
    nearest = np.argsort(apart, axis=1, kind="stable")[:, 1 : neighbours + 1]
    sights: list[Sight] = []
    for i in range(n):
        for j in nearest[i]:
            way = truth[j] - truth[i]
            length = math.hypot(*way)
            bearing = math.degrees(math.atan2(way[0], way[1])) + rng.normal(0, compass_deg)
            sights.append(
                Sight(
                    f"s{len(sights)}",
                    f"p{i}",
                    f"p{j}",
                    bearing_deg=bearing % 360,
                    north=North.TRUE,
                    distance_m=abs(length * (1 + rng.normal(0, tape_part))),
                    written_at=f"line {len(sights) + 2}",
                )
            )
    shift = rng.normal(0, shared_sigma_m, 2)
    own = (gps_sigma_m**2, gps_sigma_m**2, 0.0)
    seen = [
        SeenAt(f"g{i}", f"p{i}", (float(x), float(y)), own, "w")
        for i, (x, y) in enumerate(truth + shift + rng.normal(0, gps_sigma_m, (n, 2)))
    ]
    return Wood(truth, seen, sights, {"w": shared_sigma_m**2})


def grid(rows: int, columns: int, rng: np.random.Generator, spacing_m: float = 6.0) -> FloatArray:
    """Return trees that stand about on a grid, shape (rows * columns, 2)."""
    at = np.array([(i * spacing_m, j * spacing_m) for i in range(rows) for j in range(columns)], dtype=float)
    return at + rng.uniform(-1.5, 1.5, at.shape)


def misread(sight: Sight, by_deg: float) -> Sight:
    """Return a sight whose bearing was misread."""
    return replace(sight, bearing_deg=((sight.bearing_deg or 0.0) + by_deg) % 360)
