"""What a position rests on: positions that were taken one by one, and measurements from one point to another."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from standmap.stand.tree import LonLat


class Origin(StrEnum):
    """How a position was taken.

    Attributes
    ----------
    WAYPOINT, PHOTO, LIVE
        A mark of a receiver, where a picture was taken, standing still with a receiver on this machine.
    GIVEN
        Typed, placed by hand, or from a file that does not say more.
    """

    WAYPOINT = "waypoint"
    PHOTO = "photo"
    LIVE = "live"
    GIVEN = "given"


class North(StrEnum):
    """What a bearing is counted from."""

    MAGNETIC = "magnetic"
    TRUE = "true"


@dataclass(frozen=True, slots=True)
class TakenPosition:
    """One position of a tree or a place as it was taken; an adjustment may move the tree, never this.

    The stops of a walk are kept as `Stop` and not again here.

    Attributes
    ----------
    tree_key, place_key
        Exactly one of them is set.
    var_e_m2, var_n_m2, cov_en_m2
        Covariance in square metres, east and north.
    walk_key
        The walk whose common shift it shares, where it was taken on one.
    used
        False when a person has left it out of the adjustment.
    """

    key: str
    tree_key: str | None
    place_key: str | None
    at: LonLat
    var_e_m2: float
    var_n_m2: float
    cov_en_m2: float
    origin: Origin
    taken_at: datetime | None = None
    walk_key: str | None = None
    used: bool = True
    note: str = ""
    source_key: str | None = None


@dataclass(frozen=True, slots=True)
class Sight:
    """A measurement by tape, paces or compass from one point to another, as it was read.

    Attributes
    ----------
    from_key, to_key
        Keys of trees or places. For an offset, `from_key` is the start of the base line.
    toward_key
        For an offset only: the far end of the base line.
    bearing_deg, back_bearing_deg
        Read at `from_key` toward `to_key`, and at `to_key` back; degrees from 0 up to but not including 360.
    north
        What both bearings are counted from; set where there is a bearing.
    declination_deg
        Magnetic declination on that day at that place, east positive; set where the bearings are magnetic.
    distance_m
        Along the slope as measured, metres; beside it `given` and `given_unit` as written ("paces" too).
    slope_deg
        Of the line of sight, up positive; 0 where it was held level.
    along_m, offset_m
        For an offset only: metres along the base line from its start, and square to it, right positive.
    sigma_deg, sigma_m
        Standard deviations where the person told them; else those assumed by the adjustment.
    used
        False when a person has left it out of the adjustment.
    written_at
        Where in its source it stands: "line 7".
    """

    key: str
    from_key: str
    to_key: str
    toward_key: str | None = None
    bearing_deg: float | None = None
    back_bearing_deg: float | None = None
    north: North | None = None
    declination_deg: float | None = None
    distance_m: float | None = None
    given: str = ""
    given_unit: str = ""
    slope_deg: float = 0.0
    along_m: float | None = None
    offset_m: float | None = None
    sigma_deg: float | None = None
    sigma_m: float | None = None
    measured_on: date | None = None
    used: bool = True
    written_at: str = ""
    note: str = ""
    source_key: str | None = None
