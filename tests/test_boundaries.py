"""The walls between the rooms: no Qt outside desktop/, light starts, and a wheel that carries its resources."""

from __future__ import annotations

import pkgutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

import standmap

ROOT = Path(__file__).parents[1]
ROOMS = sorted(
    m.name for m in pkgutil.walk_packages(standmap.__path__, "standmap.") if not m.name.startswith("standmap.desktop")
)

# Importing one of these anywhere in the child ends it: a machine without Qt.
NO_QT = """
import sys
class Wall:
    def find_spec(self, name, path=None, target=None):
        if name.split('.')[0] in ('PySide6', 'shiboken6', 'PyQt6', 'PyQt5'):
            raise SystemExit(f'{name} was asked for')
sys.meta_path.insert(0, Wall())
"""


def python(code: str, *arguments: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", code, *arguments], capture_output=True, text=True, cwd=cwd, timeout=120
    )


def test_every_room_but_the_window_loads_without_qt() -> None:
    assert len(ROOMS) > 40
    done = python(NO_QT + "import importlib\nfor name in sys.argv[1:]: importlib.import_module(name)", *ROOMS)
    assert (done.returncode, done.stderr) == (0, "")


def test_the_wall_against_qt_can_fail() -> None:
    assert python(NO_QT + "import PySide6").returncode != 0


def test_the_command_line_works_without_qt(tmp_path: Path) -> None:
    code = NO_QT + "from standmap.cli.main import run\nsys.exit(run(sys.argv[1:]))"
    path = str(tmp_path / "wood.gpkg")
    trees = tmp_path / "trees.csv"
    trees.write_text("name,lon,lat,species,girth_mm\nB1,27.0,62.0,Betula pendula,800\n")
    assert python(code, "new", path).returncode == 0
    assert python(code, "bring", path, str(trees)).returncode == 0
    assert python(code, "judge", path, "--season", "2026", "--json").returncode == 0


@pytest.mark.parametrize(
    ("arguments", "heavy"),
    [
        (["--help"], ["numpy", "shapely", "pyproj", "scipy", "pyvrp", "lxml", "rich"]),
        (["new", "{stand}"], ["shapely", "pyproj", "scipy", "pyvrp", "geopandas", "pandas"]),
        (["bring", "{stand}", "{trees}"], ["scipy", "pyvrp", "geopandas", "pandas", "matplotlib"]),
    ],
    ids=lambda a: a[0],
)
def test_a_command_loads_only_what_it_needs(tmp_path: Path, arguments: list[str], heavy: list[str]) -> None:
    stand, trees = tmp_path / "wood.gpkg", tmp_path / "trees.csv"
    trees.write_text("name,lon,lat,species,girth_mm\nB1,27.0,62.0,Betula pendula,800\n")
    code = "import sys\nfrom standmap.cli.main import run\nrun(sys.argv[1:])\nprint(*sorted(sys.modules))"
    filled = [a.format(stand=stand, trees=trees) for a in arguments]
    if arguments[0] == "bring":
        assert (
            python("import sys\nfrom standmap.cli.main import run\nrun(sys.argv[1:])", "new", str(stand)).returncode
            == 0
        )
    loaded = set(python(code, *filled).stdout.split())
    assert "standmap.cli.main" in loaded
    assert not loaded & set(heavy)


def test_an_installed_wheel_carries_its_resources(tmp_path: Path) -> None:
    """Build the wheel, unpack it elsewhere, and run the program from there, away from the checkout."""
    built = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(tmp_path / "dist")],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=120,
    )
    assert built.returncode == 0, built.stderr
    (wheel,) = (tmp_path / "dist").glob("*.whl")
    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    code = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "import standmap; assert standmap.__file__.startswith(sys.argv[1])\n"
        "from standmap.cli.main import run\n"
        "code = run(['demo', '--out', sys.argv[2], '--no-window'])\n"
        "code = code or run(['tags', f'{sys.argv[2]}/alder-brook.gpkg', '--out', f'{sys.argv[2]}/tags.pdf'])\n"
        "from standmap.desktop.theme import LIGHT, style_sheet\n"
        "from standmap.desktop.words import catalogue\n"
        "assert style_sheet(LIGHT) and catalogue('de')\n"
        "sys.exit(code)"
    )
    done = python(code, str(site), str(tmp_path / "out"), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / "walk.gpx").exists()
    assert (tmp_path / "out" / "tags.pdf").exists()
