"""The best of all that was measured: worked out and looked at first, then accepted as one edit."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from standmap.errors import NothingToDo, UserError
from standmap.jobs import adjust_words as words
from standmap.jobs.adjust_answer import (
    SAME_M,
    Adjustment,
    CheckedReading,
    Disagreement,
    LeftOut,
    Loose,
    Misclosure,
    MovedPoint,
    ShiftedWalk,
)
from standmap.jobs.adjust_basis import (
    Basis,
    Observation,
    Point,
    Spread,
    is_used,
    point_of,
    read_basis,
    seen_by_receivers,
)
from standmap.jobs.positions import xy
from standmap.progress import Progress, Unwatched
from standmap.stand.ground import Place
from standmap.stand.sights import Sight, TakenPosition
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop, StopState
from standmap.store.stand_file import StandFile
from standmap.survey.one_sight import USUAL, Instruments

if TYPE_CHECKING:
    from standmap.store.writing import Writing
    from standmap.survey.frame import WorkingFrame
    from standmap.survey.network import Adjusted, Found
    from standmap.survey.one_sight import XY
    from standmap.survey.readings import SeenAt

SAME_PART = 1e-4
"""A variance that changes by a smaller part has not changed."""


class NetworkChangedError(UserError):
    """What was measured is no longer what an adjustment was worked out from: work it out again."""


def propose_adjustment(
    file: StandFile,
    *,
    left_out: Collection[str] = (),
    progress: Progress | None = None,
    usual: Instruments = USUAL,
) -> Adjustment:
    """Work out the best of all that was measured. Nothing is written.

    Parameters
    ----------
    left_out
        Ids of observations to leave out as well.
    usual
        How good tape and compass are where a sight does not tell.

    Raises
    ------
    NothingToDo
        If nothing was measured.
    UserError
        If an id is not known, or a stop was asked for.
    """
    return adjusted(read_basis(file), left_out=left_out, progress=progress, usual=usual)


def adjusted(
    basis: Basis,
    *,
    left_out: Collection[str] = (),
    progress: Progress | None = None,
    usual: Instruments = USUAL,
) -> Adjustment:
    """Return what comes of what was read; touches no file."""
    from standmap.survey.network import adjust

    frame = basis.frame
    if frame is None or not basis.points:
        raise NothingToDo("nothing was measured here yet: bring in a walk or a field sheet, or write sights down")
    known = {o.key for o in basis.observations}
    for asked in left_out:
        if asked not in known:
            raise UserError(f"there is no observation '{asked[:60]}'", "'standmap adjust FILE --json' names them")
    sights = [usual.told(s) for s in basis.sights if s.used and s.key not in left_out]
    seen = seen_by_receivers(basis, left_out)
    at = xy(frame, [p.thing.at for p in basis.points.values()])
    present: dict[str, XY] = {key: (float(x), float(y)) for key, (x, y) in zip(basis.points, at, strict=True)}
    held = frozenset(key for key, point in basis.points.items() if point.held)
    middle = np.median(at, axis=0)
    convergence = float(frame.convergence_deg(*frame.to_lonlat(middle[0], middle[1])))
    begun = _begun(present, held, seen, sights, convergence)
    result = adjust(begun, held, seen, sights, basis.shared_m2, convergence, progress or Unwatched())
    return _told(basis, frame, present, result, sights, convergence, frozenset(left_out))


def _begun(
    present: Mapping[str, XY],
    held: Collection[str],
    seen: Sequence[SeenAt],
    sights: Sequence[Sight],
    convergence_deg: float,
) -> dict[str, XY]:
    """Return where to begin: from what was measured alone, so that an accepted answer leads to the same answer again.

    Only what no measurement places begins where it stands.
    """
    from standmap.survey.sighting import first_positions

    at: dict[str, list[XY]] = {}
    for one in seen:
        at.setdefault(one.point, []).append(one.xy)
    first = {key: _mean(places) for key, places in at.items()}
    first |= {key: present[key] for key in held}
    reached = first_positions(first, sights, convergence_deg)
    return {key: first.get(key) or reached.get(key) or xy_ for key, xy_ in present.items()}


def _mean(places: Sequence[XY]) -> XY:
    return math.fsum(p[0] for p in places) / len(places), math.fsum(p[1] for p in places) / len(places)


def _told(
    basis: Basis,
    frame: WorkingFrame,
    present: Mapping[str, XY],
    result: Adjusted,
    sights: Sequence[Sight],
    convergence_deg: float,
    left_out: frozenset[str],
) -> Adjustment:
    from standmap.survey.traverse import loops_of

    names = {key: point.name for key, point in basis.points.items()}
    rows = {o.key: o for o in basis.observations}
    disagreeing = [
        Disagreement(
            id=j.reading.id,
            what=str(j.reading.what),
            text=words.disagreement_words(j, rows[j.reading.id], result.points, names, basis.walks),
            off=j.off,
            sigmas=j.sigmas or 0.0,
            weight=j.weight,
            points=j.reading.ends,
        )
        for j in result.judged
        if j.blunder
    ]
    readings = tuple(
        CheckedReading(
            id=j.reading.id,
            what=str(j.reading.what),
            text=words.observation_words(rows[j.reading.id], names, basis.walks),
            points=j.reading.ends,
            checked=j.checked,
            sigmas=j.sigmas,
            weight=j.weight,
        )
        for j in result.judged
    )
    loops = loops_of(sights, convergence_deg)
    misclosures = [
        Misclosure(
            points=loop.points,
            text=words.loop_words(loop, names),
            off_m=loop.closure.off_m,
            length_m=loop.closure.length_m,
            sigma_m=loop.sigma_m,
            gross=words.is_gross(loop),
        )
        for loop in loops
    ]
    return Adjustment(
        points=_moved(basis, frame, present, result, sights, left_out),
        readings=readings,
        disagreeing=tuple(sorted(disagreeing, key=lambda d: -d.sigmas)),
        left_out=tuple(
            LeftOut(o.key, words.observation_words(o, names, basis.walks), _ends(o))
            for o in basis.observations
            if not is_used(o) or o.key in left_out
        ),
        misclosures=tuple(sorted(misclosures, key=lambda m: -m.off_m / max(m.sigma_m, 1e-9))),
        loose=tuple(Loose(str(h.lack), h.points, words.hanging_words(h, names)) for h in result.hanging),
        walks=tuple(
            ShiftedWalk(key, name, *shift, words.walk_words(name, *shift))
            for key, shift in result.shifts.items()
            for name in (basis.walks.get(key) or "a walk",)
        ),
        misfit=result.misfit,
        spare=result.spare,
        basis=basis,
        left_out_now=frozenset(key for key in left_out if is_used(rows[key])),
    )


def _ends(observation: Observation) -> tuple[str, ...]:
    if isinstance(observation, Sight):
        return (observation.from_key, observation.to_key)
    return (point_of(observation),)


def _moved(
    basis: Basis,
    frame: WorkingFrame,
    present: Mapping[str, XY],
    result: Adjusted,
    sights: Sequence[Sight],
    left_out: Collection[str],
) -> tuple[MovedPoint, ...]:
    only = _only_walks(basis, sights, left_out)
    keys = list(basis.points)
    places = np.array([result.points[key].xy for key in keys], dtype=float).reshape(-1, 2)
    lon, lat = frame.to_lonlat(places[:, 0], places[:, 1])
    found: list[MovedPoint] = []
    for key, here in zip(keys, zip(lon.tolist(), lat.tolist(), strict=True), strict=True):
        point, best = basis.points[key], result.points[key]
        stays = point.held or best.covariance is None
        away = 0.0 if stays else math.dist(present[key], best.xy)
        at = here if away > SAME_M else point.thing.at
        way = best.xy[0] - present[key][0], best.xy[1] - present[key][1]
        found.append(
            MovedPoint(
                key=key,
                name=point.name,
                tree=point.tree,
                held=point.held,
                before=point.thing.at,
                at=at,
                away_m=away,
                covariance=_spread(point, best),
                walk_key=only.get(key),
                beside=result.beside.get(key),
                bearing_deg=math.degrees(math.atan2(*way)) % 360 if away > SAME_M else None,
            )
        )
    return tuple(found)


def _spread(point: Point, best: Found) -> Spread | None:
    """Return how sure a point is; a pinned one is as sure as it was said to be."""
    thing = point.thing
    if not point.held or not isinstance(thing, Tree):
        return best.covariance
    if thing.var_e_m2 is None or thing.var_n_m2 is None:
        return best.covariance
    return thing.var_e_m2, thing.var_n_m2, thing.cov_en_m2 or 0.0


def _only_walks(basis: Basis, sights: Sequence[Sight], left_out: Collection[str]) -> dict[str, str]:
    """Return for each point that comes from one walk alone that walk."""
    walks: dict[str, set[str | None]] = {}
    for sight in sights:
        for key in (sight.from_key, sight.to_key):
            walks.setdefault(key, set()).add(None)
    positions: tuple[Stop | TakenPosition, ...] = (*basis.stops, *basis.taken)
    for position in positions:
        if is_used(position) and position.key not in left_out:
            walks.setdefault(point_of(position), set()).add(position.walk_key)
    found: dict[str, str] = {}
    for key, several in walks.items():
        (walk, *others) = several
        if walk is not None and not others:
            found[key] = walk
    return found


def store_adjustment(file: StandFile, adjustment: Adjustment, now: datetime) -> int:
    """Write new positions and what is left out as one edit; return how many trees and places moved.

    Pinned trees are never moved.

    Raises
    ------
    NetworkChangedError
        If the stand or what was measured has changed since it was worked out.
    NothingToDo
        If all is as it would be.
    """
    basis = adjustment.basis
    if read_basis(file) != basis:
        raise NetworkChangedError("the stand has changed since it was adjusted", "adjust it again")
    changed = [thing for p in adjustment.points if (thing := _changed(basis.points[p.key], p)) is not None]
    if not changed and not adjustment.left_out_now:
        raise NothingToDo("everything stands where all that was measured puts it")
    moved = len(adjustment.moved)
    with file.writing(f"adjust {moved} {'position' if moved == 1 else 'positions'}", now) as writing:
        for thing in changed:
            writing.replace(thing)
        _write_used(file, writing, adjustment.left_out_now, used=False)
    return moved


def _changed(point: Point, moved: MovedPoint) -> Tree | Place | None:
    """Return the tree or place as it will be, None where it stays as it is."""
    thing, spread = point.thing, moved.covariance
    if point.held or spread is None:
        return None
    if isinstance(thing, Place):
        return replace(thing, at=moved.at) if moved.moves else None
    before = (thing.var_e_m2, thing.var_n_m2, thing.cov_en_m2 or 0.0)
    if not moved.moves and thing.walk_key == moved.walk_key and _same_spread(before, spread):
        return None
    var_e, var_n, cov_en = spread
    return replace(thing, at=moved.at, var_e_m2=var_e, var_n_m2=var_n, cov_en_m2=cov_en, walk_key=moved.walk_key)


def _same_spread(before: tuple[float | None, float | None, float], after: Spread) -> bool:
    size = (after[0] + after[1]) / 2
    return all(b is not None and abs(b - a) <= SAME_PART * size for b, a in zip(before, after, strict=True))


def set_used(file: StandFile, ids: Collection[str], now: datetime, *, used: bool) -> tuple[str, ...]:
    """Leave observations out of every adjustment, or take them back in, as one edit; return what they are.

    Raises
    ------
    UserError
        If there is no such observation.
    NothingToDo
        If they are so already.
    """
    basis = read_basis(file)
    rows = {o.key: o for o in basis.observations}
    for asked in ids:
        if asked not in rows:
            raise UserError(f"there is no observation '{asked[:60]}'", "'standmap adjust FILE --json' names them")
    changing = [rows[key] for key in dict.fromkeys(ids) if is_used(rows[key]) is not used]
    if not changing:
        raise NothingToDo("nothing changes: they are used already" if used else "nothing changes: they are left out")
    names = {key: point.name for key, point in basis.points.items()}
    told = tuple(words.observation_words(o, names, basis.walks) for o in changing)
    what = told[0] if len(told) == 1 else f"{len(told)} observations"
    label = f"take back in {what}" if used else f"leave out {what}"
    with file.writing(label, now) as writing:
        _write_used(file, writing, {o.key for o in changing}, used=used)
    return told


def _write_used(file: StandFile, writing: Writing, ids: Collection[str], *, used: bool) -> None:
    """Write whether observations count onto their rows, which may still name a tree that was merged since."""
    state = StopState.ACCEPTED if used else StopState.IGNORED
    for stop in file.rows(Stop):
        if stop.key in ids:
            writing.change(stop, state=state)
    others: tuple[TakenPosition | Sight, ...] = (*file.rows(TakenPosition), *file.rows(Sight))
    for row in others:
        if row.key in ids:
            writing.change(row, used=used)
