"""After the rows of two copies are put together: what must fit across rows.

What is done here is told, and comes out alike from whichever side the copies are merged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum, auto

from standmap.stand.names import folded
from standmap.stand.records import RECORDS_FORMAT
from standmap.stand.tree import Standing
from standmap.store.changes import COLUMNS
from standmap.store.merging_copy import Ref, Row
from standmap.store.merging_rows import CLEARED, NEEDED, Compared, Kind, Side, View, merged_trees, pointed


class Told(Enum):
    """What a note is about."""

    SAME_NAME = auto()
    SAME_FILE = auto()
    RENUMBERED = auto()
    MARKED_TWICE = auto()
    FOLLOWED = auto()


@dataclass(frozen=True, slots=True)
class Note:
    """Something a person should know of what comes together.

    Attributes
    ----------
    name
        Of the tree, the place, the line, the area or the file.
    table
        What it is.
    count
        Number of the wound, of the holes that stay marked, or of the records that followed.
    season
        Of a wound or a mark.
    """

    about: Told
    table: str
    name: str
    count: int = 0
    season: int = 0


_FOLLOWING = ("measurement", "tap_hole", "observation", "stop", "media", "plan", "taken_position")
_PULLED: Mapping[str, tuple[tuple[str, str], ...]] = {
    "tree": (("walk_key", "walk"),),
    "taken_position": (("walk_key", "walk"),),
}
"""Columns that point at a row which comes along with this one; so does every source."""


_WHOLLY_TOLD_ONCE = frozenset({"weather", "ghcn", "signs"})
"""Formats of files that bring nothing else."""

_TOLD_ONCE: Mapping[str, tuple[str, ...]] = {"weather": ("station", "day"), "season_sign": ("what", "seen_on")}
"""Columns that make two rows of the two copies one: the same day's weather, the same sign seen."""


def fitted(compared: Compared, decisions: Mapping[str, Side]) -> tuple[View, tuple[Note, ...]]:
    """Return the rows as they will be, every conflict decided, and what is to be told.

    Parameters
    ----------
    decisions
        By the conflicts' ids; ours where none is given.
    """
    view = View(compared.view.ours, compared.view.theirs, dict(compared.view.changes))
    for conflict in compared.conflicts:
        if decisions.get(conflict.id, Side.OURS) is Side.OURS:
            continue
        for ref, columns in conflict.parts:
            their = view.theirs.rows[ref[0]].get(ref[1])
            if conflict.kind in (Kind.GONE_HERE, Kind.GONE_THERE):
                view.changes[ref] = their
            elif their is not None:
                view.with_columns(ref, columns, their)
    _sweep(view, {ref[1] for ref in compared.gone if view.row(ref) is None})
    notes = [*_follow(view), *_renumber(view), *_marked_once(view)]
    for table, same in _TOLD_ONCE.items():
        _told_once(view, table, same)
    _pull(view)
    notes += [*_same_names(view), *_same_files(view)]
    view.changes = {r: row for r, row in view.changes.items() if row != view.ours.rows[r[0]].get(r[1])}
    return view, tuple(notes)


def _sweep(view: View, gone: set[str]) -> None:
    """Take out what needs a row that is gone, and what needs that."""
    while gone:
        further: set[str] = set()
        for table in COLUMNS:
            needed, cleared = pointed(table, NEEDED), pointed(table, CLEARED)
            if not needed and not cleared:
                continue
            for ref, row in list(view.rows(table)):
                if any(row[i] in gone for i in needed):
                    view.changes[ref] = None
                    further.add(ref[1])
                elif any(row[i] in gone for i in cleared):
                    view.changes[ref] = tuple(
                        [None if i in cleared and value in gone else value for i, value in enumerate(row)]
                    )
        gone = further


