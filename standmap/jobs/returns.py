"""What came home from a round: litres by tree, or one total a trip, written down as one edit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from standmap.errors import UserError
from standmap.formats.records_csv import COLLECTED, MOST_LITRES, MOST_TRIP_LITRES, FoundRecord
from standmap.formats.texts import note_of
from standmap.jobs.keys import new_key
from standmap.jobs.planned_round import PlannedRound
from standmap.jobs.record import RecordReport, record
from standmap.jobs.round_light import light_of, usual_start
from standmap.jobs.trip_totals import share_given, share_note, shares_ml
from standmap.jobs.vessels import hanging_at
from standmap.sap.expected import VESSEL_ML
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Collection
from standmap.store.stand_file import StandFile
from standmap.units_shown import UnitsShown

if TYPE_CHECKING:
    from standmap.sap.model import SapModel

LONGEST_NOTE = 2000


@dataclass(frozen=True, slots=True)
class Volume:
    """Sap as a person typed it: millilitres, and the number and unit as given."""

    ml: float
    given: str
    unit: str

    def shown(self) -> str:
        """Return it in words, as given."""
        names = {"l": "L", "ml": "mL", "imp_gal": "imp gal", "us_gal": "US gal"}
        return f"{self.given} {names[self.unit]}"


@dataclass(frozen=True, slots=True)
class Return:
    """What one wound gave, by its key.

    Attributes
    ----------
    overflowed
        Whether its vessel had run over.
    total_key
        Of a share of one total: the same for all its shares.
    """

    hole_key: str
    volume: Volume
    note: str = ""
    overflowed: bool = False
    total_key: str | None = None


@dataclass(frozen=True, slots=True)
class TripTotal:
    """What one trip brought home, all its wounds together.

    Attributes
    ----------
    trip
        Its number, for the notes.
    expected
        What each wound was expected to give, by its key; the total is shared out in this proportion.
    """

    trip: int
    expected: Mapping[str, float]
    volume: Volume
    note: str = ""


@dataclass(frozen=True, slots=True)
class ReturnRow:
    """One wound whose sap may be written down, and what it was expected to give."""

    hole_key: str
    tree_key: str
    name: str
    expected_l: float


@dataclass(frozen=True, slots=True)
class ReturnGroup:
    """The wounds of one trip in the order walked; those of a day without a planned walk have no trip."""

    trip: int | None
    rows: tuple[ReturnRow, ...]


def groups_of(planned: PlannedRound) -> tuple[ReturnGroup, ...]:
    """Return what may come home from a planned round."""
    return tuple(
        ReturnGroup(
            trip.number,
            tuple(ReturnRow(s.key, s.tree.key, called(s.tree.name, s.hole_number), s.litres) for s in trip.stops),
        )
        for trip in planned.trips
    )


def group_of_day(stand: Stand, day: date, model: SapModel | None = None) -> ReturnGroup:
    """Return what may come home on a day without a planned walk, in the order of the trees; perhaps none.

    What has run into each vessel since it was emptied is expected, as if all were emptied at the usual hour.

    Parameters
    ----------
    model
        What the stand's records teach of the sap where it is at hand; learned anew otherwise.
    """
    open_holes = [(tree, hole) for tree in stand.present for hole in stand.open_holes(tree.key, day, closing_day=True)]
    if not open_holes:
        return ReturnGroup(None, ())
    at = usual_start(day, light_of(day, open_holes[0][0].at))
    vessels = hanging_at(stand, [hole for _, hole in open_holes], at, VESSEL_ML, model=model)
    return ReturnGroup(
        None,
        tuple(
            ReturnRow(hole.key, tree.key, called(tree.name, hole.number), min(vessel.run.median_ml, VESSEL_ML) / 1000)
            for (tree, hole), vessel in zip(open_holes, vessels, strict=True)
        ),
    )


def called(name: str, hole_number: int) -> str:
    """Return how a wound is told in a list: the first by its tree alone."""
    return name if hole_number == 1 else f"{name} hole {hole_number}"


class WrittenAlreadyError(UserError):
    """Some of the wounds were collected on that day already, by what is written down.

    Attributes
    ----------
    trees
        Their names.
    """

    def __init__(self, day: date, trees: Sequence[str]) -> None:
        others = f" and {len(trees) - 1} more" if len(trees) > 1 else ""
        super().__init__(
            f"{trees[0]}{others}: litres of {day.isoformat()} are written down already",
            "write these in place of them, or leave those trees out",
        )
        self.trees = tuple(trees)


def read_litres(text: str, units: UnitsShown, *, most_l: float = MOST_LITRES) -> Volume:
    """Return what was typed as the sap of one wound.

    Raises
    ------
    UserError
        If it is no volume, below nothing, or more than anybody carries home from one.
    """
    ml, given, unit = units.read_volume(text)
    if ml < 0:
        raise UserError(f"{text.strip()[:40]} is less than nothing", "write 0 or more")
    if ml > most_l * 1000:
        raise UserError(
            f"{text.strip()[:40]} is more than {units.volume(most_l * 1000)}", "look for a slip of the decimal mark"
        )
    return Volume(ml, given, unit)


def read_total(text: str, units: UnitsShown) -> Volume:
    """Return what was typed as the sap of a whole trip; see `read_litres`."""
    return read_litres(text, units, most_l=MOST_TRIP_LITRES)


def doubt(volume: Volume, holes: int, units: UnitsShown) -> str:
    """Return what to ask about a volume that is possible but unlikely, or nothing."""
    if volume.ml > VESSEL_ML * holes:
        vessels = "one vessel" if holes == 1 else f"{holes} vessels"
        return f"more than {vessels} of {units.volume(VESSEL_ML)}: a slip?"
    return ""


def written_down(stand: Stand, hole_keys: Iterable[str], day: date) -> dict[str, tuple[Collection, ...]]:
    """Return what is written down as collected on a day, by the wound's key; those without any are left out."""
    found = {k: tuple(c for c in stand.collections_of.get(k, ()) if c.collected_on == day) for k in hole_keys}
    return {key: collections for key, collections in found.items() if collections}


