"""Taking files in by what a person decided: worked out in memory, written by `review.store` alone.

The order in which files are named does not matter: first comes what has a place, then walks (whose stops look for
trees), then what was merged, then lists of measurements.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

from standmap.errors import UserError
from standmap.formats.content import FoundNote, FoundPhoto, FoundSight, FoundTree, FoundWalk, Skipped
from standmap.jobs.adjust_words import way_words
from standmap.jobs.bring_batch import Batch
from standmap.jobs.bring_ground import take_ground
from standmap.jobs.bring_items import Decision, Decisions, Fate, Verb
from standmap.jobs.bring_moments import plan_notes
from standmap.jobs.bring_notes import NoteIntake, TakenNote, noted_girth, noted_name, renameable, take_notes
from standmap.jobs.bring_reading import Reading, Thing, frame_about, stop_if_wanted
from standmap.jobs.bring_report import BringReport, BroughtStop, ClockStated, OffWalk, SourceReport, WaitingStop
from standmap.jobs.bring_sights import ANYWAY, SightIntake, TakenSight, take_sights
from standmap.jobs.bring_trees import Intake, Taken, close_new_trees, give_to, take_tree
from standmap.jobs.bring_walks import (
    Meant,
    StopsFound,
    StopsOfWalk,
    found_again,
    known_walk,
    likely_trees,
    note_stop,
    take_walk,
    which_tree,
)
from standmap.jobs.bring_weather import height_m_of
from standmap.jobs.matching import SAME_NAME_WITHIN_M, Gathered
from standmap.jobs.positions import apart_m
from standmap.messages import Messages
from standmap.progress import Progress
from standmap.stand.sights import Sight
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Standing, Tree
from standmap.stand.walks import Stop, StopState, Walk

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame
    from standmap.survey.stops import FoundStop

LOOK_UP_EVERY = 500
"""Trees taken in between two looks whether to go on."""

Close = tuple[Tree, Tree, float]


@dataclass(frozen=True, slots=True)
class TakenStop:
    """What became of a stop: the tree it is at, None when it was left out, and what was found there.

    Attributes
    ----------
    row
        The stop as the stand has it, where it waited there to be decided.
    """

    id: str
    walk_id: str
    number: int
    stop: FoundStop
    tree: Tree | None = None
    meant: Meant | None = None
    row: Stop | None = None


@dataclass
class Taking:
    """Everything that came of the files.

    Attributes
    ----------
    taken
        What became of each finding, by its id; an ignored one is missing.
    stops
        What became of each stop, in the order in which they were looked at.
    sights
        What became of each line of the field sheets.
    notes
        What became of each note and picture.
    shifts
        In words, by how much a walk lies off the known trees, by its id, where that is clear.
    close
        New trees that stand very near to another.
    """

    batch: Batch
    reports: dict[int, _Counts] = field(default_factory=dict)
    taken: dict[str, Taken] = field(default_factory=dict)
    stops: list[TakenStop] = field(default_factory=list)
    sights: list[TakenSight] = field(default_factory=list)
    notes: list[TakenNote] = field(default_factory=list)
    shifts: dict[str, str] = field(default_factory=dict)
    close: tuple[Close, ...] = ()

    def report(self, readings: Sequence[Reading]) -> BringReport:
        """Return what became of the files, in the order in which they were named."""
        return BringReport(tuple(self.reports[r.number].report(r, self.batch.trees.tree) for r in readings))


@dataclass
class _Counts:
    added: int = 0
    updated: int = 0
    skipped: list[Skipped] = field(default_factory=list)
    stops: list[BroughtStop] = field(default_factory=list)
    waiting: list[WaitingStop] = field(default_factory=list)
    ignored: int = 0
    walks: list[OffWalk] = field(default_factory=list)

    @property
    def anything(self) -> bool:
        return bool(self.added or self.updated or self.stops or self.ignored)

    def count(self, what: str) -> None:
        self.added += what == "added"
        self.updated += what == "updated"

    def report(self, reading: Reading, tree_of: Callable[[str], Tree | None]) -> SourceReport:
        return SourceReport(
            file=reading.source.file_name,
            format=reading.source.format,
            read=reading.findings.read,
            added=self.added,
            updated=self.updated,
            skipped=tuple(self.skipped),
            stops=tuple(_as_it_is(stop, tree_of(stop.key or "")) for stop in self.stops),
            known=reading.known,
            waiting=tuple(self.waiting),
            ignored=self.ignored,
            walks=tuple(self.walks),
        )


def _as_it_is(stop: BroughtStop, tree: Tree | None) -> BroughtStop:
    """Return a stop with its tree as it is after all notes were taken in."""
    return stop if tree is None else replace(stop, tree=tree.name, proposed=tree.proposed)


@dataclass(frozen=True, slots=True)
class Known:
    """What is known before files are taken in."""

    stand: Stand
    walks: tuple[Walk, ...]
    frame: WorkingFrame | None
    sights: tuple[Sight, ...] = ()
    stops: tuple[Stop, ...] = ()


class Taker:
    """Takes files in by decisions.

    Parameters
    ----------
    decisions
        Only those that differ from what happens by default.
    anyway
        Take positions that look wrong unless decided otherwise.
    names
        Names that were promised to nameless new trees, by item id.
    clock
        What is said of the clock of notes and pictures.
    """

    def __init__(
        self,
        known: Known,
        readings: Sequence[Reading],
        decisions: Decisions,
        names: dict[str, str],
        sought: StopsFound,
        today: date,
        messages: Messages,
        progress: Progress,
        *,
        anyway: bool,
        clock: ClockStated | None = None,
    ) -> None:
        self._readings = readings
        self._decisions = decisions
        self._sought = sought
        self._today = today
        self._messages = messages
        self._progress = progress
        self._anyway = anyway
        frame = known.frame
        if frame is None:
            frame = frame_about([t for r in readings for t in r.things if not self._ignored(t)])
        self._known_sights, self._known_stops = known.sights, known.stops
        self._clock = clock or ClockStated()
        self._plan = plan_notes(readings, known.stand, known.walks, known.stops, frame, sought, self._clock, messages)
        walks = [t for r in readings for t in r.things if isinstance(t.found, FoundWalk)]
        self._walks_left_out = {t.id for t in walks if self._ignored(t)}
        self._noted_names = {stop_id: noted_name(self._plan, stop_id, decisions.get) for stop_id in self._plan.stop_ids}
        names = {i: n for i, n in names.items() if i not in self._noted_names}
        names |= {stop_id: name for stop_id, name in self._noted_names.items() if name is not None}
        self._batch = Batch(Gathered(known.stand), frame, known.walks, names)
        self._out = Taking(self._batch, {r.number: _Counts(skipped=list(r.findings.skipped)) for r in readings})
        self._merges: list[tuple[Reading, Thing, str]] = []
        self._merged_stops: list[tuple[Reading, StopsOfWalk, TakenStop, str]] = []

    def take(self) -> Taking:
        """Take everything in.

        Raises
        ------
        UserError
            If the person asked to stop, or a merge leads nowhere.
        """
        for reading in sorted(self._readings, key=lambda r: r.without_own_keys):
            self._take_located(reading)
        for reading in self._readings:
            for thing in reading.things:
                if isinstance(thing.found, FoundWalk) and not self._ignored(thing):
                    self._take_walk(reading, thing, thing.found)
        self._take_merges()
        self._take_notes()
        self._take_sights()
        for reading in self._readings:
            self._take_lists(reading)
            self._take_weather(reading)
        self._tell_of_trees_seen_again()
        stop_if_wanted(self._progress)
        self._out.close = tuple(close_new_trees(self._batch))
        for a, b, apart in self._out.close:
            self._messages.caution(
                f"{a.name} and {b.name} stand {apart:.2f} m apart: same rootstock? or one tree twice?"
            )
        return self._out

    def _tell_of_trees_seen_again(self) -> None:
        known = self._batch.trees.stand.by_key
        again = {s.tree.key for s in self._out.stops if s.tree is not None and s.tree.key in known}
        if again:
            self._messages.tell(
                f"known trees stopped at again: {len(again)}; adjusting makes the best of all that is measured"
            )

    def _decided(self, thing: Thing) -> Decision:
        by_default = Verb.IGNORE if thing.doubt and not self._anyway else Verb.ACCEPT
        return self._decisions.get(thing.id, Decision(by_default))

    def _ignored(self, thing: Thing) -> bool:
        return self._decided(thing).verb is Verb.IGNORE

    def _intake(self, reading: Reading) -> Intake:
        return Intake(self._batch, reading.source, self._today, self._messages)

    def _note(self, reading: Reading, thing: Thing, taken: Taken) -> None:
        self._out.taken[thing.id] = taken
        counts = self._out.reports[reading.number]
        if taken.what == "refused":
            counts.skipped.append(Skipped(thing.found.where, taken.why))
        counts.count(taken.what)

    def _leave_out(self, reading: Reading, thing: Thing) -> None:
        doubted = thing.doubt is not None and thing.id not in self._decisions
        why = f"{thing.doubt}; give --anyway to take it all the same" if doubted else "left out by choice"
        self._out.reports[reading.number].skipped.append(Skipped(thing.found.where, why))

    def _take_located(self, reading: Reading) -> None:
        things = [t for t in reading.things if t.located and not self._is_note(t)]
        for thing in things:
            if self._ignored(thing):
                self._leave_out(reading, thing)
        for number, thing in enumerate(things):
            if number % LOOK_UP_EVERY == 0:
                self._progress.at(number, len(things), reading.source.file_name)
                stop_if_wanted(self._progress)
            decision = self._decided(thing)
            if decision.verb is Verb.IGNORE or isinstance(thing.found, FoundWalk | FoundSight | FoundNote | FoundPhoto):
                continue
            if not isinstance(thing.found, FoundTree):
                self._note(reading, thing, Taken(take_ground(self._batch, thing.found, reading.source.key)))
            elif decision.verb is Verb.MERGE:
                self._merges.append((reading, thing, decision.into or ""))
            else:
                apart = decision.verb is Verb.SPLIT
                self._note(reading, thing, take_tree(self._intake(reading), thing.id, thing.found, apart=apart))

    def _is_note(self, thing: Thing) -> bool:
        """Return whether it goes with a stop; a waypoint does not where its walk is left out."""
        if isinstance(thing.found, FoundNote | FoundPhoto):
            return True
        placed = self._plan.placed.get(thing.id)
        return placed is not None and placed.stay is not None and placed.stay.walk_id not in self._walks_left_out

    def _take_walk(self, reading: Reading, thing: Thing, found: FoundWalk) -> None:
        stop_if_wanted(self._progress)
        walk = take_walk(self._batch, found, reading.source)
        self._note(reading, thing, Taken("added" if walk else "same"))
        if walk is None:
            self._take_waiting(reading, thing, found)
            return
        if not found.fixes.timed:
            self._messages.tell(
                f"{reading.source.file_name}, {found.where}: no times, so no stops: kept as a line only"
            )
            return
        assert self._batch.frame is not None  # noqa: S101 - a walk has positions, so a frame was chosen
        self._progress.at(0, 0, f"{reading.source.file_name}: looking for stops")
        sought = self._sought.of(found, self._batch.frame, self._plan.marks)
        ids = [f"{thing.id}, stop {number}" for number in range(1, len(sought) + 1)]
        noted = [(self._noted_names.get(i), noted_girth(self._plan, i, self._decisions.get)) for i in ids]
        stops = StopsOfWalk(self._batch, walk, sought, noted)
        if stops.off_m is not None:
            ways = way_words(*stops.off_m)
            self._out.shifts[thing.id] = f"it lies {ways} of the known trees: allowed for"
            self._out.reports[reading.number].walks.append(OffWalk(walk.name, *stops.off_m))
            self._messages.tell(f"{walk.name} lies {ways} of the known trees: allowed for, and taken off by adjusting")
        for number, (item_id, stop) in enumerate(zip(ids, sought, strict=True), start=1):
            self._take_stop(reading, stops, TakenStop(item_id, thing.id, number, stop))

    def _take_waiting(self, reading: Reading, thing: Thing, found: FoundWalk) -> None:
        """Look again for the trees of those stops of a known walk that nobody has decided about."""
        walk, frame = known_walk(self._batch, found), self._batch.frame
        rows = [s for s in self._known_stops if walk is not None and s.walk_key == walk.key]
        rows = sorted((s for s in rows if s.state is not StopState.IGNORED), key=lambda s: s.from_at)
        if walk is None or frame is None or not any(row.waits for row in rows):
            return
        sought = [found_again(row, frame) for row in rows]
        stops = StopsOfWalk(self._batch, walk, sought)
        for number, (row, stop) in enumerate(zip(rows, sought, strict=True), start=1):
            if row.waits:
                at = TakenStop(f"{thing.id}, stop {number}", thing.id, number, stop, row=row)
                self._take_stop(reading, stops, at)

    def _take_stop(self, reading: Reading, stops: StopsOfWalk, at: TakenStop) -> None:
        decision = self._decisions.get(at.id, Decision(Verb.ACCEPT))
        if decision.verb is Verb.MERGE:
            self._merged_stops.append((reading, stops, at, decision.into or ""))
            return
        meant = None if decision.verb is Verb.IGNORE else self._meant(stops, at)
        asked = meant is not None and not meant.sure and not meant.own
        undecided = asked and at.id not in self._decisions and not self._anyway
        if undecided or decision.verb is Verb.WAIT:
            self._note_stop(reading, stops.walk, at, None, meant)
            return
        if decision.verb is Verb.IGNORE:
            tree = None
        elif meant is None or decision.verb is Verb.SPLIT:
            tree = stops.propose(at.stop, at.id)
        else:
            tree = meant.tree
        self._note_stop(reading, stops.walk, at, tree, meant)

    def _meant(self, stops: StopsOfWalk, at: TakenStop) -> Meant | None:
        """Return the known tree of a stop: the one whose name was noted there, else the one that stands there."""
        name = self._noted_names.get(at.id)
        if name is None:
            return stops.meant(at.stop)
        frame, here = self._batch.frame, (at.stop.lon, at.stop.lat)
        assert frame is not None  # noqa: S101 - a walk has positions, so a frame was chosen
        reach = SAME_NAME_WITHIN_M + 3 * at.stop.sigma_m
        away = [(apart_m(frame, tree.at, here), tree) for tree in self._batch.trees.called(name)]
        near = [(apart, tree) for apart, tree in away if apart <= reach and tree.standing is not Standing.MERGED]
        if near:
            apart, tree = min(near, key=lambda one: one[0])
            return Meant(tree, apart, own=tree.key in self._batch.makers)
        meant = stops.meant(at.stop)
        # A tree of another name beside it is not the one whose tag was read.
        return meant if meant is not None and renameable(meant.tree) else None

    def _note_stop(
        self, reading: Reading, walk: Walk, at: TakenStop, tree: Tree | None, meant: Meant | None = None
    ) -> None:
        undecided = tree is None and meant is not None
        brought = note_stop(self._batch, walk, at.stop, tree, undecided=undecided, row=at.row)
        report = self._out.reports[reading.number]
        if tree is not None:
            report.stops.append(brought)
        elif undecided and meant is not None:
            why = f"{which_tree(meant)}; --review lets you decide it"
            report.skipped.append(Skipped(f"stop {at.number}", why))
            report.waiting.append(WaitingStop(f"stop {at.number}", brought, likely_trees(meant)))
        else:
            report.ignored += 1
        self._out.stops.append(replace(at, tree=tree, meant=meant))

    def _take_notes(self) -> None:
        intake = NoteIntake(
            self._batch,
            self._plan,
            self._messages,
            decided=self._decisions.get,
            target=self._target,
            stop_tree=self._tree_of,
            intake=self._intake,
            shift_days=round((self._clock.ahead_s or 0.0) / 86_400),
        )
        things = [(r, t) for r in self._readings for t in r.things if self._is_note(t)]
        self._out.notes = take_notes(intake, things)
        for note in self._out.notes:
            counts = self._out.reports[note.reading.number]
            if note.taken is not None:
                self._note(note.reading, note.thing, note.taken)
            else:
                doubted = note.fate is Fate.DOUBTFUL and note.thing.id not in self._decisions
                why = f"{note.why}; --review lets you decide it" if doubted else "left out by choice"
                counts.skipped.append(Skipped(note.thing.found.where, why))

    def _take_sights(self) -> None:
        things = [(r, t) for r in self._readings for t in r.things if isinstance(t.found, FoundSight)]
        intake = SightIntake(
            self._batch,
            self._known_sights,
            self._today,
            self._messages,
            anyway=self._anyway,
            decided=self._decisions.get,
            target=self._target,
        )
        self._out.sights = take_sights(intake, things)
        for taken in self._out.sights:
            counts = self._out.reports[taken.reading.number]
            if taken.new:
                counts.count("added" if taken.row is not None else "updated")
            elif taken.left_out:
                grave = taken.fate is Fate.DOUBTFUL and taken.thing.id not in self._decisions
                why = taken.why + ANYWAY if grave else taken.why or "left out by choice"
                counts.skipped.append(Skipped(taken.thing.found.where, why))
            if taken.tree is not None:
                self._out.taken[taken.thing.id] = Taken("added" if taken.makes else "same", taken.tree)

    def _take_lists(self, reading: Reading) -> None:
        for thing in reading.things:
            if thing.located or not isinstance(thing.found, FoundTree):
                continue
            decision = self._decided(thing)
            if decision.verb is Verb.IGNORE:
                self._leave_out(reading, thing)
            elif decision.verb is Verb.MERGE:
                tree = self._target(thing.id, decision.into or "")
                self._note(reading, thing, give_to(self._intake(reading), tree, thing.found))
            else:
                self._note(reading, thing, take_tree(self._intake(reading), thing.id, thing.found))

    def _take_weather(self, reading: Reading) -> None:
        if not reading.findings.weather and not reading.findings.signs:
            return
        frame = self._batch.frame
        added, updated, skipped = self._batch.weather.take(
            reading.findings,
            reading.source,
            self._today,
            None if frame is None else (frame.lon0, frame.lat0),
            self._messages,
            height_m=height_m_of([*self._batch.known_walks, *self._batch.walks]),
        )
        counts = self._out.reports[reading.number]
        counts.added += added
        counts.updated += updated
        counts.skipped += skipped

    def _take_merges(self) -> None:
        for reading, thing, into in self._merges:
            assert isinstance(thing.found, FoundTree)  # noqa: S101 - only trees are merged
            tree = self._target(thing.id, into)
            self._note(reading, thing, give_to(self._intake(reading), tree, thing.found))
        for reading, stops, at, into in self._merged_stops:
            self._note_stop(reading, stops.walk, at, self._target(at.id, into))

    def _target(self, item_id: str, into: str) -> Tree:
        """Return the tree that something is merged into: another item's, or a known one."""
        if into == item_id:
            raise UserError(f"{item_id}: an item cannot be merged into itself", "name another tree")
        came_by = {item_id}
        while (onward := self._decisions.get(into)) is not None and onward.verb is Verb.MERGE:
            if into in came_by:
                raise UserError(f"{item_id}: these items are merged in a circle", "let one of them be a tree")
            came_by.add(into)
            into = onward.into or ""
        tree = self._tree_of(into)
        if tree is None:
            tree = self._batch.trees.tree(into)
        if tree is None or tree.standing is Standing.MERGED:
            tree = next(iter(self._batch.trees.stand.named(into)), None)
        if tree is None:
            raise UserError(
                f"{item_id}: there is no tree '{into[:60]}' to merge it into", "name a tree that is taken in"
            )
        # As it is by now: an earlier merge may have added to it.
        return self._batch.trees.tree(tree.key) or tree

    def _tree_of(self, item_id: str) -> Tree | None:
        taken = self._out.taken.get(item_id)
        if taken is not None:
            return taken.tree
        return next((s.tree for s in self._out.stops if s.id == item_id), None)
