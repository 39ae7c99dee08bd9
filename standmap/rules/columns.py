"""Verdicts of a whole stand as columns: what recolours the map when another season is chosen.

`columns` reads a stand once; `verdict_columns` answers for a season and a rule set with array work alone. Its limits,
dates and years come from the functions of `standmap.rules.decisions` that also make the reasons of a single tree, and
a test holds it equal to `judge_tree` for every tree of any stand.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from standmap.rules.decisions import (
    Fit,
    check_season,
    fit_of,
    gone_from,
    in_force,
    least_thickness,
    measured_year,
    open_too_long,
    season_back,
)
from standmap.rules.ground import BoolArray, FloatArray, full, inside_areas, stems_of
from standmap.rules.judgement import Verdict
from standmap.rules.ruleset import RuleSet
from standmap.stand.ground import Area, AreaKind
from standmap.stand.looks import looks_at
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act
from standmap.stand.tree import Soundness

IntArray = NDArray[np.int64]

SPAN = 10_000
"""More than any year of the calendar: an owner's number times this, plus a year, sorts by owner, then year."""

NEVER = SPAN
"""Stands for "in no season" where a year is asked for."""

CODES: tuple[Verdict, ...] = tuple(Verdict)
"""The verdict of each code."""


@dataclass(frozen=True, slots=True, eq=False)
class StandColumns:
    """A stand as arrays over its n present trees, whatever the season and the rules.

    Attributes
    ----------
    keys
        Tree keys, in the stand's order.
    girth_at
        Row times `SPAN` plus the year of each measurement, ascending, shape (m,).
    thickness_mm, as_diameter
        The value of each measurement as it was measured and whether that was a diameter, shape (m,).
    tapped_at, root_tapped_at
        Row, or root, times `SPAN` plus the season of each wound, ascending, shape (h,).
    root
        Number of the rootstock that each tree grows from, shape (n,).
    name, names
        Index into the distinct recorded species names, shape (n,), and those names.
    unsound, proposed
        Shape (n,).
    gone_from
        First season in which a tree is dead or felled, or `NEVER`, shape (n,).
    inside
        Which trees stand in which areas, shape (areas, n).
    open_row, open_made, open_seen, open_until
        Of each look that saw a wound still open: row of the tree, season of the wound, year of the look, and year of
        the next look at the same wound, or `NEVER`; shape (k,).
    """

    keys: tuple[str, ...]
    girth_at: IntArray
    thickness_mm: FloatArray
    as_diameter: BoolArray
    tapped_at: IntArray
    root_tapped_at: IntArray
    root: IntArray
    name: IntArray
    names: tuple[str | None, ...]
    unsound: BoolArray
    proposed: BoolArray
    gone_from: IntArray
    areas: tuple[Area, ...]
    inside: BoolArray
    open_row: IntArray
    open_made: IntArray
    open_seen: IntArray
    open_until: IntArray


def columns(stand: Stand) -> StandColumns:
    """Read a stand into columns."""
    trees = stand.present
    girths = [(row, m) for row, tree in enumerate(trees) for m in stand.measurements_of.get(tree.key, ())]
    tapped = np.array(
        [(row, h.season) for row, tree in enumerate(trees) for h in stand.holes_of.get(tree.key, ())], np.int64
    ).reshape(-1, 2)
    root = np.arange(len(trees))
    row_of = {tree.key: row for row, tree in enumerate(trees)}
    for stems in stems_of(stand).values():
        rows = [row_of[s.key] for s in stems]
        root[rows] = rows[0]
    numbers: dict[str | None, int] = {}
    name = [numbers.setdefault(t.species, len(numbers)) for t in trees]
    gone = [gone_from(t) for t in trees]
    seen_open = np.array(list(_seen_open(stand, row_of)), np.int64).reshape(-1, 4)
    return StandColumns(
        keys=tuple(row_of),
        girth_at=np.array([row * SPAN + measured_year(m) for row, m in girths], np.int64),
        thickness_mm=np.array([m.girth() if m.diameter_mm is None else m.diameter_mm for _, m in girths], float),
        as_diameter=np.array([m.diameter_mm is not None for _, m in girths], bool),
        tapped_at=np.sort(tapped[:, 0] * SPAN + tapped[:, 1]),
        root_tapped_at=np.sort(root[tapped[:, 0]] * SPAN + tapped[:, 1]),
        root=root,
        name=np.array(name, np.int64),
        names=tuple(numbers),
        unsound=np.array([t.soundness is Soundness.UNSOUND for t in trees], bool),
        proposed=np.array([t.proposed for t in trees], bool),
        gone_from=np.array([NEVER if year is None else year for year in gone], np.int64),
        areas=stand.areas,
        inside=inside_areas(stand.areas, trees),
        open_row=seen_open[:, 0],
        open_made=seen_open[:, 1],
        open_seen=seen_open[:, 2],
        open_until=seen_open[:, 3],
    )


def _seen_open(stand: Stand, row_of: Mapping[str, int]) -> Iterator[tuple[int, int, int, int]]:
    """Yield row, season of the wound, year of the look and year of the next one, for each look at an open wound."""
    looked_at = {o.hole_key for o in stand.observations if o.what is Act.SEEN_OPEN}
    for hole in stand.holes if looked_at else ():
        row = row_of.get(hole.tree_key)
        if row is None or hole.key not in looked_at:
            continue
        looks = looks_at(hole, stand.observations_of.get(hole.tree_key, ()))
        years = [*(look.on.year for look in looks), NEVER]
        for look, until in zip(looks, years[1:], strict=True):
            if look.is_open:
                yield row, hole.season, look.on.year, until


