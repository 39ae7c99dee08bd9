"""How measures are told in the person's units and language."""

from __future__ import annotations

from collections.abc import Sequence

from standmap.desktop.measuring.measure import Measure, Point, What, area_of, line_of
from standmap.desktop.words import tr
from standmap.survey.frame import WorkingFrame
from standmap.survey.north import Declination
from standmap.units_shown import UnitsShown


def measure_lines(
    measure: Measure, hover: Point | None, frame: WorkingFrame, units: UnitsShown, magnetic: Declination | None
) -> list[str]:
    """Return what is read beside the pointer, the main figure first; nothing while there is nothing to tell.

    Parameters
    ----------
    magnetic
        Where bearings are to be told as a compass shows them; None for true bearings.
    """
    points = measure.with_hover(hover)
    if measure.what is What.LINE:
        return _line(points, frame, units, magnetic)
    return _area(points, frame, units)


def _line(points: Sequence[Point], frame: WorkingFrame, units: UnitsShown, magnetic: Declination | None) -> list[str]:
    found = line_of(frame, points)
    if found is None:
        return []
    bearing = bearing_text(found.bearings_deg[-1], magnetic)
    if len(found.legs_m) == 1:
        return [units.distance(found.length_m), bearing]
    last = tr("last leg {length}, {bearing}", length=units.distance(found.legs_m[-1]), bearing=bearing)
    return [units.distance(found.length_m), last]


def _area(points: Sequence[Point], frame: WorkingFrame, units: UnitsShown) -> list[str]:
    found = area_of(frame, points)
    if found is None:
        reached = line_of(frame, points)
        return [] if reached is None else [units.distance(reached.length_m), tr("one more corner makes an area")]
    around = tr("round it {length}", length=units.distance(found.perimeter_m))
    if found.crosses_itself:
        return [tr("the outline crosses itself"), around]
    return [units.area(found.area_m2), around]


def bearing_text(true_deg: float, magnetic: Declination | None) -> str:
    """Return a bearing that says which north it counts from: "077° true", "064° magnetic"."""
    if magnetic is None:
        return tr("{degrees}° true", degrees=f"{round(true_deg) % 360:03d}")
    return tr("{degrees}° magnetic", degrees=f"{round(magnetic.to_magnetic_deg(true_deg)) % 360:03d}")


def north_text(north: Declination) -> str:
    """Return where a compass points, in the person's language."""
    shown = f"{abs(north.deg):.1f}"
    if shown == "0.0":
        return tr("magnetic north is true north")
    if north.deg > 0:
        return tr("magnetic north {degrees}° east of true", degrees=shown)
    return tr("magnetic north {degrees}° west of true", degrees=shown)


def measure_hint() -> list[str]:
    """Return what to do while nothing is measured yet."""
    return [
        tr("click each point, or press Space at a tree"),
        tr("Backspace takes one back, Enter finishes, Escape ends"),
    ]


def where_hint() -> list[str]:
    """Return what to do while no point is asked about yet."""
    return [tr("click a point"), tr("Enter asks about the middle of the map, Escape ends")]
