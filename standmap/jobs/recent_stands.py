"""What can be told of stands without opening them: whether they are still there, and when they last changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path


@dataclass(frozen=True, slots=True)
class KnownStand:
    """A stand that was open lately.

    Attributes
    ----------
    changed
        When the file last changed, with this machine's offset; None if it is not there.
    """

    path: Path
    changed: datetime | None

    @property
    def name(self) -> str:
        """The stand's name: that of its file, in words."""
        return self.path.stem.replace("-", " ").replace("_", " ")

    @property
    def is_there(self) -> bool:
        """Whether the file is there now."""
        return self.changed is not None


def look_at(paths: Iterable[Path]) -> tuple[KnownStand, ...]:
    """Look at stands on disk, in the order given; a slow drive makes this slow."""
    return tuple(KnownStand(path, _changed(path)) for path in paths)


def folder_words(path: Path, home: Path | None = None) -> str:
    """Return the folder of a stand as a person would say it: below the home folder with a tilde."""
    home = home or Path.home()
    folder = path.parent
    return f"~/{folder.relative_to(home).as_posix()}" if home in folder.parents else str(folder)


def _changed(path: Path) -> datetime | None:
    try:
        return datetime.fromtimestamp(path.stat().st_mtime).astimezone() if path.is_file() else None
    except OSError:
        return None
