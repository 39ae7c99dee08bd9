"""The stations of a file of weather: all of a few, or the one that is wanted."""

from __future__ import annotations

from pathlib import Path

from standmap.formats.content import FoundStation
from standmap.formats.faults import refused, shown

MOST_STATIONS = 20
"""A file of more stations than this is a whole country's: one of them is to be named."""

NAMED = 5
"""So many stations of a file are named where one has to be chosen."""


class Stations:
    """The stations of one file, as its rows tell them.

    Parameters
    ----------
    wanted
        The only one that is read; None for all of them.

    Attributes
    ----------
    found
        Those that are read, by what the rows call them.
    """

    def __init__(self, path: Path, wanted: str | None) -> None:
        self._path = path
        self._wanted = None if wanted is None else wanted.strip().casefold()
        self._asked = wanted
        self._others: dict[str, str] = {}
        self.found: dict[str, FoundStation] = {}

    def new(self, station: str) -> bool:
        """Return whether a station was not met before."""
        return station not in self.found and station not in self._others

    def wanted(self, station: str) -> bool:
        """Return whether a station that was added is read."""
        return station in self.found

    def add(self, station: FoundStation) -> None:
        """Remember a station.

        Raises
        ------
        UserError
            If there are too many to read all, and none was named.
        """
        if self._wanted is not None and self._wanted not in (station.station.casefold(), station.name.casefold()):
            if len(self._others) < NAMED:
                self._others[station.station] = station.name
            return
        if len(self.found) == MOST_STATIONS:
            named = _named([(s.station, s.name) for s in self.found.values()])
            raise refused(
                self._path,
                f"holds more than {MOST_STATIONS} stations ({named})",
                "name the one near your wood with --station",
            )
        self.found[station.station] = station

    def check(self) -> None:
        """Make sure that the wanted station was there.

        Raises
        ------
        UserError
            If it was not; some that were are named.
        """
        if self._asked is not None and not self.found:
            there = f"; there are {_named(list(self._others.items()))}" if self._others else ""
            raise refused(
                self._path, f"holds no station '{shown(self._asked)}'{there}", "name one of the file with --station"
            )


def _named(stations: list[tuple[str, str]]) -> str:
    names = [shown(station if name in ("", station) else f"{station} {name}") for station, name in stations]
    return ", ".join(names[:NAMED]) + (", ..." if len(names) >= NAMED else "")
