"""Standing in the wood with a receiver: which trees are near, and a position taken for a new tree or a known one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.errors import NothingToDo, UserError
from standmap.formats.nmea import fixes_table
from standmap.formats.nmea_fixes import DAY_S, NmeaFix
from standmap.jobs.anchors import UNKNOWN_SIGMA_M, given_position, resting_on_something, spread_of
from standmap.jobs.keys import new_key
from standmap.jobs.names import checked_name, free_tree_name
from standmap.jobs.opening import working_frame
from standmap.jobs.positions import xy
from standmap.jobs.trees_by_hand import DoubtfulPositionError, keep_frame, next_tree_name, sure_position
from standmap.stand.sights import Origin, Sight, TakenPosition
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat, Tree
from standmap.stand.walks import Stop, Walk
from standmap.store.stand_file import StandFile

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame
    from standmap.survey.settling import Settled

Spread = tuple[float, float, float]
"""Variance east, variance north and covariance, square metres."""


@dataclass(frozen=True, slots=True)
class Near:
    """A tree near the person.

    Attributes
    ----------
    away_m, bearing_deg
        From the person to the tree; the bearing is true.
    share
        How likely the person stands at this one, if at any of those near.
    fits
        Whether that agrees with how sure both positions are.
    """

    tree: Tree
    away_m: float
    bearing_deg: float
    share: float
    fits: bool

    @property
    def words(self) -> str:
        """How likely it is this tree, in words."""
        if not self.fits:
            return "too far"
        if self.share >= 0.9:
            return "very likely"
        if self.share >= 0.5:
            return "likely this one"
        return "perhaps" if self.share >= 0.1 else "hardly"


@dataclass(frozen=True, slots=True)
class Spot:
    """A position with its covariance.

    Attributes
    ----------
    told
        Whether the receiver told its accuracy itself; else it is assumed.
    """

    at: LonLat
    spread_m2: Spread
    told: bool = True

    @property
    def radius_95_m(self) -> float:
        """Radius within which the true position lies with 95 % confidence, metres."""
        return math.sqrt(-2 * math.log(0.05) * (self.spread_m2[0] + self.spread_m2[1]) / 2)


def moment_s(fix: NmeaFix) -> float:
    """Return a time that grows from fix to fix: seconds since 1970 UTC, or since the first midnight where undated."""
    return fix.time_s if fix.day is not None else fix.midnights * DAY_S + fix.clock_s


def spot_of(fix: NmeaFix) -> Spot:
    """Return where a single fix is, and how sure: what the receiver tells, else what is assumed."""
    known = math.isfinite(fix.sigma_e_m) and math.isfinite(fix.sigma_n_m)
    east, north = (fix.sigma_e_m, fix.sigma_n_m) if known else (UNKNOWN_SIGMA_M, UNKNOWN_SIGMA_M)
    return Spot((fix.lon, fix.lat), (east**2, north**2, 0.0), fix.by_gst)


def sure_words(spot: Spot) -> str:
    """Return how sure a position is, in words."""
    radius = spot.radius_95_m
    how = "as the receiver tells" if spot.told else "assumed, the receiver does not tell"
    return f"95 % sure within {radius:.1f} m, {how}"


def frame_here(stand: Stand, at: LonLat) -> WorkingFrame:
    """Return the stand's frame, or for an empty stand one about the person."""
    from standmap.survey.frame import centre_of

    return working_frame(stand) or centre_of([at])


def near(
    stand: Stand,
    spot: Spot,
    most: int = 6,
    within_m: float = 100.0,
    places: NDArray[np.float64] | None = None,
) -> list[Near]:
    """Return the known trees near a position, nearest first; none where it is out of the stand's reach.

    Parameters
    ----------
    places
        Where the present trees stand in the stand's frame, metres, shape (n, 2), where that is known already.
    """
    from standmap.survey.nearness import FAR_MISFIT, near_trees

    trees: Sequence[Tree] = stand.present
    if not trees:
        return []
    frame = frame_here(stand, spot.at)
    here = xy(frame, [spot.at])[0]
    if not np.isfinite(here).all():
        return []
    places = xy(frame, [t.at for t in trees]) if places is None else places
    with np.errstate(invalid="ignore"):
        rows = np.flatnonzero(np.hypot(*(places - here).T) <= within_m)
    trees, places = [trees[row] for row in rows.tolist()], places[rows]
    spreads = np.array([(t.var_e_m2, t.var_n_m2, t.cov_en_m2 or 0.0) for t in trees], dtype=np.float64).reshape(-1, 3)
    found = []
    for one in near_trees(here, np.array(spot.spread_m2), places, spreads, UNKNOWN_SIGMA_M, most):
        x, y = places[one.row]
        bearing = float(frame.true_bearing_deg(here[0], here[1], x, y))
        found.append(Near(trees[one.row], one.away_m, bearing, one.share, one.misfit <= FAR_MISFIT))
    return found


def settled_from(fixes: Sequence[NmeaFix], frame: WorkingFrame, wanted_m: float) -> tuple[Settled, Spot] | None:
    """Return what standing still has given, and as a position on Earth; None while there is too little."""
    from standmap.survey.settling import settle

    table = np.array([(moment_s(f), f.lon, f.lat, f.sigma_m) for f in fixes], dtype=np.float64).reshape(-1, 4)
    table = table[frame.reaches(table[:, 1], table[:, 2])]
    table = table[np.argsort(table[:, 0], kind="stable")]
    if len(table) < 3:
        return None
    x, y = frame.to_xy(table[:, 1], table[:, 2])
    found = settle(table[:, 0], x, y, table[:, 3], wanted_m)
    if found is None:
        return None
    lon, lat = frame.to_lonlat(np.array(found.x), np.array(found.y))
    spread = (found.var_e_m2, found.var_n_m2, found.cov_en_m2)
    return found, Spot((float(lon), float(lat)), spread, all(f.by_gst for f in fixes))


