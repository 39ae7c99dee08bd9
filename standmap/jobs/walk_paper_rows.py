"""The table of a walk sheet: which columns a purpose asks for, and what stands in the row of a stop."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from standmap.formats.paper_type import all_drawn
from standmap.formats.walk_sheet_values import Cell, Column, Fill, SheetStop
from standmap.jobs.planned_round import Purpose, RoundStop, Todo
from standmap.jobs.walk_paper_ground import Flat
from standmap.stand.tapping import Wound
from standmap.survey.north import Declination
from standmap.units_shown import System, UnitsShown

SIDES = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
CLIMB_FROM_M = 1.0


def common_todo(stops: Sequence[RoundStop]) -> tuple[Todo, ...]:
    """Return what is to be done in the same words at every stop of a walk, in order; nothing where there is but one."""
    if len(stops) < 2:
        return ()
    return tuple(todo for todo in stops[0].todo if all(todo in stop.todo for stop in stops))


class Head(StrEnum):
    """The headings of the table."""

    STOP = "stop"
    TREE = "tree"
    HOLE = "hole"
    DISTANCE = "distance"
    BEARING = "bearing"
    EXPECTED = "expected"
    LOAD = "carried on"
    MEASURED = "measured"
    DONE = "done"
    NOTE = "note"
    TO_DO = "to do"
    HEIGHT = "height"
    SIDE = "side"
    DEPTH = "depth"
    BIT = "bit"
    TUBE_OUT = "tube out"
    PLUGGED = "plugged"
    LEFT_OPEN = "left open"


Row = tuple[tuple[Head, float, Fill], ...]

_COLLECTING: Row = (
    (Head.STOP, 8, Fill.TEXT), (Head.TREE, 34, Fill.TEXT), (Head.HOLE, 24, Fill.TEXT),
    (Head.DISTANCE, 16, Fill.TEXT), (Head.BEARING, 18, Fill.TEXT), (Head.EXPECTED, 20, Fill.TEXT),
    (Head.LOAD, 16, Fill.TEXT), (Head.MEASURED, 18, Fill.WRITE), (Head.DONE, 9, Fill.TICK), (Head.NOTE, 23, Fill.WRITE),
)  # fmt: skip
_TAPPING: Row = (
    (Head.STOP, 8, Fill.TEXT), (Head.TREE, 29, Fill.TEXT), (Head.TO_DO, 56, Fill.TEXT),
    (Head.DISTANCE, 15, Fill.TEXT), (Head.BEARING, 17, Fill.TEXT), (Head.HEIGHT, 13, Fill.WRITE),
    (Head.SIDE, 11, Fill.WRITE), (Head.DEPTH, 12, Fill.WRITE), (Head.BIT, 10, Fill.WRITE), (Head.NOTE, 15, Fill.WRITE),
)  # fmt: skip
_CLOSING: Row = (
    (Head.STOP, 8, Fill.TEXT), (Head.TREE, 33, Fill.TEXT), (Head.HOLE, 24, Fill.TEXT),
    (Head.DISTANCE, 15, Fill.TEXT), (Head.BEARING, 17, Fill.TEXT), (Head.TO_DO, 35, Fill.TEXT),
    (Head.TUBE_OUT, 12, Fill.TICK), (Head.PLUGGED, 12, Fill.TICK), (Head.LEFT_OPEN, 12, Fill.TICK),
    (Head.NOTE, 18, Fill.WRITE),
)  # fmt: skip
_ROWS = {Purpose.COLLECTING: _COLLECTING, Purpose.TAPPING: _TAPPING, Purpose.CLOSING: _CLOSING}


def row_for(purpose: Purpose, *, own_todo: bool) -> Row:
    """Return what stands in a row; what is to be done only where that is not the same at every stop."""
    return tuple(column for column in _ROWS[purpose] if own_todo or column[0] is not Head.TO_DO)


def columns_of(row: Row, units: UnitsShown, say: Callable[[str], str]) -> tuple[Column, ...]:
    """Return the columns of a row, with the units of what is to be written in."""
    metric = units.system is System.METRIC
    written = {
        Head.MEASURED: units.volume_unit,
        Head.HEIGHT: "cm" if metric else "in",
        Head.SIDE: "°",
        Head.DEPTH: "mm" if metric else "in",
        Head.BIT: "mm" if metric else "in",
    }
    return tuple(
        Column(", ".join(filter(None, (say(str(head)), written.get(head, "")))), width_mm, fill)
        for head, width_mm, fill in row
    )


@dataclass(frozen=True, slots=True)
class Rows:
    """Makes the rows of one sheet.

    Attributes
    ----------
    magnetic
        Where bearings are told as a compass shows them; None for true bearings.
    said_once
        What stands above the table and not in the rows.
    """

    row: Row
    purpose: Purpose
    day: date
    flat: Flat
    units: UnitsShown
    say: Callable[[str], str]
    magnetic: Declination | None
    said_once: tuple[Todo, ...] = ()

    def stop(self, stop: RoundStop) -> SheetStop:
        """Return a stop with its row."""
        cells = tuple(self._cell(head, stop) for head, _, _ in self.row)
        return SheetStop(stop.order, self.flat.spot(stop.tree.at), cells)

    def _cell(self, head: Head, stop: RoundStop) -> Cell:
        match head:
            case Head.STOP:
                return Cell(str(stop.order), strong=True)
            case Head.TREE:
                return self._tree(stop)
            case Head.HOLE:
                return self._hole(stop)
            case Head.DISTANCE:
                return Cell(self.units.distance(stop.leg_m), fine=self._climb(stop))
            case Head.BEARING:
                return self._bearing(stop)
            case Head.EXPECTED:
                return Cell(self.units.volume(stop.litres * 1000), fine=self._full(stop))
            case Head.LOAD:
                return Cell(self.units.mass(stop.load_kg))
            case Head.TO_DO:
                return Cell(ticks=self._own_todo(stop))
            case _:
                return Cell()

    def _told(self, sentence: str) -> str:
        return self.units.in_sentence(self.say(sentence))

    def _own_todo(self, stop: RoundStop) -> tuple[str, ...]:
        """Return what is to be done here and not at every stop."""
        return tuple(self._told(todo.text) for todo in stop.todo if todo not in self.said_once)

    def _tree(self, stop: RoundStop) -> Cell:
        """Return the tree's name; its id below where the typeface of the file lacks a character of the name."""
        fine = [self._told(text) for text in stop.cautions]
        if self.purpose is Purpose.COLLECTING:
            fine += self._own_todo(stop)
        if not all_drawn(stop.tree.name):
            fine.append(stop.tree.key)
        if self.purpose is Purpose.TAPPING and stop.hole_number > 1:
            fine.append(self.say(f"hole {stop.hole_number}"))
        return Cell(stop.tree.name, strong=True, fine=tuple(fine))

    def _hole(self, stop: RoundStop) -> Cell:
        hole = stop.hole
        is_slit = hole is not None and hole.kind is Wound.SLIT
        text = self.say(f"slit {stop.hole_number}" if is_slit else f"hole {stop.hole_number}")
        if hole is not None and hole.height_mm is not None:
            high = self.say(f"{self.units.height(hole.height_mm)} up")
            text = high if stop.hole_number == 1 and not is_slit else f"{text}, {high}"
        side = None if hole is None else hole.side_deg
        return Cell(text, fine=() if side is None else (f"{self.say(SIDES[round(side / 45) % 8])} ({side:.0f}°)",))

    def _full(self, stop: RoundStop) -> tuple[str, ...]:
        """Return when the vessel is expected to run over, where that is by the end of tomorrow."""
        if stop.full_at is None or stop.full_at.date() > self.day + timedelta(days=1):
            return ()
        if stop.full_at.date() < self.day:
            return (self.say("may have run over"),)
        hours = f"{stop.full_at:%H:%M}"
        return (self.say(f"full at {hours}" if stop.full_at.date() == self.day else f"full tomorrow {hours}"),)

    def _climb(self, stop: RoundStop) -> tuple[str, ...]:
        if abs(stop.climb_m) < CLIMB_FROM_M:
            return ()
        high = self.units.distance(abs(stop.climb_m))
        return (self.say(f"{high} uphill" if stop.climb_m > 0 else f"{high} downhill"),)

    def _bearing(self, stop: RoundStop) -> Cell:
        """Return the bearing on which the way sets off, and from which north it counts."""
        true = stop.bearing_true_deg
        shown = true if self.magnetic is None else self.magnetic.to_magnetic_deg(true)
        bends = ", bends" if stop.bends else ""
        from_north = f"true{bends}" if self.magnetic is None else f"magnetic{bends}"
        return Cell(f"{round(shown) % 360:03d}°", fine=(self.say(from_north),))
