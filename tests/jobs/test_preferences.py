"""Settings on disk, and what may be lost apart from them; nothing here touches the home folder."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from standmap.errors import UserError
from standmap.jobs.own_folders import VARIABLE, config_folder, data_folder, log_folder
from standmap.jobs.preferences import (
    LATELY_FILE,
    MOST_RECENT,
    SETTINGS_FILE,
    Lately,
    as_texts,
    changed,
    read_lately,
    read_settings,
    round_options,
    write_lately,
    write_settings,
)
from standmap.messages import Collected
from standmap.settings import Settings


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "own"))
    return tmp_path / "own"


def test_the_variable_moves_every_folder_of_our_own(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert [config_folder(), data_folder(), log_folder()] == [own, own / "data", own / "log"]
    monkeypatch.delenv(VARIABLE)
    assert all(own not in f.parents and "standmap" in f.parts for f in (config_folder(), data_folder(), log_folder()))


def test_settings_are_kept_and_read(own: Path) -> None:
    assert read_settings() == Settings()
    settings = Settings(units="us", text_size_percent=150, backup_folder="~/Kopien für später")
    write_settings(settings)
    assert read_settings() == settings
    assert json.loads((own / SETTINGS_FILE).read_text(encoding="utf-8")) == {
        "format": 1,
        "units": "us",
        "text_size_percent": 150,
        "backup_folder": "~/Kopien für später",
    }
    write_settings(Settings())
    assert json.loads((own / SETTINGS_FILE).read_text(encoding="utf-8")) == {"format": 1}


def test_what_another_version_keeps_stays(own: Path) -> None:
    own.mkdir()
    (own / SETTINGS_FILE).write_text('{"format": 4, "moon": "full", "units": "us"}')
    write_settings(Settings(look="dark"))
    assert json.loads((own / SETTINGS_FILE).read_text()) == {"format": 4, "moon": "full", "look": "dark"}


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b"\xff\xfe", b"[" * 100_000, b'"' + b"a" * 2_000_000 + b'"'])
def test_a_broken_file_is_told_and_never_thrown_away(own: Path, content: bytes) -> None:
    own.mkdir()
    (own / SETTINGS_FILE).write_bytes(content)
    messages = Collected()
    assert read_settings(messages) == Settings()
    assert len(messages.cautions) == 1
    write_settings(Settings(units="us"))
    assert (own / "settings.json.unreadable").read_bytes() == content
    assert read_settings() == Settings(units="us")


def test_a_bad_value_is_told(own: Path) -> None:
    own.mkdir()
    (own / SETTINGS_FILE).write_text('{"collectors": -1, "units": "us"}')
    messages = Collected()
    assert read_settings(messages) == Settings(units="us")
    assert messages.cautions == ["collectors: '-1' cannot be set; it is 1 again"]


def test_a_folder_that_cannot_be_written_is_named(own: Path) -> None:
    own.write_text("a file")
    with pytest.raises(UserError, match="could not be written"):
        write_settings(Settings(units="us"))
    write_lately(Lately(window="x"))  # what may be lost troubles nobody
    assert read_lately() == Lately()


def test_settings_come_as_texts() -> None:
    settings = changed(Settings(), {"units": "imperial", "capacity_kg": "12,5", "names_on_map": "no"})
    assert settings == Settings(units="imperial", capacity_kg=12.5, names_on_map=False)
    assert changed(Settings(), as_texts(settings)) == settings
    assert changed(settings, {"units": ""}) == Settings(capacity_kg=12.5, names_on_map=False)
    with pytest.raises(UserError, match="no setting is called"):
        changed(settings, {"colour": "green"})


def test_a_round_is_walked_as_set() -> None:
    options = round_options(Settings(capacity_kg=12, can_kg=2, collectors=2, vessel_ml=3000))
    assert (options.capacity_kg, options.can_kg, options.collectors, options.vessel_ml) == (12, 2, 2, 3000)


def test_stands_opened_lately_come_latest_first(tmp_path: Path) -> None:
    lately = read_lately()
    assert lately.last is None
    paths = [tmp_path / f"{n}.gpkg" for n in range(MOST_RECENT + 3)]
    for path in paths:
        lately = lately.opened(path).seen_at(path, {"px_per_m": 2.5})
    lately = lately.opened(paths[5])
    write_lately(lately)
    again = read_lately()
    assert again == lately
    assert again.last == paths[5]
    assert len(again.recent) == len(set(again.recent)) == MOST_RECENT
    assert set(again.views) == {str(p) for p in again.recent}
    assert paths[5] not in again.forgotten(paths[5]).recent
    assert str(paths[5]) not in again.forgotten(paths[5]).views


@pytest.mark.parametrize(
    "content",
    [
        "{",
        "[]",
        '{"recent": 3, "views": [], "window": {}}',
        '{"recent": [1, null, "", "a\\u0000b"], "views": {"a": 1}}',
    ],
)
def test_whatever_was_kept_of_lately_is_no_trouble(own: Path, content: str) -> None:
    own.mkdir()
    (own / LATELY_FILE).write_text(content)
    assert read_lately() == Lately()


def test_a_path_that_is_no_text_is_kept(tmp_path: Path) -> None:
    path = tmp_path / b"w\xf6od.gpkg".decode("utf-8", "surrogateescape")
    write_lately(Lately().opened(path))
    assert read_lately().last == path