def also_tapped(cols: StandColumns, rows: Sequence[int], seasons: Sequence[int]) -> StandColumns:
    """Return the columns of a stand in which these trees are tapped in these seasons, too.

    Parameters
    ----------
    rows, seasons
        A row of the columns and a year for each tapping.
    """
    at, years = np.asarray(rows, np.int64), np.asarray(seasons, np.int64)
    return replace(
        cols,
        tapped_at=np.sort(np.concatenate([cols.tapped_at, at * SPAN + years])),
        root_tapped_at=np.sort(np.concatenate([cols.root_tapped_at, cols.root[at] * SPAN + years])),
    )


def also_measured(
    cols: StandColumns, rows: Sequence[int], seasons: Sequence[int], girths_mm: Sequence[float]
) -> StandColumns:
    """Return the columns of a stand in which these trees have these girths in these seasons, too.

    A girth counts for more than one that was measured in the same season.
    """
    marks = np.concatenate([cols.girth_at, np.asarray(rows, np.int64) * SPAN + np.asarray(seasons, np.int64)])
    order = np.argsort(marks, kind="stable")
    return replace(
        cols,
        girth_at=marks[order],
        thickness_mm=np.concatenate([cols.thickness_mm, np.asarray(girths_mm, float)])[order],
        as_diameter=np.concatenate([cols.as_diameter, np.zeros(len(rows), bool)])[order],
    )


def same_columns(one: StandColumns, other: StandColumns) -> bool:
    """Return whether nothing that a verdict rests on is different."""
    for field in fields(StandColumns):
        a, b = getattr(one, field.name), getattr(other, field.name)
        if not (np.array_equal(a, b) if isinstance(a, np.ndarray) else a == b):
            return False
    return True


def verdict_columns(cols: StandColumns, season: int, rules: RuleSet) -> tuple[NDArray[np.uint8], NDArray[np.int32]]:
    """Judge every tree for a season.

    Returns
    -------
    codes
        Indexes into `CODES`, shape (n,).
    back_in
        Season in which a resting or giving tree may be tapped again, else 0, shape (n,).

    Raises
    ------
    UserError
        If the season is no year.
    """
    check_season(season)
    rows = np.arange(len(cols.keys))
    giving = _newest(cols.tapped_at, rows, season)[1] == season
    _, last_tapped = _newest(cols.root_tapped_at, cols.root, season)
    back = season_back(last_tapped, rules.return_after_years)
    resting = (last_tapped > 0) & (season < back)

    newest, measured = _newest(cols.girth_at, rows, season)
    known = measured > 0
    thick = np.zeros(len(rows), bool)
    least = least_thickness(rules)
    mine = newest[known]
    limit = np.where(cols.as_diameter[mine], least.diameter_mm, least.girth_mm)
    thick[known] = least.passes(cols.thickness_mm[mine], limit)

    fits = np.array([fit_of(text, rules.species)[0].value for text in cols.names], np.int64)[cols.name]
    holds = (
        giving,
        _off_limits(cols.areas, cols.inside, giving, season),
        (fits == Fit.OTHER.value) | cols.unsound | (cols.gone_from <= season) | _open_too_long(cols, season, rules),
        (fits == Fit.MISSING.value) | ~known | cols.proposed,
        ~thick,
        resting,
    )
    codes = np.select(holds, range(len(holds)), default=len(holds)).astype(np.uint8)
    back_in = np.zeros(len(rows), np.int32)
    shown = (codes == CODES.index(Verdict.GIVING)) | (codes == CODES.index(Verdict.RESTING))
    back_in[shown] = back[shown]
    return codes, back_in


def _newest(marks: IntArray, owners: IntArray, season: int) -> tuple[IntArray, IntArray]:
    """Return for each owner the place of its newest mark up to a season, and the year of it; -1 and 0 if none."""
    place = np.searchsorted(marks, owners * SPAN + season, side="right") - 1
    found = place >= 0
    found[found] = marks[place[found]] // SPAN == owners[found]
    year = np.zeros(len(owners), np.int64)
    year[found] = marks[place[found]] % SPAN
    return np.where(found, place, -1), year


def _open_too_long(cols: StandColumns, season: int, rules: RuleSet) -> BoolArray:
    """Return which trees have a wound that was last seen open, too long after it was made, shape (n,)."""
    late = open_too_long(cols.open_seen, cols.open_made, rules.unfit_open_after_years)
    found = np.zeros(len(cols.keys), bool)
    found[cols.open_row[late & (cols.open_seen <= season) & (season < cols.open_until)]] = True
    return found


def _off_limits(areas: Sequence[Area], inside: BoolArray, giving: BoolArray, season: int) -> BoolArray:
    permitted = [i for i, area in enumerate(areas) if area.kind is AreaKind.PERMITTED]
    now = [i for i in permitted if in_force(areas[i], season)]
    off = np.zeros(len(giving), bool)
    if permitted:
        off |= ~np.any(inside[now], axis=0)
    for i, area in enumerate(areas):
        if area.kind is AreaKind.NO_GO or full(area, season, int((inside[i] & giving).sum())):
            off |= inside[i]
    return off
