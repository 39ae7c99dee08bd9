"""Where a tap costs least to put in: on which trip, and where on it."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence

from standmap.rounds.problem import Aim, Pin
from standmap.rounds.walks import NO_WALK, Stops, Walk, Walks

BLINK = 0.02
"""Chance that a place for a tap is overlooked."""


class PuttingIn:
    """Puts taps into the trips of people.

    Parameters
    ----------
    near
        For each tap those that it is put beside.
    chance
        Of the search.
    """

    def __init__(self, walks: Walks, near: Sequence[set[int]], chance: random.Random) -> None:
        self.walks, self.asked = walks, walks.asked
        self._near, self._random = near, chance
        asked = self.asked
        hours_told = not asked.bound_by_hours or (asked.single and asked.problem.aim is Aim.TIME)
        from_here = any(person.carrying_kg is not None for person in asked.people)
        self._by_trip = hours_told and not from_here and not any(asked.pins)
        """Whether what a tap adds is told well enough by its trip alone."""

    def place(self, plan: list[list[Stops]], walks: list[Walk], members: list[int]) -> bool:
        """Put taps of one group on one trip, one after another where each costs least."""
        first, *others = members
        if not others:
            return self._place(plan, walks, first, None) is not None
        kept = [list(person) for person in plan], list(walks)
        spot = self._place(plan, walks, first, None)
        if spot is not None and all(self._place(plan, walks, other, spot) is not None for other in others):
            return True
        plan[:], walks[:] = kept[0], kept[1]
        return False

    def _place(
        self, plan: list[list[Stops]], walks: list[Walk], tap: int, only: tuple[int, int] | None
    ) -> tuple[int, int] | None:
        """Put a tap where it costs least; return its person and trip, None where it fits nowhere."""
        asked, pin = self.asked, self.asked.pins[tap]
        near = self._near[tap]
        if self._by_trip and only is None:
            return self._place_on_trip(plan, walks, tap, near)
        back = 0.0 if asked.adds_up else self._latest_back(walks)
        best: tuple[float, int, int, list[Stops], Walk] | None = None
        for person, trips in enumerate(plan):
            before = walks[person].cost if math.isfinite(walks[person].cost) else 0.0
            for number, stops, tried in self._ways_in(trips, tap, near, pin, only, person):
                if best is not None and self._random.random() < BLINK:
                    continue
                if not self.walks.fits(stops, person):
                    continue
                walk = self.walks.walk(person, tried)
                if walk is NO_WALK or not math.isfinite(walk.cost):
                    continue
                more = walk.cost - before
                if not asked.adds_up:
                    more += 100 * max(0.0, asked.people[person].sets_out_min + walk.cost - back)
                if best is None or more < best[0]:
                    best = (more, person, number, tried, walk)
        if best is None:
            return None
        _, person, number, tried, walk = best
        plan[person], walks[person] = tried, walk
        return person, number

    def _place_on_trip(
        self, plan: list[list[Stops]], walks: list[Walk], tap: int, near: set[int]
    ) -> tuple[int, int] | None:
        """Put a tap where it adds least to its trip, all tanks left as they are; see `_place`."""
        asked, fits, chance = self.asked, self.walks.fits, self._random.random
        back = 0.0 if asked.adds_up else self._latest_back(walks)
        latest = math.inf if asked.problem.latest_min is None else asked.problem.latest_min
        best: tuple[float, int, int, Stops] | None = None
        for person, trips in enumerate(plan):
            ready = asked.people[person].sets_out_min + walks[person].cost
            spots = (asked.starts[person], *walks[person].ends)
            for number, stops in enumerate((*trips, ())):
                places = self._beside(stops, near, everywhere=False) if stops else {0}
                trip = self._trip_costs(spots, number)
                before = trip(stops) if stops else 0.0
                for place in places:
                    if best is not None and chance() < BLINK:
                        continue
                    longer = (*stops[:place], tap, *stops[place:])
                    more = trip(longer) - before
                    if asked.bound_by_hours and ready + more > latest:
                        continue
                    if not asked.adds_up:
                        more += 100 * max(0.0, ready + more - back)
                    if (best is None or more < best[0]) and fits(longer, person):
                        best = (more, person, number, longer)
        if best is None:
            return None
        _, person, number, longer = best
        plan[person][number : number + 1] = [longer]
        walks[person] = self.walks.walk(person, plan[person])
        return person, number

    def _trip_costs(self, spots: Sequence[int], number: int) -> Callable[[Stops], float]:
        """Return what a walk's trip adds by its stops; `spots` are where the walk begins and where each trip ends."""
        walks, can = self.walks, self.asked.problem.can_kg
        if self.asked.single:
            return walks.trip
        if number + 1 < len(spots):
            start, end = spots[number], spots[number + 1]
            return lambda stops: walks.between(stops, start, end)
        home, last = spots[0], spots[-1]
        straight = walks.leg(last, home, can) if number else 0.0
        return lambda stops: (
            min(walks.between(stops, last, tank) + walks.leg(tank, home, can) for tank in self.asked.tanks) - straight
        )

    def _latest_back(self, walks: Sequence[Walk]) -> float:
        people = self.asked.people
        return max(
            (p.sets_out_min + w.cost for p, w in zip(people, walks, strict=True) if math.isfinite(w.cost)), default=0.0
        )

    def _ways_in(
        self,
        trips: list[Stops],
        tap: int,
        near: set[int],
        pin: Pin | None,
        only: tuple[int, int] | None,
        person: int,
    ) -> list[tuple[int, Stops, list[Stops]]]:
        """Return the number of the trip, its stops, and the trips of a person for each way to put a tap in."""
        if only is not None and only[0] != person:
            return []
        found: list[tuple[int, Stops, list[Stops]]] = []
        for number, stops in enumerate(trips):
            if only is not None and only[1] != number:
                continue
            places = {0, len(stops)} if pin is not None else self._beside(stops, near, everywhere=only is not None)
            for place in sorted(places):
                longer = (*stops[:place], tap, *stops[place:])
                found.append((number, longer, [*trips[:number], longer, *trips[number + 1 :]]))
        if only is None:
            alone = (tap,)
            found.append((len(trips), alone, [*trips, alone]))
            if trips and (pin is Pin.FIRST or self.asked.bound_by_hours or len(self.asked.tanks) > 1):
                found.append((0, alone, [alone, *trips]))
        return found

    @staticmethod
    def _beside(stops: Stops, near: set[int], *, everywhere: bool) -> set[int]:
        if everywhere or len(stops) <= 4:
            return set(range(len(stops) + 1)) if everywhere or any(s in near for s in stops) else set()
        return {at for place, s in enumerate(stops) if s in near for at in (place, place + 1)}
