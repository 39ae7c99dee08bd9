"""The table of returns: what was done at which tree on which day, taken whole or refused whole."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path

from standmap.errors import UserError
from standmap.formats.csv_writing import number
from standmap.formats.delimited import Table, guarded, open_table, to_bytes, unguarded
from standmap.formats.faults import Unusable, refused, shown
from standmap.formats.quantities import number_of, plain
from standmap.formats.texts import clock_of, day_of, line_of, name_of, note_of, same_word
from standmap.progress import Progress, Unwatched
from standmap.stand.names import LONGEST_NAME
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Collection, Observation, TapHole, Wound
from standmap.stand.tree import Tree
from standmap.units import decimal_number, to_ml, to_mm

HEADER = (
    *("tree", "hole", "date", "time", "what", "litres", "overflowed"),
    *("height_cm", "side_deg", "depth_mm", "bit_mm", "note"),
)

TRIP_COLUMNS = ("trip", "trip_litres")
"""May be there beside those: the collected lines of one day and trip without litres share out its one total."""

TAPPED = "tapped"
SLIT = "slit"
COLLECTED = "collected"
WHATS = (
    TAPPED, SLIT, COLLECTED, Act.TAKEN_OUT, Act.PLUGGED, Act.LEFT_OPEN, Act.TRIMMED,
    Act.LOOKED_AT, Act.SEEN_CLOSED, Act.SEEN_OPEN,
)  # fmt: skip
"""What a row can tell."""

# Bounds that catch a slip of the pen or a wrong unit (common practice, no source).
MOST_LITRES = 60.0
MOST_TRIP_LITRES = 200.0
MOST_HEIGHT_CM = 300.0
MOST_DEPTH_MM = 100.0
MOST_BIT_MM = 50.0

_NEEDED = ("tree", "date", "what")
_PLAIN = {plain(name): name for name in (*HEADER, *TRIP_COLUMNS)}
_YES, _NO = frozenset({"yes", "y", "true", "1", "x"}), frozenset({"", "no", "n", "false", "0"})
_WOUNDS = {Wound.HOLE: TAPPED, Wound.SLIT: SLIT}


@dataclass(frozen=True, slots=True)
class FoundRecord:
    """One row as written, canonical beside it.

    Attributes
    ----------
    line
        Where the row starts in the file, from 1.
    tree
        A name or an id.
    hole
        A number or an id, where given.
    at
        Time of day, with an offset from UTC where the row gives one.
    what
        One of `WHATS`.
    volume_ml, given, given_unit
        Sap collected, and the number as written with its unit "l"; absent in other rows.
    overflowed
        Whether the vessel had run over: the wound gave at least that much.
    total_key
        Of a share of one total: the same for all its shares.
    trip, trip_ml, trip_given
        Of a row that has a share of one total for a trip: which trip, and the total where this row gives it.
    """

    line: int
    tree: str
    hole: str | None
    on: date
    at: time | None
    what: str
    volume_ml: float | None = None
    given: str | None = None
    given_unit: str = "l"
    height_mm: float | None = None
    side_deg: float | None = None
    depth_mm: float | None = None
    bit_mm: float | None = None
    note: str = ""
    trip: str = ""
    trip_ml: float | None = None
    trip_given: str = ""
    overflowed: bool = False
    total_key: str | None = None


@dataclass(frozen=True, slots=True)
class FoundRecords:
    """The rows of a table of returns, and what was found out about the file."""

    records: tuple[FoundRecord, ...]
    told: tuple[str, ...]


def read_records_csv(path: Path, *, progress: Progress | None = None) -> FoundRecords:
    """Read a table of returns.

    Raises
    ------
    UserError
        If the file is no such table, or any row is at fault: the first is named and the others are counted.
    """
    table = open_table(path, _PLAIN.__contains__, understood=", ".join((*HEADER, *TRIP_COLUMNS)))
    for name in table.header:
        if name in _PLAIN and table.header.count(name) > 1:
            raise refused(path, f"two columns are called '{_PLAIN[name]}'", "keep one of them")
    missing = [name for name in _NEEDED if name not in table.header]
    if missing:
        raise refused(path, f"has no column {' and no column '.join(missing)}", f"the columns are {', '.join(HEADER)}")
    unused = [
        shown(written.strip())
        for name, written in zip(table.header, table.written, strict=True)
        if written.strip() and name not in _PLAIN
    ]
    told = [*table.told, *([f"columns not used: {', '.join(unused)}"] if unused else [])]
    return FoundRecords(_taken_whole(table, progress or Unwatched()), tuple(told))


def _taken_whole(table: Table, progress: Progress) -> tuple[FoundRecord, ...]:
    records: list[FoundRecord] = []
    faults: list[tuple[int, str]] = []
    for line, cells in table.rows(progress):
        try:
            records.append(_record(table, line, cells))
        except Unusable as reason:
            faults.append((line, str(reason)))
    if faults:
        raise _refusal(table.path, faults)
    return tuple(records)


def _refusal(path: Path, faults: list[tuple[int, str]]) -> UserError:
    (line, reason), *others = faults
    more = f" (and {len(others)} more {'line is' if len(others) == 1 else 'lines are'} at fault)" if others else ""
    return refused(
        path, f"{reason}{more}", "mend the table and give it again; nothing was written", where=f"line {line}"
    )


def _record(table: Table, line: int, cells: list[str]) -> FoundRecord:
    if len(cells) > len(table.header) and any(cell.strip() for cell in cells[len(table.header) :]):
        raise Unusable(
            f"{len(cells)} cells, but the header names {len(table.header)}; is a decimal comma without its quotes?"
        )
    row = {_PLAIN[name]: cell for name, cell in zip(table.header, cells, strict=False) if name in _PLAIN}
    return _from_row(line, row)


def typed_record(row: Mapping[str, str]) -> FoundRecord:
    """Return what a person typed, cells by the names of `HEADER`, checked as a row of a table is.

    Raises
    ------
    UserError
        If a cell cannot be used.
    """
    try:
        return _from_row(0, row)
    except Unusable as reason:
        raise UserError(str(reason), "nothing was written") from None


def _from_row(line: int, row: Mapping[str, str]) -> FoundRecord:
    tree = name_of(unguarded(row.get("tree", "")), "tree")
    if tree is None:
        raise Unusable("no tree is named")
    if not row.get("date", "").strip():
        raise Unusable("there is no date")
    what = _what(line_of(row.get("what", "")))
    litres, trip_litres = row.get("litres", "").strip(), row.get("trip_litres", "").strip()
    trip = name_of(unguarded(row.get("trip", "")), "trip") or ""
    if what == COLLECTED and not litres and not trip:
        raise Unusable("litres are missing for what was collected")
    if trip_litres and (litres or what != COLLECTED or not trip):
        raise Unusable(f"trip_litres go with '{COLLECTED}', a trip and no litres of the tree's own")
    if what != COLLECTED and litres:
        raise Unusable(f"litres go with '{COLLECTED}', not with '{what}'; give what was collected its own line")
    overflowed = _flag(row, "overflowed")
    if overflowed and what != COLLECTED:
        raise Unusable(f"overflowed goes with '{COLLECTED}', not with '{what}'")
    volume = _within(row, "litres", 0.0, MOST_LITRES)
    trip_total = _within(row, "trip_litres", 0.0, MOST_TRIP_LITRES)
    shares = what == COLLECTED and volume is None
    height = _within(row, "height_cm", 0.0, MOST_HEIGHT_CM)
    side = _within(row, "side_deg", 0.0, 360.0, up_to=True)
    depth = _within(row, "depth_mm", 0.0, MOST_DEPTH_MM, above=True)
    bit = _within(row, "bit_mm", 0.0, MOST_BIT_MM, above=True)
    clock = row.get("time", "")
    return FoundRecord(
        line=line,
        tree=tree,
        hole=name_of(unguarded(row.get("hole", "")), "hole"),
        on=day_of(row["date"]),
        at=clock_of(clock) if clock.strip() else None,
        what=what,
        volume_ml=to_ml(volume, "l") if volume is not None else None,
        given=litres or None,
        height_mm=to_mm(height, "cm") if height is not None else None,
        side_deg=float(side) if side is not None else None,
        depth_mm=float(depth) if depth is not None else None,
        bit_mm=float(bit) if bit is not None else None,
        note=note_of(unguarded(row.get("note", ""))),
        trip=trip if shares else "",
        trip_ml=to_ml(trip_total, "l") if trip_total is not None else None,
        trip_given=trip_litres,
        overflowed=overflowed,
    )


def _what(text: str) -> str:
    for what in WHATS:
        if same_word(what) == same_word(text):
            return str(what)
    raise Unusable(f"what '{shown(text)}' is none of {', '.join(WHATS)}")


def _flag(row: Mapping[str, str], name: str) -> bool:
    cell = line_of(row.get(name, "")).casefold()
    if cell not in _YES | _NO:
        raise Unusable(f"{name} '{shown(cell)}' is neither yes nor no")
    return cell in _YES


def _within(
    row: Mapping[str, str], name: str, least: float, most: float, *, above: bool = False, up_to: bool = False
) -> Decimal | None:
    """Return the number in a cell; `above` leaves out `least` itself, `up_to` leaves out `most`."""
    cell = row.get(name, "").strip()
    if not cell:
        return None
    value = number_of(cell, name)
    if value < least or value > most or (above and value == least) or (up_to and value == most):
        bounds = f"{'above' if above else 'from'} {least:g} {'and below' if up_to else 'to'} {most:g}"
        raise Unusable(f"{name} {shown(cell)} is not {bounds}")
    return value


def write_records_csv(stand: Stand) -> bytes:
    """Return what was done in a stand as a table of returns, by day; of one day first the wounds, then the sap.

    A tree goes by its name where no other has it, else by its id. What the table has no word for (felled, died,
    re-tagged, merged, corrected) and what was seen elsewhere than in a tree of this stand is left out.
    """
    rows: list[tuple[date, int, int, list[str]]] = []
    for place, tree in enumerate(stand.present):
        rows += [(on, rank, place, [_cell(cells, name) for name in HEADER]) for on, rank, cells in _told(stand, tree)]
    rows.sort(key=lambda row: row[:3])
    return to_bytes(HEADER, [row[3] for row in rows])


def _cell(cells: Mapping[str, str], name: str) -> str:
    return cells.get(name, "")


def _told(stand: Stand, tree: Tree) -> Iterator[tuple[date, int, dict[str, str]]]:
    name = tree.name if _tells(stand, tree) else tree.key
    holes = stand.holes_of.get(tree.key, ())
    for hole in holes:
        number_told = str(hole.number)
        cells = _cells(name, number_told, hole.made_on, hole.made_at, _WOUNDS[hole.kind], hole.note)
        cells["height_cm"] = _shifted(hole.height_mm, -1)
        cells["side_deg"] = number(hole.side_deg)
        cells["depth_mm"] = number(hole.depth_mm)
        cells["bit_mm"] = number(hole.bit_mm)
        yield hole.made_on, 0, cells
        for sap in stand.collections_of.get(hole.key, ()):
            cells = _cells(name, number_told, sap.collected_on, sap.collected_at, COLLECTED, sap.note)
            cells["litres"] = _litres(sap)
            cells["overflowed"] = "yes" if sap.overflowed else ""
            yield sap.collected_on, 1, cells
    for seen in stand.observations_of.get(tree.key, ()):
        if seen.what in WHATS:
            hole_number = _numbered(seen, holes)
            cells = _cells(name, hole_number, seen.observed_on, seen.observed_at, seen.what.value, seen.note)
            yield seen.observed_on, 2, cells


def _numbered(seen: Observation, holes: Sequence[TapHole]) -> str:
    """Return the number of the wound that was seen, with its season where the number alone means another one."""
    mine = next((hole for hole in holes if hole.key == seen.hole_key), None)
    if mine is None:
        return ""
    twice = any(
        hole.number == mine.number and hole.season != mine.season and hole.made_on <= seen.observed_on for hole in holes
    )
    tells = seen.what in (Act.SEEN_CLOSED, Act.SEEN_OPEN) or mine.season < seen.observed_on.year
    return hole_of_season(mine) if twice and tells else str(mine.number)


def hole_of_season(hole: TapHole) -> str:
    """Return how a table names a wound that its number alone does not tell, "1 of 2024": the same in every language."""
    return " of ".join((str(hole.number), str(hole.season)))


def _tells(stand: Stand, tree: Tree) -> bool:
    """Return whether the name of a tree comes through a table unchanged and belongs to no other."""
    readable = tree.name == line_of(tree.name) and 0 < len(tree.name) <= LONGEST_NAME
    return readable and stand.named(tree.name) == [tree]


def _cells(tree: str, hole: str, on: date, at: datetime | None, what: str, note: str) -> dict[str, str]:
    # A moment noted in another offset can fall on another day; its time would then say something wrong.
    clock = at.timetz().isoformat() if at is not None and at.date() == on else ""
    return {
        "tree": guarded(tree),
        "hole": hole,
        "date": on.isoformat(),
        "time": clock,
        "what": what,
        "note": guarded(note),
    }


def _shifted(value: float | None, places: int) -> str:
    """Return a number times a power of ten, exactly."""
    return "" if value is None else format(Decimal(repr(value)).scaleb(places), "f")


def _litres(sap: Collection) -> str:
    if sap.given_unit == "l":
        try:
            if to_ml(decimal_number(sap.given), "l") == sap.volume_ml:
                return sap.given.strip()
        except UserError:
            pass  # words, not a number
    return _shifted(sap.volume_ml, -3)
