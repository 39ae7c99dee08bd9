"""Commands that put things on the map by hand: add, move, remove, and measure."""

from __future__ import annotations

from datetime import date as day
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import DateOption, StandArgument, day_of, past_day_of
from standmap.cli.terminal import TerminalMessages, say

if TYPE_CHECKING:
    from standmap.formats.quantities import Thickness
    from standmap.stand.ground import AreaKind, LineKind
    from standmap.stand.tree import LonLat

WHERE = "Latitude, then longitude, such as '60.1699 24.9384' or 60°10'11.6\"N 24°56'18.2\"E."

PositionArgument = Annotated[list[str], typer.Argument(metavar="POSITION", help=WHERE)]
PointsOption = Annotated[list[str], typer.Option("--point", metavar="POSITION", help=f"One for each point. {WHERE}")]
EpsgOption = Annotated[
    int | None, typer.Option("--epsg", metavar="CODE", help="Positions are easting and northing in this system.")
]
NameOption = Annotated[str, typer.Option("--name", help="What it is called.")]
NoteOption = Annotated[str, typer.Option("--note")]
SureOption = Annotated[bool, typer.Option("--sure", help="A position that looks wrong is meant.")]
GirthOption = Annotated[str | None, typer.Option("--girth", metavar="NUMBER")]
DiameterOption = Annotated[str | None, typer.Option("--diameter", metavar="NUMBER", help="In place of a girth.")]
UnitOption = Annotated[str, typer.Option("--unit", help="mm, cm, m, in or ft.")]

add = typer.Typer(help="Put a tree, a place, a line or an area on the map by hand.", rich_markup_mode=None)


