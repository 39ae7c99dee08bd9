"""The command of the morning: round."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import DateOption, JsonOption, StandArgument, day_of
from standmap.cli.round_answer import no_round_json, round_json, show_round, show_walking_cautions
from standmap.cli.terminal import TerminalMessages, emit_json, say, stoppable

if TYPE_CHECKING:
    from standmap.jobs.planned_round import PlannedRound
    from standmap.rounds.stop import StopRule


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command("round")(collection_round)


def collection_round(
    file: StandArgument,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for walk.gpx, walk.geojson and walk.csv.")],
    *,
    date: DateOption = None,
    trees: Annotated[
        list[str] | None,
        typer.Option("--trees", metavar="TREES", help="Names or ids, with commas between; else all open holes."),
    ] = None,
    start: Annotated[
        str | None, typer.Option("--from", metavar="PLACE", help="Gate or tank; the first tank, else gate.")
    ] = None,
    capacity_kg: Annotated[
        float | None, typer.Option("--capacity-kg", metavar="KG", help="Load carried, cans included; 5 to 40.")
    ] = None,
    can_kg: Annotated[float | None, typer.Option("--can-kg", metavar="KG", help="Empty cans of one trip.")] = None,
    collectors: Annotated[int, typer.Option("--collectors", metavar="N", help="People who share the round.")] = 1,
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
    order: Annotated[
        Path | None,
        typer.Option(
            "--order",
            metavar="LIST",
            help="Walk in this order: one tree a line, a blank line between trips; or a table such as walk.csv.",
        ),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Order the collection walk of a day, with its loads, and write its files."""
    from dataclasses import replace

    from standmap.errors import UserError
    from standmap.jobs.opening import open_stand
    from standmap.jobs.round import NothingToCollect, RoundOptions, plan_posed, pose_round
    from standmap.jobs.round_editing import RoundEditing
    from standmap.jobs.round_files import write_round
    from standmap.jobs.round_orders import read_order

    options = RoundOptions(
        trees=tuple(name.strip() for group in trees or [] for name in group.split(",") if name.strip()),
        start=start,
        collectors=collectors,
        run_ml=None if run_l is None else run_l * 1000,
        seed=seed,
    )
    if trees is not None and not options.trees:
        raise UserError("--trees names no tree", "name some, or leave it out for all open holes")
    if capacity_kg is not None:
        options = replace(options, capacity_kg=capacity_kg)
    if can_kg is not None:
        options = replace(options, can_kg=can_kg)
    if vessel_l is not None:
        options = replace(options, vessel_ml=vessel_l * 1000)
    if seconds is not None and not 0 < seconds <= 86_400:
        raise UserError(f"a search of {seconds:g} s is out of bounds", "choose up to 86400")
    if order is not None and (first is not None or last is not None):
        raise UserError("--order says already which trees are first and last", "leave --first and --last out")
    named = None if order is None else read_order(order)
    with open_stand(file, read_only=True) as opened:
        stand = opened.stand()
    day = day_of(date)
    messages = TerminalMessages()
    with stoppable() as progress:

        def tell(best: PlannedRound) -> None:
            progress.at(0, 0, f"best so far: {best.length_m:.0f} m, {len(best.trips)} trips")

        try:
            posed = pose_round(stand, day, options, messages)
            best = plan_posed(posed, stop=_stop_rule(seconds), progress=progress, on_best=tell)
        except NothingToCollect as nothing:
            if as_json:
                emit_json(no_round_json(day, seed, nothing.left_out))
            raise
    editing = RoundEditing(posed, best)
    edited = None
    if named is not None:
        edited = editing.ordered(editing.named(named))
    elif first is not None or last is not None:
        edited = editing.begun_and_ended(first, last, messages)
    for text in () if edited is None else edited.cautions(options.capacity_kg):
        messages.caution(text)
    planned = best if edited is None else edited.planned
    paths = write_round(planned, out)
    if as_json:
        emit_json(round_json(planned, edited))
    else:
        show_round(planned, edited)
        for path in paths:
            say(str(path))
    show_walking_cautions()


def _stop_rule(seconds: float | None) -> StopRule | None:
    from standmap.rounds.stop import MaxSeconds

    return None if seconds is None else MaxSeconds(seconds)
