"""A day's walk as a problem of walking: which stops, what to carry, where to start, what is in the way."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

import numpy as np

from standmap.jobs.opening import working_frame
from standmap.jobs.positions import xy
from standmap.jobs.round_asked import NothingToCollect, all_left_out, asked_for
from standmap.jobs.round_footing import eased_options
from standmap.jobs.round_hours import sets_out_of
from standmap.jobs.round_options import RoundOptions, check
from standmap.jobs.round_places import start_of
from standmap.jobs.round_problem import Posing
from standmap.jobs.round_stops import AskedStop, LeftOut
from standmap.jobs.rule_choice import rules_of
from standmap.jobs.walked_ground import walked_ground
from standmap.messages import Messages, Silence
from standmap.rules.ruleset import RuleSet
from standmap.stand.ground import Place
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand

if TYPE_CHECKING:
    from standmap.rounds.problem import RoundProblem, Xy
    from standmap.sap.model import SapModel
    from standmap.survey.frame import WorkingFrame

TOO_FAR = "too far from the stand to walk to"


@dataclass(frozen=True, slots=True, eq=False)
class PosedRound:
    """What is asked of the solver, and what its answer is read back with.

    Attributes
    ----------
    options
        As asked for, the load lowered where the footing asks for it.
    stops
        By their keys.
    places
        Where trips may begin and end, by their position in the frame.
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
    places: Mapping[Xy, Place]
    left_out: tuple[LeftOut, ...]
    sets_out: datetime
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def seed(self) -> int:
        """Of everything that is left to chance."""
        return self.options.seed

    def place_at(self, at: Xy | None) -> Place:
        """Return the place where a trip begins or ends; where the round starts when it is not named.

        A sledge or barrow is left at a path beside it: then it is the nearest.
        """
        return self.start if at is None else self.places[min(self.places, key=lambda known: math.dist(known, at))]


def pose_round(
    stand: Stand,
    day: date,
    options: RoundOptions,
    messages: Messages | None = None,
    *,
    plans: Iterable[Plan] = (),
    model: SapModel | None = None,
) -> PosedRound:
    """Return the problem of a day's walk.

    Parameters
    ----------
    plans
        Marks of any season: they say where to tap.
    model
        What the stand's records teach of the sap; learned anew where it is not at hand.

    Raises
    ------
    UserError
        If an option is out of bounds, a tree or place is not there, or there is no gate or tank.
    NothingToCollect
        If there is nothing to do that day; the reason is said.
    """
    messages = messages or Silence()
    check(options)
    start = start_of(stand, options.start)
    rules = rules_of(stand)
    sets_out, assumed = sets_out_of(day, start.at, options)
    asked = asked_for(stand, plans, day, sets_out, options, rules, model)
    frame = working_frame(stand)
    if frame is None:
        raise NothingToCollect(f"nothing to do on {day.isoformat()}: the stand is empty", asked.left_out)
    spots = xy(frame, [stop.tree.at for stop in asked.stops])
    reached = np.isfinite(spots[:, 0])
    far = [(stop.tree.name, TOO_FAR) for stop, near in zip(asked.stops, reached, strict=True) if not near]
    ground = walked_ground(stand, frame)
    options, lowered = eased_options(options, ground.heights, spots[reached])
    posing = Posing(stand, frame, start, options, sets_out)
    stops = {stop.key: stop for stop, near in zip(asked.stops, reached, strict=True) if near}
    off_paths: tuple[LeftOut, ...] = ()
    if options.barrow_kg is not None:
        stops, off_paths = posing.by_barrow(stops, ground)
        if not stops:
            raise NothingToCollect(all_left_out(day, off_paths, options.purpose), (*asked.left_out, *off_paths))
    problem, places = posing.problem(stops, ground)
    notes = tuple(filter(None, (*asked.notes, lowered)))
    for text in notes:
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
        places=places,
        left_out=(*asked.left_out, *far, *off_paths),
        sets_out=sets_out,
        notes=tuple(filter(None, (*notes, assumed))),
        cautions=asked.cautions,
    )
