"""Backdrops: what a file is, where it lies once drawn into a stand's frame, and what is refused with its remedy."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import numpy as np
import pytest
import rasterio  # type: ignore[import-untyped]
from numpy.typing import NDArray

from standmap.errors import UserError
from standmap.formats.backdrops import PICTURE, TERRAIN, look
from standmap.formats.raster_window import Window, raster_window
from standmap.progress import Unwatched
from standmap.store.stand_file import StandFile
from standmap.survey.frame import WorkingFrame
from tests.formats.raster_files import (
    LAT,
    LON,
    RED,
    marked_picture,
    set_tile_metadata,
    write_tiff,
    write_tiles,
)

FRAME = WorkingFrame(LON, LAT)
AROUND = Window(left_m=-40.0, top_m=30.0, cell_m=0.2, columns=400, rows=300)


def drawn(path: Path, window: Window = AROUND, **how: str) -> NDArray[np.uint8]:
    picture = raster_window(look(path, **how), FRAME.proj_text, window, Unwatched())
    assert picture is not None
    assert picture.shape == (window.rows, window.columns, 4)
    return picture


def red_middle(picture: NDArray[np.uint8], window: Window = AROUND) -> tuple[float, float, float]:
    """Return the middle of the red square in metres east and north, and its area in square metres."""
    rows, columns = np.nonzero((picture[..., 0] > 180) & (picture[..., 1] < 110) & (picture[..., 3] > 128))
    east = window.left_m + (columns.mean() + 0.5) * window.cell_m
    north = window.top_m - (rows.mean() + 0.5) * window.cell_m
    return east, north, len(rows) * window.cell_m**2


@pytest.fixture
def tiff(tmp_path: Path) -> Path:
    return write_tiff(tmp_path / "air.tif", marked_picture(), tags={"TIFFTAG_COPYRIGHT": "Survey Office 2025"})


def test_a_geotiff_lies_where_it_says(tiff: Path) -> None:
    found = look(tiff)
    assert (found.kind, found.attribution, found.span) == (PICTURE, "Survey Office 2025", (0.0, 255.0))
    assert found.finest_m == pytest.approx(0.5)
    assert found.bounds[0] < LON < found.bounds[2]
    assert found.bounds[1] < LAT < found.bounds[3]
    east, north, size = red_middle(drawn(tiff))
    assert (east, north) == pytest.approx((0.0, 0.0), abs=0.1)
    assert size == pytest.approx(100.0, rel=0.1)  # 20 cells of half a metre, squared


def test_the_grid_of_the_file_is_turned_into_the_frame(tmp_path: Path) -> None:
    # Its middle meridian is 27 E: at 29.76 E its north lies 2.4 degrees off the frame's.
    picture = marked_picture(side=800)
    picture[:, :20, 390:410] = np.array(RED, np.uint8)[:, None, None]  # a second mark, 195 m up along the grid
    window = Window(left_m=-40.0, top_m=210.0, cell_m=0.25, columns=320, rows=120)
    east, north, _ = red_middle(drawn(write_tiff(tmp_path / "tall.tif", picture), window), window)
    convergence = np.radians(2.4507)  # of TM35FIN there, by pyproj
    assert east == pytest.approx(195 * np.sin(convergence), abs=0.5)  # grid north points east of true north there
    assert north == pytest.approx(195 * np.cos(convergence), abs=0.5)


@pytest.mark.parametrize(("driver", "name"), [("MBTiles", "air.mbtiles"), ("GPKG", "air.gpkg")])
def test_tiles_lie_where_they_say(tiff: Path, tmp_path: Path, driver: str, name: str) -> None:
    tiles = write_tiles(tmp_path / name, tiff, driver)
    assert look(tiles).kind == PICTURE
    east, north, size = red_middle(drawn(tiles))
    assert (east, north) == pytest.approx((0.0, 0.0), abs=0.6)
    assert size == pytest.approx(100.0, rel=0.3)


def test_far_out_a_picture_is_read_small_and_lies_right(tmp_path: Path) -> None:
    big = write_tiff(tmp_path / "big.tif", marked_picture(3000, 200), tiled=True, compress="deflate")
    window = Window(left_m=-1000.0, top_m=1000.0, cell_m=10.0, columns=200, rows=200)
    picture = drawn(big, window)
    east, north, size = red_middle(picture, window)
    assert (east, north) == pytest.approx((0.0, 0.0), abs=5.0)
    assert size == pytest.approx(10_000, rel=0.25)
    assert picture[0, 0, 3] == 0  # beyond its edge there is nothing
    assert picture[100, 60, 3] == 255


def test_attribution_of_tiles_is_told_without_marks(tiff: Path, tmp_path: Path) -> None:
    tiles = write_tiles(tmp_path / "air.mbtiles", tiff, "MBTiles")
    set_tile_metadata(tiles, attribution='<a href="https://example.org">&copy; Map &amp; Wood</a>\n<b>2025</b>')
    assert look(tiles).attribution == "© Map & Wood 2025"


def test_a_file_that_names_nobody(tmp_path: Path) -> None:
    assert look(write_tiff(tmp_path / "air.tif", marked_picture())).attribution == ""


def test_a_palette_keeps_its_colours(tmp_path: Path) -> None:
    values = np.zeros((1, 100, 100), np.uint8)
    values[:, :, 50:] = 7
    colours = {0: (10, 120, 30, 255), 7: (200, 10, 150, 255)}
    path = write_tiff(tmp_path / "map.tif", values, colours=colours, photometric="palette")
    picture = drawn(path, Window(-20.0, 10.0, 0.5, 80, 40))
    assert look(path).kind == PICTURE
    assert {tuple(int(v) for v in c) for c in picture.reshape(-1, 4)} == {(10, 120, 30, 255), (200, 10, 150, 255)}


def test_grey_of_sixteen_bits_is_stretched(tmp_path: Path) -> None:
    values = np.linspace(1000, 3000, 200, dtype=np.uint16)[None, None, :].repeat(100, 1)
    path = write_tiff(tmp_path / "grey.tif", values)
    assert look(path).kind == TERRAIN  # as far as can be told
    picture = drawn(path, Window(-48.0, 10.0, 0.5, 192, 40), kind=PICTURE)
    row = picture[20, :, 0].astype(int)
    assert row[5] < 20
    assert row[-5] > 235
    assert (np.diff(row) >= 0).all()
    assert (picture[..., 0] == picture[..., 2]).all()


def test_holes_in_a_picture_are_seen_through(tmp_path: Path) -> None:
    bands = marked_picture()
    bands[:, :200] = 0
    picture = drawn(write_tiff(tmp_path / "half.tif", bands, nodata=0))
    assert (picture[:140, :, 3] == 0).all()
    assert (picture[160:, :, 3] == 255).all()


def test_terrain_becomes_hill_shade(tmp_path: Path) -> None:
    rows, columns = np.mgrid[0:300, 0:300].astype(np.float32)
    hill = 40 * np.exp(-((rows - 150) ** 2 + (columns - 150) ** 2) / 3000)
    path = write_tiff(tmp_path / "dem.tif", hill[None].astype(np.float32), cell_m=2.0, nodata=-9999)
    assert look(path).kind == TERRAIN
    window = Window(left_m=-200.0, top_m=200.0, cell_m=2.0, columns=200, rows=200)
    shaded = drawn(path, window)
    lit, dark = shaded[80, 80], shaded[120, 120]  # the slopes to the north-west and to the south-east
    assert (lit[0], dark[0]) == (255, 0)
    assert lit[3] > 30
    assert dark[3] > 30
    assert shaded[0, 0, 3] < 6  # level ground stays as it is


def test_heights_in_feet_are_taken_as_feet(tmp_path: Path) -> None:
    slope = (np.arange(100, dtype=np.float32) * 0.5)[None, None, :].repeat(100, 1)
    in_metres = write_tiff(tmp_path / "m.tif", slope, cell_m=1.0)
    in_feet = write_tiff(tmp_path / "ft.tif", slope / 0.3048, cell_m=1.0)
    with rasterio.open(in_feet, "r+") as raster:
        raster.units = ("ft",)
    window = Window(-20.0, 20.0, 1.0, 40, 40)
    shades = [drawn(p, window, kind=TERRAIN)[20, 20] for p in (in_metres, in_feet)]
    assert shades[0][3] > 20
    assert np.abs(shades[0].astype(int) - shades[1].astype(int)).max() <= 1


class _Stopped:
    def at(self, done: float, total: float, what: str) -> None:
        """Drop the report."""

    def stop_wanted(self) -> bool:
        return True


def test_drawing_stops_when_asked(tiff: Path) -> None:
    assert raster_window(look(tiff), FRAME.proj_text, AROUND, _Stopped()) is None


def test_beside_the_picture_there_is_nothing(tiff: Path) -> None:
    assert not drawn(tiff, Window(5000.0, 5000.0, 1.0, 50, 40)).any()


def test_nothing_is_left_beside_the_file(tiff: Path, tmp_path: Path) -> None:
    drawn(tiff)
    assert [p.name for p in tmp_path.iterdir()] == ["air.tif"]


# What is refused


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"air\.tif: there is no such file; look whether it was moved"):
        look(tmp_path / "air.tif")


@pytest.mark.parametrize("content", [b"", b"hello", b"%PDF-1.4 and so on", b"<kml></kml>"])
def test_what_is_no_raster(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "air.tif"
    path.write_bytes(content)
    with pytest.raises(UserError, match=r"air\.tif: this file holds no picture of the ground; choose a GeoTIFF"):
        look(path)


def test_a_stand_is_no_picture(stand_path: Path) -> None:
    StandFile.create(stand_path).close()
    with pytest.raises(UserError, match="holds no picture of the ground"):
        look(stand_path)


def test_a_damaged_file(tiff: Path) -> None:
    whole = tiff.read_bytes()
    tiff.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(UserError, match=r"air\.tif: the file is damaged or only partly here; copy it anew"):
        drawn(tiff)


def test_a_broken_tile_is_left_out_and_the_rest_is_drawn(tmp_path: Path) -> None:
    tiff = write_tiff(tmp_path / "air.tif", marked_picture(1200))
    tiles = write_tiles(tmp_path / "air.mbtiles", tiff, "MBTiles")
    db = sqlite3.connect(tiles)
    with db:
        west = db.execute("SELECT min(tile_column) FROM tiles").fetchone()
        db.execute("UPDATE tiles SET tile_data = x'00ff00ff' WHERE tile_column = ?", west)
    db.close()
    covered = drawn(tiles, Window(-300.0, 100.0, 1.0, 600, 200))[..., 3].mean(axis=0)
    assert (covered[:10] == 0).all()
    assert (covered[350:550] == 255).all()


def test_tiles_that_are_only_partly_here(tiff: Path, tmp_path: Path) -> None:
    tiles = write_tiles(tmp_path / "air.mbtiles", tiff, "MBTiles")
    whole = tiles.read_bytes()
    tiles.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(UserError, match=r"air\.mbtiles: (the file is damaged|this file holds no picture)"):
        drawn(tiles)


def test_a_picture_without_a_place(tmp_path: Path) -> None:
    path = tmp_path / "photo.png"
    with (
        pytest.warns(rasterio.errors.NotGeoreferencedWarning),
        rasterio.open(path, "w", driver="PNG", width=40, height=40, count=3, dtype="uint8") as raster,
    ):
        raster.write(marked_picture(40, 4))
    with pytest.raises(UserError, match=r"photo\.png: the picture does not say where on Earth it lies; .*world file"):
        look(path)


def test_a_picture_without_a_reference_system_asks_for_it(tmp_path: Path) -> None:
    path = write_tiff(tmp_path / "air.tif", marked_picture(), crs=None)
    with pytest.raises(UserError, match=r"does not say in which reference system it lies; name it, such as --crs"):
        look(path)
    east, north, _ = red_middle(drawn(path, crs="EPSG:3067"))
    assert (east, north) == pytest.approx((0.0, 0.0), abs=0.1)
    with pytest.raises(UserError, match="'Finland' is no reference system; write it like EPSG:3067"):
        look(path, crs="Finland")


def test_a_place_that_makes_no_sense(tmp_path: Path) -> None:
    path = write_tiff(tmp_path / "air.tif", marked_picture(), crs=None)
    with pytest.raises(UserError, match="makes no sense in its reference system"):
        look(path, crs="EPSG:4326")  # metres taken for degrees


def test_a_file_of_several_pictures_asks_which(tiff: Path, tmp_path: Path) -> None:
    path = write_tiles(tmp_path / "both.gpkg", tiff, "GPKG", RASTER_TABLE="SUMMER")
    write_tiles(path, tiff, "GPKG", RASTER_TABLE="WINTER", APPEND_SUBDATASET="YES")
    with pytest.raises(UserError, match=r"holds 2 pictures: SUMMER, WINTER; name one of them"):
        look(path)
    assert look(path, table="WINTER").table == "WINTER"
    east, north, _ = red_middle(drawn(path, table="WINTER"))
    assert (east, north) == pytest.approx((0.0, 0.0), abs=0.6)


def test_a_picture_that_went_away_while_open(tiff: Path) -> None:
    found = look(tiff)
    shutil.move(tiff, tiff.with_name("elsewhere.tif"))
    with pytest.raises(UserError, match=r"air\.tif"):
        raster_window(found, FRAME.proj_text, AROUND, Unwatched())
