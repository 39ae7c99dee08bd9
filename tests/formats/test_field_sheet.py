"""Field sheets: what was read is what was written, whatever the unit, the mark and the names of the columns."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.formats.content import Findings, FoundSight
from standmap.formats.delimited import guarded, to_bytes
from standmap.formats.door import read
from standmap.formats.faults import Unusable
from standmap.formats.field_cells import bearing_of, length_of, side_of, slope_of
from standmap.formats.field_sheet import Reading, is_field_sheet, sight_of
from standmap.stand.names import folded
from standmap.stand.sights import North

Sheet = Callable[..., Findings]
HEAD = "from,to,bearing,back bearing,distance (m),slope,toward,along,offset,date,girth_mm,species,what,note"
ANYTHING = st.text(max_size=12)
NAMES = st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=8)


@pytest.fixture
def sheet(tmp_path: Path) -> Sheet:
    def of(*lines: str, head: str = HEAD, encoding: str = "utf-8") -> Findings:
        path = tmp_path / "sheet.csv"
        path.write_text("\n".join([head, *lines]) + "\n", encoding=encoding)
        return read(path)

    return of


def only(found: Findings) -> FoundSight:
    assert found.skipped == ()
    (sight,) = found.sights
    return sight


def test_a_line_says_all_it_says(sheet: Sheet) -> None:
    found = sheet("gate,B7,231.5,50,12.5,-8,,,,2026-03-01,842,Betula pendula,tree,forked")
    sight = only(found)
    assert found.format == "field sheet"
    assert (sight.where, sight.from_name, sight.to_name, sight.station) == ("line 2", "gate", "B7", False)
    assert (sight.bearing_deg, sight.back_bearing_deg, sight.north) == (231.5, 50.0, North.MAGNETIC)
    assert (sight.distance_m, sight.given, sight.given_unit, sight.slope_deg) == (12.5, "12.5", "m", -8.0)
    assert (sight.measured_on, sight.note) == (date(2026, 3, 1), "forked")
    assert sight.tree is not None
    assert (sight.tree.name, sight.tree.species) == ("B7", "Betula pendula")
    assert sight.tree.measurements[0].girth_mm == 842.0
    assert any("taken as magnetic" in told for told in found.told)


def test_an_offset_and_a_station(sheet: Sheet) -> None:
    found = sheet("gate,S1,10,,5,,,,,,,,Station,", "gate,B8,,,,,S1,4,2.5 left,,,,,")
    station, offset = found.sights
    assert station.station
    assert (offset.toward_name, offset.along_m, offset.offset_m, offset.north) == ("S1", 4.0, -2.5, None)


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("gate,B8,370,,5,,,,,,,,,", "bearing 370 is not from 0 to 360 degrees"),
        ("gate,B8,-5,,5,,,,,,,,,", "bearing -5 is not from 0 to 360 degrees"),
        ("gate,B8,10,400,5,,,,,,,,,", "back bearing 400 is not"),
        ("gate,B8,10,,-5,,,,,,,,,", "distance -5 is negative"),
        ("gate,B8,10,,0,,,,,,,,,", "distance is 0"),
        ("gate,B8,10,,five,,,,,,,,,", "distance 'five' is not a number"),
        ("gate,B8,10,,5 furlongs,,,,,,,,,", "the unit 'furlongs' is not known"),
        ("gate,B8,10,,5 km,,,,,,,,,", "the unit 'km' is not known"),
        ("gate,B8,10,,17 paces,,,,,,,,,", "it is not said how long one is"),
        ("gate,B8,10,,5000,,,,,,,,,", "longer than 1000 m"),
        ("gate,B8,10,,5,89,,,,,,,,", "steeper than 85 degrees"),
        (",B8,10,,5,,,,,,,,,", "'from' is empty"),
        ("gate,,10,,5,,,,,,,,,", "'to' is empty"),
        ("gate,Gate,10,,5,,,,,,,,,", "from and to are both"),
        ("gate,B8,,,,,,,,,,,,", "neither a bearing nor a distance"),
        ("gate,B8,,,,,,4,2,,,,,", "name the far end of the base line"),
        ("gate,B8,,,,,S1,4,,,,,,", "needs both along and offset"),
        ("gate,B8,10,,,,S1,4,2,,,,,", "no bearing and no distance of its own"),
        ("gate,B8,,,,,gate,4,2,,,,,", "the base line goes from 'gate' to itself"),
        ("gate,B8,10,,5,,,,,,,,bush,", "what 'bush' is neither tree nor station"),
        ("gate,B8,10,,5,,,,,yesterday,,,,", "'yesterday' is not a day"),
        ("gate,B8,10,,5,,,,,,5,,,", "gives a girth of 5 mm"),
        ("gate,B8,10 true,20 mag,5,,,,,,,,,", "one bearing is counted from true north"),
        ("gate,B8,N95E,,5,,,,,,,,,", "a quarter bearing turns 0 to 90"),
        ("gate,B8,10,,12,5,,,,,,,,,,x", "is a decimal comma without its quotes"),
    ],
)
def test_a_bad_line_is_skipped_and_told(sheet: Sheet, line: str, why: str) -> None:
    found = sheet(line, "gate,B9,10,,5,,,,,,,,,")
    (skipped,) = found.skipped
    assert skipped.where == "line 2"
    assert why in skipped.why
    assert [s.to_name for s in found.sights] == ["B9"]
    assert found.read == 2


@pytest.mark.parametrize(
    ("head", "why"),
    [
        ("from,to,bearing (gon),distance", "'gon' is not understood"),
        ("from,to,bearing,distance (furlongs)", "the unit 'furlongs' is not known"),
        ("from,to,bearing (true),back bearing (magnetic)", "one bearing is counted from true north"),
        ("from,to,bearing,azimuth", "two columns tell the bearing"),
        ("from,to,bearing,girth", "has no unit"),
        ("from,to,distance (paces of 5 m)", "is not from 0.3 to 2 m"),
    ],
)
def test_a_header_that_cannot_be_meant_refuses_the_sheet(sheet: Sheet, head: str, why: str) -> None:
    with pytest.raises(UserError, match=r"sheet\.csv") as refused:
        sheet("a,b,1,2", head=head)
    assert why in str(refused.value)


@pytest.mark.parametrize(
    ("head", "line", "metres", "given"),
    [
        ("from;to;distance", "a;b;12,5", 12.5, ("12,5", "m")),
        ("From\tTo\tTape (ft)", "a\tb\t41", 12.4968, ("41", "ft")),
        ("from_tree,to_tree,dist_m", "a,b,7", 7.0, ("7", "m")),
        ("from,to,distance (paces of 0.75 m)", "a,b,20", 15.0, ("20", "paces")),
        ("from,to,distance (paces),pace (cm)", "a,b,20,75", 15.0, ("20", "paces")),
        ("from,to,distance", "a,b,12' 6\"", 3.81, ("12' 6\"", "ft")),
        ("from,to,distance", "a,b,2 chains", 40.2336, ("2", "ch")),
        ("from|to|distance (yards)", "a|b|10", 9.144, ("10", "yd")),
    ],
)
def test_lengths_in_every_unit(sheet: Sheet, head: str, line: str, metres: float, given: tuple[str, str]) -> None:
    sight = only(sheet(line, head=head))
    assert sight.distance_m == pytest.approx(metres, abs=1e-12)
    assert (sight.given, sight.given_unit) == given


def test_true_bearings_by_header_column_and_cell(sheet: Sheet) -> None:
    assert only(sheet("a,b,10", head="from,to,bearing (true)")).north is North.TRUE
    assert only(sheet("a,b,10,true", head="from,to,bearing,north")).north is North.TRUE
    assert only(sheet("a,b,10 T", head="from,to,bearing")).north is North.TRUE
    assert only(sheet("a,b,10 M", head="from,to,bearing (true)")).north is North.MAGNETIC


def test_a_sheet_in_windows_text_and_with_a_byte_order_mark(sheet: Sheet) -> None:
    assert only(sheet("Süd,b,10", head="from,to,bearing", encoding="cp1252")).from_name == "Süd"
    assert only(sheet("Süd,b,10", head="from,to,bearing", encoding="utf-8-sig")).from_name == "Süd"
    assert only(sheet("Süd,b,10", head="from,to,bearing", encoding="utf-16")).from_name == "Süd"


def test_other_tables_are_no_field_sheets(tmp_path: Path) -> None:
    assert not is_field_sheet(b"name,lon,lat\nB1,25,60\n")
    assert not is_field_sheet(b"tree,date,what,litres\n")
    assert not is_field_sheet(b"from,to,name\n")
    assert is_field_sheet(b'"from";"to";"bearing"\n')
    path = tmp_path / "trees.csv"
    path.write_text("name,lon,lat\nB1,25,60\n")
    assert read(path).format == "csv"


def test_points_of_the_compass_are_rough() -> None:
    turn = bearing_of("sw")
    assert turn.deg == 225.0
    assert turn.sigma_deg is not None
    assert turn.sigma_deg > 5.0


@given(st.integers(0, 90), st.sampled_from("NS"), st.sampled_from("EW"))
def test_a_quarter_bearing_is_the_turn_from_its_pole(angle: int, pole: str, side: str) -> None:
    deg = bearing_of(f"{pole}{angle}{side}").deg
    north, east = math.cos(math.radians(deg)), math.sin(math.radians(deg))
    assert north == pytest.approx(math.cos(math.radians(angle)) * (1 if pole == "N" else -1), abs=1e-9)
    assert east == pytest.approx(math.sin(math.radians(angle)) * (1 if side == "E" else -1), abs=1e-9)


@given(st.floats(0, 300).map(lambda p: round(p, 2)))
def test_a_slope_in_percent_is_its_angle(percent: float) -> None:
    assert math.tan(math.radians(slope_of(f"{percent:.2f} %"))) * 100 == pytest.approx(percent, abs=1e-6)


@given(st.decimals(-900, 900, places=2), st.sampled_from(["m", " m", "", " metres"]), st.booleans())
def test_a_length_is_read_as_written(number: object, unit: str, comma: bool) -> None:
    text = str(number).replace(".", ",") if comma else str(number)
    assert length_of(text + unit, "distance").m == pytest.approx(float(str(number)), abs=1e-9)


@given(st.decimals("0.01", 90, places=2), st.sampled_from(["left", "right", "L", "r"]))
def test_an_offset_says_its_side(number: object, side: str) -> None:
    sign = -1 if side[0] in "lL" else 1
    assert side_of(f"{number} {side}", "offset").m == pytest.approx(sign * float(str(number)))
    assert side_of(f"{side} {number} m", "offset").m == pytest.approx(sign * float(str(number)))


@given(
    st.lists(
        st.tuples(
            NAMES,
            NAMES,
            st.one_of(st.none(), st.floats(0, 359).map(lambda v: round(v, 1))),
            st.floats(0.1, 90).map(lambda v: round(v, 2)),
            st.floats(-40, 40).map(lambda v: round(v, 1)),
            st.booleans(),
        ).filter(lambda row: folded(row[0]) != folded(row[1]) and row[0].casefold() != row[1].casefold()),
        min_size=1,
        max_size=8,
    ),
    st.sampled_from(["m", "ft", "yd"]),
)
def test_what_was_written_is_read(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[str, str, float | None, float, float, bool]], unit: str
) -> None:
    path = tmp_path_factory.mktemp("sheet") / "sheet.csv"
    header = ["from", "to", "bearing (true)", f"distance ({unit})", "slope", "what"]
    path.write_bytes(
        to_bytes(
            header,
            [
                [guarded(a), guarded(b), "" if c is None else str(c), str(d), str(e), "station" if f else "tree"]
                for a, b, c, d, e, f in rows
            ],
        )
    )
    found = read(path)
    metres = {"m": 1.0, "ft": 0.3048, "yd": 0.9144}[unit]
    assert [(s.from_name, s.to_name, s.bearing_deg, s.slope_deg, s.station) for s in found.sights] == [
        (a, b, c, e, f) for a, b, c, _, e, f in rows
    ]
    assert [s.distance_m for s in found.sights] == pytest.approx([d * metres for *_, d, _, _ in rows])


@given(
    st.fixed_dictionaries(
        {},
        optional=dict.fromkeys(
            [
                "from",
                "to",
                "bearing",
                "back_bearing",
                "distance",
                "slope",
                "toward",
                "along",
                "offset",
                "pace",
                "date",
                "what",
                "north",
            ],
            ANYTHING,
        ),
    )
)
def test_any_cells_are_a_sight_or_unusable(row: dict[str, str]) -> None:
    try:
        found = sight_of(row, "line 2", Reading({}))
    except Unusable:
        return
    assert found.bearing_deg is None or 0 <= found.bearing_deg < 360
    assert found.distance_m is None or found.distance_m > 0
    assert (found.bearing_deg, found.back_bearing_deg, found.distance_m, found.offset_m) != (None,) * 4
