"""Making and opening a stand, and what every job needs of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from standmap.stand.snapshot import Stand
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


def working_frame(stand: Stand) -> WorkingFrame | None:
    """Return the stand's own metric frame; absent while nothing with a position was brought in."""
    from standmap.survey.frame import WorkingFrame

    kept = stand.settings.get(FRAME_SETTING)
    if not isinstance(kept, dict):
        return None
    return WorkingFrame(lon0=float(kept["lon0"]), lat0=float(kept["lat0"]))
