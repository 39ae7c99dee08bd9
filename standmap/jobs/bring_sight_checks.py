"""What speaks against a line of a field sheet: misread, missing what is known, or in a loop that does not close."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from standmap.stand.sights import Sight

if TYPE_CHECKING:
    from standmap.survey.sighting import Placed

Spread = tuple[float, float, float]
"""var_e, var_n, cov_en in square metres."""

At = tuple[tuple[float, float], Spread]
"""Metres in the working frame, and the covariance."""

GROSS_SIGMAS = 4.0
"""A misfit of more standard deviations is a blunder and no error of measuring: an assumption."""

LEAST_GROSS_M = 1.5
"""A smaller misfit is left to the adjustment: an assumption."""

USELESS_TURN_DEG = 30.0
"""A bearing and its back bearing that are farther off a straight line cannot both be used: an assumption."""


@dataclass(frozen=True, slots=True)
class Closing:
    """How lines meet that come back to a point: by how many metres they miss it, after how many metres."""

    off_m: float
    over_m: float


def closings(rows: Sequence[Sight], held: Mapping[str, At], convergence_deg: float) -> Iterator[Closing | None]:
    """Yield for each sight how it meets what is known and what the sights before it placed; None where it goes on."""
    from standmap.survey.sighting import level_distance_m, misfit_m, place

    for number, row in enumerate(rows):
        ends = (row.from_key, row.to_key, row.toward_key)
        before = place(held, rows[:number], convergence_deg)
        if not all(key is None or key in held or key in before for key in ends):
            yield None
            continue
        at = {key: held[key][0] if key in held else before[key].xy for key in ends if key is not None}
        base = None if row.toward_key is None else at[row.toward_key]
        off = misfit_m(row, at[row.from_key], at[row.to_key], base, convergence_deg)
        loop = hangs_on(row.from_key, before, rows) ^ hangs_on(row.to_key, before, rows)
        over = math.fsum(level_distance_m(rows[n]) or 0.0 for n in (*loop, number))
        yield Closing(off, over)


def same_sight(sight: Sight) -> tuple[object, ...]:
    """Return what makes two sights one: the same reading between the same points on the same day."""
    return (
        sight.from_key,
        sight.to_key,
        sight.toward_key,
        sight.bearing_deg,
        sight.back_bearing_deg,
        sight.north,
        sight.distance_m,
        sight.slope_deg,
        sight.along_m,
        sight.offset_m,
        sight.measured_on,
    )


def useless(row: Sight) -> bool:
    """Return whether a bearing and its back bearing contradict each other so that neither tells anything."""
    from standmap.survey.sighting import turn_deg

    if row.bearing_deg is None or row.back_bearing_deg is None:
        return False
    return abs(turn_deg(row.bearing_deg + 180.0, row.back_bearing_deg)) > USELESS_TURN_DEG


def hangs_on(key: str, placed: Mapping[str, Placed], rows: Sequence[Sight], but: int | None = None) -> set[int]:
    """Return the numbers of the sights by which a point was placed, those before them included.

    Parameters
    ----------
    but
        A sight that is passed over: what the point hangs on beside it.
    """
    found: set[int] = set()
    ask, asked = [key], {key}
    while ask:
        at = placed.get(ask.pop())
        for number in () if at is None else at.by:
            if number == but:
                continue
            found.add(number)
            row = rows[number]
            more = {k for k in (row.from_key, row.to_key, row.toward_key) if k is not None} - asked
            asked |= more
            ask += sorted(more)
    return found


def gross_m(row: Sight, held: Mapping[str, At], placed: Mapping[str, Placed], convergence_deg: float) -> float | None:
    """Return by how many metres a sight misses where its ends are, if that is no error of measuring."""
    from standmap.survey.sighting import Placed, misfit_m, misfit_sigma_m

    def at(key: str) -> Placed | None:
        if key in held:
            return Placed(*held[key], (0.0, 0.0, 0.0), (), frozenset({key}))
        return placed.get(key)

    start, end = at(row.from_key), at(row.to_key)
    base = None if row.toward_key is None else at(row.toward_key)
    if start is None or end is None or (row.toward_key is not None and base is None):
        return None
    off = misfit_m(row, start.xy, end.xy, None if base is None else base.xy, convergence_deg)
    square = misfit_sigma_m(row, math.dist(start.xy, end.xy)) ** 2
    # What two points hang on in common moves both alike.
    together = start.roots == end.roots
    for spread in (p.measured if together else p.covariance for p in (start, end)):
        square += (spread[0] + spread[1]) / 2
    return off if off > max(GROSS_SIGMAS * math.sqrt(square), LEAST_GROSS_M) else None