def _follow(view: View) -> list[Note]:
    """Let records of a tree that one copy merged into another go there too."""
    into = merged_trees(view)
    before = [_merged_in(view.ours.rows["tree"]), _merged_in(view.theirs.rows["tree"])]
    fresh = {key for key, kept in into.items() if any(known.get(key) != kept for known in before)}
    if not fresh:
        return []
    followed: dict[str, int] = {}
    for table in _FOLLOWING:
        place = COLUMNS[table].index("tree_key")
        for ref, row in list(view.rows(table)):
            key = row[place]
            if key in fresh:
                kept = _last(into, str(key))
                view.changes[ref] = (*row[:place], kept, *row[place + 1 :])
                followed[kept] = followed.get(kept, 0) + 1
    ends = tuple(COLUMNS["sight"].index(c) for c in ("from_key", "to_key", "toward_key"))
    for ref, row in list(view.rows("sight")):
        if any(row[i] in fresh for i in ends):
            moved = tuple([_last(into, str(v)) if i in ends and v in fresh else v for i, v in enumerate(row)])
            if len({moved[i] for i in ends}) == len(ends):  # else it would lead from a tree to itself
                view.changes[ref] = moved
    return [Note(Told.FOLLOWED, "tree", _name(view, ("tree", key)), n) for key, n in sorted(followed.items())]


def _merged_in(trees: Mapping[str, Row]) -> dict[str, str]:
    place = COLUMNS["tree"].index("merged_into")
    return {key: str(row[place]) for key, row in trees.items() if row[place] is not None}


def _last(into: Mapping[str, str], key: str) -> str:
    seen = {key}
    while key in into and into[key] not in seen:
        key = into[key]
        seen.add(key)
    return key


def _renumber(view: View) -> list[Note]:
    """Give wounds of one tree and season numbers of their own: those that both copies have keep theirs."""
    columns = COLUMNS["tap_hole"]
    tree, number, day = (columns.index(c) for c in ("tree_key", "number", "made_on"))
    touched = {row[tree] for ref, row in view.changes.items() if ref[0] == "tap_hole" and row is not None}
    if not touched:
        return []
    groups: dict[tuple[str, str], list[tuple[Ref, Row]]] = {}
    for ref, row in view.rows("tap_hole"):
        if row[tree] in touched:
            groups.setdefault((str(row[tree]), str(row[day])[:4]), []).append((ref, row))
    notes = []
    for (tree_key, season), rows in sorted(groups.items()):
        if len({row[number] for _, row in rows}) == len(rows):
            continue
        both = view.ours.rows["tap_hole"], view.theirs.rows["tap_hole"]
        rows.sort(key=lambda r: (not all(r[0][1] in side for side in both), r[0][1]))
        taken: set[object] = set()
        for ref, row in rows:
            wanted = row[number]
            while wanted in taken:
                wanted = int(str(wanted)) + 1
            taken.add(wanted)
            if wanted != row[number]:
                view.changes[ref] = (*row[:number], wanted, *row[number + 1 :])
                name = _name(view, ("tree", tree_key))
                notes.append(Note(Told.RENUMBERED, "tree", name, int(str(wanted)), int(season)))
    return notes


def _marked_once(view: View) -> list[Note]:
    """Let a tree that both copies marked for one season be marked once, with the larger number of holes."""
    columns = COLUMNS["plan"]
    tree, season, holes, remark = (columns.index(c) for c in ("tree_key", "season", "holes", "note"))
    touched = {(row[tree], row[season]) for ref, row in view.changes.items() if ref[0] == "plan" and row is not None}
    if not touched:
        return []
    groups: dict[tuple[str, int], list[tuple[Ref, Row]]] = {}
    for ref, row in view.rows("plan"):
        if (row[tree], row[season]) in touched:
            groups.setdefault((str(row[tree]), int(str(row[season]))), []).append((ref, row))
    notes = []
    for (tree_key, year), rows in sorted(groups.items()):
        together = [
            sum((old := copy.rows["plan"].get(ref[1])) is not None and old[tree] == tree_key for ref, _ in rows)
            for copy in (view.ours, view.theirs)
        ]
        if len(rows) < 2 or max(together) > 1:  # one copy by itself holds the tree marked twice
            continue
        rows.sort(key=lambda r: r[0][1])
        counts = {int(str(row[holes])) for _, row in rows}
        remarks = "\n".join(dict.fromkeys(str(row[remark]) for _, row in rows if row[remark]))
        (kept, row), *others = rows
        changed = list(row)
        changed[holes], changed[remark] = max(counts), remarks
        view.changes[kept] = tuple(changed)
        for ref, _ in others:
            view.changes[ref] = None
        if len(counts) > 1:
            notes.append(Note(Told.MARKED_TWICE, "tree", _name(view, ("tree", tree_key)), max(counts), year))
    return notes


