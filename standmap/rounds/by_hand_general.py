"""Orders given by hand of rounds of which more is asked than few metres."""

from __future__ import annotations

from collections.abc import Sequence

from standmap.progress import Progress, Unwatched
from standmap.rounds.asked import Asked
from standmap.rounds.one_trip import best_trip
from standmap.rounds.round import Round
from standmap.rounds.search import State
from standmap.rounds.walked_general import WalkedRounds
from standmap.rounds.walks import Stops, Walks, whole_cost
from standmap.rounds.watch import Ending


class AnyByHand:
    """What is asked, with orders of it told at once; see `by_hand.ByHand` for all of it."""

    def __init__(self, asked: Asked) -> None:
        self._asked, self._walks = asked, Walks(asked)
        self._tap = {tap.key: number for number, tap in enumerate(asked.taps)}

    @property
    def keys(self) -> frozenset[str]:
        """The taps that can be served."""
        return frozenset(self._tap)

    def walked(self, trips: Sequence[Sequence[str]], collectors: Sequence[int] | None) -> Round:
        """Return the round whose trips are walked in these orders, whatever their loads, pins and hours are.

        Each is emptied at the tank that costs least. What is on no trip is told as left out.
        """
        asked, walks = self._asked, self._walks
        own: list[list[Stops]] = [[] for _ in asked.people]
        back = [person.sets_out_min for person in asked.people]
        for number, trip in enumerate(trips):
            who = back.index(min(back)) if collectors is None else collectors[number] - 1
            own[who].append(tuple(self._tap[key] for key in trip))
            back[who] = asked.people[who].sets_out_min + walks.as_given(who, own[who]).minutes
        held = {tap for person in own for stops in person for tap in stops}
        missing = tuple(tap for tap in range(len(asked.taps)) if tap not in held)
        each = tuple(walks.as_given(person, stops) for person, stops in enumerate(own))
        state = State(tuple(map(tuple, own)), missing, each, whole_cost(asked, each, (), 0.0))
        return WalkedRounds(asked, walks).round(state, Ending.BY_HAND, None)

    def shortest(
        self, trip: Sequence[str], first: str | None, last: str | None, progress: Progress | None
    ) -> tuple[tuple[str, ...], bool]:
        """Return the best order found of a trip from the depot and back, and whether the search ended by itself."""
        asked, watch = self._asked, progress or Unwatched()
        ends = [None if key is None else self._tap[key] for key in (first, last)]
        stops = tuple(self._tap[key] for key in trip)
        order = best_trip(self._walks, stops, ends[0], ends[1], over=watch.stop_wanted)
        return tuple(asked.taps[tap].key for tap in order), not watch.stop_wanted()
