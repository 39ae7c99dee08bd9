"""The command that holds a recorded walk against the one that was planned: walked."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import DateOption, JsonOption, StandArgument, past_day_of
from standmap.cli.terminal import TerminalMessages, emit_json, say, table

if TYPE_CHECKING:
    from standmap.jobs.walked import WalkedRound


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(walked)


def walked(
    file: StandArgument,
    track: Annotated[Path, typer.Argument(metavar="WALK", help="The recorded walk: GPX, or another timed track.")],
    *,
    date: DateOption = None,
    collector: Annotated[
        int | None, typer.Option("--collector", metavar="N", help="Whose trips; all of that day without it.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Show the walk of a day beside its plan: time, order, way and litres; nothing is stored."""
    from standmap.errors import UserError
    from standmap.jobs.given_walk import walks_given_out
    from standmap.jobs.opening import open_stand
    from standmap.jobs.walked import walked_beside_plan

    day = past_day_of(date)
    with open_stand(file, read_only=True) as opened:
        stand = opened.stand()
        walks = walks_given_out(opened, day)
    if not walks:
        raise UserError(
            f"no walk of {day.isoformat()} was given out", "plan that day with 'round', or name it by --date"
        )
    found = walked_beside_plan(stand, walks[0], track, collector=collector, messages=TerminalMessages())
    if as_json:
        emit_json(walked_json(found))
    else:
        _show(found)


def walked_json(found: WalkedRound) -> dict[str, object]:
    """Return the documented shape."""
    return {
        "date": found.walk.day.isoformat(),
        "for": found.walk.purpose.value,
        "walk": found.walk.key,
        "collector": found.collector,
        "planned_m": round(found.planned_m, 1),
        "walked_m": round(found.walked_m),
        "planned_min": round(found.planned_min, 1),
        "walked_min": round(found.walked_min, 1),
        "expected_l": round(found.expected_l, 2),
        "brought_l": None if found.brought_l is None else round(found.brought_l, 3),
        "swapped": found.swapped,
        "stops": [
            {
                "tree": stop.name,
                "id": stop.stop.tree_key,
                "order": stop.planned_order,
                "walked_order": stop.walked_order,
                "minute": round(stop.planned_min, 1),
                "walked_minute": None if stop.walked_min is None else round(stop.walked_min, 1),
                "reached_at": None if stop.reached_at is None else stop.reached_at.isoformat(),
                "stayed": stop.stayed,
                "expected_l": round(stop.expected_l, 3),
                "brought_l": None if stop.brought_l is None else round(stop.brought_l, 3),
            }
            for stop in found.stops
        ],
    }


def _show(found: WalkedRound) -> None:
    say(
        f"{found.walk.day.isoformat()}, {found.walk.purpose}: planned {found.planned_m:.0f} m in "
        f"{found.planned_min:.0f} min, walked about {found.walked_m:.0f} m in {found.walked_min:.0f} min"
    )
    brought = "nothing written down yet" if found.brought_l is None else f"{found.brought_l:.1f} L"
    if found.expected_l:
        say(f"expected {found.expected_l:.1f} L, brought {brought}")
    table(
        [
            ("order", "right"),
            ("walked", "right"),
            ("tree", "left"),
            ("minute", "right"),
            ("walked", "right"),
            ("at", "left"),
            ("expected", "right"),
            ("brought", "right"),
        ],
        (
            (
                str(stop.planned_order),
                "" if stop.walked_order is None else str(stop.walked_order),
                stop.name,
                f"{stop.planned_min:.0f}",
                "" if stop.walked_min is None else f"{stop.walked_min:.0f}",
                "not reached"
                if stop.reached_at is None
                else f"{stop.reached_at:%H:%M}" + ("" if stop.stayed else ", in passing"),
                f"{stop.expected_l:.1f} L" if stop.expected_l else "",
                "" if stop.brought_l is None else f"{stop.brought_l:.1f} L",
            )
            for stop in found.stops
        ),
    )
