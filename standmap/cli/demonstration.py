"""The command `demo`: a survey made into a map, then a whole year in one go, up to the morning's walk."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.round_shown import show_round, show_walking_cautions
from standmap.cli.terminal import note, say, stoppable, table

if TYPE_CHECKING:
    from standmap.jobs.adjust_answer import Adjustment
    from standmap.messages import Collected
    from standmap.store.stand_file import StandFile

WOOD = "alder-brook"
DAY = date(2026, 3, 28)
"""The morning of the sample wood's story."""

SOURCES = ("ground.geojson", "trees.csv", "walk.gpx", "measurements.csv")
RECORDS = "records.csv"

SLOPE = "north-slope"
"""The stand that is made of what one person carried home from the slope that is on no list."""


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
    """Make a map of a survey, plot the small sample wood, judge it, plan a morning's round, and show it in the window.

    Without a screen the window is drawn to PNG files instead.
    """
    from standmap.assets import sample_stand
    from standmap.errors import UserError
    from standmap.jobs.bring import BringOptions, bring
    from standmap.jobs.export import export
    from standmap.jobs.given_walk import give_out, given_walk
    from standmap.jobs.judge import judge
    from standmap.jobs.opening import new_stand, open_stand
    from standmap.jobs.preferences import read_settings
    from standmap.jobs.record import record_file
    from standmap.jobs.round import RoundOptions, plan_round
    from standmap.jobs.round_files import sheets, write_round
    from standmap.messages import Collected

    now = datetime.combine(DAY, time(5, 30)).astimezone()
    messages = Collected()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path, slope = folder / f"{WOOD}.gpkg", folder / f"{SLOPE}.gpkg"
        for made in (path, slope):
            made.unlink(missing_ok=True)  # what an earlier demonstration made
    except OSError as error:
        raise UserError(f"{folder}: cannot be written ({error.strerror})", "name another folder with --out") from None
    say(f"An invented wood, {WOOD}, on the morning of {DAY.isoformat()}.")
    say()
    _survey(slope, now)
    say()
    new_stand(path)
    with open_stand(path) as file, stoppable() as progress:
        say("2. Plot the wood: ground, a list of trees, a GPS walk, and girths measured later.")
        report = bring(file, [sample_stand(WOOD, s) for s in SOURCES], BringOptions(), now, messages, progress)
        table(
            [("file", "left"), ("read", "right"), ("added", "right"), ("updated", "right"), ("stops", "right")],
            ((s.file, str(s.read), str(s.added), str(s.updated), str(len(s.stops))) for s in report.sources),
        )
        proposed = [stop.tree for source in report.sources for stop in source.stops]
        say(f"   the walk stopped at {len(proposed)} trees; new ones are proposed until a person confirms them")
        say()
        say("3. Write down five seasons.")
        written = record_file(file, sample_stand(WOOD, RECORDS), DAY, now, messages)
        say(f"   {written.holes} holes and slits, {written.collections} collections, {written.acts} other entries")
        if written.cautions:
            say(f"   a warning: {written.cautions[0]}")
        say()
        stand = file.stand()
        judged = judge(stand, DAY.year)
        say(f"4. Which trees may give in {DAY.year}? ({judged.rules.title})")
        say("   " + ", ".join(f"{count} {verdict}" for verdict, count in judged.counts.items()))
        back = Counter(j.back_in for _, j in judged.trees if str(j.verdict) == "resting")
        say("   resting, back in " + ", ".join(f"{year}: {count}" for year, count in sorted(back.items()) if year))
        say()
        _season(file, now, messages)
        say()
        stand = file.stand()
        say("6. This morning's round.")
        planned = plan_round(stand, DAY, RoundOptions(), messages=messages, progress=progress)
        show_round(planned)
        for text in messages.cautions:
            note(f"caution: {text}")
        show_walking_cautions()
        say()
        _bring_together(file, now)
        say()
        given = give_out(file, given_walk(planned, now))
        paper = sheets(planned, stand, WOOD, given.key, read_settings(messages))
        paths = (*write_round(planned, folder, paper), *export(stand, folder / "handed-on", replace=True))
    say("Written:")
    for made in (slope, path, *paths):
        say(f"  {made}")
    if window:
        _show(path, folder)


