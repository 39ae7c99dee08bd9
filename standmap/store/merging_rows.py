"""What two copies make together: row by row from the common state, what goes without asking and what must be asked.

A row that only one of them changed is taken as changed; of a row that both changed, each field by itself. Fields that
say one thing together (a position with its covariance, a number with its unit) go together. No SQL here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum, StrEnum, auto
from typing import NamedTuple

from standmap.stand.tree import Standing
from standmap.store.changes import COLUMNS
from standmap.store.merging_base import Base
from standmap.store.merging_copy import MERGED_SETTING, Copy, Ref, Row
from standmap.store.rows import CODEC


class Kind(Enum):
    """What a conflict is: a field changed twice, a row taken out by one, trees merged in a circle."""

    FIELD = auto()
    GONE_HERE = auto()
    GONE_THERE = auto()
    MERGED = auto()


class Side(StrEnum):
    """Whose word holds where both copies changed the same."""

    OURS = "ours"
    THEIRS = "theirs"


_SPREAD = ("var_e_m2", "var_n_m2", "cov_en_m2")
_TOGETHER: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "tree": {
        "position": ("geom", *_SPREAD, "walk_key"),
        "standing": ("standing", "standing_since", "merged_into"),
    },
    "walk": {"course": ("geom", "fix_times", "fix_sigmas", "fix_elevations", "fix_segments")},
    "stop": {
        "position": ("geom", *_SPREAD, "shared_m2", "fix_count", "from_at", "to_at"),
        "tree": ("tree_key", "state"),
    },
    "taken_position": {
        "position": ("geom", *_SPREAD, "origin", "taken_at", "walk_key"),
        "of": ("tree_key", "place_key"),
    },
    "sight": {
        "ends": ("from_key", "to_key", "toward_key"),
        "bearing": ("bearing_deg", "back_bearing_deg", "north", "declination_deg"),
        "distance": ("distance_m", "given", "given_unit", "slope_deg"),
        "offset": ("along_m", "offset_m"),
    },
    "measurement": {"thickness": ("girth_mm", "diameter_mm", "given", "given_unit", "at_height_mm")},
    "tap_hole": {"day": ("made_on", "made_at")},
    "collection": {
        "day": ("collected_on", "collected_at"),
        "volume": ("volume_ml", "given", "given_unit", "overflowed", "total_key"),
    },
    "batch": {"fate": ("fate", "fate_on")},
    "observation": {"day": ("observed_on", "observed_at"), "of": ("tree_key", "hole_key")},
    "media": {"picture": ("file_name", "media_type", "content", "taken_at")},
    "source": {"file": COLUMNS["source"]},
    "planned_walk": {"content": ("day", "purpose", "made_at", "content")},
    "terrain": {"heights": ("east_m", "north_m", "cell_m", "row_count", "column_count", "heights")},
}


def fields_of(table: str) -> dict[str, tuple[int, ...]]:
    """Return the fields of a table that are changed as one: a name, and which columns."""
    place = {column: i for i, column in enumerate(COLUMNS[table])}
    together = _TOGETHER.get(table, {})
    taken = {column for columns in together.values() for column in columns}
    found = {name: tuple(place[c] for c in columns) for name, columns in together.items()}
    found |= {c: (i,) for c, i in place.items() if c not in taken and i > 0}
    return found


FIELDS = {table: fields_of(table) for table in COLUMNS}

NEEDED: Mapping[str, tuple[str, ...]] = {
    "tree": ("merged_into",),
    "measurement": ("tree_key",),
    "tap_hole": ("tree_key",),
    "collection": ("hole_key",),
    "observation": ("tree_key", "hole_key"),
    "stop": ("walk_key",),
    "plan": ("tree_key",),
    "media": ("tree_key",),
    "taken_position": ("tree_key", "place_key"),
    "sight": ("from_key", "to_key", "toward_key"),
}
"""Columns that point at a row without which this one is nothing."""

CLEARED: Mapping[str, tuple[str, ...]] = {"stop": ("tree_key",), "collection": ("batch_key",)}
"""Columns that point at a row without which this one is less, and stays."""


def pointed(table: str, columns: Mapping[str, tuple[str, ...]]) -> tuple[int, ...]:
    """Return which columns of a table point at other rows in this way."""
    return tuple(COLUMNS[table].index(c) for c in columns.get(table, ()))


class Part(NamedTuple):
    """A row, and which of its columns (all, where none is named) a conflict is about."""

    ref: Ref
    columns: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Conflict:
    """What both copies changed, and only one of them can have right.

    Attributes
    ----------
    id
        The same as long as neither copy changes.
    field
        Name of the field; of a row that one copy took out: "".
    parts
        What goes together; the first names the conflict.
    ours, theirs
        The first row as either has it, None where it is gone.
    along
        How many rows of the other side would go with the one that is gone.
    """

    id: str
    kind: Kind
    field: str
    parts: tuple[Part, ...]
    ours: Row | None
    theirs: Row | None
    along: int = 0

    @property
    def ref(self) -> Ref:
        """The row that the conflict is named by."""
        return self.parts[0].ref


@dataclass(slots=True)
class View:
    """Our rows with changes laid over them; what is changed to None is not there.

    Attributes
    ----------
    ours, theirs
        The copies, as they are.
    """

    ours: Copy
    theirs: Copy
    changes: dict[Ref, Row | None]

    def row(self, ref: Ref) -> Row | None:
        """Return a row as it will be."""
        return self.changes[ref] if ref in self.changes else self.ours.rows[ref[0]].get(ref[1])

    def rows(self, table: str) -> Iterator[tuple[Ref, Row]]:
        """Yield the rows of a table as they will be; changes may be made meanwhile."""
        for key, row in self.ours.rows[table].items():
            now = self.changes.get((table, key), row)  # None where it is taken out
            if now is not None:
                yield (table, key), now
        for ref, new in list(self.changes.items()):
            if ref[0] == table and new is not None and ref[1] not in self.ours.rows[table]:
                yield ref, new

    def with_columns(self, ref: Ref, columns: tuple[int, ...], source: Row) -> None:
        """Give some columns of a row the values of another."""
        now = self.row(ref)
        if now is not None:
            self.changes[ref] = tuple([source[i] if i in columns else value for i, value in enumerate(now)])


@dataclass(frozen=True, slots=True)
class Compared:
    """What goes without asking, and what must be asked; `gone` are rows that one side took out."""

    view: View
    conflicts: tuple[Conflict, ...]
    gone: Mapping[Ref, Row]


def compared(base: Base) -> Compared:
    """Compare two copies row by row."""
    ours, theirs = base.ours, base.theirs
    view = View(ours, theirs, {})
    conflicts: list[Conflict] = []
    gone_here: dict[Ref, Row] = {}
    gone_there: dict[Ref, Row] = {}
    asked: set[Ref] = set()
    for table in COLUMNS:
        here, there = ours.rows[table], theirs.rows[table]
        for key in [*here, *(k for k in there if k not in here)]:
            our, their, ref = here.get(key), there.get(key), (table, key)
            if our == their or ref == ("setting", MERGED_SETTING):
                continue
            was = base.row(ref)
            if our is not None and their is not None:
                conflicts += _fields(view, ref, was, our, their)
            elif their is not None and was is None:
                view.changes[ref] = their
            elif their is not None:
                gone_here[ref] = their
                if their != was:
                    asked.add(ref)
            elif our is not None and was is not None:
                gone_there[ref] = our
                if our == was:
                    view.changes[ref] = None
                else:
                    asked.add(ref)
    conflicts += _gone(view, gone_here, asked, Kind.GONE_HERE)
    conflicts += _gone(view, gone_there, asked, Kind.GONE_THERE)
    conflicts += _merged_both_ways(view, conflicts)
    return Compared(view, tuple(conflicts), gone_here | gone_there)


def _fields(view: View, ref: Ref, was: Row | None, our: Row, their: Row) -> Iterator[Conflict]:
    """Merge the fields of a row that both have, and yield those that both changed."""
    if ref[0] == "source":  # the file was read again: the later reading holds
        read_at = COLUMNS["source"].index("read_at")
        if (str(their[read_at]), repr(their)) > (str(our[read_at]), repr(our)):
            view.changes[ref] = their
        return
    for name, columns in FIELDS[ref[0]].items():
        mine, yours = [our[i] for i in columns], [their[i] for i in columns]
        before = None if was is None else [was[i] for i in columns]
        if mine == yours or before == yours:
            continue
        if before == mine:
            view.with_columns(ref, columns, their)
        else:
            yield Conflict(f"{ref[0]}/{ref[1]}/{name}", Kind.FIELD, name, (Part(ref, columns),), our, their)


def _gone(view: View, gone: Mapping[Ref, Row], asked: set[Ref], kind: Kind) -> Iterator[Conflict]:
    """Yield what one side took out although the other has changed it, or has put new rows to it.

    What was taken out together comes back together: what a row needs, and what needed it.
    """
    if not gone:
        return
    by_key = {ref[1]: ref for ref in gone}
    live: dict[Ref, set[Ref]] = {}
    for table in COLUMNS:
        points = (*pointed(table, NEEDED), *pointed(table, CLEARED))
        if points:
            for ref, row in view.rows(table):
                if ref not in gone:
                    for i in points:
                        if row[i] in by_key:
                            live.setdefault(by_key[str(row[i])], set()).add(ref)
    contested = [ref for ref in gone if ref in asked or ref in live]
    if not contested:
        return
    joined: dict[Ref, set[Ref]] = {ref: set() for ref in gone}
    for ref, row in gone.items():
        for i in pointed(ref[0], NEEDED):
            if row[i] in by_key:
                above = by_key[str(row[i])]
                joined[ref].add(above)
                if ref[0] != "sight":  # it hangs on two points, and would join the whole stand
                    joined[above].add(ref)
    done: set[Ref] = set()
    order = list(COLUMNS)
    for start in contested:
        if start in done:
            continue
        group, waiting = {start}, [start]
        while waiting:
            for ref in joined[waiting.pop()] - group:
                group.add(ref)
                waiting.append(ref)
        done |= group
        parts = sorted(group, key=lambda ref: (order.index(ref[0]), ref[1]))
        along = len({row for ref in group for row in live.get(ref, ())})
        first = parts[0]
        ours, theirs = (None, gone[first]) if kind is Kind.GONE_HERE else (gone[first], None)
        for ref in group:
            view.changes.pop(ref, None)
        yield Conflict(f"{first[0]}/{first[1]}/gone", kind, "", tuple(Part(r) for r in parts), ours, theirs, along)


_STANDING = FIELDS["tree"]["standing"]
_TREE = COLUMNS["tree"]
_INTO, _STATE = _TREE.index("merged_into"), _TREE.index("standing")


def merged_trees(view: View) -> dict[str, str]:
    """Return which trees are merged into which, by their keys."""
    return {ref[1]: str(row[_INTO]) for ref, row in view.rows("tree") if row[_STATE] == Standing.MERGED and row[_INTO]}


def _merged_both_ways(view: View, asked: list[Conflict]) -> Iterator[Conflict]:
    """Yield trees that the two copies have merged in a circle, so that none would be left."""
    into = merged_trees(view)
    held = {c.ref for c in asked if c.field == "standing"}
    done: set[str] = set()
    for key in sorted(into):
        path = [key]
        while path[-1] in into and into[path[-1]] not in path:
            path.append(into[path[-1]])
        if path[-1] not in into or key in done or into[path[-1]] != key:
            continue
        done |= set(path)
        circle = sorted(path)
        refs = [("tree", k) for k in circle if ("tree", k) in view.changes and ("tree", k) not in held]
        ours, theirs = view.ours.rows["tree"], view.theirs.rows["tree"]
        for ref in refs:
            view.with_columns(ref, _STANDING, ours[ref[1]])
        parts = tuple(Part(("tree", k), _STANDING) for k in circle)
        first = circle[0]
        yield Conflict(f"tree/{first}/merged", Kind.MERGED, "standing", parts, ours[first], theirs[first])


CODECS = {codec.table: codec for codec in CODEC.values()}