def _told_once(view: View, table: str, same: tuple[str, ...]) -> None:
    """Let what both copies tell be told once: the row of the first key, with what only the others say filled in."""
    columns = COLUMNS[table]
    by = [columns.index(column) for column in same]
    touched = {tuple(row[i] for i in by) for ref, row in view.changes.items() if ref[0] == table and row is not None}
    if not touched:
        return
    groups: dict[tuple[object, ...], list[tuple[Ref, Row]]] = {}
    for ref, row in view.rows(table):
        if (told := tuple(row[i] for i in by)) in touched:
            groups.setdefault(told, []).append((ref, row))
    for rows in groups.values():
        rows.sort(key=lambda r: r[0][1])
        (kept, first), *others = rows
        if others:
            full = [next((row[i] for _, row in rows if row[i] not in (None, "")), first[i]) for i in range(len(first))]
            view.changes[kept] = tuple(full)
            for ref, _ in others:
                view.changes[ref] = None


def _pull(view: View) -> None:
    """Bring back, or let stay, what a row that will be there points at: a walk, a source."""
    waiting = [(ref, row) for ref, row in view.changes.items() if row is not None]
    if any(row is None for row in view.changes.values()):
        waiting = [pair for table in COLUMNS for pair in view.rows(table)]
    while waiting:
        (table, _), row = waiting.pop()
        pairs = [*_PULLED.get(table, ())]
        if "source_key" in COLUMNS[table]:
            pairs.append(("source_key", "source"))
        for column, above in pairs:
            key = row[COLUMNS[table].index(column)]
            ref = (above, str(key))
            if key is None or view.row(ref) is not None:
                continue
            found = view.ours.rows[above].get(str(key)) or view.theirs.rows[above].get(str(key))
            if found is not None:
                view.changes[ref] = found
                waiting.append((ref, found))


def _same_names(view: View) -> list[Note]:
    """Tell of names that two things have only now."""
    notes = []
    for table in ("tree", "place", "line", "area", "batch"):
        name = COLUMNS[table].index("name")
        news = {ref for ref, row in view.changes.items() if ref[0] == table and row is not None}
        changed = {r for r in news if not (old := view.ours.rows[table].get(r[1])) or old[name] != _at(view, r, name)}
        if not changed:
            continue
        called: dict[str, list[Ref]] = {}
        for ref, row in view.rows(table):
            if table != "tree" or row[COLUMNS[table].index("standing")] != Standing.MERGED:
                called.setdefault(folded(str(row[name])), []).append(ref)
        for text, refs in called.items():
            if text and len(refs) > 1 and changed & set(refs):
                notes.append(Note(Told.SAME_NAME, table, str(_at(view, refs[0], name)), len(refs)))
    return notes


def _same_files(view: View) -> list[Note]:
    """Tell of files that were brought into both copies: what they brought is there twice now."""
    columns = COLUMNS["source"]
    name, digest, form = (columns.index(c) for c in ("file_name", "sha256", "format"))
    fresh = [
        (r, row)
        for r, row in view.changes.items()
        if r[0] == "source" and row and r[1] not in view.ours.rows["source"] and row[form] not in _WHOLLY_TOLD_ONCE
    ]
    if not fresh:
        return []
    here = {(row[digest], row[form] == RECORDS_FORMAT) for row in view.ours.rows["source"].values()}
    return [
        Note(Told.SAME_FILE, "source", str(row[name]))
        for _, row in fresh
        if (row[digest], row[form] == RECORDS_FORMAT) in here
    ]


def _at(view: View, ref: Ref, place: int) -> object:
    row = view.row(ref)
    return None if row is None else row[place]


def _name(view: View, ref: Ref) -> str:
    return str(_at(view, ref, COLUMNS[ref[0]].index("name")) or "")
