"""The closing walk: which wounds are still open, and how the rule set asks for each to be left."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from standmap.aftercare.needs import SLIT_SOURCE, Need, needs
from standmap.aftercare.peg import THICKER_MM, THINNER_MM
from standmap.jobs.aftercare import care_plan
from standmap.jobs.planned_round import Todo
from standmap.jobs.round_stops import PRACTICE, Asked, AskedStop, LeftOut, named_or_all
from standmap.rules.ruleset import Figure, RuleSet
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import CLOSING, Act, TapHole, Wound


def closing_stops(stand: Stand, day: date, names: Sequence[str], rules: RuleSet, vessel_kg: float) -> Asked:
    """Return the wounds that are to be seen to on a day.

    Parameters
    ----------
    names
        Names or ids of trees; all when empty.
    vessel_kg
        What comes home from a wound whose tube is still in.

    Notes
    -----
    A wound whose tube is out is asked about only where the set itself says how to leave it.
    """
    open_needs = [need for need in needs(stand, care_plan(rules), day) if need.what in CLOSING]
    plug = rules.figure("plug")
    holes = {hole.key: hole for hole in stand.holes}
    wanted = {tree.key: tree for tree in named_or_all(stand, names, stand.present)}
    left_out: list[LeftOut] = []
    stops: list[AskedStop] = []
    for need in open_needs:
        hole = holes[need.hole_key]
        if need.tree_key not in wanted:
            continue
        is_out = _tube_is_out(stand, hole, day)
        brings_home = vessel_kg if need.what is Act.TAKEN_OUT else 0.0
        todo = _todo(hole, need, plug, rules.title, is_out=is_out, is_over=hole.season < day.year)
        stops.append(AskedStop(hole.key, wanted[need.tree_key], hole, hole.number, taken_kg=brings_home, todo=todo))
    if names:
        served = {stop.tree.key for stop in stops}
        left_out = [(tree.name, "no wound of it is open") for key, tree in wanted.items() if key not in served]
    notes = []
    if plug.lent:
        notes.append(f"{rules.title} does not say whether a hole is plugged: either way is right here, note which")
    passed_over = sum(_left_as_it_is(stand, stand.holes_of.get(key, ()), day) for key in wanted) if plug.lent else 0
    if passed_over:
        asks = f"{rules.title} asks for nothing more"
        notes.append(
            f"1 hole whose tube is out is not visited: {asks}"
            if passed_over == 1
            else f"{passed_over} holes whose tubes are out are not visited: {asks}"
        )
    return Asked(tuple(stops), tuple(left_out), tuple(notes))


def _left_as_it_is(stand: Stand, holes: Sequence[TapHole], day: date) -> int:
    """Return how many holes of the day's season there are whose tube is out, and of which nothing more was noted."""
    found = 0
    for hole in holes:
        if hole.kind is Wound.HOLE and hole.season == day.year and hole.made_on <= day:
            seen = stand.observations_of.get(hole.tree_key, ())
            acts = {one.what for one in seen if one.hole_key == hole.key and one.observed_on <= day}
            found += Act.TAKEN_OUT in acts and not acts & {Act.PLUGGED, Act.LEFT_OPEN, Act.SEEN_CLOSED}
    return found


def _tube_is_out(stand: Stand, hole: TapHole, day: date) -> bool:
    return any(
        seen.hole_key == hole.key and seen.what in CLOSING and seen.observed_on <= day
        for seen in stand.observations_of.get(hole.tree_key, ())
    )


def _todo(hole: TapHole, need: Need, plug: Figure, title: str, *, is_out: bool, is_over: bool) -> tuple[Todo, ...]:
    steps = []
    if need.what is Act.TAKEN_OUT and not is_over:
        if hole.kind is Wound.SLIT:
            steps.append(Todo("take out what leads the sap off", PRACTICE))
        else:
            steps.append(Todo("twist the tube out by hand", PRACTICE))
    elif not is_out:
        steps.append(Todo("look whether the tube is still in, and twist it out by hand", PRACTICE))
    if hole.kind is Wound.SLIT:
        steps.append(Todo("leave the slit clean and open", SLIT_SOURCE))
    elif plug.lent:
        steps.append(Todo("plug it or leave it clean and open", f"{title}: {plug.source}"))
    elif plug.value:
        steps.append(Todo(peg_text(hole.bit_mm), f"{title}: {plug.source}"))
    else:
        steps.append(Todo("leave it clean and open, without a plug", f"{title}: {plug.source}"))
    return (*steps, Todo("note what was done"))


def peg_text(bit_mm: float | None) -> str:
    """Return which peg plugs a hole of this width."""
    if bit_mm is None:
        return "plug with a tapered peg that fits: its width was not noted"
    thin, thick = max(bit_mm - THINNER_MM, 1.0), bit_mm + THICKER_MM
    return f"plug with a peg that tapers from {thick:g} to {thin:g} mm, for a hole of {bit_mm:g} mm"
