"""Commands that put things right: confirm, and correct with its several kinds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import DateOption, StandArgument, past_day_of, year_of
from standmap.cli.terminal import say

if TYPE_CHECKING:
    from collections.abc import Callable

    from standmap.jobs.correct import Corrected
    from standmap.store.stand_file import StandFile

TreeArgument = Annotated[str, typer.Argument(metavar="TREE", help="Name or id.")]
TreesArgument = Annotated[list[str], typer.Argument(metavar="TREE...", help="Names or ids.")]

correct = typer.Typer(
    help="Put right what was written down wrongly; each correction is kept as history.", rich_markup_mode=None
)


def add_to(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command()(confirm)
    app.add_typer(correct, name="correct")


def _do(file: StandArgument, job: Callable[[StandFile], Corrected]) -> None:
    from standmap.jobs.opening import open_stand

    with open_stand(file) as opened:
        say(job(opened).text)


def confirm(
    file: StandArgument,
    trees: Annotated[list[str] | None, typer.Argument(metavar="[TREE...]", help="Names or ids.")] = None,
    *,
    everyone: Annotated[bool, typer.Option("--all", help="All proposed trees.")] = False,
    tag: Annotated[bool, typer.Option("--tag", help="The tag on the stem was read and is right.")] = False,
) -> None:
    """Confirm trees that a walk proposed, or that a tag was read."""
    from standmap.errors import UserError
    from standmap.jobs import correct as jobs
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand

    if bool(trees) == everyone:
        raise UserError("nothing says which trees", "name them, or give --all")
    with open_stand(file) as opened:
        if tag:
            names = [t.key for t in opened.stand().present] if everyone else trees or []
            say(jobs.confirm_tag(opened, names, now()).text)
        else:
            found = jobs.confirm(opened, trees or [], now(), everyone=everyone)
            say(f"confirmed: {', '.join(t.name for t in found)}")


@correct.command()
def felled(file: StandArgument, tree: TreeArgument, *, date: DateOption = None) -> None:
    """Note that a tree was felled."""
    from standmap.jobs import correct as jobs
    from standmap.jobs.clock import now

    _do(file, lambda opened: jobs.fell(opened, tree, past_day_of(date), now()))


@correct.command()
def dead(file: StandArgument, tree: TreeArgument, *, date: DateOption = None) -> None:
    """Note that a tree has died."""
    from standmap.jobs import correct as jobs
    from standmap.jobs.clock import now

    _do(file, lambda opened: jobs.died(opened, tree, past_day_of(date), now()))


@correct.command("re-tag")
def retag(
    file: StandArgument,
    tree: TreeArgument,
    name: Annotated[str, typer.Argument(metavar="NAME", help="What the tag says now.")],
    *,
    date: DateOption = None,
) -> None:
    """Give a tree another name."""
    from standmap.jobs import correct as jobs
    from standmap.jobs.clock import now

    _do(file, lambda opened: jobs.retag(opened, tree, name, past_day_of(date), now()))


@correct.command()
def merge(
    file: StandArgument,
    tree: TreeArgument,
    into: Annotated[str, typer.Argument(metavar="INTO", help="The tree that it really is.")],
    *,
    date: DateOption = None,
) -> None:
    """Make two entries of one tree into one."""
    from standmap.jobs import correct as jobs
    from standmap.jobs.clock import now

    _do(file, lambda opened: jobs.merge(opened, tree, into, past_day_of(date), now()))


@correct.command("move-record")
def move_record(
    file: StandArgument,
    wrong: Annotated[str, typer.Argument(metavar="TREE", help="The tree that has the record.")],
    right: Annotated[str, typer.Argument(metavar="TO", help="The tree that it belongs to.")],
    *,
    season: Annotated[str | None, typer.Option("--season", metavar="YEAR", help="A hole: its year.")] = None,
    measured: Annotated[
        str | None, typer.Option("--measured", metavar="DATE", help="A measurement: its day, or 'undated'.")
    ] = None,
    seen: Annotated[
        str | None, typer.Option("--seen", metavar="DATE", help="What was seen at the tree: its day.")
    ] = None,
    hole: Annotated[
        int | None, typer.Option("--hole", metavar="N", help="Number of the hole, if there were several.")
    ] = None,
    nth: Annotated[int | None, typer.Option("--nth", metavar="N", help="Which of that day, if several.")] = None,
    date: DateOption = None,
) -> None:
    """Give a hole with its collections, a measurement, or what was seen to the tree it belongs to."""
    from standmap.errors import UserError
    from standmap.jobs import correct as jobs
    from standmap.jobs import moving_records as moving
    from standmap.jobs.clock import now

    if [season, measured, seen].count(None) != 2:
        raise UserError("nothing says which record", "give one of --season, --measured and --seen")
    on = past_day_of(date)

    def move(opened: StandFile) -> Corrected:
        if season is not None:
            return jobs.move_record(opened, wrong, right, year_of(season), hole, on, now())
        if seen is not None:
            return moving.move_look(opened, wrong, right, past_day_of(seen), nth, on, now())
        day = None if measured == "undated" else past_day_of(measured)
        return moving.move_measurement(opened, wrong, right, day, nth, on, now())

    _do(file, move)


@correct.command()
def rootstock(
    file: StandArgument,
    trees: TreesArgument,
    *,
    apart: Annotated[bool, typer.Option("--apart", help="They grow from roots of their own after all.")] = False,
) -> None:
    """Note that stems grow from one root and rest together."""
    from standmap.jobs import correct as jobs
    from standmap.jobs.clock import now

    _do(file, lambda opened: jobs.share_rootstock(opened, trees, now(), apart=apart))


@correct.command()
def species(
    file: StandArgument,
    trees: TreesArgument,
    *,
    name: Annotated[str, typer.Option("--is", metavar="SPECIES", help="Such as Betula pendula.")],
) -> None:
    """Note the species of trees."""
    from standmap.jobs import correct as jobs
    from standmap.jobs.clock import now

    _do(file, lambda opened: jobs.set_species(opened, trees, name, now()))


@correct.command()
def soundness(
    file: StandArgument,
    trees: TreesArgument,
    *,
    unsound: Annotated[bool, typer.Option("--unsound/--sound", help="What you saw when you looked it over.")],
) -> None:
    """Note whether trees are sound."""
    from standmap.jobs import correct as jobs
    from standmap.jobs.clock import now
    from standmap.stand.tree import Soundness

    seen = Soundness.UNSOUND if unsound else Soundness.SOUND
    _do(file, lambda opened: jobs.set_soundness(opened, trees, seen, now()))
