"""Tomorrow's collection walk: which vessels, in which order, with which loads."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.errors import NothingToDo, UserError
from standmap.jobs.opening import working_frame
from standmap.jobs.planned_round import PlannedRound, PlannedTrip, RoundStop
from standmap.jobs.positions import xy
from standmap.messages import Messages, Silence
from standmap.progress import Progress, Unwatched
from standmap.sap.expected import SAP_KG_PER_L, VESSEL_ML, ExpectedRun, expected_runs
from standmap.stand.ground import AreaKind, LineKind, Place, PlaceKind
from standmap.stand.names import folded
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole
from standmap.stand.tree import LonLat, Tree

if TYPE_CHECKING:
    from standmap.rounds.problem import Obstacles
    from standmap.rounds.round import Round
    from standmap.rounds.stop import StopRule
    from standmap.survey.frame import WorkingFrame

CAPACITY_KG = 15.0
"""Load carried unless said otherwise, cans included: an assumption on the careful side of the figure below."""

CAPACITY_BOUNDS_KG = (5.0, 40.0)

LOAD_CAUTION_KG = 16.0
LOAD_CAUTION = (
    "a load over 16 kg: a public handling guideline (HSE, INDG143, from memory: 16 kg for women and 25 kg for men, "
    "held close to the body, no more than 10 m without rest) asks for a closer look, on bad ground all the more"
)

LONG_OPEN_DAYS = 35
"""A hole open for longer is asked about: a season lasts two to five weeks (Finnish Forest Research Institute
figures, via Seinäjoki UAS)."""

CAN_KG = 1.0
"""Weight of the empty cans of one trip: an assumption."""

SERVICE_MIN = 3.0
"""Minutes at one vessel: an assumption."""

SPEED_M_PER_MIN = 5.0367 * 3 / 5 * 1000 / 60
"""Level walking off the path, 3.02 km/h (Tobler 1993, NCGIA Technical Report 93-1: 5.0367 km/h times 3/5)."""


@dataclass(frozen=True, slots=True)
class RoundOptions:
    """How the walk is to be.

    Attributes
    ----------
    trees
        Names or ids; all open holes when empty.
    start
        Name of the place where trips begin and end; the first tank, else the first gate, when absent.
    run_ml
        Expected volume of a hole in a night; from records or the assumption when absent.
    """

    trees: tuple[str, ...] = ()
    start: str | None = None
    capacity_kg: float = CAPACITY_KG
    can_kg: float = CAN_KG
    collectors: int = 1
    run_ml: float | None = None
    vessel_ml: float = VESSEL_ML
    seed: int = 1


class NothingToCollect(NothingToDo):
    """There is no round that day; says which trees were left out, and why."""

    def __init__(self, reason: str, left_out: Sequence[tuple[str, str]]) -> None:
        super().__init__(reason)
        self.left_out = tuple(left_out)


def plan_round(
    stand: Stand,
    day: date,
    options: RoundOptions,
    *,
    stop: StopRule | None = None,
    messages: Messages | None = None,
    progress: Progress | None = None,
    on_best: Callable[[Round], None] | None = None,
) -> PlannedRound:
    """Plan the collection of a day.

    Parameters
    ----------
    stop
        When to be content; the solver's own rule when absent.
    progress
        A wish to stop keeps the best whole round found so far.

    Raises
    ------
    UserError
        If an option is out of bounds or there is no gate or tank.
    NothingToCollect
        If there is nothing to collect; the reason is said.
    """
    from standmap.rounds.problem import RoundProblem, Tap
    from standmap.rounds.solve import plan

    messages = messages or Silence()
    _check(options)
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
    solved = plan(problem, stop=stop, seed=options.seed, progress=progress or Unwatched(), on_best=on_best)
    by_key = {hole.key: (tree, hole) for tree, hole in chosen}
    left_out.extend((by_key[out.key][0].name, out.why) for out in solved.left_out)
    if not solved.trips:
        raise NothingToCollect(_why_nothing(stand, day, left_out), left_out)
    return PlannedRound(
        day=day,
        start=start,
        seed=options.seed,
        repeatable=solved.repeatable,
        proved=solved.proved,
        stopped=solved.stopped,
        length_m=solved.length_m,
        minutes=max(_minutes_of(solved).values()),
        trips=_trips(solved, frame, by_key, litres),
        left_out=tuple(left_out),
    )


def _check(options: RoundOptions) -> None:
    low, high = CAPACITY_BOUNDS_KG
    if not low <= options.capacity_kg <= high:
        raise UserError(f"a load of {options.capacity_kg:g} kg is out of bounds", f"choose {low:g} to {high:g} kg")
    if not 0 <= options.can_kg < options.capacity_kg:
        raise UserError(f"cans of {options.can_kg:g} kg leave no room", "choose less than the load carried")
    if not 1 <= options.collectors <= 20:
        raise UserError(f"{options.collectors} collectors are out of bounds", "choose 1 to 20")
    if options.run_ml is not None and not 0 < options.run_ml <= 60_000:
        raise UserError(f"a run of {options.run_ml / 1000:g} L is out of bounds", "choose up to 60 L a night")
    if not 0 < options.vessel_ml <= 60_000:
        raise UserError(f"a vessel of {options.vessel_ml / 1000:g} L is out of bounds", "choose up to 60 L")


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
        name, why = left_out[0]
        return f"nothing to collect on {day.isoformat()}: {name}: {why}" + (
            f" (and {len(left_out) - 1} more)" if len(left_out) > 1 else ""
        )
    seasons = sorted({h.season for h in stand.holes})
    last = f"; the last holes are of {seasons[-1]}" if seasons else "; no hole was ever recorded"
    return f"nothing to collect: no hole is open on {day.isoformat()}{last}"


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


def _trips(
    solved: Round,
    frame: WorkingFrame,
    by_key: dict[str, tuple[Tree, TapHole]],
    litres: dict[str, float],
) -> tuple[PlannedTrip, ...]:
    trips = []
    order = 0
    for number, trip in enumerate(solved.trips, start=1):
        stops = []
        for visit in trip.visits:
            order += 1
            tree, hole = by_key[visit.key]
            turn = float(frame.convergence_deg(np.asarray([tree.at[0]]), np.asarray([tree.at[1]]))[0])
            bearing = (np.degrees(visit.bearing_rad) + turn) % 360
            stops.append(
                RoundStop(
                    order=order,
                    tree=tree,
                    hole=hole,
                    litres=litres[hole.key],
                    load_kg=visit.load_kg,
                    leg_m=visit.leg_m,
                    bearing_true_deg=float(bearing),
                    bends=visit.bends,
                    minutes=visit.arrive_min,
                )
            )
        line = np.asarray(trip.course, dtype=np.float64)
        course = _lonlat(frame, line)
        trips.append(
            PlannedTrip(number, trip.collector, trip.length_m, trip.minutes, trip.max_load_kg, tuple(stops), course)
        )
    return tuple(trips)


def _minutes_of(solved: Round) -> dict[int, float]:
    """Return how long each collector is under way."""
    minutes: dict[int, float] = {}
    for trip in solved.trips:
        minutes[trip.collector] = minutes.get(trip.collector, 0.0) + trip.minutes
    return minutes


def _lonlat(frame: WorkingFrame, line: NDArray[np.float64]) -> tuple[LonLat, ...]:
    lon, lat = frame.to_lonlat(line[:, 0], line[:, 1])
    return tuple((float(x), float(y)) for x, y in zip(lon, lat, strict=True))
