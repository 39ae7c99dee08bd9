"""The command that plans which trees are tapped in which of the coming seasons: rotation."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import JsonOption, StandArgument
from standmap.cli.terminal import emit_json, note, say, stoppable, table

if TYPE_CHECKING:
    from standmap.jobs.rotation import PlannedRotation


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(rotation)


def rotation(
    file: StandArgument,
    *,
    years: Annotated[int, typer.Option("--years", metavar="N", help="How many seasons; up to 40.")] = 8,
    first: Annotated[int | None, typer.Option("--first", metavar="YEAR", help="The first; this year's.")] = None,
    litres: Annotated[
        float | None, typer.Option("--litres", metavar="L", help="Litres of a season that are enough.")
    ] = None,
    most: Annotated[bool, typer.Option("--most", help="As much as there is in all, not the leanest first.")] = False,
    growth_mm: Annotated[
        float | None,
        typer.Option("--growth-mm", metavar="MM", help="Growth of girth a year, where it was not measured twice."),
    ] = None,
    nights: Annotated[
        int | None, typer.Option("--nights", metavar="N", help="Good nights of a season; 14 without it.")
    ] = None,
    part_l: Annotated[
        float | None, typer.Option("--part-l", metavar="L", help="Litres for which one more part is worth the walk.")
    ] = None,
    mark: Annotated[bool, typer.Option("--mark", help="Mark the trees of the first season.")] = False,
    seconds: Annotated[float, typer.Option("--seconds", metavar="S", help="Longest search.")] = 20.0,
    as_json: JsonOption = False,
) -> None:
    """Plan which trees are tapped in which of the coming seasons, so that each rests and the stand lasts."""
    from standmap.errors import UserError
    from standmap.jobs.clock import now, today
    from standmap.jobs.mark import mark_trees
    from standmap.jobs.opening import open_stand
    from standmap.jobs.rotation import BLOCK_COST_L, NIGHTS_A_SEASON, RotationOptions, plan_rotation

    if not 0 < seconds <= 86_400:
        raise UserError(f"a search of {seconds:g} s is out of bounds", "choose up to 86400")
    options = RotationOptions(
        seasons=years,
        first=first,
        wanted_l=litres,
        most=most,
        growth_mm=growth_mm,
        nights=NIGHTS_A_SEASON if nights is None else nights,
        block_cost_l=BLOCK_COST_L if part_l is None else part_l,
        seconds=seconds,
    )
    with open_stand(file, read_only=not mark) as opened:
        with stoppable() as progress:
            planned = plan_rotation(opened.stand(), today(), options, progress=progress)
        season = planned.seasons[0]
        if mark and season.trees:
            mark_trees(opened, [tree.key for tree, _ in season.trees], season.season, now())
    if as_json:
        emit_json(rotation_json(planned))
    else:
        _show(planned)
        if mark:
            say(f"marked {len(season.trees)} trees for {season.season}")
    if planned.stopped:
        note("caution: the search was ended early; more time may find a better plan")
    note("caution: look at every tree before you drill; a plan knows no rot, no lean and no owner's change of mind")


def rotation_json(planned: PlannedRotation) -> dict[str, object]:
    """Return the documented shape."""
    return {
        "rules": planned.rules,
        "wanted_l": planned.wanted_l,
        "leanest_l": round(planned.leanest_l, 1),
        "short": planned.short,
        "proved": planned.proved,
        "gap_percent": round(planned.gap_percent, 3),
        "seasons": [
            {
                "season": s.season,
                "trees": [{"tree": tree.name, "id": tree.key, "holes": holes} for tree, holes in s.trees],
                "holes": s.holes,
                "litres": round(s.litres, 1),
                "parts": s.blocks,
                "unplanned_trees": s.unplanned_trees,
                "unplanned_l": round(s.unplanned_l, 1),
            }
            for s in planned.seasons
        ],
        "binding": [{"rule": w.rule, "leanest_l": round(w.leanest_l, 1)} for w in planned.binding],
        "assumptions": list(planned.assumptions),
    }


def _show(planned: PlannedRotation) -> None:
    last = planned.seasons[-1].season
    sure = "no better plan exists" if planned.proved else f"at most {planned.gap_percent:.1f} % below the best possible"
    say(f"{planned.seasons[0].season} to {last}, {planned.rules}: {planned.leanest_l:.0f} L or more a season; {sure}")
    table(
        [
            ("season", "left"),
            ("trees", "right"),
            ("holes", "right"),
            ("litres", "right"),
            ("parts", "right"),
            ("without a plan", "right"),
            ("which", "left"),
        ],
        (
            (
                str(s.season),
                str(len(s.trees)),
                str(s.holes),
                f"{s.litres:.0f} L",
                str(s.blocks),
                f"{s.unplanned_trees} trees, {s.unplanned_l:.0f} L",
                _names([tree.name for tree, _ in s.trees]) if s.possible else "no tree may be tapped",
            )
            for s in planned.seasons
        ),
    )
    if planned.short:
        say(f"{planned.wanted_l:g} L a season cannot be had: the leanest gives {planned.leanest_l:.0f} L")
        for without in planned.binding:
            more = without.leanest_l > planned.leanest_l + 1e-6
            say(f"  without the {without.rule}: {without.leanest_l:.0f} L" if more else f"  it is the {without.rule}")
    for text in planned.assumptions:
        say(f"assumed: {text}")


def _names(names: list[str]) -> str:
    shown = 6
    return ", ".join(names[:shown]) + (f" and {len(names) - shown} more" if len(names) > shown else "")
