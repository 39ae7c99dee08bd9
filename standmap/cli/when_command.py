"""The commands about the season: when tells when to begin and when to stop, seen writes down what the stand showed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import DateOption, JsonOption, StandArgument, day_of, past_day_of
from standmap.cli.terminal import emit_json, note, say, stoppable, table

if TYPE_CHECKING:
    from standmap.season.answer import Advised, DaySpread, ModelTold, SeasonAnswer


def add_to(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command()(when)
    app.command()(seen)


def when(
    file: StandArgument,
    *,
    weather: Annotated[
        list[Path] | None,
        typer.Option("--weather", metavar="FILE", help="Bring daily weather in first: CSV or GHCN-Daily."),
    ] = None,
    station: Annotated[
        str | None, typer.Option("--station", metavar="ID", help="Whose weather, where there are several.")
    ] = None,
    date: DateOption = None,
    plot: Annotated[
        Path | None, typer.Option("--plot", metavar="OUT.svg", help="Draw the year beside others: .png, .svg or .pdf.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Tell when to begin tapping this season and when to stop, and why."""
    from standmap.errors import NothingToDo
    from standmap.jobs.opening import open_stand
    from standmap.jobs.when import when as answer_of
    from standmap.season.answer import Phase

    day = day_of(date)
    if plot is not None:
        from standmap.formats.plot import checked_plot_path

        checked_plot_path(plot)
    if weather:
        _bring(file, weather, station, told=not as_json)
    with open_stand(file, read_only=True) as opened:
        answer = answer_of(opened.stand(), day, station=station)
    if plot is not None:
        _write_plot(plot, answer)
    if as_json:
        emit_json(season_json(answer))
    else:
        _show(answer)
    for text in answer.cautions:
        note(f"caution: {text}")
    if answer.phase is Phase.UNKNOWN:
        raise NothingToDo(f"{file.name}: {answer.phase_why}")


