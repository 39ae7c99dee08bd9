"""The trees of a stand as the map shows them at once: where they stand, how thick they are and what they may give.

The whole stand, with every reason and record, is read after this; a test holds the two equal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from standmap.jobs.opening import FRAME_SETTING, working_frame
from standmap.jobs.positions import xy as positions_of
from standmap.jobs.rule_choice import rules_of
from standmap.rules.columns import CODES, NEVER, SPAN, StandColumns, columns, verdict_columns
from standmap.rules.decisions import ALWAYS
from standmap.rules.ground import inside_areas
from standmap.rules.judgement import Verdict
from standmap.rules.ruleset import RuleSet
from standmap.stand.ground import Area, Place
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree
from standmap.store.quick_columns import NO_DAY, QuickColumns, quick_columns
from standmap.store.stand_file import StandFile
from standmap.survey.frame import WorkingFrame, centre_of
from standmap.units import girth_of

PER_YEAR = 10_000
"""Days are numbers yyyymmdd."""


@dataclass(frozen=True, slots=True, eq=False)
class FirstLook:
    """What the map needs of the present trees, in the stand's order; arrays have one row a tree.

    Attributes
    ----------
    xy
        Metres in the working frame, NaN where out of its reach, shape (n, 2).
    girth_mm
        Newest girth, NaN where it was never measured.
    codes, back_in
        Verdicts for the season: see `verdict_columns`.
    rest
        Part of the rest already passed: see `rest_passed`.
    columns
        What another season is judged by.
    """

    keys: Sequence[str]
    names: Sequence[str]
    frame: WorkingFrame | None
    xy: NDArray[np.float64]
    girth_mm: NDArray[np.float64]
    codes: NDArray[np.uint8]
    back_in: NDArray[np.int32]
    rest: NDArray[np.float64]
    columns: StandColumns
    rules: RuleSet


def first_look(file: StandFile, season: int) -> FirstLook:
    """Read what the map shows first, judged for a season.

    Raises
    ------
    UserError
        If the season is no year, or the stand holds what cannot be read.
    """
    quick = quick_columns(file.path)
    if quick is None:
        return look_at(file.stand(), season)
    settings = Stand(settings=file.settings())
    cols = stand_columns(quick, file.rows(Area))
    if FRAME_SETTING in settings.settings:
        frame = working_frame(settings)
    else:
        points = np.concatenate([quick.lonlat, np.array([p.at for p in file.rows(Place)], float).reshape(-1, 2)])
        frame = centre_of(points) if len(points) else None
    xy = np.full((len(cols.keys), 2), np.nan) if frame is None else positions_of(frame, quick.lonlat)  # type: ignore[arg-type]
    girth_mm = np.full(len(cols.keys), np.nan)
    # The rows ascend, oldest first: what is written last to a tree is its newest.
    girth_mm[cols.girth_at // SPAN] = np.where(cols.as_diameter, girth_of(1.0) * cols.thickness_mm, cols.thickness_mm)
    return _judged(cols, quick.names, frame, xy, girth_mm, season, rules_of(settings))


def look_at(stand: Stand, season: int) -> FirstLook:
    """Return the same of a stand that was read whole."""
    frame, trees = working_frame(stand), stand.present
    xy = np.full((len(trees), 2), np.nan) if frame is None else positions_of(frame, [t.at for t in trees])
    newest = [stand.newest_measurement(t.key) for t in trees]
    girth_mm = np.array([np.nan if m is None else m.girth() for m in newest], float)
    return _judged(columns(stand), [t.name for t in trees], frame, xy, girth_mm, season, rules_of(stand))


def _judged(
    cols: StandColumns,
    names: Sequence[str],
    frame: WorkingFrame | None,
    xy: NDArray[np.float64],
    girth_mm: NDArray[np.float64],
    season: int,
    rules: RuleSet,
) -> FirstLook:
    codes, back_in = verdict_columns(cols, season, rules)
    rest = rest_passed(codes, back_in, season, rules)
    return FirstLook(cols.keys, names, frame, xy, girth_mm, codes, back_in, rest, cols, rules)


def rest_passed(
    codes: NDArray[np.uint8], back_in: NDArray[np.int32], season: int, rules: RuleSet
) -> NDArray[np.float64]:
    """Return which part of its rest each resting tree has behind it, 0 up to 1; NaN for all others. Shape (n,)."""
    passed = np.full(len(codes), np.nan)
    resting = codes == CODES.index(Verdict.RESTING)
    years = max(float(rules.return_after_years), 1.0)
    passed[resting] = np.clip(1 - (back_in[resting] - season) / years, 0, 1)
    return passed


def stand_columns(quick: QuickColumns, areas: tuple[Area, ...]) -> StandColumns:
    """Return what `standmap.rules.columns.columns` makes of the whole stand."""
    count = len(quick.keys)
    order = np.lexsort((quick.girth_day, quick.girth_row))
    measured_mm = np.where(np.isnan(quick.diameter_mm), quick.girth_mm, quick.diameter_mm)
    tapped = quick.hole_day // PER_YEAR
    root = _roots(quick.rootstock)
    numbers: dict[str | None, int] = {}
    name = [numbers.setdefault(text, len(numbers)) for text in quick.species]
    last = np.append(np.diff(quick.look_hole) != 0, [True] * bool(len(quick.look_hole)))
    seen = quick.look_day // PER_YEAR
    until = np.where(last, NEVER, np.roll(seen, -1))
    still = quick.look_open
    since = np.where(quick.since == NO_DAY, ALWAYS, quick.since // PER_YEAR)
    return StandColumns(
        keys=quick.keys,
        girth_at=(quick.girth_row * SPAN + quick.girth_day // PER_YEAR)[order],
        thickness_mm=measured_mm[order],
        as_diameter=~np.isnan(quick.diameter_mm)[order],
        tapped_at=np.sort(quick.hole_row * SPAN + tapped),
        root_tapped_at=np.sort(root[quick.hole_row] * SPAN + tapped),
        root=root,
        name=np.array(name, np.int64),
        names=tuple(numbers),
        unsound=quick.unsound,
        proposed=quick.proposed,
        gone_from=np.where(quick.gone, since, NEVER),
        areas=areas,
        inside=_inside(areas, quick) if areas else np.zeros((0, count), bool),
        open_row=quick.look_row[still],
        open_made=quick.look_made[still] // PER_YEAR,
        open_seen=seen[still],
        open_until=until[still],
    )


def _roots(rootstocks: Sequence[str | None]) -> NDArray[np.int64]:
    """Return for each tree the row of the first stem of its rootstock."""
    root = np.arange(len(rootstocks))
    first: dict[str, int] = {}
    for row, name in enumerate(rootstocks):
        if name:
            root[row] = first.setdefault(name, row)
    return root


@dataclass(slots=True)
class _Spot:
    at: tuple[float, float]


def _inside(areas: tuple[Area, ...], quick: QuickColumns) -> NDArray[np.bool_]:
    # Of a tree only its position is looked at; making whole trees of the columns would take longer than all the rest.
    spots = [_Spot(at) for at in zip(quick.lonlat[:, 0].tolist(), quick.lonlat[:, 1].tolist(), strict=True)]
    return inside_areas(areas, cast("Sequence[Tree]", spots))
