"""Whatever two people do to two copies: nothing is lost, both come to hold the same, twice is once, undo is exact."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import fields, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from standmap.errors import NothingToDo, UserError
from standmap.formats.quantities import Thickness
from standmap.formats.records_csv import FoundRecord
from standmap.jobs import correct
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.ground_by_hand import add_place, edit_place, remove_ground
from standmap.jobs.mark import mark_trees, unmark_trees
from standmap.jobs.measure import measure
from standmap.jobs.merge_copies import MERGED_SETTING, Side, for_all, propose_merge, store_merge
from standmap.jobs.record import record
from standmap.jobs.rule_choice import choose_rules
from standmap.jobs.signs import note_sign
from standmap.jobs.trees_by_hand import add_tree, move_tree
from standmap.season.answer import Sign
from standmap.stand.ground import PlaceKind
from standmap.stand.records import Plan, SeasonSign, Weather
from standmap.stand.tapping import TapHole
from standmap.stand.tree import Measurement, Soundness, Tree
from standmap.store.rows import CODEC
from standmap.store.stand_file import StandFile, steps_to_undo
from tests.jobs.stand_rows import rows

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
TODAY = date(2026, 3, 28)
NAMES = [f"B{i}" for i in range(6)]
PLANTING = 2
"""Steps in which the stand is made."""

Edit = Callable[[StandFile], object]
names = st.sampled_from(NAMES)
spots = st.tuples(st.sampled_from([27.0, 27.001, 27.002]), st.sampled_from([62.0, 62.001]))
days = st.sampled_from([date(2026, 3, 20), date(2026, 3, 21)])
acts = st.sampled_from(["tapped", "collected", "taken out", "plugged", "looked at"])


def _record(tree: str, day: int, what: str) -> Edit:
    litres = 2500.0 if what == "collected" else None
    line = FoundRecord(0, tree, None, date(2026, 3, day), None, what, volume_ml=litres, given="2.5")
    return lambda file: record(file, [line], TODAY, NOW)


def _tree_out(name: str) -> Edit:
    """Take a tree and all of its own out, as taking back the file that it came from does."""

    def edit(file: StandFile) -> None:
        tree = file.stand().tree(name)
        mine = [r for kind in (Plan, Measurement) for r in file.rows(kind) if r.tree_key == tree.key]  # type: ignore[attr-defined]
        if file.stand().holes_of.get(tree.key) or file.stand().observations_of.get(tree.key):
            raise NothingToDo("it has a history")
        if any(t.merged_into == tree.key for t in file.stand().trees):
            raise NothingToDo("others are merged into it")
        with file.writing(f"take out {name}", NOW) as writing:
            for row in mine:
                writing.delete(row)
            writing.delete(tree)

    return edit


def _weather(station: str, day: int, most_c: int | None) -> Edit:
    row = f"{station},2026-03-{day},-2,{'' if most_c is None else most_c}"

    def edit(file: StandFile) -> None:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "weather.csv"
            path.write_text(f"station,date,tmin_c,tmax_c\n{row}\n")
            bring(file, [path], BringOptions(), NOW)

    return edit


edits: st.SearchStrategy[Edit] = st.one_of(
    st.builds(_weather, st.sampled_from("AB"), st.integers(25, 26), st.sampled_from([None, 4])),
    st.builds(lambda w, d: lambda f: note_sign(f, w, d, TODAY, NOW), st.sampled_from(list(Sign)[:2]), days),
    st.builds(lambda a, h: lambda f: mark_trees(f, [a], 2026, NOW, h), names, st.sampled_from([None, 2])),
    st.builds(lambda a: lambda f: unmark_trees(f, [a], 2026, NOW), names),
    st.builds(lambda n, p: lambda f: add_tree(f, n, p, TODAY, NOW), st.sampled_from([None, "H1"]), spots),
    st.builds(lambda a, p: lambda f: move_tree(f, a, p, TODAY, NOW), names, spots),
    st.builds(lambda a, g: lambda f: measure(f, a, Thickness.GIRTH, g, "cm", TODAY, TODAY, NOW), names, st.just("90")),
    st.builds(lambda k, p: lambda f: add_place(f, k, p, NOW), st.sampled_from(list(PlaceKind)), spots),
    st.builds(lambda p: lambda f: edit_place(f, "gate", NOW, at=p), spots),
    st.builds(lambda: lambda f: remove_ground(f, "gate", NOW)),
    st.builds(_record, names, st.integers(20, 27), acts),
    st.builds(lambda a: lambda f: correct.fell(f, a, TODAY, NOW), names),
    st.builds(lambda a, n: lambda f: correct.retag(f, a, n, TODAY, NOW), names, st.sampled_from(["K1", "K2", "B1"])),
    st.builds(lambda a, b: lambda f: correct.merge(f, a, b, TODAY, NOW), names, names),
    st.builds(lambda a, b: lambda f: correct.share_rootstock(f, [a, b], NOW), names, names),
    st.builds(lambda a, s: lambda f: correct.set_soundness(f, [a], s, NOW), names, st.sampled_from(list(Soundness))),
    st.builds(lambda y: lambda f: choose_rules(f, NOW, None, {"return_after_years": y}), st.integers(3, 6)),
    st.builds(_tree_out, names),
)


def _undo(file: StandFile) -> object:
    """Take back a step, but not the planting: a stand that is begun anew is another stand."""
    if len(steps_to_undo(file.history())) <= PLANTING:
        raise NothingToDo("only the planting is left")
    return file.undo(NOW)


with_undo = st.one_of(edits, edits, edits, st.just(_undo))


def plant(path: Path) -> None:
    with StandFile.create(path) as file:
        with file.writing("plant", NOW) as writing:
            writing.insert_many([Tree(n, n, (27.0 + i / 1000, 62.0), "Betula pendula") for i, n in enumerate(NAMES)])
            writing.insert_many([TapHole(f"h{n}", n, 1, "hole", date(2025, 3, 20)) for n in NAMES[:2]])  # type: ignore[arg-type]
            writing.set_setting("working_frame", {"lon0": 27.0, "lat0": 62.0})
        add_place(file, PlaceKind.GATE, (27.0, 62.0), NOW, name="gate")


def do(path: Path, sequence: list[Edit]) -> None:
    with StandFile.open(path) as file:
        for edit in sequence:
            try:
                edit(file)
            except (UserError, NothingToDo):
                continue


def merge(path: Path, other: Path, side: Side = Side.OURS) -> bool:
    """Merge one copy into another; returns whether there was anything to merge."""
    with StandFile.open(path) as file:
        proposal = propose_merge(file, other)
        if proposal.nothing:
            return False
        store_merge(file, proposal, for_all(proposal, side), NOW)
    return True


def content(path: Path) -> dict[str, set[tuple[object, ...]]]:
    return {
        table: {row[1:] for row in found if not (table == "setting" and row[1] == MERGED_SETTING)}
        for table, found in rows(path).items()
    }


Held = dict[tuple[type, str], Any]


def held(path: Path) -> Held:
    """Return every thing of a stand by its kind and key."""
    with StandFile.open(path, read_only=True) as file:
        found: dict[type, tuple[Any, ...]] = {kind: file.rows(kind) for kind in CODEC}
    return {(kind, thing.key): thing for kind, things in found.items() for thing in things}


def _told(thing: object) -> tuple[object, ...]:
    if isinstance(thing, Weather):
        return thing.station, thing.day
    return (thing.what, thing.seen_on) if isinstance(thing, SeasonSign) else ()


def nothing_is_lost(start: Held, ours: Held, theirs: Held, merged: Held) -> None:
    """Check that merging two copies that do not contradict each other keeps what either of them did."""
    seasons = {plan.season for plan in merged.values() if isinstance(plan, Plan)}
    for ref in ours.keys() | theirs.keys():
        was, mine, yours, now = (copy.get(ref) for copy in (start, ours, theirs, merged))
        either = mine if mine is not None else yours
        if isinstance(either, Plan):  # two marks of one tree become one, also after trees were merged
            assert now is not None or was is not None or either.season in seasons
            continue
        if isinstance(either, Weather | SeasonSign):  # what both tell is told once
            assert now is not None or was is not None or _told(either) in map(_told, merged.values())
            continue
        if was is not None and (mine is None or yours is None):
            assert now is None  # one took it out
            continue
        assert now is not None
        for name in (f.name for f in fields(now)):
            sides = [getattr(thing, name) for thing in (mine, yours) if thing is not None]
            news = [side for side in sides if was is None or side != getattr(was, name)]
            if name not in ("tree_key", "number"):  # records follow a merged tree, wounds are numbered anew
                assert getattr(now, name) == (news or sides)[0]


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(edits, max_size=3),
    st.lists(with_undo, max_size=8),
    st.lists(with_undo, max_size=8),
    st.lists(edits, max_size=4),  # taking back a merge is another matter
    st.sampled_from(list(Side)),
)
def test_two_copies_come_together(
    before: list[Edit], mine: list[Edit], yours: list[Edit], later: list[Edit], side: Side
) -> None:
    with tempfile.TemporaryDirectory() as name:
        ours, theirs = Path(name) / "ours.gpkg", Path(name) / "theirs.gpkg"
        plant(ours)
        do(ours, before)
        shutil.copy(ours, theirs)
        start = held(ours)
        do(ours, mine)
        do(theirs, yours)
        twin_ours, twin_theirs = (Path(shutil.copy(p, p.with_name(f"twin-{p.name}"))) for p in (ours, theirs))
        first = rows(ours)
        with StandFile.open(ours, read_only=True) as file:
            proposal = propose_merge(file, theirs)
        untouched = theirs.read_bytes()
        wrote = merge(ours, theirs, side)
        assert theirs.read_bytes() == untouched
        assert rows(ours) == first or wrote  # rows() checks every foreign key too

        # Twice is once, and nothing is asked a second time.
        assert not merge(ours, theirs, side)

        # Without a conflict nothing is lost, and it comes out alike from both sides.
        if not proposal.conflicts:
            nothing_is_lost(start, held(twin_ours), held(theirs), held(ours))
            merge(twin_theirs, twin_ours)
            assert content(twin_theirs) == content(ours)

        # The other copy comes to the same, and then neither has news for the other.
        merge(theirs, ours)
        assert content(theirs) == content(ours)
        assert not merge(ours, theirs)
        assert not merge(theirs, ours)

        # Later edits there come over like any others.
        do(theirs, later)
        with StandFile.open(ours, read_only=True) as file:
            assert propose_merge(file, theirs).conflicts == ()
        merge(ours, theirs)
        assert content(ours) == content(theirs)

        # Undo of everything that was written here since brings the first rows back.
        with StandFile.open(ours) as file:
            while any(e.kind == "edit" and e.standing and e.label == "merge theirs.gpkg" for e in file.history()):
                file.undo(NOW)
        assert rows(ours) == first


def test_edits_of_one_copy_alone_come_over_whole() -> None:
    with tempfile.TemporaryDirectory() as name:
        ours, theirs = Path(name) / "ours.gpkg", Path(name) / "theirs.gpkg"
        plant(ours)
        shutil.copy(ours, theirs)
        with StandFile.open(theirs) as file:
            tree = file.stand().tree("B3")
            with file.writing("note", NOW) as writing:
                writing.replace(replace(tree, note="x"))
        assert merge(ours, theirs)
        assert content(ours) == content(theirs)
