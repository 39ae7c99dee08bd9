"""Looking through what files bring before it is kept: proposed, decided item by item, stored as one edit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from standmap.errors import UserError
from standmap.jobs.anchors import anchors, given_before_stops
from standmap.jobs.bring_described import described
from standmap.jobs.bring_items import Decision, Decisions, Fate, Item, Kind, Possible, Verb, counts
from standmap.jobs.bring_reading import Reading, read_sources, with_doubts
from standmap.jobs.bring_report import BringOptions, BringReport
from standmap.jobs.bring_taking import Known, Taker, Taking
from standmap.jobs.bring_walks import StopsFound
from standmap.jobs.opening import FRAME_SETTING, working_frame
from standmap.jobs.weather_stations import STATIONS_SETTING
from standmap.messages import Messages, Silence
from standmap.progress import Progress, Unwatched
from standmap.stand.ground import Area, Line, Place
from standmap.stand.sights import Sight, TakenPosition
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop, Walk
from standmap.store.stand_file import StandFile


class StandChangedError(UserError):
    """What was looked through is no longer what would come of it: look through it again."""


@dataclass(frozen=True, slots=True, eq=False)
class Basis:
    """What a proposal was worked out from, kept so that storing it need not begin anew.

    Attributes
    ----------
    known
        The stand as it was, with the working frame that it would have.
    """

    known: Known
    sought: StopsFound
    taking: Taking


@dataclass(frozen=True, slots=True, eq=False)
class Proposal:
    """What files would bring; nothing of it is written.

    Attributes
    ----------
    items
        In the order of the files; each stop follows its walk.
    report
        What would be told if nothing were decided otherwise.
    basis
        What it was worked out from.
    """

    items: tuple[Item, ...]
    report: BringReport
    readings: tuple[Reading, ...]
    options: BringOptions
    basis: Basis

    @property
    def paths(self) -> tuple[Path, ...]:
        """The files, in the order in which they were named."""
        return tuple(r.path for r in self.readings)

    @property
    def counts(self) -> dict[Fate, int]:
        """How many items have each fate."""
        return counts(self.items)

    def item(self, item_id: str) -> Item:
        """Return an item by its id.

        Raises
        ------
        UserError
            If there is none.
        """
        found = next((i for i in self.items if i.id == item_id), None)
        if found is None:
            raise UserError(f"there is no item '{item_id[:60]}'", "use an id of the review")
        return found


def propose(
    file: StandFile,
    paths: Sequence[Path],
    options: BringOptions,
    now: datetime,
    messages: Messages | None = None,
    progress: Progress | None = None,
) -> Proposal:
    """Read files and work out what each thing in them would become. Nothing is written.

    Parameters
    ----------
    paths
        GPX, GeoJSON or delimited text; told by content.

    Raises
    ------
    UserError
        If one file cannot be used, or a stop was asked for.
    """
    messages, progress = messages or Silence(), progress or Unwatched()
    stand = file.stand()
    readings = read_sources(file, paths, options, now, messages, progress)
    readings, frame = with_doubts(readings, working_frame(stand), anyway=options.anyway)
    known = Known(stand, file.rows(Walk), frame, file.rows(Sight), file.rows(Stop))
    return _proposed(known, readings, options, StopsFound(), now, messages, progress)


def _proposed(
    known: Known,
    readings: tuple[Reading, ...],
    options: BringOptions,
    sought: StopsFound,
    now: datetime,
    messages: Messages,
    progress: Progress,
) -> Proposal:
    today = now.date()
    taker = Taker(
        known, readings, {}, {}, sought, today, messages, progress, anyway=options.anyway, clock=options.clock
    )
    taking = taker.take()
    items = described(taking, readings, anyway=options.anyway)
    report = taking.report(readings)
    return Proposal(items, report, readings, options, Basis(known, sought, taking))


def propose_again(file: StandFile, proposal: Proposal, now: datetime) -> Proposal:
    """Return what the same files, not read again, would bring to the stand as it is by now; ids stay.

    Raises
    ------
    UserError
        If a file was brought in meanwhile: then look through the files anew.
    """
    stand, walks = file.stand(), file.rows(Walk)
    for reading in proposal.readings:
        here = file.source_with_hash(reading.source.sha256, records=False)
        if not reading.known and (here is not None) != reading.again:
            raise StandChangedError(
                f"{reading.source.file_name}: whether it was brought in before has changed since it was looked through",
                "look through the files again",
            )
    bare = [replace(r, things=tuple(replace(t, doubt=None) for t in r.things)) for r in proposal.readings]
    readings, frame = with_doubts(bare, working_frame(stand), anyway=proposal.options.anyway)
    known = Known(stand, walks, frame, file.rows(Sight), file.rows(Stop))
    return _proposed(known, readings, proposal.options, proposal.basis.sought, now, Silence(), Unwatched())


def checked_decisions(proposal: Proposal, decisions: Decisions) -> dict[str, Decision]:
    """Return the decisions that differ from what happens by default.

    Raises
    ------
    UserError
        If one names no item, or is not possible there.
    """
    items = {i.id: i for i in proposal.items}
    found: dict[str, Decision] = {}
    for item_id, decision in decisions.items():
        item = items.get(item_id)
        if item is None:
            raise UserError(f"there is no item '{item_id[:60]}'", "use an id of the review")
        if decision.verb is item.default:
            continue
        if decision.verb not in item.choices:
            possible = ", ".join(item.choices) or "nothing can be decided here"
            raise UserError(f"{item_id} is {item.fate}: '{decision.verb}' is not possible", f"possible: {possible}")
        if decision.verb is Verb.MERGE and not decision.into:
            raise UserError(f"{item_id}: it is not said into which tree to merge it", "name a tree, or another item")
        found[item_id] = decision
    return found


def with_belongings(items: Sequence[Item], decided: Decisions) -> dict[str, Decision]:
    """Return decisions with what follows from them.

    What belongs to the new tree of another item goes where that item goes, merged or ignored; what such an item is
    itself merged into becomes a tree of its own.
    """
    found = dict(decided)
    for item in items:
        above = None if item.of is None or item.id in decided else found.get(item.of)
        if above is None or above.verb not in (Verb.MERGE, Verb.IGNORE):
            continue
        found[item.id] = Decision(Verb.SPLIT) if _leads_to(item.id, above.into, decided) else above
    return found


def _leads_to(item_id: str, into: str | None, decided: Decisions) -> bool:
    """Return whether one merge after another ends at an item."""
    seen: set[str] = set()
    while into is not None and into not in seen:
        if into == item_id:
            return True
        seen.add(into)
        onward = decided.get(into)
        into = onward.into if onward is not None and onward.verb is Verb.MERGE else None
    return False


def store(
    file: StandFile,
    proposal: Proposal,
    decisions: Decisions,
    now: datetime,
    messages: Messages | None = None,
    progress: Progress | None = None,
) -> BringReport:
    """Write what was proposed, as it was decided, as one edit; where nothing is left of it, nothing is written.

    What belongs to the new tree of an item that is merged or ignored goes the same way, unless decided otherwise.

    Raises
    ------
    StandChangedError
        If the stand has changed so that something would come out otherwise than it was proposed.
    UserError
        If a decision is not possible.
    """
    decided = checked_decisions(proposal, decisions)
    latest = _as_of_now(file, proposal, now)
    taking = latest.basis.taking
    if decided:
        taking = Taker(
            latest.basis.known,
            latest.readings,
            {**_as_shown(proposal.items), **with_belongings(proposal.items, decided)},
            {i.id: i.name for i in proposal.items if i.makes_tree},
            latest.basis.sought,
            now.date(),
            messages or Silence(),
            progress or Unwatched(),
            anyway=proposal.options.anyway,
            clock=proposal.options.clock,
        ).take()
    _write(file, taking, latest.readings, now)
    return taking.report(latest.readings)


def _as_shown(items: Sequence[Item]) -> dict[str, Decision]:
    """Return the defaults of some items as decisions: what is in doubt there depends on what else is taken in."""
    shown = (Kind.SIGHT, Kind.NOTE, Kind.PHOTO)
    return {i.id: Decision(i.default) for i in items if i.kind in shown and i.choices}


def _as_of_now(file: StandFile, proposal: Proposal, now: datetime) -> Proposal:
    """Return the proposal for the stand as it is by now, where everything comes out as it was looked through."""
    known = proposal.basis.known
    same_walks = [w.key for w in file.rows(Walk)] == [w.key for w in known.walks]
    if file.stand() == known.stand and same_walks and file.rows(Stop) == known.stops:
        return proposal
    latest = propose_again(file, proposal, now)
    if [i.judged for i in latest.items] != [i.judged for i in proposal.items]:
        raise StandChangedError(
            "the stand has changed since these files were looked through", "look through them again"
        )
    return latest


def _anchors(file: StandFile, taking: Taking) -> list[TakenPosition]:
    """Return as taken positions where what is sighted or stopped at now was given before, or by another file."""
    rows = [t.row for t in taking.sights if t.row is not None]
    batch, sheets = taking.batch, {row.source_key for row in rows}
    fresh = [*batch.stops, *batch.changed_stops]
    if not rows and not fresh:
        return []
    lines = {t.thing.id for t in taking.sights}
    made = {key for key, item_id in batch.makers.items() if item_id in lines}
    new: list[Tree | Place] = [t for t in batch.trees.new_trees.values() if t.key not in made]
    new += [p for p in batch.new_ground.values() if isinstance(p, Place) and p.source_key not in sheets]
    points = [*batch.trees.stand.trees, *batch.trees.stand.places, *new]
    stops, taken = file.rows(Stop), file.rows(TakenPosition)
    trees = [p for p in points if isinstance(p, Tree)]
    stopped_at = given_before_stops(trees, fresh, stops, taken, file.rows(Sight))
    return [*stopped_at, *anchors(points, [*stops, *fresh], taken, rows)]


def _label(taking: Taking, readings: Sequence[Reading]) -> str:
    """Return what the log says of it, with what became of stops that found no tree."""
    reports = [taking.reports[r.number] for r in readings]
    waiting, ignored = sum(len(r.waiting) for r in reports), sum(r.ignored for r in reports)
    label = f"bring in {', '.join(r.source.file_name for r in readings)}"
    label += f"; stops that wait: {waiting}" if waiting else ""
    return label + (f"; stops left out: {ignored}" if ignored else "")


def _write(file: StandFile, taking: Taking, readings: Sequence[Reading], now: datetime) -> None:
    """Write all of it as one edit; a file that brought nothing leaves no trace."""
    batch = taking.batch
    reports = taking.reports
    used = [r for r in readings if reports[r.number].anything]
    fresh = [replace(r.source, skipped=len(reports[r.number].skipped)) for r in used]
    again = {r.source.key for r in readings if r.again}
    trees, records = batch.trees, batch.trees.records
    kinds: tuple[Sequence[Any], ...] = (
        [s for s in fresh if s.key not in again],
        batch.walks,
        list(trees.new_trees.values()),
        [g for g in batch.new_ground.values() if isinstance(g, Place)],
        [g for g in batch.new_ground.values() if isinstance(g, Line)],
        [g for g in batch.new_ground.values() if isinstance(g, Area)],
        batch.stops,
        batch.media,
        [t.row for t in taking.sights if t.row is not None],
        records.measurements,
        records.holes,
        records.collections,
        records.observations,
        _anchors(file, taking),
        list(batch.weather.new.values()),
        batch.weather.signs,
    )
    changed: list[object] = [s for s in fresh if s.key in again]
    changed += batch.changed_stops
    changed += [*trees.changed_trees.values(), *batch.changed_ground.values(), *records.changed_measurements.values()]
    changed += batch.weather.changed.values()
    if not changed and not any(kinds):
        return
    with file.writing(_label(taking, readings), now) as writing:
        if batch.frame is not None and FRAME_SETTING not in trees.stand.settings:
            writing.set_setting(FRAME_SETTING, {"lon0": batch.frame.lon0, "lat0": batch.frame.lat0})
        if batch.weather.stations is not None:
            writing.set_setting(STATIONS_SETTING, batch.weather.stations)
        for things in kinds:
            writing.insert_many(things)
        for thing in changed:
            writing.replace(thing)


__all__ = [
    "Decision",
    "Decisions",
    "Fate",
    "Item",
    "Kind",
    "Possible",
    "Proposal",
    "StandChangedError",
    "Verb",
    "checked_decisions",
    "propose",
    "propose_again",
    "store",
    "with_belongings",
]