def store_returns(
    file: StandFile,
    day: date,
    returns: Sequence[Return],
    totals: Sequence[TripTotal],
    today: date,
    now: datetime,
    *,
    in_place: bool = False,
) -> RecordReport:
    """Write down what a round brought home, as one edit.

    Parameters
    ----------
    returns, totals
        No wound is in more than one of them.
    in_place
        Whether litres of that day that are written down already are put right by these; refused otherwise.

    Raises
    ------
    WrittenAlreadyError
        If there are some and `in_place` is not set.
    UserError
        If nothing was given, a note is too long, or an entry cannot be true.
    """
    stand = file.stand()
    entries = [*returns, *(share for total in totals for share in _shared(total))]
    if not entries:
        raise UserError("no litres were typed", "type what came home from at least one tree or trip")
    if len({entry.hole_key for entry in entries}) < len(entries):
        raise ValueError("a wound is in two entries")
    holes = {hole.key: hole for hole in stand.holes}
    gone = [entry for entry in entries if entry.hole_key not in holes]
    if gone:
        raise UserError(f"{len(gone)} of the wounds are no longer in the stand", "plan the walk again")
    records = []
    for entry in entries:
        hole = holes[entry.hole_key]
        if len(entry.note) > LONGEST_NOTE:
            name = stand.by_key[hole.tree_key].name
            raise UserError(
                f"{name}: the note has {len(entry.note)} characters, more than {LONGEST_NOTE}", "make it shorter"
            )
        records.append(
            FoundRecord(
                line=0,
                tree=hole.tree_key,
                hole=hole.key,
                on=day,
                at=None,
                what=COLLECTED,
                volume_ml=entry.volume.ml,
                given=entry.volume.given,
                given_unit=entry.volume.unit,
                note=note_of(entry.note),
                overflowed=entry.overflowed,
                total_key=entry.total_key,
            )
        )
    before = written_down(stand, [entry.hole_key for entry in entries], day)
    if before and not in_place:
        raise WrittenAlreadyError(day, [stand.by_key[holes[key].tree_key].name for key in before])
    again = [taken for collections in before.values() for taken in collections]
    label = f"returns of {day.isoformat()}" + (", put right" if again else "")
    return record(file, records, today, now, label=label, in_place_of=again)


def _shared(total: TripTotal) -> list[Return]:
    volumes = shares_ml(total.volume.ml, list(total.expected.values()))
    note = share_note(total.volume.shown(), str(total.trip), total.note)
    total_key = new_key()
    return [
        Return(key, Volume(ml, share_given(ml), "l"), note, total_key=total_key)
        for key, ml in zip(total.expected, volumes, strict=True)
    ]
