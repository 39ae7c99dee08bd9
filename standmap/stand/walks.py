"""A walk with a receiver and the stops made on it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from standmap.stand.tree import LonLat

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Fixes:
    """The positions of a walk as columns of equal length n, in the order of the file.

    Attributes
    ----------
    lon, lat
        Degrees, WGS 84, shape (n,).
    time_s
        Seconds since 1970-01-01 UTC, NaN where a fix has no time, shape (n,).
    sigma_m
        Standard deviation of one axis in metres as the receiver told it, NaN where it did not, shape (n,).
    elevation_m
        Metres, NaN where absent, shape (n,).
    segment
        Number of the unbroken piece a fix belongs to, from 0, shape (n,).
    """

    lon: FloatArray
    lat: FloatArray
    time_s: FloatArray
    sigma_m: FloatArray
    elevation_m: FloatArray
    segment: NDArray[np.int32]

    def __len__(self) -> int:
        """Return the number of fixes."""
        return len(self.lon)

    @property
    def timed(self) -> bool:
        """Whether every fix has a time."""
        return len(self.lon) > 0 and bool(np.isfinite(self.time_s).all())


@dataclass(frozen=True, slots=True, eq=False)
class Walk:
    """A line of at least two fixes."""

    key: str
    name: str
    fixes: Fixes
    note: str = ""
    source_key: str | None = None


class StopState(StrEnum):
    """What a person has said of a stop."""

    PROPOSED = "proposed"
    ACCEPTED = "accepted"
    IGNORED = "ignored"


@dataclass(frozen=True, slots=True)
class Stop:
    """A place on a walk where the walker stood still: one fused position with its covariance in square metres.

    Attributes
    ----------
    shared_m2
        The part of both variances that is an error which all stops of the walk have in common.
    """

    key: str
    walk_key: str
    at: LonLat
    from_at: datetime
    to_at: datetime
    fix_count: int
    var_e_m2: float
    var_n_m2: float
    cov_en_m2: float
    tree_key: str | None = None
    state: StopState = StopState.PROPOSED
    shared_m2: float = 0.0

    @property
    def waits(self) -> bool:
        """Whether nobody has said yet at which tree it was made."""
        return self.tree_key is None and self.state is StopState.PROPOSED
