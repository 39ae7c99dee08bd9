"""Commands about the file itself: new, bring, export, undo, redo, log."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.brought import report_json, show_report
from standmap.cli.merging import copy_among, merge
from standmap.cli.options import JsonOption, StandArgument, clock_of
from standmap.cli.terminal import TerminalMessages, emit_json, note, say, stoppable, table

if TYPE_CHECKING:
    from standmap.jobs.bring import BringOptions


def add_to(app: typer.Typer) -> None:
    """Add the commands of this file."""
    for command in (new, bring, export, undo, redo, log):
        app.command()(command)


def new(file: StandArgument) -> None:
    """Make an empty stand."""
    from standmap.jobs.opening import new_stand

    new_stand(file)
    say(f"made {file.name}: next, 'standmap bring {file.name} WALK.gpx'")


def bring(
    file: StandArgument,
    sources: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="SOURCE...",
            help="GPX, GeoJSON, NMEA, CSV, weather or picture files; or one other copy of this stand, to merge it.",
            show_default=False,
        ),
    ] = None,
    *,
    crs: Annotated[str | None, typer.Option(help="Reference system of x and y columns, such as EPSG:3067.")] = None,
    anyway: Annotated[bool, typer.Option("--anyway", help="Take positions that look wrong.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would happen; write nothing.")] = False,
    review: Annotated[
        Path | None,
        typer.Option(metavar="OUT.json", help="Write what each thing would become, to decide it; store nothing."),
    ] = None,
    decide: Annotated[
        Path | None, typer.Option(metavar="OUT.json", help="Store what a review names, as it was decided there.")
    ] = None,
    theirs: Annotated[
        bool, typer.Option("--theirs", help="Where both copies changed the same, take what the other has.")
    ] = False,
    ours: Annotated[
        bool, typer.Option("--ours", help="Where both copies changed the same, keep what is here.")
    ] = False,
    notes_zone: Annotated[
        str | None,
        typer.Option(
            "--notes-zone", metavar="ZONE", help="Zone of notes and pictures whose times name none, such as +02:00."
        ),
    ] = None,
    clock_offset: Annotated[
        str | None,
        typer.Option(
            "--clock-offset",
            metavar="TIME",
            help="How far the clock of notes and pictures was ahead: 75s, -2m30s, 1h.",
        ),
    ] = None,
    date: Annotated[
        str | None,
        typer.Option("--date", metavar="DAY", help="Day of an NMEA log that does not tell it, such as 2026-03-20."),
    ] = None,
    pace_m: Annotated[
        float | None,
        typer.Option("--pace-m", metavar="METRES", help="Length of a pace, for field sheets that do not tell it."),
    ] = None,
    station: Annotated[
        str | None,
        typer.Option("--station", metavar="ID", help="Whose weather, of a file of several stations."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Bring GPS walks, notes, pictures, trees, measurements, ground and weather into a stand: all of it, or none."""
    from standmap.jobs.bring import BringOptions, NothingToBring
    from standmap.jobs.bring import bring as bring_in
    from standmap.jobs.bring_report import checked_pace_m, day_of
    from standmap.jobs.clock import now, today
    from standmap.jobs.opening import open_stand

    told = any(one is not None for one in (notes_zone, clock_offset, date, pace_m, station))
    _check_ways(sources, review, decide, plain=not (crs or anyway or dry_run or theirs or ours or told))
    if decide is not None:
        _store_decided(file, decide, as_json=as_json)
        return
    sources = sources or []
    plain = not (crs or anyway or review or told)
    other = copy_among(sources, theirs=theirs, ours=ours, plain=plain)
    if other is not None:
        merge(file, other, theirs=theirs, ours=ours, dry_run=dry_run, as_json=as_json)
        return
    options = BringOptions(
        crs,
        anyway,
        dry_run,
        clock_of(notes_zone, clock_offset),
        None if date is None else day_of(date, today()),
        None if pace_m is None else checked_pace_m(pace_m),
        station,
    )
    if review is not None:
        _write_review(file, sources, options, review, as_json=as_json)
        return
    with open_stand(file) as stand, stoppable() as progress:
        try:
            report = bring_in(stand, sources, options, now(), TerminalMessages(), progress)
        except NothingToBring as nothing:
            if as_json:
                emit_json(report_json(nothing.report))
            raise
    if as_json:
        emit_json(report_json(report))
    else:
        show_report(report)


