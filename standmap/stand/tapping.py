"""Wounds and what comes of them: tap holes, slits, collections, batches, and what was done or seen later."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum


class Wound(StrEnum):
    """How the bark was opened."""

    HOLE = "hole"
    SLIT = "slit"


class Act(StrEnum):
    """What was done to a wound or a tree, or seen there, after it was made."""

    TAKEN_OUT = "taken out"
    PLUGGED = "plugged"
    LEFT_OPEN = "left open"
    TRIMMED = "trimmed"
    LOOKED_AT = "looked at"
    SEEN_CLOSED = "seen closed"
    SEEN_OPEN = "seen open"
    FELLED = "felled"
    DIED = "died"
    RETAGGED = "re-tagged"
    MERGED = "merged"
    CORRECTED = "corrected"


CLOSING = frozenset({Act.TAKEN_OUT, Act.PLUGGED, Act.LEFT_OPEN})
"""After one of these a wound gives no more sap: the tube is out."""

LOOKS = frozenset({Act.LOOKED_AT, Act.SEEN_CLOSED, Act.SEEN_OPEN})
"""Somebody looked whether a wound has closed; the first of these does not tell what was seen."""


@dataclass(frozen=True, slots=True)
class TapHole:
    """A hole or a slit in one tree.

    Attributes
    ----------
    number
        Tells the wounds of one tree and season apart, from 1.
    height_mm
        Above ground.
    side_deg
        Side of the stem, degrees clockwise from true north.
    depth_mm
        In the wood, below the bark.
    """

    key: str
    tree_key: str
    number: int
    kind: Wound
    made_on: date
    made_at: datetime | None = None
    height_mm: float | None = None
    side_deg: float | None = None
    depth_mm: float | None = None
    bit_mm: float | None = None
    note: str = ""
    source_key: str | None = None

    @property
    def season(self) -> int:
        """The year whose sap this wound gave."""
        return self.made_on.year


@dataclass(frozen=True, slots=True)
class Collection:
    """Sap taken from one wound, millilitres beside the number and unit as given.

    Attributes
    ----------
    overflowed
        Whether the vessel had run over: then the wound gave at least this much.
    total_key
        The same for all wounds whose sap was measured together; each then holds its share of that total.
    """

    key: str
    hole_key: str
    collected_on: date
    collected_at: datetime | None
    volume_ml: float
    given: str
    given_unit: str
    batch_key: str | None = None
    note: str = ""
    source_key: str | None = None
    overflowed: bool = False
    total_key: str | None = None


@dataclass(frozen=True, slots=True)
class Observation:
    """Something done to, or seen at, a tree or one of its wounds."""

    key: str
    tree_key: str
    hole_key: str | None
    what: Act
    observed_on: date
    observed_at: datetime | None = None
    note: str = ""
    source_key: str | None = None


@dataclass(frozen=True, slots=True)
class Batch:
    """Sap brought together for one use, and what became of it.

    Attributes
    ----------
    temperature_c
        Of the sap when it was brought together.
    fate, fate_on
        What became of it, empty while it waits, and when.
    """

    key: str
    name: str
    made_on: date
    purpose: str
    volume_ml: float | None = None
    sugar_brix: float | None = None
    note: str = ""
    temperature_c: float | None = None
    fate: str = ""
    fate_on: date | None = None
