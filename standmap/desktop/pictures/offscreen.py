"""A picture of a stand's map without a window, for the command line."""

from __future__ import annotations

import os
import sys
from datetime import date
from pathlib import Path

from standmap.desktop.pictures.files import checked_suffix
from standmap.desktop.pictures.making import Picture, PictureOptions, make_picture, scene_of
from standmap.desktop.seen import see
from standmap.desktop.start import application
from standmap.jobs.opening import open_stand
from standmap.jobs.writing_files import write_files
from standmap.progress import Progress
from standmap.units_shown import UnitsShown


def save_picture(
    stand: Path,
    out: Path,
    season: int,
    day: date,
    options: PictureOptions,
    units: UnitsShown,
    progress: Progress,
    *,
    replace: bool,
) -> Picture | None:
    """Draw a stand's map to a file; see `make_picture`.

    Raises
    ------
    UserError
        If the file cannot be made, or is there already and may not be replaced.
    """
    suffix = checked_suffix(out)
    if not (sys.platform in ("win32", "darwin") or os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    app = application()
    with open_stand(stand, read_only=True) as file:
        seen = see(file, season, read_only=True)
    made = make_picture(seen, scene_of(seen, season), season, suffix, options, units, app.font(), day, progress)
    if made is not None:
        write_files(out.absolute().parent, {out.name: made.content}, replace=replace)
    return made
