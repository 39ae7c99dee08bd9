"""A problem as numbers: places, ways between them, loads and minutes, for the searches that heed all of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standmap.rounds.problem import GRAMS_PER_KG, Aim, Person, Pin, RoundProblem, Tap
from standmap.rounds.round import LeftOut
from standmap.rounds.walking import Walking, walking

Table = list[list[float]]
"""Rows of numbers; plain lists are quicker to look into one by one than arrays."""

LATE = "no time is left for it before the latest finish"

SOON = 10.0
"""What runs over before the latest finish is worth so many times what it is worth otherwise: an assumption."""


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """What is asked, in numbers; a place is a number in `ways`, a tap its number in `taps`.

    Attributes
    ----------
    tanks
        Places where cans are emptied; the depot is place 0 and the first.
    people, starts
        Who walks, and the place where each begins.
    first_tap
        The place of tap 0; those of the others follow.
    minutes, metres
        From place to place, with nothing to carry.
    taken_kg, left_kg, service_min, worth
        Of each tap.
    pins, together
        Of each tap; groups are numbered from 0, below 0 for none.
    """

    problem: RoundProblem
    taps: tuple[Tap, ...]
    ways: Walking
    left_out: tuple[LeftOut, ...]
    tanks: tuple[int, ...]
    people: tuple[Person, ...]
    starts: tuple[int, ...]
    first_tap: int
    minutes: Table
    metres: Table
    taken_kg: list[float]
    left_kg: list[float]
    service_min: list[float]
    worth: list[float]
    pins: list[Pin | None]
    together: list[int]

    @property
    def single(self) -> bool:
        """Whether every trip begins and ends at the depot, by people who are alike and have nothing in their cans."""
        return (
            len(self.tanks) == 1
            and all(start == 0 for start in self.starts)
            and len({person.capacity_kg for person in self.people}) == 1
            and all(person.carrying_kg is None for person in self.people)
        )

    @property
    def adds_up(self) -> bool:
        """Whether the cost of a round is the sum of those of its trips."""
        return self.problem.aim is not Aim.TIME or len(self.people) == 1

    @property
    def bound_by_hours(self) -> bool:
        """Whether somebody has to be back at some time."""
        return self.problem.latest_min is not None

    def penalty(self, tap: int) -> float:
        """Return what leaving a tap out costs, in the unit of its worth."""
        latest, due = self.problem.latest_min, self.taps[tap].due_min
        soon = latest is not None and due is not None and due <= latest
        return self.worth[tap] * (SOON if soon else 1.0)


def ask(problem: RoundProblem) -> Asked:
    """Return a problem in numbers; taps that cannot be reached or carried are left out with the reason."""
    taps = sorted(problem.taps, key=lambda tap: tap.key)
    people = problem.everybody
    tanks = (problem.depot, *problem.tanks)
    own = tuple(dict.fromkeys(p.start for p in people if p.start is not None and p.start not in tanks))
    places = (*tanks, *own, *(tap.xy for tap in taps))
    place_of = {xy: number for number, xy in reversed(list(enumerate((*tanks, *own))))}
    starts = tuple(0 if person.start is None else place_of[person.start] for person in people)
    ways = walking(places, problem.obstacles, problem.pace, paths_only=problem.paths_only)
    first = len(tanks) + len(own)
    served, left_out = [], []
    for number, tap in enumerate(taps):
        why = _hindrance(problem, people, tap, ways, first + number, starts)
        if why:
            left_out.append(LeftOut(tap.key, why))
        else:
            served.append(number)
    kept = ways.part((*range(first), *(first + n for n in served)))
    chosen = tuple(taps[n] for n in served)
    groups: dict[str, int] = {}
    together = [groups.setdefault(tap.together, len(groups)) if tap.together else -1 for tap in chosen]
    reached = [n for n, tank in enumerate(range(len(tanks))) if np.isfinite(kept.minutes[0, tank])]
    return Asked(
        problem=problem,
        taps=chosen,
        ways=kept,
        left_out=tuple(left_out),
        tanks=tuple(reached),
        people=people,
        starts=starts,
        first_tap=first,
        minutes=kept.minutes.tolist(),
        metres=kept.cost_m.tolist(),
        taken_kg=[tap.load_kg for tap in chosen],
        left_kg=[tap.left_kg for tap in chosen],
        service_min=[tap.service_min for tap in chosen],
        worth=[max(tap.load_kg if tap.worth is None else tap.worth, 1e-6) for tap in chosen],
        pins=[tap.pin for tap in chosen],
        together=together,
    )


def _hindrance(
    problem: RoundProblem, people: tuple[Person, ...], tap: Tap, ways: Walking, place: int, starts: tuple[int, ...]
) -> str:
    """Return why a tap cannot be served by anybody, empty where it can."""
    most = max(person.capacity_kg for person in people)
    room_g = int((most - problem.can_kg) * GRAMS_PER_KG + 1e-6)
    heavier = max(tap.load_kg, tap.left_kg)
    if heavier * GRAMS_PER_KG > room_g + 1e-6:
        room_kg = max(room_g, 0) / GRAMS_PER_KG
        return f"{round(heavier, 2):g} kg is more than one trip holds: {room_kg:g} kg beside the cans"
    if ways.hindrance[0]:
        return f"the gate or tank lies {ways.hindrance[0]}"
    if ways.hindrance[place]:
        return f"it lies {ways.hindrance[place]}"
    ends = (*dict.fromkeys((0, *starts)),)
    if not all(np.isfinite(ways.minutes[end, place]) and np.isfinite(ways.minutes[place, 0]) for end in ends):
        return f"no way on foot leads there: {ways.why_cut_off(place)} cuts it off"
    return ""
