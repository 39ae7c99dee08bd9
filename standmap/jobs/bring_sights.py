"""Field sheets on their way in: names become trees and points, and what they lead to is placed from what is known."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from standmap.formats.content import FoundSight
from standmap.jobs.anchors import UNKNOWN_SIGMA_M, spread_of
from standmap.jobs.bring_batch import Batch
from standmap.jobs.bring_items import Decision, Fate, Verb
from standmap.jobs.bring_reading import Reading, Thing
from standmap.jobs.bring_sight_checks import At, Closing, Spread, closings, gross_m, hangs_on, same_sight, useless
from standmap.jobs.bring_sight_names import MANY, NO_SUCH, Points
from standmap.jobs.bring_trees import Intake, give_to
from standmap.jobs.keys import new_key
from standmap.jobs.positions import xy
from standmap.jobs.sight_north import Declinations
from standmap.messages import Messages
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.sights import Sight
from standmap.stand.tree import LonLat, Tree

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame
    from standmap.survey.sighting import Placed

ANYWAY = "; give --anyway to take it all the same"

HANGS_ON_NOTHING = (
    "it hangs on nothing that is known; name a tree or a place of this stand in the sheet, or bring in a walk with it"
)


@dataclass(frozen=True, slots=True, eq=False)
class TakenSight:
    """What became of a line of a field sheet.

    Attributes
    ----------
    row
        As it is written; None when it is left out.
    new
        Whether it brings something that the stand does not have.
    tree
        The tree at its far end, as it will be.
    makes
        Whether that tree is new and comes of this line.
    course
        Longitude and latitude of its two ends, where both are known; of a doubtful line as it would be.
    covariance
        Of the tree that comes of it; of a doubtful line, of the tree that would come of it.
    closing
        Where the lines before it had placed both of its ends already, and that was asked for: how they meet.
    """

    reading: Reading
    thing: Thing
    name: str
    fate: Fate
    why: str = ""
    default: Verb = Verb.ACCEPT
    choices: tuple[Verb, ...] = ()
    row: Sight | None = None
    new: bool = False
    tree: Tree | None = None
    makes: bool = False
    course: tuple[LonLat, LonLat] | None = None
    covariance: Spread | None = None
    left_out: bool = False
    closing: Closing | None = None


@dataclass(frozen=True, slots=True)
class SightIntake:
    """How field sheets are taken in.

    Attributes
    ----------
    decided
        What was decided about a line; None where it goes as it goes by itself.
    target
        The tree that a line is merged into, by its id and what it is merged into.
    closings
        Whether it is asked how lines close that come back to a point.
    """

    batch: Batch
    known: Sequence[Sight]
    today: date
    messages: Messages
    anyway: bool
    decided: Callable[[str], Decision | None]
    target: Callable[[str, str], Tree]
    closings: bool = False


@dataclass(slots=True)
class _Line:
    """One line on its way: the sight that it would be, and why it may not be taken."""

    reading: Reading
    thing: Thing
    found: FoundSight
    row: Sight | None = None
    why: str = ""
    fate: Fate = Fate.NEW
    mergeable: bool = True
    left_out: bool = False
    closing: Closing | None = None


def take_sights(intake: SightIntake, things: Sequence[tuple[Reading, Thing]]) -> list[TakenSight]:
    """Take the lines of field sheets in, all of one command together: the order of files does not matter."""
    lines = [_Line(reading, thing, thing.found) for reading, thing in things if isinstance(thing.found, FoundSight)]
    return _Taker(intake, lines).take() if lines else []


class _Taker:
    def __init__(self, intake: SightIntake, lines: Sequence[_Line]) -> None:
        self._intake = intake
        self._batch = intake.batch
        self._lines = lines
        self._points = Points(intake.batch)
        self._makers: dict[str, str] = {}
        self._doubted: dict[str, Placed] = {}
        self._would_make: set[str] = set()

    def take(self) -> list[TakenSight]:
        for line in self._lines:
            decision = self._intake.decided(line.thing.id)
            if decision is not None and decision.verb is Verb.MERGE:
                tree = self._intake.target(line.thing.id, decision.into or "")
                self._points.let_mean(self._points.unsettled(line.found), tree.key)
        self._points.expect([line.found for line in self._lines if not self._ignored(line)])
        frame = self._batch.frame
        placed: dict[str, Placed] = {}
        if frame is None:
            for line in self._lines:
                self._refuse(line, HANGS_ON_NOTHING)
        else:
            placed = self._placed(frame)
        return self._told(frame, placed)

    # What was decided

    def _ignored(self, line: _Line) -> bool:
        decision = self._intake.decided(line.thing.id)
        return decision is not None and decision.verb is Verb.IGNORE

    def _insisted(self, line: _Line) -> bool:
        decision = self._intake.decided(line.thing.id)
        return self._intake.anyway if decision is None else decision.verb is not Verb.IGNORE

    def _refuse(self, line: _Line, why: str, *, mergeable: bool = False) -> None:
        line.fate, line.why, line.mergeable, line.left_out = Fate.REFUSED, why, mergeable, True

    def _doubt(self, line: _Line, why: str, *, grave: bool = True) -> None:
        """Ask about a line; a grave doubt leaves it out unless a person insists on it."""
        line.fate, line.why = Fate.DOUBTFUL, line.why or why
        line.left_out = line.left_out or (grave and not self._insisted(line))

    # Placing

    def _placed(self, frame: WorkingFrame) -> dict[str, Placed]:
        """Make the rows, leave out what cannot be or is in doubt, and place what the others lead to."""
        from standmap.survey.sighting import place

        rows = self._rows(frame)
        held = self._held(frame, rows)
        convergence = self._convergence(frame, held)
        usable = [line for line in self._lines if line.row is not None and not self._ignored(line)]
        first = place(held, self._rows_of(usable), convergence)
        if self._intake.closings:
            for line, how in zip(usable, closings(self._rows_of(usable), held, convergence), strict=True):
                line.closing = how
        self._look_for_blunders(usable, held, first, convergence)
        self._doubted = dict(first)
        kept = [line for line in usable if not line.left_out]
        placed = place(held, self._rows_of(kept), convergence)
        for line in kept:
            self._look_whether_placed(line, held, first, placed)
        return placed

    @staticmethod
    def _rows_of(lines: Sequence[_Line]) -> list[Sight]:
        return [line.row for line in lines if line.row is not None]

    def _rows(self, frame: WorkingFrame) -> list[Sight]:
        declinations = Declinations(self._intake.today, (frame.lon0, frame.lat0))
        rows: list[Sight] = []
        for line in self._lines:
            found = line.found
            day = found.measured_on
            if day is not None and day > self._intake.today:
                self._refuse(line, f"measured on {day}, which is after today ({self._intake.today})")
                continue
            ends = [self._points.meant(name) for name in (found.from_name, found.to_name, found.toward_name) if name]
            several = [name for name, keys in ends if len(keys) > 1]
            if several:
                self._refuse(line, f"{several[0]}: {MANY}", mergeable=len(set(several)) == 1)
                continue
            if any(not keys for _, keys in ends):
                if not self._ignored(line):  # then nothing was expected of it
                    self._refuse(line, f"{next(name for name, keys in ends if not keys)}: {NO_SUCH}")
                continue
            keys = [keys[0] for _, keys in ends]
            if keys[0] == keys[1]:
                self._refuse(line, "its two ends are one and the same point", mergeable=True)
                continue
            turn, why = declinations.of(found)
            if why:
                self._refuse(line, why)
                continue
            line.row = _row(found, keys, turn, line.reading.source.key or None)
            rows.append(line.row)
        for told in declinations.told():
            self._intake.messages.tell(told)
        for caution in declinations.cautions():
            self._intake.messages.caution(caution)
        return rows

    def _held(self, frame: WorkingFrame, rows: Sequence[Sight]) -> dict[str, At]:
        """Return where the points stand that are known, with their covariances."""
        wanted = {key for row in rows for key in (row.from_key, row.to_key, row.toward_key) if key}
        known = [(key, at) for key in sorted(wanted) if (at := self._points.at(key)) is not None]
        places = xy(frame, [at for _, at in known])
        return {
            key: ((float(x), float(y)), self._spread(key))
            for (key, _), (x, y) in zip(known, places, strict=True)
            if math.isfinite(x)
        }

    def _spread(self, key: str) -> Spread:
        tree = self._batch.trees.tree(key)
        return (UNKNOWN_SIGMA_M**2, UNKNOWN_SIGMA_M**2, 0.0) if tree is None else spread_of(tree)

    def _convergence(self, frame: WorkingFrame, held: Mapping[str, At]) -> float:
        if not held:
            return 0.0
        middle = np.mean([at for at, _ in held.values()], axis=0)
        return float(frame.convergence_deg(*frame.to_lonlat(middle[0], middle[1])))

    def _look_for_blunders(
        self,
        lines: Sequence[_Line],
        held: Mapping[str, At],
        placed: Mapping[str, Placed],
        convergence: float,
    ) -> None:
        """Doubt lines that were misread, lines that do not meet what is known, and whole loops that do not close."""
        from standmap.survey.sighting import misreadings, place

        rows = self._rows_of(lines)
        for line, row in zip(lines, rows, strict=True):
            for why in misreadings(row):
                self._doubt(line, why, grave=useless(row))
        for this, (line, row) in enumerate(zip(lines, rows, strict=True)):
            off = gross_m(row, held, placed, convergence)
            if off is None:
                continue
            one, other = (hangs_on(key, placed, rows, but=this) for key in (row.from_key, row.to_key))
            beside = place(held, [rows[number] for number in sorted(one | other)], convergence)
            off = gross_m(row, held, beside, convergence) or off  # what it says itself had drawn its ends nearer
            for number in sorted(one ^ other):
                if lines[number] is not line:
                    which = f"{line.found.from_name} to {line.found.to_name}, {line.found.where}"
                    self._doubt(
                        lines[number], f"part of a loop that closes {off:.1f} m off ({which}); one line is wrong"
                    )
            known = row.from_key in held and row.to_key in held
            met = f"{self._points.name(row.to_key)} as it is known" if known else "what the other lines say"
            self._doubt(line, f"it misses {met} by {off:.1f} m; one of them is wrong")

    def _look_whether_placed(
        self,
        line: _Line,
        held: Mapping[str, object],
        first: Mapping[str, Placed],
        placed: Mapping[str, Placed],
    ) -> None:
        row = line.row
        assert row is not None  # noqa: S101 - only lines with one are asked
        missing = [k for k in (row.from_key, row.to_key, row.toward_key) if k and k not in held and k not in placed]
        if not missing:
            return
        if all(key in first for key in missing):
            self._doubt(line, f"it hangs on {self._points.name(missing[0])}, which is in doubt")
            line.left_out = True
        elif len(missing) == 1:
            name = self._points.name(missing[0])
            why = f"it does not tell where {name} is: add a distance to the bearing, a third tape, or another bearing"
            self._refuse(line, why, mergeable=missing[0] == row.to_key)
        else:
            self._refuse(line, HANGS_ON_NOTHING)

    # Writing down

    def _told(self, frame: WorkingFrame | None, placed: Mapping[str, Placed]) -> list[TakenSight]:
        before = {same_sight(sight) for sight in self._intake.known}
        kept = [line for line in self._lines if line.row is not None and not line.left_out and not self._ignored(line)]
        made = self._make_points(frame, kept, placed)
        found: list[TakenSight] = []
        count = 0
        for line in self._lines:
            row = None if line.left_out or self._ignored(line) else line.row
            again = row is not None and same_sight(row) in before
            if row is not None:
                before.add(same_sight(row))
            updated = row is not None and self._tell_of_tree(line, row)
            new = row is not None and not again
            count += new
            found.append(self._taken(frame, line, row if new else None, made, again=again, updated=updated))
        if count:
            one = "1 sight was taken in; adjusting makes the best of all that is measured"
            several = f"{count} sights were taken in; adjusting makes the best of all that is measured"
            self._intake.messages.tell(one if count == 1 else several)
        return found

    def _make_points(
        self, frame: WorkingFrame | None, lines: Sequence[_Line], placed: Mapping[str, Placed]
    ) -> dict[str, str]:
        """Make the new trees and stations; return the id of the line that each comes of."""
        made: dict[str, str] = {}
        if frame is None:
            return made
        # A point comes of the first line that leads to it, else of the first that leads from it.
        ends = [(line.row.to_key, line) for line in lines if line.row is not None]
        ends += [(line.row.from_key, line) for line in lines if line.row is not None]
        for key, line in ends:
            if key in made or key not in placed or self._points.at(key) is not None:
                continue
            lon, lat = frame.to_lonlat(*(np.array(v) for v in placed[key].xy))
            self._make_point(key, (float(lon), float(lat)), placed[key], line)
            made[key] = line.thing.id
        return made

    def _make_point(self, key: str, at: LonLat, placed: Placed, line: _Line) -> None:
        batch, name, source = self._batch, self._points.name(key), line.reading.source.key or None
        if self._points.is_station(key):
            place = Place(key, name, PlaceKind.LANDMARK, at, source_key=source)
            batch.new_ground[key] = place
            batch.note_ground(place)
            return
        var_e, var_n, cov_en = placed.covariance
        batch.trees.add(Tree(key, name, at, var_e_m2=var_e, var_n_m2=var_n, cov_en_m2=cov_en, source_key=source))
        batch.makers[key] = line.thing.id

    def _tell_of_tree(self, line: _Line, row: Sight) -> bool:
        """Give a tree what its line says of it, and return whether that was anything new."""
        tree, said = self._batch.trees.tree(row.to_key), line.found.tree
        if tree is None or said is None:
            return False
        intake = Intake(self._batch, line.reading.source, self._intake.today, self._intake.messages)
        return give_to(intake, tree, replace(said, name=None)).what == "updated"

    def _taken(
        self,
        frame: WorkingFrame | None,
        line: _Line,
        row: Sight | None,
        made: Mapping[str, str],
        *,
        again: bool,
        updated: bool,
    ) -> TakenSight:
        to = None if line.row is None else self._batch.trees.tree(line.row.to_key)
        fate, why = line.fate, line.why
        if fate is Fate.NEW and again:
            fate, why = Fate.MATCHED, "" if updated else "it tells nothing new"
        choices = _choices(line)
        left = line.fate is Fate.REFUSED or (line.left_out and fate is Fate.DOUBTFUL)
        makes = to is not None and made.get(to.key) == line.thing.id
        return TakenSight(
            reading=line.reading,
            thing=line.thing,
            name=f"{line.found.from_name} → {line.found.to_name}",
            fate=fate,
            why=why,
            default=Verb.IGNORE if left else Verb.ACCEPT,
            choices=choices,
            row=row,
            new=row is not None or updated,
            tree=to,
            makes=makes,
            course=self._course(frame, line.row),
            covariance=_covariance(to) if makes else self._would_be(line) if left else None,
            left_out=line.left_out or self._ignored(line),
            closing=line.closing,
        )

    def _would_be(self, line: _Line) -> Spread | None:
        """Return how sure the tree would be that would come of a doubtful line, were it taken in."""
        key = None if line.row is None or line.fate is not Fate.DOUBTFUL else line.row.to_key
        if key is None or key in self._would_make or self._points.at(key) is not None or self._points.is_station(key):
            return None
        placed = self._doubted.get(key)
        if placed is None:
            return None
        self._would_make.add(key)
        return placed.covariance

    def _course(self, frame: WorkingFrame | None, row: Sight | None) -> tuple[LonLat, LonLat] | None:
        if row is None or frame is None:
            return None
        start, end = (self._point(frame, key) for key in (row.from_key, row.to_key))
        return None if start is None or end is None else (start, end)

    def _point(self, frame: WorkingFrame, key: str) -> LonLat | None:
        """Return where a point is, or else where doubtful lines would put it."""
        at, placed = self._points.at(key), self._doubted.get(key)
        if at is not None or placed is None:
            return at
        lon, lat = frame.to_lonlat(*(np.array(v) for v in placed.xy))
        return float(lon), float(lat)


def _row(found: FoundSight, keys: Sequence[str], declination_deg: float | None, source_key: str | None) -> Sight:
    return Sight(
        key=new_key(),
        from_key=keys[0],
        to_key=keys[1],
        toward_key=keys[2] if len(keys) > 2 else None,
        bearing_deg=found.bearing_deg,
        back_bearing_deg=found.back_bearing_deg,
        north=found.north,
        declination_deg=declination_deg,
        distance_m=found.distance_m,
        given=found.given,
        given_unit=found.given_unit,
        slope_deg=found.slope_deg,
        along_m=found.along_m,
        offset_m=found.offset_m,
        sigma_deg=found.sigma_deg,
        sigma_m=found.sigma_m,
        measured_on=found.measured_on,
        written_at=found.where,
        note=found.note,
        source_key=source_key,
    )


def _choices(line: _Line) -> tuple[Verb, ...]:
    if line.fate is Fate.REFUSED:
        return (Verb.MERGE, Verb.IGNORE) if line.mergeable else ()
    return (Verb.ACCEPT, Verb.MERGE, Verb.IGNORE)


def _covariance(tree: Tree | None) -> Spread | None:
    if tree is None or tree.var_e_m2 is None or tree.var_n_m2 is None:
        return None
    return tree.var_e_m2, tree.var_n_m2, tree.cov_en_m2 or 0.0
