"""The whole stand as one value: what rules, rounds and exporters read."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any, TypeVar

from standmap.errors import UserError
from standmap.stand.ground import Area, Line, Place
from standmap.stand.names import folded
from standmap.stand.records import SeasonSign, Terrain, Weather
from standmap.stand.tapping import CLOSING, Batch, Collection, Observation, TapHole
from standmap.stand.tree import Measurement, Standing, Tree
from standmap.stand.walks import Stop

Row = TypeVar("Row")


def _grouped(rows: Iterable[Row], owner: Callable[[Row], str], order: Callable[[Row], Any]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(owner(row), []).append(row)
    for group in found.values():
        group.sort(key=order)
    return found


@dataclass(frozen=True)
class Stand:
    """Everything known about a stand at one moment.

    The tuples hold rows in the order they were first written. Lookups are made when first asked for.

    Attributes
    ----------
    undecided
        Stops of walks of which nobody has said yet at which tree they were made.
    weather
        One row a day and station.
    signs
        Days on which the stand showed where the season is.
    """

    trees: tuple[Tree, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    holes: tuple[TapHole, ...] = ()
    collections: tuple[Collection, ...] = ()
    observations: tuple[Observation, ...] = ()
    places: tuple[Place, ...] = ()
    lines: tuple[Line, ...] = ()
    areas: tuple[Area, ...] = ()
    settings: Mapping[str, object] = field(default_factory=dict)
    terrain: Terrain | None = None
    undecided: tuple[Stop, ...] = ()
    weather: tuple[Weather, ...] = ()
    signs: tuple[SeasonSign, ...] = ()
    batches: tuple[Batch, ...] = ()

    @cached_property
    def present(self) -> tuple[Tree, ...]:
        """The trees that are trees of this stand: all but those merged into another."""
        return tuple(t for t in self.trees if t.standing is not Standing.MERGED)

    @cached_property
    def by_key(self) -> dict[str, Tree]:
        """Trees by key, merged ones included."""
        return {t.key: t for t in self.trees}

    @cached_property
    def _by_name(self) -> dict[str, list[Tree]]:
        named: dict[str, list[Tree]] = {}
        for tree in self.present:
            named.setdefault(folded(tree.name), []).append(tree)
        return named

    @cached_property
    def measurements_of(self) -> dict[str, list[Measurement]]:
        """Measurements by tree key, undated first, then oldest to newest."""
        return _grouped(self.measurements, lambda m: m.tree_key, lambda m: m.measured_on or date.min)

    @cached_property
    def holes_of(self) -> dict[str, list[TapHole]]:
        """Tap holes and slits by tree key, oldest first."""
        return _grouped(self.holes, lambda h: h.tree_key, lambda h: (h.made_on, h.number))

    @cached_property
    def collections_of(self) -> dict[str, list[Collection]]:
        """Collections by hole key, oldest first."""
        return _grouped(self.collections, lambda c: c.hole_key, lambda c: c.collected_on)

    @cached_property
    def observations_of(self) -> dict[str, list[Observation]]:
        """Observations by tree key, oldest first."""
        return _grouped(self.observations, lambda o: o.tree_key, lambda o: o.observed_on)

    @cached_property
    def _closed_on(self) -> dict[str, date]:
        closed: dict[str, date] = {}
        for seen in self.observations:
            if seen.hole_key is not None and seen.what in CLOSING:
                earlier = closed.get(seen.hole_key, date.max)
                closed[seen.hole_key] = min(earlier, seen.observed_on)
        return closed

    def named(self, text: str) -> list[Tree]:
        """Return the trees with this name, or the one with this key."""
        tree = self.by_key.get(text)
        if tree is not None and tree.standing is not Standing.MERGED:
            return [tree]
        return list(self._by_name.get(folded(text), ()))

    def tree(self, text: str) -> Tree:
        """Return the one tree with this name or key.

        Raises
        ------
        UserError
            If no tree or more than one answers to it.
        """
        found = self.named(text)
        if not found:
            raise UserError(f"no tree is called '{text[:60]}'", "name a tree of this stand, or its id")
        if len(found) > 1:
            raise UserError(
                f"{len(found)} trees are called '{text[:60]}'",
                f"use an id: {', '.join(t.key for t in found[:4])}",
            )
        return found[0]

    def newest_measurement(self, tree_key: str, by: date | None = None) -> Measurement | None:
        """Return the newest girth or diameter of a tree, made on or before `by` where given."""
        rows = self.measurements_of.get(tree_key, [])
        if by is not None:
            rows = [m for m in rows if m.measured_on is None or m.measured_on <= by]
        return rows[-1] if rows else None

    def open_holes(self, tree_key: str, on: date, *, closing_day: bool = False) -> list[TapHole]:
        """Return the wounds of a tree that still give sap on a day: made this season by then, the tube not yet out.

        Parameters
        ----------
        closing_day
            Whether a wound closed on that very day counts: its last sap was collected first.
        """
        return [
            h
            for h in self.holes_of.get(tree_key, ())
            if h.made_on <= on and h.season == on.year and self._open_on(h, on, closing_day=closing_day)
        ]

    def _open_on(self, hole: TapHole, on: date, *, closing_day: bool) -> bool:
        closed = self._closed_on.get(hole.key)
        return closed is None or on < closed or (closing_day and on == closed)

    def all_open_holes(self, on: date) -> list[TapHole]:
        """Return every open wound of the trees of this stand, in the trees' order."""
        return [h for t in self.present for h in self.open_holes(t.key, on)]
