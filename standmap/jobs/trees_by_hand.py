"""Putting a tree on the map by hand, and moving one on purpose."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from standmap.errors import NothingToDo, UserError
from standmap.formats.faults import Unusable
from standmap.formats.places_on_earth import covariance
from standmap.formats.quantities import Thickness
from standmap.jobs.keys import new_key
from standmap.jobs.measure import past_day, thickness_of
from standmap.jobs.names import checked_name, checked_note, free_tree_name
from standmap.jobs.opening import FRAME_SETTING, working_frame
from standmap.jobs.positions import apart_m
from standmap.jobs.typed_position import doubt_about
from standmap.messages import Messages, Silence
from standmap.stand.names import folded
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Observation
from standmap.stand.tree import LonLat, Measurement, Tree
from standmap.store.stand_file import StandFile
from standmap.store.writing import Writing
from standmap.survey.checks import SAME_PLACE_M

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame


class DoubtfulPositionError(UserError):
    """A position that can hardly be meant; a person may say that it is."""


@dataclass(frozen=True, slots=True)
class TypedGirth:
    """A girth or diameter as typed, and the day on which it was measured."""

    text: str
    unit: str
    on: date
    thickness: Thickness = Thickness.GIRTH


def next_tree_name(stand: Stand) -> str:
    """Return the next unused name of a letter and a number, as `bring` gives nameless trees."""
    taken = {folded(t.name) for t in stand.present}
    number = 1
    while folded(f"T{number}") in taken:
        number += 1
    return f"T{number}"


def sure_position(stand: Stand, at: LonLat, *, sure: bool) -> WorkingFrame:
    """Return the stand's frame, or for an empty stand one about the position, once it is known to be good.

    Parameters
    ----------
    sure
        Whether a person has said that an unlikely position is meant.

    Raises
    ------
    DoubtfulPositionError
        If it can hardly be of this stand and nobody is sure.
    UserError
        If it is farther off than one stand can reach.
    """
    import numpy as np

    from standmap.survey.frame import REACH_M, centre_of

    why = doubt_about(stand, at)
    frame = working_frame(stand)
    if why is not None and not sure:
        raise DoubtfulPositionError(why, "look whether it is right, and say that you are sure if it is")
    frame = frame or centre_of([at])
    if not bool(frame.reaches(np.array(at[0]), np.array(at[1]))):
        raise UserError(
            f"the position is more than {REACH_M / 1000:.0f} km from the stand's centre",
            "keep it in a stand of its own",
        )
    return frame


def keep_frame(writing: Writing, stand: Stand, frame: WorkingFrame) -> None:
    """Keep the frame with the first thing that has a position: from then on it never moves."""
    if FRAME_SETTING not in stand.settings:
        writing.set_setting(FRAME_SETTING, {"lon0": frame.lon0, "lat0": frame.lat0})


def add_tree(
    file: StandFile,
    name: str | None,
    at: LonLat,
    today: date,
    now: datetime,
    *,
    species: str | None = None,
    girth: TypedGirth | None = None,
    note: str = "",
    sure: bool = False,
    messages: Messages | None = None,
) -> Tree:
    """Put a tree where a person says it stands; no later walk moves it.

    Parameters
    ----------
    name
        The next free one when left out.
    at
        Longitude and latitude, degrees, WGS 84.

    Raises
    ------
    UserError
        If name, species, girth or position cannot be; `DoubtfulPositionError` for one that is only unlikely.
    """
    stand = file.stand()
    wanted = next_tree_name(stand) if name is None else free_tree_name(stand, name)
    kind = None if species is None else checked_name(species, "species")
    size_mm = None if girth is None else thickness_of(girth.text, girth.unit, girth.thickness)
    if girth is not None:
        past_day(girth.on, today)
    frame = sure_position(stand, at, sure=sure)
    tree = Tree(new_key(), wanted, at, kind, pinned=True, note=checked_note(note))
    with file.writing(f"add {wanted}", now) as writing:
        keep_frame(writing, stand, frame)
        writing.insert(tree)
        if girth is not None and size_mm is not None:
            of_girth = girth.thickness is Thickness.GIRTH
            writing.insert(
                Measurement(
                    key=new_key(),
                    tree_key=tree.key,
                    measured_on=girth.on,
                    girth_mm=size_mm if of_girth else None,
                    diameter_mm=None if of_girth else size_mm,
                    given=girth.text.strip(),
                    given_unit=girth.unit,
                )
            )
    _ask_about_neighbour(stand, tree, frame, messages)
    return tree


def move_tree(
    file: StandFile,
    name: str,
    at: LonLat,
    on: date,
    now: datetime,
    *,
    spread_m2: tuple[float, float, float] | None = None,
    sure: bool = False,
    messages: Messages | None = None,
) -> Tree:
    """Move a tree on purpose; the old position stays in its history and no later walk moves it again.

    Parameters
    ----------
    spread_m2
        Covariance of the new position: east, north, and both; unknown when left out.

    Raises
    ------
    UserError
        If there is no such tree, or the position cannot be.
    NothingToDo
        If it stands there already and is pinned.
    """
    stand = file.stand()
    tree = stand.tree(name)
    if tree.at == at and tree.pinned and spread_m2 is None:
        raise NothingToDo(f"{tree.name} stands there already")
    frame = sure_position(stand, at, sure=sure)
    try:
        var_e, var_n, cov_en = covariance(*spread_m2) if spread_m2 is not None else (None, None, None)
    except Unusable as reason:
        raise UserError(str(reason), "give variances of a real position, or none") from None
    moved = apart_m(frame, tree.at, at)
    said = f"moved {moved:.1f} m by hand, was {tree.at[1]:.7f} {tree.at[0]:.7f}"
    with file.writing(f"move {tree.name} by {moved:.1f} m", now) as writing:
        keep_frame(writing, stand, frame)
        fresh = writing.change(
            tree, at=at, pinned=True, var_e_m2=var_e, var_n_m2=var_n, cov_en_m2=cov_en, walk_key=None
        )
        writing.insert(Observation(new_key(), tree.key, None, Act.CORRECTED, on, note=said))
    _ask_about_neighbour(stand, fresh, frame, messages)
    return fresh


def _ask_about_neighbour(stand: Stand, tree: Tree, frame: WorkingFrame, messages: Messages | None) -> None:
    for other in stand.present:
        beside = other.key != tree.key and abs(other.at[1] - tree.at[1]) < 1e-4
        if beside and (apart := apart_m(frame, tree.at, other.at)) <= SAME_PLACE_M:
            (messages or Silence()).caution(
                f"{tree.name} stands {apart:.2f} m from {other.name}: one tree twice, or one rootstock?"
            )
            return
