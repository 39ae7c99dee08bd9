"""Reading tables of trees and their measurements, columns told by their names in the header."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from decimal import Decimal
from pathlib import Path

from standmap.formats.content import Findings, FoundMeasurement, FoundTree, Skipped
from standmap.formats.delimited import Table, open_table, unguarded
from standmap.formats.faults import Unusable, called, go_on, refused, shown
from standmap.formats.places_on_earth import covariance, degrees
from standmap.formats.quantities import (
    HEIGHT_COLUMNS,
    THICKNESS_COLUMNS,
    Thickness,
    as_given,
    measured,
    number_of,
)
from standmap.formats.texts import day_of, flag_of, kind_of, line_of, name_of, note_of
from standmap.progress import Progress, Unwatched
from standmap.stand.tree import LonLat, Soundness, Standing
from standmap.units import to_mm

_ALIASES: Mapping[str, tuple[str, ...]] = {
    "name": ("name", "tree", "treename", "tag", "treetag"),
    "key": ("id", "treeid", "key"),
    "lon": ("lon", "longitude", "lng", "long"),
    "lat": ("lat", "latitude"),
    "x": ("x", "xm", "easting", "eastingm"),
    "y": ("y", "ym", "northing", "northingm"),
    "species": ("species",),
    "measured_on": ("measuredon", "date", "day"),
    "soundness": ("soundness",),
    "standing": ("standing",),
    "standing_since": ("standingsince",),
    "rootstock": ("rootstock",),
    "proposed": ("proposed",),
    "tag_confirmed": ("tagconfirmed",),
    "pinned": ("pinned",),
    "var_e": ("varem2",),
    "var_n": ("varnm2",),
    "cov_en": ("covenm2",),
    "note": ("note", "notes", "comment", "remarks"),
    "given": ("given",),
    "given_unit": ("givenunit",),
    "measurement_note": ("measurementnote",),
    "measurement_key": ("measurementid",),
}
"""What a column can mean -> the plain names it goes by, the first one winning where several stand in one header."""

_MEANING = {alias: (meaning, rank) for meaning, names in _ALIASES.items() for rank, alias in enumerate(names)}

UNDERSTOOD = (
    "name (tree, tag), id, lon and lat, x and y with --crs, girth_mm or girth_cm, _m, _in, "
    "dbh_cm or diameter_mm and kin, species, date, at_height_cm, soundness, standing, rootstock, note"
)
"""The column names, for a person."""


def is_known(name: str) -> bool:
    """Return whether a plain column name means something in a table of trees."""
    return name in _MEANING or name in THICKNESS_COLUMNS or name in HEIGHT_COLUMNS


def read_trees_csv(path: Path, *, crs: str | None = None, progress: Progress | None = None) -> Findings:
    """Read a table of trees, of measurements, or of both.

    Rows of one id are one tree with several measurements; a row without coordinates is about a tree known already.

    Parameters
    ----------
    crs
        Coordinate system of the columns x and y, such as "EPSG:3067".

    Raises
    ------
    UserError
        If the file is no table, its header does not say enough, or x and y stand there without `crs`.
    """
    watched = progress or Unwatched()
    table = open_table(path, is_known, understood=UNDERSTOOD)
    if "what" in table.header:
        raise refused(path, "is a table of returns", "give it to 'standmap record'")
    columns = TreeColumns.of(table)
    if columns.metric and crs is None:
        raise refused(
            path, "has x and y, but no coordinate system is named", "give it by --crs, for example --crs EPSG:3067"
        )
    found: dict[str, FoundTree] = {}  # by id, or by line where there is none
    skipped: list[Skipped] = []
    reader = TreeRows(columns)
    for line, cells in table.rows(watched):
        try:
            tree = reader.tree(f"line {line}", cells)
            slot = f"id {tree.key}" if tree.key is not None else tree.where
            found[slot] = _joined(found[slot], tree) if slot in found else tree
        except Unusable as reason:
            skipped.append(Skipped(f"line {line}", str(reason)))
    trees = list(found.values())
    told = [*table.told, *columns.told()]
    if reader.comma:
        told.append("numbers have a decimal comma")
    if columns.metric and crs is not None and trees:
        go_on(path, watched, 0, 0)
        trees, lost, accuracy = _to_degrees(path, trees, crs)
        skipped += lost
        told.append(accuracy)
    return Findings("csv", len(trees) + len(skipped), trees=tuple(trees), skipped=tuple(skipped), told=tuple(told))


@dataclass(frozen=True, slots=True)
class TreeColumns:
    """Where in a row each thing stands."""

    at: Mapping[str, int]
    thicknesses: tuple[tuple[Thickness, str, int], ...]
    height: tuple[str, int] | None
    written: tuple[str, ...]
    unused: tuple[str, ...]

    @property
    def metric(self) -> bool:
        """Whether the position is in x and y."""
        return "x" in self.at

    @classmethod
    def of(cls, table: Table, *, nameless: bool = False) -> TreeColumns:
        """Read the header.

        Parameters
        ----------
        nameless
            Whether a table may leave it out which tree a row is about.

        Raises
        ------
        UserError
            If two columns say the same, one of a pair is missing, a unit is missing, or nothing says which tree.
        """
        at: dict[str, int] = {}
        ranks: dict[str, int] = {}
        thicknesses: dict[Thickness, tuple[str, int]] = {}
        height: tuple[str, int] | None = None
        for index, name in enumerate(table.header):
            written = shown(table.written[index].strip())
            if name and name in table.header[:index] and is_known(name):
                raise refused(table.path, f"two columns are called '{written}'", "keep one of them")
            if name in THICKNESS_COLUMNS:
                thickness, unit = THICKNESS_COLUMNS[name]
                if unit is None:
                    raise refused(
                        table.path,
                        f"column '{written}' has no unit",
                        f"call it {name}_mm, {name}_cm, {name}_m or {name}_in",
                    )
                if thickness in thicknesses:
                    raise refused(table.path, f"two columns give the {thickness}", "keep one of them")
                thicknesses[thickness] = unit, index
            elif name in HEIGHT_COLUMNS:
                unit = HEIGHT_COLUMNS[name]
                if unit is None:
                    raise refused(table.path, f"column '{written}' has no unit", "call it at_height_mm or at_height_cm")
                height = unit, index
            elif name in _MEANING:
                meaning, rank = _MEANING[name]
                if rank < ranks.get(meaning, len(table.header) + 1):
                    at[meaning], ranks[meaning] = index, rank
        if "lon" in at and "lat" in at:
            at.pop("x", None)
            at.pop("y", None)
        for one, other in (("lon", "lat"), ("lat", "lon"), ("x", "y"), ("y", "x")):
            if one in at and other not in at:
                raise refused(table.path, f"has a column for {one} and none for {other}", "give both or neither")
        if not nameless and not {"name", "key", "lon", "x"} & at.keys():
            raise refused(table.path, "no column says which tree a row is about", f"add one of: {UNDERSTOOD}")
        used = {*at.values(), *(index for _, index in thicknesses.values()), *([height[1]] if height else [])}
        unused = tuple(w.strip() for i, w in enumerate(table.written) if i not in used and w.strip())
        columns = tuple((t, unit, index) for t, (unit, index) in thicknesses.items())
        return cls(at, columns, height, table.written, unused)

    def told(self) -> list[str]:
        """Return what a person should know of the header."""
        told = [
            f"column '{shown(self.written[index].strip())}' is a {t} in {unit}" for t, unit, index in self.thicknesses
        ]
        if self.unused:
            told.append(f"columns not used: {', '.join(map(shown, self.unused))}")
        return told


class TreeRows:
    """Reads one row after the other, and notices how numbers are written."""

    def __init__(self, columns: TreeColumns) -> None:
        self._columns = columns
        self._cells: list[str] = []
        self.comma = False

    def _raw(self, meaning: str) -> str:
        index = self._columns.at.get(meaning)
        return "" if index is None else self._cells[index]

    def _text(self, meaning: str) -> str:
        cell = self._raw(meaning)
        return line_of(unguarded(cell)) if cell else ""

    def _float(self, meaning: str) -> float | None:
        cell = self._raw(meaning).strip()
        return float(self._number(cell, meaning)) if cell else None

    def _number(self, cell: str, what: str) -> Decimal:
        number = number_of(cell, what)
        self.comma = self.comma or "," in cell
        return number

    def tree(self, where: str, cells: list[str], *, nameless: bool = False) -> FoundTree:
        """Read one row.

        Parameters
        ----------
        nameless
            Whether it may leave it out which tree it is about.

        Raises
        ------
        Unusable
            If a cell cannot be understood, or the row does not say which tree it is about.
        """
        # A short row says nothing in the columns that it leaves out.
        self._cells = cells + [""] * (len(self._columns.written) - len(cells))
        if len(cells) > len(self._columns.written) and any(c.strip() for c in cells[len(self._columns.written) :]):
            raise Unusable(
                f"has {len(cells)} cells, but the header names {len(self._columns.written)}; "
                "is a decimal comma without its quotes?"
            )
        name, key = name_of(self._text("name")), name_of(self._text("key"), "id")
        at = self._position()
        if not nameless and name is None and key is None and at is None:
            raise Unusable("says neither which tree nor where")
        var_e, var_n, cov_en = covariance(self._float("var_e"), self._float("var_n"), self._float("cov_en"))
        standing, since = self._text("standing"), self._text("standing_since")
        soundness = self._text("soundness")
        return FoundTree(
            where,
            name=name,
            key=key,
            at=at,
            species=name_of(self._text("species"), "species"),
            standing=kind_of(Standing, standing, "standing", but=frozenset({Standing.MERGED})) if standing else None,
            standing_since=day_of(since, "standing_since") if since else None,
            soundness=kind_of(Soundness, soundness, "soundness") if soundness else None,
            rootstock=name_of(self._text("rootstock"), "rootstock"),
            proposed=self._flag("proposed"),
            tag_confirmed=self._flag("tag_confirmed"),
            pinned=self._flag("pinned"),
            var_e_m2=var_e,
            var_n_m2=var_n,
            cov_en_m2=cov_en,
            note=note_of(unguarded(self._raw("note"))) or None,
            measurements=self._measurements(),
        )

    def _flag(self, meaning: str) -> bool | None:
        cell = self._raw(meaning)
        return flag_of(cell, meaning) if cell.strip() else None

    def _position(self) -> LonLat | None:
        """Return longitude and latitude, or x and y where the table has those."""
        pair = ("x", "y") if self._columns.metric else ("lon", "lat")
        first, second = self._float(pair[0]), self._float(pair[1])
        if first is None and second is None:
            return None
        if first is None or second is None:
            raise Unusable(f"has only one of {pair[0]} and {pair[1]}")
        return (first, second) if self._columns.metric else degrees(first, second)

    def _measurements(self) -> tuple[FoundMeasurement, ...]:
        present = [
            (thickness, unit, self._columns.written[index].strip(), self._cells[index].strip())
            for thickness, unit, index in self._columns.thicknesses
            if self._cells[index].strip()
        ]
        if not present:
            return ()
        day = self._text("measured_on")
        height_mm = None
        if self._columns.height is not None:
            unit, index = self._columns.height
            cell = self._cells[index].strip()
            height_mm = to_mm(self._number(cell, "height"), unit) if cell else None
        found = tuple(
            measured(
                thickness,
                self._number(cell, column),
                unit,
                what=column,
                given=cell,
                measured_on=day_of(day) if day else None,
                at_height_mm=height_mm,
                note=note_of(unguarded(self._raw("measurement_note"))),
            )
            for thickness, unit, column, cell in present
        )
        if len(found) > 1:
            return found
        # Only of a single value can it be said whose words and whose id these are.
        words = as_given(found[0], self._text("given"), self._text("given_unit"))
        key = name_of(self._text("measurement_key"), "measurement_id")
        return (words if key is None else replace(words, key=key),)


def _joined(one: FoundTree, other: FoundTree) -> FoundTree:
    """Return what two rows of one id say together.

    Raises
    ------
    Unusable
        If they contradict each other.
    """
    changed: dict[str, object] = {}
    for field in fields(FoundTree):
        mine, others = getattr(one, field.name), getattr(other, field.name)
        if field.name == "measurements":
            changed[field.name] = mine + others
        elif field.name == "where" or others in {None, ()} or mine == others:
            continue
        elif mine is None:
            changed[field.name] = others
        else:
            raise Unusable(f"has another {field.name.replace('_', ' ')} than {one.where}, which has the same id")
    return replace(one, **changed)  # type: ignore[arg-type]


def _to_degrees(path: Path, trees: list[FoundTree], crs: str) -> tuple[list[FoundTree], list[Skipped], str]:
    """Turn x and y into longitude and latitude; return the trees, those that cannot be turned, and how good it is."""
    import numpy as np
    import pyproj

    try:
        with warnings.catch_warnings():
            # A missing grid is told in our own words below.
            warnings.simplefilter("ignore")
            system = pyproj.CRS.from_user_input(crs)
            group = pyproj.transformer.TransformerGroup(system, 4326, always_xy=True)
            transformer = pyproj.Transformer.from_crs(system, 4326, always_xy=True)
    except pyproj.exceptions.ProjError:
        raise refused(
            path, f"'{shown(crs)}' is not a coordinate system for x and y", "give --crs like EPSG:3067"
        ) from None
    placed = [tree for tree in trees if tree.at is not None]
    xy = np.array([tree.at for tree in placed], dtype=np.float64).reshape(-1, 2)
    lon, lat = transformer.transform(xy[:, 0], xy[:, 1])
    turned: dict[str, LonLat] = {}
    skipped = []
    for tree, east, north in zip(placed, lon.tolist(), lat.tolist(), strict=True):
        if -180 <= east <= 180 and -90 <= north <= 90:
            turned[tree.where] = (east, north)
        else:
            skipped.append(Skipped(tree.where, f"x and y are no place in {shown(crs)}"))
    kept = [replace(tree, at=turned.get(tree.where)) for tree in trees if tree.at is None or tree.where in turned]
    metres = max((t.accuracy for t in group.transformers[:1]), default=-1)
    good = f"good to {metres:g} m" if metres >= 0 else "of unknown accuracy"
    approximate = "" if group.best_available else ", approximate because a grid is not installed"
    return kept, skipped, f"x and y of {called(path)} were converted from {system.name}, {good}{approximate}"
