"""The files of a planned round, for a pocket receiver, a map, a spreadsheet, paper and a phone."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from standmap.formats.round_files import StopRow, TripLine, WalkFile, walk_csv, walk_geojson, walk_gpx
from standmap.jobs.planned_round import PlannedRound
from standmap.jobs.writing_files import write_files
from standmap.settings import Settings
from standmap.stand.snapshot import Stand


def write_round(planned: PlannedRound, folder: Path, more: Mapping[str, bytes] | None = None) -> tuple[Path, ...]:
    """Write walk.gpx, walk.geojson and walk.csv; those of an earlier plan in this folder are written over.

    Parameters
    ----------
    more
        Other files of the walk by name, written with them, such as those of `sheets`.

    Raises
    ------
    UserError
        If the disk refuses; then none is there half-written.
    """
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
    walk = WalkFile(f"{planned.purpose} round from {planned.start.name}", planned.day, trips)
    contents = {"walk.gpx": walk_gpx(walk), "walk.geojson": walk_geojson(walk), "walk.csv": walk_csv(walk)}
    return write_files(folder, {**contents, **(more or {})}, replace=True)


def sheets(planned: PlannedRound, stand: Stand, name: str, plan_key: str, settings: Settings) -> dict[str, bytes]:
    """Return walk.pdf and walk.html: the walk on paper and on a phone, in the person's units and language.

    Parameters
    ----------
    name
        What the stand is called: the name of its file.
    plan_key
        Of the walk as it was given out.
    """
    from standmap.jobs.walk_paper import paper_options, walk_paper
    from standmap.jobs.walk_phone import phone_options, walk_phone

    return {
        "walk.pdf": walk_paper(planned, stand, name, paper_options(settings)),
        "walk.html": walk_phone(planned, stand, plan_key, phone_options(settings)).encode(),
    }
