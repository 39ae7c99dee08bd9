"""Small stands of tapped trees about a gate, for tests of walks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from standmap.stand.ground import Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import LonLat, Measurement, Tree

DAY = date(2026, 3, 28)
EAST = 1.9e-5  # about a metre of longitude at 61.9 N
NORTH = 8.98e-6  # about a metre of latitude
LON, LAT = 27.6, 61.9


def at(east_m: float, north_m: float) -> LonLat:
    """Return a position by metres from the gate."""
    return (LON + east_m * EAST, LAT + north_m * NORTH)


def wood(*offsets: tuple[float, float], tapped: bool = True, **more: object) -> Stand:
    """Return a stand of trees at metres from the gate, each with one open hole of the day before unless said."""
    trees = tuple(Tree(f"t{i}", f"B{i}", at(x, y), species="Betula pendula") for i, (x, y) in enumerate(offsets))
    holes = tuple(
        TapHole(f"h{i}", t.key, 1, Wound.HOLE, date(2026, 3, 27), bit_mm=10.0 if i % 2 == 0 else None)
        for i, t in enumerate(trees)
    )
    girths = tuple(Measurement(f"m{i}", t.key, date(2026, 1, 5), 900.0, None, "900", "mm") for i, t in enumerate(trees))
    stand = Stand(
        trees=trees,
        measurements=girths,
        holes=holes if tapped else (),
        places=(Place("g", "gate", PlaceKind.GATE, (LON, LAT)),),
        settings={"working_frame": {"lon0": LON, "lat0": LAT}},
    )
    return replace(stand, **more)  # type: ignore[arg-type]
