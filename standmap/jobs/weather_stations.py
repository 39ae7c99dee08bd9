"""Where the stations stand whose weather a stand keeps: a setting of the stand, read and brought up to date."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from standmap.formats.content import FoundStation

STATIONS_SETTING = "weather_stations"

FAR_KM = 50.0
"""A station farther from the stand than this is cautioned of: an assumption."""


def kept_stations(settings: Mapping[str, object]) -> dict[str, FoundStation]:
    """Return the stations that a stand keeps, by what their rows call them; one that cannot be read is left out."""
    kept = settings.get(STATIONS_SETTING)
    found: dict[str, FoundStation] = {}
    for key, place in kept.items() if isinstance(kept, Mapping) else ():
        try:
            at = (float(place["lon"]), float(place["lat"]))
            height = place.get("elevation_m")
            found[key] = FoundStation(key, str(place.get("name", "")), at, None if height is None else float(height))
        except (AttributeError, KeyError, TypeError, ValueError):
            continue
    return found


def with_stations(settings: Mapping[str, object], stations: Iterable[FoundStation]) -> dict[str, object] | None:
    """Return the setting with stations whose place is known added; None where it stays as it is.

    What a file does not tell of a station that is kept, its height or its name, stays.
    """
    known = kept_stations(settings)
    fresh = dict(known)
    for station in stations:
        if station.at is not None:
            before = known.get(station.station, station)
            height = before.elevation_m if station.elevation_m is None else station.elevation_m
            fresh[station.station] = FoundStation(station.station, station.name or before.name, station.at, height)
    if fresh == known:
        return None
    return {
        key: {"lon": one.at[0], "lat": one.at[1], "elevation_m": one.elevation_m, "name": one.name}
        for key, one in fresh.items()
        if one.at is not None
    }
