"""A small wood above and below a brook, and walks in it made by hand: what tests of the phone's page share."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from standmap.jobs.planned_round import KitLine, PlannedRound, PlannedTrip, Purpose, RoundStop, Todo
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import LonLat, Tree

DAY = date(2026, 3, 28)
ORIGIN = (29.0, 62.0)
NASTY = (
    "</script><script>document.title='owned'</script>",
    "=cmd('x') " + "longer and longer " * 16 + "\u2028 end",
    "שלום עולם birch",
    "{{script}} $name <!-- ' \" `",
)
"""Names as no wood has them: markup, 300 characters with a line separator, right-to-left, and placeholders."""


def at(east_m: float, north_m: float) -> LonLat:
    """Return a position near the gate, about so many metres east and north of it."""
    return (ORIGIN[0] + east_m / 52_440, ORIGIN[1] + north_m / 111_430)


GATE = Place("gate", "gate", PlaceKind.GATE, at(0, 0))
GROUND = Stand(
    places=(GATE, Place("bridge", "plank bridge", PlaceKind.BRIDGE, at(60, 50))),
    lines=(
        Line("brook", "brook", LineKind.STREAM, (at(-100, 50), at(60, 50), at(300, 52))),
        Line("path", "path", LineKind.PATH, (at(0, 0), at(60, 20), at(60, 90))),
    ),
    areas=(
        Area("bog", "bog", AreaKind.NO_GO, ((at(100, 5), at(140, 5), at(140, 40), at(100, 40), at(100, 5)),)),
        Area(
            "all", "all", AreaKind.PERMITTED, ((at(-60, -20), at(220, -20), at(220, 140), at(-60, 140), at(-60, -20)),)
        ),
    ),
)

COURSES = (
    (at(0, 0), at(20, 30)),
    (at(20, 30), at(60, 45), at(60, 55), at(20, 75)),  # over the bridge
    (at(20, 75), at(110, 90)),
    (at(110, 90), at(60, 55), at(60, 45), at(95, 2), at(150, 20)),  # back over it, and round the bog
)
HOME = (at(150, 20), at(95, 2), at(0, 0))


def walk(purpose: Purpose = Purpose.COLLECTING, names: tuple[str, ...] = ("A1", "A2", "B7", "C12")) -> PlannedRound:
    """Return a walk of one trip over four trees."""
    stops = []
    for order, (name, course) in enumerate(zip(names, COURSES, strict=True), start=1):
        hole = None
        if purpose is not Purpose.TAPPING:
            hole = TapHole(f"hole-{order}", f"tree-{order}", 1, Wound.HOLE, DAY, height_mm=900, side_deg=135)
        stops.append(
            RoundStop(
                order=order,
                tree=Tree(f"tree-{order}", name, course[-1]),
                hole=hole,
                litres=3.1 if purpose is Purpose.COLLECTING else 0.0,
                load_kg=3.1 * order,
                leg_m=50.0,
                bearing_true_deg=30.0,
                bends=len(course) > 2,
                minutes=3.0 * order,
                key=f"tree-{order}/1" if hole is None else hole.key,
                high_l=4.4,
                course=course,
                todo=(Todo("take the tube out", "common practice, no source"),) if purpose is Purpose.CLOSING else (),
                cautions=("check the tag",) if order == 2 else (),
                full_at=datetime(2026, 3, 27 + order, 9, 40, tzinfo=UTC) if purpose is Purpose.COLLECTING else None,
            )
        )
    course = (*COURSES[0], *(p for leg in (*COURSES[1:], HOME) for p in leg[1:]))
    trip = PlannedTrip(1, 1, 600.0, 40.0, 13.4, tuple(stops), course, home_m=210.0, home_course=HOME)
    return PlannedRound(
        day=DAY,
        start=GATE,
        seed=1,
        repeatable=True,
        proved=True,
        stopped="proved",
        length_m=600.0,
        minutes=40.0,
        trips=(trip,),
        left_out=(("D4", "cut off by the brook"),),
        purpose=purpose,
        back_by=datetime(2099, 3, 28, 9, 30, tzinfo=UTC),
        contact="somebody at home",
        kit=(KitLine("cans", 2, "10 L each"), KitLine("lamp", None)),
        notes=("walked at 3 km/h with an empty can",),
        cautions=("steep below the bridge",),
    )


def two_collectors() -> PlannedRound:
    """Return the same walk shared by two people, each with two trees."""
    planned = walk()
    whole = planned.trips[0]
    first = replace(whole, who="Ann", stops=whole.stops[:2], home_course=(COURSES[1][-1], at(0, 0)))
    second = replace(whole, number=2, collector=2, stops=whole.stops[2:])
    return replace(planned, trips=(first, second))
