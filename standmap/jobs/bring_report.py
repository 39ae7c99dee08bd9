"""How files are brought in, and what is said of it afterwards."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from standmap.errors import NothingToDo
from standmap.formats.content import Skipped


@dataclass(frozen=True, slots=True)
class BringOptions:
    """How to bring files in.

    Attributes
    ----------
    crs
        Reference system of x and y columns, such as EPSG:3067.
    anyway
        Take positions that look wrong.
    dry_run
        Say what would happen and write nothing.
    """

    crs: str | None = None
    anyway: bool = False
    dry_run: bool = False


@dataclass(frozen=True, slots=True)
class BroughtStop:
    """A stop of a walk and the tree it belongs to or suggests."""

    tree: str
    lon: float
    lat: float
    from_at: datetime
    to_at: datetime
    fixes: int
    sigma_m: float


@dataclass(frozen=True, slots=True)
class SourceReport:
    """What became of one file.

    Attributes
    ----------
    read
        Features the file holds.
    added, updated
        Features that became something new, or changed something known. Trees suggested by stops are in `stops`.
    known
        Whether the very same file was brought in before.
    """

    file: str
    format: str
    read: int
    added: int
    updated: int
    skipped: tuple[Skipped, ...] = ()
    stops: tuple[BroughtStop, ...] = ()
    known: bool = False


@dataclass(frozen=True, slots=True)
class BringReport:
    """What became of all the files of one command."""

    sources: tuple[SourceReport, ...]


class NothingToBring(NothingToDo):
    """No file held anything usable; carries the report that says why."""

    def __init__(self, reason: str, report: BringReport) -> None:
        super().__init__(reason)
        self.report = report
