"""Stops, people, places and wishes as the problem that the solver takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from standmap.errors import UserError
from standmap.jobs.planned_round import Purpose
from standmap.jobs.positions import xy
from standmap.jobs.round_barrow import by_barrow
from standmap.jobs.round_hours import minutes_after, minutes_until
from standmap.jobs.round_options import TOOLS_KG, RoundOptions, Walker
from standmap.jobs.round_places import here_of, place_named, places_named
from standmap.jobs.round_stops import AskedStop, LeftOut
from standmap.rounds.carrying import Carrying
from standmap.rounds.ground import Ground
from standmap.rounds.hiking import Pace
from standmap.rounds.problem import Aim, Person, Pin, RoundProblem, Tap, Xy
from standmap.stand.ground import Place
from standmap.stand.snapshot import Stand
from standmap.survey.frame import WorkingFrame

PACE = Pace()

ROUNDING_KG = 1e-3
"""The solver weighs in whole grams."""

MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Posing:
    """What a problem is made from, beside its stops.

    Attributes
    ----------
    start
        Where trips begin and end unless a person says otherwise.
    sets_out
        When the first collector begins.
    """

    stand: Stand
    frame: WorkingFrame
    start: Place
    options: RoundOptions
    sets_out: datetime

    def problem(self, stops: Mapping[str, AskedStop], ground: Ground) -> tuple[RoundProblem, dict[Xy, Place]]:
        """Return the problem, and the places by their positions in the frame.

        Raises
        ------
        UserError
            If a place is out of reach, a tree that is pinned is no stop, or the latest hour is before the walk.
        """
        options = self.options
        depot = self._xy(self.start)
        tanks = places_named(self.stand, options.tanks)
        people = tuple(self._person(walker) for walker in options.people)
        places = {depot: self.start, **{self._xy(tank): tank for tank in tanks}}
        places |= {self._xy(place): place for place in self._starts()}
        plain = len({(person.capacity_kg, person.start, person.sets_out_min) for person in people}) == 1 and (
            people[0] == Person(options.capacity_kg)
        )
        by_barrow = options.barrow_kg is not None
        return RoundProblem(
            depot=depot,
            taps=tuple(self._taps(stops)),
            capacity_kg=self._capacity_kg(None),
            can_kg=self._empty_kg,
            collectors=len(people),
            obstacles=ground,
            speed_m_per_min=PACE.wood_m_per_min,
            people=() if plain else people,
            tanks=tuple(at for at in (self._xy(tank) for tank in tanks) if at != depot),
            aim=Aim(options.aim),
            latest_min=minutes_until(self.sets_out, options.latest),
            carrying=None if by_barrow else Carrying(),
            paths_only=by_barrow,
        ), places

    def by_barrow(
        self, stops: Mapping[str, AskedStop], ground: Ground
    ) -> tuple[dict[str, AskedStop], tuple[LeftOut, ...]]:
        """Return the stops as a sledge or barrow serves them; see `round_barrow.by_barrow`."""
        spots = xy(self.frame, [stop.tree.at for stop in stops.values()])
        at = {key: (float(spot[0]), float(spot[1])) for key, spot in zip(stops, spots, strict=True)}
        return by_barrow(stops, at, self._xy(self.start), ground, PACE)

    @property
    def _empty_kg(self) -> float:
        """What is carried from the first step to the last."""
        if self.options.purpose is not Purpose.COLLECTING:
            return TOOLS_KG
        return 0.0 if self.options.swap_vessels else self.options.can_kg

    def _capacity_kg(self, own: float | None) -> float:
        if self.options.barrow_kg is not None:
            return self.options.barrow_kg
        return self.options.capacity_kg if own is None else own

    def _person(self, walker: Walker) -> Person:
        options = self.options
        start = None if walker.start is None else self._xy(place_named(self.stand, walker.start))
        carrying = None
        if options.from_here is not None:
            start, carrying = self._xy(here_of(self.stand, options.from_here)), options.from_here.carrying_kg
        return Person(
            self._capacity_kg(walker.capacity_kg),
            start,
            minutes_after(self.sets_out, walker.sets_out or options.sets_out),
            carrying,
        )

    def _starts(self) -> Iterable[Place]:
        options = self.options
        for walker in options.people:
            if walker.start is not None:
                yield place_named(self.stand, walker.start)
        if options.from_here is not None:
            yield here_of(self.stand, options.from_here)

    def _taps(self, stops: Mapping[str, AskedStop]) -> Iterable[Tap]:
        options = self.options
        groups = self._groups(stops)
        pins = {
            self._pinned(stops, name): pin
            for name, pin in ((options.first, Pin.FIRST), (options.last, Pin.LAST))
            if name
        }
        spots = xy(self.frame, [stop.tree.at for stop in stops.values()])
        for stop, at in zip(stops.values(), spots, strict=True):
            full = None if stop.hanging is None else stop.hanging.fills_at
            yield Tap(
                stop.key,
                (float(at[0]), float(at[1])),
                stop.taken_kg,
                options.minutes_at_a_stop + stop.on_foot_min,
                left_kg=stop.left_kg,
                worth=stop.litres if options.purpose is Purpose.COLLECTING else 1.0,
                due_min=None if full is None else (full - self.sets_out).total_seconds() / 60,
                pin=pins.get(stop.key),
                together=groups.get(stop.tree.key, ""),
            )

    def _groups(self, stops: Mapping[str, AskedStop]) -> dict[str, str]:
        """Return a word for each tree that goes with others; groups that share a tree become one."""
        served = {stop.tree.key for stop in stops.values()}
        merged: list[set[str]] = []
        for names in self.options.together:
            group = {self.stand.tree(name).key for name in names} & served
            for other in [known for known in merged if known & group]:
                merged.remove(other)
                group |= other
            merged.append(group)
        for group in merged:
            self._fit_together([stop for stop in stops.values() if stop.tree.key in group])
        return {key: str(number) for number, group in enumerate(merged, 1) for key in group}

    def _fit_together(self, stops: Sequence[AskedStop]) -> None:
        most = max(self._capacity_kg(walker.capacity_kg) for walker in self.options.people)
        load = self._empty_kg + max(sum(stop.taken_kg for stop in stops), sum(stop.left_kg for stop in stops))
        if load > most + ROUNDING_KG:
            names = list(dict.fromkeys(stop.tree.name for stop in stops))
            more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
            raise UserError(
                f"{', '.join(names[:MOST_NAMED])}{more} together are {load:.1f} kg, more than the {most:g} kg of one "
                "trip",
                "name fewer trees that are to be on one trip, or a larger load",
            )

    def _pinned(self, stops: Mapping[str, AskedStop], name: str) -> str:
        tree = self.stand.tree(name)
        mine = [stop.key for stop in stops.values() if stop.tree.key == tree.key]
        if not mine:
            known = ", ".join(dict.fromkeys(stop.tree.name for stop in stops.values()))
            raise UserError(f"'{name[:60]}' is no stop of this round", f"the stops are: {known}")
        return mine[0]

    def _xy(self, place: Place) -> Xy:
        found = xy(self.frame, [place.at])[0]
        if not np.isfinite(found).all():
            raise UserError(
                f"the place '{place.name}' is too far from the stand to walk from", "name another with --from"
            )
        return float(found[0]), float(found[1])
