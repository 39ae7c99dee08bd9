"""The command of a day's walk: round."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import DateOption, JsonOption, StandArgument, day_of
from standmap.cli.round_answer import no_round_json, round_json, standings_json
from standmap.cli.round_shown import show_round, show_standings, show_walking_cautions
from standmap.cli.round_wishes import Wishes
from standmap.cli.terminal import TerminalMessages, emit_json, note, say, stoppable

if TYPE_CHECKING:
    import datetime

    from standmap.jobs.given_walk import GivenWalk
    from standmap.jobs.planned_round import PlannedRound
    from standmap.jobs.round_options import RoundOptions
    from standmap.jobs.round_posed import PosedRound
    from standmap.rounds.stop import StopRule
    from standmap.stand.records import Plan
    from standmap.stand.snapshot import Stand

LONGEST_SEARCH_S = 86_400


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command("round")(round_of_a_day)


def round_of_a_day(
    file: StandArgument,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="DIR",
            help="Give the walk out as walk.pdf, .html, .gpx, .geojson and .csv in here; else it is only shown.",
        ),
    ] = None,
    *,
    date: DateOption = None,
    purpose: Annotated[
        str, typer.Option("--for", metavar="WHAT", help="collecting, tapping (marked trees) or closing (open wounds).")
    ] = "collecting",
    trees: Annotated[
        list[str] | None,
        typer.Option("--trees", metavar="TREES", help="Names or ids, with commas between; else all that is asked for."),
    ] = None,
    not_today: Annotated[
        list[str] | None, typer.Option("--not-today", metavar="TREES", help="Trees to leave out.")
    ] = None,
    start: Annotated[
        str | None, typer.Option("--from", metavar="PLACE", help="Gate or tank; the first tank, else gate.")
    ] = None,
    tank: Annotated[
        list[str] | None, typer.Option("--tank", metavar="PLACES", help="Where else cans may be emptied on the way.")
    ] = None,
    aim: Annotated[
        str | None, typer.Option("--aim", metavar="WHAT", help="Least time, effort (kg carried x m) or distance.")
    ] = None,
    capacity_kg: Annotated[
        float | None, typer.Option("--capacity-kg", metavar="KG", help="Load carried, cans included; 5 to 40.")
    ] = None,
    can_kg: Annotated[float | None, typer.Option("--can-kg", metavar="KG", help="Empty cans of one trip.")] = None,
    dark: Annotated[bool, typer.Option("--dark", help="Walked in the dark: the usual load is lowered.")] = False,
    wet: Annotated[bool, typer.Option("--wet", help="Wet or icy ground: the usual load is lowered.")] = False,
    barrow: Annotated[
        float | None,
        typer.Option("--barrow", metavar="KG", help="Load of a sledge or barrow that keeps to paths."),
    ] = None,
    swap_vessels: Annotated[
        bool | None, typer.Option("--swap-vessels/--pour", help="Carry full vessels home and hang clean ones, or pour.")
    ] = None,
    collectors: Annotated[
        int | None, typer.Option("--collectors", metavar="N", help="People who share the round, all alike.")
    ] = None,
    collector: Annotated[
        list[str] | None,
        typer.Option("--collector", metavar="WHO", help="One of them, such as 'Ilse, 12 kg, from gate, 06:10'; again."),
    ] = None,
    sets_out: Annotated[
        str | None, typer.Option("--sets-out", metavar="HH:MM", help="When it begins; at sunrise when left out.")
    ] = None,
    latest: Annotated[
        str | None,
        typer.Option("--latest", metavar="HH:MM", help="Everybody is back by then; trees are chosen by what is lost."),
    ] = None,
    handling_min: Annotated[
        float | None, typer.Option("--handling-min", metavar="MIN", help="Minutes at each stop.")
    ] = None,
    margin_min: Annotated[
        float | None, typer.Option("--margin-min", metavar="MIN", help="From the planned return until help is called.")
    ] = None,
    contact: Annotated[str, typer.Option("--contact", metavar="TEXT", help="Who knows of this walk.")] = "",
    run_l: Annotated[
        float | None, typer.Option("--run-l", metavar="L", help="Expected litres a hole and night.")
    ] = None,
    vessel_l: Annotated[float | None, typer.Option("--vessel-l", metavar="L", help="What a vessel holds.")] = None,
    seed: Annotated[
        int, typer.Option("--seed", metavar="N", help="Same seed, same walk, where that can be promised.")
    ] = 1,
    seconds: Annotated[
        float | None, typer.Option("--seconds", metavar="S", help="Longest search; Ctrl-C stops it too.")
    ] = None,
    first: Annotated[
        str | None, typer.Option("--first", metavar="TREE", help="The walk begins with this tree.")
    ] = None,
    last: Annotated[str | None, typer.Option("--last", metavar="TREE", help="The walk ends with this tree.")] = None,
    together: Annotated[
        list[str] | None, typer.Option("--together", metavar="TREES", help="These are on one trip; again for others.")
    ] = None,
    order: Annotated[
        Path | None,
        typer.Option(
            "--order",
            metavar="LIST",
            help="Walk in this order: one tree a line, a blank line between trips; or a table such as walk.csv.",
        ),
    ] = None,
    from_here: Annotated[
        str | None,
        typer.Option("--from-here", metavar="WHERE", help="Plan the rest from this tree, or latitude,longitude."),
    ] = None,
    done: Annotated[
        list[str] | None, typer.Option("--done", metavar="TREES", help="Trees that were seen to already.")
    ] = None,
    carrying: Annotated[
        float | None, typer.Option("--carrying", metavar="KG", help="What is carried there, cans included.")
    ] = None,
    where_tank: Annotated[
        bool, typer.Option("--where-tank", help="Say from which place the walk would cost least; writes nothing.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Order the walk of a day, with its loads, hours and kit, and write its files."""
    from standmap.errors import UserError
    from standmap.jobs.opening import open_stand
    from standmap.jobs.preferences import read_settings
    from standmap.jobs.round_asked import NothingToCollect
    from standmap.jobs.round_editing import RoundEditing
    from standmap.jobs.round_files import sheets, write_round
    from standmap.jobs.round_orders import read_order
    from standmap.jobs.writing_files import check_folder
    from standmap.stand.records import Plan

    settings = read_settings(TerminalMessages())
    options = Wishes(
        purpose=purpose,
        trees=trees,
        not_today=not_today,
        start=start,
        tank=tank,
        aim=aim,
        capacity_kg=capacity_kg,
        can_kg=can_kg,
        dark=dark,
        wet=wet,
        barrow=barrow,
        swap_vessels=swap_vessels,
        collectors=collectors,
        collector=collector,
        sets_out=sets_out,
        latest=latest,
        handling_min=handling_min,
        margin_min=margin_min,
        contact=contact,
        run_l=run_l,
        vessel_l=vessel_l,
        seed=seed,
        together=together,
        from_here=from_here,
        done=done,
        carrying=carrying,
    ).options(settings)
    if seconds is not None and not 0 < seconds <= LONGEST_SEARCH_S:
        raise UserError(f"a search of {seconds:g} s is out of bounds", f"choose up to {LONGEST_SEARCH_S}")
    if order is not None and (first is not None or last is not None):
        raise UserError("--order says already which trees are first and last", "leave --first and --last out")
    named = None if order is None else read_order(order)
    if out is not None:
        check_folder(out)
    with open_stand(file, read_only=True) as opened:
        stand, plans = opened.stand(), opened.rows(Plan)
    day, messages = day_of(date), TerminalMessages()
    if where_tank:
        _where_tank(stand, plans, day, options, seconds, as_json=as_json)
        return
    try:
        posed, best = _planned(stand, plans, day, options, seconds, (first, last))
    except NothingToCollect as nothing:
        if as_json:
            emit_json(no_round_json(day, options.purpose, seed, nothing.left_out))
        raise
    edited = None
    if named is not None or first is not None or last is not None:
        editing = RoundEditing(posed, best)
        edited = (
            editing.begun_and_ended(first, last, messages) if named is None else editing.ordered(editing.named(named))
        )
        for text in edited.cautions(editing.capacity_of):
            messages.caution(text)
    planned = best if edited is None else edited.planned
    key: str | None = None
    paths: tuple[Path, ...] = ()
    if out is not None:
        given, kept = _given_out(file, planned)
        paths = write_round(planned, out, sheets(planned, stand, file.stem, given.key, settings))
        key = given.key if kept else None
    if as_json:
        emit_json(round_json(planned, edited, key))
    else:
        show_round(planned, edited)
        for path in paths:
            say(str(path))
    show_walking_cautions(planned, posed.cautions)


