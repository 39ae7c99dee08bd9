"""The command about the coming night: tonight tells what runs, which vessels may run over, and what to hang."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import DateOption, JsonOption, StandArgument, day_of
from standmap.cli.terminal import emit_json, note, say, table

if TYPE_CHECKING:
    from standmap.jobs.tonight import HoleTonight, TonightAnswer
    from standmap.sap.calibration import Calibration
    from standmap.stand.tree import Tree

MOST_NAMED = 8


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(tonight)


def tonight(
    file: StandArgument,
    *,
    date: DateOption = None,
    until: Annotated[
        str | None,
        typer.Option(
            "--until", metavar="HH:MM", help="When vessels are emptied next, or 'YYYY-MM-DD HH:MM'; at sunrise else."
        ),
    ] = None,
    emptied: Annotated[
        str | None,
        typer.Option("--emptied", metavar="HH:MM", help="As if every vessel were emptied on that day at this hour."),
    ] = None,
    warm: Annotated[
        str | None,
        typer.Option("--warm", metavar="C", help="Mean of that day and the next, °C; else the stand's weather."),
    ] = None,
    vessel_l: Annotated[float | None, typer.Option("--vessel", metavar="L", help="What a vessel holds.")] = None,
    chance: Annotated[
        float | None, typer.Option("--chance", metavar="PERCENT", help="How likely a vessel may run over.")
    ] = None,
    check: Annotated[
        bool, typer.Option("--check", help="Hold past seasons against what would have been told of them.")
    ] = False,
    plot: Annotated[
        Path | None,
        typer.Option("--plot", metavar="OUT.svg", help="Draw what is told, by hole or by season: .png, .svg or .pdf."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Tell what runs until the next collection: by hole and in all, which vessels may run over, and what to hang.

    The night is that after the date. Median, what nine times of ten is not passed, and the vessel to hang are three
    figures: half of all nights give more than the median.
    """
    from standmap.jobs.opening import open_stand
    from standmap.jobs.preferences import read_settings, round_options
    from standmap.jobs.run_files import night_plot_bytes, past_plot_bytes
    from standmap.jobs.sap_readings import read_temperature_c
    from standmap.jobs.tonight import past_seasons, until_of
    from standmap.jobs.tonight import tonight as answer_of
    from standmap.jobs.who_walks import hour_of

    day = day_of(date)
    options = round_options(read_settings())
    if vessel_l is not None:
        options = replace(options, vessel_ml=vessel_l * 1000)
    if chance is not None:
        options = replace(options, overflow_chance=chance / 100)
    with open_stand(file, read_only=True) as opened:
        stand = opened.stand()
    if check:
        found = past_seasons(stand, options.vessel_ml)
        if plot is not None:
            _write(plot, past_plot_bytes(found, plot))
        if as_json:
            emit_json(check_json(found))
        else:
            _show_check(found, options.vessel_ml)
        return
    answer = answer_of(
        stand,
        day,
        None if until is None else until_of(until),
        warm_c=None if warm is None else read_temperature_c(warm, (-1e9, 1e9)),
        emptied=hour_of(emptied),
        options=options,
    )
    if plot is not None:
        _write(plot, night_plot_bytes(answer, plot))
    if as_json:
        emit_json(tonight_json(answer))
    else:
        _show(answer)
    for text in answer.cautions:
        note(f"caution: {text}")


def tonight_json(answer: TonightAnswer) -> dict[str, object]:
    """Return what is said of a night, in its JSON shape."""
    total, run = answer.total, answer.run
    return {
        "date": answer.day.isoformat(),
        "until": answer.until.isoformat(timespec="minutes"),
        "warmth_c": round(answer.warmth_c, 1),
        "warmth": answer.warmth_basis,
        "vessel_l": answer.options.vessel_ml / 1000,
        "chance": answer.options.overflow_chance,
        "holes": [_hole_json(hole) for hole in answer.holes],
        "total": {
            "median_l": _litres(total.median_ml),
            "low_l": _litres(total.low_ml),
            "most_l": _litres(total.most_ml),
            "run_median_l": _litres(run.median_ml),
            "run_most_l": _litres(run.most_ml),
        },
        "larger": [
            {"vessel_l": one.vessel_l, "count": one.holes, "trees": [tree.name for tree in one.trees]}
            for one in answer.larger
        ],
        "evening": [hole.tree.name for hole in answer.evening_helps],
        "cans": answer.cans,
        "basis": answer.basis,
        "assumed": answer.assumed,
        "left_out": [{"tree": tree, "why": why} for tree, why in answer.left_out],
        "notes": list(answer.notes),
        "cautions": list(answer.cautions),
    }


