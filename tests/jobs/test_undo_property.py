"""Any sequence of edits, taken back one by one, gives the first rows again; done again, the last ones."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from standmap.errors import NothingToDo, UserError
from standmap.formats.quantities import Thickness
from standmap.formats.records_csv import FoundRecord
from standmap.jobs import correct
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.ground_by_hand import Permission, add_area, add_line, add_place, edit_area, edit_place, remove_ground
from standmap.jobs.mark import mark_trees, unmark_trees
from standmap.jobs.measure import measure
from standmap.jobs.record import record
from standmap.jobs.rule_choice import choose_rules
from standmap.jobs.trees_by_hand import add_tree, move_tree
from standmap.stand.ground import AreaKind, LineKind, PlaceKind
from standmap.stand.tree import Soundness, Tree
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
TODAY = date(2026, 3, 28)
NAMES = [f"B{i}" for i in range(6)]

Edit = Callable[[StandFile, Path], object]
names = st.sampled_from(NAMES)
days = st.dates(date(2023, 1, 1), TODAY)
acts = st.sampled_from(["tapped", "slit", "collected", "taken out", "plugged", "left open", "trimmed", "looked at"])


def _record(tree: str, on: date, what: str, hole: str | None) -> Edit:
    litres = 2500.0 if what == "collected" else None
    line = FoundRecord(0, tree, hole, on, None, what, volume_ml=litres, given="2.5")
    return lambda file, _: record(file, [line], TODAY, NOW)


def _bring(number: int, girth: int) -> Edit:
    def edit(file: StandFile, folder: Path) -> object:
        path = folder / f"{number}-{girth}.csv"
        path.write_text(f"name,lon,lat,girth_mm\nB{number},27.0{number},62.0,{girth}\nC{girth},27.01,62.001,{girth}\n")
        return bring(file, [path], BringOptions(), NOW)

    return edit


def _course(points: list[tuple[float, float]], kind: LineKind) -> Edit:
    return lambda file, _: add_line(file, kind, points, NOW, name=f"line {len(points)}")


def _area(points: list[tuple[float, float]], most: int) -> Edit:
    said = Permission("Anna", most_trees=most)
    return lambda file, _: add_area(file, AreaKind.PERMITTED, points, NOW, name="wood", permission=said)


spots = st.tuples(st.sampled_from([27.0, 27.001, 27.002, 27.9]), st.sampled_from([62.0, 62.001, 62.002]))
courses = st.lists(spots, max_size=4)
things = st.sampled_from([*NAMES, "gate", "wood", "line 2", "line 3"])

by_hand: st.SearchStrategy[Edit] = st.one_of(
    st.builds(
        lambda a, b, h: lambda f, _: mark_trees(f, [a, b], 2026, NOW, h), names, names, st.sampled_from([None, 2])
    ),
    st.builds(lambda a: lambda f, _: unmark_trees(f, [a], 2026, NOW), names),
    st.builds(lambda n, p: lambda f, _: add_tree(f, n, p, TODAY, NOW), st.sampled_from([None, "B1", "H1"]), spots),
    st.builds(lambda a, p: lambda f, _: move_tree(f, a, p, TODAY, NOW), names, spots),
    st.builds(
        lambda a, g, d: lambda f, _: measure(f, a, Thickness.GIRTH, g, "cm", d, TODAY, NOW),
        names,
        st.sampled_from(["84,2", "90", "0", "nine"]),
        days,
    ),
    st.builds(lambda k, p: lambda f, _: add_place(f, k, p, NOW), st.sampled_from(list(PlaceKind)), spots),
    st.builds(lambda p: lambda f, _: edit_place(f, "gate", NOW, at=p), spots),
    st.builds(_course, courses, st.sampled_from(list(LineKind))),
    st.builds(_area, courses, st.integers(-1, 3)),
    st.builds(lambda n: lambda f, _: edit_area(f, "wood", NOW, new_name=n), st.sampled_from(["bog", "wood"])),
    st.builds(lambda n: lambda f, _: remove_ground(f, n, NOW), things),
)

edits: st.SearchStrategy[Edit] = st.one_of(
    by_hand,
    st.builds(_record, names, days, acts, st.sampled_from([None, "1", "2"])),
    st.builds(_bring, st.integers(0, 8), st.integers(500, 505)),
    st.builds(lambda a, d: lambda f, _: correct.fell(f, a, d, NOW), names, days),
    st.builds(lambda a, d: lambda f, _: correct.died(f, a, d, NOW), names, days),
    st.builds(
        lambda a, n: lambda f, _: correct.retag(f, a, n, TODAY, NOW), names, st.sampled_from([*NAMES, "K1", "K2"])
    ),
    st.builds(lambda a, b: lambda f, _: correct.merge(f, a, b, TODAY, NOW), names, names),
    st.builds(
        lambda a, b, y: lambda f, _: correct.move_record(f, a, b, y, None, TODAY, NOW),
        names,
        names,
        st.integers(2023, 2026),
    ),
    st.builds(
        lambda a, b, x: lambda f, _: correct.share_rootstock(f, [a, b], NOW, apart=x), names, names, st.booleans()
    ),
    st.builds(lambda a, s: lambda f, _: correct.set_soundness(f, [a], s, NOW), names, st.sampled_from(list(Soundness))),
    st.builds(lambda y: lambda f, _: choose_rules(f, NOW, None, {"return_after_years": y}), st.integers(3, 6)),
)


def rows(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Return every row of the stand's own tables but the event log, fids included."""
    db = sqlite3.connect(path)
    tables = [r[0] for r in db.execute("SELECT table_name FROM gpkg_contents WHERE table_name != 'event'")]
    found = {t: db.execute(f"SELECT * FROM {t} ORDER BY fid").fetchall() for t in tables}
    assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    db.close()
    return found


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(edits, min_size=1, max_size=14))
def test_undoing_all_gives_the_first_rows_and_redoing_all_the_last(sequence: list[Edit]) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "wood.gpkg"
        with StandFile.create(path) as file:
            with file.writing("plant", NOW) as writing:
                writing.insert_many([Tree(n, n, (27.0 + i / 100, 62.0), "Betula pendula") for i, n in enumerate(NAMES)])
            first = rows(path)
            done = 0
            for edit in sequence:
                before, steps = rows(path), len(file.history())
                try:
                    edit(file, folder)
                except (UserError, NothingToDo):
                    assert rows(path) == before  # a refusal writes nothing
                    assert len(file.history()) == steps
                done += len(file.history()) - steps
            last = rows(path)
            for _ in range(done):
                file.undo(NOW)
            assert rows(path) == first
            for _ in range(done):
                file.redo(NOW)
            assert rows(path) == last
