"""Writing down what happened in the wood: history is fact, so it is taken as told, but never in silence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path

from standmap.errors import NothingToDo, UserError
from standmap.formats.records_csv import COLLECTED, SLIT, TAPPED, FoundRecord, hole_of_season, read_records_csv
from standmap.jobs.bring import hash_of
from standmap.jobs.clock import moment_of
from standmap.jobs.keys import new_key
from standmap.jobs.record_warnings import TapWarnings
from standmap.jobs.rule_choice import rules_of
from standmap.jobs.trip_totals import with_totals_shared
from standmap.messages import Messages, Silence
from standmap.sap.expected import VESSEL_ML
from standmap.stand.records import RECORDS_FORMAT, Source
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import CLOSING, Act, Collection, Observation, TapHole, Wound
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile

WOUNDS = {TAPPED: Wound.HOLE, SLIT: Wound.SLIT}

EARLIEST = date(1900, 1, 1)
"""Nobody taps by memory older than this."""


@dataclass(frozen=True, slots=True)
class RecordReport:
    """What was written down.

    Attributes
    ----------
    lines
        Lines read.
    holes, collections, acts
        New rows of each kind.
    cautions
        What the person should know at once, such as a tap on a resting tree.
    known
        Whether the very same file was recorded before; then nothing was written.
    """

    file: str
    lines: int
    holes: int
    collections: int
    acts: int
    cautions: tuple[str, ...] = ()
    known: bool = False


class _Refused(Exception):  # noqa: N818 - gathered, then told as one UserError
    pass


@dataclass
class _Book:
    """The stand's history with what this command adds, line by line."""

    stand: Stand
    warnings: TapWarnings
    today: date
    source_key: str | None
    holes: list[TapHole] = field(default_factory=list)
    collections: list[Collection] = field(default_factory=list)
    acts: list[Observation] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    _holes_of: dict[str, list[TapHole]] = field(default_factory=dict)
    _done: dict[str, dict[Act, date]] = field(default_factory=dict)
    _collected: set[tuple[object, ...]] = field(default_factory=set)
    _closed_at: dict[str, datetime] = field(default_factory=dict)
    _emptied_at: dict[str, datetime] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._holes_of = {key: list(holes) for key, holes in self.stand.holes_of.items()}
        self._collected = {(c.hole_key, c.collected_on, c.collected_at, c.volume_ml) for c in self.stand.collections}
        for seen in self.stand.observations:
            if seen.hole_key is not None:
                self._done.setdefault(seen.hole_key, {})[seen.what] = seen.observed_on
                if seen.what in CLOSING and seen.observed_at is not None:
                    self._note_closed(seen.hole_key, seen.observed_at)
        for taken in self.stand.collections:
            if taken.collected_at is not None:
                self._note_emptied(taken.hole_key, taken.collected_at)

    def take(self, record: FoundRecord) -> None:
        """Take one line; raises `_Refused` with the reason."""
        if record.on > self.today:
            raise _Refused(f"{record.on.isoformat()} is after today ({self.today.isoformat()})")
        if record.on < EARLIEST:
            raise _Refused(f"{record.on.isoformat()} is before {EARLIEST.year}: is the year right?")
        try:
            tree = self.stand.tree(record.tree)
        except UserError as error:
            raise _Refused(str(error)) from None
        if record.what in WOUNDS:
            self._make(tree, record)
        elif record.what == COLLECTED:
            self._collect(tree, record)
        else:
            self._act(tree, record)

    # One kind of line each

    def _make(self, tree: Tree, record: FoundRecord) -> None:
        siblings = [h for h in self._holes_of.get(tree.key, ()) if h.season == record.on.year]
        number = max((h.number for h in siblings), default=0) + 1
        if record.hole is not None:
            number, season = _number(record.hole)
            if season not in (None, record.on.year):
                raise _Refused(f"a hole made on {record.on.isoformat()} is not of {season}")
            if any(h.number == number for h in siblings):
                raise _Refused(f"{tree.name} has a hole {number} of {record.on.year} already")
        hole = TapHole(
            key=new_key(),
            tree_key=tree.key,
            number=number,
            kind=WOUNDS[record.what],
            made_on=record.on,
            made_at=moment_of(record.on, record.at),
            height_mm=record.height_mm,
            side_deg=record.side_deg,
            depth_mm=record.depth_mm,
            bit_mm=record.bit_mm,
            note=record.note,
            source_key=self.source_key,
        )
        self.cautions.extend(self.warnings.about(tree, hole, self._holes_of))
        self.holes.append(hole)
        self._holes_of.setdefault(tree.key, []).append(hole)

    def _collect(self, tree: Tree, record: FoundRecord) -> None:
        assert record.volume_ml is not None  # noqa: S101 - the reader refuses a collection without litres
        hole = self._choose(tree, record, self._open(tree, record.on), "open hole", self._why_none(tree, record.on))
        at = moment_of(record.on, record.at)
        if at is not None and hole.made_at is not None and at < hole.made_at:
            raise _Refused(f"{tree.name} was collected at {record.at} but tapped later that day")
        if at is not None:
            if at > self._closed_at.get(hole.key, at):
                raise _Refused(f"{tree.name} was collected at {record.at} but its tube was out before")
            self._note_emptied(hole.key, at)
        if (hole.key, record.on, at, record.volume_ml) in self._collected:
            self.cautions.append(
                f"{tree.name}: {record.volume_ml / 1000:g} L on {record.on.isoformat()} is written down already: twice?"
            )
        self._collected.add((hole.key, record.on, at, record.volume_ml))
        if record.volume_ml > VESSEL_ML:
            litres = record.volume_ml / 1000
            self.cautions.append(
                f"{tree.name}: {litres:g} L is more than one vessel of {VESSEL_ML / 1000:g} L: several, or a slip?"
            )
        self.collections.append(
            Collection(
                key=new_key(),
                hole_key=hole.key,
                collected_on=record.on,
                collected_at=at,
                volume_ml=record.volume_ml,
                given=record.given or f"{record.volume_ml / 1000:g}",
                given_unit=record.given_unit,
                note=record.note,
                source_key=self.source_key,
                overflowed=record.overflowed,
                total_key=record.total_key,
            )
        )

    def _act(self, tree: Tree, record: FoundRecord) -> None:
        act = Act(record.what)
        made = [h for h in self._holes_of.get(tree.key, ()) if h.made_on <= record.on]
        hole: TapHole | None
        if act is Act.LOOKED_AT and record.hole is None:
            hole = made[0] if len(made) == 1 else None  # looking at a tree needs no hole
        elif act is Act.TAKEN_OUT:
            waiting = [h for h in made if not self._has(h, *CLOSING)]
            hole = self._choose(tree, record, waiting, "hole with its tube in", self._why_none(tree, record.on))
        elif act in (Act.PLUGGED, Act.LEFT_OPEN):
            waiting = [h for h in made if not self._has(h, Act.PLUGGED, Act.LEFT_OPEN)]
            hole = self._choose(tree, record, waiting, "hole without a plug", "look up its history")
        elif act is Act.TRIMMED:
            waiting = [
                h
                for h in made
                if self._done.get(h.key, {}).get(Act.PLUGGED, date.max) <= record.on and not self._has(h, Act.TRIMMED)
            ]
            hole = self._choose(tree, record, waiting, "plugged hole to trim", "record 'plugged' first")
        elif act in (Act.SEEN_CLOSED, Act.SEEN_OPEN):
            # Which one has closed is not guessed: neither the newest nor the oldest is likelier.
            waiting = [h for h in made if record.hole is not None or not self._has(h, Act.SEEN_CLOSED)]
            hole = self._choose(tree, record, waiting, "hole", "record 'tapped' first", newest_first=False)
        else:
            hole = self._choose(tree, record, made, "hole", "leave the hole out")
        at = moment_of(record.on, record.at)
        self.acts.append(
            Observation(
                key=new_key(),
                tree_key=tree.key,
                hole_key=hole.key if hole else None,
                what=act,
                observed_on=record.on,
                observed_at=at,
                note=record.note,
                source_key=self.source_key,
            )
        )
        if hole is not None:
            if act in CLOSING and at is not None:
                if at < self._emptied_at.get(hole.key, at):
                    raise _Refused(f"{tree.name} was {act} at {record.at} but collected later")
                self._note_closed(hole.key, at)
            self._done.setdefault(hole.key, {})[act] = record.on

    def _note_closed(self, hole_key: str, at: datetime) -> None:
        self._closed_at[hole_key] = min(at, self._closed_at.get(hole_key, at))

    def _note_emptied(self, hole_key: str, at: datetime) -> None:
        self._emptied_at[hole_key] = max(at, self._emptied_at.get(hole_key, at))

    # Which hole

    def _has(self, hole: TapHole, *acts: Act) -> bool:
        return any(act in self._done.get(hole.key, {}) for act in acts)

    def _open(self, tree: Tree, on: date) -> list[TapHole]:
        """Return the wounds of this season that were made by then and whose tube was not out before that day."""
        found = []
        for hole in self._holes_of.get(tree.key, ()):
            closed = [day for act, day in self._done.get(hole.key, {}).items() if act in CLOSING]
            if hole.season == on.year and hole.made_on <= on and all(on <= day for day in closed):
                found.append(hole)
        return found

    def _why_none(self, tree: Tree, on: date) -> str:
        """Return why a tree has no open hole, and what to do."""
        made = [h for h in self._holes_of.get(tree.key, ()) if h.made_on <= on]
        if not made:
            return "record 'tapped' first"
        acts = self._done.get(made[-1].key, {})
        closing = [(day, act) for act, day in acts.items() if act in CLOSING]
        if closing:
            day, act = min(closing)
            return f"the last one was {act} on {day.isoformat()}"
        return f"the last one is of {made[-1].season}"

    def _choose(
        self,
        tree: Tree,
        record: FoundRecord,
        among: Sequence[TapHole],
        what: str,
        remedy: str,
        *,
        newest_first: bool = True,
    ) -> TapHole:
        on = record.on.isoformat()
        named = next((h for h in self._holes_of.get(tree.key, ()) if h.key == record.hole), None)
        if named is not None and named in among:
            return named
        if record.hole is not None:
            number, season = (named.number, None) if named is not None else _number(record.hole)
            among = [] if named is not None else [h for h in among if h.number == number]
            among = [h for h in among if season is None or h.season == season]
            what = f"{what} {number}" if what != "hole" else f"hole {number}"
        if not among:
            raise _Refused(f"{tree.name} has no {what} on {on}: {remedy}")
        newest = [h for h in among if not newest_first or h.season == max(a.season for a in among)]
        if len(newest) > 1:
            numbers = ", ".join(str(h.number) if newest_first else hole_of_season(h) for h in newest)
            raise _Refused(f"{tree.name} has {len(newest)} such holes on {on}: say which in 'hole' ({numbers})")
        return newest[0]


