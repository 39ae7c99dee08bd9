"""A stand written and read back, field by field, against the table of what each format carries."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from dataclasses import fields
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.formats.carried import CARRIED
from standmap.formats.content import Findings
from standmap.formats.csv_writing import write_trees_csv
from standmap.formats.door import read
from standmap.formats.geojson_writing import write_trees_geojson
from standmap.formats.gpx_writing import write_gpx
from standmap.formats.records_csv import (
    COLLECTED,
    SLIT,
    TAPPED,
    WHATS,
    FoundRecord,
    read_records_csv,
    write_records_csv,
)
from standmap.formats.texts import line_of, note_of
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Collection, Observation, TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Standing, Tree

Row = Mapping[str, Any]
Rows = Mapping[str, list[Row]]

WRITERS: Mapping[str, Callable[[Stand], bytes]] = {
    "geojson": write_trees_geojson,
    "csv": write_trees_csv,
    "gpx": write_gpx,
    "returns": write_records_csv,
}

NOT_HANDED_ON = {"source_key", "walk_key", "batch_key", "merged_into", "tree_key"}
"""Keys of rows that no file holds; a row's tree is told by where the row stands."""

NASTY = [
    "=1+1",
    "'=1+1",
    "''",
    "-5",
    "+A",
    "@home",
    "\ttab",
    "it's",
    'say "oak"',
    "a,b;c|d",
    "koivu äö 🌳",
    "שלום עולם",
    "\u202eabc\u202c",
    "line\nbreak",
    "<b>&amp;</b>",
    "]]>",
    "NaN",
    "007",
    "# no",
    "e\u0301",
]

# XML cannot hold the last two characters of a plane; half a surrogate pair and NUL are no text at all.
ANY_TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0\ufffe\uffff"), max_size=40)
LINES = st.one_of(st.sampled_from(NASTY), ANY_TEXT).map(line_of)
NAMES = LINES.filter(bool)
NOTES = st.one_of(st.sampled_from(NASTY), ANY_TEXT).map(note_of)
DAYS = st.dates(date(1990, 1, 1), date(2100, 1, 1))
ZONES = st.integers(-14 * 4, 14 * 4).map(lambda quarters: timezone(timedelta(minutes=15 * quarters)))
LON_LAT = st.tuples(st.floats(-180, 180, exclude_max=True), st.floats(-90, 90))
SIZES = st.floats(10.0, 3000.0)
LENGTHS = st.none() | st.floats(1.0, 45.0)


def moments_on(day: date) -> st.SearchStrategy[datetime | None]:
    start = datetime(day.year, day.month, day.day)  # noqa: DTZ001 - hypothesis wants naive bounds and adds the zone
    end = start + timedelta(days=1, microseconds=-1)
    return st.none() | st.datetimes(start, end, timezones=ZONES)


@st.composite
def measurements(draw: st.DrawFn, key: str, tree_key: str) -> Measurement:
    size, is_girth = draw(SIZES), draw(st.booleans())
    text, unit = draw(
        st.sampled_from([(repr(size), "mm"), (repr(size).replace(".", ","), "mm"), ("two hands", "hands")])
    )
    return Measurement(
        key,
        tree_key,
        draw(st.none() | DAYS),
        size if is_girth else None,
        None if is_girth else size,
        text,
        unit,
        draw(st.floats(0.0, 3000.0)),
        draw(NOTES),
    )


@st.composite
def holes(draw: st.DrawFn, key: str, tree_key: str, number: int) -> TapHole:
    day = draw(DAYS)
    return TapHole(
        key,
        tree_key,
        number,
        draw(st.sampled_from(Wound)),
        day,
        draw(moments_on(day)),
        draw(LENGTHS),
        draw(st.none() | st.floats(0, 360, exclude_max=True)),
        draw(LENGTHS),
        draw(LENGTHS),
        draw(NOTES),
    )


@st.composite
def collections(draw: st.DrawFn, key: str, hole_key: str) -> Collection:
    day = draw(DAYS)
    volume_ml = float(draw(st.integers(0, 60_000)))
    given, unit = draw(st.sampled_from([(repr(volume_ml / 1000), "l"), (repr(volume_ml), "ml"), ("a jug", "jugs")]))
    return Collection(
        key,
        hole_key,
        day,
        draw(moments_on(day)),
        volume_ml,
        given,
        unit,
        note=draw(NOTES),
        overflowed=draw(st.booleans()),
        total_key=draw(st.none() | st.just("t-1")),
    )