def add_to(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.add_typer(add, name="add")
    for command in (move, change, remove, measure):
        app.command(context_settings={"ignore_unknown_options": command is move})(command)


def _at(words: list[str], epsg: int | None) -> LonLat:
    from standmap.jobs.typed_position import typed_position

    return typed_position(" ".join(words), epsg)


def _thickness(girth: str | None, diameter: str | None) -> tuple[Thickness, str] | None:
    from standmap.errors import UserError
    from standmap.formats.quantities import Thickness

    if girth is not None and diameter is not None:
        raise UserError("a girth and a diameter are given", "give the one that was measured")
    if girth is not None:
        return Thickness.GIRTH, girth
    return None if diameter is None else (Thickness.DIAMETER, diameter)


@add.command(context_settings={"ignore_unknown_options": True})
def tree(
    file: StandArgument,
    position: PositionArgument,
    *,
    name: Annotated[str | None, typer.Option("--name", help="The next free one when left out.")] = None,
    species: Annotated[str | None, typer.Option("--species", help="Such as Betula pendula.")] = None,
    girth: GirthOption = None,
    diameter: DiameterOption = None,
    unit: UnitOption = "mm",
    date: DateOption = None,
    remark: NoteOption = "",
    epsg: EpsgOption = None,
    sure: SureOption = False,
) -> None:
    """Put a tree where you say it stands; no later walk moves it."""
    from standmap.jobs.clock import now, today
    from standmap.jobs.opening import open_stand
    from standmap.jobs.trees_by_hand import TypedGirth, add_tree

    measured = _thickness(girth, diameter)
    typed = None if measured is None else TypedGirth(measured[1], unit, past_day_of(date), measured[0])
    with open_stand(file) as opened:
        made = add_tree(
            opened,
            name,
            _at(position, epsg),
            today(),
            now(),
            species=species,
            girth=typed,
            note=remark,
            sure=sure,
            messages=TerminalMessages(),
        )
    say(f"added {made.name} at {made.at[1]:.6f} {made.at[0]:.6f} ({made.key})")


@add.command(context_settings={"ignore_unknown_options": True})
def place(
    file: StandArgument,
    position: PositionArgument,
    *,
    kind: Annotated[str, typer.Option("--kind", help="gate, tank, landmark, hazard, bridge or ford.")] = "landmark",
    name: NameOption = "",
    remark: NoteOption = "",
    epsg: EpsgOption = None,
    sure: SureOption = False,
) -> None:
    """Put a place on the map; a bridge or ford goes onto the stream beside it."""
    from standmap.errors import UserError
    from standmap.jobs.clock import now
    from standmap.jobs.ground_by_hand import add_place, called
    from standmap.jobs.opening import open_stand
    from standmap.stand.ground import PlaceKind

    if kind not in list(PlaceKind):
        raise UserError(f"'{kind[:40]}' is no kind of place", f"use one of {', '.join(PlaceKind)}")
    with open_stand(file) as opened:
        made = add_place(
            opened,
            PlaceKind(kind),
            _at(position, epsg),
            now(),
            name=name,
            note=remark,
            sure=sure,
            messages=TerminalMessages(),
        )
    say(f"added {called(made)} at {made.at[1]:.6f} {made.at[0]:.6f} ({made.key})")


def _line(
    file: StandArgument, kind: LineKind, points: list[str], name: str, remark: str, epsg: int | None, *, sure: bool
) -> None:
    from standmap.jobs.clock import now
    from standmap.jobs.ground_by_hand import add_line, called
    from standmap.jobs.opening import open_stand

    course = [_at([text], epsg) for text in points]
    with open_stand(file) as opened:
        made = add_line(opened, kind, course, now(), name=name, note=remark, sure=sure)
    say(f"added {called(made)} of {len(made.course)} points ({made.key})")


@add.command()
def path(
    file: StandArgument,
    *,
    point: PointsOption,
    name: NameOption = "",
    remark: NoteOption = "",
    epsg: EpsgOption = None,
    sure: SureOption = False,
) -> None:
    """Draw a path to walk along."""
    from standmap.stand.ground import LineKind

    _line(file, LineKind.PATH, point, name, remark, epsg, sure=sure)


@add.command()
def stream(
    file: StandArgument,
    *,
    point: PointsOption,
    name: NameOption = "",
    remark: NoteOption = "",
    epsg: EpsgOption = None,
    sure: SureOption = False,
) -> None:
    """Draw a stream, to be crossed at bridges and fords."""
    from standmap.stand.ground import LineKind

    _line(file, LineKind.STREAM, point, name, remark, epsg, sure=sure)


@add.command()
def fence(
    file: StandArgument,
    *,
    point: PointsOption,
    name: NameOption = "",
    remark: NoteOption = "",
    epsg: EpsgOption = None,
    sure: SureOption = False,
) -> None:
    """Draw a fence."""
    from standmap.stand.ground import LineKind

    _line(file, LineKind.FENCE, point, name, remark, epsg, sure=sure)


@add.command()
def area(
    file: StandArgument,
    *,
    point: PointsOption,
    no_go: Annotated[
        bool, typer.Option("--no-go/--permitted", help="Whether it takes permission or gives it.")
    ] = False,
    name: NameOption = "",
    owner: Annotated[str, typer.Option("--owner", help="Whose ground it is.")] = "",
    from_date: Annotated[
        str | None, typer.Option("--from", metavar="DATE", help="First day of the permission.")
    ] = None,
    until_date: Annotated[str | None, typer.Option("--until", metavar="DATE", help="Last day permitted.")] = None,
    limit: Annotated[
        int | None,
        typer.Option("--limit", metavar="TREES", help="How many trees the owner lets give in a season."),
    ] = None,
    remark: NoteOption = "",
    epsg: EpsgOption = None,
    sure: SureOption = False,
) -> None:
    """Draw where tapping is permitted, or where nobody goes."""
    from standmap.jobs.clock import now
    from standmap.jobs.ground_by_hand import Permission, add_area, called
    from standmap.jobs.opening import open_stand

    said = Permission(owner, _maybe_day(from_date), _maybe_day(until_date), limit)
    outline = [_at([text], epsg) for text in point]
    with open_stand(file) as opened:
        made = add_area(
            opened, _area_kind(no_go=no_go), outline, now(), name=name, permission=said, note=remark, sure=sure
        )
    say(f"added {called(made)} of {len(made.outline[0]) - 1} corners ({made.key})")


def _area_kind(*, no_go: bool) -> AreaKind:
    from standmap.stand.ground import AreaKind

    return AreaKind.NO_GO if no_go else AreaKind.PERMITTED


def _maybe_day(text: str | None) -> day | None:
    return None if text is None else day_of(text)


def move(
    file: StandArgument,
    tree: Annotated[str, typer.Argument(metavar="TREE", help="Name or id of a tree.")],
    position: PositionArgument,
    *,
    date: DateOption = None,
    epsg: EpsgOption = None,
    sure: SureOption = False,
) -> None:
    """Move a tree on purpose; no later walk moves it again."""
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand
    from standmap.jobs.trees_by_hand import move_tree

    with open_stand(file) as opened:
        moved = move_tree(
            opened, tree, _at(position, epsg), past_day_of(date), now(), sure=sure, messages=TerminalMessages()
        )
    say(f"{moved.name} now stands at {moved.at[1]:.6f} {moved.at[0]:.6f}")


def change(
    file: StandArgument,
    thing: Annotated[str, typer.Argument(metavar="NAME", help="Name or id of a place, a line or an area.")],
    *,
    point: Annotated[
        list[str] | None,
        typer.Option("--point", metavar="POSITION", help=f"All its points anew, one for each. {WHERE}"),
    ] = None,
    kind: Annotated[
        str | None, typer.Option("--kind", help="Another kind of its shape: such as stream for a path.")
    ] = None,
    name: Annotated[str | None, typer.Option("--name", help="What it is called; '' for nothing.")] = None,
    owner: Annotated[str | None, typer.Option("--owner", help="Whose ground it is.")] = None,
    from_date: Annotated[
        str | None, typer.Option("--from", metavar="DATE", help="First day of the permission; '' for none.")
    ] = None,
    until_date: Annotated[
        str | None, typer.Option("--until", metavar="DATE", help="Last day permitted; '' for none.")
    ] = None,
    limit: Annotated[
        int | None, typer.Option("--limit", metavar="TREES", min=-1, help="Trees a season; -1 for no limit.")
    ] = None,
    remark: Annotated[str | None, typer.Option("--note")] = None,
    epsg: EpsgOption = None,
    sure: SureOption = False,
) -> None:
    """Change a place, a line or an area; what is not given stays."""
    from standmap.jobs.clock import now
    from standmap.jobs.ground_by_hand import called
    from standmap.jobs.ground_change import GroundChange, change_ground
    from standmap.jobs.opening import open_stand

    permission: dict[str, object] = {} if owner is None else {"owner": owner}
    for field, text in (("from_date", from_date), ("until_date", until_date)):
        if text is not None:
            permission[field] = _maybe_day(text or None)
    if limit is not None:
        permission["most_trees"] = None if limit < 0 else limit
    points = tuple(_at([text], epsg) for text in point) if point else None
    wanted = GroundChange(kind, points, name, remark, permission)
    with open_stand(file) as opened:
        made = change_ground(opened, thing, wanted, now(), sure=sure, messages=TerminalMessages())
    say(f"changed {called(made)} ({made.key})")


def remove(
    file: StandArgument,
    thing: Annotated[str, typer.Argument(metavar="NAME", help="Name or id of a place, a line or an area.")],
) -> None:
    """Take a place, a line or an area off the map; 'standmap undo' brings it back."""
    from standmap.jobs.clock import now
    from standmap.jobs.ground_by_hand import called, remove_ground
    from standmap.jobs.opening import open_stand

    with open_stand(file) as opened:
        say(f"removed {called(remove_ground(opened, thing, now()))}; 'standmap undo' brings it back")


def measure(
    file: StandArgument,
    tree: Annotated[str, typer.Argument(metavar="TREE", help="Name or id of a tree.")],
    *,
    girth: GirthOption = None,
    diameter: DiameterOption = None,
    unit: UnitOption = "mm",
    height_mm: Annotated[
        float | None, typer.Option("--height-mm", metavar="MM", help="Above ground; 1300 when left out.")
    ] = None,
    date: DateOption = None,
    remark: NoteOption = "",
) -> None:
    """Write down the girth or the diameter of a tree."""
    from standmap.errors import UserError
    from standmap.jobs import measure as jobs
    from standmap.jobs.clock import now, today
    from standmap.jobs.opening import open_stand
    from standmap.stand.tree import BREAST_HEIGHT_MM

    found = _thickness(girth, diameter)
    if found is None:
        raise UserError("nothing says how thick it is", "give --girth or --diameter")
    thickness, text = found
    with open_stand(file) as opened:
        made = jobs.measure(
            opened,
            tree,
            thickness,
            text,
            unit,
            past_day_of(date),
            today(),
            now(),
            at_height_mm=BREAST_HEIGHT_MM if height_mm is None else height_mm,
            note=remark,
            messages=TerminalMessages(),
        )
    say(f"written down: {thickness} {made.given} {made.given_unit}, a girth of {made.girth():.0f} mm")
