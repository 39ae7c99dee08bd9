"""The files of a planned round, for a pocket receiver, a map and a spreadsheet."""

from __future__ import annotations

from pathlib import Path

from standmap.formats.round_files import StopRow, TripLine, WalkFile, walk_csv, walk_geojson, walk_gpx
from standmap.jobs.planned_round import PlannedRound
from standmap.jobs.writing_files import write_files


def write_round(planned: PlannedRound, folder: Path) -> tuple[Path, ...]:
    """Write walk.gpx, walk.geojson and walk.csv; those of an earlier plan in this folder are written over."""
    trips = tuple(
        TripLine(
            number=trip.number,
            collector=trip.collector,
            course=trip.course,
            stops=tuple(
                StopRow(
                    order=s.order,
                    tree=s.tree.name,
                    id=s.tree.key,
                    at=s.tree.at,
                    litres=round(s.litres, 2),
                    load_kg=round(s.load_kg, 2),
                    leg_m=round(s.leg_m, 1),
                    bearing_true_deg=round(s.bearing_true_deg, 1) % 360,
                    minutes=round(s.minutes, 1),
                )
                for s in trip.stops
            ),
        )
        for trip in planned.trips
    )
    walk = WalkFile(f"collection round from {planned.start.name}", planned.day, trips)
    contents = {"walk.gpx": walk_gpx(walk), "walk.geojson": walk_geojson(walk), "walk.csv": walk_csv(walk)}
    return write_files(folder, contents, replace=True)
