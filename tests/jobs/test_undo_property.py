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
from standmap.formats.records_csv import FoundRecord
from standmap.jobs import correct
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.record import record
from standmap.jobs.rule_choice import choose_rules
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


edits: st.SearchStrategy[Edit] = st.one_of(
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
    st.builds(lambda a, s: lambda f, _: correct.set_soundness(f, a, s, NOW), names, st.sampled_from(list(Soundness))),
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
