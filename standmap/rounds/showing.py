"""How good a round is, shown from a list of all trips that could be made, where they are small."""

from __future__ import annotations

from dataclasses import dataclass

from standmap.rounds.asked import Asked
from standmap.rounds.exact import bound_trips, show_trips
from standmap.rounds.groups import Groups
from standmap.rounds.loaded_groups import best_order, loaded_groups
from standmap.rounds.problem import Aim
from standmap.rounds.savings import Trips
from standmap.rounds.search import Search, State, some_round
from standmap.rounds.watch import Watch


@dataclass(frozen=True, slots=True)
class Shown:
    """The round, or a better one, and what no round falls short of in the unit of the aim; None where unknown."""

    state: State
    bound: float | None


@dataclass(frozen=True, slots=True)
class Showing:
    """What can be shown of the rounds of a search.

    Attributes
    ----------
    seed
        Of the programs' own choices.
    """

    search: Search
    watch: Watch
    seed: int

    @property
    def may_prove(self) -> bool:
        """Whether the cheapest choice of trips is the best round: trips are alike, and add up, and nothing else counts.

        The quickest round of one person is also the first to be over, so that a latest finish forbids nothing then.
        """
        asked = self.search.asked
        hours = asked.bound_by_hours and asked.problem.aim is not Aim.TIME
        return asked.single and asked.adds_up and not hours and not any(asked.pins)

    def of(self, state: State) -> Shown:
        """Return what is shown of a round that leaves nothing out."""
        watch = self.watch
        if state.cost <= 0:
            return Shown(state, 0.0)
        groups = None if watch.over(state.cost, 0) else loaded_groups(self.search.walks, watch.left_s)
        if groups is None:
            return Shown(state, None)
        trips = tuple(tuple(tap + 1 for tap in stops) for person in state.trips for stops in person)
        if any(len(trip) > groups.members.shape[1] for trip in trips):
            return Shown(state, None)
        if self.may_prove:
            return self._proved(state, groups, trips)
        known = float(groups.cost[groups.find(trips)].sum())
        total = bound_trips(groups, trips, known, watch, self.seed) if known > 0 else None
        return Shown(state, None if total is None else min(state.cost, shared(self.search.asked, total)))

    def _proved(self, state: State, groups: Groups, trips: Trips) -> Shown:
        walks = self.search.walks
        shown = show_trips(groups, trips, state.cost, self.watch, self.seed)
        if shown is None:
            return Shown(state, None)
        if shown.shorter is not None:
            orders = [best_order(walks, tuple(sorted(place - 1 for place in trip))) for trip in shown.shorter]
            better = self.search.state(some_round(walks.asked, orders))
            if better.cost < state.cost:
                state = better
        return Shown(state, min(shown.lower_bound, state.cost))


def shared(asked: Asked, total: float) -> float:
    """Return what no round costs less than whose trips together cost at least a total.

    Where the last person's return counts, it is never sooner than if all could be shared evenly.
    """
    if asked.adds_up:
        return total
    ready = sorted(person.sets_out_min for person in asked.people)
    for some in range(1, len(ready) + 1):
        back = (total + sum(ready[:some])) / some
        if some == len(ready) or back <= ready[some]:
            return back
    return total
