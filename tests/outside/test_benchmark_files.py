"""Every file of the open collections either comes in or is refused in one clear line that names it.

Sources and terms: tests/data/gpx/README.md and tests/data/geojson/README.md.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.bring import BringOptions, bring
from standmap.stand.walks import Walk
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
DATA = Path(__file__).parents[1] / "data"
FILES = [*sorted((DATA / "gpx").glob("*.gpx")), *sorted((DATA / "geojson").glob("*/*.geojson"))]
# Trees, places and walks that must come in, counted by another reader (tests/data/gpx/README.md).
COUNTS = {
    "cerknicko-jezero.gpx": (7, 8),
    "north_core.gpx": (0, 10),
    "run.gpx": (0, 1),
    "wpt.gpx": (40, 0),
    "track-with-less-sec-time.gpx": (None, 1),
}


@pytest.mark.parametrize("path", FILES, ids=lambda p: f"{p.parent.name}/{p.name}")
def test_a_file_comes_in_or_is_refused_in_one_line(path: Path, stand_file: StandFile) -> None:
    refusal = ""
    try:
        report = bring(stand_file, [path], BringOptions(anyway=True), NOW)
    except (UserError, NothingToDo) as error:
        refusal = str(error)
    if refusal:
        assert path.name in refusal
        assert "\n" not in refusal
        assert stand_file.history() == ()
    else:
        assert report.sources[0].added or report.sources[0].skipped
        assert len(stand_file.history()) == 1


@pytest.mark.parametrize("name", COUNTS)
def test_the_same_is_found_as_by_another_reader(name: str, stand_file: StandFile) -> None:
    points, walks = COUNTS[name]
    report = bring(stand_file, [DATA / "gpx" / name], BringOptions(anyway=True), NOW)
    stand = stand_file.stand()
    found = [t for t in stand.trees if not t.proposed]
    if points is not None:
        assert len(found) + len(stand.places) == points
    # One track of the first file is empty and one of the second stands in it twice.
    usable = walks - {"cerknicko-jezero.gpx": 1, "north_core.gpx": 1}.get(name, 0)
    assert len(stand_file.rows(Walk)) == usable
    assert report.sources[0].read == (len(found) if points is None else points) + walks
