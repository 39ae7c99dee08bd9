"""The picture or terrain that lies under a stand's map: chosen, kept with the stand, and drawn."""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from standmap.errors import NothingToDo, UserError
from standmap.formats.backdrops import KINDS, LONGEST_ATTRIBUTION, PICTURE, BackdropFile, look
from standmap.formats.raster_window import Rgba, Window, raster_window
from standmap.jobs.opening import working_frame
from standmap.progress import Progress
from standmap.stand.snapshot import Stand

if TYPE_CHECKING:
    from standmap.stand.tree import LonLat
    from standmap.store.stand_file import StandFile
    from standmap.survey.frame import WorkingFrame

BACKDROP_SETTING = "backdrop"

MARGIN_DEG = 0.05
"""A picture that ends within this of the stand (some 5 km) is still taken for one of its ground."""

STRENGTH = 0.6
"""How strongly a backdrop is drawn unless a person says otherwise, so that the trees stay the strong marks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Backdrop:
    """The backdrop of a stand.

    Attributes
    ----------
    path
        The file, absolute.
    table
        Which of several pictures in it; empty where there is one.
    kind
        "picture" or "terrain" (drawn as hill shade).
    crs
        Reference system where the file does not name its own; else None.
    attribution
        Whom it is from; shown on the map. Empty until somebody says.
    strength
        0 (nothing is seen of it) to 1 (as it is).
    """

    path: Path
    table: str = ""
    kind: str = PICTURE
    crs: str | None = None
    attribution: str = ""
    strength: float = STRENGTH


def backdrop_of(stand: Stand, stand_path: Path) -> Backdrop | None:
    """Return the backdrop that is kept with a stand; None where there is none.

    Raises
    ------
    UserError
        If what is kept is no backdrop.
    """
    kept = stand.settings.get(BACKDROP_SETTING)
    if kept is None:
        return None
    if isinstance(kept, dict) and isinstance(kept.get("path"), str) and kept.get("kind") in KINDS:
        crs, strength = kept.get("crs"), kept.get("strength", STRENGTH)
        if isinstance(strength, int | float) and 0 <= strength <= 1:
            return Backdrop(
                path=Path(os.path.normpath(stand_path.absolute().parent / kept["path"])),
                table=str(kept.get("table", "")),
                kind=kept["kind"],
                crs=None if crs is None else str(crs),
                attribution=str(kept.get("attribution", "")),
                strength=float(strength),
            )
    raise UserError(f"the setting '{BACKDROP_SETTING}' is no backdrop", "choose the picture anew")


def choose_backdrop(
    file: StandFile,
    picture: Path,
    now: datetime,
    *,
    table: str = "",
    kind: str | None = None,
    crs: str | None = None,
    attribution: str | None = None,
    strength: float = STRENGTH,
) -> Backdrop:
    """Lay a picture or a terrain under a stand's map, as one edit, and return what is kept.

    Parameters
    ----------
    table, kind, crs
        See `standmap.formats.backdrops.look`.
    attribution
        In place of what the file says about whom it is from.
    strength
        0 to 1.

    Raises
    ------
    UserError
        If the file cannot be used, or does not show the ground of this stand.
    """
    if kind is not None and kind not in KINDS:
        raise UserError(f"'{kind[:40]}' is no kind of backdrop", f"choose from {', '.join(KINDS)}")
    found = look(picture.absolute(), table=table, kind=kind, crs=crs)
    _check_reach(file.stand(), found)
    chosen = Backdrop(
        path=found.path,
        table=found.table,
        kind=found.kind,
        crs=crs,
        attribution=found.attribution if attribution is None else checked_attribution(attribution),
        strength=_strength(strength),
    )
    _keep(file, chosen, f"laid {picture.name} under the map", now)
    return chosen


def change_backdrop(
    file: StandFile, now: datetime, *, attribution: str | None = None, strength: float | None = None
) -> Backdrop:
    """Say whom the backdrop is from, or how strongly it is drawn, as one edit, and return what is kept.

    Raises
    ------
    NothingToDo
        If there is no backdrop.
    """
    before = backdrop_of(file.stand(), file.path)
    if before is None:
        raise NothingToDo("there is no backdrop")
    changed = Backdrop(
        path=before.path,
        table=before.table,
        kind=before.kind,
        crs=before.crs,
        attribution=before.attribution if attribution is None else checked_attribution(attribution),
        strength=before.strength if strength is None else _strength(strength),
    )
    _keep(file, changed, f"changed how {before.path.name} is shown", now)
    return changed


def take_backdrop_off(file: StandFile, now: datetime) -> Path:
    """Take the backdrop away, as one edit, and return the file that it was; the file itself is left alone.

    Raises
    ------
    NothingToDo
        If there is none.
    """
    kept = file.stand().settings.get(BACKDROP_SETTING)
    if kept is None:
        raise NothingToDo("there is no backdrop")
    path = Path(str(kept.get("path", ""))) if isinstance(kept, dict) else Path()
    with file.writing("took the backdrop away", now) as writing:
        writing.set_setting(BACKDROP_SETTING, None)
    return path


def look_at(backdrop: Backdrop) -> BackdropFile:
    """Say what the kept file holds now; see `standmap.formats.backdrops.look` for what is refused."""
    return look(backdrop.path, table=backdrop.table, kind=backdrop.kind, crs=backdrop.crs)


def drawn(found: BackdropFile, frame: WorkingFrame, window: Window, progress: Progress) -> Rgba | None:
    """Draw a part of a backdrop into the stand's frame; see `standmap.formats.raster_window.raster_window`."""
    return raster_window(found, frame.proj_text, window, progress)


