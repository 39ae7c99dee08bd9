"""Commands that answer: judge, tree, rules."""

from __future__ import annotations

import math
from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import FigureOption, JsonOption, RulesOption, SeasonOption, StandArgument, figures_of, year_of
from standmap.cli.terminal import emit_json, note, say, stoppable, table

if TYPE_CHECKING:
    from pathlib import Path

    from standmap.jobs.judge import StandJudgement
    from standmap.jobs.next_place import NextPlace
    from standmap.rules.ruleset import RuleSet
    from standmap.rules.verdicts import Judgement
    from standmap.stand.snapshot import Stand
    from standmap.stand.tree import Tree


def add_to(app: typer.Typer) -> None:
    """Add the commands of this file."""
    for command in (judge, tree, rules):
        app.command()(command)


def judge(
    file: StandArgument,
    *,
    season: SeasonOption = None,
    rule_set: RulesOption = None,
    figures: FigureOption = None,
    verdict: Annotated[
        str | None, typer.Option("--only", metavar="VERDICT", help="List only trees with this verdict.")
    ] = None,
    seasons: Annotated[
        bool, typer.Option("--seasons", help="Count the verdicts of every season, from the first record to ten ahead.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Say of every tree whether it may be tapped in a season, and every reason why not."""
    from standmap.errors import NothingToDo, UserError
    from standmap.jobs.cautions import CHOOSING
    from standmap.jobs.judge import judge as judge_stand
    from standmap.jobs.opening import open_stand
    from standmap.jobs.rule_choice import rules_of

    if seasons and (season is not None or verdict is not None):
        raise UserError("--seasons counts every verdict of every season", "leave --season and --only out")
    with open_stand(file, read_only=True) as opened:
        stand = opened.stand()
    if seasons:
        _seasons(file, stand, rules_of(stand, rule_set, figures_of(figures)), as_json=as_json)
        return
    judged = judge_stand(stand, year_of(season), rule_set_id=rule_set, overrides=figures_of(figures))
    if verdict is not None and verdict not in judged.counts:
        raise UserError(f"'{verdict[:40]}' is no verdict", f"the verdicts are {', '.join(judged.counts)}")
    if as_json:
        emit_json(_json(judged, verdict))
    if not judged.trees:
        raise NothingToDo(f"{file.name}: there is no tree yet: bring some in first")
    if as_json:
        return
    _show(judged, verdict)
    for text in (*judged.rules.notes, *CHOOSING):
        note(f"caution: {text}")


def _seasons(file: Path, stand: Stand, asked: RuleSet, *, as_json: bool) -> None:
    from standmap.errors import NothingToDo
    from standmap.jobs.cautions import CHOOSING
    from standmap.jobs.clock import today
    from standmap.jobs.seasons import AHEAD, seasons
    from standmap.rules.columns import columns

    with stoppable() as progress:
        found = seasons(columns(stand), asked, today(), progress)
    if as_json:
        told = [{"season": s.season, "when": str(s.when), "counts": dict(s.counts)} for s in found]
        emit_json({"rules": asked.id, "seasons": told})
    if not found:
        raise NothingToDo(f"{file.name}: there is no tree yet: bring some in first")
    if as_json:
        return
    say(f"{found[0].season} to {found[-1].season}, {asked.title}")
    say()
    table(
        [("season", "left"), ("", "left"), *((name, "right") for name in found[0].counts)],
        ((str(s.season), str(s.when), *map(str, s.counts.values())) for s in found),
    )
    note(AHEAD)
    for text in (*asked.notes, *CHOOSING):
        note(f"caution: {text}")


def _json(judged: StandJudgement, only: str | None) -> dict[str, object]:
    return {
        "season": judged.season,
        "trees": [_tree_json(t, j) for t, j in judged.trees if only in (None, str(j.verdict))],
        "counts": dict(judged.counts),
    }


def _tree_json(tree: Tree, judged: Judgement) -> dict[str, object]:
    return {
        "tree": tree.name,
        "id": tree.key,
        "verdict": str(judged.verdict),
        "reasons": [{"rule": r.rule, "text": r.text, "source": r.source} for r in judged.reasons],
        "cautions": list(judged.cautions),
        "back_in": judged.back_in,
    }


def _show(judged: StandJudgement, only: str | None) -> None:
    say(f"season {judged.season}, {judged.rules.title}")
    say("  ".join(f"{name} {count}" for name, count in judged.counts.items()))
    say()
    table(
        [("tree", "left"), ("verdict", "left"), ("back in", "right"), ("because", "left")],
        (
            (t.name, str(j.verdict), str(j.back_in or "-"), _because(j))
            for t, j in judged.trees
            if only in (None, str(j.verdict))
        ),
    )


def _because(judged: Judgement) -> str:
    """Return what speaks against a tree, or for a giving one what was done; a ready tree needs no reason here."""
    said = [r.text for r in judged.reasons if r.against]
    if judged.verdict == "giving":
        said = [judged.reasons[0].text, *said]
    asked = [c for c in judged.cautions if "check the tag" in c or "rootstock" in c]
    return "; ".join([*said, *asked])


def tree(
    file: StandArgument,
    name: Annotated[str, typer.Argument(metavar="TREE", help="Name or id of a tree.")],
    *,
    season: SeasonOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show one tree: its facts, its verdict with every reason, and its history."""
    from standmap.cli.stem_shown import closing_json, closing_lines, left_lines, stem_json
    from standmap.jobs.aftercare import closing_told, closings_of
    from standmap.jobs.clock import today
    from standmap.jobs.judge import judge as judge_stand
    from standmap.jobs.next_place import next_place
    from standmap.jobs.opening import open_stand
    from standmap.jobs.rule_choice import rules_of
    from standmap.jobs.stem_facts import stem_facts
    from standmap.jobs.tree_history import history_of

    with open_stand(file, read_only=True) as opened:
        stand = opened.stand()
    found = stand.tree(name)
    judged = {t.key: j for t, j in judge_stand(stand, year_of(season)).trees}[found.key]
    history = history_of(stand, found)
    year = year_of(season)
    in_force, day = rules_of(stand), today() if year == today().year else date(year, 1, 1)
    place, stem, closings = (
        next_place(stand, found, day, in_force),
        stem_facts(stand, found, day, in_force),
        closings_of(stand, found, day, in_force),
    )
    if as_json:
        emit_json(
            {
                **_tree_json(found, judged),
                "next_place": _place_json(place),
                "stem": stem_json(stem),
                "closing": closing_json(closings),
                "history": history,
            }
        )
        return
    newest = stand.newest_measurement(found.key)
    say(f"{found.name}  {found.species or 'species not known'}  ({found.key})")
    girth = f"girth {newest.girth():.0f} mm, diameter {newest.diameter():.0f} mm" if newest else "not measured"
    sigma = f"position ± {found.sigma_m:.1f} m" if found.sigma_m is not None else "position of unknown accuracy"
    say(f"{girth}; {found.at[1]:.6f}, {found.at[0]:.6f}, {sigma}")
    say(f"{judged.verdict}{f', back in {judged.back_in}' if judged.back_in else ''}")
    for reason in judged.reasons:
        say(f"  {reason.text}")
        say(f"    {reason.rule}" + (f" · {reason.source}" if reason.source != reason.rule else ""))
    for text in judged.cautions:
        note(f"caution: {text}")
    for line in (*left_lines(stem), _place_text(place), *closing_lines(closings, day, closing_told(in_force))):
        say(line)
    for line in history:
        say(f"  {line}")


def _place_json(place: NextPlace) -> dict[str, object]:
    room = place.room
    return {
        "full": place.full,
        "unknown": place.unknown,
        "height_mm": None if room is None else round(room.height_mm),
        "side_deg": None if room is None else round(room.side_deg, 1) % 360,
        "clearance_mm": None if room is None or math.isinf(room.clearance_mm) else round(room.clearance_mm),
        "spacing_mm": place.spacing_mm,
        "leaves_ml": round(place.leaves.volume_ml, 1),
    }


def _place_text(place: NextPlace) -> str:
    """Return where the next hole has most room, in one line."""
    if place.full:
        return f"no place left on this stem keeps {place.spacing_mm:g} mm and clear of what old holes left (a model)"
    if place.room is None:
        return f"where the next hole has room cannot be told: of {place.unknown} old holes side or girth is not noted"
    room = place.room
    if math.isinf(room.clearance_mm):
        return "the next hole may go anywhere: none was made before"
    return (
        f"most room for the next hole: {room.height_mm:.0f} mm up, side {room.side_deg:.0f}°, "
        f"{room.clearance_mm:.0f} mm from the nearest old one (a model)"
    )


def rules(
    file: StandArgument,
    *,
    use: Annotated[str | None, typer.Option("--use", metavar="SET", help="Keep this rule set for the stand.")] = None,
    figures: FigureOption = None,
    as_printed: Annotated[
        list[str] | None, typer.Option("--as-printed", metavar="FIGURE", help="Put a figure back to what the set says.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Show the rules of a stand with their sources, or keep others."""
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand
    from standmap.jobs.rule_choice import choose_rules, rules_of
    from standmap.rules.ruleset import available

    set_figures = figures_of(figures)
    changing = bool(use is not None or set_figures or as_printed)
    with open_stand(file, read_only=not changing) as opened:
        if changing:
            found = choose_rules(opened, now(), use, set_figures, as_printed or ())
        else:
            found = rules_of(opened.stand())
    if as_json:
        emit_json(_rules_json(found))
        return
    say(f"{found.title} ({found.id})")
    say(found.about)
    table(
        [("figure", "left"), ("value", "right"), ("bounds", "left"), ("source", "left")],
        ((f.name, f"{f.value:g}", f"{f.least:g} to {f.most:g}", f.source) for f in found.figures.values()),
    )
    for step in found.hole_steps:
        say(f"holes from {step.from_diameter_mm:g} mm through: {step.holes} ({step.source})")
    say(f"species: {', '.join(found.species)} ({found.species_source})")
    for text in (*found.notes, *found.cautions):
        say(f"note: {text}")
    say(f"other sets: {', '.join(s for s in available() if s != found.id)}")


def _rules_json(found: RuleSet) -> dict[str, object]:
    return {
        "set": found.id,
        "title": found.title,
        "figures": [
            {"name": f.name, "value": f.value, "unit": f.unit, "least": f.least, "most": f.most, "source": f.source}
            for f in found.figures.values()
        ],
    }
