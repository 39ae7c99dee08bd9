"""One sight by tape and compass: its level length, its bearing on the grid, how sure they are, what looks misread.

Everything is on the grid of the working frame: x metres east, y metres north, bearings clockwise from grid north.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from standmap.stand.sights import North, Sight

XY = tuple[float, float]
"""Metres east and north of the frame's centre."""

COMPASS_SIGMA_DEG = 2.0
"""Standard deviation of a bearing by a hand-held compass, of the mean of two 1/sqrt(2) of it: an assumption."""

TAPE_PART, PACES_PART = 0.01, 0.07
"""Standard deviation of a length by tape or by counted paces, a part of it: assumptions."""

SLOPE_SIGMA_DEG = 1.0
"""Standard deviation of a slope that was read; a line that was held level by eye has none here: an assumption."""

LEAST_TAPE_SIGMA_M = 0.05
"""No tape is read at the bark better than this: an assumption."""

BEARINGS_AGREE_DEG = 6.0
"""A bearing and its back bearing that differ by more are read again: three standard deviations of their difference
are 8.5 degrees, but local iron shows before that (common practice, no source)."""

STEEPEST_DEG = 45.0
"""A steeper line of sight is more often a wrong sign or a percentage taken for degrees (common practice, no source)."""

LONGEST_M = 100.0
"""Tapes are 20 to 50 m long; a longer line was paced or is a slip of the decimal mark (common practice, no source)."""

_PACES = frozenset({"paces", "pace"})


@dataclass(frozen=True, slots=True)
class Instruments:
    """How good tape, paces, compass and slope usually are where a sight does not tell: standard deviations.

    Attributes
    ----------
    tape_part, paces_part
        A part of the length.
    """

    compass_deg: float = COMPASS_SIGMA_DEG
    tape_part: float = TAPE_PART
    paces_part: float = PACES_PART
    slope_deg: float = SLOPE_SIGMA_DEG

    def told(self, sight: Sight) -> Sight:
        """Return a sight that tells how good its readings are, by these instruments where it did not."""
        degrees = self.compass_deg if sight.sigma_deg is None else sight.sigma_deg
        return replace(sight, sigma_deg=degrees, sigma_m=sigma_m(sight, self))


USUAL = Instruments()


def level_distance_m(sight: Sight) -> float | None:
    """Return the level distance in metres of a sight, its slope taken out; None where no length was measured."""
    if sight.distance_m is None:
        return None
    return sight.distance_m * math.cos(math.radians(sight.slope_deg))


def turn_deg(from_deg: float, to_deg: float) -> float:
    """Return the turn from one bearing to another, over -180 up to 180 degrees, clockwise positive."""
    return 180.0 - (180.0 - (to_deg - from_deg)) % 360.0


def grid_bearing_deg(sight: Sight, convergence_deg: float = 0.0) -> float | None:
    """Return the bearing of a sight on the grid, from 0 up to 360 degrees; None where no bearing was read.

    It is the mean of the bearing and of the back bearing turned round, magnetic north turned to true north.

    Parameters
    ----------
    convergence_deg
        Grid bearing + convergence = true bearing.
    """
    there = sight.bearing_deg
    back = None if sight.back_bearing_deg is None else sight.back_bearing_deg + 180.0
    if there is None:
        if back is None:
            return None
        read = back
    else:
        read = there if back is None else there + turn_deg(there, back) / 2
    to_true = (sight.declination_deg or 0.0) if sight.north is not North.TRUE else 0.0
    found = (read + to_true - convergence_deg) % 360.0
    return 0.0 if found >= 360.0 else found  # -1e-20 % 360 is 360


def sigma_m(sight: Sight, usual: Instruments = USUAL) -> float:
    """Return the standard deviation of the level length of a sight in metres, assumed where it is not told."""
    if sight.sigma_m is not None:
        return sight.sigma_m
    if sight.distance_m is not None:
        reach = sight.distance_m
    else:
        reach = math.hypot(sight.along_m or 0.0, sight.offset_m or 0.0)
    part = usual.paces_part if sight.given_unit.casefold() in _PACES else usual.tape_part
    by_slope = reach * math.sin(math.radians(sight.slope_deg)) * math.radians(usual.slope_deg)
    return math.hypot(max(part * reach, LEAST_TAPE_SIGMA_M), by_slope)


