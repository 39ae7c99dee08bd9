"""Where a compass points: magnetic declination for a place and a day, by the World Magnetic Model.

The model is that of NOAA's National Centers for Environmental Information and the British Geological Survey, made anew
every five years; each edition holds for its own five, and a day outside all of them has no answer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING

from standmap.errors import UserError

if TYPE_CHECKING:
    from pygeomag import GeoMag  # type: ignore[import-untyped]

SOURCE = "World Magnetic Model, NOAA NCEI and BGS"

FIRST_YEAR, LAST_YEAR = 2010, 2029
"""Years for which an edition of the model is at hand, both included."""

UNRELIABLE_BELOW_NT = 2000.0
"""Below this horizontal intensity a compass shows nothing (the model's blackout zone, NOAA NCEI; from memory)."""

WEAK_BELOW_NT = 6000.0
"""Below this horizontal intensity a compass asks for care (the model's caution zone, NOAA NCEI; from memory)."""


@dataclass(frozen=True, slots=True)
class Declination:
    """The angle from true north to magnetic north.

    Attributes
    ----------
    deg
        East positive.
    within_deg
        The model's own standard error at this place.
    model
        Edition, such as "WMM2025".
    from_year, until_year
        The edition holds from the first day of one to the first day of the other.
    weak
        Whether the needle is pulled so weakly that it is to be trusted with care.
    """

    deg: float
    within_deg: float
    day: date
    model: str
    from_year: int
    until_year: int
    weak: bool

    def to_magnetic_deg(self, true_deg: float) -> float:
        """Return the bearing that a compass shows for a true one, 0 up to 360 degrees."""
        return (true_deg - self.deg) % 360.0

    def to_true_deg(self, magnetic_deg: float) -> float:
        """Return the true bearing of what a compass shows, 0 up to 360 degrees."""
        return (magnetic_deg + self.deg) % 360.0


def declination(lon: float, lat: float, day: date, height_m: float = 0.0) -> Declination:
    """Return the declination at a place on a day.

    Parameters
    ----------
    lon, lat
        Degrees, WGS 84.
    height_m
        Above the sea; a kilometre changes nothing that a compass shows.

    Raises
    ------
    UserError
        If no edition of the model holds on that day, or a compass shows nothing there.
    ValueError
        If the place is not on Earth.
    """
    if not (abs(lon) <= 180 and abs(lat) <= 90):
        raise ValueError(f"no position on Earth: longitude {lon}, latitude {lat}")
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise UserError(
            f"magnetic north is not known for {day.isoformat()}",
            f"the model at hand ({SOURCE}) holds from {FIRST_YEAR} to the end of {LAST_YEAR}; use true bearings",
        )
    return _at(lon, lat, height_m, _year(day), day)


def _at(lon: float, lat: float, height_m: float, year: float, day: date) -> Declination:
    model = _model(day.year // 5 * 5)
    found = model.calculate(glat=lat, glon=lon, alt=height_m / 1000.0, time=year)
    if found.h < UNRELIABLE_BELOW_NT:
        raise UserError(
            f"so near to a magnetic pole (latitude {lat:.2f}, longitude {lon:.2f}) a compass shows nothing to go by",
            "use true bearings",
        )
    begun = int(model.life_span[0])
    return Declination(
        deg=float(found.d),
        within_deg=_within_deg(begun, float(found.h)),
        day=day,
        model=f"WMM{begun}",
        from_year=begun,
        until_year=begun + 5,
        weak=float(found.h) < WEAK_BELOW_NT,
    )


def _within_deg(edition: int, horizontal_nt: float) -> float:
    """Return the standard error of the declination, as each edition's report gives it (figures as in pygeomag)."""
    base, pull = {2025: (0.26, 5417.0), 2020: (0.26, 5625.0)}.get(edition, (0.23, 5430.0))
    return math.hypot(base, pull / horizontal_nt)


def _year(day: date) -> float:
    """Return a day as a decimal year."""
    first, following = date(day.year, 1, 1), date(day.year + 1, 1, 1)
    return day.year + (day - first).days / (following - first).days


@lru_cache(maxsize=4)
def _model(edition: int) -> GeoMag:
    from pygeomag import GeoMag

    return GeoMag(base_year=edition)


def wording(found: Declination) -> str:
    """Return the declination in words: "magnetic north 7.3° east of true"."""
    shown = round(abs(found.deg), 1)
    if shown == 0:
        return "magnetic north is true north"
    return f"magnetic north {shown:.1f}° {'east' if found.deg > 0 else 'west'} of true"


def footing(found: Declination) -> str:
    """Return by which model and for which day it is told, and how sure that is."""
    text = f"{found.model}, {found.day.isoformat()}, ± {found.within_deg:.1f}°; holds until the end of "
    text += f"{found.until_year - 1}"
    return text + "; a compass is weak here" if found.weak else text
