"""Making and opening a stand, and what every job needs of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from standmap.errors import UserError
from standmap.stand.snapshot import Stand
from standmap.store.opening import is_geopackage
from standmap.store.stand_file import StandFile

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame

FRAME_SETTING = "working_frame"


def new_stand(path: Path) -> None:
    """Make an empty stand; an existing file is never written over.

    Raises
    ------
    UserError
        If the file is there already or cannot be made.
    """
    StandFile.create(path).close()


def open_stand(path: Path, *, read_only: bool = False) -> StandFile:
    """Open a stand; see `StandFile.open` for what is refused."""
    return StandFile.open(path, read_only=read_only)


def check_stand(path: Path) -> None:
    """Check that a file is a stand, without changing it; see `StandFile.open` for what is refused."""
    StandFile.check(path)


def is_copy(path: Path) -> bool:
    """Return whether a file is a GeoPackage by its first bytes: what is merged, and not read as a source."""
    return is_geopackage(path)


def is_stand(path: Path) -> bool:
    """Return whether a file is a stand that this program knows."""
    try:
        check_stand(path)
    except UserError:
        return False
    return True


def working_frame(stand: Stand) -> WorkingFrame | None:
    """Return the stand's own metric frame: the one kept, else one about its trees and places; None for an empty stand.

    Raises
    ------
    UserError
        If what is kept is no centre of a frame.
    """
    from standmap.survey.frame import WorkingFrame, centre_of

    kept = stand.settings.get(FRAME_SETTING)
    if kept is None:
        points = [*(t.at for t in stand.present), *(p.at for p in stand.places)]
        return centre_of(points) if points else None
    try:
        if isinstance(kept, dict):
            return WorkingFrame(lon0=float(kept["lon0"]), lat0=float(kept["lat0"]))
    except (KeyError, TypeError, ValueError):
        pass
    raise UserError(f"the setting '{FRAME_SETTING}' is no centre of a frame", "take it out: it is made anew")