def sigma_deg(sight: Sight) -> float:
    """Return the standard deviation of the bearing of a sight in degrees, of the mean where it was read both ways."""
    one = COMPASS_SIGMA_DEG if sight.sigma_deg is None else sight.sigma_deg
    both = sight.bearing_deg is not None and sight.back_bearing_deg is not None
    return one / math.sqrt(2) if both else one


def misreadings(sight: Sight) -> tuple[str, ...]:
    """Return what in a sight itself looks misread, each a phrase without a full stop."""
    found: list[str] = []
    if sight.bearing_deg is not None and sight.back_bearing_deg is not None:
        apart = abs(turn_deg(sight.bearing_deg + 180.0, sight.back_bearing_deg))
        if apart > 180.0 - BEARINGS_AGREE_DEG:
            found.append(
                f"bearing {sight.bearing_deg:g}° and back bearing {sight.back_bearing_deg:g}° point the same way: "
                "one was read at the wrong end of the needle, or is no back bearing"
            )
        elif apart > BEARINGS_AGREE_DEG:
            found.append(
                f"bearing {sight.bearing_deg:g}° and back bearing {sight.back_bearing_deg:g}° "
                f"are {apart:.1f}° off a straight line"
            )
    if abs(sight.slope_deg) > STEEPEST_DEG:
        found.append(f"a slope of {sight.slope_deg:g}° is steeper than {STEEPEST_DEG:g}°; is it a percentage?")
    if sight.distance_m is not None and sight.distance_m > LONGEST_M:
        found.append(f"{sight.distance_m:.1f} m is longer than {LONGEST_M:g} m; is the decimal mark in its place?")
    if sight.from_key == sight.to_key:
        found.append("it leads from a point to the same point")
    if sight.toward_key is not None and sight.toward_key == sight.from_key:
        found.append("its base line has no length")
    return tuple(found)


def offset_point(start: XY, end: XY, along_m: float, offset_m: float) -> XY | None:
    """Return the point at a distance along a base line and square to it, right positive; None if it has no length."""
    east, north = end[0] - start[0], end[1] - start[1]
    length = math.hypot(east, north)
    if length == 0.0:
        return None
    east, north = east / length, north / length
    return start[0] + along_m * east + offset_m * north, start[1] + along_m * north - offset_m * east


def polar_point(at: XY, bearing_deg: float, distance_m: float) -> XY:
    """Return the point at a grid bearing and a level distance from another."""
    turn = math.radians(bearing_deg)
    return at[0] + distance_m * math.sin(turn), at[1] + distance_m * math.cos(turn)


def grid_turn_deg(a: XY, b: XY) -> float:
    """Return the grid bearing from one point to another, -180 to 180 degrees."""
    return math.degrees(math.atan2(b[0] - a[0], b[1] - a[1]))


def misfit_m(sight: Sight, start: XY, end: XY, base_end: XY | None = None, convergence_deg: float = 0.0) -> float:
    """Return how far from `end` a sight puts it: as far as it tells, so a tape alone tells nothing of the side.

    Parameters
    ----------
    base_end
        For an offset: the far end of its base line.
    """
    if sight.toward_key is not None:
        spot = None
        if base_end is not None:
            spot = offset_point(start, base_end, sight.along_m or 0.0, sight.offset_m or 0.0)
        return math.inf if spot is None else math.dist(spot, end)
    apart, length = math.dist(start, end), level_distance_m(sight)
    bearing = grid_bearing_deg(sight, convergence_deg)
    if bearing is None:
        return 0.0 if length is None else abs(length - apart)
    if length is not None:
        return math.dist(polar_point(start, bearing, length), end)
    off = abs(turn_deg(bearing, grid_turn_deg(start, end)))
    return apart if off >= 90.0 else apart * math.sin(math.radians(off))


def misfit_sigma_m(sight: Sight, apart_m: float) -> float:
    """Return the standard deviation that the measuring itself gives the misfit of a sight, metres.

    Parameters
    ----------
    apart_m
        How far the two points are apart.
    """
    if sight.toward_key is not None:
        return math.sqrt(2) * sigma_m(sight)
    square = 0.0 if sight.distance_m is None else sigma_m(sight) ** 2
    if sight.bearing_deg is not None or sight.back_bearing_deg is not None:
        square += (math.radians(sigma_deg(sight)) * apart_m) ** 2
    return math.sqrt(square)
