"""How an item of a review is put into words, in a list, on the map and aloud. No widgets here."""

from __future__ import annotations

from standmap.desktop.pages.survey.review_state import Review, Will
from standmap.desktop.words import day_text, said, tr, tr_n
from standmap.jobs.review import Fate, Item, Kind, Possible, Verb
from standmap.units_shown import UnitsShown

MOST_LEFT = 3
"""So many reasons are shown of a file of weather why something of it is left out."""

NOT_OFF_M = 0.05
"""A position that differs by less is the same one, rounded otherwise."""


def fate_word(fate: Fate) -> str:
    """Return a fate's name."""
    match fate:
        case Fate.NEW:
            return tr("new")
        case Fate.MATCHED:
            return tr("matched")
        case Fate.DOUBTFUL:
            return tr("doubtful")
        case Fate.REFUSED:
            return tr("refused")


def kind_word(kind: Kind) -> str:
    """Return a kind's name."""
    match kind:
        case Kind.TREE:
            return tr("tree")
        case Kind.STOP:
            return tr("stop")
        case Kind.RECORDS:
            return tr("measurements")
        case Kind.PLACE:
            return tr("place")
        case Kind.LINE:
            return tr("line")
        case Kind.AREA:
            return tr("area")
        case Kind.WALK:
            return tr("walk")
        case Kind.SIGHT:
            return tr("sight")
        case Kind.NOTE:
            return tr("note")
        case Kind.PHOTO:
            return tr("picture")
        case Kind.FEATURE:
            return tr("not readable")


def where_words(item: Item) -> str:
    """Return what an item is and where in which file it stands; a picture is all of its file."""
    if item.kind is Kind.PHOTO:
        return kind_word(item.kind)
    return tr("{kind}, {where} of {file}", kind=kind_word(item.kind), where=said(item.where), file=item.file)


def outcome_words(review: Review, item: Item, units: UnitsShown) -> str:
    """Return what happens to an item as things are decided now."""
    will = review.will(item)
    decision = review.effective(item)
    if will is Will.LEFT:
        if item.fate is Fate.REFUSED:
            return tr("cannot be taken") if not item.choices else tr("left out")
        if item.kind is Kind.WALK and not item.choices:
            return tr("nothing to add")
        return tr("left out")
    if will is Will.WAITS:
        return tr("waits without a tree, to be asked again")
    if will is Will.JOINS:
        target = review.target(item)
        name = target.name if target is not None else decision.into or ""
        if decision.verb is Verb.MERGE:
            return tr("goes to {tree}", tree=name)
        if item.kind in (Kind.RECORDS, Kind.NOTE, Kind.PHOTO):
            return tr("of {tree}", tree=name)
        away = item.away_m
        if away is not None and away >= NOT_OFF_M:
            return tr("is {tree}, {away} off", tree=name, away=distance_words(away, units))
        return tr("is {tree}", tree=name)
    if will is Will.NEW_TREE:
        return tr("a tree of its own") if decision.verb is Verb.SPLIT else tr("new tree")
    return tr("brought up to date") if item.fate is Fate.MATCHED else tr("is added")


def distance_words(metres: float, units: UnitsShown) -> str:
    """Return a distance, finely where it is short."""
    return units.accuracy(metres).removeprefix("± ") if metres < 100 else units.distance(metres)


def candidate_words(one: Possible, units: UnitsShown) -> str:
    """Return a tree at which a stop may have been made, how far off it is and how likely."""
    likely = chance_word(one.chance)
    if one.ref is None or one.away_m is None:
        return tr("a new tree, {likely}", likely=likely)
    return tr("{tree}, {away} off, {likely}", tree=one.name, away=distance_words(one.away_m, units), likely=likely)


def chance_word(chance: float) -> str:
    """Return how likely something is, in a word."""
    if chance >= 0.9:
        return tr("very likely")
    if chance >= 0.5:
        return tr("likely")
    return tr("possible") if chance >= 0.1 else tr("unlikely")


def spoken(review: Review, item: Item, units: UnitsShown) -> str:
    """Return all of an item as it is read aloud."""
    parts = [item.name, fate_word(item.fate), where_words(item), outcome_words(review, item, units), said(item.why)]
    parts += [candidate_words(one, units) for one in item.candidates]
    return ", ".join(part for part in parts if part)


def store_words(review: Review) -> str:
    """Return what the button that stores says."""
    trees = review.new_trees
    if trees:
        return tr_n("store {n} tree", "store {n} trees", trees)
    if review.taken:
        return tr_n("store {n} item", "store {n} items", review.taken)
    if review.weather_days:
        return tr_n("store {n} day of weather", "store {n} days of weather", review.weather_days)
    if review.signs:
        return tr_n("store {n} sign of the season", "store {n} signs of the season", review.signs)
    return tr("nothing to store")


def weather_words(review: Review) -> str:
    """Return what files of weather and signs bring, a line each."""
    lines = []
    for found, told in review.weather:
        if found.weather:
            days = [day.day for day in found.weather]
            count = tr_n("{n} day of weather", "{n} days of weather", len({*days}))
            span = tr("{first} to {last}", first=day_text(min(days)), last=day_text(max(days)))
            what = f"{count}, {span}"
        else:
            what = tr_n("{n} sign of the season", "{n} signs of the season", len(found.signs))
        fresh = tr("{new} new, {changed} told anew", new=told.added, changed=told.updated)
        left = [tr("left out: {why}", why=said(skipped.why)) for skipped in told.skipped[:MOST_LEFT]]
        lines.append("\n".join([tr("{file}: {what}; {fresh}", file=told.file, what=what, fresh=fresh), *left]))
    return "\n".join(lines)