def _check_ways(sources: list[Path] | None, review: Path | None, decide: Path | None, *, plain: bool) -> None:
    """Refuse what does not go together."""
    from standmap.errors import UserError

    if decide is None and not sources:
        raise UserError(
            "no file is named",
            "name walks, tables, logs, pictures or GeoJSON files, another copy, or a review with --decide",
        )
    if decide is not None and (sources or review or not plain):
        raise UserError("--decide takes its files and options from the review", "give it alone")


def _write_review(file: Path, sources: list[Path], options: BringOptions, out: Path, *, as_json: bool) -> None:
    """Write what the files would bring, and store nothing."""
    import json

    from standmap.errors import UserError
    from standmap.jobs.bring_review_file import review_json
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand
    from standmap.jobs.review import propose

    if out.exists():
        raise UserError(f"{out.name}: the file is there already", "choose another name")
    with open_stand(file, read_only=True) as stand, stoppable() as progress:
        proposal = propose(stand, sources, options, now(), TerminalMessages(), progress)
    held = review_json(proposal, file.absolute())
    try:
        out.write_text(json.dumps(held, indent=1, allow_nan=False) + "\n", encoding="utf-8")
    except OSError as error:
        raise UserError(
            f"{out.name}: cannot be written ({error.strerror})", "check the folder and its rights"
        ) from None
    if as_json:
        emit_json(held)
        return
    say(", ".join(f"{n} {fate}" for fate, n in proposal.counts.items()))
    say(f"next, decide in {out.name}, then 'standmap bring {file.name} --decide {out.name}'")


def _store_decided(file: Path, decided: Path, *, as_json: bool) -> None:
    """Store what a review names, as it was decided there."""
    from standmap.jobs.bring_review_file import read_decided
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand
    from standmap.jobs.review import propose, store

    wanted = read_decided(decided)
    with open_stand(file) as stand, stoppable() as progress:
        proposal = propose(stand, wanted.paths, wanted.options, now(), None, progress)
        wanted.check(proposal)
        report = store(stand, proposal, wanted.decisions, now(), TerminalMessages(), progress)
    if as_json:
        emit_json(report_json(report))
    else:
        show_report(report)


def export(
    file: StandArgument,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for the files; made if need be.")],
    *,
    what: Annotated[
        list[str] | None,
        typer.Option("--only", metavar="KIND", help="geojson, csv, records, gpx, weather or signs; all when left out."),
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Write over files that are there already.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Hand the stand on as GeoJSON, CSV and GPX."""
    from standmap.errors import NothingToDo
    from standmap.jobs.export import export as hand_on
    from standmap.jobs.opening import open_stand

    with open_stand(file, read_only=True) as opened:
        stand = opened.stand()
        try:
            paths = hand_on(stand, out, what=what or (), replace=replace)
        except NothingToDo:
            if as_json:
                emit_json({"files": []})
            raise
    if as_json:
        emit_json({"files": [str(p) for p in paths]})
    else:
        for path in paths:
            say(str(path))
    if stand.terrain is not None:
        note("the heights of the ground are in none of them: they stay in the stand's own file")


def undo(
    file: StandArgument,
    step: Annotated[
        int | None, typer.Option("--step", metavar="N", help="A step of the log; the latest when left out.")
    ] = None,
) -> None:
    """Take back the latest edit."""
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand
    from standmap.jobs.taking_back import undo as take_back

    with open_stand(file) as stand:
        for event in take_back(stand, now(), step):
            say(f"taken back: {event.label}")


def redo(file: StandArgument) -> None:
    """Do again what was taken back last."""
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand
    from standmap.jobs.taking_back import redo as do_again

    with open_stand(file) as stand:
        for event in do_again(stand, now()):
            say(f"done again: {event.label}")


def log(file: StandArgument, *, as_json: JsonOption = False) -> None:
    """List every step taken in a stand."""
    from standmap.jobs.opening import open_stand
    from standmap.jobs.taking_back import log as steps

    with open_stand(file, read_only=True) as stand:
        events = steps(stand)
    if as_json:
        emit_json(
            {
                "steps": [
                    {"step": e.number, "at": e.at.isoformat(), "kind": e.kind, "label": e.label, "in_force": e.standing}
                    for e in events
                ]
            }
        )
        return
    table(
        [("step", "right"), ("when", "left"), ("what", "left"), ("", "left")],
        (
            (
                str(e.number),
                e.at.strftime("%Y-%m-%d %H:%M"),
                e.label if e.kind == "edit" else f"{e.kind}: {e.label}",
                "" if e.standing else "(not in force)",
            )
            for e in events
        ),
    )
