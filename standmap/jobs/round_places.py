"""The places of a walk: where trips begin and end, where cans are emptied, and where one may stand instead."""

from __future__ import annotations

from collections.abc import Sequence

from standmap.errors import UserError
from standmap.jobs.round_options import FromHere
from standmap.stand.ground import LineKind, Place, PlaceKind
from standmap.stand.names import folded
from standmap.stand.snapshot import Stand

HERE = "here"
"""The key of the place where a person stands who plans the rest of a walk."""


def start_of(stand: Stand, name: str | None) -> Place:
    """Return where trips begin: the place named, else the first tank, else the first gate.

    Raises
    ------
    UserError
        If no place is called so, or there is nothing to start from.
    """
    if name is not None:
        return place_named(stand, name)
    for kind in (PlaceKind.TANK, PlaceKind.GATE):
        for place in stand.places:
            if place.kind is kind:
                return place
    raise UserError("the stand has no gate or tank to start from", "bring one in, as a waypoint of type 'gate'")


def place_named(stand: Stand, name: str) -> Place:
    """Return the place with this name or key.

    Raises
    ------
    UserError
        If there is none.
    """
    for place in stand.places:
        if folded(place.name) == folded(name) or place.key == name:
            return place
    known = ", ".join(p.name for p in stand.places) or "none yet"
    raise UserError(f"no place is called '{name[:60]}'", f"the places are: {known}")


def here_of(stand: Stand, here: FromHere) -> Place:
    """Return the place where a person stands.

    Raises
    ------
    UserError
        If it names no tree.
    """
    if isinstance(here.at, str):
        tree = stand.tree(here.at)
        return Place(HERE, tree.name, PlaceKind.LANDMARK, tree.at)
    return Place(HERE, "here", PlaceKind.LANDMARK, here.at)


def candidates(stand: Stand) -> tuple[Place, ...]:
    """Return where a tank or the car might stand: gates, tanks, landmarks and the ends of paths, each spot once."""
    kinds = (PlaceKind.TANK, PlaceKind.GATE, PlaceKind.LANDMARK)
    found = [place for kind in kinds for place in stand.places if place.kind is kind]
    for line in stand.lines:
        if line.kind is LineKind.PATH and len(line.course) > 1:
            path = f"the path '{line.name}'" if line.name else "a path"
            ends = ((f"{path} begins here", line.course[0]), (f"{path} ends here", line.course[-1]))
            found += [Place(f"{line.key}/{n}", name, PlaceKind.LANDMARK, at) for n, (name, at) in enumerate(ends)]
    return tuple({place.at: place for place in reversed(found)}.values())[::-1]


def places_named(stand: Stand, names: Sequence[str]) -> tuple[Place, ...]:
    """Return several places, each once."""
    return tuple(dict.fromkeys(place_named(stand, name) for name in names))
