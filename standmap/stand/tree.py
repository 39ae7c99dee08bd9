"""A tree and its measurements."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from standmap.units import diameter_of, girth_of

LonLat = tuple[float, float]
"""Longitude and latitude in degrees, WGS 84, in this order."""

BREAST_HEIGHT_MM = 1300.0
"""Height of a girth above ground unless a record says otherwise (common in Europe; 1371.6 mm in the USA)."""


class Standing(StrEnum):
    """What has become of a tree."""

    STANDING = "standing"
    DEAD = "dead"
    FELLED = "felled"
    MERGED = "merged"


class Soundness(StrEnum):
    """What a person saw when looking the tree over; absent while nobody has."""

    SOUND = "sound"
    UNSOUND = "unsound"


@dataclass(frozen=True, slots=True)
class Tree:
    """One stem that can be told from its neighbours.

    Attributes
    ----------
    key
        UUIDv7 text; never changes.
    name
        What is written on the tag.
    at
        Longitude and latitude, degrees, WGS 84.
    standing_since
        The day of felling or death, where known.
    merged_into
        Key of the tree that this row turned out to be.
    rootstock
        Shared by the stems that grow from one root; girth is a stem's, rest is the rootstock's.
    proposed
        True until a person confirms a tree that a walk suggested.
    pinned
        True when the position was given on purpose and no later walk may move it.
    var_e_m2, var_n_m2, cov_en_m2
        Covariance of the position, square metres, east and north; absent when unknown.
    walk_key
        The walk that the position came from: errors on one walk go together.
    """

    key: str
    name: str
    at: LonLat
    species: str | None = None
    standing: Standing = Standing.STANDING
    standing_since: date | None = None
    merged_into: str | None = None
    soundness: Soundness | None = None
    rootstock: str | None = None
    proposed: bool = False
    tag_confirmed: bool = False
    pinned: bool = False
    var_e_m2: float | None = None
    var_n_m2: float | None = None
    cov_en_m2: float | None = None
    walk_key: str | None = None
    note: str = ""
    source_key: str | None = None

    @property
    def sigma_m(self) -> float | None:
        """Root mean of the two axis variances, metres; absent when unknown."""
        if self.var_e_m2 is None or self.var_n_m2 is None:
            return None
        return math.sqrt((self.var_e_m2 + self.var_n_m2) / 2)


@dataclass(frozen=True, slots=True)
class Measurement:
    """A girth or a diameter, canonical in millimetres beside the number and unit as given.

    Exactly one of `girth_mm` and `diameter_mm` is set: the one that was measured, so that a comparison
    with a rule is exact on what was written down.
    """

    key: str
    tree_key: str
    measured_on: date | None
    girth_mm: float | None
    diameter_mm: float | None
    given: str
    given_unit: str
    at_height_mm: float = BREAST_HEIGHT_MM
    note: str = ""
    source_key: str | None = None

    def girth(self) -> float:
        """Return the girth in millimetres, computed for a round stem where the diameter was measured."""
        return self.girth_mm if self.girth_mm is not None else girth_of(self.diameter_mm or 0.0)

    def diameter(self) -> float:
        """Return the diameter in millimetres, computed for a round stem where the girth was measured."""
        return self.diameter_mm if self.diameter_mm is not None else diameter_of(self.girth_mm or 0.0)

    def at_least(self, diameter_mm: float) -> bool:
        """Return whether the stem is at least this thick, compared in the quantity that was measured."""
        if self.diameter_mm is not None:
            return self.diameter_mm >= diameter_mm
        return self.girth() >= girth_of(diameter_mm)
