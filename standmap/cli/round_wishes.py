"""What is asked of a walk at the terminal, as values: hours, people with their loads, where one stands."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from standmap.errors import UserError

if TYPE_CHECKING:
    from standmap.jobs.planned_round import Purpose
    from standmap.jobs.round_options import FromHere, RoundOptions
    from standmap.settings import Settings

_PAIR = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """The options of the command as they were typed; None where nothing was."""

    purpose: str
    trees: list[str] | None
    not_today: list[str] | None
    start: str | None
    tank: list[str] | None
    aim: str | None
    capacity_kg: float | None
    can_kg: float | None
    dark: bool
    wet: bool
    barrow: float | None
    swap_vessels: bool | None
    collectors: int | None
    collector: list[str] | None
    sets_out: str | None
    latest: str | None
    handling_min: float | None
    margin_min: float | None
    contact: str
    run_l: float | None
    vessel_l: float | None
    seed: int
    together: list[str] | None
    from_here: str | None
    done: list[str] | None
    carrying: float | None

    def options(self, settings: Settings) -> RoundOptions:
        """Return how the walk is to be; what was not typed is as the person has set it.

        Raises
        ------
        UserError
            If a text stands for nothing, or two options contradict each other.
        """
        from standmap.jobs.clock import now
        from standmap.jobs.preferences import round_options
        from standmap.jobs.who_walks import hour_of, walker_of

        if self.trees is not None and not names_of(self.trees):
            raise UserError("--trees names no tree", "name some, or leave it out for all that is asked for")
        if self.collectors is not None and self.collector:
            raise UserError("--collectors and --collector both say who walks", "leave one of them out")
        groups = tuple(names_of([group]) for group in self.together or [])
        if any(len(set(group)) < 2 for group in groups):
            raise UserError("--together names one tree only", "name two or more, such as --together B1,B2")
        walkers = tuple(walker_of(text) for text in self.collector or [])
        here = from_here_of(self.from_here, self.carrying)
        said: dict[str, Any] = {
            # Of people who differ the metres of all together say little: one of them would walk everything.
            "aim": self.aim or ("time" if len(walkers) > 1 else None),
            "capacity_kg": self.capacity_kg,
            "can_kg": self.can_kg,
            "collectors": self.collectors,
            "swap_vessels": self.swap_vessels,
            "margin_min": self.margin_min,
            "run_ml": None if self.run_l is None else self.run_l * 1000,
            "vessel_ml": None if self.vessel_l is None else self.vessel_l * 1000,
        }
        return replace(
            round_options(settings),
            **{name: value for name, value in said.items() if value is not None},
            purpose=purpose_of(self.purpose),
            capacity_as_given=self.capacity_kg is not None,
            trees=names_of(self.trees),
            not_today=names_of(self.not_today),
            start=self.start,
            tanks=names_of(self.tank),
            dark=self.dark,
            wet=self.wet,
            barrow_kg=self.barrow,
            walkers=walkers,
            sets_out=hour_of(self.sets_out) or (now().time().replace(second=0, microsecond=0) if here else None),
            latest=hour_of(self.latest),
            handling_min=self.handling_min,
            contact=" ".join(self.contact.split()),
            seed=self.seed,
            together=groups,
            from_here=here,
            done=names_of(self.done),
        )


def purpose_of(text: str) -> Purpose:
    """Return what a walk is for.

    Raises
    ------
    UserError
        If the text is none of it.
    """
    from standmap.jobs.planned_round import Purpose

    try:
        return Purpose(text.strip().casefold())
    except ValueError:
        raise UserError(
            f"'{text[:40]}' is nothing that a walk is for", f"choose one of: {', '.join(Purpose)}"
        ) from None


def names_of(groups: list[str] | None) -> tuple[str, ...]:
    """Return names given with commas between, over one or more options."""
    return tuple(name.strip() for group in groups or [] for name in group.split(",") if name.strip())


def from_here_of(text: str | None, carrying_kg: float | None) -> FromHere | None:
    """Return where a walk stands: a tree, or latitude and longitude with a comma between.

    Raises
    ------
    UserError
        If a load is carried from nowhere, or the position is none.
    """
    from standmap.jobs.round_options import FromHere

    if text is None:
        if carrying_kg is not None:
            raise UserError("--carrying says what is carried, but not where", "name the place with --from-here")
        return None
    pair = _PAIR.fullmatch(text)
    at: str | tuple[float, float] = text.strip()
    if pair is not None:
        lat, lon = float(pair[1]), float(pair[2])
        if not (abs(lat) <= 90 and abs(lon) <= 180):
            raise UserError(f"'{text[:40]}' is no position", "write latitude, then longitude, such as 61.9012,27.6034")
        at = (lon, lat)
    if not at:
        raise UserError("--from-here names no place", "name a tree, or latitude and longitude")
    return FromHere(at, carrying_kg or 0.0)
