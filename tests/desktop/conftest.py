"""Windows are tested on a screen that is not there, with settings of their own, on the sample wood's own day."""

from __future__ import annotations

import gc
import os
import shutil
import weakref
from collections.abc import Iterator
from datetime import datetime, time
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from shiboken6 import isValid

from standmap.assets import sample_stand
from standmap.cli.demonstration import DAY, RECORDS, SOURCES, WOOD
from standmap.desktop.desk import Desk
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.opening import new_stand, open_stand
from standmap.jobs.record import record_file

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


@pytest.fixture(autouse=True)
def _own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STANDMAP_CONFIG_DIR", str(tmp_path / "config"))
    monkeypatch.setenv("STANDMAP_TODAY", DAY.isoformat())


@pytest.fixture(autouse=True)
def _tidy_here(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Keep the search for cycles on this thread, as the application does, and end every desk with its test.

    Qt holds what its signals call, where Python's search for cycles does not look: a desk that nobody ends would keep
    its whole window, and each later search would go through all of them.
    """
    desks: list[weakref.ref[Desk]] = []
    begun = Desk.__init__

    def init(desk: Desk, *args: Any, **more: Any) -> None:
        desks.append(weakref.ref(desk))
        begun(desk, *args, **more)

    monkeypatch.setattr(Desk, "__init__", init)
    gc.disable()
    yield
    for ref in desks:
        desk = ref()
        if desk is not None and isValid(desk):
            desk.deleteLater()
        del desk
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    gc.collect()


@pytest.fixture(scope="session")
def _alder_brook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("wood") / "alder-brook.gpkg"
    at = datetime.combine(DAY, time(5, 30)).astimezone()
    new_stand(path)
    with open_stand(path) as file:
        bring(file, [sample_stand(WOOD, s) for s in SOURCES], BringOptions(), at)
        record_file(file, sample_stand(WOOD, RECORDS), DAY, at)
    return path


@pytest.fixture
def alder_brook(_alder_brook: Path, tmp_path: Path) -> Path:
    """Return a copy of the small sample wood with its records."""
    path = tmp_path / "alder-brook.gpkg"
    shutil.copy(_alder_brook, path)
    return path
