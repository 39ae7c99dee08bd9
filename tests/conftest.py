"""What several test rooms share: a fixed day, and small stands made by hand."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import settings

from standmap.store.stand_file import StandFile

TODAY = date(2026, 3, 28)
NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)


# How long one example takes depends on who else uses the machine.
settings.register_profile("standmap", deadline=None)
settings.load_profile("standmap")


def pytest_collection_finish() -> None:
    """Leave what the modules of all tests hold out of every later search for cycles: it lives as long as the run."""
    gc.collect()
    gc.freeze()


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture
def today(monkeypatch: pytest.MonkeyPatch) -> date:
    monkeypatch.setenv("STANDMAP_TODAY", TODAY.isoformat())
    return TODAY


@pytest.fixture
def stand_path(tmp_path: Path) -> Path:
    return tmp_path / "wood.gpkg"


@pytest.fixture
def stand_file(stand_path: Path) -> Iterator[StandFile]:
    with StandFile.create(stand_path) as file:
        yield file
