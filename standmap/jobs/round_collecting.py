"""The collecting walk: which vessels hang, what each holds by now, and when it would run over."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta

from standmap.jobs.planned_round import Todo
from standmap.jobs.round_options import LONG_OPEN_DAYS, RoundOptions
from standmap.jobs.round_stops import PRACTICE, Asked, AskedStop, LeftOut, named_or_all
from standmap.sap.expected import SAP_KG_PER_L, ExpectedRun
from standmap.sap.spread import RunSpread
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole
from standmap.stand.tree import Tree

HOURS_OF_A_RUN = 24.0
"""A night's sap is taken to run evenly over so long: an assumption."""

EMPTIED_DAYS = 2
"""What was last emptied earlier is taken to have been emptied the day before, without a note: an assumption."""

RUNS_EVENLY = (
    "a vessel is taken to fill evenly over 24 h, and to have been emptied the day before where nothing else is noted"
)


def collecting_stops(
    stand: Stand,
    day: date,
    options: RoundOptions,
    runs: Mapping[str, ExpectedRun],
    spreads: Mapping[str, RunSpread],
) -> Asked:
    """Return the vessels that wait on a day.

    Parameters
    ----------
    options
        Its trees, vessel and whether vessels are swapped count here.
    runs, spreads
        Of every tree with an open hole, by its key.
    """
    left_out: list[LeftOut] = []
    stops: list[AskedStop] = []
    for tree in named_or_all(stand, options.trees, stand.present):
        holes = stand.open_holes(tree.key, day)
        waiting = [h for h in holes if all(c.collected_on != day for c in stand.collections_of.get(h.key, ()))]
        if not holes and options.trees:
            left_out.append((tree.name, f"no open hole on {day.isoformat()}"))
        if len(waiting) < len(holes):
            left_out.append((tree.name, f"collected on {day.isoformat()} already"))
        stops += [_stop(tree, hole, day, options, runs[tree.key], spreads[tree.key]) for hole in waiting]
    return Asked(tuple(stops), tuple(left_out))


def _stop(
    tree: Tree, hole: TapHole, day: date, options: RoundOptions, run: ExpectedRun, spread: RunSpread
) -> AskedStop:
    # No more waits in a vessel than it holds.
    litres = min(run.volume_ml, options.vessel_ml) / 1000
    high_l = max(run.volume_ml, spread.high_ml) / 1000 if options.run_ml is None else run.volume_ml / 1000
    sap_kg = litres * SAP_KG_PER_L
    empty_kg = options.vessel_kg if options.swap_vessels else 0.0
    old = (day - hole.made_on).days > LONG_OPEN_DAYS
    return AskedStop(
        key=hole.key,
        tree=tree,
        hole=hole,
        hole_number=hole.number,
        litres=litres,
        high_l=high_l,
        taken_kg=sap_kg + empty_kg,
        left_kg=empty_kg,
        full_after_h=options.vessel_ml / run.volume_ml * HOURS_OF_A_RUN if run.volume_ml > 0 else None,
        todo=(
            Todo(
                "hang a clean vessel and take the full one" if options.swap_vessels else "pour into the can", PRACTICE
            ),
            Todo("write down the litres"),
        ),
        cautions=(f"open since {hole.made_on.isoformat()}: is the tube still in?",) if old else (),
    )


def full_at(stand: Stand, stop: AskedStop, sets_out: datetime) -> datetime | None:
    """Return when a vessel is expected to run over; None where none hangs.

    Parameters
    ----------
    sets_out
        When the walk begins; a day without its own hour is taken at this one.
    """
    hole = stop.hole
    if hole is None or stop.full_after_h is None:
        return None
    moments = [
        taken.collected_at or datetime.combine(taken.collected_on, sets_out.timetz())
        for taken in stand.collections_of.get(hole.key, ())
        if taken.collected_on < sets_out.date()
    ]
    moments.append(hole.made_at or datetime.combine(hole.made_on, sets_out.timetz()))
    emptied = max(moments)
    if sets_out - emptied > timedelta(days=EMPTIED_DAYS):
        emptied = sets_out - timedelta(days=1)
    return emptied + timedelta(hours=stop.full_after_h)


def no_open_hole(stand: Stand, day: date) -> str:
    """Return that no vessel hangs, and when the last one did."""
    seasons = sorted({hole.season for hole in stand.holes})
    last = f"; the last holes are of {seasons[-1]}" if seasons else "; no hole was ever recorded"
    return f"nothing to collect: no hole is open on {day.isoformat()}{last}"
