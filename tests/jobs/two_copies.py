"""What tests of merging share: a small stand with a copy beside it, and short words for edits and for what is held."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, TypeVar

from standmap.jobs.merge_copies import (
    MERGED_SETTING,
    MergeProposal,
    MergeReport,
    Side,
    for_all,
    propose_merge,
    store_merge,
)
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Tree
from standmap.store.stand_file import StandFile
from standmap.store.writing import Writing
from tests.jobs.stand_rows import rows

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
DAY = date(2026, 3, 28)

Thing = TypeVar("Thing")
Edit = Callable[[StandFile, Writing], object]


def planted(folder: Path) -> Path:
    """Make a stand of four trees with a hole, a measurement and a place."""
    path = folder / "wood.gpkg"
    with StandFile.create(path) as file, file.writing("plant", NOW) as writing:
        writing.insert_many([Tree(f"t{i}", f"B{i}", (27.0 + i / 1000, 62.0)) for i in range(1, 5)])
        writing.insert(
            Measurement("m1", "t1", date(2025, 9, 1), 700.0, None, "70", "cm"),
            TapHole("h1", "t1", 1, Wound.HOLE, date(2025, 3, 20)),
            Place("p1", "gate", PlaceKind.GATE, (27.0, 62.0)),
        )
        writing.set_setting("working_frame", {"lon0": 27.0, "lat0": 62.0})
    return path


def edit(path: Path, *edits: Edit, at: datetime = NOW) -> None:
    """Write edits, each as a step of its own."""
    with StandFile.open(path) as file:
        for one in edits:
            with file.writing("edit", at) as writing:
                one(file, writing)


def do(path: Path, *jobs: Callable[[StandFile], object]) -> None:
    with StandFile.open(path) as file:
        for job in jobs:
            job(file)


def changed(key: str, **fields: Any) -> Edit:
    """Return an edit that changes fields of a tree."""
    return lambda file, writing: writing.change(next(t for t in file.rows(Tree) if t.key == key), **fields)


def put(*new: object) -> Edit:
    return lambda _, writing: writing.insert(*new)


def over(thing: object) -> Edit:
    """Return an edit that writes a thing over the one of the same key."""
    return lambda _, writing: writing.replace(thing)


def out(*old: object) -> Edit:
    def edit(_: StandFile, writing: Writing) -> None:
        for thing in old:
            writing.delete(thing)

    return edit


def setting(name: str, value: object) -> Edit:
    return lambda _, writing: writing.set_setting(name, value)


def things(path: Path, kind: type[Thing]) -> dict[str, Thing]:
    with StandFile.open(path, read_only=True) as file:
        found: dict[str, Thing] = {thing.key: thing for thing in file.rows(kind)}  # type: ignore[attr-defined]
        return found


def tree(path: Path, key: str) -> Tree:
    return things(path, Tree)[key]


def proposed(path: Path, other: Path) -> MergeProposal:
    with StandFile.open(path, read_only=True) as file:
        return propose_merge(file, other)


def merged(path: Path, other: Path, side: Side | None = None) -> MergeReport:
    with StandFile.open(path) as file:
        proposal = propose_merge(file, other)
        return store_merge(file, proposal, {} if side is None else for_all(proposal, side), NOW)


def agree(path: Path, other: Path) -> None:
    """Merge the other way round, where there is anything to merge; then both hold the same, and nothing is left."""
    if not proposed(path, other).nothing:
        merged(path, other)
    assert content(path) == content(other)
    assert proposed(path, other).nothing
    assert proposed(other, path).nothing


def content(path: Path) -> dict[str, set[tuple[object, ...]]]:
    """Return what a stand holds, fids and the memory of merging left out."""
    return {
        table: {row[1:] for row in found if not (table == "setting" and row[1] == MERGED_SETTING)}
        for table, found in rows(path).items()
        if table != "standmap_schema"
    }
