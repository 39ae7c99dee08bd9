"""A morning's collection as a problem of walking: which vessels, what to expect, where to start, what is in the way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from standmap.errors import NothingToDo, UserError
from standmap.jobs.opening import working_frame
from standmap.jobs.positions import xy
from standmap.jobs.round_options import (
    LOAD_CAUTION,
    LOAD_CAUTION_KG,
    LONG_OPEN_DAYS,
    SERVICE_MIN,
    SPEED_M_PER_MIN,
    RoundOptions,
    check,
)
from standmap.messages import Messages, Silence
from standmap.sap.expected import SAP_KG_PER_L, ExpectedRun, expected_runs
from standmap.stand.ground import AreaKind, LineKind, Place, PlaceKind
from standmap.stand.names import folded
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole
from standmap.stand.tree import LonLat, Tree

if TYPE_CHECKING:
    from standmap.rounds.problem import Obstacles, RoundProblem
    from standmap.survey.frame import WorkingFrame


class NothingToCollect(NothingToDo):
    """There is no round that day; says which trees were left out, and why."""

    def __init__(self, reason: str, left_out: Sequence[tuple[str, str]]) -> None:
        super().__init__(reason)
        self.left_out = tuple(left_out)


@dataclass(frozen=True, slots=True, eq=False)
class PosedRound:
    """What is asked of the solver, and what its answer is read back with.

    Attributes
    ----------
    holes
        The tree and the wound of each tap, by the wound's key.
    litres
        Expected of each, by the wound's key.
    left_out
        Names of trees that are not asked about, with why.
    """

    day: date
    start: Place
    seed: int
    problem: RoundProblem
    frame: WorkingFrame
    holes: Mapping[str, tuple[Tree, TapHole]]
    litres: Mapping[str, float]
    left_out: tuple[tuple[str, str], ...]


def pose_round(stand: Stand, day: date, options: RoundOptions, messages: Messages | None = None) -> PosedRound:
    """Return the problem of a day's collection.

    Raises
    ------
    UserError
        If an option is out of bounds or there is no gate or tank.
    NothingToCollect
        If there is nothing to collect; the reason is said.
    """
    from standmap.rounds.problem import RoundProblem, Tap

    messages = messages or Silence()
    check(options)
    start = _start(stand, options.start)
    chosen, left_out = _holes(stand, day, options.trees)
    frame = working_frame(stand)
    if not chosen or frame is None:
        raise NothingToCollect(_why_nothing(stand, day, left_out), left_out)
    places = xy(frame, [start.at, *[tree.at for tree, _ in chosen]])
    if not np.isfinite(places[0]).all():
        raise UserError(f"the place '{start.name}' is too far from the stand to walk from", "name another with --from")
    runs = _runs(stand, chosen, options)
    litres: dict[str, float] = {}
    taps = []
    for (tree, hole), at in zip(chosen, places[1:], strict=True):
        if not np.isfinite(at).all():
            left_out.append((tree.name, "too far from the stand to walk to"))
            continue
        # No more waits in a vessel than it holds.
        litres[hole.key] = min(runs[tree.key].volume_ml, options.vessel_ml) / 1000
        load_kg = litres[hole.key] * SAP_KG_PER_L
        taps.append(Tap(hole.key, (float(at[0]), float(at[1])), load_kg, SERVICE_MIN))
    _tell_assumptions(list(runs.values()), options, messages)
    _ask_about_old_holes(day, chosen, messages)
    problem = RoundProblem(
        depot=(float(places[0, 0]), float(places[0, 1])),
        taps=tuple(taps),
        capacity_kg=options.capacity_kg,
        can_kg=options.can_kg,
        collectors=options.collectors,
        obstacles=_obstacles(stand, frame),
        speed_m_per_min=SPEED_M_PER_MIN,
    )
    return PosedRound(
        day=day,
        start=start,
        seed=options.seed,
        problem=problem,
        frame=frame,
        holes={hole.key: (tree, hole) for tree, hole in chosen},
        litres=litres,
        left_out=tuple(left_out),
    )


def _start(stand: Stand, name: str | None) -> Place:
    """Return where trips begin: the place named, else the first tank, else the first gate."""
    if name is not None:
        found = [p for p in stand.places if folded(p.name) == folded(name) or p.key == name]
        if not found:
            known = ", ".join(p.name for p in stand.places) or "none yet"
            raise UserError(f"no place is called '{name[:60]}'", f"the places are: {known}")
        return found[0]
    for kind in (PlaceKind.TANK, PlaceKind.GATE):
        for place in stand.places:
            if place.kind is kind:
                return place
    raise UserError("the stand has no gate or tank to start from", "bring one in, as a waypoint of type 'gate'")


def _holes(stand: Stand, day: date, names: Sequence[str]) -> tuple[list[tuple[Tree, TapHole]], list[tuple[str, str]]]:
    """Return the open holes to visit, and the trees that were named or have a hole but are left out, with why."""
    left_out: list[tuple[str, str]] = []
    trees = list(dict.fromkeys(stand.tree(n) for n in names)) if names else list(stand.present)
    chosen: list[tuple[Tree, TapHole]] = []
    for tree in trees:
        holes = stand.open_holes(tree.key, day)
        waiting = [h for h in holes if all(c.collected_on != day for c in stand.collections_of.get(h.key, ()))]
        if not holes and names:
            left_out.append((tree.name, f"no open hole on {day.isoformat()}"))
        if len(waiting) < len(holes):
            left_out.append((tree.name, f"collected on {day.isoformat()} already"))
        chosen.extend((tree, h) for h in waiting)
    return chosen, left_out


def _why_nothing(stand: Stand, day: date, left_out: Sequence[tuple[str, str]]) -> str:
    if left_out:
        return all_left_out(day, left_out)
    seasons = sorted({h.season for h in stand.holes})
    last = f"; the last holes are of {seasons[-1]}" if seasons else "; no hole was ever recorded"
    return f"nothing to collect: no hole is open on {day.isoformat()}{last}"


def all_left_out(day: date, left_out: Sequence[tuple[str, str]]) -> str:
    """Return in words that every tree is left out, the first of them with why."""
    name, why = left_out[0]
    others = f" (and {len(left_out) - 1} more)" if len(left_out) > 1 else ""
    return f"nothing to collect on {day.isoformat()}: {name}: {why}{others}"


def _runs(stand: Stand, chosen: Sequence[tuple[Tree, TapHole]], options: RoundOptions) -> dict[str, ExpectedRun]:
    """Return the expected run of each tree's holes, by tree key."""
    keys = [tree.key for tree, _ in chosen]
    if options.run_ml is not None:
        return {key: ExpectedRun(options.run_ml, "as asked for", assumed=False) for key in keys}
    return expected_runs(stand, keys)


