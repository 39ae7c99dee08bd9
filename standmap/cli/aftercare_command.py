"""The command that says what each wound needs next: aftercare."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import DateOption, JsonOption, StandArgument, day_of
from standmap.cli.terminal import emit_json, note, say, table

if TYPE_CHECKING:
    from datetime import date as Day  # noqa: N812 - the option is called date

    from standmap.jobs.aftercare import Due, StandCare
    from standmap.stand.snapshot import Stand
    from standmap.stand.tapping import Act


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(aftercare)


def aftercare(
    file: StandArgument,
    *,
    date: DateOption = None,
    later: Annotated[bool, typer.Option("--all", help="List what is due only later, too.")] = False,
    done: Annotated[
        list[str] | None,
        typer.Option("--done", metavar="TREE", help="Write down that what is due at this tree was done that day."),
    ] = None,
    seen: Annotated[
        str | None,
        typer.Option("--seen", help="With --done, where a look was due: closed or open."),
    ] = None,
    pdf: Annotated[
        Path | None,
        typer.Option("--pdf", metavar="PDF", help="Write it as a list on paper to take along, with a map."),
    ] = None,
    paper: Annotated[str | None, typer.Option("--paper", help="A4 or Letter; as set when left out.")] = None,
    calendar: Annotated[
        Path | None,
        typer.Option("--calendar", metavar="ICS", help="Write it as a calendar, with all that is due later."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Say what each wound needs next: take out, plug or leave open, trim, look whether it has closed."""
    from standmap.errors import NothingToDo, UserError
    from standmap.jobs.aftercare import aftercare as care_of
    from standmap.jobs.aftercare import cautions_for
    from standmap.jobs.opening import open_stand

    if (seen is not None and not done) or (paper is not None and pdf is None):
        alone, beside = ("--paper", "--pdf") if seen is None or done else ("--seen", "--done")
        raise UserError(f"{alone} goes with {beside}", f"give {beside}, or leave {alone} out")
    if done:
        _mark_done(file, done, day_of(date), later=later, seen=_seen(seen))
    with open_stand(file, read_only=True) as opened:
        stand = opened.stand()
    care = care_of(stand, day_of(date), later=later or calendar is not None)
    if calendar is not None and (care.due or care.ended):
        _write_calendar(file, calendar, care)
    if pdf is not None and care.due:
        _write_pdf(file, pdf, care, stand, paper)
    if as_json:
        emit_json(_json(care))
    if not care.due:
        raise NothingToDo(f"{file.name}: {care.why_nothing}")
    if as_json:
        return
    _show(care)
    for text in cautions_for(care):
        note(f"caution: {text}")


def _seen(text: str | None) -> Act:
    """Return what a look saw, from what was typed."""
    from standmap.errors import UserError
    from standmap.stand.tapping import Act

    answers = {None: Act.LOOKED_AT, "closed": Act.SEEN_CLOSED, "open": Act.SEEN_OPEN}
    found = answers.get(text if text is None else text.strip().casefold())
    if found is None:
        raise UserError(f"'{(text or '')[:40]}' is not what a look can tell", "give --seen closed or --seen open")
    return found


def _write_pdf(file: Path, path: Path, care: StandCare, stand: Stand, paper: str | None) -> None:
    from standmap.cli.terminal import TerminalMessages
    from standmap.jobs.care_paper import care_paper
    from standmap.jobs.preferences import read_settings
    from standmap.jobs.walk_paper import paper_options
    from standmap.jobs.writing_files import write_files

    options = paper_options(read_settings(TerminalMessages()), paper)
    write_files(path.parent, {path.name: care_paper(care, stand, file.stem, options)}, replace=True)
    note(f"{path}: {len(care.due)} entries")