def _number(text: str) -> tuple[int, int | None]:
    """Return the number of a hole and the season where that is named, too: "1", "1 of 2024"."""
    number, of, season = text.strip().partition(" of ")
    if not number.isdecimal() or not 1 <= int(number) <= 99 or (of and not (season.isdecimal() and len(season) == 4)):
        raise _Refused(f"'{text[:20]}' is not a hole number: write 1, 2 ... or '1 of 2024'")
    return int(number), int(season) if of else None


def record_file(
    file: StandFile, path: Path, today: date, now: datetime, messages: Messages | None = None
) -> RecordReport:
    """Write down a table of returns: all its lines or none.

    Raises
    ------
    UserError
        If a line cannot be true; the first is named, and how many others there are.
    """
    sha256, size = hash_of(path)
    known = file.source_with_hash(sha256, records=True)
    if known is not None:
        (messages or Silence()).tell(f"{path.name}: this very file was recorded before; nothing to add")
        return RecordReport(path.name, 0, 0, 0, 0, known=True)
    found = read_records_csv(path)
    if not found.records:
        raise NothingToDo(f"{path.name}: the table has no lines below its header")
    for told in found.told:
        (messages or Silence()).tell(f"{path.name}: {told}")
    source = Source(new_key(), path.name, sha256, RECORDS_FORMAT, size, now)
    records = found.records
    if any(line.trip for line in records):
        records = with_totals_shared(file.stand(), records, path.name)
    return record(file, records, today, now, file_name=path.name, source=source)


