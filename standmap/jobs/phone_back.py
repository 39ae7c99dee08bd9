"""What a phone brought home, made into records: each entry once, and what disagrees with the stand shown first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path

from standmap.errors import NothingToDo, UserError
from standmap.formats.phone_returns import PhoneEntry, PhoneReturns, PhoneTotal, is_phone_returns, read_phone_returns
from standmap.formats.records_csv import COLLECTED, TAPPED, FoundRecord
from standmap.jobs.bring import hash_of
from standmap.jobs.given_walk import GivenStop, GivenWalk, walks_given_out
from standmap.jobs.keys import new_key
from standmap.jobs.record import RecordReport, record
from standmap.jobs.returns import Volume
from standmap.jobs.trip_totals import share_given, share_note, shares_ml
from standmap.stand.records import RECORDS_FORMAT, Source
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Collection, Observation, TapHole
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile

SAME_ML = 0.5
"""Volumes this close are one: half a millilitre is lost where a phone counts in other units."""


class Keep(StrEnum):
    """Whose word holds where phone and stand disagree."""

    OURS = "ours"
    THEIRS = "theirs"


@dataclass(frozen=True, slots=True)
class BackConflict:
    """One stop of which the stand says something else already.

    Attributes
    ----------
    what
        What it is about, such as "litres of 2026-03-28".
    ours, theirs
        What the stand and what the phone says, in words.
    """

    tree: str
    what: str
    ours: str
    theirs: str

    @property
    def line(self) -> str:
        """Return it in one line."""
        return f"{self.tree}, {self.what}: here {self.ours}, on the phone {self.theirs}"


@dataclass(frozen=True, slots=True)
class BackProposal:
    """What would be written down.

    Attributes
    ----------
    returns
        As the phone wrote them.
    records
        New lines.
    same
        How many entries are written down already, just so.
    skipped
        Stops that were not done, in words.
    conflicts, against
        What disagrees; for each the lines that would stand in place of what is here, and what they would replace.
    changed
        Trees whose tag was read and was not yet known to be there.
    cautions
        What the person should know.
    """

    file: str
    returns: PhoneReturns
    records: tuple[FoundRecord, ...]
    same: int
    skipped: tuple[str, ...]
    conflicts: tuple[BackConflict, ...]
    against: tuple[_Against, ...]
    changed: tuple[Tree, ...]
    cautions: tuple[str, ...]
    source: Source

    @property
    def nothing(self) -> bool:
        """Whether there is nothing to write down or to decide."""
        return not (self.records or self.conflicts or self.changed)


@dataclass(frozen=True, slots=True)
class _Against:
    """What one conflict comes to when the phone is right."""

    lines: tuple[FoundRecord, ...] = ()
    in_place_of: tuple[Collection | Observation, ...] = ()
    mended: TapHole | None = None


def is_back(path: Path) -> bool:
    """Return whether a file is what a phone brings home, by its first bytes."""
    try:
        with path.open("rb") as file:
            return is_phone_returns(file.read(4096))
    except OSError:
        return False


def propose_back(file: StandFile, path: Path, now: datetime) -> BackProposal:
    """Hold a returns file of a phone against the stand; nothing is written.

    Raises
    ------
    UserError
        If the file cannot be read, or names a tree or wound that cannot be found.
    """
    returns = read_phone_returns(path)
    walk = next((w for w in walks_given_out(file) if w.key == returns.plan_key), None)
    sha256, size = hash_of(path)
    source = Source(new_key(), path.name, sha256, RECORDS_FORMAT, size, now)
    return _Sorting(file.stand(), walk, returns, path.name, source).proposal()


def take_back(
    file: StandFile, proposal: BackProposal, today: date, now: datetime, keep: Keep | None = None
) -> RecordReport:
    """Write down what a phone brought home, as one edit.

    Parameters
    ----------
    keep
        Whose word holds in every conflict.

    Raises
    ------
    NothingToDo
        If all of it is written down already.
    UserError
        If there is a conflict and nobody's word was said to hold, or an entry cannot be true.
    """
    if proposal.nothing:
        raise NothingToDo(f"{proposal.file}: all of it is written down already")
    if proposal.conflicts and keep is None:
        count = len(proposal.conflicts)
        raise UserError(
            f"{proposal.file}: {'1 entry disagrees' if count == 1 else f'{count} entries disagree'} with the stand, "
            "nothing was written",
            "decide with --ours or --theirs",
        )
    against = proposal.against if keep is Keep.THEIRS else ()
    mended = tuple(a.mended for a in against if a.mended is not None)
    records = (*proposal.records, *(line for a in against for line in a.lines))
    if not records and not mended and not proposal.changed:
        raise NothingToDo(f"{proposal.file}: nothing new beside what disagrees")
    known = file.source_with_hash(proposal.source.sha256, records=True)
    report = record(
        file,
        records,
        today,
        now,
        file_name=proposal.file,
        source=proposal.source if known is None else None,
        label=f"returns of {proposal.returns.day.isoformat()} from a phone",
        in_place_of=[old for a in against for old in a.in_place_of],
        changed=(*proposal.changed, *mended),
    )
    return replace(report, cautions=(*proposal.cautions, *report.cautions))


@dataclass
class _Sorting:
    """Sorts the entries of one phone into what is new, what is here already and what disagrees."""

    stand: Stand
    walk: GivenWalk | None
    returns: PhoneReturns
    file: str
    source: Source
    records: list[FoundRecord] = field(default_factory=list)
    conflicts: list[tuple[BackConflict, _Against]] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    tags: dict[str, Tree] = field(default_factory=dict)
    same: int = 0

    def proposal(self) -> BackProposal:
        """Return what all entries come to."""
        if self.walk is None:
            self.cautions.append(
                f"{self.file}: its walk was not given out from this copy of the stand; trees are taken by their names"
            )
        unmeasured: dict[int, list[tuple[PhoneEntry, TapHole]]] = {}
        for entry in self.returns.entries:
            if not entry.done:
                self._skip(entry)
                continue
            tree, hole = self._meant(entry)
            if entry.tag_read and not tree.tag_confirmed:
                self.tags[tree.key] = replace(tree, tag_confirmed=True)
            if self.returns.purpose == "tapping":
                self._tapped(entry, tree, hole)
                continue
            if hole is None:
                raise self._refused(entry, "has no such hole in this stand", "look up its history, then record by hand")
            if entry.volume is not None:
                self._collected(entry, hole, entry.volume.ml, entry.volume.given, entry.volume.unit, entry.note)
            elif self.returns.purpose == "collecting":
                unmeasured.setdefault(entry.trip, []).append((entry, hole))
            for act in entry.acts:
                self._done(entry, tree, hole, act)
        self._share_totals(unmeasured)
        return BackProposal(
            file=self.file,
            returns=self.returns,
            records=tuple(self.records),
            same=self.same,
            skipped=tuple(self.skipped),
            conflicts=tuple(conflict for conflict, _ in self.conflicts),
            against=tuple(against for _, against in self.conflicts),
            changed=tuple(self.tags.values()),
            cautions=tuple(self.cautions),
            source=self.source,
        )

    # Which tree and wound

    def _given(self, entry: PhoneEntry) -> GivenStop | None:
        return next((s for s in self.walk.stops if s.key == entry.stop), None) if self.walk is not None else None

    def _meant(self, entry: PhoneEntry) -> tuple[Tree, TapHole | None]:
        """Return the tree of an entry, and its wound where there is one."""
        hole = next((h for h in self.stand.holes if h.key == entry.stop), None)
        given = self._given(entry)
        key = hole.tree_key if hole is not None else given.tree_key if given is not None else entry.tree
        try:
            tree = self.stand.tree(key)
        except UserError as error:
            raise UserError(f"{self.file}: {error.what}", error.remedy) from None
        if hole is None:
            number = entry.hole if given is None else given.hole_number
            season = entry.at.year
            here = (h for h in self.stand.holes_of.get(tree.key, ()) if (h.season, h.number) == (season, number))
            hole = next(here, None)
        return tree, hole

    def _refused(self, entry: PhoneEntry, why: str, remedy: str) -> UserError:
        return UserError(f"{self.file}: {entry.tree} {why}", remedy)

    def _skip(self, entry: PhoneEntry) -> None:
        note = f" ({entry.note})" if entry.note else ""
        self.skipped.append(f"{entry.tree}: {entry.reason}{note}")

    # One kind of entry each

    def _line(self, entry: PhoneEntry, tree_key: str, hole: str | None, what: str) -> FoundRecord:
        return FoundRecord(
            line=0, tree=tree_key, hole=hole, on=entry.at.date(), at=entry.at.timetz(), what=what, note=entry.note
        )

    def _collected(
        self, entry: PhoneEntry, hole: TapHole, ml: float, given: str, unit: str, note: str, total: str | None = None
    ) -> None:
        day = entry.at.date()
        line = replace(
            self._line(entry, hole.tree_key, hole.key, COLLECTED),
            volume_ml=ml,
            given=given,
            given_unit=unit,
            overflowed=entry.overflowed,
            note=note,
            total_key=total,
        )
        here = [c for c in self.stand.collections_of.get(hole.key, ()) if c.collected_on == day]
        if not here:
            self.records.append(line)
        elif any(abs(c.volume_ml - ml) <= SAME_ML and c.overflowed == entry.overflowed for c in here):
            self.same += 1
        else:
            ours = " and ".join(_litres(c.volume_ml, overflowed=c.overflowed) for c in here)
            about = f"litres of {day.isoformat()}"
            conflict = BackConflict(self._called(hole), about, ours, _litres(ml, overflowed=entry.overflowed))
            self.conflicts.append((conflict, _Against((line,), tuple(here))))

    def _done(self, entry: PhoneEntry, tree: Tree, hole: TapHole, act: Act) -> None:
        line = self._line(entry, tree.key, hole.key, act)
        if entry.volume is not None or act is not entry.acts[0]:
            line = replace(line, note="")  # it stands with the first line of this stop
        mine = [o for o in self.stand.observations_of.get(tree.key, ()) if o.hole_key == hole.key]
        other = {Act.PLUGGED: Act.LEFT_OPEN, Act.LEFT_OPEN: Act.PLUGGED}.get(act)
        against = [o for o in mine if o.what is other]
        if any(o.what is act for o in mine):
            self.same += 1
        elif against:
            told = against[0]
            ours = f"{told.what} on {told.observed_on.isoformat()}"
            conflict = BackConflict(self._called(hole), "what was done to the wound", ours, str(act))
            self.conflicts.append((conflict, _Against((line,), tuple(against))))
        else:
            self.records.append(line)

    def _tapped(self, entry: PhoneEntry, tree: Tree, hole: TapHole | None) -> None:
        given = self._given(entry)
        number = str(entry.hole if given is None else given.hole_number)
        figures = {name: getattr(entry, name) for name in ("height_mm", "side_deg", "depth_mm", "bit_mm")}
        line = replace(self._line(entry, tree.key, number, TAPPED), **figures)
        if hole is None:
            self.records.append(line)
            return
        told = {name: value for name, value in figures.items() if value is not None}
        differing = {name: value for name, value in told.items() if getattr(hole, name) not in {None, value}}
        missing = {name: value for name, value in told.items() if getattr(hole, name) is None}
        if not differing and not missing:
            self.same += 1
            return
        ours = ", ".join(_figure(name, getattr(hole, name)) for name in {**differing, **missing})
        theirs = ", ".join(_figure(name, value) for name, value in {**differing, **missing}.items())
        conflict = BackConflict(self._called(hole), f"hole {hole.number} of {hole.season}", ours, theirs)
        self.conflicts.append((conflict, _Against(mended=replace(hole, **differing, **missing))))

    def _called(self, hole: TapHole) -> str:
        name = self.stand.by_key[hole.tree_key].name
        return name if hole.number == 1 else f"{name} hole {hole.number}"

    # Totals

    def _share_totals(self, unmeasured: dict[int, list[tuple[PhoneEntry, TapHole]]]) -> None:
        totals = {total.trip: total for total in self.returns.totals}
        for trip, emptied in unmeasured.items():
            total = totals.pop(trip, None)
            if total is None:
                names = ", ".join(entry.tree for entry, _ in emptied[:5])
                self.cautions.append(f"trip {trip}: emptied without litres and without a total: {names}")
                continue
            self._share(total, emptied)
        for trip, total in totals.items():
            own = self._own_ml(trip)
            if abs(own - total.volume.ml) > max(200.0, 0.05 * own):
                self.cautions.append(
                    f"trip {trip}: its total is {_litres(total.volume.ml)}, its trees by themselves {_litres(own)}"
                )

    def _own_ml(self, trip: int) -> float:
        return sum(e.volume.ml for e in self.returns.entries if e.trip == trip and e.volume is not None)

    def _share(self, total: PhoneTotal, emptied: Sequence[tuple[PhoneEntry, TapHole]]) -> None:
        left = total.volume.ml - self._own_ml(total.trip)
        if left < 0:
            raise UserError(
                f"{self.file}: the total of trip {total.trip} ({_litres(total.volume.ml)}) is less than its trees by "
                f"themselves ({_litres(self._own_ml(total.trip))})",
                "put the total or the litres right on the phone, and save the file again",
            )
        expected = [given.litres if (given := self._given(entry)) is not None else 1.0 for entry, _ in emptied]
        key = self._kept_total(emptied) or new_key()
        said = Volume(total.volume.ml, total.volume.given, total.volume.unit).shown()
        for (entry, hole), ml in zip(emptied, shares_ml(left, expected), strict=True):
            note = share_note(said, str(total.trip), entry.note)
            self._collected(entry, hole, ml, share_given(ml), "l", note, key)

    def _kept_total(self, emptied: Sequence[tuple[PhoneEntry, TapHole]]) -> str | None:
        """Return the key under which shares of this trip were kept before."""
        keys = {c.total_key for entry, hole in emptied for c in self._of_day(entry, hole) if c.total_key}
        return keys.pop() if len(keys) == 1 else None

    def _of_day(self, entry: PhoneEntry, hole: TapHole) -> Iterator[Collection]:
        return (c for c in self.stand.collections_of.get(hole.key, ()) if c.collected_on == entry.at.date())


def _litres(ml: float, *, overflowed: bool = False) -> str:
    return f"{ml / 1000:g} L" + (", overflowed" if overflowed else "")


def _figure(name: str, value: float | None) -> str:
    what, unit = name.rsplit("_", 1)
    shown = "nothing" if value is None else f"{value:g}{'°' if unit == 'deg' else f' {unit}'}"
    return f"{what} {shown}"
