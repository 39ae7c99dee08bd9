"""The command that writes down what happened: record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import DateOption, JsonOption, StandArgument, past_day_of
from standmap.cli.terminal import TerminalMessages, emit_json, note, one_line, say

if TYPE_CHECKING:
    from collections.abc import Mapping

    from standmap.formats.records_csv import FoundRecord
    from standmap.jobs.phone_back import Keep
    from standmap.jobs.record import RecordReport
    from standmap.store.stand_file import StandFile


def add_to(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command()(record)


def record(
    file: StandArgument,
    returns: Annotated[
        Path | None, typer.Argument(metavar="[RETURNS]", help="A CSV table of what happened, or what a phone saved.")
    ] = None,
    *,
    tree: Annotated[str | None, typer.Option("--tree", help="One tree, by name or id, in place of a table.")] = None,
    what: Annotated[
        str | None,
        typer.Option(
            "--what",
            help="tapped, slit, collected, taken out, plugged, left open, trimmed, looked at, seen closed, seen open.",
        ),
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
    ours: Annotated[bool, typer.Option("--ours", help="Where a phone disagrees, what is here stays.")] = False,
    theirs: Annotated[bool, typer.Option("--theirs", help="Where a phone disagrees, the phone is right.")] = False,
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
    from standmap.jobs.phone_back import Keep, is_back
    from standmap.jobs.record import record as write_down
    from standmap.jobs.record import record_file

    if (returns is None) == (tree is None):
        raise UserError("nothing says what to record", "name a table of returns, or one tree with --tree and --what")
    if ours and theirs:
        raise UserError("--ours and --theirs cannot both hold", "name one of them")
    if returns is not None and is_back(returns):
        with open_stand(file) as opened:
            _phone(opened, returns, Keep.OURS if ours else Keep.THEIRS if theirs else None, as_json=as_json)
        return
    if ours or theirs:
        raise UserError("--ours and --theirs go with what a phone saved", "leave them out for a table")
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


def _phone(opened: StandFile, returns: Path, keep: Keep | None, *, as_json: bool) -> None:
    from standmap.jobs.cautions import TAPPING
    from standmap.jobs.clock import now, today
    from standmap.jobs.phone_back import propose_back, take_back

    proposal = propose_back(opened, returns, now())
    for line in proposal.skipped:
        note(f"skipped: {one_line(line)}")
    for conflict in proposal.conflicts:
        note(f"disagrees: {one_line(conflict.line)}" + (f" ({keep} kept)" if keep is not None else ""))
    report = take_back(opened, proposal, today(), now(), keep)
    more = {
        "same": proposal.same,
        "skipped": list(proposal.skipped),
        "conflicts": [{"tree": c.tree, "what": c.what, "ours": c.ours, "theirs": c.theirs} for c in proposal.conflicts],
        "kept": None if keep is None or not proposal.conflicts else str(keep),
        "tags": [tree.name for tree in proposal.changed],
    }
    _show(report, as_json=as_json, more=more)
    if report.holes:
        for text in TAPPING:
            note(f"caution: {text}")


def _typed(texts: dict[str, str]) -> FoundRecord:
    from standmap.formats.records_csv import typed_record

    return typed_record(texts)


def _show(report: RecordReport, *, as_json: bool, more: Mapping[str, object] | None = None) -> None:
    if as_json:
        emit_json(
            {
                "lines": report.lines,
                "holes": report.holes,
                "collections": report.collections,
                "acts": report.acts,
                "cautions": list(report.cautions),
                **(more or {}),
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
