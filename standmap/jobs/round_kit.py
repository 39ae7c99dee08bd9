"""What to take along: counted from the walk itself, from what hangs already and from the rule set's figures.

Which things a walk asks for is common practice, no source; how many comes from the walk.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from standmap.jobs.planned_round import KitLine, PlannedTrip, Purpose, RoundStop
from standmap.jobs.round_options import RoundOptions
from standmap.rules.ruleset import RuleSet
from standmap.sap.sums import Total, total_of
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Wound

if TYPE_CHECKING:
    from standmap.jobs.round_posed import PosedRound

MOST_NAMED = 3
"""Trees that a note names; more are counted."""

STEPS_L = ((6.0, 0.5), (10.0, 1.0), (math.inf, 5.0))
"""Up to which size vessels are told in which steps: about what there is to buy, an assumption."""


def kit_for(trips: Sequence[PlannedTrip], posed: PosedRound, *, lamp: bool) -> tuple[KitLine, ...]:
    """Return what to take along on a planned walk; each line can be ticked off.

    Parameters
    ----------
    posed
        What was asked for, and what runs into each vessel.
    lamp
        Whether part of the way is dark.
    """
    day, options, rules, stand = posed.day, posed.options, posed.rules, posed.stand
    people = len({trip.collector for trip in trips})
    stops = [stop for trip in trips for stop in trip.stops]
    lines: list[KitLine] = []
    match options.purpose:
        case Purpose.COLLECTING:
            lines += _collecting(trips, stops, posed)
        case Purpose.TAPPING:
            lines += _tapping(stops, day, options, rules, stand)
        case Purpose.CLOSING:
            lines += _closing(stops, day, rules, stand)
    if lamp:
        lines.append(KitLine("lamp with a full battery", people, "part of the way is dark"))
    lines.append(KitLine("charged phone, in a dry pocket", people))
    lines.append(KitLine("this sheet and a pencil", people))
    return tuple(lines)


def vessel_for(wanted_l: float, usual_l: float) -> float:
    """Return the litres of the vessel to hang where one must hold so much: the usual one or larger."""
    step = next(step for most, step in STEPS_L if wanted_l <= most)
    return usual_l if wanted_l <= usual_l else math.ceil(wanted_l / step - 1e-9) * step


def _collecting(trips: Sequence[PlannedTrip], stops: Sequence[RoundStop], posed: PosedRound) -> Iterator[KitLine]:
    options = posed.options
    if options.swap_vessels:
        yield KitLine("clean empty vessel", len(stops), "one is hung for each that comes home full")
    else:
        most = _most_by_collector(trips, posed)
        cans = sum(max(1, math.ceil(litres / options.can_l - 1e-9)) for litres in most.values())
        yield KitLine(
            f"can of {options.can_l:g} L",
            cans,
            f"at most {max(most.values(), default=0):.1f} L on one trip, nine times of ten",
        )
        yield KitLine("sieve or clean cloth for pouring", len(most))
        yield KitLine("jug with marks", len(most), "to read the litres of each vessel")
    usual_l = options.vessel_ml / 1000
    small = [stop for stop in stops if stop.vessel_l > usual_l]
    for size, group in sorted(_by_size(small, usual_l).items()):
        yield KitLine(
            f"vessel of {size:g} L",
            len(group),
            f"{options.overflow_chance * 100:g} nights in 100 or more run over one of {usual_l:g} L at "
            f"{_named(stop.tree.name for stop in group)}",
        )


def _tapping(
    stops: Sequence[RoundStop], day: date, options: RoundOptions, rules: RuleSet, stand: Stand
) -> Iterator[KitLine]:
    usual_l = options.vessel_ml / 1000
    hanging = sum(len(stand.open_holes(key, day)) for key in {stop.tree.key for stop in stops})
    for size, group in sorted(_by_size(stops, usual_l).items()):
        noted = f"runs over in {options.overflow_chance * 100:g} nights in 100" if size > usual_l else ""
        yield KitLine(f"clean vessel of {size:g} L", len(group), noted)
    width = rules.figure("hole_width_mm")
    holes = "1 hole" if len(stops) == 1 else f"{len(stops)} holes"
    hung = f"; {hanging} hang already" if hanging else ""
    yield KitLine(f"clean tube of {width.value:g} mm", len(stops), f"for {holes}{hung}")
    yield KitLine(f"sharp bit of {width.value:g} mm", 1, f"{rules.title}: {width.given}")
    yield KitLine("drill with a full battery", 1)
    yield KitLine("boiled water or spirit, and a clean cloth", None, "the bit is cleaned for each tree")
    yield KitLine("tape measure", 1, "girth, height and depth")


def _closing(stops: Sequence[RoundStop], day: date, rules: RuleSet, stand: Stand) -> Iterator[KitLine]:
    plug = rules.figure("plug")
    holes = [stop.hole for stop in stops if stop.hole is not None and stop.hole.kind is Wound.HOLE]
    pegged = holes if plug.value else []
    if_plugged = "where they are plugged" if plug.lent else ""
    widths = Counter(hole.bit_mm for hole in pegged)
    for width, count in sorted(widths.items(), key=lambda one: (one[0] is None, one[0] or 0.0)):
        if width is None:
            unknown = (
                "the width of 1 hole was not noted" if count == 1 else f"the widths of {count} holes were not noted"
            )
            yield KitLine("tapered pegs of several widths", count, unknown)
        else:
            yield KitLine(f"tapered peg for a hole of {width:g} mm", count, if_plugged)
    if pegged:
        yield KitLine("mallet and knife", 1)
    coming_home = sum(1 for hole in holes if hole in stand.open_holes(hole.tree_key, day))
    if coming_home:
        yield KitLine("bag for the tubes and vessels that come home", 1, f"{coming_home} of each")
    yield KitLine("boiled water or spirit, and a clean cloth", None, "the blade is cleaned for each tree")


def total_at(stops: Iterable[RoundStop], posed: PosedRound) -> Total:
    """Return what the vessels of stops hold together when the walk sets out."""
    vessels = [vessel for stop in stops if (vessel := posed.stops[stop.key].hanging) is not None]
    return total_of(
        np.log([vessel.run.median_ml for vessel in vessels]),
        np.array([vessel.run.spread for vessel in vessels]),
        np.array([vessel.shared for vessel in vessels]),
        np.full(len(vessels), posed.options.vessel_ml),
    )


def _most_by_collector(trips: Sequence[PlannedTrip], posed: PosedRound) -> dict[int, float]:
    """Return the litres of each collector's fullest trip, which nine times of ten are not passed."""
    most: dict[int, float] = {}
    for trip in trips:
        most[trip.collector] = max(most.get(trip.collector, 0.0), total_at(trip.stops, posed).most_ml / 1000)
    return most


def _by_size(stops: Iterable[RoundStop], usual_l: float) -> dict[float, list[RoundStop]]:
    found: dict[float, list[RoundStop]] = {}
    for stop in stops:
        found.setdefault(vessel_for(stop.vessel_l, usual_l), []).append(stop)
    return found


def _named(names: Iterable[str]) -> str:
    known = list(dict.fromkeys(names))
    more = f" and {len(known) - MOST_NAMED} more" if len(known) > MOST_NAMED else ""
    return ", ".join(known[:MOST_NAMED]) + more
