"""What is handed on comes back: a stand exported and brought into an empty one is the same stand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.export import export
from standmap.jobs.judge import judge
from standmap.jobs.record import record_file
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Collection, Observation, TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Standing, Tree
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
TODAY = date(2026, 3, 28)
RING = ((26.99, 61.99), (27.02, 61.99), (27.02, 62.02), (26.99, 62.02), (26.99, 61.99))
KEYS = [f"01a21313-b75d-7d91-8381-a184957157{n:02d}" for n in range(40)]

# Rows of the file that wrote them, which no exchange file holds.
LEFT_BEHIND = {"source_key": None, "walk_key": None, "batch_key": None}


def full_stand(path: Path) -> Stand:
    """Make a stand that uses every field."""
    a, b, c = KEYS[:3]
    day = date(2024, 3, 20)
    with StandFile.create(path) as file:
        with file.writing("plant", NOW) as writing:
            writing.insert(
                Tree(
                    key=a,
                    name="=B1, \"north\" 'ä' 🌳",
                    at=(27.000000123456789, 62.0),
                    species="Betula pendula",
                    soundness=Soundness.SOUND,
                    rootstock="root 1",
                    tag_confirmed=True,
                    pinned=True,
                    var_e_m2=1.25,
                    var_n_m2=0.3333333333333333,
                    cov_en_m2=-0.1,
                    note="two lines\nand; a, comma",
                ),
                Tree(b, "-B2", (27.001, 62.001), "Betula pendula", Standing.FELLED, date(2025, 11, 2)),
                Tree(c, "P1", (27.002, 62.002), proposed=True),
                Measurement(KEYS[3], a, date(2024, 9, 14), None, 228.6, "9", "in", 1371.6, "rough bark"),
                Measurement(KEYS[4], a, date(2025, 9, 14), 725.5, None, "72,55", "cm"),
                Measurement(KEYS[5], b, None, 800.0, None, "800", "mm"),
                TapHole(
                    KEYS[6],
                    a,
                    1,
                    Wound.HOLE,
                    day,
                    datetime(2024, 3, 20, 17, 5, tzinfo=UTC),
                    900.0,
                    123.4,
                    12.5,
                    10.0,
                    "south",
                ),
                TapHole(KEYS[7], b, 1, Wound.SLIT, date(2025, 3, 21)),
                Collection(KEYS[8], KEYS[6], date(2024, 3, 21), None, 2950.0, "2,95", "l", None, "cloudy"),
                Observation(KEYS[9], a, KEYS[6], Act.PLUGGED, date(2024, 3, 24), None, "birch"),
                Observation(KEYS[10], b, None, Act.FELLED, date(2025, 11, 2)),
                Place(KEYS[11], "gate", PlaceKind.GATE, (27.0, 61.999), "locked"),
                Line(KEYS[12], "brook", LineKind.STREAM, ((27.0, 62.0), (27.01, 62.01))),
                Area(
                    KEYS[13], "east", AreaKind.PERMITTED, (RING,), "the board", day, date(2027, 4, 30), 12, "by letter"
                ),
                Area(KEYS[14], "bog", AreaKind.NO_GO, (RING,)),
            )
        return file.stand()


def same(sent: Iterable[Any], got: Iterable[Any]) -> None:
    """Assert that two groups of rows are equal but for what is left behind."""

    def plain(rows: Iterable[Any]) -> list[Any]:
        found = []
        for row in rows:
            names = {f.name for f in fields(row)}
            found.append(replace(row, **{k: v for k, v in LEFT_BEHIND.items() if k in names}))
        return sorted(found, key=lambda r: str(r.key))

    assert plain(got) == plain(sent)


def test_geojson_carries_everything(tmp_path: Path) -> None:
    sent = full_stand(tmp_path / "a.gpkg")
    export(sent, tmp_path / "out")
    with StandFile.create(tmp_path / "b.gpkg") as file:
        report = bring(file, [tmp_path / "out" / "stand.geojson"], BringOptions(), NOW)
        assert report.sources[0].skipped == ()
        got = file.stand()
        for kind in ("trees", "measurements", "holes", "collections", "observations", "places", "lines", "areas"):
            same(getattr(sent, kind), getattr(got, kind))
        # Exported again, with another hash, it adds nothing and changes nothing.
        export(got, tmp_path / "again", what=["csv"])
        more = bring(file, [tmp_path / "again" / "trees.csv"], BringOptions(), NOW)
        assert (more.sources[0].added, more.sources[0].updated) == (0, 0)
        assert file.stand() == got


def test_the_tables_carry_trees_and_history(tmp_path: Path) -> None:
    sent = full_stand(tmp_path / "a.gpkg")
    export(sent, tmp_path / "out")
    with StandFile.create(tmp_path / "b.gpkg") as file:
        bring(file, [tmp_path / "out" / "trees.csv"], BringOptions(), NOW)
        record_file(file, tmp_path / "out" / "records.csv", TODAY, NOW)
        got = file.stand()
    same(sent.trees, got.trees)
    same(
        (m for m in sent.measurements),
        (replace(m, key=s.key) for m, s in zip(got.measurements, sent.measurements, strict=True)),
    )
    assert [
        (h.tree_key, h.kind, h.made_on, h.made_at, h.height_mm, h.side_deg, h.depth_mm, h.bit_mm, h.note)
        for h in got.holes
    ] == [
        (h.tree_key, h.kind, h.made_on, h.made_at, h.height_mm, h.side_deg, h.depth_mm, h.bit_mm, h.note)
        for h in sent.holes
    ]
    assert [(c.volume_ml, c.collected_on, c.note) for c in got.collections] == [(2950.0, date(2024, 3, 21), "cloudy")]
    counts = [judge(replace(s, areas=()), 2026).counts for s in (sent, got)]
    assert counts[0] == counts[1]


def test_gpx_carries_where_and_what(tmp_path: Path) -> None:
    sent = full_stand(tmp_path / "a.gpkg")
    export(sent, tmp_path / "out", what=["gpx"])
    with StandFile.create(tmp_path / "b.gpkg") as file:
        bring(file, [tmp_path / "out" / "stand.gpx"], BringOptions(), NOW)
        got = file.stand()
    assert [(t.name, t.at) for t in got.trees] == [(t.name, t.at) for t in sent.trees]
    assert [(p.name, p.kind, p.at) for p in got.places] == [(p.name, p.kind, p.at) for p in sent.places]


def test_an_empty_stand_has_nothing_to_hand_on(tmp_path: Path) -> None:
    with pytest.raises(NothingToDo):
        export(Stand(), tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    sent = full_stand(tmp_path / "a.gpkg")
    (tmp_path / "out").write_text("a file")
    with pytest.raises(UserError, match="could not be written"):
        export(sent, tmp_path / "out")
