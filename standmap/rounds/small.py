"""Small rounds solved exactly, whatever is asked of them: over all sets of taps, orders, tanks and people."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from standmap.rounds.asked import Asked
from standmap.rounds.problem import Pin
from standmap.rounds.walks import Stops, Walks

MOST_SMALL = 8
"""Rounds of no more taps than this are solved here."""

Plan = tuple[tuple[Stops, ...], ...]
"""For each person the trips, one after another."""


@dataclass(frozen=True, slots=True)
class SmallBest:
    """The best round.

    Attributes
    ----------
    exact
        Whether no round is better. Where the day has an end and minutes are not what is made least, it may not be so.
    """

    plan: Plan
    missing: tuple[int, ...]
    exact: bool


def best_of_all(walks: Walks, unit: float) -> SmallBest:
    """Return the best round of up to `MOST_SMALL` taps.

    Parameters
    ----------
    unit
        What leaving out a tap of worth 1 costs, see `walks.whole_cost`.

    Notes
    -----
    For every set of taps the best trip is found by dynamic programming over its subsets (what is carried depends on the
    set that was visited, not on its order), then the best chain of trips for every set a person may serve, then the
    best sharing of all taps among the people.
    """
    asked = walks.asked
    count = len(asked.taps)
    sets = _Sets(walks)
    tables = {person: sets.of_person(person) for person in _kinds(asked).values()}
    everything = (1 << count) - 1
    best: dict[int, tuple[float, tuple[int, ...]]] = {0: (0.0, ())}
    for person in range(len(asked.people)):
        table = tables[_kinds(asked)[_kind(asked, person)]]
        after: dict[int, tuple[float, tuple[int, ...]]] = {}
        for mask, (cost, masks) in best.items():
            for more in _subsets(everything & ~mask):
                if more not in table:
                    continue
                own = table[more][0]
                total = (
                    cost + own if asked.adds_up else max(cost, asked.people[person].sets_out_min + own if own else 0)
                )
                known = after.get(mask | more)
                if known is None or total < known[0]:
                    after[mask | more] = (total, (*masks, more))
        best = after

    def whole(mask: int) -> float:
        missing = [tap for tap in range(count) if not mask >> tap & 1]
        return best[mask][0] + unit * math.fsum(asked.penalty(tap) for tap in missing)

    chosen = min(best, key=whole)
    plan = []
    for person, mask in enumerate(best[chosen][1]):
        plan.append(tables[_kinds(asked)[_kind(asked, person)]][mask][1])
    missing = tuple(tap for tap in range(count) if not chosen >> tap & 1)
    exact = not asked.bound_by_hours or asked.problem.aim == "time"
    return SmallBest(tuple(plan), missing, exact)


def _kind(asked: Asked, person: int) -> tuple[object, ...]:
    who = asked.people[person]
    latest = asked.problem.latest_min
    left = None if latest is None else latest - who.sets_out_min
    return asked.starts[person], who.capacity_kg, who.carrying_kg, left


def _kinds(asked: Asked) -> dict[tuple[object, ...], int]:
    """Return one person of each kind."""
    return {_kind(asked, person): person for person in reversed(range(len(asked.people)))}


def _subsets(mask: int) -> Iterator[int]:
    """Return every subset of a set of bits, the empty one last."""
    part = mask
    while True:
        yield part
        if part == 0:
            return
        part = (part - 1) & mask


class _Sets:
    """The best trips through every set of taps, and chains of them."""

    def __init__(self, walks: Walks) -> None:
        self.walks, self.asked = walks, walks.asked
        self.count = len(self.asked.taps)
        groups: dict[int, int] = {}
        for tap, group in enumerate(self.asked.together):
            if group >= 0:
                groups[group] = groups.get(group, 0) | 1 << tap
        self.groups = tuple(groups.values())
        self._ordered: dict[tuple[int, int, float, float], list[tuple[float, Stops]]] = {}

    def of_person(self, person: int) -> dict[int, tuple[float, tuple[Stops, ...]]]:
        """Return for every set that a person can serve the cost and the trips.

        Trips are chained by their sets; a whole chain is then reckoned as it is walked, so that what is told is what
        it costs.
        """
        asked = self.asked
        who = asked.people[person]
        start = asked.starts[person]
        first_pins = sum(1 << t for t, pin in enumerate(asked.pins) if pin is Pin.FIRST)
        last_pins = sum(1 << t for t, pin in enumerate(asked.pins) if pin is Pin.LAST)
        found: dict[int, tuple[float, tuple[Stops, ...]]] = {}
        # By set and the place one stands at: cost so far and the trips.
        state: dict[int, dict[int, tuple[float, tuple[Stops, ...]]]] = {0: {start: (0.0, ())}}
        if who.carrying_kg is not None:
            state[0] = {}
            for tank in asked.tanks:
                state[0][-1 - tank] = (self.walks.leg(start, tank, who.carrying_kg), ())
            state[0][start] = (0.0, ())
        everything = (1 << self.count) - 1
        for mask in sorted(range(everything + 1), key=lambda m: (m.bit_count(), m)):
            places = state.get(mask)
            if places is None:
                continue
            for cost_trips in self._finished(places, person):
                known = found.get(mask)
                if known is None or cost_trips[0] < known[0]:
                    found[mask] = cost_trips
            if mask & last_pins:
                continue  # after the last stop nobody goes out again
            for more in _subsets(everything & ~mask):
                if more == 0 or (more & first_pins and mask) or not self._whole_groups(more):
                    continue
                for place, (cost, before) in places.items():
                    base = who.carrying_kg if who.carrying_kg is not None and mask == 0 and place == start else None
                    spot = -1 - place if place < 0 else place
                    for tank in asked.tanks:
                        trip = self._best_trip(more, spot, tank, person, base)
                        if trip is None:
                            continue
                        total = cost + trip[0]
                        held = state.setdefault(mask | more, {})
                        if tank not in held or total < held[tank][0]:
                            held[tank] = (total, (*before, trip[1]))
        return found

    def _finished(
        self, places: dict[int, tuple[float, tuple[Stops, ...]]], person: int
    ) -> Iterator[tuple[float, tuple[Stops, ...]]]:
        for _, trips in places.values():
            walk = self.walks.walk(person, trips)
            if math.isfinite(walk.cost):
                yield walk.cost, trips

    def _whole_groups(self, mask: int) -> bool:
        return all(not mask & group or mask & group == group for group in self.groups)

    def _best_trip(
        self, mask: int, start: int, end: int, person: int, base_kg: float | None
    ) -> tuple[float, Stops] | None:
        """Return the best order of a set between two places, None where it may not be one trip."""
        walks, asked = self.walks, self.asked
        base = asked.problem.can_kg if base_kg is None else base_kg
        taps = [tap for tap in range(self.count) if mask >> tap & 1]
        most = asked.people[person].capacity_kg + 1e-6
        out = sum(asked.left_kg[tap] for tap in taps)
        home = sum(asked.taken_kg[tap] for tap in taps)
        if out + base > most or home + base > most:
            return None
        best: tuple[float, Stops] | None = None
        for cost, order in self._ordered_from(mask, taps, start, base, out, most):
            total = cost + walks.leg(order[-1] + asked.first_tap, end, home + base)
            if best is None or total < best[0]:
                best = (total, order)
        return best

    def _ordered_from(
        self, mask: int, taps: list[int], start: int, base: float, out: float, most: float
    ) -> list[tuple[float, Stops]]:
        """Return for every last tap the best order that begins at a place, with its cost up to there."""
        key = (mask, start, base, most)
        if key in self._ordered:
            return self._ordered[key]
        walks, asked = self.walks, self.asked
        offset, time_counts = asked.first_tap, asked.problem.aim == "time"
        pins = asked.pins
        change = [asked.taken_kg[tap] - asked.left_kg[tap] for tap in range(self.count)]
        table: dict[tuple[int, int], tuple[float, Stops]] = {}
        for tap in taps:
            if any(pins[other] is Pin.FIRST and other != tap for other in taps):
                continue
            if pins[tap] is Pin.LAST and len(taps) > 1:
                continue
            served = asked.service_min[tap] if time_counts else 0.0
            table[1 << tap, tap] = (walks.leg(start, tap + offset, out + base) + served, (tap,))
        for _ in range(len(taps) - 1):
            longer: dict[tuple[int, int], tuple[float, Stops]] = {}
            for (seen, last), (cost, order) in table.items():
                load = out + base + sum(change[tap] for tap in order)
                if load > most:
                    continue
                for tap in taps:
                    if seen >> tap & 1:
                        continue
                    if pins[tap] is Pin.LAST and len(order) + 1 < len(taps):
                        continue
                    served = asked.service_min[tap] if time_counts else 0.0
                    total = cost + walks.leg(last + offset, tap + offset, load) + served
                    spot = (seen | 1 << tap, tap)
                    if spot not in longer or total < longer[spot][0]:
                        longer[spot] = (total, (*order, tap))
            table = longer
        found = list(table.values())
        self._ordered[key] = found
        return found