@st.composite
def observations(draw: st.DrawFn, key: str, tree_key: str, hole_keys: list[str]) -> Observation:
    day = draw(DAYS)
    hole_key = draw(st.none() | st.sampled_from(hole_keys)) if hole_keys else None
    return Observation(key, tree_key, hole_key, draw(st.sampled_from(Act)), day, draw(moments_on(day)), draw(NOTES))


@st.composite
def trees(draw: st.DrawFn, key: str) -> Tree:
    spread = draw(st.none() | st.tuples(st.floats(0.01, 100), st.floats(0.01, 100), st.floats(-1, 1)))
    var_e, var_n, cov = spread or (None, None, None)
    return Tree(
        key,
        draw(NAMES),
        draw(LON_LAT),
        species=draw(st.none() | NAMES),
        standing=draw(st.sampled_from(Standing)),
        standing_since=draw(st.none() | DAYS),
        soundness=draw(st.none() | st.sampled_from(Soundness)),
        rootstock=draw(st.none() | NAMES),
        proposed=draw(st.booleans()),
        tag_confirmed=draw(st.booleans()),
        pinned=draw(st.booleans()),
        var_e_m2=var_e,
        var_n_m2=var_n,
        cov_en_m2=cov * (var_e * var_n) ** 0.5 if var_e and var_n and cov is not None else None,
        note=draw(NOTES),
    )


RINGS = st.lists(LON_LAT, min_size=3, max_size=6).map(lambda ring: (*ring, ring[0]))


@st.composite
def stands(draw: st.DrawFn) -> Stand:
    all_trees: list[Tree] = []
    all_measurements: list[Measurement] = []
    all_holes: list[TapHole] = []
    all_collections: list[Collection] = []
    all_observations: list[Observation] = []
    for t in range(draw(st.integers(0, 3))):
        tree = draw(trees(f"tree-{t}"))
        all_trees.append(tree)
        all_measurements += [draw(measurements(f"m-{t}-{n}", tree.key)) for n in range(draw(st.integers(0, 2)))]
        own = [draw(holes(f"h-{t}-{n}", tree.key, n + 1)) for n in range(draw(st.integers(0, 2)))]
        all_holes += own
        for hole in own:
            count = draw(st.integers(0, 2))
            all_collections += [draw(collections(f"c-{hole.key}-{n}", hole.key)) for n in range(count)]
        keys = [hole.key for hole in own]
        count = draw(st.integers(0, 2))
        all_observations += [draw(observations(f"o-{t}-{n}", tree.key, keys)) for n in range(count)]
    return Stand(
        trees=tuple(all_trees),
        measurements=tuple(all_measurements),
        holes=tuple(all_holes),
        collections=tuple(all_collections),
        observations=tuple(all_observations),
        places=tuple(
            Place(f"p-{n}", draw(NAMES), draw(st.sampled_from(PlaceKind)), draw(LON_LAT), draw(NOTES))
            for n in range(draw(st.integers(0, 2)))
        ),
        lines=tuple(
            Line(
                f"l-{n}",
                draw(NAMES),
                draw(st.sampled_from(LineKind)),
                tuple(draw(st.lists(LON_LAT, min_size=2, max_size=4))),
                draw(NOTES),
            )
            for n in range(draw(st.integers(0, 1)))
        ),
        areas=tuple(
            Area(
                f"a-{n}",
                draw(NAMES),
                draw(st.sampled_from(AreaKind)),
                tuple(draw(st.lists(RINGS, min_size=1, max_size=2))),
                draw(LINES),
                draw(st.none() | DAYS),
                draw(st.none() | DAYS),
                draw(st.none() | st.integers(0, 500)),
                draw(NOTES),
            )
            for n in range(draw(st.integers(0, 1)))
        ),
    )


