"""What was typed as returns, kept as it was typed, and what of it is to be stored. No Qt here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from standmap.errors import UserError
from standmap.jobs.returns import (
    LONGEST_NOTE,
    Return,
    ReturnGroup,
    TripTotal,
    Volume,
    doubt,
    read_litres,
    read_total,
)
from standmap.jobs.trip_totals import share_note
from standmap.stand.tapping import Collection
from standmap.units_shown import UnitsShown


@dataclass(slots=True)
class Typed:
    """One line of the grid as typed."""

    amount: str = ""
    note: str = ""
    overflowed: bool = False

    @property
    def empty(self) -> bool:
        """Whether nothing was typed or ticked."""
        return not self.amount.strip() and not self.note.strip() and not self.overflowed


@dataclass(frozen=True, slots=True)
class Checked:
    """What is to be stored of what was typed.

    Attributes
    ----------
    errors, doubts
        By line: the key of a wound, or the name of a trip's total.
    """

    returns: tuple[Return, ...]
    totals: tuple[TripTotal, ...]
    errors: Mapping[str, UserError]
    doubts: Mapping[str, str]


@dataclass(slots=True)
class ReturnsTyped:
    """The grid: what was typed by tree, and as totals of trips.

    Attributes
    ----------
    as_total
        Numbers of the trips for which one total is typed.
    """

    groups: Sequence[ReturnGroup] = ()
    lines: dict[str, Typed] = field(default_factory=dict)
    as_total: set[int] = field(default_factory=set)

    def show(self, groups: Sequence[ReturnGroup]) -> None:
        """Take other groups; what was typed for a tree stays with it, whichever trip it is on now."""
        self.groups = groups
        self.as_total &= {group.trip for group in groups if group.trip is not None}

    def line(self, key: str) -> Typed:
        """Return a line of the grid."""
        return self.lines.setdefault(key, Typed())

    def name_unit(self, unit: str) -> None:
        """Write the unit behind each amount that was typed as a bare number."""
        for line in self.lines.values():
            amount = line.amount.strip()
            if amount and amount[-1].isdecimal():
                line.amount = f"{amount} {unit}"

    def clear(self) -> None:
        """Forget everything that was typed."""
        self.lines.clear()
        self.as_total.clear()

    @property
    def anything(self) -> bool:
        """Whether an amount was typed in a line that is shown."""
        return any(self.line(key).amount.strip() for key in self.shown_lines())

    def shown_lines(self) -> list[str]:
        """Return the lines that are shown, in their order."""
        keys: list[str] = []
        for group in self.groups:
            if group.trip in self.as_total and group.trip is not None:
                keys.append(total_line(group.trip))
            else:
                keys += [row.hole_key for row in group.rows]
        return keys

    def check(self, units: UnitsShown, written: Mapping[str, Sequence[Collection]]) -> Checked:
        """Return what is to be stored, and what is wrong or unlikely.

        Parameters
        ----------
        written
            What is written down of that day already, by wound: what was typed just so is not stored again.
        """
        returns: list[Return] = []
        totals: list[TripTotal] = []
        errors: dict[str, UserError] = {}
        doubts: dict[str, str] = {}
        for group in self.groups:
            if group.trip is not None and group.trip in self.as_total:
                key = total_line(group.trip)
                found = self._read(key, len(group.rows), units, errors, doubts)
                total = (
                    None
                    if found is None
                    else TripTotal(
                        group.trip,
                        {row.hole_key: row.expected_l for row in group.rows},
                        found,
                        self.line(key).note.strip(),
                    )
                )
                if total is not None and not _is_total(total, written):
                    totals.append(total)
                continue
            for row in group.rows:
                found = self._read(row.hole_key, 1, units, errors, doubts)
                if found is None:
                    continue
                line = self.line(row.hole_key)
                entry = Return(row.hole_key, found, line.note.strip(), line.overflowed)
                if not _is_written(entry, written.get(row.hole_key, ())):
                    returns.append(entry)
        return Checked(tuple(returns), tuple(totals), errors, doubts)

    def _read(
        self, key: str, holes: int, units: UnitsShown, errors: dict[str, UserError], doubts: dict[str, str]
    ) -> Volume | None:
        """Return what was typed in a line, None where nothing was or it is wrong."""
        line = self.line(key)
        if line.empty:
            return None
        try:
            found = _read_line(line, holes, units)
        except UserError as error:
            errors[key] = error
            return None
        asked = doubt(found, holes, units)
        if asked:
            doubts[key] = asked
        return found


def _read_line(line: Typed, holes: int, units: UnitsShown) -> Volume:
    if not line.amount.strip():
        what = "a note" if line.note.strip() else "a tick"
        raise UserError(f"there is {what} without an amount", "type the amount too, 0 if there was none")
    if len(line.note) > LONGEST_NOTE:
        raise UserError(f"the note has {len(line.note)} characters, more than {LONGEST_NOTE}", "make it shorter")
    return read_litres(line.amount, units) if holes == 1 else read_total(line.amount, units)


def total_line(trip: int) -> str:
    """Return the name of the line in which a trip's total is typed."""
    return f"trip {trip}"


def _is_written(entry: Return, written: Sequence[Collection]) -> bool:
    return (
        len(written) == 1
        and (written[0].given, written[0].given_unit) == (entry.volume.given, entry.volume.unit)
        and (written[0].note, written[0].overflowed) == (entry.note, entry.overflowed)
    )


def _is_total(total: TripTotal, written: Mapping[str, Sequence[Collection]]) -> bool:
    """Return whether just this total was shared out over just these wounds."""
    rows = [written.get(key, ()) for key in total.expected]
    note = share_note(total.volume.shown(), str(total.trip), total.note)
    return all(len(own) == 1 and own[0].note == note for own in rows) and (
        abs(sum(own[0].volume_ml for own in rows) - total.volume.ml) < 1e-6
    )
