"""Changing a thing of the ground by its name, whatever its shape: what is not given stays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from standmap.errors import UserError
from standmap.jobs.ground_by_hand import Ground, Permission, called, edit_area, edit_line, edit_place, ground_called
from standmap.messages import Messages
from standmap.stand.ground import Area, AreaKind, Line, LineKind, PlaceKind
from standmap.stand.tree import LonLat
from standmap.store.stand_file import StandFile


@dataclass(frozen=True, slots=True)
class GroundChange:
    """What is to be otherwise; None leaves it as it is.

    Attributes
    ----------
    kind
        Another kind of the same shape, such as "stream" for a path.
    points
        All points anew; of a place, its one.
    permission
        Fields of `Permission` with their new values; those left out stay.
    """

    kind: str | None = None
    points: tuple[LonLat, ...] | None = None
    name: str | None = None
    note: str | None = None
    permission: Mapping[str, Any] = field(default_factory=dict)


def change_ground(
    file: StandFile,
    name: str,
    wanted: GroundChange,
    now: datetime,
    *,
    sure: bool = False,
    messages: Messages | None = None,
) -> Ground:
    """Change the place, line or area of this name or key.

    Raises
    ------
    UserError
        If there is none, or it cannot become so.
    NothingToDo
        If it is so already.
    """
    before = ground_called(file.stand(), name)
    if wanted.permission and not isinstance(before, Area):
        raise UserError(f"{called(before)} is no area", "an owner, days and a limit belong to areas")
    points, title, note = wanted.points, wanted.name, wanted.note
    if isinstance(before, Line):
        line = None if wanted.kind is None else LineKind(_kind(LineKind, wanted.kind))
        return edit_line(file, before.key, now, kind=line, course=points, new_name=title, note=note, sure=sure)
    if isinstance(before, Area):
        area = None if wanted.kind is None else AreaKind(_kind(AreaKind, wanted.kind))
        held = Permission(before.owner, before.from_date, before.until_date, before.most_trees)
        said = replace(held, **wanted.permission) if wanted.permission else None
        return edit_area(
            file, before.key, now, kind=area, outline=points, new_name=title, permission=said, note=note, sure=sure
        )
    if points is not None and len(points) != 1:
        raise UserError(f"{called(before)} has one point, not {len(points)}", "give the one where it is")
    place = None if wanted.kind is None else PlaceKind(_kind(PlaceKind, wanted.kind))
    at = None if points is None else points[0]
    return edit_place(file, before.key, now, kind=place, at=at, new_name=title, note=note, sure=sure, messages=messages)


def _kind(kinds: type[LineKind | AreaKind | PlaceKind], text: str) -> str:
    possible = [str(kind) for kind in kinds]
    if text not in possible:
        raise UserError(f"it cannot become '{text[:40]}'", f"use one of {', '.join(possible)}")
    return text
