"""A planned round put in another order by hand, and what that costs against the best order found."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from standmap.errors import UserError
from standmap.jobs.planned_round import PlannedRound, PlannedTrip, RoundStop
from standmap.jobs.round import planned
from standmap.jobs.round_orders import Orders, orders_of
from standmap.jobs.round_posed import PosedRound
from standmap.messages import Messages, Silence
from standmap.stand.names import folded

if TYPE_CHECKING:
    from standmap.progress import Progress
    from standmap.rounds.by_hand import ByHand
    from standmap.stand.tree import Tree

ROUNDING_KG = 1e-6


@dataclass(frozen=True, slots=True)
class EditedRound:
    """A round as a person wants it.

    Attributes
    ----------
    more_m, more_min
        How much longer it is than the best one found; below 0 when it is shorter.
    too_heavy
        Numbers of the trips whose load is over what may be carried.
    """

    planned: PlannedRound
    more_m: float
    more_min: float
    too_heavy: tuple[int, ...]

    @property
    def cost(self) -> str:
        """What the order costs, in words: "+120 m, +2 min"."""
        return f"{_signed(self.more_m)} m, {_signed(self.more_min)} min"

    @property
    def heavy_trips(self) -> tuple[PlannedTrip, ...]:
        """The trips that are too heavy."""
        return tuple(trip for trip in self.planned.trips if trip.number in self.too_heavy)

    def cautions(self, capacity_kg: Callable[[int], float]) -> tuple[str, ...]:
        """Return which trips are too heavy, in words.

        Parameters
        ----------
        capacity_kg
            What a collector, by number, may carry.
        """
        return tuple(
            f"trip {trip.number} is {trip.max_load_kg:.1f} kg, over the load of {capacity_kg(trip.collector):g} kg"
            for trip in self.heavy_trips
        )


def _signed(value: float) -> str:
    whole = round(value)
    return f"+{whole}" if whole > 0 else str(whole).replace("-", "−")


def check_ends(posed: PosedRound, first: str | None, last: str | None) -> None:
    """Look whether a walk can begin and end with these trees, before it is planned.

    Raises
    ------
    UserError
        If a tree is no stop of the round, or one is named twice.
    """
    found: list[Tree] = []
    for name in filter(None, (first, last)):
        trees = {s.tree.key: s.tree for s in posed.stops.values() if has_name(s.tree, name)}
        if len(trees) != 1:
            known = ", ".join(dict.fromkeys(stop.tree.name for stop in posed.stops.values()))
            raise UserError(f"'{name[:60]}' is no stop of this round", f"the stops are: {known}")
        found += trees.values()
    if len(found) == 2 and found[0].key == found[1].key:
        raise UserError(f"{found[0].name} cannot be both first and last", "name two trees")


def has_name(tree: Tree, name: str) -> bool:
    """Return whether a tree has this name or id."""
    return tree.key == name or folded(tree.name) == folded(name)


class RoundEditing:
    """One planned round that may be walked in other orders; its ways are found once.

    Parameters
    ----------
    best
        The round that the solver found for the posed problem.
    """

    def __init__(self, posed: PosedRound, best: PlannedRound) -> None:
        self.posed = posed
        self.best = best

    @cached_property
    def _by_hand(self) -> ByHand:
        from standmap.rounds.by_hand import ByHand

        return ByHand(self.posed.problem)

    def find_ways(self) -> None:
        """Find the ways between the stops now, so that every later order is told at once."""
        self._by_hand.keys  # noqa: B018 - made when first asked for

    @property
    def capacity_kg(self) -> float:
        """What may be carried, cans included."""
        return self.posed.problem.capacity_kg

    def capacity_of(self, collector: int) -> float:
        """Return what a collector, by number, may carry, cans included."""
        return self.posed.problem.everybody[collector - 1].capacity_kg

    def unchanged(self) -> EditedRound:
        """Return the best round as it is."""
        return EditedRound(self.best, 0.0, 0.0, ())

    def ordered(self, orders: Sequence[Sequence[str]], collectors: Sequence[int] | None = None) -> EditedRound:
        """Return the round walked in this order.

        Parameters
        ----------
        orders
            For each trip the keys of its wounds; together they are those of the best round, each once. Empty trips
            are left out.
        collectors
            Who walks each trip, from 1; whoever has walked least so far when absent.

        Raises
        ------
        ValueError
            If a wound is missing or there twice.
        """
        orders = tuple(map(tuple, orders))
        if sorted(key for trip in orders for key in trip) != sorted(
            key for trip in orders_of(self.best) for key in trip
        ):
            raise ValueError("an order has to hold each stop of the round once")
        kept = [number for number, trip in enumerate(orders) if trip]
        who = None if collectors is None else [collectors[number] for number in kept]
        if tuple(orders[n] for n in kept) == orders_of(self.best) and who in (None, self._collectors(self.best)):
            return self.unchanged()
        solved = self._by_hand.walked([orders[n] for n in kept], who)
        return self._against_best(planned(self.posed, solved))

    def pinned(
        self,
        edited: EditedRound,
        first: Collection[str],
        last: Collection[str],
        progress: Progress | None = None,
    ) -> EditedRound:
        """Return the round in which the trips with these wounds begin or end with them, each the shortest so.

        The other trips, and which stop is on which trip, stay as they are.

        Parameters
        ----------
        first, last
            Keys of wounds; of one trip at most one is first and one is last.
        """
        orders = list(orders_of(edited.planned))
        repeatable = edited.planned.repeatable
        for number, trip in enumerate(orders):
            begins = next((key for key in trip if key in first), None)
            ends = next((key for key in trip if key in last and key != begins), None)
            if begins is None and ends is None:
                continue
            found = self._by_hand.shortest(trip, begins, ends, progress)
            orders[number] = found.keys
            repeatable = repeatable and found.repeatable
        again = self.ordered(orders, self._collectors(edited.planned))
        return replace(again, planned=replace(again.planned, repeatable=repeatable))

    def begun_and_ended(
        self, first: str | None, last: str | None, messages: Messages | None = None, progress: Progress | None = None
    ) -> EditedRound:
        """Return the best round so changed that its walk begins with one tree and ends with another.

        The trip of the first tree is walked first by whoever walks it, that of the last tree last.

        Parameters
        ----------
        first, last
            Names or ids of trees, None where it does not matter.

        Raises
        ------
        UserError
            If a tree is no stop of the round, or one is named twice.
        """
        begins = None if first is None else self._stop_of(first)
        ends = None if last is None else self._stop_of(last)
        if begins is not None and ends is not None and self._tree_key(begins) == self._tree_key(ends):
            raise UserError(f"{self._name(begins)} cannot be both first and last", "name two trees")
        orders = list(zip(orders_of(self.best), self._collectors(self.best), strict=True))
        for key, place in ((begins, 0), (ends, len(orders))):
            if key is not None:
                trip = next(t for t in orders if key in t[0])
                orders.remove(trip)
                orders.insert(min(place, len(orders)), trip)
        if begins is not None and ends is not None and len(orders) > 1:
            same = next(trip for trip, _ in orders if begins in trip)
            if ends in same:
                orders.sort(key=lambda trip: trip[0] is not same)
                (messages or Silence()).caution(
                    f"{self._name(begins)} and {self._name(ends)} are on one trip: it is walked first, and ends with "
                    f"{self._name(ends)}"
                )
        moved = self.ordered([trip for trip, _ in orders], [who for _, who in orders])
        pinned = [(key,) if key is not None else () for key in (begins, ends)]
        return self.pinned(moved, pinned[0], pinned[1], progress)

    def named(self, trips: Sequence[Sequence[tuple[str, str]]]) -> Orders:
        """Return the orders that a list of trees stands for.

        Parameters
        ----------
        trips
            For each trip pairs of where a tree is named, such as "order.txt, line 3", and its name or id. A tree named
            once stands for all its stops; named as often as it has stops it stands for one each time.

        Raises
        ------
        UserError
            If a tree is no stop of the round, is named too often, or not at all.
        """
        waiting: dict[str, list[str]] = {}
        for stop in self._stops():
            waiting.setdefault(stop.tree.key, []).append(stop.key)
        times: dict[str, int] = {}
        for _, name in (pair for trip in trips for pair in trip):
            key = self._tree_named(name)
            if key is not None:
                times[key] = times.get(key, 0) + 1
        orders: list[tuple[str, ...]] = []
        for trip in trips:
            order: list[str] = []
            for where, name in trip:
                key = self._tree_named(name)
                if key is None:
                    raise UserError(
                        f"{where}: '{name[:60]}' is no stop of this round", f"the stops are: {self._names()}"
                    )
                if not waiting[key]:
                    raise UserError(f"{where}: {name[:60]} was named before", "name each stop once")
                taken = 1 if times[key] > 1 else len(waiting[key])
                order += waiting[key][:taken]
                del waiting[key][:taken]
            orders.append(tuple(order))
        missing = [stop.tree.name for stop in self._stops() if waiting[stop.tree.key]]
        if missing:
            where = trips[0][0][0].split(",")[0] if trips and trips[0] else "the order"
            more = f" and {len(missing) - 1} more are" if len(missing) > 1 else " is"
            remedy = "name every stop, or plan for fewer with --trees"
            raise UserError(f"{where}: {missing[0]}{more} missing", remedy)
        return tuple(orders)

    def _against_best(self, round_: PlannedRound) -> EditedRound:
        return EditedRound(
            replace(round_, repeatable=self.best.repeatable),
            round_.length_m - self.best.length_m,
            round_.minutes - self.best.minutes,
            tuple(
                trip.number
                for trip in round_.trips
                if trip.max_load_kg > self.capacity_of(trip.collector) + ROUNDING_KG
            ),
        )

    @staticmethod
    def _collectors(round_: PlannedRound) -> list[int]:
        return [trip.collector for trip in round_.trips]

    def _stops(self) -> list[RoundStop]:
        return [stop for trip in self.best.trips for stop in trip.stops]

    def _names(self) -> str:
        return ", ".join(dict.fromkeys(stop.tree.name for stop in self._stops()))

    def _tree_named(self, name: str) -> str | None:
        """Return the key of the one tree of the round with this name or id."""
        found = {s.tree.key for s in self._stops() if has_name(s.tree, name)}
        return found.pop() if len(found) == 1 else None

    def _stop_of(self, name: str) -> str:
        key = self._tree_named(name)
        if key is None:
            why = next((why for tree, why in self.best.left_out if folded(tree) == folded(name)), None)
            if why is not None:
                raise UserError(
                    f"{name[:60]} is left out: {why}", "choose another tree, or give the walk more time or load"
                )
            raise UserError(f"'{name[:60]}' is no stop of this round", f"the stops are: {self._names()}")
        return next(s.key for s in self._stops() if s.tree.key == key)

    def _tree_key(self, hole_key: str) -> str:
        return self.posed.stops[hole_key].tree.key

    def _name(self, hole_key: str) -> str:
        return self.posed.stops[hole_key].tree.name
