"""What tests of paper share: planned walks made by hand, with any names and as many stops as wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta, timezone

from standmap.jobs.planned_round import KitLine, Light, PlannedRound, PlannedTrip, Purpose, RoundStop, Todo
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import LonLat, Tree

DAY = date(2026, 3, 28)
LON, LAT = 27.6, 61.9
EAST, NORTH = 1.9e-5, 8.98e-6  # about a metre at 61.9 N


def spot(east_m: float, north_m: float) -> LonLat:
    return LON + east_m * EAST, LAT + north_m * NORTH


def stand_of(names: Sequence[str], step_m: float = 20.0, across: int = 15) -> Stand:
    """Return trees in rows, one hole in each, with every kind of ground about them."""
    trees = tuple(
        Tree(f"0198c0de-0000-7000-8000-{k:012d}", name, spot(30 + step_m * (k % across), 30 + step_m * (k // across)))
        for k, name in enumerate(names)
    )
    holes = tuple(
        TapHole(f"h{k}", t.key, 1, Wound.HOLE, date(2026, 3, 22), height_mm=900, side_deg=170)
        for k, t in enumerate(trees)
    )
    places = (
        Place("u", "upper gate", PlaceKind.GATE, spot(-20, 250)),
        Place("g", "lower gate", PlaceKind.GATE, spot(0, 0)),
        Place("t", "tank", PlaceKind.TANK, spot(10, 0)),
        Place("b", "plank bridge", PlaceKind.BRIDGE, spot(60, 25)),
        Place("z", "leaning spruce", PlaceKind.HAZARD, spot(45, 45)),
    )
    lines = (
        Line("s", "brook", LineKind.STREAM, (spot(60, -20), spot(60, 300))),
        Line("p", "track", LineKind.PATH, (spot(0, 0), spot(200, 25))),
        Line("f", "fence", LineKind.FENCE, (spot(-10, -10), spot(-10, 200))),
    )
    bog = (spot(80, 60), spot(110, 60), spot(110, 90), spot(80, 60))
    areas = (Area("n", "bog", AreaKind.NO_GO, (bog,)),)
    settings = {"working_frame": {"lon0": LON, "lat0": LAT}}
    return Stand(trees=trees, holes=holes, places=places, lines=lines, areas=areas, settings=settings)


def planned_of(
    stand: Stand, *, purpose: Purpose = Purpose.COLLECTING, per_trip: int = 8, collectors: int = 1
) -> PlannedRound:
    """Return a walk over all trees in their order, with everything that may be told of one."""
    tank = next(p for p in stand.places if p.kind is PlaceKind.TANK)
    todo = {
        Purpose.COLLECTING: (Todo("pour into the can", "common practice, no source"),),
        Purpose.TAPPING: (Todo("set the tube", "common practice, no source"), Todo("write down height and side")),
        Purpose.CLOSING: (Todo("take the tube out"), Todo("plug with a peg of 10 mm")),
    }[purpose]
    out = datetime(2026, 3, 28, 5, 45, tzinfo=timezone(timedelta(hours=2)))

    def own(tree: Tree) -> tuple[Todo, ...]:
        asked = Todo(f"may I drill this one? {tree.name} is fit", "the cautious set")
        return (asked,) if purpose is Purpose.TAPPING else ()

    trips: list[PlannedTrip] = []
    for first in range(0, len(stand.trees), per_trip):
        stops, at = [], tank.at
        for k, tree in enumerate(stand.trees[first : first + per_trip], start=first):
            hole = None if purpose is Purpose.TAPPING else stand.holes_of[tree.key][0]
            stops.append(
                RoundStop(
                    order=k + 1, tree=tree, hole=hole, litres=2.5, load_kg=1 + 2.6 * (k - first + 1), leg_m=20.0,
                    bearing_true_deg=44.6, bends=k % 2 == 1, minutes=4.0 * k, key=f"k{k}", course=(at, tree.at),
                    climb_m=3.0 if k % 3 == 0 else 0.0, todo=(*own(tree), *todo),
                    cautions=("check the tag",) if k % 7 == 0 else (), full_at=out + timedelta(hours=8 * k),
                )
            )  # fmt: skip
            at = tree.at
        number = len(trips) + 1
        course = (tank.at, *(s.tree.at for s in stops), tank.at)
        trips.append(
            PlannedTrip(
                number, (number - 1) % collectors + 1, 480.0, 25.0, stops[-1].load_kg, tuple(stops), course,
                start=tank, end=tank, sets_out_min=25.0 * (number - 1), home_m=90.0, home_course=(at, tank.at),
            )
        )  # fmt: skip
    light = Light(*(out + timedelta(minutes=m) for m in (-33, 5, 783, 822, 5)))
    return PlannedRound(
        day=DAY, start=tank, seed=1, repeatable=True, proved=False, stopped="", length_m=480.0 * len(trips),
        minutes=25.0 * len(trips), trips=tuple(trips), left_out=(("B99", "the stream cuts it off"),),
        purpose=purpose, sets_out=out, back_by=out + timedelta(minutes=165), contact="house by the mill",
        light=light, kit=(KitLine("vessels of 4.5 L", 16, "2 hang already"), KitLine("pencil", None)),
        notes=("own records of three nights",), cautions=("at most 15 kg in the hands",),
    )  # fmt: skip


def plain(planned: PlannedRound) -> PlannedRound:
    """Return the same walk with nothing told but what every plan tells."""
    trips = tuple(
        replace(
            t, home_course=(), home_m=0.0, start=None, end=None, stops=tuple(replace(s, course=()) for s in t.stops)
        )
        for t in planned.trips
    )
    return replace(
        planned, trips=trips, sets_out=None, back_by=None, contact="", light=None, kit=(), notes=(), cautions=(),
        left_out=(),
    )  # fmt: skip
