"""What the map shows first is what the whole stand, read the long way, says."""

from __future__ import annotations

import struct
import tempfile
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.jobs.first_look import FirstLook, first_look, look_at, rest_passed, stand_columns
from standmap.rules.columns import CODES, columns
from standmap.rules.judgement import Verdict
from standmap.rules.ruleset import load
from standmap.stand.ground import Area, AreaKind, Place, PlaceKind
from standmap.stand.tapping import Act, Observation, TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Standing, Tree
from standmap.store.quick_columns import quick_columns
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
days = st.dates(date(2018, 1, 1), date(2027, 12, 31)) | st.just(date.min)
spots = st.tuples(st.integers(0, 9).map(lambda i: 25 + i / 1024), st.integers(0, 9).map(lambda i: 60 + i / 1024))


@st.composite
def rows(draw: st.DrawFn) -> Mapping[str, Sequence[object]]:
    """Rows of a stand, some trees merged, some far away."""
    trees = [
        Tree(
            f"k{i}",
            draw(st.sampled_from(["B1", "", "a name", "Ü 'x'"])),
            draw(spots | st.just((-70.0, 10.0))),
            draw(st.sampled_from([None, "", "Betula pendula", "birch", "oak"])),
            draw(st.sampled_from([Standing.STANDING] * 4 + list(Standing))),
            draw(st.none() | days),
            None,
            draw(st.sampled_from([None, *Soundness])),
            draw(st.sampled_from([None, None, "", "r1", "r2"])),
            proposed=draw(st.booleans()),
        )
        for i in range(draw(st.integers(0, 8)))
    ]
    keys = st.sampled_from([t.key for t in trees]) if trees else st.nothing()
    girths = st.sampled_from([(718.0, None), (None, 228.6), (1500.5, None), (None, 400.0)])
    measured = [
        Measurement(f"m{i}", draw(keys), draw(st.none() | days), *draw(girths), "1", "mm")
        for i in range(draw(st.integers(0, 12)) if trees else 0)
    ]
    holes = [
        TapHole(f"h{i}", draw(keys), i, draw(st.sampled_from(Wound)), draw(days))
        for i in range(draw(st.integers(0, 12)) if trees else 0)
    ]
    looks = [
        Observation(
            f"o{i}",
            hole.tree_key if draw(st.integers(0, 9)) else draw(keys),
            hole.key if draw(st.integers(0, 9)) else None,
            draw(st.sampled_from([Act.SEEN_OPEN, Act.SEEN_OPEN, Act.SEEN_CLOSED, Act.LOOKED_AT])),
            draw(days),
        )
        for i in range(draw(st.integers(0, 8)) if holes else 0)
        for hole in [draw(st.sampled_from(holes))]
    ]
    ring = ((25.0, 60.0), (25.005, 60.0), (25.005, 60.005), (25.0, 60.005), (25.0, 60.0))
    areas = [
        Area(f"a{i}", "", draw(st.sampled_from(AreaKind)), (ring,), most_trees=draw(st.none() | st.integers(0, 2)))
        for i in range(draw(st.integers(0, 2)))
    ]
    places = [Place(f"p{i}", "", PlaceKind.GATE, draw(spots)) for i in range(draw(st.integers(0, 2)))]
    return {"trees": trees, "measured": measured, "holes": holes, "looks": looks, "areas": areas, "places": places}


def written(folder: Path, found: Mapping[str, Sequence[object]], rules: object = None, frame: object = None) -> Path:
    path = folder / "wood.gpkg"
    with StandFile.create(path) as file, file.writing("all of it", NOW) as writing:
        for many in found.values():
            writing.insert(*many)
        writing.set_setting("rules", rules)
        writing.set_setting("working_frame", frame)
    return path


def assert_same(found: FirstLook, wanted: FirstLook) -> None:
    assert (tuple(found.keys), tuple(found.names)) == (tuple(wanted.keys), tuple(wanted.names))
    assert found.frame == wanted.frame
    for name in ("xy", "girth_mm", "codes", "back_in", "rest"):
        np.testing.assert_array_equal(getattr(found, name), getattr(wanted, name), err_msg=name, strict=True)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    rows(),
    st.integers(2019, 2028),
    st.sampled_from(
        [None, {"set": "finland", "figures": {}}, {"set": "cautious", "figures": {"return_after_years": 3}}]
    ),
    st.sampled_from([None, {"lon0": 25.0, "lat0": 60.0}]),
)
def test_any_stand_looks_the_same_at_first_and_whole(
    found: Mapping[str, Sequence[object]], season: int, rules: object, frame: object
) -> None:
    with tempfile.TemporaryDirectory() as name:
        path = written(Path(name), found, rules, frame)
        with StandFile.open(path, read_only=True) as file:
            stand = file.stand()
            quick = quick_columns(path)
            assert quick is not None
            made, wanted = stand_columns(quick, stand.areas), columns(stand)
            for field in FIELDS:
                ours, theirs = getattr(made, field), getattr(wanted, field)
                if isinstance(theirs, np.ndarray):
                    np.testing.assert_array_equal(ours, theirs, err_msg=field)
                else:
                    assert ours == theirs
            assert_same(first_look(file, season), look_at(stand, season))


FIELDS = (
    "keys", "girth_at", "thickness_mm", "as_diameter", "tapped_at", "root_tapped_at", "root", "name", "names",
    "unsound", "proposed", "gone_from", "areas", "inside", "open_row", "open_made", "open_seen", "open_until",
)  # fmt: skip


BIRCH = Tree("k", "B1", (25.0, 60.0), "birch")


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("measurement", "measured_on", "2024-W37-6"),
        ("tap_hole", "made_on", "2024-W10-4"),
        ("tree", "geom", b"GP\x00\x00" + struct.pack(">iBIdd", 4326, 0, 1, 25.0, 60.0)),
    ],
)
def test_what_others_wrote_in_their_own_way_is_read_the_long_way(
    tmp_path: Path, table: str, column: str, value: object
) -> None:
    girth = Measurement("m", "k", date(2024, 9, 14), 900.0, None, "900", "mm")
    hole = TapHole("h", "k", 1, Wound.HOLE, date(2024, 3, 7))
    path = written(tmp_path, {"trees": [BIRCH], "measured": [girth], "holes": [hole]})
    with StandFile.open(path) as file:
        before = first_look(file, 2026)
        assert quick_columns(path) is not None
        file._db.execute(f"UPDATE {table} SET {column} = ?", (value,))
    assert quick_columns(path) is None
    with StandFile.open(path) as file:
        assert_same(first_look(file, 2026), before)
    assert before.codes.tolist() == [CODES.index(Verdict.RESTING)]


def test_a_file_that_is_damaged_says_so(tmp_path: Path) -> None:
    path = written(tmp_path, {"trees": [BIRCH]})
    broken = tmp_path / "broken.gpkg"
    broken.write_bytes(path.read_bytes()[:6000])
    with pytest.raises(UserError, match=r"broken\.gpkg"):
        quick_columns(broken)


def test_rest_passed_goes_from_none_to_whole() -> None:
    codes = np.array([CODES.index(v) for v in (Verdict.RESTING, Verdict.RESTING, Verdict.READY)], np.uint8)
    passed = rest_passed(codes, np.array([2029, 2026, 0], np.int32), 2025, load("cautious"))
    assert passed[:2].tolist() == [0.0, 0.75]
    assert np.isnan(passed[2])
