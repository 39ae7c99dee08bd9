"""The collecting walk: which vessels hang, what each holds by now, and when it would run over."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import TYPE_CHECKING

from standmap.jobs.planned_round import Todo
from standmap.jobs.round_options import LONG_OPEN_DAYS, RoundOptions
from standmap.jobs.round_stops import PRACTICE, Asked, AskedStop, LeftOut, named_or_all
from standmap.jobs.vessels import Hanging, hanging_at
from standmap.sap.expected import SAP_KG_PER_L
from standmap.sap.night import NightRun
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole
from standmap.stand.tree import Tree

if TYPE_CHECKING:
    from standmap.sap.model import SapModel


def collecting_stops(
    stand: Stand,
    day: date,
    sets_out: datetime,
    options: RoundOptions,
    runs: Mapping[str, NightRun],
    model: SapModel | None = None,
) -> Asked:
    """Return the vessels that wait on a day.

    Parameters
    ----------
    sets_out
        When the walk begins.
    options
        Its trees, vessel, run and whether vessels are swapped count here.
    runs
        Of every tree with an open hole, by its key.
    model
        What the stand's records teach; learned anew where it is not at hand.
    """
    left_out: list[LeftOut] = []
    found: list[tuple[Tree, TapHole]] = []
    for tree in named_or_all(stand, options.trees, stand.present):
        holes = stand.open_holes(tree.key, day)
        waiting = [h for h in holes if all(c.collected_on != day for c in stand.collections_of.get(h.key, ()))]
        if not holes and options.trees:
            left_out.append((tree.name, f"no open hole on {day.isoformat()}"))
        if len(waiting) < len(holes):
            left_out.append((tree.name, f"collected on {day.isoformat()} already"))
        found += [(tree, hole) for hole in waiting]
    vessels = hanging_at(
        stand, [hole for _, hole in found], sets_out, options.vessel_ml, model=model, run_ml=options.run_ml
    )
    stops = [
        _stop(tree, vessel, day, options, runs[tree.key]) for (tree, _), vessel in zip(found, vessels, strict=True)
    ]
    return Asked(tuple(stops), tuple(left_out))


def _stop(tree: Tree, vessel: Hanging, day: date, options: RoundOptions, night: NightRun) -> AskedStop:
    hole = vessel.hole
    # No more waits in a vessel than it holds.
    litres = min(vessel.run.median_ml, options.vessel_ml) / 1000
    empty_kg = options.vessel_kg if options.swap_vessels else 0.0
    old = (day - hole.made_on).days > LONG_OPEN_DAYS
    return AskedStop(
        key=hole.key,
        tree=tree,
        hole=hole,
        hole_number=hole.number,
        litres=litres,
        high_l=vessel.run.most_ml / 1000,
        taken_kg=litres * SAP_KG_PER_L + empty_kg,
        left_kg=empty_kg,
        night=night,
        hanging=vessel,
        todo=(
            Todo(
                "hang a clean vessel and take the full one" if options.swap_vessels else "pour into the can", PRACTICE
            ),
            Todo("write down the litres"),
        ),
        cautions=(f"open since {hole.made_on.isoformat()}: is the tube still in?",) if old else (),
    )


def no_open_hole(stand: Stand, day: date) -> str:
    """Return that no vessel hangs, and when the last one did."""
    seasons = sorted({hole.season for hole in stand.holes})
    last = f"; the last holes are of {seasons[-1]}" if seasons else "; no hole was ever recorded"
    return f"nothing to collect: no hole is open on {day.isoformat()}{last}"
