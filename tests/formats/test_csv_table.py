from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from standmap.errors import UserError
from standmap.formats.content import FoundMeasurement, FoundTree
from standmap.formats.csv_table import read_trees_csv
from standmap.stand.tree import Soundness, Standing

MakeFile = Callable[[str | bytes], Path]


@pytest.fixture
def file(tmp_path: Path) -> MakeFile:
    def made(content: str | bytes) -> Path:
        path = tmp_path / "some.file"
        path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        return path

    return made


def test_a_plain_table_of_trees(file: MakeFile) -> None:
    found = read_trees_csv(
        file("name,lon,lat,species,girth_cm,date,note\r\nA 1,29.5,62.5,Betula pendula,71.8,2025-03-01,by the rock\r\n")
    )
    assert (found.format, found.read, found.skipped) == ("csv", 1, ())
    assert found.trees == (
        FoundTree(
            "line 2",
            name="A 1",
            at=(29.5, 62.5),
            species="Betula pendula",
            note="by the rock",
            measurements=(FoundMeasurement(date(2025, 3, 1), 718.0, None, "71.8", "cm"),),
        ),
    )
    assert "the text is UTF-8" in found.told
    assert "columns are separated by a comma" in found.told
    assert "column 'girth_cm' is a girth in cm" in found.told


@pytest.mark.parametrize(
    ("encoding", "told"),
    [
        ("utf-8", "UTF-8"),
        ("utf-8-sig", "UTF-8 with a byte-order mark"),
        ("utf-16", "UTF-16"),
        ("cp1252", "Windows-1252, as it is not UTF-8"),
    ],
)
def test_the_encoding_is_found_out_and_told(file: MakeFile, encoding: str, told: str) -> None:
    found = read_trees_csv(file("name;lon;lat\nMäntylä 3;29,5;62,5\n".encode(encoding)))
    assert found.trees[0].name == "Mäntylä 3"
    assert f"the text is {told}" in found.told


def test_a_late_foreign_letter_settles_the_encoding_of_the_whole(file: MakeFile) -> None:
    rows = f"A;29;62;{'x' * 1000}\n" * 3000
    found = read_trees_csv(file(("name;lon;lat;note\n" + rows + "ä;29;62;\n").encode("cp1252")))
    assert found.trees[-1].name == "ä"


@pytest.mark.parametrize(("mark", "word"), [(",", "comma"), (";", "semicolon"), ("\t", "tab"), ("|", "vertical bar")])
def test_the_delimiter_is_found_out_and_told(file: MakeFile, mark: str, word: str) -> None:
    text = (
        mark.join(["Name", "Longitude", "Latitude", "Note"])
        + "\n"
        + mark.join(["A", "29.5", "62.5", '"a;b,c|d"'])
        + "\n"
    )
    found = read_trees_csv(file(text))
    assert (found.trees[0].at, found.trees[0].note) == ((29.5, 62.5), "a;b,c|d")
    assert f"columns are separated by a {word}" in found.told


def test_known_columns_tell_the_delimiter_and_not_their_number(file: MakeFile) -> None:
    found = read_trees_csv(file("name;lon;lat;one, two, three, four, five\nA;29;62;x, x, x, x, x\n"))
    assert found.trees[0].at == (29.0, 62.0)


def test_a_decimal_comma_is_found_out_and_told(file: MakeFile) -> None:
    found = read_trees_csv(file("name;lon;lat;dbh_cm\nA;29,5;62,5;22,9\n"))
    assert found.trees[0].at == (29.5, 62.5)
    assert found.trees[0].measurements == (FoundMeasurement(None, None, 229.0, "22,9", "cm"),)
    assert "numbers have a decimal comma" in found.told
    assert "numbers have a decimal comma" not in read_trees_csv(file("name;lon;lat\nA;29.5;62.5\n")).told


@pytest.mark.parametrize("head", ["tree", "TAG", " Tree Name ", "tree_name"])
def test_names_of_the_name_column(file: MakeFile, head: str) -> None:
    assert read_trees_csv(file(f"{head},lng,LAT\nA,29,62\n")).trees[0].name == "A"


@pytest.mark.parametrize("content", ["tag,name,lon,lat\nT,N,29,62\n", "name,tag,lon,lat\nN,T,29,62\n"])
def test_of_two_columns_that_mean_the_name_the_plainer_wins(file: MakeFile, content: str) -> None:
    found = read_trees_csv(file(content))
    assert found.trees[0].name == "N"
    assert "columns not used: tag" in found.told


