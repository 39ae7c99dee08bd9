"""What trips and whole walks of a person cost, with what is carried on every leg."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from standmap.rounds.asked import Asked
from standmap.rounds.problem import Aim, Pin

Stops = tuple[int, ...]
"""Taps of one trip, in the order walked."""

NEVER = math.inf
ROUNDING_KG = 1e-6


@dataclass(frozen=True, slots=True)
class Core:
    """A trip without its way out and its way home.

    Attributes
    ----------
    minutes, metres, kg_m
        Between the first stop and the last; minutes at all stops are in it.
    out_kg, home_kg, most_kg
        Beside the cans: carried out, home, and at most.
    """

    minutes: float
    metres: float
    kg_m: float
    out_kg: float
    home_kg: float
    most_kg: float


@dataclass(frozen=True, slots=True)
class Walk:
    """A person's whole walk.

    Attributes
    ----------
    cost
        In the unit of the aim; infinite where it may not be walked so.
    minutes
        Under way, since that person set out.
    ends
        The tank at which each trip is emptied.
    first_tank
        A tank to which full cans are brought before the first trip; None where there is none.
    """

    cost: float
    minutes: float
    ends: tuple[int, ...]
    first_tank: int | None = None


NO_WALK = Walk(NEVER, NEVER, ())


class Walks:
    """Costs of what is asked; each trip's inside is reckoned once."""

    def __init__(self, asked: Asked) -> None:
        self.asked = asked
        self._aim = asked.problem.aim
        self._can_kg = asked.problem.can_kg
        self._cores: dict[Stops, Core] = {}
        self._trips: dict[Stops, float] = {}
        self._single = asked.single
        self._pinned = any(asked.pins)
        self._slow: dict[int, float] = {}
        self._offset = asked.first_tap

    def slowdown(self, load_kg: float) -> float:
        """Return how many times as long a way takes with this load, cans included; to ten grams."""
        carrying = self.asked.problem.carrying
        if carrying is None:
            return 1.0
        key = round(load_kg * 100)
        found = self._slow.get(key)
        if found is None:
            found = self._slow[key] = carrying.slowdown(key / 100)
        return found

    def leg(self, start: int, end: int, load_kg: float) -> float:
        """Return what a way from place to place costs in the unit of the aim; `load_kg` with the cans."""
        asked = self.asked
        if self._aim is Aim.TIME:
            return asked.minutes[start][end] * self.slowdown(load_kg)
        metres = asked.metres[start][end]
        return metres * load_kg if self._aim is Aim.EFFORT else metres

    def core(self, stops: Stops, can_kg: float | None = None) -> Core:
        """Return the inside of a trip; `can_kg` where the cans hold something from before."""
        own = can_kg is None or can_kg == self._can_kg
        if own:
            found = self._cores.get(stops)
            if found is not None:
                return found
        made = self._core(stops, self._can_kg if can_kg is None else can_kg)
        if own:
            self._cores[stops] = made
        return made

    def _core(self, stops: Stops, can_kg: float) -> Core:
        asked, offset = self.asked, self._offset
        taken, left, service = asked.taken_kg, asked.left_kg, asked.service_min
        load = out = sum([left[tap] for tap in stops])
        most, minutes, metres, kg_m, before = load, 0.0, 0.0, 0.0, -1
        for tap in stops:
            place = tap + offset
            if before >= 0:
                way = asked.metres[before][place]
                metres += way
                kg_m += way * (load + can_kg)
                minutes += asked.minutes[before][place] * self.slowdown(load + can_kg)
            load += taken[tap] - left[tap]
            if load > most:
                most = load
            minutes += service[tap]
            before = place
        return Core(minutes, metres, kg_m, out, load, most)

    def inside(self, core: Core) -> float:
        """Return the cost of a trip's inside in the unit of the aim."""
        if self._aim is Aim.TIME:
            return core.minutes
        return core.kg_m if self._aim is Aim.EFFORT else core.metres

    def trip(self, stops: Stops) -> float:
        """Return what a trip from the depot and back to it costs, whoever walks it."""
        found = self._trips.get(stops)
        if found is None:
            found = self._trips[stops] = self.between(stops, 0, 0)
        return found

    def between(self, stops: Stops, start: int, end: int) -> float:
        """Return what a trip from a place to another costs, with empty cans to begin with."""
        core, can = self.core(stops), self._can_kg
        out, home = self.leg(start, stops[0] + self._offset, core.out_kg + can), core.home_kg + can
        return out + self.inside(core) + self.leg(stops[-1] + self._offset, end, home)

    def seen(self) -> Iterable[tuple[Stops, float]]:
        """Return every trip from the depot and back that was reckoned so far, with its cost."""
        return self._trips.items()

    def fits(self, stops: Stops, person: int) -> bool:
        """Return whether somebody can carry what a trip holds."""
        most = self.core(stops).most_kg + self._can_kg
        return most <= self.asked.people[person].capacity_kg + ROUNDING_KG

    def walk(self, person: int, trips: Sequence[Stops]) -> Walk:
        """Return what a person's walk costs: trips one after another, each emptied at the tank that costs least in all.

        Pins that do not hold, a load that is too heavy and a return after the latest finish make it infinite. Who may
        not be back too late is taken home by the way that costs least in the unit of the aim; whoever serves nothing
        goes home from where they stand, however late.
        """
        if not self._sound(person, trips):
            return NO_WALK
        found = self.as_given(person, trips)
        who, latest = self.asked.people[person], self.asked.problem.latest_min
        if trips and latest is not None and who.sets_out_min + found.minutes > latest + 1e-9:
            return NO_WALK
        return found

    def as_given(self, person: int, trips: Sequence[Stops]) -> Walk:
        """Return what a person's walk costs whatever its loads, pins and hours are; see `walk`."""
        asked = self.asked
        who, start = asked.people[person], asked.starts[person]
        if not trips and who.carrying_kg is None:
            return Walk(0.0, 0.0, ())
        if self._single:
            cost = math.fsum(map(self.trip, trips))
            ends = (0,) * len(trips)
            minutes = cost if self._aim is Aim.TIME else self._minutes(trips, 0, ends, self._can_kg, 0)
            return Walk(cost, minutes, ends)
        if who.carrying_kg is None:
            return self._chain(trips, {start: 0.0}, self._can_kg, home=start)
        return self._from_here(trips, start, who.carrying_kg, who.capacity_kg)

    def _from_here(self, trips: Sequence[Stops], start: int, carrying_kg: float, capacity_kg: float) -> Walk:
        """Return the best of going on with what is carried and of emptying it first."""
        asked = self.asked
        options = []
        for tank in asked.tanks:
            cost = self.leg(start, tank, carrying_kg)
            minutes = asked.minutes[start][tank] * self.slowdown(carrying_kg)
            rest = self._chain(trips, {tank: 0.0}, self._can_kg, home=0) if trips else self._home(tank)
            options.append(Walk(cost + rest.cost, minutes + rest.minutes, rest.ends, tank))
        if trips and self.core(trips[0]).most_kg + carrying_kg <= capacity_kg + ROUNDING_KG:
            options.append(self._chain(trips, {start: 0.0}, carrying_kg, home=0))
        return min(options, key=lambda walk: walk.cost)

    def _home(self, tank: int) -> Walk:
        return Walk(self.leg(tank, 0, self._can_kg), self.asked.minutes[tank][0] * self.slowdown(self._can_kg), ())

    def _chain(self, trips: Sequence[Stops], begin: dict[int, float], first_kg: float, home: int) -> Walk:
        asked, offset, can = self.asked, self._offset, self._can_kg
        tanks = asked.tanks
        at, chosen = begin, []
        for number, stops in enumerate(trips):
            base = first_kg if number == 0 else can
            core = self.core(stops, base)
            first, last = stops[0] + offset, stops[-1] + offset
            out_kg, home_kg = core.out_kg + base, core.home_kg + base
            came, source = min((cost + self.leg(place, first, out_kg), place) for place, cost in at.items())
            came += self.inside(core)
            at = {tank: came + self.leg(last, tank, home_kg) for tank in tanks}
            chosen.append(source)
        final = min(at, key=lambda tank: at[tank] + self.leg(tank, home, can))
        cost = at[final] + self.leg(final, home, can)
        ends = (*chosen[1:], final)
        return Walk(cost, self._minutes(trips, chosen[0], ends, first_kg, home), ends)

    def _minutes(self, trips: Sequence[Stops], start: int, ends: tuple[int, ...], first_kg: float, home: int) -> float:
        asked, offset, can = self.asked, self._offset, self._can_kg
        total, place = 0.0, start
        for number, (stops, end) in enumerate(zip(trips, ends, strict=True)):
            base = first_kg if number == 0 else can
            core = self.core(stops, base)
            total += asked.minutes[place][stops[0] + offset] * self.slowdown(core.out_kg + base) + core.minutes
            total += asked.minutes[stops[-1] + offset][end] * self.slowdown(core.home_kg + base)
            place = end
        return total + asked.minutes[place][home] * self.slowdown(can)

    def _sound(self, person: int, trips: Sequence[Stops]) -> bool:
        asked = self.asked
        last = len(trips) - 1
        for number, stops in enumerate(trips):
            if not self.fits(stops, person):
                return False
            if not self._pinned:
                continue
            for place, tap in enumerate(stops):
                pin = asked.pins[tap]
                if pin is Pin.FIRST and (number or place):
                    return False
                if pin is Pin.LAST and (number != last or place != len(stops) - 1):
                    return False
        return True


def whole_cost(asked: Asked, walks: Sequence[Walk], missing: Sequence[int], unit: float) -> float:
    """Return what a round costs: in the unit of its aim, and so much more for every tap that is left out.

    Parameters
    ----------
    unit
        More than any round costs: what leaving out a tap of worth 1 costs.
    """
    left_out = math.fsum(asked.penalty(tap) for tap in missing) * unit
    if asked.adds_up:
        return math.fsum(walk.cost for walk in walks) + left_out
    back = [person.sets_out_min + walk.cost for person, walk in zip(asked.people, walks, strict=True) if walk.cost > 0]
    return max(back, default=0.0) + left_out
