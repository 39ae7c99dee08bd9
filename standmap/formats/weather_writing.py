"""Writing the weather of a stand as a table of days, in the columns that `weather_csv` reads."""

from __future__ import annotations

from collections.abc import Mapping

from standmap.formats.content import FoundStation
from standmap.formats.csv_writing import number
from standmap.formats.delimited import guarded, to_bytes
from standmap.stand.snapshot import Stand

HEADER = (
    *("station", "name", "lat", "lon", "elevation_m"),
    *("date", "tmin_c", "tmean_c", "tmax_c", "rain_mm", "wind_m_s"),
)


def write_weather_csv(stand: Stand, stations: Mapping[str, FoundStation]) -> bytes:
    """Return the days of all stations, each with its station's place where that is known, by station and day."""
    rows = []
    for row in sorted(stand.weather, key=lambda w: (w.station, w.day)):
        at = stations.get(row.station, FoundStation(row.station))
        lon, lat = at.at or (None, None)
        rows.append(
            [
                guarded(row.station),
                guarded(at.name),
                number(lat),
                number(lon),
                number(at.elevation_m),
                row.day.isoformat(),
                *map(number, (row.least_c, row.mean_c, row.most_c, row.rain_mm, row.wind_m_s)),
            ]
        )
    return to_bytes(HEADER, rows)
