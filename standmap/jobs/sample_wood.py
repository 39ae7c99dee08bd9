"""The invented woods as stands to try things out on: built from their plain files as a person would bring them in."""

from __future__ import annotations

import tempfile
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from standmap.assets import sample_stand
from standmap.errors import NothingToDo, UserError
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.opening import new_stand, open_stand
from standmap.jobs.own_folders import data_folder
from standmap.jobs.record import record_file
from standmap.messages import Messages, Silence
from standmap.progress import Progress, Unwatched

DAY = date(2026, 3, 28)
"""The morning of the woods' stories."""

SOURCES = ("ground.geojson", "trees.csv", "walk.gpx", "measurements.csv")
RECORDS = "records.csv"
SEASON = ("weather.csv", "signs.csv")
"""Daily weather near a wood, and what its springs showed."""

SURVEYED_WOOD = "alder-brook"
SURVEYED = ("walk.gpx", "notes.csv", "field-sheet.csv", "stem.jpg")
"""What one person carried home from the slope of that wood that is on no list: a stand of its own."""


@dataclass(frozen=True, slots=True)
class SampleWood:
    """One invented wood: its folder's name and what it is, in few words."""

    name: str
    about: str


SAMPLES = (
    SampleWood("alder-brook", "about forty birches on two slopes above a brook, five seasons of records"),
    SampleWood("heron-ridge", "four hundred birches on a long ridge, two owners, a bog to keep out of"),
)


def sample_path(name: str) -> Path:
    """Return where a sample wood is kept unless a person names another place."""
    return data_folder() / "samples" / f"{name}.gpkg"


def make_sample(
    name: str, path: Path, at: datetime, messages: Messages | None = None, progress: Progress | None = None
) -> None:
    """Build a sample wood as a stand; an existing file is never written over, and no half-built one is ever seen.

    Parameters
    ----------
    name
        One of `SAMPLES`.

    Raises
    ------
    UserError
        If there is no such wood, the file is there already or cannot be made.
    NothingToDo
        If a stop was asked for.
    """
    messages, progress = messages or Silence(), progress or Unwatched()
    if name not in {wood.name for wood in SAMPLES}:
        names = " and ".join(wood.name for wood in SAMPLES)
        raise UserError(f"there is no sample wood '{name[:40]}'", f"they are {names}")
    if path.exists():
        raise UserError(f"{path.name}: the file is there already", "choose another name")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        building = Path(tempfile.mkdtemp(prefix=f".{path.name}.", dir=path.parent))
    except OSError as error:
        raise UserError(f"{path.parent}: cannot be written ({error.strerror})", "choose another folder") from None
    fresh = building / path.name
    try:
        new_stand(fresh)
        with open_stand(fresh) as file:
            sources = [s for s in (sample_stand(name, source) for source in SOURCES) if s.exists()]
            bring(file, sources, BringOptions(), at, messages, progress)
            if progress.stop_wanted():
                raise NothingToDo(f"{path.name}: the building was stopped; nothing was made")
            progress.at(0, 0, "writing down five seasons")
            record_file(file, sample_stand(name, RECORDS), DAY, at, messages)
            if season := [s for s in (sample_stand(name, source) for source in SEASON) if s.exists()]:
                progress.at(0, 0, "bringing weather in")
                bring(file, season, BringOptions(), at, messages, progress)
        fresh.rename(path)
    except OSError as error:
        raise UserError(f"{path.name}: cannot be made ({error.strerror})", "check the rights and the disk") from None
    finally:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)
        with suppress(OSError):
            building.rmdir()