@pytest.mark.parametrize(
    ("head", "cell", "girth_mm", "diameter_mm"),
    [
        ("girth_mm", "718", 718.0, None),
        ("Girth (cm)", "71.8", 718.0, None),
        ("GIRTH [m]", "0.718", 718.0, None),
        ("circumference in", "28", 711.2, None),
        ("dbh_in", "9", None, 228.6),
        ("DBH (inches)", "9", None, 228.6),
        ("diameter_mm", "229", None, 229.0),
        ("dbh cm", "22.9", None, 229.0),
        ("diam.m", "0.229", None, 229.0),
    ],
)
def test_girth_and_diameter_by_name_and_unit(
    file: MakeFile, head: str, cell: str, girth_mm: float | None, diameter_mm: float | None
) -> None:
    (measurement,) = read_trees_csv(file(f"name,{head}\nA,{cell}\n")).trees[0].measurements
    assert (measurement.girth_mm, measurement.diameter_mm) == (girth_mm, diameter_mm)
    assert measurement.given == cell


def test_girth_and_diameter_in_one_row_are_two_measurements(file: MakeFile) -> None:
    found = read_trees_csv(file("name,girth_cm,dbh_cm,date\nA,71.8,22.9,1.3.2025\nB,,20,\n"))
    assert [(m.girth_mm, m.diameter_mm) for m in found.trees[0].measurements] == [(718.0, None), (None, 229.0)]
    assert {m.measured_on for m in found.trees[0].measurements} == {date(2025, 3, 1)}
    assert [m.measured_on for m in found.trees[1].measurements] == [None]


@pytest.mark.parametrize(
    ("head", "cell", "height_mm"),
    [("height_mm", "500", 500.0), ("at_height_cm", "130", 1300.0), ("measured at (m)", "1,2", 1200.0)],
)
def test_the_height_of_a_measurement(file: MakeFile, head: str, cell: str, height_mm: float) -> None:
    (tree,) = read_trees_csv(file(f"name;girth_cm;{head}\nA;70;{cell}\n")).trees
    assert tree.measurements[0].at_height_mm == height_mm


def test_the_height_of_a_tree_is_not_the_height_of_its_measurement(file: MakeFile) -> None:
    found = read_trees_csv(file("name,girth_cm,height_m\nA,70,18\n"))
    assert found.trees[0].measurements[0].at_height_mm == 1300.0
    assert "columns not used: height_m" in found.told


@pytest.mark.parametrize("head", ["girth", "DBH", "diameter", "at_height"])
def test_a_measure_without_unit_is_asked_for(file: MakeFile, head: str) -> None:
    with pytest.raises(UserError, match=rf"^some\.file: column '{head}' has no unit; call it .*_mm"):
        read_trees_csv(file(f"name,{head}\nA,70\n"))


def test_a_row_without_position_is_a_measurement_of_a_known_tree(file: MakeFile) -> None:
    found = read_trees_csv(file("tree,girth_cm,date\nA,70,2025-03-01\nA,71,2026-03-01\n"))
    assert [(tree.name, tree.at, tree.where) for tree in found.trees] == [("A", None, "line 2"), ("A", None, "line 3")]


def test_rows_of_one_id_are_one_tree(file: MakeFile) -> None:
    found = read_trees_csv(
        file(
            "id,name,lon,lat,girth_cm,date,species\n"
            "k1,A,29,62,70,2024-03-01,\n"
            "k2,B,29.1,62,50,2024-03-01,\n"
            "k1,A,29,62,71,2025-03-01,Betula pendula\n"
            "k1,A,29.5,62,72,2026-03-01,\n"
        )
    )
    assert [(tree.key, tree.species, len(tree.measurements)) for tree in found.trees] == [
        ("k1", "Betula pendula", 2),
        ("k2", None, 1),
    ]
    assert [(row.where, row.why) for row in found.skipped] == [
        ("line 5", "has another at than line 2, which has the same id")
    ]
    assert found.read == len(found.trees) + len(found.skipped)


