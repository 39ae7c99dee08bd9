"""A day's walk as a problem of walking: which stops, what to carry, where to start, what is in the way."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

import numpy as np

from standmap.errors import UserError
from standmap.jobs.opening import working_frame
from standmap.jobs.positions import xy
from standmap.jobs.round_asked import NothingToCollect, all_left_out, asked_for
from standmap.jobs.round_footing import eased_options
from standmap.jobs.round_hours import sets_out_of
from standmap.jobs.round_options import SPEED_M_PER_MIN, RoundOptions, check
from standmap.jobs.round_places import start_of
from standmap.jobs.round_stops import AskedStop, LeftOut
from standmap.jobs.rule_choice import rules_of
from standmap.jobs.walked_ground import walked_ground
from standmap.messages import Messages, Silence
from standmap.rules.ruleset import RuleSet
from standmap.stand.ground import Place
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand

if TYPE_CHECKING:
    from standmap.rounds.problem import Obstacles, RoundProblem
    from standmap.survey.frame import WorkingFrame

__all__ = ["NothingToCollect", "PosedRound", "all_left_out", "pose_round"]


@dataclass(frozen=True, slots=True, eq=False)
class PosedRound:
    """What is asked of the solver, and what its answer is read back with.

    Attributes
    ----------
    options
        As asked for, the load lowered where the footing asks for it.
    stops
        By their keys.
    left_out
        Names of trees that are not asked about, with why.
    sets_out
        When the first collector begins.
    notes, cautions
        What is assumed, and what to mind, in words.
    """

    stand: Stand
    day: date
    options: RoundOptions
    rules: RuleSet
    start: Place
    problem: RoundProblem
    frame: WorkingFrame
    stops: Mapping[str, AskedStop]
    left_out: tuple[LeftOut, ...]
    sets_out: datetime
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def seed(self) -> int:
        """Of everything that is left to chance."""
        return self.options.seed


def pose_round(
    stand: Stand,
    day: date,
    options: RoundOptions,
    messages: Messages | None = None,
    *,
    plans: Iterable[Plan] = (),
) -> PosedRound:
    """Return the problem of a day's walk.

    Parameters
    ----------
    plans
        Marks of any season: they say where to tap.

    Raises
    ------
    UserError
        If an option is out of bounds, a tree or place is not there, or there is no gate or tank.
    NothingToCollect
        If there is nothing to do that day; the reason is said.
    """
    from standmap.rounds.problem import RoundProblem, Tap

    messages = messages or Silence()
    check(options)
    start = start_of(stand, options.start)
    rules = rules_of(stand)
    asked = asked_for(stand, plans, day, options, rules)
    frame = working_frame(stand)
    if frame is None:
        raise NothingToCollect(f"nothing to do on {day.isoformat()}: the stand is empty", asked.left_out)
    places = xy(frame, [start.at, *[stop.tree.at for stop in asked.stops]])
    if not np.isfinite(places[0]).all():
        raise UserError(f"the place '{start.name}' is too far from the stand to walk from", "name another with --from")
    left_out = list(asked.left_out)
    stops: dict[str, AskedStop] = {}
    taps = []
    for stop, at in zip(asked.stops, places[1:], strict=True):
        if not np.isfinite(at).all():
            left_out.append((stop.tree.name, "too far from the stand to walk to"))
            continue
        stops[stop.key] = stop
        taps.append(Tap(stop.key, (float(at[0]), float(at[1])), stop.taken_kg, options.minutes_at_a_stop))
    options, lowered = eased_options(options, None, places[1:])
    sets_out, assumed = sets_out_of(day, start.at, options)
    problem = RoundProblem(
        depot=(float(places[0, 0]), float(places[0, 1])),
        taps=tuple(taps),
        capacity_kg=options.capacity_kg,
        can_kg=options.can_kg,
        collectors=len(options.people),
        obstacles=_obstacles(stand, frame),
        speed_m_per_min=SPEED_M_PER_MIN,
    )
    for text in asked.notes:
        messages.tell(text)
    for text in asked.cautions:
        messages.caution(text)
    return PosedRound(
        stand=stand,
        day=day,
        options=options,
        rules=rules,
        start=start,
        problem=problem,
        frame=frame,
        stops=stops,
        left_out=tuple(left_out),
        sets_out=sets_out,
        notes=tuple(filter(None, (*asked.notes, lowered, assumed))),
        cautions=asked.cautions,
    )


def _obstacles(stand: Stand, frame: WorkingFrame) -> Obstacles:
    from standmap.rounds.problem import Obstacles

    ground = walked_ground(stand, frame)
    return Obstacles(
        streams=tuple(stream.points for stream in ground.streams),
        bridges=tuple(crossing.at for crossing in ground.crossings),
        no_go=tuple(area.rings for area in ground.no_go),
    )