def _tell_assumptions(runs: Sequence[ExpectedRun], options: RoundOptions, messages: Messages) -> None:
    assumed = [r for r in runs if r.assumed]
    if assumed:
        messages.tell(f"{assumed[0].volume_ml / 1000:g} L a hole and night is {assumed[0].basis}")
    elif options.run_ml is None:
        litres = [r.volume_ml / 1000 for r in runs]
        messages.tell(f"{min(litres):.1f} to {max(litres):.1f} L a hole and night, from this stand's records")
    if any(r.volume_ml > options.vessel_ml for r in runs):
        messages.caution(f"some trees are expected to run over a vessel of {options.vessel_ml / 1000:g} L")
    if options.capacity_kg > LOAD_CAUTION_KG:
        messages.caution(LOAD_CAUTION)


def _ask_about_old_holes(day: date, chosen: Sequence[tuple[Tree, TapHole]], messages: Messages) -> None:
    old = [(tree.name, hole.made_on) for tree, hole in chosen if (day - hole.made_on).days > LONG_OPEN_DAYS]
    if old:
        name, since = old[0]
        others = f", and {len(old) - 1} more" if len(old) > 1 else ""
        messages.caution(f"{name} is noted as open since {since.isoformat()}{others}: is the tube still in?")


def _obstacles(stand: Stand, frame: WorkingFrame) -> Obstacles:
    from standmap.rounds.problem import Obstacles

    def flat(points: Sequence[LonLat]) -> tuple[tuple[float, float], ...]:
        found = xy(frame, points)
        return tuple((float(x), float(y)) for x, y in found[np.isfinite(found[:, 0])])

    streams = (flat(line.course) for line in stand.lines if line.kind is LineKind.STREAM)
    no_go = (tuple(flat(r) for r in a.outline) for a in stand.areas if a.kind is AreaKind.NO_GO)
    return Obstacles(
        streams=tuple(s for s in streams if len(set(s)) > 1),
        bridges=flat([p.at for p in stand.places if p.kind is PlaceKind.BRIDGE]),
        no_go=tuple(rings for rings in no_go if len(set(rings[0])) > 2),
    )