@dataclass(frozen=True, slots=True)
class Took:
    """What a position that was taken has done.

    Attributes
    ----------
    moved
        Whether the tree went to the best position from what it had and this; a pinned one may stay.
    moved_m
        How far.
    """

    tree: Tree
    taken: TakenPosition
    new: bool
    moved: bool
    moved_m: float


class PinnedTreeError(UserError):
    """A pinned tree would be moved; a person may say that it shall be, or that the position is only kept beside it."""


def take_position(
    file: StandFile,
    spot: Spot,
    taken_at: datetime | None,
    now: datetime,
    *,
    tree: str | None = None,
    name: str | None = None,
    sure: bool = False,
    move_pinned: bool | None = None,
    note: str = "",
) -> Took:
    """Write a position that was taken by standing still: a new tree, or one more position of a known one.

    Parameters
    ----------
    tree
        Name of the known tree; it goes to the best position from what it had and this, by both covariances.
    name
        Of a new tree; the next free one when both are left out.
    sure
        Whether a person has said that a position far from the tree, or from the stand, is meant.
    move_pinned
        Of a pinned tree: whether it is moved. None asks by a `PinnedTreeError`.

    Raises
    ------
    UserError
        If there is no such tree, the name is taken, or the position cannot be. `DoubtfulPositionError` and
        `PinnedTreeError` can be answered.
    """
    stand = file.stand()
    if tree is not None:
        return _add_to(
            file, stand, stand.tree(tree), spot, taken_at, now, sure=sure, move_pinned=move_pinned, note=note
        )
    wanted = next_tree_name(stand) if name is None else free_tree_name(stand, name)
    frame = sure_position(stand, spot.at, sure=sure)
    var_e, var_n, cov = spot.spread_m2
    made = Tree(new_key(), wanted, spot.at, var_e_m2=var_e, var_n_m2=var_n, cov_en_m2=cov)
    taken = _taken(made, spot, taken_at, note)
    with file.writing(f"add {wanted} where the receiver stood", now) as writing:
        keep_frame(writing, stand, frame)
        writing.insert(made, taken)
    return Took(made, taken, new=True, moved=False, moved_m=0.0)


def _add_to(
    file: StandFile,
    stand: Stand,
    tree: Tree,
    spot: Spot,
    taken_at: datetime | None,
    now: datetime,
    *,
    sure: bool,
    move_pinned: bool | None,
    note: str,
) -> Took:
    from standmap.survey.nearness import FAR_MISFIT, combined

    frame = sure_position(stand, spot.at, sure=sure)
    before, here = xy(frame, [tree.at, spot.at])
    had, told = _matrix(spread_of(tree)), _matrix(spot.spread_m2)
    off = here - before
    misfit = float(off @ np.linalg.solve(had + told, off))
    if misfit > FAR_MISFIT and not sure:
        raise DoubtfulPositionError(
            f"{tree.name} is on the map {float(np.hypot(*off)):.1f} m from here, more than both positions allow",
            "look at its tag; if it is that tree, say that you are sure",
        )
    if tree.pinned and move_pinned is None:
        raise PinnedTreeError(
            f"{tree.name} is pinned where it is", "say whether to move it, or only to keep this position beside it"
        )
    taken = _taken(tree, spot, taken_at, note)
    moves = not tree.pinned or bool(move_pinned)
    place, covariance = combined(before, had, here, told)
    lon, lat = frame.to_lonlat(place[:1], place[1:])
    with file.writing(f"take a position of {tree.name}", now) as writing:
        keep_frame(writing, stand, frame)
        if moves:
            if not _rests_on_something(file, tree):
                writing.insert(given_position(tree))
            tree = writing.change(
                tree,
                at=(float(lon[0]), float(lat[0])),
                var_e_m2=float(covariance[0, 0]),
                var_n_m2=float(covariance[1, 1]),
                cov_en_m2=float(covariance[0, 1]),
                walk_key=None,
            )
        writing.insert(taken)
    return Took(tree, taken, new=False, moved=moves, moved_m=float(np.hypot(*(place - before))) if moves else 0.0)


def _taken(tree: Tree, spot: Spot, taken_at: datetime | None, note: str) -> TakenPosition:
    return TakenPosition(new_key(), tree.key, None, spot.at, *spot.spread_m2, Origin.LIVE, taken_at, note=note)


def _matrix(spread: Sequence[float]) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    return np.array([[spread[0], spread[2]], [spread[2], spread[1]]], dtype=np.float64)


def _rests_on_something(file: StandFile, tree: Tree) -> bool:
    """Return whether a tree's position rests on rows of its own, and was not merely given."""
    resting = resting_on_something(file.rows(Stop), file.rows(TakenPosition))
    return tree.key in resting or any(tree.key in (s.from_key, s.to_key) for s in file.rows(Sight))


def keep_track(file: StandFile, fixes: Sequence[NmeaFix], name: str, now: datetime) -> Walk:
    """Keep what was followed as a walk.

    Raises
    ------
    NothingToDo
        If there are fewer than two fixes.
    UserError
        If the name cannot be one, or the track is not near the stand.
    """
    if len(fixes) < 2:
        raise NothingToDo("there is no track to keep: a walk needs two fixes")
    stand = file.stand()
    frame = sure_position(stand, (fixes[0].lon, fixes[0].lat), sure=False)
    walk = Walk(new_key(), checked_name(name, "name of a walk"), fixes_table(fixes)[0])
    with file.writing(f"keep the walk {walk.name}", now) as writing:
        keep_frame(writing, stand, frame)
        writing.insert(walk)
    return walk
