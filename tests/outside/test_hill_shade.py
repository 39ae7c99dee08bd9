"""Our hill shade held against that of GDAL's own program, which uses the same published slope (Horn 1981)."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import rasterio  # type: ignore[import-untyped]

from standmap.formats.hill_shade import shade, slopes, veil
from tests.formats.raster_files import write_tiff


def test_a_plane_has_its_own_slope() -> None:
    rows, columns = np.mgrid[0:6, 0:8].astype(np.float32)
    east, north = slopes(0.3 * columns * 2 - 0.2 * rows * 2, 2.0)
    assert east.shape == (4, 6)
    assert east == pytest.approx(np.full((4, 6), 0.3), abs=1e-6)
    assert north == pytest.approx(np.full((4, 6), 0.2), abs=1e-6)


def test_level_ground_shows_nothing_and_the_unknown_neither() -> None:
    level = np.zeros((5, 5), np.float32)
    assert not veil(level, 1.0)[..., 3].any()
    level[0, 0] = np.nan
    assert np.isnan(shade(level, 1.0)[0, 0])
    assert veil(level, 1.0)[0, 0, 3] == 0


def test_against_gdaldem(tmp_path: Path) -> None:
    assert shutil.which("gdaldem"), "GDAL's programs are wanted: apt-get install gdal-bin"
    random = np.random.default_rng(5)
    rows, columns = np.mgrid[0:80, 0:90].astype(np.float32)
    heights = (12 * np.sin(rows / 9) + 9 * np.cos(columns / 7) + random.normal(0, 0.4, rows.shape)).astype(np.float32)
    path, out = write_tiff(tmp_path / "dem.tif", heights[None], cell_m=2.0), tmp_path / "shade.tif"
    command = ["gdaldem", "hillshade", "-q", "-az", "315", "-alt", "45", "-alg", "Horn", str(path), str(out)]
    subprocess.run(command, check=True, timeout=60)
    with rasterio.open(out) as raster:
        theirs = raster.read(1)[1:-1, 1:-1].astype(float)
    # GDAL maps the cosine of the light to 1 .. 255.
    ours = 1 + 254 * shade(heights, 2.0)
    assert np.abs(ours - theirs).max() <= 1.0
