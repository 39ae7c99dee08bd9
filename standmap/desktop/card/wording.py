"""The card's lines in the person's language and units."""

from __future__ import annotations

import math

from standmap.desktop.words import day_text, said, tr, tr_n
from standmap.jobs.moving_records import Single, day_of_record
from standmap.jobs.next_place import NextPlace
from standmap.jobs.stem_facts import LeftByHole, StemFacts
from standmap.jobs.tree_facts import HoleFacts, SeasonFacts, TreeFacts
from standmap.rules.judgement import Reason
from standmap.stand.records import Media
from standmap.stand.tapping import Act, Wound
from standmap.stand.tree import Measurement, Soundness, Standing, Tree
from standmap.units_shown import UnitsShown

SIDES = 8


def about(tree: Tree) -> str:
    """Return the line beside the name: species and what is known of the tag."""
    tag = tr("tag confirmed") if tree.tag_confirmed else tr("tag not confirmed")
    parts = [tree.species or tr("species not known"), tr("proposed by a walk") if tree.proposed else tag]
    if tree.soundness is not None:
        parts.append(tr("sound") if tree.soundness is Soundness.SOUND else tr("not sound"))
    if tree.standing is not Standing.STANDING:
        since = tree.standing_since
        what = said(str(tree.standing))
        parts.append(tr("{what} {day}", what=what, day=day_text(since)) if since else what)
    return " · ".join(parts)


def rule_line(reason: Reason) -> str:
    """Return whose rule a reason is and where its figure comes from."""
    rule = said(reason.rule)
    return rule if reason.source == reason.rule else f"{rule} · {said(reason.source)}"


def fact_lines(facts: TreeFacts, units: UnitsShown) -> list[tuple[str, str]]:
    """Return names and values of what was measured."""
    lines: list[tuple[str, str]] = []
    measured = facts.measurement
    if measured is None:
        lines.append((tr("girth"), tr("not measured")))
    else:
        height = units.height(measured.at_height_mm)
        at = tr("{height} up", height=height) if measured.at_height_mm != facts.measured_at_mm else tr("breast height")
        lines.append((tr("girth at {height}", height=at), units.girth(measured.girth())))
        lines.append((tr("diameter"), units.girth(measured.diameter())))
        lines.append((tr("measured"), day_text(measured.measured_on) if measured.measured_on else tr("day not known")))
    sigma = facts.tree.sigma_m
    placed = tr("put there by hand") if facts.tree.pinned else tr("accuracy not known")
    lines.append((tr("position"), units.accuracy(sigma) if sigma is not None else placed))
    if facts.root_names:
        lines.append((tr("same root as"), ", ".join(facts.root_names)))
    if facts.marked:
        lines.append((tr("marked for {season}", season=facts.season), tr_n("{n} hole", "{n} holes", facts.marked)))
    return lines


def season_line(row: SeasonFacts, units: UnitsShown, this_season: int) -> str:
    """Return one season: how many holes, nights, how much, and what became of the wounds."""
    parts = []
    if row.holes:
        parts.append(tr_n("{n} hole", "{n} holes", row.holes))
    if row.slits:
        parts.append(tr_n("{n} slit", "{n} slits", row.slits))
    if row.nights:
        parts.append(tr_n("{n} night", "{n} nights", row.nights))
        parts.append(units.volume(row.volume_ml))
    # That it was seen closed is told with its day.
    states = [state for state in row.state.split(", ") if state != Act.SEEN_CLOSED]
    if states:
        parts.append(", ".join(state_text(state, row.season < this_season) for state in states))
    parts += [said(told) for told in row.closing]
    return " · ".join(parts)


def state_text(state: str, over: bool) -> str:
    """Return what became of a wound; one of a season that is over gives no more, whatever was noted."""
    if state != "open":
        return said(state)
    return tr("closing not noted") if over else tr("still open")


