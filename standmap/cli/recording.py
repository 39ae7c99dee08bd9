"""The command that writes down what happened: record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import DateOption, JsonOption, StandArgument, past_day_of
from standmap.cli.terminal import TerminalMessages, emit_json, note, say

if TYPE_CHECKING:
    from standmap.formats.records_csv import FoundRecord
    from standmap.jobs.record import RecordReport


def add_to(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command()(record)


def record(
    file: StandArgument,
    returns: Annotated[Path | None, typer.Argument(metavar="[RETURNS]", help="A CSV table of what happened.")] = None,
    *,
    tree: Annotated[str | None, typer.Option("--tree", help="One tree, by name or id, in place of a table.")] = None,
    what: Annotated[
        str | None,
        typer.Option("--what", help="tapped, slit, collected, taken out, plugged, left open, trimmed or looked at."),
    ] = None,
    date: DateOption = None,
    time: Annotated[str | None, typer.Option("--time", metavar="HH:MM")] = None,
    hole: Annotated[str | None, typer.Option("--hole", help="Number of the hole, if two are open.")] = None,
    litres: Annotated[str | None, typer.Option("--litres")] = None,
    overflowed: Annotated[
        bool, typer.Option("--overflowed", help="The vessel had run over: at least these litres.")
    ] = False,
    height_cm: Annotated[str | None, typer.Option("--height-cm", help="Above ground.")] = None,
    side_deg: Annotated[
        str | None, typer.Option("--side-deg", help="Side of the stem, clockwise from true north.")
    ] = None,
    depth_mm: Annotated[str | None, typer.Option("--depth-mm", help="In the wood, below the bark.")] = None,
    bit_mm: Annotated[str | None, typer.Option("--bit-mm", help="Width of the bit.")] = None,
    remark: Annotated[str | None, typer.Option("--note")] = None,
    as_json: JsonOption = False,
) -> None:
    """Write down what was done and collected: one tree, or many from a table, all of it or none.

    A table has the columns tree, date and what, and may have hole, time, litres, overflowed, height_cm, side_deg,
    depth_mm, bit_mm and note. Collected lines without litres share out one total: give them the same 'trip', and one
    'trip_litres'.
    """
    from standmap.errors import UserError
    from standmap.jobs.cautions import TAPPING
    from standmap.jobs.clock import now, today
    from standmap.jobs.opening import open_stand
    from standmap.jobs.record import record as write_down
    from standmap.jobs.record import record_file

    if (returns is None) == (tree is None):
        raise UserError("nothing says what to record", "name a table of returns, or one tree with --tree and --what")
    with open_stand(file) as opened:
        if returns is not None:
            report = record_file(opened, returns, today(), now(), TerminalMessages())
        else:
            if what is None:
                raise UserError("--tree needs --what", "say what was done, such as --what tapped")
            texts = {
                "tree": tree or "",
                "hole": hole or "",
                "date": past_day_of(date).isoformat(),
                "time": time or "",
                "what": what,
                "litres": litres or "",
                "overflowed": "yes" if overflowed else "",
                "height_cm": height_cm or "",
                "side_deg": side_deg or "",
                "depth_mm": depth_mm or "",
                "bit_mm": bit_mm or "",
                "note": remark or "",
            }
            report = write_down(opened, [_typed(texts)], today(), now())
    _show(report, as_json=as_json)
    if report.holes:
        for text in TAPPING:
            note(f"caution: {text}")


def _typed(texts: dict[str, str]) -> FoundRecord:
    from standmap.formats.records_csv import typed_record

    return typed_record(texts)


def _show(report: RecordReport, *, as_json: bool) -> None:
    if as_json:
        emit_json(
            {
                "lines": report.lines,
                "holes": report.holes,
                "collections": report.collections,
                "acts": report.acts,
                "cautions": list(report.cautions),
            }
        )
    elif not report.known:
        parts = (
            (report.holes, "hole or slit", "holes and slits"),
            (report.collections, "collection", "collections"),
            (report.acts, "other entry", "other entries"),
        )
        say(
            "written down: " + (", ".join(f"{n} {one if n == 1 else many}" for n, one, many in parts if n) or "nothing")
        )
    for text in report.cautions:
        note(f"WARNING: {text}")
