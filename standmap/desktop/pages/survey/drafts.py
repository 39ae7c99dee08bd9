"""A thing of the ground as it is being drawn or changed, and the text in which its points are typed. No Qt here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from standmap.errors import UserError
from standmap.formats.faults import Unusable
from standmap.formats.texts import day_of
from standmap.jobs import ground_by_hand
from standmap.jobs.ground_by_hand import Ground, Permission
from standmap.jobs.typed_position import typed_position
from standmap.messages import Messages
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
from standmap.stand.tree import LonLat
from standmap.store.stand_file import StandFile

GroundKind = PlaceKind | LineKind | AreaKind
KINDS: tuple[GroundKind, ...] = (*LineKind, *AreaKind, *PlaceKind)


@dataclass(frozen=True, slots=True)
class Draft:
    """What is to be kept.

    Attributes
    ----------
    key
        Of the thing that is changed; None for a new one.
    points
        Longitude and latitude; an area's outline without its closing point.
    """

    kind: GroundKind
    points: tuple[LonLat, ...] = ()
    key: str | None = None
    name: str = ""
    permission: Permission = field(default_factory=Permission)

    @property
    def of_one_point(self) -> bool:
        """Whether it is a place."""
        return isinstance(self.kind, PlaceKind)

    @property
    def enough(self) -> bool:
        """Whether it has as many points as its kind needs."""
        least = 1 if self.of_one_point else 3 if isinstance(self.kind, AreaKind) else 2
        return len(set(self.points)) >= least


def draft_of(thing: Ground) -> Draft:
    """Return a thing of the ground as a draft to be changed."""
    if isinstance(thing, Place):
        return Draft(thing.kind, (thing.at,), thing.key, thing.name)
    if isinstance(thing, Line):
        return Draft(thing.kind, thing.course, thing.key, thing.name)
    said = Permission(thing.owner, thing.from_date, thing.until_date, thing.most_trees)
    return Draft(thing.kind, thing.outline[0][:-1], thing.key, thing.name, said)


def keep(file: StandFile, draft: Draft, now: datetime, messages: Messages, *, sure: bool) -> Ground:
    """Write a draft, as a new thing or over the one that it changes.

    Raises
    ------
    UserError
        If something about it cannot be.
    NothingToDo
        If nothing was changed.
    """
    kind, points, key, name = draft.kind, draft.points, draft.key, draft.name
    if not points:
        raise UserError("there is no point yet", "click on the map, or type coordinates")
    if isinstance(kind, PlaceKind):
        if key is None:
            return ground_by_hand.add_place(file, kind, points[-1], now, name=name, sure=sure, messages=messages)
        return ground_by_hand.edit_place(
            file, key, now, kind=kind, at=points[-1], new_name=name, sure=sure, messages=messages
        )
    if isinstance(kind, LineKind):
        if key is None:
            return ground_by_hand.add_line(file, kind, points, now, name=name, sure=sure)
        return ground_by_hand.edit_line(file, key, now, kind=kind, course=points, new_name=name, sure=sure)
    said = draft.permission
    if key is None:
        return ground_by_hand.add_area(file, kind, points, now, name=name, permission=said, sure=sure)
    return ground_by_hand.edit_area(
        file, key, now, kind=kind, outline=points, new_name=name, permission=said, sure=sure
    )


def points_text(points: Sequence[LonLat]) -> str:
    """Return positions as they are typed: latitude first, one a line, to about a centimetre."""
    return "\n".join(position_text(p) for p in points)


def position_text(at: LonLat) -> str:
    """Return one position as it is typed."""
    return f"{at[1]:.7f} {at[0]:.7f}"


def read_points(text: str, epsg: int | None = None) -> tuple[LonLat, ...]:
    """Return typed positions, one a line: degrees, or numbers on a grid by its code, easting first.

    Raises
    ------
    UserError
        If a line is no position; it names the line.
    """
    found = []
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip():
            try:
                found.append(typed_position(line, epsg))
            except UserError as error:
                raise UserError(f"line {number}: {error.what}", error.remedy) from None
    return tuple(found)


def read_day(text: str) -> date | None:
    """Return a typed day, None for no text.

    Raises
    ------
    UserError
        If it is no day.
    """
    try:
        return day_of(text) if text.strip() else None
    except Unusable as reason:
        raise UserError(str(reason), "write it like 2026-03-01") from None


def read_limit(text: str) -> int | None:
    """Return a typed number of trees, None for no text.

    Raises
    ------
    UserError
        If it is no whole number, or no limit.
    """
    plain = text.strip()
    if not plain:
        return None
    if not (plain.isascii() and plain.isdecimal() and int(plain[:9]) <= ground_by_hand.MOST_TREES and len(plain) < 9):
        raise UserError(f"'{plain[:40]}' is no number of trees", f"write 0 to {ground_by_hand.MOST_TREES}, or nothing")
    return int(plain)


__all__ = ["KINDS", "Area", "Draft", "GroundKind", "draft_of", "keep", "points_text", "position_text", "read_points"]