def seen(
    file: StandArgument,
    what: Annotated[
        str | None,
        typer.Argument(metavar="[WHAT]", help="first sap, buds opening, leaf-out or last sap.", show_default=False),
    ] = None,
    *,
    on: Annotated[str | None, typer.Option("--on", metavar="DATE", help="When; today when left out.")] = None,
    remark: Annotated[str | None, typer.Option("--note")] = None,
    remove: Annotated[bool, typer.Option("--remove", help="Take that sign of that day out.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Write down what the stand showed of the season, of which `when` learns; without WHAT list it."""
    from standmap.errors import NothingToDo, UserError
    from standmap.jobs.clock import now, today
    from standmap.jobs.opening import open_stand
    from standmap.jobs.signs import note_sign, remove_sign, signs_of

    if what is None:
        if on is not None or remove or remark is not None:
            raise UserError("nothing says what was seen", "name it: first sap, buds opening, leaf-out or last sap")
        with open_stand(file, read_only=True) as opened:
            rows = signs_of(opened.stand())
    else:
        with open_stand(file) as opened:
            if remove:
                rows = (remove_sign(opened, what, past_day_of(on), now()),)
            else:
                rows = (note_sign(opened, what, past_day_of(on), today(), now(), remark=remark or ""),)
    told = [{"what": row.what, "on": row.seen_on.isoformat(), "note": row.note} for row in rows]
    if as_json:
        emit_json({"signs": told})
    if not rows:
        raise NothingToDo(f"{file.name}: no sign of any season is noted")
    if as_json:
        return
    done = "" if what is None else "taken out: " if remove else "noted: "
    for row in rows:
        say(f"{done}{row.what} on {row.seen_on.isoformat()}{f' ({row.note})' if row.note else ''}")


def season_json(answer: SeasonAnswer) -> dict[str, object]:
    """Return what is said of a season, in its JSON shape."""
    return {
        "date": answer.day.isoformat(),
        "season": answer.season,
        "station": answer.station,
        "station_km": None if answer.station_km is None else round(answer.station_km, 1),
        "weather_until": None if answer.weather_until is None else answer.weather_until.isoformat(),
        "missing_days": answer.missing_days,
        "phase": str(answer.phase),
        "why": answer.phase_why,
        "first": _advised_json(answer.first),
        "last": _advised_json(answer.last),
        "leaf_out_seen": None if answer.leaf_out_seen is None else answer.leaf_out_seen.isoformat(),
        "models": [
            {
                "model": m.title,
                "about": m.about,
                "source": m.source,
                "leaf_out": None if m.leaf_out is None else _spread_json(m.leaf_out),
                "own_years": m.own_years,
                "error_days": None if m.error_days is None else round(m.error_days, 1),
                "mean_error_days": None if m.mean_error_days is None else round(m.mean_error_days, 1),
                "reached": round(m.reached, 1),
                "wanted": round(m.wanted, 1),
            }
            for m in answer.models
        ],
        "notes": list(answer.notes),
        "cautions": list(answer.cautions),
    }


def _spread_json(days: DaySpread) -> dict[str, str]:
    return {"early": days.early.isoformat(), "likely": days.likely.isoformat(), "late": days.late.isoformat()}


def _advised_json(advised: Advised | None) -> dict[str, object] | None:
    if advised is None:
        return None
    return {**_spread_json(advised.days), "why": advised.why, "source": advised.source}


def _show(answer: SeasonAnswer) -> None:
    say(f"{answer.day.isoformat()}, season {answer.season}: {answer.phase}")
    say(answer.phase_why)
    for what, advised in (("first day to tap", answer.first), ("last day to tap ", answer.last)):
        if advised is not None:
            spread = advised.days
            likely, early, late = (day.isoformat() for day in (spread.likely, spread.early, spread.late))
            between = "" if early == late else f"({early} to {late})  "
            say(f"{what}  {likely}  {between}{advised.why}")
    if answer.models:
        say()
        _show_models(answer.models)
    earlier = [year for year in answer.years if year.signs]
    if earlier:
        say()
        rows = [[str(year.year), ", ".join(f"{sign} {day:.0f}" for sign, day in year.signs)] for year in earlier]
        table([("season", "left"), (f"seen, days after {answer.begins_on:%d %B}", "left")], rows)
    say()
    if answer.station:
        away = "" if answer.station_km is None else f", {answer.station_km:.0f} km away"
        filled = f"; {answer.missing_days} days filled in" if answer.missing_days else ""
        say(f"weather of {answer.station}{away}, until {answer.weather_until}{filled}")
    for text in answer.notes:
        say(text)
    for what, advised in (("first day", answer.first), ("last day", answer.last)):
        if advised is not None:
            say(f"source of the {what}: {advised.source}")
    for model in answer.models:
        say(f"{model.title}: {model.about}; {model.source}")


def _show_models(models: Sequence[ModelTold]) -> None:
    headings = ("early", "likely", "late")
    table(
        [
            ("leaf-out by", "left"),
            *((heading, "left") for heading in headings),
            ("warmth", "right"),
            ("wanted", "right"),
            ("own years", "right"),
            ("misses by", "right"),
        ],
        [
            [
                m.title,
                *(("-",) * 3 if m.leaf_out is None else _spread_json(m.leaf_out).values()),
                f"{m.reached:.0f}",
                f"{m.wanted:.0f}",
                str(m.own_years),
                "-" if m.error_days is None else f"{m.error_days:.1f} d",
            ]
            for m in models
        ],
    )
    error = models[0].mean_error_days
    if error is not None:
        say(f"the mean day of the other years misses by {error:.1f} d")


def _bring(file: Path, paths: list[Path], station: str | None, *, told: bool) -> None:
    from standmap.cli.brought import show_report
    from standmap.cli.terminal import TerminalMessages
    from standmap.jobs.bring import BringOptions, bring
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand

    with open_stand(file) as opened, stoppable() as progress:
        report = bring(opened, paths, BringOptions(station=station), now(), TerminalMessages(), progress)
    if told:
        show_report(report)


def _write_plot(path: Path, answer: SeasonAnswer) -> None:
    from standmap.jobs.season_files import season_plot_bytes
    from standmap.jobs.writing_files import write_files

    write_files(path.parent, {path.name: season_plot_bytes(answer, path)}, replace=True)
    note(str(path))
