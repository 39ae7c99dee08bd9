"""The trees of a stand as columns, read without making a thing of each row: what the map shows first.

Only what our own writing looks like is read here; where a file holds anything else the answer is None, and the stand
is read the long way, which reads everything and says what is wrong.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from standmap.store.geometry import SRS_ID
from standmap.store.opening import connect, plain_errors

_POINT = np.dtype(
    [
        ("magic", "S2"),
        ("version", "u1"),
        ("flags", "u1"),
        ("srs", "<i4"),
        ("order", "u1"),
        ("kind", "<u4"),
        ("at", "<f8", 2),
    ]
)

PORTION = 4096
"""Rows turned into columns at a time."""

NO_DAY = 10101
"""Stands for a date that was not told: earlier than any."""

_TREES = """
SELECT key, name, geom, species, standing IN ('dead', 'felled'), {since}, coalesce(soundness = 'unsound', 0), rootstock,
proposed FROM tree WHERE standing <> 'merged' ORDER BY fid
"""
_GIRTHS = "SELECT tree_key, {day}, girth_mm, diameter_mm FROM measurement ORDER BY fid"
_HOLES = "SELECT tree_key, {day} FROM tap_hole ORDER BY fid"

_LOOKS = """
SELECT tap_hole.tree_key, tap_hole.key, {made}, {seen}, what = 'seen open' FROM observation JOIN tap_hole
ON tap_hole.key = hole_key AND tap_hole.tree_key = observation.tree_key
WHERE what IN ('seen open', 'seen closed') ORDER BY tap_hole.fid, observed_on, observation.fid
"""


def _day(column: str) -> str:
    """Return SQL for a date as the number yyyymmdd, `NO_DAY` for none, -1 for one written otherwise."""
    pattern = "[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]"
    return (
        f"CASE WHEN {column} IS NULL THEN {NO_DAY} WHEN {column} GLOB '{pattern}' "
        f"THEN CAST(replace({column}, '-', '') AS INTEGER) ELSE -1 END"
    )


@dataclass(frozen=True, slots=True, eq=False)
class QuickColumns:
    """What a stand's rows hold, in the order they were first written; days are numbers yyyymmdd, `NO_DAY` for none.

    Attributes
    ----------
    keys, names, species, rootstock, proposed, unsound
        Of the n present trees: all but merged ones.
    gone, since
        Whether a tree is dead or felled, and since when, shape (n,).
    lonlat
        Degrees, WGS 84, shape (n, 2).
    girth_row, girth_day, girth_mm, diameter_mm
        Of the m measurements of present trees: whose, when, and what was measured; the other is NaN. Shape (m,).
    hole_row, hole_day
        Of the h wounds of present trees, shape (h,).
    look_row, look_hole, look_made, look_day, look_open
        Of the k looks that told whether a wound has closed: whose, at which wound (a number of its own), when that was
        made, when it was looked at, and whether it was open; those at one wound together, oldest first. Shape (k,).
    """

    keys: tuple[str, ...]
    names: tuple[str, ...]
    lonlat: NDArray[np.float64]
    species: tuple[str | None, ...]
    gone: NDArray[np.bool_]
    since: NDArray[np.int64]
    unsound: NDArray[np.bool_]
    rootstock: tuple[str | None, ...]
    proposed: NDArray[np.bool_]
    girth_row: NDArray[np.int64]
    girth_day: NDArray[np.int64]
    girth_mm: NDArray[np.float64]
    diameter_mm: NDArray[np.float64]
    hole_row: NDArray[np.int64]
    hole_day: NDArray[np.int64]
    look_row: NDArray[np.int64]
    look_hole: NDArray[np.int64]
    look_made: NDArray[np.int64]
    look_day: NDArray[np.int64]
    look_open: NDArray[np.bool_]


def quick_columns(path: Path) -> QuickColumns | None:
    """Read the trees of a stand, their measurements and wounds; None where the file is not plainly as we write it.

    Raises
    ------
    UserError
        If the file cannot be read.
    """
    db = connect(path, read_only=True)
    try:
        with plain_errors(path):
            return _read(db)
    finally:
        db.close()


def _read(db: sqlite3.Connection) -> QuickColumns | None:
    db.execute("BEGIN")
    keys, names, geom, species, gone, since, unsound, rootstock, proposed = _columns(
        db.execute(_TREES.format(since=_day("standing_since")))
    )
    owners, measured_on, girth_mm, diameter_mm = _columns(db.execute(_GIRTHS.format(day=_day("measured_on"))))
    wounded, made_on = _columns(db.execute(_HOLES.format(day=_day("made_on"))))
    looked, opened, opened_on, seen_on, is_open = _columns(
        db.execute(_LOOKS.format(made=_day("made_on"), seen=_day("observed_on")))
    )
    db.execute("ROLLBACK")
    lonlat = _points(geom)
    days = [np.array(column, np.int64) for column in (since, measured_on, made_on, opened_on, seen_on)]
    if lonlat is None or any((column < 0).any() for column in days):
        return None
    row_of = {key: row for row, key in enumerate(keys)}
    girth_row = np.array([row_of.get(key, -1) for key in owners], np.int64)
    hole_row = np.array([row_of.get(key, -1) for key in wounded], np.int64)
    look_row = np.array([row_of.get(key, -1) for key in looked], np.int64)
    numbers: dict[str, int] = {}
    look_hole = np.array([numbers.setdefault(key, len(numbers)) for key in opened], np.int64)
    of_tree, in_tree = girth_row >= 0, hole_row >= 0
    at_tree = (look_row >= 0) & (days[4] >= days[3])
    return QuickColumns(
        keys=tuple(keys),
        names=tuple(names),
        lonlat=lonlat,
        species=tuple(species),
        gone=np.array(gone, bool),
        since=days[0],
        unsound=np.array(unsound, bool),
        rootstock=tuple(rootstock),
        proposed=np.array(proposed, bool),
        girth_row=girth_row[of_tree],
        girth_day=days[1][of_tree],
        girth_mm=np.array(girth_mm, float)[of_tree],
        diameter_mm=np.array(diameter_mm, float)[of_tree],
        hole_row=hole_row[in_tree],
        hole_day=days[2][in_tree],
        look_row=look_row[at_tree],
        look_hole=look_hole[at_tree],
        look_made=days[3][at_tree],
        look_day=days[4][at_tree],
        look_open=np.array(is_open, bool)[at_tree],
    )


def _columns(cursor: sqlite3.Cursor) -> list[list[Any]]:
    """Return all rows as columns; in portions, so that no hundred thousand rows wait for the garbage collector."""
    columns: list[list[Any]] = [[] for _ in cursor.description]
    while rows := cursor.fetchmany(PORTION):
        for column, values in zip(columns, zip(*rows, strict=True), strict=True):
            column.extend(values)
    return columns


def _points(blobs: Sequence[bytes]) -> NDArray[np.float64] | None:
    """Return the positions of plain points of our own writing, shape (n, 2); None if one is anything else."""
    if any(len(blob) != _POINT.itemsize for blob in blobs):
        return None
    points = np.frombuffer(b"".join(blobs), _POINT)
    ours = (points["magic"] == b"GP") & (points["flags"] == 1) & (points["srs"] == SRS_ID)
    ours &= (points["order"] == 1) & (points["kind"] == 1)
    return np.array(points["at"], np.float64) if ours.all() else None