def _planned(
    stand: Stand,
    plans: tuple[Plan, ...],
    day: datetime.date,
    options: RoundOptions,
    seconds: float | None,
    ends: tuple[str | None, str | None],
) -> tuple[PosedRound, PlannedRound]:
    from standmap.jobs.round import plan_posed, pose_round
    from standmap.jobs.round_editing import check_ends

    with stoppable() as progress:

        def tell(best: PlannedRound) -> None:
            progress.at(0, 0, f"best so far: {best.length_m:.0f} m, {_trips(len(best.trips))}")

        posed = pose_round(stand, day, options, TerminalMessages(), plans=plans)
        check_ends(posed, *ends)
        return posed, plan_posed(posed, stop=_stop_rule(seconds), progress=progress, on_best=tell)


def _trips(count: int) -> str:
    return "1 trip" if count == 1 else f"{count} trips"


def _given_out(file: Path, planned: PlannedRound) -> tuple[GivenWalk, bool]:
    """Keep the walk in the stand where it may be written; return it, and whether it is kept."""
    from standmap.errors import UserError
    from standmap.jobs.clock import now
    from standmap.jobs.given_walk import give_out, given_walk
    from standmap.jobs.opening import open_stand

    given = given_walk(planned, now())
    try:
        with open_stand(file) as opened:
            return give_out(opened, given), True
    except UserError as error:
        note(f"the walk is not kept in the stand, so that what comes home cannot be held against it: {error.what}")
        return given, False


def _where_tank(
    stand: Stand,
    plans: tuple[Plan, ...],
    day: datetime.date,
    options: RoundOptions,
    seconds: float | None,
    *,
    as_json: bool,
) -> None:
    from standmap.jobs.round_tanks import SECONDS_EACH, where_tank

    with stoppable() as progress:
        found = where_tank(
            stand,
            day,
            options,
            plans=plans,
            seconds_each=SECONDS_EACH if seconds is None else seconds,
            messages=TerminalMessages(),
            progress=progress,
        )
    if as_json:
        emit_json(standings_json(day, options.purpose, found))
    else:
        show_standings(found)


def _stop_rule(seconds: float | None) -> StopRule | None:
    from standmap.rounds.stop import MaxSeconds

    return None if seconds is None else MaxSeconds(seconds)
