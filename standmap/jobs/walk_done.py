"""What a tapping or closing walk came to, as it is typed at home: holes that were made, wounds that were seen to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from standmap.errors import UserError
from standmap.formats.records_csv import TAPPED, FoundRecord
from standmap.jobs.given_walk import GivenWalk
from standmap.jobs.record import RecordReport, record
from standmap.jobs.returns import ReturnGroup, ReturnRow, called
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, TapHole
from standmap.store.stand_file import StandFile


@dataclass(frozen=True, slots=True)
class DoneRow:
    """One stop of which something may be written down.

    Attributes
    ----------
    hole_key
        None for a hole that was yet to be made.
    """

    key: str
    tree_key: str
    name: str
    hole_key: str | None
    hole_number: int


@dataclass(frozen=True, slots=True)
class Made:
    """A hole that was made at a stop; what was not measured is None."""

    row: DoneRow
    height_mm: float | None = None
    side_deg: float | None = None
    depth_mm: float | None = None
    bit_mm: float | None = None


@dataclass(frozen=True, slots=True)
class SeenTo:
    """What was done to the wound of a stop, in the order of the work."""

    row: DoneRow
    acts: tuple[Act, ...]


def done_rows(stand: Stand, walk: GivenWalk) -> tuple[DoneRow, ...]:
    """Return the stops of a walk, those of trees that are gone left out."""
    return tuple(
        DoneRow(
            stop.key,
            stop.tree_key,
            called(stand.by_key[stop.tree_key].name, stop.hole_number),
            stop.hole_key,
            stop.hole_number,
        )
        for stop in walk.stops
        if stop.tree_key in stand.by_key
    )


def groups_given(stand: Stand, walk: GivenWalk) -> tuple[ReturnGroup, ...]:
    """Return what may come home from a walk that was given out, trip by trip."""
    return tuple(
        ReturnGroup(
            trip.number,
            tuple(
                ReturnRow(
                    stop.key, stop.tree_key, called(stand.by_key[stop.tree_key].name, stop.hole_number), stop.litres
                )
                for stop in trip.stops
                if stop.tree_key in stand.by_key
            ),
        )
        for trip in walk.trips
    )


def hole_made(stand: Stand, row: DoneRow, day: date) -> TapHole | None:
    """Return the hole of that number and season, None while it is not written down."""
    here = stand.holes_of.get(row.tree_key, ())
    return next((hole for hole in here if (hole.season, hole.number) == (day.year, row.hole_number)), None)


def acts_done(stand: Stand, row: DoneRow) -> frozenset[Act]:
    """Return what is written down as done to the wound of a stop."""
    told = stand.observations_of.get(row.tree_key, ())
    return frozenset(seen.what for seen in told if seen.hole_key == row.hole_key)


def store_made(file: StandFile, day: date, made: Sequence[Made], today: date, now: datetime) -> RecordReport:
    """Write down the holes that a walk made, as one edit.

    Raises
    ------
    UserError
        If there are none, or one cannot be true.
    """
    lines = [
        FoundRecord(
            line=0,
            tree=one.row.tree_key,
            hole=str(one.row.hole_number),
            on=day,
            at=None,
            what=TAPPED,
            height_mm=one.height_mm,
            side_deg=one.side_deg,
            depth_mm=one.depth_mm,
            bit_mm=one.bit_mm,
        )
        for one in made
    ]
    return _stored(file, lines, today, now, f"holes made on {day.isoformat()}")


def store_seen_to(file: StandFile, day: date, done: Sequence[SeenTo], today: date, now: datetime) -> RecordReport:
    """Write down what a walk did to wounds, as one edit.

    Raises
    ------
    UserError
        If there is nothing, or something cannot be true.
    """
    lines = [
        FoundRecord(line=0, tree=one.row.tree_key, hole=one.row.hole_key, on=day, at=None, what=str(act))
        for one in done
        for act in one.acts
    ]
    return _stored(file, lines, today, now, f"holes seen to on {day.isoformat()}")


def _stored(file: StandFile, lines: Sequence[FoundRecord], today: date, now: datetime, label: str) -> RecordReport:
    if not lines:
        raise UserError("nothing was ticked", "tick what was done at one tree at least")
    return record(file, lines, today, now, label=label)
