"""From the order of the taps to the trips as they are walked: direction, bearings, loads, minutes, who goes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise

import numpy as np

from standmap.rounds.problem import RoundProblem, Tap, Xy, load_g
from standmap.rounds.round import LeftOut, Round, Trip, Visit
from standmap.rounds.walking import Walking
from standmap.rounds.watch import Ending

SAME = 1e-9
"""Two directions whose effort differs by a smaller part than this are equally good."""

PLACES_OF_KG = 6
"""Loads are told to the milligram, so that no sum of them ends in the dust of floating point."""


@dataclass(frozen=True, slots=True)
class RoundMaker:
    """Makes rounds of one problem.

    Attributes
    ----------
    taps
        Those that are served, by key.
    ways
        Between the depot, place 0, and the taps, from 1.
    """

    problem: RoundProblem
    taps: tuple[Tap, ...]
    ways: Walking
    left_out: tuple[LeftOut, ...]

    def round(
        self,
        orders: tuple[tuple[int, ...], ...],
        *,
        proved: bool,
        repeatable: bool,
        lower_bound_m: float | None,
        stopped: Ending,
    ) -> Round:
        """Return the round whose trips visit the taps, numbered from 1, in these orders."""
        trips = self._shared_out([self._trip(self._easier_way(order)) for order in orders])
        length_m = math.fsum(trip.length_m for trip in trips)
        bound = self._plain_bound() if lower_bound_m is None else lower_bound_m
        bound = length_m if proved else min(bound, length_m)
        return Round(
            trips,
            self.left_out,
            length_m,
            math.fsum(trip.minutes for trip in trips),
            repeatable,
            proved,
            bound,
            stopped,
            cost=length_m,
            lower_bound=bound,
            kg_m=math.fsum(trip.kg_m for trip in trips),
        )

    def as_given(self, orders: Sequence[tuple[int, ...]], collectors: Sequence[int] | None) -> Round:
        """Return the round whose trips are walked in just these orders, one after another; no search, no bound.

        Parameters
        ----------
        collectors
            Who walks each trip, from 1; whoever has walked least so far when absent.
        """
        under_way = np.zeros(self.problem.collectors)
        trips = []
        for number, order in enumerate(orders):
            who = int(under_way.argmin()) if collectors is None else collectors[number] - 1
            trip = set_out(self._trip(order), who + 1, float(under_way[who]))
            under_way[who] += trip.minutes
            trips.append(trip)
        length_m = math.fsum(trip.length_m for trip in trips)
        minutes = math.fsum(trip.minutes for trip in trips)
        kg_m = math.fsum(trip.kg_m for trip in trips)
        return Round(
            tuple(trips), self.left_out, length_m, minutes, True, False, None, Ending.BY_HAND, cost=length_m, kg_m=kg_m
        )

    def _easier_way(self, order: tuple[int, ...]) -> tuple[int, ...]:
        """Return the direction with fewer kilogram-metres: what is heavy comes late."""
        onward, back = self._kg_m(order), self._kg_m(order[::-1])
        if abs(onward - back) <= SAME * max(onward, back):
            return min(order, order[::-1])
        return order if onward < back else order[::-1]

    def _kg_m(self, order: tuple[int, ...]) -> float:
        carried = accumulate(self.taps[place - 1].load_kg for place in order)
        return math.fsum(
            kg * float(self.ways.cost_m[a, b]) for kg, (a, b) in zip(carried, pairwise((*order, 0)), strict=True)
        )

    def _trip(self, order: tuple[int, ...]) -> Trip:
        stops = tuple((place, self.taps[place - 1]) for place in order)
        return TripMaker(self.problem, self.ways).trip(0, stops, 0, self.problem.can_kg)

    def _shared_out(self, trips: list[Trip]) -> tuple[Trip, ...]:
        """Give the longest trip to whoever has walked least, and so on."""
        walked = np.zeros(self.problem.collectors)
        shared: list[list[Trip]] = [[] for _ in walked]
        for trip in sorted(trips, key=lambda trip: (-trip.minutes, [visit.key for visit in trip.visits])):
            who = int(walked.argmin())
            shared[who].append(set_out(trip, who + 1, float(walked[who])))
            walked[who] += trip.minutes
        return tuple(trip for own in shared for trip in own)

    def _plain_bound(self) -> float:
        """Return a length that no round falls short of, from how far out each load lies.

        A trip to a tap and back is no shorter than twice its distance, and no longer than any trip through it; each
        gram takes up its part of a trip (M. Haimovich and A. H. G. Rinnooy Kan, "Bounds and heuristics for
        capacitated routing problems", Mathematics of Operations Research 10 (1985) 527-542, from memory).
        """
        out = self.ways.cost_m[0, 1:]
        grams = np.array([load_g(tap) for tap in self.taps])
        by_load = float(grams @ out) / self.problem.room_g if grams.any() else 0.0
        return 2 * max(float(out.max()), by_load)


@dataclass(frozen=True, slots=True)
class TripMaker:
    """Tells trips as they are walked, leg by leg."""

    problem: RoundProblem
    ways: Walking

    def trip(self, start: int, stops: Sequence[tuple[int, Tap]], end: int, cans_kg: float) -> Trip:
        """Return one trip.

        Parameters
        ----------
        start, end
            Places where it begins and where it is emptied.
        stops
            The place of each tap, and the tap.
        cans_kg
            What is carried beside what is left at taps: the cans, and what is in them already.
        """
        visits: list[Visit] = []
        course: list[Xy] = list(self.ways.course(start, start))
        load_kg = cans_kg + math.fsum(tap.left_kg for _, tap in stops)
        most, minutes, kg_m, before = load_kg, 0.0, 0.0, start
        for place, tap in stops:
            leg_m = float(self.ways.cost_m[before, place])
            leg_min = self.leg_min(before, place, load_kg)
            line = self.ways.course(before, place)
            minutes += leg_min
            kg_m += load_kg * leg_m
            load_kg += tap.load_kg - tap.left_kg
            most = max(most, load_kg)
            visits.append(
                Visit(
                    key=tap.key,
                    leg_m=leg_m,
                    bearing_rad=_bearing_rad(line[0], line[1]) if len(line) > 1 else 0.0,
                    bends=len(line) > 2,
                    load_kg=round(load_kg, PLACES_OF_KG),
                    arrive_min=minutes,
                    leg_min=leg_min,
                    climb_m=float(self.ways.climb_m[before, place]),
                    course=line,
                )
            )
            minutes += tap.service_min
            course.extend(line[1:])
            before = place
        home_m, home_min = float(self.ways.cost_m[before, end]), self.leg_min(before, end, load_kg)
        home = self.ways.course(before, end)
        course.extend(home[1:] if len(course) > 1 or len(home) > 1 else course)
        return Trip(
            collector=0,
            visits=tuple(visits),
            length_m=math.fsum(visit.leg_m for visit in visits) + home_m,
            minutes=minutes + home_min,
            max_load_kg=round(most, PLACES_OF_KG),
            course=tuple(course),
            home_m=home_m,
            home_min=home_min,
            home_course=home,
            kg_m=kg_m + load_kg * home_m,
        )

    def bare(self, start: int, end: int, cans_kg: float) -> Trip:
        """Return a way without stops, such as that with full cans to a tank."""
        metres, minutes = float(self.ways.cost_m[start, end]), self.leg_min(start, end, cans_kg)
        line = self.ways.course(start, end)
        return Trip(
            collector=0,
            visits=(),
            length_m=metres,
            minutes=minutes,
            max_load_kg=round(cans_kg, PLACES_OF_KG),
            course=line if len(line) > 1 else line * 2,
            home_m=metres,
            home_min=minutes,
            home_course=line,
            kg_m=metres * cans_kg,
        )

    def gone_on(self, trip: Trip, start: int, end: int, cans_kg: float) -> Trip:
        """Return a trip after which its walker goes on with empty cans to another place."""
        more = self.bare(start, end, cans_kg)
        return replace(
            trip,
            length_m=trip.length_m + more.length_m,
            minutes=trip.minutes + more.minutes,
            course=(*trip.course, *more.home_course[1:]),
            home_m=trip.home_m + more.length_m,
            home_min=trip.home_min + more.minutes,
            home_course=(*trip.home_course, *more.home_course[1:]),
            kg_m=trip.kg_m + more.kg_m,
        )

    def leg_min(self, start: int, end: int, load_kg: float) -> float:
        """Return the minutes of a way with a load, cans included."""
        slowed = 1.0 if self.problem.carrying is None else self.problem.carrying.slowdown(load_kg)
        return float(self.ways.minutes[start, end]) * slowed


def set_out(trip: Trip, collector: int, minute: float) -> Trip:
    """Return the trip as someone walks it who has been under way for so many minutes."""
    later = tuple(replace(v, arrive_min=v.arrive_min + minute) for v in trip.visits)
    return replace(trip, collector=collector, visits=later, sets_out_min=trip.sets_out_min + minute)


def _bearing_rad(a: Xy, b: Xy) -> float:
    return math.atan2(b[0] - a[0], b[1] - a[1]) % math.tau