def full_stand() -> Stand:
    """Return a stand in which every field that any format carries says something."""
    helsinki = timezone(timedelta(hours=3))
    day = date(2025, 4, 1)
    moment = datetime(2025, 4, 1, 7, 30, 15, 250_000, tzinfo=helsinki)
    return Stand(
        trees=(
            Tree(
                "tree-1",
                "=1+1",
                (29.763_6, 62.601_000_000_000_1),
                "Betula pendula",
                Standing.FELLED,
                date(2026, 1, 2),
                soundness=Soundness.UNSOUND,
                rootstock="root-1",
                proposed=True,
                tag_confirmed=True,
                pinned=True,
                var_e_m2=0.1 + 0.2,
                var_n_m2=1.5,
                cov_en_m2=-0.25,
                note='"quoted", שלום 🌳\nsecond line',
            ),
            Tree("tree-2", "A 2", (-3.19, 55.95)),
            Tree("tree-3", "gone", (29.0, 62.0), standing=Standing.MERGED, merged_into="tree-1"),
        ),
        measurements=(
            Measurement("m-1", "tree-1", None, None, 228.6, "9", "in", 1371.6, "tape slack"),
            Measurement("m-2", "tree-1", day, 718.0, None, "71,8", "cm"),
        ),
        holes=(TapHole("h-1", "tree-1", 2, Wound.SLIT, day, moment, 805.0, 12.5, 12.25, 10.0, "south"),),
        collections=(
            Collection("c-1", "h-1", day, moment, 3100.0, "3,1", "l", note="clear", overflowed=True, total_key="t-1"),
        ),
        observations=(Observation("o-1", "tree-1", "h-1", Act.TAKEN_OUT, day, moment, "-dry"),),
        places=(Place("p-1", "+gate", PlaceKind.GATE, (29.1, 62.1), "locked"),),
        lines=(Line("l-1", "brook", LineKind.STREAM, ((29.1, 62.1), (29.2, 62.2)), "cold"),),
        areas=(
            Area(
                "a-1",
                "north lot",
                AreaKind.PERMITTED,
                (((29.0, 62.0), (29.5, 62.0), (29.5, 62.5), (29.0, 62.0)),),
                "A. Owner",
                date(2025, 3, 1),
                date(2025, 6, 30),
                40,
                "ask first",
            ),
        ),
    )


# --- what was written and what came back, as rows of one shape -------------------------------------------------------


def row_of(value: object) -> Row:
    return {field.name: getattr(value, field.name) for field in fields(value)}  # type: ignore[arg-type]


def written(stand: Stand) -> Rows:
    rows: dict[str, list[Row]] = {name: [] for name in ("tree", "measurement", "hole", "collection", "observation")}
    for tree in stand.present:
        rows["tree"].append(row_of(tree))
        rows["measurement"] += map(row_of, stand.measurements_of.get(tree.key, ()))
        rows["hole"] += map(row_of, stand.holes_of.get(tree.key, ()))
        for hole in stand.holes_of.get(tree.key, ()):
            rows["collection"] += map(row_of, stand.collections_of.get(hole.key, ()))
        rows["observation"] += map(row_of, stand.observations_of.get(tree.key, ()))
    rows["place"] = [row_of(place) for place in stand.places]
    rows["line"] = [row_of(line) for line in stand.lines]
    rows["area"] = [row_of(area) for area in stand.areas]
    return rows


def found_in(found: Findings) -> Rows:
    assert found.skipped == ()
    wounds = [wound for tree in found.trees for wound in tree.holes]
    return {
        "tree": [row_of(tree) for tree in found.trees],
        "measurement": [row_of(row) for tree in found.trees for row in tree.measurements],
        "hole": [row_of(wound.hole) for wound in wounds],
        "collection": [row_of(row) for wound in wounds for row in wound.collections],
        "observation": [row_of(row) for tree in found.trees for row in tree.observations],
        "place": [row_of(place) for place in found.places],
        "line": [row_of(line) for line in found.lines],
        "area": [row_of(area) for area in found.areas],
    }


def found_in_returns(records: tuple[FoundRecord, ...]) -> Rows:
    def when(record: FoundRecord) -> datetime | None:
        return datetime.combine(record.on, record.at) if record.at else None

    rows: dict[str, list[Row]] = {"hole": [], "collection": [], "observation": []}
    for record in records:
        common = {"note": record.note}
        if record.what in {TAPPED, SLIT}:
            sizes = {name: getattr(record, name) for name in ("height_mm", "side_deg", "depth_mm", "bit_mm")}
            kind = Wound.HOLE if record.what == TAPPED else Wound.SLIT
            number = int(record.hole or 0)
            made = {"made_on": record.on, "made_at": when(record)}
            rows["hole"].append({**common, **sizes, **made, "kind": kind, "number": number})
        elif record.what == COLLECTED:
            got = {"collected_on": record.on, "collected_at": when(record), "volume_ml": record.volume_ml}
            rows["collection"].append({**common, **got, "overflowed": record.overflowed})
        else:
            seen = {"what": Act(record.what), "observed_on": record.on, "observed_at": when(record)}
            rows["observation"].append({**common, **seen})
    return rows


