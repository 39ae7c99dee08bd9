"""What a walk is asked to do: the stops that its purpose names, less those that a person leaves out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from standmap.errors import NothingToDo
from standmap.jobs.mark import plans_of
from standmap.jobs.planned_round import Purpose
from standmap.jobs.round_closing import closing_stops
from standmap.jobs.round_collecting import collecting_stops, no_open_hole
from standmap.jobs.round_options import LOAD_CAUTION, LOAD_CAUTION_KG, RoundOptions
from standmap.jobs.round_stops import Asked, AskedStop, LeftOut
from standmap.jobs.round_tapping import Hung, tapping_stops
from standmap.rules.ruleset import RuleSet
from standmap.sap.expected import learned, night_runs
from standmap.sap.night import NightRun
from standmap.sap.priors import ASSUMED_BASIS
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand

if TYPE_CHECKING:
    from standmap.sap.model import SapModel


class NothingToCollect(NothingToDo):
    """There is no round that day; says which trees were left out, and why."""

    def __init__(self, reason: str, left_out: Sequence[LeftOut]) -> None:
        super().__init__(reason)
        self.left_out = tuple(left_out)


NOTHING = {
    Purpose.COLLECTING: "nothing to collect",
    Purpose.TAPPING: "nothing to tap",
    Purpose.CLOSING: "nothing to close",
}


def asked_for(
    stand: Stand,
    plans: Iterable[Plan],
    day: date,
    sets_out: datetime,
    options: RoundOptions,
    rules: RuleSet,
    model: SapModel | None = None,
) -> Asked:
    """Return the stops of a walk.

    Parameters
    ----------
    plans
        Marks of any season; they say where to tap.
    model
        What the stand's records teach of the sap; learned anew where it is not at hand.

    Raises
    ------
    UserError
        If a tree that is named is not there.
    NothingToCollect
        If there is nothing to do that day; the reason is said.
    """
    marks = tuple(plans)
    if model is None and options.purpose is not Purpose.CLOSING and options.run_ml is None:
        model = learned(stand)
    match options.purpose:
        case Purpose.COLLECTING:
            runs = _runs(stand, [hole.tree_key for hole in stand.all_open_holes(day)], day, options, model)
            asked = collecting_stops(stand, day, sets_out, options, runs, model)
        case Purpose.TAPPING:
            hung = Hung(options.vessel_ml, options.vessel_kg)
            runs = _runs(stand, plans_of(marks, day.year), day, options, model)
            asked = tapping_stops(stand, marks, day, options.trees, rules, hung, runs)
        case Purpose.CLOSING:
            asked = closing_stops(stand, day, options.trees, rules, options.vessel_kg)
    wanted, asked = asked.stops, _without(stand, asked, options)
    if wanted and not asked.stops and not asked.left_out:
        raise NothingToCollect(f"{NOTHING[options.purpose]} on {day.isoformat()}: every tree was seen to", ())
    if not asked.stops:
        raise NothingToCollect(_why_nothing(stand, day, options.purpose, asked.left_out), asked.left_out)
    notes, cautions = _run_words([stop.night for stop in asked.stops if stop.night is not None], options)
    if options.purpose is Purpose.COLLECTING:
        cautions += _old_words(asked.stops)
    return replace(asked, notes=(*notes, *asked.notes), cautions=(*cautions, *asked.cautions))


def _runs(
    stand: Stand, keys: Iterable[str], day: date, options: RoundOptions, model: SapModel | None
) -> dict[str, NightRun]:
    """Return what a hole of each of these trees gives in the night that ends on a day, by tree key."""
    if options.run_ml is not None:
        return dict.fromkeys(keys, NightRun(options.run_ml, 0.0, "as asked for", assumed=False))
    return night_runs(stand, keys, model, day)


def _without(stand: Stand, asked: Asked, options: RoundOptions) -> Asked:
    """Return what is left when trees that are done or not wanted today are taken out."""
    done = {stand.tree(name).key for name in options.done}
    not_today = {stand.tree(name).key for name in options.not_today} - done
    gone = {stop.tree.key: stop.tree.name for stop in asked.stops if stop.tree.key in not_today}
    return replace(
        asked,
        stops=tuple(stop for stop in asked.stops if stop.tree.key not in done | not_today),
        left_out=(*asked.left_out, *((name, "not today, as asked") for name in gone.values())),
    )


def _why_nothing(stand: Stand, day: date, purpose: Purpose, left_out: Sequence[LeftOut]) -> str:
    if left_out:
        return all_left_out(day, left_out, purpose)
    match purpose:
        case Purpose.COLLECTING:
            return no_open_hole(stand, day)
        case Purpose.TAPPING:
            return f"nothing to tap: no tree is marked for {day.year}; mark some with 'mark'"
        case Purpose.CLOSING:
            return f"nothing to close: no wound is open on {day.isoformat()}"


def all_left_out(day: date, left_out: Sequence[LeftOut], purpose: Purpose) -> str:
    """Return in words that every tree is left out, the first of them with why."""
    name, why = left_out[0]
    others = f" (and {len(left_out) - 1} more)" if len(left_out) > 1 else ""
    return f"{NOTHING[purpose]} on {day.isoformat()}: {name}: {why}{others}"


def _run_words(runs: Sequence[NightRun], options: RoundOptions) -> tuple[list[str], list[str]]:
    """Return what is assumed of the sap, and what to be careful about."""
    notes, cautions = [], []
    assumed = [run for run in runs if run.assumed]
    if assumed:
        litres = sorted({round(run.median_ml / 1000, 1) for run in assumed})
        if len(litres) == 1:
            notes.append(f"{litres[0]:g} L a hole and night is {ASSUMED_BASIS}")
        else:
            notes.append(f"{litres[0]:g} to {litres[-1]:g} L a hole and night, {ASSUMED_BASIS}")
    elif runs and options.run_ml is None:
        litres = [run.median_ml / 1000 for run in runs]
        notes.append(f"{min(litres):.1f} to {max(litres):.1f} L a hole and night, from this stand's records")
    if any(run.median_ml > options.vessel_ml for run in runs):
        cautions.append(f"some trees are expected to run over a vessel of {options.vessel_ml / 1000:g} L")
    carried = 0.0 if options.from_here is None else options.from_here.carrying_kg
    if max((options.capacity_kg, carried, *(w.capacity_kg or 0.0 for w in options.walkers))) > LOAD_CAUTION_KG:
        cautions.append(LOAD_CAUTION)
    return notes, cautions


def _old_words(stops: Sequence[AskedStop]) -> list[str]:
    old = [stop for stop in stops if stop.cautions]
    if not old or old[0].hole is None:
        return []
    others = f", and {len(old) - 1} more" if len(old) > 1 else ""
    since = old[0].hole.made_on.isoformat()
    return [f"{old[0].tree.name} is noted as open since {since}{others}: is the tube still in?"]
