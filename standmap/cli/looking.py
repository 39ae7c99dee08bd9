"""Commands about the map itself: where a point is, how far it is, what lies under the map, and a picture of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import DateOption, JsonOption, StandArgument, day_of
from standmap.cli.terminal import emit_json, note, say, table

if TYPE_CHECKING:
    from standmap.jobs.where import Where
    from standmap.survey.coordinates import GridPosition

POINT = "A tree or a place by its name, or a position such as '62.601 29.7636', latitude first."


def add_to(app: typer.Typer) -> None:
    """Add the commands of this file."""
    numbers = {"ignore_unknown_options": True}  # a southern latitude begins with a minus
    app.command(context_settings=numbers)(where)
    app.command(context_settings=numbers)(distance)
    app.command()(backdrop)


def where(
    file: StandArgument,
    point: Annotated[list[str], typer.Argument(metavar="POINT", help=POINT)],
    *,
    grid: Annotated[
        str | None, typer.Option("--grid", metavar="EPSG", help="A national grid, such as EPSG:3067.")
    ] = None,
    date: DateOption = None,
    as_json: JsonOption = False,
) -> None:
    """Tell where a tree or a point is: degrees, UTM, a national grid, and where a compass points there."""
    from standmap.jobs.opening import open_stand
    from standmap.jobs.where import point_of
    from standmap.jobs.where import where as where_is
    from standmap.survey.coordinates import grid_number

    number = None if grid is None else grid_number(grid)
    with open_stand(file, read_only=True) as opened:
        stand = opened.stand()
    found = where_is(point_of(stand, " ".join(point)), day_of(date), number)
    if as_json:
        emit_json(_where_json(found))
        return
    say(f"WGS 84  {found.decimal}")
    say(f"        {found.sexagesimal}")
    for position in (found.utm, found.grid):
        if position is not None:
            say(f"{position.grid} ({position.code})  {position.text}" + _unit(position))
            if position.caution:
                note(f"caution: {position.code}: {position.caution}")
    say(found.north_text + (f" ({found.north_footing})" if found.north_footing else ""))


def _unit(position: GridPosition) -> str:
    return "" if position.unit == "m" else f" {position.unit}"


def _where_json(found: Where) -> dict[str, object]:
    north = found.north
    return {
        "lon": found.lon,
        "lat": found.lat,
        "sexagesimal": found.sexagesimal,
        "utm": _grid_json(found.utm),
        "grid": _grid_json(found.grid),
        "north": None
        if north is None
        else {
            "declination_deg": round(north.deg, 2),
            "within_deg": round(north.within_deg, 2),
            "date": north.day.isoformat(),
            "model": north.model,
            "holds_until": f"{north.until_year - 1}-12-31",
        },
    }


def _grid_json(position: GridPosition | None) -> dict[str, object] | None:
    if position is None:
        return None
    return {
        "name": position.grid,
        "code": position.code,
        position.x_name: round(position.x, 3),
        position.y_name: round(position.y, 3),
        "unit": position.unit,
        "approximate": position.approximate,
        "accuracy_m": position.accuracy_m,
        "inside": position.inside,
    }


def distance(
    file: StandArgument,
    points: Annotated[list[str], typer.Argument(metavar="POINT...", help=f"Two or more. {POINT}")],
    *,
    area: Annotated[bool, typer.Option("--area", help="The points are the corners of an area.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Tell how far it is from point to point, or how large the area between them is."""
    from standmap.jobs.opening import open_stand
    from standmap.jobs.where import points_of
    from standmap.survey import measuring

    with open_stand(file, read_only=True) as opened:
        places = points_of(opened.stand(), points)
    if area:
        found = measuring.area(places)
        size = None if found.crosses_itself else round(found.area_m2, 2)
        if as_json:
            emit_json({"area_m2": size, "perimeter_m": round(found.perimeter_m, 3)})
        else:
            say("the outline crosses itself: it has no area" if size is None else f"area {_area_text(size)}")
            say(f"round it {found.perimeter_m:.1f} m")
        return
    line = measuring.line(places)
    if as_json:
        legs = [
            {"length_m": round(leg, 3), "bearing_true_deg": round(bearing, 2)}
            for leg, bearing in zip(line.legs_m, line.bearings_deg, strict=True)
        ]
        emit_json({"length_m": round(line.length_m, 3), "legs": legs})
        return
    table(
        [("from", "left"), ("to", "left"), ("length", "right"), ("true", "right")],
        (
            (a, b, f"{leg:.1f} m", f"{bearing % 360:05.1f}°")
            for a, b, leg, bearing in zip(points[:-1], points[1:], line.legs_m, line.bearings_deg, strict=True)
        ),
    )
    if len(line.legs_m) > 1:
        say(f"altogether {line.length_m:.1f} m")


def _area_text(m2: float) -> str:
    return f"{m2:.0f} m²" if m2 < 10_000 else f"{m2 / 10_000:.2f} ha"


def backdrop(
    file: StandArgument,
    picture: Annotated[
        Path | None,
        typer.Argument(metavar="[PICTURE]", help="A GeoTIFF, or tiles in an MBTiles or GeoPackage file."),
    ] = None,
    *,
    off: Annotated[bool, typer.Option("--off", help="Take the backdrop away.")] = False,
    kind: Annotated[
        str | None,
        typer.Option("--as", metavar="KIND", help="picture, or terrain for hill shade; told by its content."),
    ] = None,
    name: Annotated[str, typer.Option("--table", metavar="NAME", help="Which of several pictures in the file.")] = "",
    crs: Annotated[
        str | None, typer.Option("--crs", metavar="EPSG", help="Its reference system, if the file does not say.")
    ] = None,
    attribution: Annotated[
        str | None, typer.Option("--attribution", metavar="TEXT", help="Whom it is from; shown on the map.")
    ] = None,
    strength: Annotated[
        float | None, typer.Option("--strength", metavar="NUMBER", help="0 (not seen) to 1 (as it is).")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Lay a picture of the ground or a terrain under the map, change how it is shown, or take it away."""
    from standmap.errors import NothingToDo, UserError
    from standmap.jobs import backdrop as job
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand

    if off and picture is not None:
        raise UserError("--off takes away what is there", "leave the picture out")
    changing = off or picture is not None or attribution is not None or strength is not None
    with open_stand(file, read_only=not changing) as opened:
        if off:
            gone = job.take_backdrop_off(opened, now())
            say(f"took {gone.name} away; the file itself is left where it is")
            return
        if picture is not None:
            wanted = job.STRENGTH if strength is None else strength
            shown = job.choose_backdrop(
                opened, picture, now(), table=name, kind=kind, crs=crs, attribution=attribution, strength=wanted
            )
        elif changing:
            shown = job.change_backdrop(opened, now(), attribution=attribution, strength=strength)
        else:
            kept = job.backdrop_of(opened.stand(), opened.path)
            if kept is None:
                raise NothingToDo(f"{file.name}: there is no backdrop")
            shown = kept
    if as_json:
        emit_json(
            {
                "file": str(shown.path),
                "kind": shown.kind,
                "attribution": shown.attribution,
                "strength": shown.strength,
            }
        )
        return
    say(f"{shown.kind} {shown.path}, strength {shown.strength:g}")
    say(f"from: {shown.attribution}" if shown.attribution else "from: not known")
    if not shown.attribution:
        note("caution: say whom it is from with --attribution, and look whether you may use it")