def record(
    file: StandFile,
    records: Sequence[FoundRecord],
    today: date,
    now: datetime,
    *,
    file_name: str = "",
    source: Source | None = None,
    label: str = "",
    in_place_of: Sequence[Collection | Observation] = (),
    changed: Sequence[Tree | TapHole] = (),
) -> RecordReport:
    """Write down lines that were read or typed, as one edit; see `record_file`.

    Parameters
    ----------
    label
        What the log and undo will say; by default what is recorded, and where from.
    in_place_of
        What was written down before, which these lines put right: it is taken out by the same edit.
    changed
        Trees and wounds that are there, as they are to be from this edit on.
    """
    stand = file.stand()
    if in_place_of:
        gone = {taken.key for taken in in_place_of}
        stand = replace(
            stand,
            collections=tuple(c for c in stand.collections if c.key not in gone),
            observations=tuple(o for o in stand.observations if o.key not in gone),
        )
    warnings = TapWarnings(stand, rules_of(stand))
    book = _Book(stand, warnings, today, source.key if source else None)
    refused: list[str] = []
    # In the order of the days, and in the order of the table within a day.
    for line in sorted(records, key=lambda r: r.on):
        try:
            book.take(line)
        except _Refused as reason:
            where = f"line {line.line}: " if line.line else ""
            refused.append(f"{where}{reason}")
    if refused:
        more = f" (and {len(refused) - 1} more at fault)" if len(refused) > 1 else ""
        name = f"{file_name}, " if file_name else ""
        raise UserError(f"{name}{refused[0]}{more}", "nothing was written: mend it and record again")
    cautions = (*book.cautions, *warnings.about_limits(book.holes))
    # What was put right is in the same batch as before.
    batch = {(c.hole_key, c.collected_on): c.batch_key for c in in_place_of if isinstance(c, Collection)}
    collections = [replace(c, batch_key=batch.get((c.hole_key, c.collected_on))) for c in book.collections]
    if not label:
        label = f"record {file_name}" if file_name else f"record {records[0].what} for {records[0].tree}"
    with file.writing(label, now) as writing:
        if source is not None:
            writing.insert(source)
        for taken in in_place_of:
            writing.delete(taken)
        for thing in changed:
            writing.replace(thing)
        writing.insert_many(book.holes)
        writing.insert_many(collections)
        writing.insert_many(book.acts)
    return RecordReport(file_name, len(records), len(book.holes), len(book.collections), len(book.acts), cautions)