def check_json(found: Calibration) -> dict[str, object]:
    """Return how past seasons came, in its JSON shape."""
    inside_50, inside_90 = found.inside(0.5), found.inside(0.9)
    return {
        "collections": found.collections,
        "inside_50": None if inside_50 is None else round(inside_50, 3),
        "inside_90": None if inside_90 is None else round(inside_90, 3),
        "seasons": [
            {
                "season": one.season,
                "collections": one.collections,
                "inside_50": round(one.inside_50, 3),
                "inside_90": round(one.inside_90, 3),
                "run_over_told": round(one.run_over_told, 1),
                "run_over": one.run_over,
            }
            for one in found.seasons
        ],
        "chances": [
            {
                "least": one.least,
                "most": one.most,
                "collections": one.collections,
                "told": round(one.told, 3),
                "came": round(one.came, 3),
            }
            for one in found.chances
        ],
    }


def _hole_json(hole: HoleTonight) -> dict[str, object]:
    vessel = hole.hanging
    return {
        "tree": hole.tree.name,
        "id": hole.tree.key,
        "hole": vessel.hole.number,
        "hole_id": vessel.hole.key,
        "emptied_at": vessel.emptied_at.isoformat(timespec="minutes"),
        "noted": vessel.noted,
        "nights": round(vessel.nights, 2),
        "median_l": _litres(vessel.run.median_ml),
        "most_l": _litres(vessel.run.most_ml),
        "waits_l": _litres(hole.waits_ml),
        "overflow": round(hole.overflow, 4),
        "vessel_l": _litres(hole.wanted_ml),
        "full_at": None if vessel.fills_at is None else vessel.fills_at.isoformat(timespec="minutes"),
        "evening": None if hole.evening is None else round(hole.evening, 4),
        "basis": vessel.run.basis,
    }


def _litres(volume_ml: float) -> float:
    return round(volume_ml / 1000, 3)


def _show(answer: TonightAnswer) -> None:
    total, options = answer.total, answer.options
    say(
        f"from {answer.day.isoformat()} until {answer.until:%Y-%m-%d %H:%M}, {answer.warmth_c:.1f} °C "
        f"({answer.warmth_basis})"
    )
    holes = "1 hole" if len(answer.holes) == 1 else f"{len(answer.holes)} holes"
    say(
        f"{holes}: {total.median_ml / 1000:.1f} L to carry home, nine times of ten at most "
        f"{total.most_ml / 1000:.1f} L and at least {total.low_ml / 1000:.1f} L ({answer.basis})"
    )
    if answer.run.median_ml > total.median_ml * 1.02:
        say(f"{answer.run.median_ml / 1000:.1f} L run, more than the vessels hold")
    if answer.cans:
        say(f"cans of {options.can_l:g} L: {answer.cans}")
    say()
    table(
        [
            ("tree", "left"),
            ("hole", "right"),
            ("nights", "right"),
            ("median L", "right"),
            ("90 % L", "right"),
            (f"vessel L at {options.overflow_chance * 100:g} %", "right"),
            (f"runs over {options.vessel_ml / 1000:g} L", "right"),
        ],
        [
            [
                hole.tree.name,
                str(hole.hanging.hole.number),
                f"{hole.hanging.nights:.1f}",
                f"{hole.hanging.run.median_ml / 1000:.1f}",
                f"{hole.hanging.run.most_ml / 1000:.1f}",
                f"{hole.wanted_ml / 1000:.1f}",
                f"{hole.overflow * 100:.0f} %",
            ]
            for hole in answer.holes
        ],
    )
    say()
    for larger in answer.larger:
        say(f"hang a vessel of {larger.vessel_l:g} L ({larger.holes}): {_named(larger.trees)}")
    if answer.evening_helps:
        say(f"or empty them in the evening as well: {_named([hole.tree for hole in answer.evening_helps])}")
    elif answer.likely_over:
        say("emptying them in the evening as well would not do")
    else:
        say(f"no vessel of {options.vessel_ml / 1000:g} L runs over likelier than {options.overflow_chance * 100:g} %")
    for tree, why in answer.left_out:
        say(f"left out: {tree}: {why}")
    for text in answer.notes:
        say(text)


def _show_check(found: Calibration, vessel_ml: float) -> None:
    say(f"{found.collections} collections of single holes, each season told from those before it alone")
    rows = [
        [
            str(one.season),
            str(one.collections),
            f"{one.inside_50 * 100:.0f} %",
            f"{one.inside_90 * 100:.0f} %",
            f"{one.run_over_told:.1f}",
            str(one.run_over),
        ]
        for one in found.seasons
    ]
    inside = [found.inside(part) for part in (0.5, 0.9)]
    rows.append(["all", str(found.collections), *(f"{(part or 0) * 100:.0f} %" for part in inside), "", ""])
    table(
        [
            ("season", "left"),
            ("collections", "right"),
            ("in the middle half", "right"),
            ("in nine tenths", "right"),
            (f"told to run over {vessel_ml / 1000:g} L", "right"),
            ("ran over", "right"),
        ],
        rows,
    )
    say("honest figures lie near 50 % and 90 %; the first season is told from published figures alone")


def _write(path: Path, content: bytes) -> None:
    from standmap.jobs.writing_files import write_files

    write_files(path.parent, {path.name: content}, replace=True)
    note(str(path))


def _named(trees: Sequence[Tree]) -> str:
    names = list(dict.fromkeys(tree.name for tree in trees))
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return ", ".join(names[:MOST_NAMED]) + more