def _write_calendar(file: Path, path: Path, care: StandCare) -> None:
    from standmap.cli.terminal import TerminalMessages
    from standmap.jobs.aftercare_calendar import aftercare_calendar
    from standmap.jobs.clock import now
    from standmap.jobs.preferences import read_settings
    from standmap.jobs.walk_paper import paper_options
    from standmap.jobs.writing_files import write_files

    shown = paper_options(read_settings(TerminalMessages()))
    made = aftercare_calendar(file.stem, care, now(), lambda text: shown.units.in_sentence(shown.say(text)))
    write_files(path.parent, {path.name: made}, replace=True)
    note(f"{path}: {len(care.due)} entries; brought in again, they change and do not double")


def _mark_done(path: Path, names: list[str], day: Day, *, later: bool, seen: Act) -> None:
    from standmap.errors import NothingToDo, UserError
    from standmap.jobs.aftercare import aftercare as care_of
    from standmap.jobs.aftercare import mark_done
    from standmap.jobs.clock import now, today
    from standmap.jobs.opening import open_stand
    from standmap.stand.tapping import Act

    with open_stand(path) as opened:
        stand = opened.stand()
        wanted = [stand.tree(name) for name in names]
        due = care_of(stand, day, later=later).due
        for tree in wanted:
            if not any(d.tree.key == tree.key for d in due):
                raise NothingToDo(f"{tree.name}: nothing is due on {day.isoformat()}")
        keys = {t.key for t in wanted}
        mine = [d for d in due if d.tree.key in keys]
        if seen is not Act.LOOKED_AT and not any(d.need.what is Act.LOOKED_AT for d in mine):
            raise UserError(f"no look is due at {', '.join(t.name for t in wanted)}", "leave --seen out")
        report = mark_done(opened, mine, day, now(), today=today(), seen=seen)
    for text in report.cautions:
        note(f"caution: {text}")


def _json(care: StandCare) -> dict[str, object]:
    return {
        "date": care.day.isoformat(),
        "rules": care.rules.id,
        "due": [
            {
                "tree": d.tree.name,
                "id": d.tree.key,
                "hole": d.hole.number,
                "season": d.hole.season,
                "what": str(d.need.what),
                "due_on": d.need.due_on.isoformat(),
                "overdue": d.need.overdue,
                "why": d.need.why,
                "rule": d.need.rule,
                "source": d.need.source,
                "peg": None
                if d.peg is None
                else {
                    "thick_mm": d.peg.thick_mm,
                    "thin_mm": d.peg.thin_mm,
                    "long_mm": d.peg.long_mm,
                    "size_noted": d.peg.noted,
                },
            }
            for d in care.due
        ],
        "counts": dict(care.counts),
    }


def _show(care: StandCare) -> None:
    from standmap.aftercare.peg import PEG_SOURCE
    from standmap.jobs.aftercare import others_on_plugging, plugging_told
    from standmap.stand.tapping import Act

    say(f"{care.day.isoformat()}, {care.rules.title}")
    say("  ".join(f"{what} {count}" for what, count in care.counts.items()))
    say()
    table(
        [("tree", "left"), ("wound", "left"), ("next", "left"), ("due", "left"), ("", "left"), ("because", "left")],
        (
            (
                d.tree.name,
                f"{d.hole.kind} {d.hole.number} of {d.hole.season}",
                str(d.need.what),
                d.need.due_on.isoformat(),
                _how_late(d, care.day),
                d.need.why,
            )
            for d in care.due
        ),
    )
    say()
    # One line for each act and source, not one for each wound.
    for what, rule, source in dict.fromkeys((d.need.what, d.need.rule, d.need.source) for d in care.due):
        say(f"{what}: {rule} · {source}")
    pegs = list(dict.fromkeys(d.peg.told for d in care.due if d.peg is not None))
    for told in pegs:
        say(f"{told} ({PEG_SOURCE})")
    if any(d.need.what in (Act.TAKEN_OUT, Act.PLUGGED, Act.LEFT_OPEN) for d in care.due):
        say(plugging_told(care.rules))
    if pegs:
        say("published rules disagree on plugging:")
        for other, who in others_on_plugging(care.rules):
            say(f"  {other} ({who})")


def _how_late(due: Due, day: Day) -> str:
    days = (day - due.need.due_on).days
    if due.need.overdue:
        return f"overdue {days} d"
    return "today" if days == 0 else f"in {-days} d"
