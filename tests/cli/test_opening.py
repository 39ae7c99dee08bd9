"""The command `open`: what is wrong is said in one line before any window is tried."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from standmap.cli.main import run
from standmap.jobs.own_folders import VARIABLE


@pytest.fixture(autouse=True)
def no_display(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "own"))
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(sys, "platform", "linux")


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert run(["open", *arguments]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    return told.err


def test_without_a_display_it_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert "there is no display to open a window on" in refused(capsys)


def test_what_is_no_stand_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "none.gpkg: there is no such file" in refused(capsys, str(tmp_path / "none.gpkg"))
    (tmp_path / "notes.gpkg").write_text("notes")
    assert "notes.gpkg: this is not a GeoPackage" in refused(capsys, str(tmp_path / "notes.gpkg"))


def test_without_qt_it_says_what_to_install() -> None:
    code = (
        "import sys\n"
        "class Wall:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name.split('.')[0] == 'PySide6':\n"
        "            raise ModuleNotFoundError('none', name=name)\n"
        "sys.meta_path.insert(0, Wall())\n"
        "from standmap.cli.main import run\n"
        "sys.exit(run(['open']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env={"QT_QPA_PLATFORM": "offscreen"}
    )
    assert done.returncode == 2
    assert "the window cannot be opened: PySide6" in done.stderr
    assert done.stderr.count("\n") == 1


def test_the_desktop_entry_is_installed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    command = tmp_path / "standmap"
    command.touch()
    monkeypatch.setattr(sys, "argv", [str(command), "open", "--desktop-entry"])
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert run(["open", "--desktop-entry"]) == 0
    assert "standmap.desktop" in capsys.readouterr().out
    assert f"Exec={command} open %f" in (tmp_path / "data" / "applications" / "standmap.desktop").read_text()
