"""Reading a field sheet: measurements by tape, paces and compass from point to point, one a line.

A line says `from` where and `to` what, and one of: a bearing, a distance, both; or, for an offset, `toward` what the
base line goes, how far `along` it, and the `offset` to the right. The tree at the far end may have its girth and its
species beside it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from standmap.formats.content import Findings, FoundSight, FoundTree, Skipped
from standmap.formats.delimited import DELIMITERS, Table, open_table, unguarded
from standmap.formats.faults import Unusable, refused, shown
from standmap.formats.field_cells import PACES, bearing_of, length_of, pace_of, side_of, slope_of, tape_of, unit_of
from standmap.formats.quantities import THICKNESS_COLUMNS, Thickness, measured, number_of, plain
from standmap.formats.texts import day_of, line_of, name_of, note_of, same_word
from standmap.progress import Progress, Unwatched
from standmap.stand.sights import North

_ALIASES: Mapping[str, tuple[str, ...]] = {
    "from": ("from", "fromtree", "frompoint", "fromstation"),
    "to": ("to", "totree", "topoint", "tostation"),
    "toward": ("toward", "towards", "baseto", "baseline", "baselineto"),
    "bearing": ("bearing", "azimuth", "brg", "forwardbearing", "bearingthere"),
    "back_bearing": ("backbearing", "bearingback", "backazimuth", "reversebearing"),
    "north": ("north", "northis", "countedfrom"),
    "distance": ("distance", "dist", "tape", "taped", "length"),
    "slope": ("slope", "inclination", "slopeangle"),
    "along": ("along", "alongline", "alongbaseline"),
    "offset": ("offset", "offsetright", "squareoff"),
    "pace": ("pace", "pacelength", "lengthofpace"),
    "date": ("date", "day", "measuredon"),
    "species": ("species",),
    "note": ("note", "notes", "comment", "remarks"),
    "what": ("what", "kind"),
    "sigma_deg": ("bearingsigma", "bearingwithin"),
    "sigma_m": ("distancesigma", "distancewithin"),
}
_MEANING = {alias: meaning for meaning, names in _ALIASES.items() for alias in names}
_LENGTHS = ("distance", "along", "offset", "pace", "sigma_m")
_STATIONS, _TREES = ("station", "point", "peg", "stake"), ("tree", "stem")

UNDERSTOOD = (
    "from, to, bearing, back bearing, distance (m), slope, toward, along (m), offset (m), date, girth (mm), species, "
    "what (tree or station), note"
)
"""The column names, for a person."""

_HEADED = re.compile(r"\s*(.*?)[\s_]*[(\[]\s*(.*?)\s*[)\]]\s*")
_PACES_OF = re.compile(r"(?:paces?|steps?)\s*(?:of|=|à|,)?\s*(\S.*)", re.IGNORECASE)
_DEGREES = frozenset({"", "deg", "degree", "degrees", "°", "º"})


def is_field_sheet(head: bytes) -> bool:
    """Return whether the first line of a text, given its first bytes, heads the columns of a field sheet."""
    for codec in ("utf-8-sig", "utf-16", "cp1252"):
        try:
            text = head.decode(codec) if codec == "utf-16" else head.decode(codec, errors="ignore")
        except UnicodeDecodeError:
            continue
        first = next((line for line in text.splitlines() if line.strip()), "")
        for delimiter in DELIMITERS:
            named = {_meaning(cell.strip().strip('"')) for cell in first.split(delimiter)}
            if {"from", "to"} <= named and named & {"bearing", "back_bearing", "distance", "offset", "along"}:
                return True
    return False


def read_field_sheet(path: Path, *, pace_m: float | None = None, progress: Progress | None = None) -> Findings:
    """Read a field sheet; a line that cannot be used is skipped and told.

    Parameters
    ----------
    pace_m
        Metres in one pace, where the sheet does not say.

    Raises
    ------
    UserError
        If the file is no table, or its header does not say enough.
    """
    table = open_table(path, _known, understood=UNDERSTOOD)
    columns = Columns.of(table)
    sights: list[FoundSight] = []
    skipped: list[Skipped] = []
    bare = comma = False
    for line, cells in table.rows(progress or Unwatched()):
        where = f"line {line}"
        try:
            row = columns.row(cells)
            found = sight_of(row, where, columns.reading(pace_m))
            sights.append(found)
        except Unusable as reason:
            skipped.append(Skipped(where, str(reason)))
            continue
        lengths = [row.get(name, "").strip() for name in ("distance", "along", "offset")]
        bare = bare or ("distance" not in columns.units and any(cell[-1:].isdigit() for cell in lengths))
        comma = comma or any("," in cell for cell in (*lengths, row.get("bearing", "")))
    told = [*table.told, *columns.told()]
    if bare:
        told.append("lengths that name no unit are taken as metres; head the column 'distance (ft)' if they are not")
    if any(s.north is North.MAGNETIC for s in sights) and not columns.tells_north:
        told.append("bearings are taken as magnetic; head the column 'bearing (true)' if they are not")
    if comma:
        told.append("numbers have a decimal comma")
    read = len(sights) + len(skipped)
    return Findings("field sheet", read, sights=tuple(sights), skipped=tuple(skipped), told=tuple(told))


def _meaning(written: str) -> str | None:
    """Return what a column means by its written name, the unit at its end left out."""
    return _split(written)[0]


def _split(written: str) -> tuple[str | None, str]:
    """Return what a column means and what its name says beside: "distance (m)" and "distance_m" are distance and m."""
    name, beside = written, ""
    if found := _HEADED.fullmatch(written):
        name, beside = found[1], found[2]
    if name.rstrip().endswith("%"):
        name, beside = name.rstrip()[:-1], "%"
    if plain(name) in _MEANING:
        return _MEANING[plain(name)], beside
    pieces = re.split(r"[\s_]+", name.strip())
    if len(pieces) > 1 and plain("".join(pieces[:-1])) in _MEANING:
        return _MEANING[plain("".join(pieces[:-1]))], pieces[-1]
    return None, ""


def _known(name: str) -> bool:
    # The names come here without their brackets: "distancem" is found by what it begins with.
    return name in THICKNESS_COLUMNS or any(
        name == alias or (name.startswith(alias) and len(name) - len(alias) <= 12 and len(alias) > 3)
        for alias in _MEANING
    )


@dataclass(frozen=True, slots=True)
class Reading:
    """How the cells of a sheet are to be understood.

    Attributes
    ----------
    units
        Unit of a column by what it means, metres where it is missing.
    north
        What bearings are counted from, unless the line or the cell says it.
    """

    units: Mapping[str, str]
    north: North = North.MAGNETIC
    pace_m: float | None = None
    percent: bool = False
    thickness: tuple[Thickness, str] | None = None

    def unit(self, column: str) -> str:
        """Return the unit of a column: its own, else that of the distances, else metres; a pace is never in paces."""
        taped = self.units.get("distance", "m")
        beside = "m" if taped == PACES and column in ("pace", "sigma_m") else taped
        return self.units.get(column, beside)


@dataclass(frozen=True, slots=True)
class Columns:
    """Where in a line each thing stands, and what the header says of it."""

    at: Mapping[str, int]
    units: Mapping[str, str]
    thickness: tuple[Thickness, str, int] | None
    north: North | None
    pace_m: float | None
    percent: bool
    written: Sequence[str]
    unused: Sequence[str]

    @property
    def tells_north(self) -> bool:
        """Whether the header says what bearings are counted from."""
        return self.north is not None or "north" in self.at

    def reading(self, pace_m: float | None) -> Reading:
        """Return how the cells are to be understood."""
        pace_m = self.pace_m if self.pace_m is not None else pace_m
        thickness = None if self.thickness is None else self.thickness[:2]
        return Reading(self.units, self.north or North.MAGNETIC, pace_m, self.percent, thickness)

    @classmethod
    def of(cls, table: Table) -> Columns:
        """Read the header.

        Raises
        ------
        UserError
            If two columns say the same, a unit is unknown or missing, or nothing says from where to what.
        """
        at: dict[str, int] = {}
        units: dict[str, str] = {}
        thickness: tuple[Thickness, str, int] | None = None
        norths: set[North] = set()
        pace_m: float | None = None
        percent = False
        unused: list[str] = []
        for index, name in enumerate(table.header):
            written = shown(table.written[index].strip())
            if name in THICKNESS_COLUMNS:
                what, unit = THICKNESS_COLUMNS[name]
                if unit is None:
                    raise refused(table.path, f"column '{written}' has no unit", f"call it {name}_mm or {name}_cm")
                if thickness is not None:
                    raise refused(table.path, "two columns give the girth or diameter", "keep one of them")
                thickness = what, unit, index
                continue
            meaning, beside = _split(table.written[index])
            if meaning is None:
                if written:
                    unused.append(written)
                continue
            if meaning in at:
                raise refused(table.path, f"two columns tell the {meaning.replace('_', ' ')}", "keep one of them")
            at[meaning] = index
            try:
                match meaning:
                    case "bearing" | "back_bearing":
                        norths |= _north_in(beside, written)
                    case "slope":
                        percent = beside.strip("%").casefold() in ("percent", "pc") or "%" in beside
                    case length if length in _LENGTHS and beside:
                        unit, one = _length_unit(beside, written)
                        units[length] = unit
                        pace_m = one if one is not None else pace_m
            except Unusable as reason:
                raise refused(table.path, str(reason), "name m, ft or paces; true or magnetic") from None
        for needed in ("from", "to"):
            if needed not in at:
                raise refused(table.path, f"no column is called '{needed}'", f"add one; understood are: {UNDERSTOOD}")
        if not at.keys() & {"bearing", "back_bearing", "distance", "offset"}:
            raise refused(table.path, "nothing is measured in it", f"add a column; understood are: {UNDERSTOOD}")
        if len(norths) > 1:
            raise refused(
                table.path, "one bearing is counted from true north and the other from magnetic", "write both alike"
            )
        north = next(iter(norths), None)
        return cls(at, units, thickness, north, pace_m, percent, table.written, tuple(unused))

    def row(self, cells: Sequence[str]) -> dict[str, str]:
        """Return a line's cells by what they mean.

        Raises
        ------
        Unusable
            If it has more cells than the header names.
        """
        if any(cell.strip() for cell in cells[len(self.written) :]):
            raise Unusable(
                f"has {len(cells)} cells, but the header names {len(self.written)}; "
                "is a decimal comma without its quotes?"
            )
        found = {meaning: cells[index] for meaning, index in self.at.items() if index < len(cells)}
        if self.thickness is not None and self.thickness[2] < len(cells):
            found["thickness"] = cells[self.thickness[2]]
        return found

    def told(self) -> list[str]:
        """Return what a person should know of the header."""
        told = [f"column '{shown(self.written[self.at[n]].strip())}' is in {unit}" for n, unit in self.units.items()]
        if self.north is not None:
            told.append(f"bearings are counted from {self.north} north")
        if self.unused:
            told.append(f"columns not used: {', '.join(self.unused)}")
        return told


def _north_in(beside: str, written: str) -> set[North]:
    words = {w for w in re.split(r"[\s,;/]+", beside.casefold()) if w not in _DEGREES}
    found = {north for north, names in _NORTHS.items() if words & names}
    if words - {name for names in _NORTHS.values() for name in names} or len(found) > 1:
        raise Unusable(f"column '{written}': '{shown(beside)}' is not understood")
    return found


_NORTHS: Mapping[North, frozenset[str]] = {
    North.MAGNETIC: frozenset({"magnetic", "mag", "m", "compass"}),
    North.TRUE: frozenset({"true", "t", "geographic"}),
}


def _length_unit(beside: str, written: str) -> tuple[str, float | None]:
    """Return the unit that a header names, and the length of a pace where it says that too."""
    unit = unit_of(beside)
    if unit is not None:
        return unit, None
    if found := _PACES_OF.fullmatch(beside.strip()):
        return PACES, pace_of(found[1], f"column '{written}'")
    raise Unusable(f"column '{written}': the unit '{shown(beside)}' is not known")


def sight_of(row: Mapping[str, str], where: str, reading: Reading) -> FoundSight:
    """Read one line, its cells by what they mean: "from", "to", "bearing" ... as `UNDERSTOOD` lists them.

    Raises
    ------
    Unusable
        If a cell cannot be understood, or the line does not say enough.
    """

    def cell(name: str) -> str:
        return row.get(name, "").strip()

    def name(column: str) -> str | None:
        return name_of(unguarded(cell(column)), column)

    def unit(column: str) -> str:
        return reading.unit(column)

    start, end, toward = name("from"), name("to"), name("toward")
    if start is None:
        raise Unusable("'from' is empty; name the point that it was measured from")
    if end is None:
        raise Unusable("'to' is empty; name the tree or the point that it was measured to")
    if same_word(start) == same_word(end):
        raise Unusable(f"from and to are both '{shown(end)}'; name two points")
    pace_m = pace_of(cell("pace"), "pace", unit("pace")) if cell("pace") else reading.pace_m
    there = bearing_of(cell("bearing"), "bearing") if cell("bearing") else None
    back = bearing_of(cell("back_bearing"), "back bearing") if cell("back_bearing") else None
    tape = tape_of(cell("distance"), "distance", unit("distance"), pace_m) if cell("distance") else None
    along = length_of(cell("along"), "along", unit("along"), pace_m) if cell("along") else None
    offset = side_of(cell("offset"), "offset", unit("offset"), pace_m) if cell("offset") else None
    told = {turn.north for turn in (there, back) if turn is not None and turn.north is not None}
    if cell("north"):
        told.add(_one_north(cell("north")))
    if len(told) > 1:
        raise Unusable("one bearing is counted from true north and the other from magnetic; write both alike")
    _check_offset(start, toward, bool(there or back or tape), along is not None, offset is not None)
    station = _is_station(line_of(cell("what")))
    spreads = [turn.sigma_deg for turn in (there, back) if turn is not None and turn.sigma_deg is not None]
    if cell("sigma_deg"):
        spreads = [_spread(cell("sigma_deg"))]
    sigma = tape_of(cell("sigma_m"), "distance sigma", unit("sigma_m")).m if cell("sigma_m") else None
    written = tape or offset
    day = day_of(cell("date")) if cell("date") else None
    return FoundSight(
        where=where,
        from_name=start,
        to_name=end,
        toward_name=toward,
        bearing_deg=None if there is None else there.deg,
        back_bearing_deg=None if back is None else back.deg,
        north=next(iter(told), reading.north) if there or back else None,
        distance_m=None if tape is None else tape.m,
        given="" if written is None else written.given,
        given_unit="" if written is None else written.unit,
        slope_deg=slope_of(cell("slope"), percent=reading.percent) if cell("slope") else 0.0,
        along_m=None if along is None else along.m,
        offset_m=None if offset is None else offset.m,
        sigma_deg=max(spreads, default=None),
        sigma_m=sigma,
        measured_on=day,
        station=station,
        tree=None if station else _tree(row, where, end, reading),
        note=note_of(unguarded(row.get("note", ""))).strip(),
    )


def _check_offset(start: str, toward: str | None, direct: bool, along: bool, offset: bool) -> None:
    """Make sure that a line is either an offset from a base line, or measured straight."""
    if toward is None:
        if along or offset:
            raise Unusable("along and offset go with 'toward': name the far end of the base line")
        if not direct:
            raise Unusable("neither a bearing nor a distance; write what was measured")
        return
    if direct:
        raise Unusable("an offset has no bearing and no distance of its own; give those a line of their own")
    if not (along and offset):
        raise Unusable("an offset needs both along and offset; write 0 where the point is on the line")
    if same_word(start) == same_word(toward):
        raise Unusable(f"the base line goes from '{shown(start)}' to itself; name its far end in 'toward'")


def _spread(cell: str) -> float:
    value = float(number_of(cell.rstrip("°º "), "bearing sigma"))
    if not 0 < value <= 90:
        raise Unusable(f"bearing sigma {shown(cell)} is not above 0 and up to 90 degrees")
    return value


def _one_north(text: str) -> North:
    for north, names in _NORTHS.items():
        if text.casefold() in names:
            return north
    raise Unusable(f"north '{shown(text)}' is neither magnetic nor true")


def _is_station(text: str) -> bool:
    word = same_word(text)
    if word in _STATIONS:
        return True
    if word and word not in _TREES:
        raise Unusable(f"what '{shown(text)}' is neither tree nor station")
    return False


def _tree(row: Mapping[str, str], where: str, name: str, reading: Reading) -> FoundTree | None:
    """Return what a line says of the tree at its far end, or None where it says nothing."""
    species = name_of(unguarded(row.get("species", "")), "species")
    thick = row.get("thickness", "").strip()
    if not thick or reading.thickness is None:
        return FoundTree(where, name=name, species=species) if species else None
    what, unit = reading.thickness
    day = row.get("date", "").strip()
    found = measured(
        what, number_of(thick, what), unit, what=what, given=thick, measured_on=day_of(day) if day else None
    )
    return FoundTree(where, name=name, species=species, measurements=(found,))