def side_text(side_deg: float) -> str:
    """Return a side of the stem in words."""
    names = (
        tr("north"), tr("north-east"), tr("east"), tr("south-east"),
        tr("south"), tr("south-west"), tr("west"), tr("north-west"),
    )  # fmt: skip
    return tr("{side} ({degrees}°)", side=names[round(side_deg / 45) % SIDES], degrees=f"{side_deg:.0f}")


def place_line(place: NextPlace, units: UnitsShown) -> str:
    """Return where the next hole has most room; nothing for a stem never opened or of which too little is noted."""
    if place.full:
        return tr("no place left keeps clear of old holes")
    room = place.room
    if room is None or math.isinf(room.clearance_mm):
        return ""
    return tr(
        "most room for the next hole: {height} up, {side}, {clear} from the nearest",
        height=units.height(room.height_mm),
        side=side_text(room.side_deg % 360),
        clear=units.height(room.clearance_mm),
    )


def zone_line(stem: StemFacts, units: UnitsShown) -> str:
    """Return how much of the wood within reach carries sap; nothing for a stem without holes, or without its girth."""
    if not stem.left or stem.clear is None:
        return ""
    told = tr(
        "{share} % of the wood within reach carries sap: {depth} deep, {low} to {high} up",
        share=f"{100 * stem.clear:.0f}",
        depth=units.depth(stem.depth_mm),
        low=units.height(stem.band_mm[0]),
        high=units.height(stem.band_mm[1]),
    )
    if stem.growth_mm is None:
        return tr("{told}; growth was not measured, so nothing counts as grown over", told=told)
    return tr("{told}; {growth} grow over it in ten years", told=told, growth=units.depth(10 * stem.growth_mm))


def left_line(hole: HoleFacts, left: LeftByHole | None, units: UnitsShown, this_season: int) -> str:
    """Return one wound with all that was noted of it, and what it left in the wood."""
    line = hole_line(hole, units, this_season)
    if left is None:
        return line
    parts = [tr("left {volume} without sap", volume=units.volume(left.column.volume_ml))]
    if left.cover_mm > 0:
        parts.append(tr("{cover} of wood over it", cover=units.depth(left.cover_mm)))
    return " · ".join((line, *parts))


def hole_line(hole: HoleFacts, units: UnitsShown, this_season: int) -> str:
    """Return one wound with all that was noted of it."""
    kind = tr("slit {n}", n=hole.number) if hole.kind is Wound.SLIT else tr("hole {n}", n=hole.number)
    parts = [f"{hole.season}", kind]
    parts.append(tr("side not noted") if hole.side_deg is None else side_text(hole.side_deg))
    if hole.height_mm is not None:
        parts.append(tr("{height} up", height=units.height(hole.height_mm)))
    if hole.depth_mm is not None:
        parts.append(tr("{depth} deep", depth=units.depth(hole.depth_mm)))
    if hole.bit_mm is not None:
        parts.append(tr("{width} wide", width=units.depth(hole.bit_mm)))
    parts.append(state_text(hole.state, hole.season < this_season))
    return " · ".join(parts)


def hole_name(hole: HoleFacts) -> str:
    """Return a wound's short name, for a list to choose from."""
    kind = tr("slit {n}", n=hole.number) if hole.kind is Wound.SLIT else tr("hole {n}", n=hole.number)
    return tr("{season}, {kind}, made {day}", season=hole.season, kind=kind, day=day_text(hole.made_on))


def picture_caption(one: Media) -> str:
    """Return a picture's day, or its file's name where it tells none, with its note."""
    named = day_text(one.taken_at.date()) if one.taken_at is not None else one.file_name
    return f"{named}: {one.note}" if one.note else named


def single_name(one: Single, units: UnitsShown) -> str:
    """Return the short name of a measurement, or of what was seen at a tree, for a list to choose from."""
    day = day_of_record(one)
    when = day_text(day) if day else tr("day not known")
    if not isinstance(one, Measurement):
        return tr("{what}, {day}", what=said(str(one.what)), day=when)
    if one.girth_mm is not None:
        return tr("girth {size}, {day}", size=units.girth(one.girth_mm), day=when)
    return tr("diameter {size}, {day}", size=units.girth(one.diameter()), day=when)