def _keep(file: StandFile, backdrop: Backdrop, label: str, now: datetime) -> None:
    kept = {
        "path": _path_from(file.path.absolute().parent, backdrop.path),
        "table": backdrop.table,
        "kind": backdrop.kind,
        "crs": backdrop.crs,
        "attribution": backdrop.attribution,
        "strength": backdrop.strength,
    }
    with file.writing(label, now) as writing:
        writing.set_setting(BACKDROP_SETTING, kept)


def _path_from(folder: Path, path: Path) -> str:
    """Return a path as it is kept: from the stand's own folder where it lies in it, so that both can be moved."""
    return path.relative_to(folder).as_posix() if path.is_relative_to(folder) else str(path)


def _check_reach(stand: Stand, found: BackdropFile) -> None:
    frame = working_frame(stand)
    if frame is None:
        raise UserError("an empty stand has no ground to lay a picture under", "bring in trees or places first")
    west, south, east, north = found.bounds
    if any(_near(at, west, south, east, north) for at in _positions(stand, (frame.lon0, frame.lat0))):
        return
    raise UserError(
        f"{found.path}: the picture shows latitude {south:.3f} to {north:.3f}, longitude {west:.3f} to {east:.3f}; "
        f"the stand lies at {frame.lat0:.3f}, {frame.lon0:.3f}",
        "choose a picture of that ground",
    )


def _positions(stand: Stand, centre: LonLat) -> list[LonLat]:
    return [centre, *(t.at for t in stand.present), *(p.at for p in stand.places)]


def _near(at: LonLat, west: float, south: float, east: float, north: float) -> bool:
    along = (at[0] - west + MARGIN_DEG) % 360.0 <= min(east - west + 2 * MARGIN_DEG, 360.0)
    return along and south - MARGIN_DEG <= at[1] <= north + MARGIN_DEG


def checked_attribution(text: str) -> str:
    """Return in one line whom something is from, as a person wrote it.

    Raises
    ------
    UserError
        If it is too long or cannot be printed.
    """
    plain = " ".join(text.split())
    if len(plain) > LONGEST_ATTRIBUTION or not plain.isprintable():
        raise UserError(
            "this cannot be shown on the map as whom the picture is from",
            f"write one line of at most {LONGEST_ATTRIBUTION} letters",
        )
    return plain


def _strength(value: float) -> float:
    if not 0 <= value <= 1:
        raise UserError(f"{value:g} is no strength of a backdrop", "choose from 0 (not seen) to 1 (as it is)")
    return value
