"""The command `demo`: a whole year in one go, from the small sample wood's source files to the morning's walk."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, time
from pathlib import Path
from typing import Annotated

import typer

from standmap.cli.round_answer import show_round, show_walking_cautions
from standmap.cli.terminal import note, say, stoppable, table

WOOD = "alder-brook"
DAY = date(2026, 3, 28)
"""The morning of the sample wood's story."""

SOURCES = ("ground.geojson", "trees.csv", "walk.gpx", "measurements.csv")
RECORDS = "records.csv"


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(demo)


def demo(
    folder: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="Folder for all that the demonstration makes.")
    ] = Path("demo-out"),
    *,
    window: Annotated[bool, typer.Option(help="Open the window, or draw it, at the end.")] = True,
) -> None:
    """Plot the small sample wood from its files, judge it, plan a morning's round, and show it all in the window.

    Without a screen the window is drawn to PNG files instead.
    """
    from standmap.assets import sample_stand
    from standmap.errors import UserError
    from standmap.jobs.bring import BringOptions, bring
    from standmap.jobs.export import export
    from standmap.jobs.judge import judge
    from standmap.jobs.opening import new_stand, open_stand
    from standmap.jobs.record import record_file
    from standmap.jobs.round import RoundOptions, plan_round
    from standmap.jobs.round_files import write_round
    from standmap.messages import Collected

    now = datetime.combine(DAY, time(5, 30)).astimezone()
    messages = Collected()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"{WOOD}.gpkg"
        path.unlink(missing_ok=True)  # what an earlier demonstration made
    except OSError as error:
        raise UserError(f"{folder}: cannot be written ({error.strerror})", "name another folder with --out") from None
    say(f"An invented wood, {WOOD}, on the morning of {DAY.isoformat()}.")
    say()
    new_stand(path)
    with open_stand(path) as file, stoppable() as progress:
        say("1. Plot it: ground, a list of trees, a GPS walk, and girths measured later.")
        report = bring(file, [sample_stand(WOOD, s) for s in SOURCES], BringOptions(), now, messages, progress)
        table(
            [("file", "left"), ("read", "right"), ("added", "right"), ("updated", "right"), ("stops", "right")],
            ((s.file, str(s.read), str(s.added), str(s.updated), str(len(s.stops))) for s in report.sources),
        )
        proposed = [stop.tree for source in report.sources for stop in source.stops]
        say(f"   the walk stopped at {len(proposed)} trees; new ones are proposed until a person confirms them")
        say()
        say("2. Write down five seasons.")
        written = record_file(file, sample_stand(WOOD, RECORDS), DAY, now, messages)
        say(f"   {written.holes} holes and slits, {written.collections} collections, {written.acts} other entries")
        if written.cautions:
            say(f"   a warning: {written.cautions[0]}")
        say()
        stand = file.stand()
        judged = judge(stand, DAY.year)
        say(f"3. Which trees may give in {DAY.year}? ({judged.rules.title})")
        say("   " + ", ".join(f"{count} {verdict}" for verdict, count in judged.counts.items()))
        back = Counter(j.back_in for _, j in judged.trees if str(j.verdict) == "resting")
        say("   resting, back in " + ", ".join(f"{year}: {count}" for year, count in sorted(back.items()) if year))
        say()
        say("4. This morning's round.")
        planned = plan_round(stand, DAY, RoundOptions(), messages=messages, progress=progress)
        show_round(planned)
        for text in messages.cautions:
            note(f"caution: {text}")
        show_walking_cautions()
        paths = (*write_round(planned, folder), *export(stand, folder / "handed-on", replace=True))
    say("Written:")
    for made in (path, *paths):
        say(f"  {made}")
    if window:
        _show(path, folder)


def _show(path: Path, folder: Path) -> None:
    """Open the window on the day of the story or, without a screen, draw it to files."""
    import os

    from standmap.assets import sample_stand
    from standmap.cli.opening import check_display, open_window
    from standmap.errors import UserError
    from standmap.jobs.clock import TODAY_VARIABLE

    os.environ.setdefault(TODAY_VARIABLE, DAY.isoformat())
    try:
        check_display()
    except UserError:
        os.environ["QT_QPA_PLATFORM"] = "offscreen"
        from standmap.desktop.portraits import take

        say("There is no screen here; the window was drawn to:")
        for made in take(path, [sample_stand(WOOD, s) for s in SOURCES], folder / "window"):
            say(f"  {made}")
        return
    say("The window opens; the command ends when it is closed.")
    open_window(path)