def read_back(form: str, content: bytes, folder: Path) -> Rows:
    path = folder / "handed.on"
    path.write_bytes(content)
    return found_in_returns(read_records_csv(path).records) if form == "returns" else found_in(read(path))


def same(form: str, field: str, value: Any) -> Any:
    """Return a value in the form in which the two sides are compared: as the docstring of CARRIED says."""
    if field == "area.outline":
        return [sorted(ring) for ring in value]
    if field.endswith(".note"):
        return (value or "").strip() if form == "gpx" else value or ""
    if field == "area.owner":
        return value or ""
    if isinstance(value, datetime):
        return value, value.utcoffset()
    return value


def comparable(form: str, field: str, rows: Rows) -> Any:
    kind, name = field.split(".")
    values = [same(form, field, row[name]) for row in rows.get(kind, [])]
    # A table of returns is ordered by day and not by tree.
    return sorted(values, key=repr) if form == "returns" else values


def expected(form: str, field: str, stand: Stand) -> Any:
    rows = written(stand)
    if form == "returns":
        rows = {**rows, "observation": [row for row in rows["observation"] if row["what"] in WHATS]}
    return comparable(form, field, rows)


EVERY_CARRIED = [(form, field) for form, names in sorted(CARRIED.items()) for field in sorted(names)]


@pytest.mark.parametrize(("form", "field"), EVERY_CARRIED)
def test_what_a_format_carries_comes_back(form: str, field: str, tmp_path: Path) -> None:
    stand = full_stand()
    sent = expected(form, field, stand)
    assert any(value not in (None, "", False) for value in sent), "the stand says nothing in this field"
    assert comparable(form, field, read_back(form, WRITERS[form](stand), tmp_path)) == sent


@given(stand=stands(), form=st.sampled_from(sorted(CARRIED)))
@settings(deadline=None, max_examples=150)
def test_any_stand_comes_back_as_the_table_says(stand: Stand, form: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        back = read_back(form, WRITERS[form](stand), Path(folder))
    for field in CARRIED[form]:
        assert comparable(form, field, back) == expected(form, field, stand), field


def test_geojson_carries_every_field_of_the_stand() -> None:
    kinds = {
        "tree": Tree,
        "measurement": Measurement,
        "hole": TapHole,
        "collection": Collection,
        "observation": Observation,
        "place": Place,
        "line": Line,
        "area": Area,
    }
    every = {f"{kind}.{f.name}" for kind, cls in kinds.items() for f in fields(cls) if f.name not in NOT_HANDED_ON}
    assert CARRIED["geojson"] == every - {"collection.hole_key"}
    assert all(names <= CARRIED["geojson"] for names in CARRIED.values())


def test_rows_stay_with_the_tree_and_the_hole_they_belong_to(tmp_path: Path) -> None:
    path = tmp_path / "handed.on"
    path.write_bytes(write_trees_geojson(full_stand()))
    (tree, other) = read(path).trees
    assert [wound.hole.tree_key for wound in tree.holes] == ["tree-1"]
    assert [sap.hole_key for wound in tree.holes for sap in wound.collections] == ["h-1"]
    assert [(seen.tree_key, seen.hole_key) for seen in tree.observations] == [("tree-1", "h-1")]
    assert (other.measurements, other.holes, other.observations) == ((), (), ())


@pytest.mark.parametrize("form", WRITERS)
def test_merged_trees_are_not_handed_on(form: str) -> None:
    assert b"gone" not in WRITERS[form](full_stand())


@pytest.mark.parametrize("form", WRITERS)
def test_writing_twice_gives_the_same_bytes(form: str) -> None:
    assert WRITERS[form](full_stand()) == WRITERS[form](full_stand())


@pytest.mark.parametrize("form", WRITERS)
def test_an_empty_stand_is_written_and_read(form: str, tmp_path: Path) -> None:
    assert not any(read_back(form, WRITERS[form](Stand()), tmp_path).values())


@pytest.mark.parametrize("form", WRITERS)
@pytest.mark.parametrize("text", ["\0", "\ud800", "a\0b\ufffe"])
def test_text_that_no_file_can_hold_does_not_stop_the_writers(form: str, text: str, tmp_path: Path) -> None:
    tree = Tree("k", text, (29.0, 62.0), note=text)
    hole = TapHole("h", "k", 1, Wound.HOLE, date(2025, 4, 1), datetime(2025, 4, 1, tzinfo=UTC), note=text)
    rows = read_back(form, WRITERS[form](Stand(trees=(tree,), holes=(hole,))), tmp_path)
    assert len(rows.get("tree", rows["hole"])) == 1
