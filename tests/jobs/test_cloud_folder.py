"""A stand in a synced folder is told by marks, and a plain folder never is."""

from __future__ import annotations

from pathlib import Path

import pytest

from standmap.jobs.cloud_folder import synced_folder, warn_if_synced
from standmap.messages import Collected


@pytest.fixture
def home(tmp_path: Path) -> Path:
    path = tmp_path / "anna"
    path.mkdir()
    return path


@pytest.mark.parametrize(
    "folder",
    [
        "Dropbox",
        "Dropbox (Family)",
        "OneDrive",
        "OneDrive - Birch Board",
        "Google Drive",
        "Library/CloudStorage/GoogleDrive-anna",
        "Library/Mobile Documents",
        "iCloud Drive",
        "Nextcloud",
        "ownCloud",
        "pCloud Drive",
        "MEGA",
        "Box",
        "Sync",
    ],
)
def test_folders_are_told_by_name(home: Path, folder: str) -> None:
    path = home / folder / "woods" / "wood.gpkg"
    path.parent.mkdir(parents=True)
    found = synced_folder(path, home)
    assert found is not None
    assert found.folder in path.parents
    assert found.folder != home


@pytest.mark.parametrize(
    "left", [".dropbox", ".stfolder/", ".owncloudsync.log", ".sync_1f2e.db", "._sync_1f2e.db", ".sync/ID"]
)
def test_folders_are_told_by_what_is_left_in_them(home: Path, left: str) -> None:
    root = home / "shared"
    mark = root / left
    mark.parent.mkdir(parents=True)
    if left.endswith("/"):
        mark.mkdir()
    else:
        mark.touch()
    found = synced_folder(root / "deep" / "wood.gpkg", home)
    assert found is not None
    assert found.folder == root
    assert left.strip("/") in found.mark


@pytest.mark.parametrize(
    "folder",
    ["woods", "boxes", "woods/box", "woods/sync", "Dropboxes", "one drive gate", "my nextcloud notes", "omega"],
)
def test_plain_folders_are_left_in_peace(home: Path, folder: str) -> None:
    path = home / folder / "wood.gpkg"
    path.parent.mkdir(parents=True)
    (home / ".dropbox").mkdir()  # a service's own settings in the home folder say nothing of the folders beside
    assert synced_folder(path, home) is None


def test_a_link_into_a_synced_folder_does_not_hide_it(home: Path) -> None:
    (home / "Nextcloud").mkdir()
    (home / "woods").symlink_to(home / "Nextcloud")
    assert synced_folder(home / "woods" / "wood.gpkg", home) is not None


def test_the_caution_says_what_can_happen_and_what_to_do(home: Path) -> None:
    messages = Collected()
    warn_if_synced(home / "woods" / "wood.gpkg", messages, home)
    assert not messages.cautions
    warn_if_synced(home / "Nextcloud" / "wood.gpkg", messages, home)
    (text,) = messages.cautions
    assert "this stand lies in 'Nextcloud'" in text
    assert "in the middle of a write" in text
    assert "backup_folder" in text
    assert "anna" not in text
