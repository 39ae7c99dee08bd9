"""The open stand as the window sees it: one frozen picture, made on the file's own thread. No Qt here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.jobs.first_look import FirstLook, first_look, look_at
from standmap.jobs.taking_back import next_redo, next_undo
from standmap.rules.columns import StandColumns
from standmap.rules.ruleset import RuleSet
from standmap.sap.expected import learned
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop, Walk
from standmap.store.stand_file import StandFile
from standmap.survey.frame import WorkingFrame

if TYPE_CHECKING:
    from standmap.sap.model import SapModel


@dataclass(frozen=True, eq=False)
class Seen:
    """Everything of an open stand that a part of the window may ask for.

    Attributes
    ----------
    frame
        None while the stand has nothing with a position.
    xy
        Metres east and north in the frame of each present tree, NaN where one is out of its reach, shape (n, 2).
    girth_mm
        Newest girth of each present tree, NaN where it was never measured, shape (n,).
    undo_label, redo_label
        What would be taken back, or done again; None where nothing would.
    """

    path: Path
    read_only: bool
    stand: Stand
    frame: WorkingFrame | None
    rules: RuleSet
    columns: StandColumns
    xy: NDArray[np.float64]
    girth_mm: NDArray[np.float64]
    plans: tuple[Plan, ...]
    walks: tuple[Walk, ...]
    stops: tuple[Stop, ...]
    undo_label: str | None
    redo_label: str | None

    @property
    def trees(self) -> tuple[Tree, ...]:
        """The present trees, whose places are the rows of all columns."""
        return self.stand.present

    @cached_property
    def sap_model(self) -> SapModel:
        """What the stand's records teach of the sap; long work the first time, so not for the GUI thread."""
        return learned(self.stand)

    @cached_property
    def row_of(self) -> dict[str, int]:
        """The row of each present tree by its key."""
        return {tree.key: row for row, tree in enumerate(self.stand.present)}

    def rows_of(self, keys: Sequence[str]) -> list[int]:
        """Return the rows of trees that are still there, in the order asked."""
        return [self.row_of[key] for key in keys if key in self.row_of]


def see(file: StandFile, season: int, *, read_only: bool, at_first: Callable[[FirstLook], None] | None = None) -> Seen:
    """Read an open stand whole.

    Parameters
    ----------
    season
        What the first look is judged for.
    at_first
        Handed what the map needs as soon as that is read.
    """
    look = first_look(file, season)
    if at_first is not None:
        at_first(look)
    stand = file.stand()
    if look.keys != tuple(t.key for t in stand.present):  # another program has written in between
        look = look_at(stand, season)
    history = file.history()
    undo, redo = next_undo(history), next_redo(history)
    seen = Seen(
        path=file.path,
        read_only=read_only,
        stand=stand,
        frame=look.frame,
        rules=look.rules,
        columns=look.columns,
        xy=look.xy,
        girth_mm=look.girth_mm,
        plans=file.rows(Plan),
        walks=file.rows(Walk),
        stops=file.rows(Stop),
        undo_label=undo.label if undo else None,
        redo_label=redo.label if redo else None,
    )
    # What the window asks for at once is worked out here, off the GUI thread.
    _ = seen.row_of, stand.by_key, stand.holes_of, stand.measurements_of
    return seen
