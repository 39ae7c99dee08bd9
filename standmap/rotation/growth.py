"""How fast a stem's girth grows, from its own measurements."""

from __future__ import annotations

from collections.abc import Iterable

from standmap.stand.tree import Measurement

LEAST_YEARS = 2.0
"""Measurements closer together than this tell more of the tape than of the tree: an assumption."""

MOST_MM_A_YEAR = 40.0
"""A girth that grows faster was misread somewhere: an assumption (a ring 6 mm wide adds 40 mm of girth)."""

DAYS_A_YEAR = 365.25


def growth_mm_per_year(measurements: Iterable[Measurement]) -> float | None:
    """Return the growth of the girth, millimetres a year, or None where it was not measured.

    Measured means at least two dated girths or diameters, first and last at least `LEAST_YEARS` apart; the line of
    least squares through all of them gives the rate. One below 0 is told as 0, one above `MOST_MM_A_YEAR` is not
    believed.
    """
    dated = [(m.measured_on.toordinal() / DAYS_A_YEAR, m.girth()) for m in measurements if m.measured_on is not None]
    years = [year for year, _ in dated]
    if len(dated) < 2 or max(years) - min(years) < LEAST_YEARS:
        return None
    middle, mean = sum(years) / len(years), sum(girth for _, girth in dated) / len(dated)
    rate = sum((y - middle) * (g - mean) for y, g in dated) / sum((y - middle) ** 2 for y in years)
    return None if rate > MOST_MM_A_YEAR else max(rate, 0.0)