def test_x_and_y_are_converted_from_the_named_system(file: MakeFile) -> None:
    # Helsinki, UTM zone 35 on WGS 84: 60.1699 N, 24.9384 E is 385611.3167, 6672118.3803 (pyproj, computed).
    path = file("name,Easting,Northing\nA,385611.3167,6672118.3803\nB,,\nC,1e30,1\n")
    found = read_trees_csv(path, crs="EPSG:32635")
    at = found.trees[0].at
    assert at is not None
    assert at[0] == pytest.approx(24.9384, abs=1e-8)
    assert at[1] == pytest.approx(60.1699, abs=1e-8)
    assert found.trees[1].at is None
    assert [(row.where, row.why) for row in found.skipped] == [("line 4", "x and y are no place in EPSG:32635")]
    assert any(told.startswith("x and y of some.file were converted from WGS 84 / UTM zone 35N") for told in found.told)


def test_a_conversion_without_its_grid_is_called_approximate(file: MakeFile) -> None:
    # Ordnance Survey's worked example in its own datum; the good grid is not installed.
    found = read_trees_csv(file("name,x,y\nA,651409.903,313177.270\n"), crs="EPSG:27700")
    at = found.trees[0].at
    assert at is not None
    assert at[0] == pytest.approx(1.7160, abs=2e-3)
    assert at[1] == pytest.approx(52.6580, abs=2e-3)
    assert any("good to" in told and "approximate" in told for told in found.told)


def test_x_and_y_ask_for_their_system(file: MakeFile) -> None:
    path = file("name,x,y\nA,385611,6672118\n")
    with pytest.raises(UserError, match=r"^some\.file: has x and y, but no coordinate system .*--crs"):
        read_trees_csv(path)
    with pytest.raises(UserError, match=r"^some\.file: 'EPSG:nothing' is not a coordinate system"):
        read_trees_csv(path, crs="EPSG:nothing")


def test_longitude_and_latitude_need_no_system(file: MakeFile) -> None:
    found = read_trees_csv(file("name,x,y,lon,lat\nA,1,2,29,62\n"), crs="EPSG:3067")
    assert found.trees[0].at == (29.0, 62.0)


def test_the_rest_of_what_is_known_of_a_tree(file: MakeFile) -> None:
    found = read_trees_csv(
        file(
            "name,standing,standing_since,soundness,rootstock,proposed,tag_confirmed,pinned,var_e_m2,var_n_m2,cov_en_m2\n"
            "A,Dead,2025-04-01,SOUND,R,yes,0,TRUE,4,9,-1\n"
        )
    )
    (tree,) = found.trees
    assert (tree.standing, tree.standing_since, tree.soundness) == (Standing.DEAD, date(2025, 4, 1), Soundness.SOUND)
    assert (tree.rootstock, tree.proposed, tree.tag_confirmed, tree.pinned) == ("R", True, False, True)
    assert (tree.var_e_m2, tree.var_n_m2, tree.cov_en_m2) == (4.0, 9.0, -1.0)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2025-04-03", date(2025, 4, 3)),
        ("2025-04-03T10:00:00Z", date(2025, 4, 3)),
        ("2025/4/3", date(2025, 4, 3)),
        ("03.04.2025", date(2025, 4, 3)),
        ("3.4.2025", date(2025, 4, 3)),
        ("13/04/2025", date(2025, 4, 13)),
        ("04/13/2025", date(2025, 4, 13)),
        ("04/04/2025", date(2025, 4, 4)),
    ],
)
def test_days_as_people_write_them(file: MakeFile, text: str, day: date) -> None:
    (tree,) = read_trees_csv(file(f"name,girth_cm,date\nA,70,{text}\n")).trees
    assert tree.measurements[0].measured_on == day


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("A,29,62,seventy,", "girth_cm 'seventy' is not a number"),
        ("A,29,62,0,", "girth_cm 0 gives a girth of 0 mm"),
        ("A,29,62,-70,", "within 10 mm and 10 m"),
        ("A,29,62,0.9,", "within 10 mm and 10 m"),
        ("A,29,62,1001,", "within 10 mm and 10 m"),
        ("A,29,62,1e400,", "is not a number"),
        ("A,29,62,70,03/04/2025", "could be two days"),
        ("A,29,62,70,31.2.2025", "is not a day"),
        ("A,29,62,70,spring", "is not a day"),
        ("A,29,,70,", "only one of lon and lat"),
        ("A,x,62,70,", "lon 'x' is not a number"),
        ("A,nan,62,70,", "lon 'nan' is not a number"),
        ("A,629,62,70,", "longitude 629"),
        ("A,62,129,70,", "swapped"),
        (",,,70,", "neither which tree nor where"),
        ("n" * 121 + ",29,62,70,", "name has 121 characters"),
        ("A,29,5,62,5,70,2025-04-01", "has 7 cells, but the header names 5"),
    ],
)
def test_a_row_at_fault_is_skipped_by_its_line(file: MakeFile, row: str, why: str) -> None:
    found = read_trees_csv(file(f"name,lon,lat,girth_cm,date\n\n{row}\nB,29,62,70,\n"))
    assert [tree.name for tree in found.trees] == ["B"]
    assert [skipped.where for skipped in found.skipped] == ["line 3"]
    assert why in found.skipped[0].why
    assert found.read == 2


