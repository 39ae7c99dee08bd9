"""From trips that a search found to the round as it is walked: by whom, from where, with what, how sure."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from standmap.rounds.asked import LATE, Asked
from standmap.rounds.evened import evened
from standmap.rounds.problem import Aim, Xy
from standmap.rounds.round import LeftOut, Round, Trip
from standmap.rounds.search import State
from standmap.rounds.walked import TripMaker, set_out
from standmap.rounds.walks import Walk, Walks
from standmap.rounds.watch import Ending

NO_ROOM = "it fits on no trip beside the trees that are to be first, last or together"


@dataclass(frozen=True, slots=True)
class WalkedRounds:
    """Makes rounds of what is asked."""

    asked: Asked
    walks: Walks

    def round(self, state: State, stopped: Ending, bound: float | None) -> Round:
        """Return the round of a state; unless a person gave it, with whole trips spread over those who walk.

        Parameters
        ----------
        bound
            What no round falls short of, in the unit of the aim; None where that is not known.
        """
        asked = self.asked
        if stopped is not Ending.BY_HAND:
            state = evened(self.walks, state)
        trips = tuple(trip for person, walk in enumerate(state.walks) for trip in self._trips(person, state, walk))
        length_m = math.fsum(trip.length_m for trip in trips)
        metres = asked.problem.aim is Aim.DISTANCE
        why = LATE if asked.bound_by_hours else NO_ROOM
        proved = stopped is Ending.PROVED
        return Round(
            trips=trips,
            left_out=(*asked.left_out, *(LeftOut(asked.taps[tap].key, why) for tap in state.missing)),
            length_m=length_m,
            minutes=math.fsum(trip.minutes for trip in trips),
            repeatable=stopped.repeatable,
            proved=proved,
            lower_bound_m=bound if metres else None,
            stopped=stopped,
            aim=asked.problem.aim,
            cost=state.cost if not state.missing else self._cost(state),
            lower_bound=bound if not state.missing else None,
            kg_m=math.fsum(trip.kg_m for trip in trips),
        )

    def _cost(self, state: State) -> float:
        """Return the cost of a round without that of what is left out."""
        asked = self.asked
        if asked.adds_up:
            return math.fsum(walk.cost for walk in state.walks)
        pairs = zip(asked.people, state.walks, strict=True)
        return max((person.sets_out_min + walk.cost for person, walk in pairs if walk.cost > 0), default=0.0)

    def _trips(self, person: int, state: State, walk: Walk) -> list[Trip]:
        asked, own = self.asked, state.trips[person]
        if not own and not walk.ends and asked.people[person].carrying_kg is None:
            return []
        who, offset = asked.people[person], asked.first_tap
        can_kg = asked.problem.can_kg
        maker = TripMaker(asked.problem, asked.ways)
        home = 0 if who.carrying_kg is not None else asked.starts[person]
        base = can_kg if who.carrying_kg is None else who.carrying_kg
        place, minute = asked.starts[person], 0.0
        trips: list[Trip] = []
        if walk.first_tank is not None:
            first = maker.bare(place, walk.first_tank, base)
            trips.append(
                replace(set_out(first, person + 1, minute), start=self._xy(place), end=self._xy(walk.first_tank))
            )
            minute, place, base = first.minutes, walk.first_tank, can_kg
        for stops, end in zip(own, walk.ends, strict=True):
            trip = maker.trip(place, [(tap + offset, asked.taps[tap]) for tap in stops], end, base)
            trips.append(replace(set_out(trip, person + 1, minute), start=self._xy(place), end=self._xy(end)))
            minute, place, base = minute + trip.minutes, end, can_kg
        if trips and place != home:
            trips[-1] = maker.gone_on(trips[-1], place, home, can_kg)
        return trips

    def _xy(self, place: int) -> Xy:
        return self.asked.ways.course(place, place)[0]
