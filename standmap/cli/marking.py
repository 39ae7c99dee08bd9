"""Commands that choose by hand: mark trees for a season, and ask what would make one ready."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import JsonOption, SeasonOption, StandArgument, year_of
from standmap.cli.terminal import TerminalMessages, emit_json, note, say, table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from standmap.jobs.mark import Totals
    from standmap.stand.records import Plan
    from standmap.stand.snapshot import Stand


def add_to(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command()(mark)
    app.command()(ready)


def mark(
    file: StandArgument,
    trees: Annotated[
        list[str] | None,
        typer.Argument(metavar="[TREE...]", help="Names or ids; without any, what is marked."),
    ] = None,
    *,
    season: SeasonOption = None,
    holes: Annotated[
        int | None,
        typer.Option("--holes", metavar="N", help="Holes in each; as the rules allow when left out."),
    ] = None,
    off: Annotated[bool, typer.Option("--off", help="Take the marks off.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Mark trees for tapping in a season, take marks off, or show what is marked and what it comes to."""
    from standmap.errors import NothingToDo, UserError
    from standmap.jobs.cautions import CHOOSING
    from standmap.jobs.clock import now
    from standmap.jobs.mark import mark_trees, marked, totals, unmark_trees
    from standmap.jobs.opening import open_stand
    from standmap.messages import Collected

    year = year_of(season)
    if not trees and (off or holes is not None):
        raise UserError("nothing says which trees", "name them")
    if off and holes is not None:
        raise UserError("--off takes no --holes", "leave one of them out")
    heard = Collected()
    with open_stand(file, read_only=not trees) as opened:
        if trees and off:
            unmark_trees(opened, trees, year, now())
        elif trees:
            mark_trees(opened, trees, year, now(), holes, heard)
        plans, stand = marked(opened, year), opened.stand()
    found = totals(stand, plans, year)
    if as_json:
        emit_json(_json(stand, plans, found, heard.cautions))
    if not trees and not found.trees:
        raise NothingToDo(f"{file.name}: no tree is marked for {year}")
    if as_json:
        return
    _show(stand, plans, found)
    for text in heard.cautions:
        TerminalMessages().caution(text)
    if trees and not off:
        for text in CHOOSING:
            note(f"caution: {text}")


def _show(stand: Stand, plans: Sequence[Plan], found: Totals) -> None:
    trees = "1 tree" if found.trees == 1 else f"{found.trees} trees"
    say(f"marked for {found.season}: {trees}, {found.taps} tap{'' if found.taps == 1 else 's'}")
    if not found.trees:
        return
    say(f"expected a night: {found.expected_l:.1f} L ({found.expected_basis})")
    say(f"a night may give {found.low_l:.1f} to {found.high_l:.1f} L ({found.spread_basis})")
    say()
    rows = [(stand.by_key[p.tree_key], p) for p in plans]
    table([("tree", "left"), ("holes", "right")], ((t.name, str(p.holes)) for t, p in rows))


def _json(stand: Stand, plans: Sequence[Plan], found: Totals, cautions: Sequence[str]) -> dict[str, object]:
    return {
        "season": found.season,
        "trees": [{"tree": stand.by_key[p.tree_key].name, "id": p.tree_key, "holes": p.holes} for p in plans],
        "totals": {
            "trees": found.trees,
            "taps": found.taps,
            "expected_l": round(found.expected_l, 3),
            "low_l": round(found.low_l, 3),
            "high_l": round(found.high_l, 3),
            "expected_basis": found.expected_basis,
            "spread_basis": found.spread_basis,
        },
        "cautions": list(cautions),
    }


def ready(
    file: StandArgument,
    name: Annotated[str, typer.Argument(metavar="TREE", help="Name or id of a tree.")],
    *,
    season: SeasonOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what would make a tree ready for a season."""
    from standmap.jobs.mark import marked
    from standmap.jobs.opening import open_stand
    from standmap.jobs.readiness import readiness
    from standmap.jobs.rule_choice import rules_of

    year = year_of(season)
    with open_stand(file, read_only=True) as opened:
        stand, plans = opened.stand(), marked(opened, year)
    tree = stand.tree(name)
    answers = readiness(stand, tree, year, rules_of(stand), plans)
    if as_json:
        told = [{"step": str(a.step), "text": a.text, "rule": a.rule, "source": a.source} for a in answers]
        emit_json({"tree": tree.name, "id": tree.key, "season": year, "answers": told})
        return
    if not answers:
        say(f"{tree.name} is ready in {year}")
    for answer in answers:
        say(answer.text)
        say(f"  {answer.rule}" + (f" · {answer.source}" if answer.source != answer.rule else ""))