def _survey(path: Path, now: datetime) -> None:
    """Plot a stand from a walk, notes, a field sheet and a picture, and make the best of them."""
    from standmap.assets import sample_stand
    from standmap.jobs.adjust import propose_adjustment, store_adjustment
    from standmap.jobs.bring import BringOptions, bring
    from standmap.jobs.opening import new_stand, open_stand
    from standmap.jobs.sample_wood import SURVEYED
    from standmap.messages import Collected

    new_stand(path)
    messages = Collected()
    with open_stand(path) as file, stoppable() as progress:
        say("1. A slope that is on no map: a GPS walk, notes, tape and compass, a picture.")
        report = bring(file, [sample_stand(WOOD, s) for s in SURVEYED], BringOptions(), now, messages, progress)
        stops = [stop.sigma_m for source in report.sources for stop in source.stops]
        say(f"   the walk stood at {len(stops)} trees, each sure within {_span(stops)}")
        for text in messages.told:
            if " clock " in text:
                say(f"   {text}")
        found = propose_adjustment(file, progress=progress)
        store_adjustment(file, found, now)
        _tell(found)


def _tell(found: Adjustment) -> None:
    for loop in found.misclosures[:1]:
        say(f"   {loop.text}")
    for wrong in found.disagreeing:
        say(f"   disagrees: {wrong.text}")
    sure = [p.sigma_m for p in found.moved if p.sigma_m is not None]
    say(f"   adjusted: {len(sure)} trees moved, each now sure within {_span(sure)}")


def _span(lengths_m: list[float]) -> str:
    least, most = f"{min(lengths_m):.1f}", f"{max(lengths_m):.1f}"
    return f"{most} m" if least == most else f"{least} to {most} m"


def _season(file: StandFile, now: datetime, messages: Collected) -> None:
    """Bring weather in with what springs showed, and tell when to begin and when to stop."""
    from standmap.assets import sample_stand
    from standmap.jobs.bring import BringOptions, bring
    from standmap.jobs.sample_wood import SEASON
    from standmap.jobs.when import when

    say("5. When to tap? By the weather near the wood and the leaf-out days of its own springs.")
    brought = bring(file, [sample_stand(WOOD, s) for s in SEASON], BringOptions(), now, messages)
    days, signs = (source.added for source in brought.sources)
    say(f"   {days} days of weather, {signs} signs of five springs")
    answer = when(file.stand(), DAY)
    say(f"   {answer.phase}: {answer.phase_why}")
    for what, advised in (("first day", answer.first), ("last day", answer.last)):
        if advised is not None:
            spread = f"{advised.days.early.isoformat()} to {advised.days.late.isoformat()}"
            say(f"   {what} about {advised.days.likely.isoformat()} ({spread})")
    for model in answer.models:
        if model.leaf_out is not None and model.error_days is not None:
            likely = model.leaf_out.likely.isoformat()
            missed = f"{model.error_days:.1f}"
            say(f"   leaf-out about {likely} by {model.title}, which misses the wood's springs by {missed} days")


def _bring_together(file: StandFile, now: datetime) -> None:
    """Make a batch of what came home the day before, keep a part for drinking, and tell what boiling the rest gives."""
    from standmap.jobs.batch_told import told_of
    from standmap.jobs.batches import BatchAsked, make_batch, split_batch
    from standmap.jobs.boil import BoilAsked, boil
    from standmap.jobs.returns import Volume
    from standmap.jobs.sap_readings import BrixReading

    day = DAY - timedelta(days=1)
    say("7. Bring together what came home the day before, and keep a part of it for drinking.")
    whole = make_batch(file, BatchAsked("Friday", day, reading=BrixReading(1.4, 12.0), temperature_c=4.0), DAY, now)
    sugar = f"1.4 °Bx read at 12 °C are {whole.batch.sugar_brix:g}"
    say(f"   {whole.volume_ml / 1000:.1f} L of {len(whole.trees)} trees; {sugar}")
    split_batch(file, "Friday", "to drink", Volume(5000.0, "5", "l"), DAY, now)
    left = told_of(file.stand(), next(b for b in file.stand().batches if b.name == "Friday"), DAY)
    say(f"   {left.kept[0].text} [{left.kept[0].source}]")
    told = boil(
        BoilAsked(left.volume_ml / 1000, left.batch.sugar_brix or 1.0, start_c=left.batch.temperature_c, rate_l=8.0)
    )
    say(
        f"   boiling the other {left.volume_ml / 1000:.1f} L would give about {told.made.syrup_l:.2f} L of syrup, in "
        f"{told.hours or 0:.1f} h with {told.fuel.kg or 0:.0f} kg of wood"
    )
    for one in told.cautions:
        note(f"caution: {one.text}")


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
        from standmap.jobs.sample_wood import SURVEYED, SURVEYED_WOOD

        say("There is no screen here; the window was drawn to:")
        surveyed = [sample_stand(SURVEYED_WOOD, s) for s in SURVEYED]
        for made in take(path, [sample_stand(WOOD, s) for s in SOURCES], folder / "window", surveyed=surveyed):
            say(f"  {made}")
        return
    say("The window opens; the command ends when it is closed.")
    open_window(path)
