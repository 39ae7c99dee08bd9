"""The command for tape and compass: write a sight down, list them, take one out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import JsonOption, StandArgument, past_day_of
from standmap.cli.terminal import TerminalMessages, emit_json, say, table

if TYPE_CHECKING:
    from pathlib import Path

    from standmap.jobs.sights import NamedSight


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(sight)


def sight(
    file: StandArgument,
    ends: Annotated[
        list[str] | None, typer.Argument(metavar="FROM TO", help="Names of trees or places; a new TO becomes a tree.")
    ] = None,
    *,
    bearing: Annotated[str | None, typer.Option("--bearing", help="Read at FROM toward TO: 231, N45E.")] = None,
    back: Annotated[str | None, typer.Option("--back", help="Read at TO back toward FROM.")] = None,
    true: Annotated[bool, typer.Option("--true", help="Bearings are from true north, not by compass.")] = False,
    distance: Annotated[str | None, typer.Option("--distance", help="Along the slope: 12.5m, 41ft, 17 paces.")] = None,
    pace: Annotated[str | None, typer.Option("--pace", help="Length of one pace: 0.75m.")] = None,
    slope: Annotated[str | None, typer.Option("--slope", help="Degrees, up positive, or 12%.")] = None,
    toward: Annotated[str | None, typer.Option("--toward", metavar="NAME", help="Far end of a base line.")] = None,
    along: Annotated[str | None, typer.Option("--along", help="Along the base line from FROM: 4m.")] = None,
    offset: Annotated[str | None, typer.Option("--offset", help="Square to it: '2.5m right', '2.5m left'.")] = None,
    station: Annotated[bool, typer.Option("--station", help="A new TO is a mere point, no tree.")] = False,
    date: Annotated[str | None, typer.Option("--date", metavar="DATE", help="YYYY-MM-DD; today when left out.")] = None,
    remark: Annotated[str, typer.Option("--note")] = "",
    sure: Annotated[bool, typer.Option("--sure", help="A sight that looks wrong is meant.")] = False,
    listing: Annotated[bool, typer.Option("--list", help="List the sights of the stand.")] = False,
    remove: Annotated[
        list[str] | None, typer.Option("--remove", metavar="NUMBER", help="Take out: number of the list, or id.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Write down what tape and compass say from one point to another; a new far end goes onto the map."""
    if listing:
        _list(file, as_json=as_json)
        return
    if remove:
        _remove(file, remove)
        return
    from standmap.errors import UserError
    from standmap.formats.faults import Unusable
    from standmap.formats.field_cells import pace_of
    from standmap.formats.field_sheet import Reading, sight_of
    from standmap.jobs.clock import now, today
    from standmap.jobs.opening import open_stand
    from standmap.jobs.sights import add_sights
    from standmap.stand.sights import North

    if ends is None or len(ends) != 2:
        raise UserError("a sight goes from one point to another", "name both: standmap sight FILE FROM TO ...")
    cells = {
        "from": ends[0],
        "to": ends[1],
        "toward": toward,
        "bearing": bearing,
        "back_bearing": back,
        "distance": distance,
        "slope": slope,
        "along": along,
        "offset": offset,
        "date": past_day_of(date).isoformat(),
        "what": "station" if station else None,
        "note": remark,
    }
    try:
        pace_m = None if pace is None else pace_of(pace)
        reading = Reading({}, North.TRUE if true else North.MAGNETIC, pace_m)
        row = sight_of({name: cell for name, cell in cells.items() if cell}, "", reading)
    except Unusable as reason:
        raise UserError(str(reason), "nothing was written") from None
    with open_stand(file) as opened:
        looked = add_sights(opened, [row], today(), now(), anyway=sure, messages=TerminalMessages())
    for tree in looked.trees:
        say(f"added {tree.name} at {tree.at[1]:.6f} {tree.at[0]:.6f} ({tree.key})")
    for place in looked.places:
        say(f"added station {place.name} at {place.at[1]:.6f} {place.at[0]:.6f} ({place.key})")
    for taken in looked.taken:
        say(f"wrote down {taken.name}")


def _list(file: Path, *, as_json: bool) -> None:
    from standmap.errors import NothingToDo
    from standmap.jobs.opening import open_stand
    from standmap.jobs.sights import sights_of

    with open_stand(file, read_only=True) as opened:
        found = sights_of(opened)
    if as_json:
        emit_json({"sights": [_json(number, named) for number, named in enumerate(found, start=1)]})
    if not found:
        raise NothingToDo("no sight is written down")
    if as_json:
        return
    headings = [("", "right"), ("from", "left"), ("to", "left"), ("bearing", "right"), ("back", "right")]
    headings += [("distance", "right"), ("slope", "right"), ("base line", "left"), ("day", "left"), ("", "left")]
    table(headings, [_row(number, named) for number, named in enumerate(found, start=1)])


def _row(number: int, named: NamedSight) -> list[str]:
    one = named.sight
    north = "" if one.north is None else f" {one.north}"
    base = ""
    if named.toward_name is not None and one.along_m is not None and one.offset_m is not None:
        side = "right" if one.offset_m >= 0 else "left"
        base = f"toward {named.toward_name}, {one.along_m:g} m along, {abs(one.offset_m):g} m {side}"
    return [
        str(number),
        named.from_name,
        named.to_name,
        "" if one.bearing_deg is None else f"{one.bearing_deg:g}°{north}",
        "" if one.back_bearing_deg is None else f"{one.back_bearing_deg:g}°",
        "" if one.distance_m is None else f"{one.given} {one.given_unit}".strip() or f"{one.distance_m:g} m",
        f"{one.slope_deg:.1f}°" if one.slope_deg else "",
        base,
        "" if one.measured_on is None else one.measured_on.isoformat(),
        "" if one.used else "not used",
    ]


def _json(number: int, named: NamedSight) -> dict[str, object]:
    one = named.sight
    return {
        "number": number,
        "id": one.key,
        "from": named.from_name,
        "to": named.to_name,
        "toward": named.toward_name,
        "bearing_deg": one.bearing_deg,
        "back_bearing_deg": one.back_bearing_deg,
        "north": one.north,
        "declination_deg": one.declination_deg,
        "distance_m": one.distance_m,
        "given": one.given,
        "given_unit": one.given_unit,
        "slope_deg": one.slope_deg,
        "along_m": one.along_m,
        "offset_m": one.offset_m,
        "measured_on": None if one.measured_on is None else one.measured_on.isoformat(),
        "used": one.used,
        "note": one.note,
    }


def _remove(file: Path, which: list[str]) -> None:
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand
    from standmap.jobs.sights import remove_sights

    with open_stand(file) as opened:
        gone = remove_sights(opened, which, now())
    for named in gone:
        say(f"removed {named.from_name} → {named.to_name}; what it placed stays where it stands")