def test_lines_are_counted_as_an_editor_counts_them(file: MakeFile) -> None:
    found = read_trees_csv(
        file('\n\nname,lon,lat,note\r\n\r\nA,29,62,"one\r\ntwo\nthree"\r\n,,,\r\nB,29,62,x\r\nC,x,62,\r\n')
    )
    assert [tree.where for tree in found.trees] == ["line 5", "line 9"]
    assert found.trees[0].note == "one\ntwo\nthree"
    assert [row.where for row in found.skipped] == ["line 10"]


def test_names_are_one_trimmed_line(file: MakeFile) -> None:
    found = read_trees_csv(file('name,lon,lat\n"  A\n1\t",29,62\n'))
    assert found.trees[0].name == "A 1"


def test_an_apostrophe_before_a_formula_is_taken_off_and_no_other(file: MakeFile) -> None:
    found = read_trees_csv(file("name,lon,lat,note\n'=1+1,29,62,''-2\n'oak',-29,62,=3\n"))
    assert [(tree.name, tree.note) for tree in found.trees] == [("=1+1", "'-2"), ("'oak'", "=3")]
    assert found.trees[1].at == (-29.0, 62.0)


def test_short_rows_say_less(file: MakeFile) -> None:
    found = read_trees_csv(file("name,lon,lat,girth_cm,note\nA,29,62\nB,29,62,70,,,\n"))
    assert [(tree.name, len(tree.measurements)) for tree in found.trees] == [("A", 0), ("B", 1)]


def test_a_table_without_rows_is_read(file: MakeFile) -> None:
    found = read_trees_csv(file("name,lon,lat\n"))
    assert (found.read, found.trees) == (0, ())


@pytest.mark.parametrize(
    ("content", "what"),
    [
        ("once upon a time\nthere was\n", ", line 1: was read as a table, but 'once upon a time' names no column"),
        ("\n\nfoo,bar\n1,2\n", ", line 3: was read as a table, but 'foo,bar' names no column"),
        ("name\nA\n", ", line 1: has one column only ('name')"),
        ("girth_cm,date\n70,2025-04-01\n", ": no column says which tree a row is about; add one of: name"),
        ("name,lon\nA,29\n", ": has a column for lon and none for lat"),
        ("name,y\nA,29\n", ": has a column for y and none for x"),
        ("name,girth_cm,Girth (cm)\nA,1,2\n", ": two columns are called 'Girth (cm)'"),
        ("name,girth_cm,girth_mm\nA,1,2\n", ": two columns give the girth"),
        ('name,lon,lat\nA,29,62\n"B,29,62\nC,29,62\n', ", line 3: a quote is opened here and never closed"),
        ('"name,lon,lat\nA,29,62\n', ", line 1: a quote is opened here and never closed"),
        ('name,lon,lat\n"A"B,29,62\n', ", line 2: the cells cannot be told apart"),
        ("name,lon,lat\n" + "n" * 140_000 + ",29,62\n", ", line 2: a cell is longer than 131072 characters"),
        ("name,lon,lat\n" + "n" * 1_100_000 + ",29,62\n", ", line 2: the line is longer than 1000000 characters"),
        ("name,lon,lat\nA\0,29,62\n", ": holds a NUL character"),
        (b"name,lon,lat\n\x81,29,62\n", ": is not text in UTF-8, UTF-16 or Windows-1252"),
        (b"\xff\xfen\x00a", ": is not text"),
        (b"\xef\xbb\xbfname,lon,lat\n\xe4,29,62\n", ": is not text"),
    ],
)
def test_a_table_at_fault_is_refused_whole(file: MakeFile, content: str | bytes, what: str) -> None:
    with pytest.raises(UserError) as refusal:
        read_trees_csv(file(content))
    assert str(refusal.value).startswith(f"some.file{what}")
    assert str(refusal.value).isprintable()
