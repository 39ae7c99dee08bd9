"""Weather and signs brought into a stand: days told once, later tellings taken over, stations held against it."""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.bring import BringOptions, BringReport, NothingToBring, bring
from standmap.jobs.bring_weather import height_m_of
from standmap.jobs.export import export
from standmap.jobs.review import propose, store
from standmap.jobs.taking_back import undo
from standmap.jobs.weather_stations import STATIONS_SETTING, kept_stations
from standmap.messages import Collected
from standmap.stand.records import Weather
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree
from standmap.stand.walks import Fixes, Walk
from standmap.store.stand_file import StandFile
from tests.jobs.stand_rows import rows

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
DAYS = "station,date,tmin_c,tmax_c\nA,2026-03-26,-1,6\nA,2026-03-27,0,7\n"


@pytest.fixture
def wood(tmp_path: Path) -> Path:
    path = tmp_path / "wood.gpkg"
    with StandFile.create(path) as file, file.writing("plant", NOW) as writing:
        writing.insert(Tree("t1", "B1", (27.0, 62.0)))
        writing.set_setting("working_frame", {"lon0": 27.0, "lat0": 62.0})
    return path


def brought(stand: Path, *texts: str, **options: object) -> tuple[BringReport, Collected]:
    paths = []
    for number, text in enumerate(texts):
        paths.append(stand.parent / f"w{number}.csv")
        paths[-1].write_text(text)
    messages = Collected()
    with StandFile.open(stand) as file:
        return bring(file, paths, BringOptions(**options), NOW, messages), messages  # type: ignore[arg-type]


def stand_of(path: Path) -> Stand:
    with StandFile.open(path, read_only=True) as file:
        return file.stand()


def told(stand: Path) -> list[tuple[str, int, float | None, float | None]]:
    return [(w.station, w.day.day, w.least_c, w.most_c) for w in stand_of(stand).weather]


def test_days_are_added_once_and_taken_back_whole(wood: Path) -> None:
    before = rows(wood)
    report, messages = brought(wood, DAYS)
    (source,) = report.sources
    assert (source.format, source.read, source.added, source.updated, source.skipped) == ("weather", 2, 2, 0, ())
    assert told(wood) == [("A", 26, -1.0, 6.0), ("A", 27, 0.0, 7.0)]
    assert "w0.csv: weather of 2026" in messages.told
    again, _ = brought(wood, DAYS)
    assert again.sources[0].known
    assert len(told(wood)) == 2
    with StandFile.open(wood) as file:
        undo(file, NOW)
    assert rows(wood) == before


def test_a_later_telling_of_a_day_is_taken_over_and_only_what_it_says(wood: Path) -> None:
    brought(wood, DAYS)
    key = stand_of(wood).weather[1].key
    report, _ = brought(wood, "station,date,tmax_c,rain_mm\nA,2026-03-26,6,\nA,2026-03-27,8,3\n")
    assert (report.sources[0].added, report.sources[0].updated) == (0, 1)
    row = stand_of(wood).weather[1]
    assert (row.key, row.least_c, row.most_c, row.rain_mm) == (key, 0.0, 8.0, 3.0)


@pytest.mark.parametrize(("month", "lat", "fits"), [(1, 62.0, False), (7, 62.0, True), (7, -45.5, False)])
def test_a_winter_that_is_none_is_refused(tmp_path: Path, month: int, lat: float, *, fits: bool) -> None:
    """Winter in Fahrenheit under a heading that tells no unit: 30 °F are a usual day, 30 °C are none."""
    path = tmp_path / "there.gpkg"
    with StandFile.create(path) as file, file.writing("plant", NOW) as writing:
        writing.set_setting("working_frame", {"lon0": 27.0, "lat0": lat})
    text = "date,tmin,tmax\n" + "".join(f"2025-{month:02d}-{n},20,34\n" for n in range(10, 20))
    if fits:
        brought(path, text)
        assert len(told(path)) == 10
        return
    with pytest.raises(UserError, match=r"w0\.csv, line 2: its winter days have 27 °C on average"):
        brought(path, text)
    assert told(path) == []


def test_two_files_of_one_command_are_one_edit_and_one_row_a_day(wood: Path) -> None:
    report, _ = brought(wood, DAYS, "station,date,rain_mm,tmax_c\nA,2026-03-27,2,7\nB,2026-03-27,1,5\n")
    assert [(s.added, s.updated) for s in report.sources] == [(2, 0), (1, 1)]
    assert told(wood) == [("A", 26, -1.0, 6.0), ("A", 27, 0.0, 7.0), ("B", 27, None, 5.0)]


def test_days_to_come_are_left_out_and_told(wood: Path) -> None:
    report, _ = brought(wood, DAYS + "A,2026-03-29,1,8\nA,2026-03-30,2,9\n")
    (skipped,) = report.sources[0].skipped
    assert (skipped.where, skipped.why) == ("line 4", "2 days after today: what is to come is no record")
    assert [day for _, day, _, _ in told(wood)] == [26, 27]


def test_a_file_of_days_to_come_alone_brings_nothing(wood: Path) -> None:
    before = rows(wood)
    with pytest.raises(NothingToBring, match="1 day after today"):
        brought(wood, "date,tmin_c\n2027-01-01,0\n")
    assert rows(wood) == before


def test_the_years_that_came_are_told(wood: Path) -> None:
    text = "date,tmin_c\n" + "".join(f"{year}-03-01,0\n" for year in (1990, 2001, 2002, 2003, 2025))
    _, messages = brought(wood, text)
    assert "w0.csv: weather of 1990, 2001-2003, 2025" in messages.told


@pytest.mark.parametrize(
    ("lat", "said"),
    [
        (62.3, None),
        (62.6, "Hill is 67 km from the stand: spring there may be days earlier or later"),
        (60.2, "Hill is 201 km from the stand: its spring is another's; look for a nearer station"),
    ],
)
def test_a_far_station_is_cautioned_of(wood: Path, lat: float, said: str | None) -> None:
    text = f"station,name,lat,lon,elevation_m,date,tmin_c\nA,Hill,{lat},27.0,300,2026-03-27,0\n"
    _, messages = brought(wood, text)
    assert messages.cautions == ([] if said is None else [said])
    station = kept_stations(stand_of(wood).settings)["A"]
    assert (station.at, station.elevation_m, station.name) == ((27.0, lat), 300.0, "Hill")


def walk(*elevations: float) -> Walk:
    n = len(elevations)
    lon, lat = np.full(n, 27.0), np.full(n, 62.0)
    nan = np.full(n, np.nan)
    return Walk("k1", "walk", Fixes(lon, lat, nan, nan, np.array(elevations), np.zeros(n, np.int32)))


def test_a_station_much_higher_up_is_cautioned_of(wood: Path) -> None:
    with StandFile.open(wood) as file, file.writing("walk", NOW) as writing:
        writing.insert(walk(98.0, 100.0, 300.0))
    _, messages = brought(wood, "station,lat,lon,elevation_m,date,tmin_c\nA,62.0,27.0,420,2026-03-27,0\n")
    assert messages.cautions == ["A lies 320 m above the stand: it is 2.1 °C cooler there on average"]


def test_heights_without_any_are_none() -> None:
    assert height_m_of([]) is None
    assert height_m_of([walk(np.nan, np.nan)]) is None
    assert height_m_of([walk(np.nan, 90.0), walk(100.0, 110.0)]) == 100.0


def test_what_a_file_does_not_tell_of_a_station_stays(wood: Path) -> None:
    brought(wood, "station,name,lat,lon,elevation_m,date,tmin_c\nA,Hill,62.1,27,300,2026-03-26,0\n")
    brought(wood, "station,lat,lon,date,tmin_c\nA,62.2,27,2026-03-27,0\nB,62,27,2026-03-27,0\n")
    kept = kept_stations(stand_of(wood).settings)
    assert (kept["A"].at, kept["A"].name, kept["A"].elevation_m) == ((27.0, 62.2), "Hill", 300.0)
    assert set(kept) == {"A", "B"}


def test_a_setting_that_another_program_spoilt_is_left_out(wood: Path) -> None:
    with StandFile.open(wood) as file, file.writing("spoil", NOW) as writing:
        writing.set_setting(STATIONS_SETTING, {"A": {"lon": "x", "lat": 1}, "B": 3, "C": {"lon": 1, "lat": 2}})
    assert list(kept_stations(stand_of(wood).settings)) == ["C"]


def test_weather_comes_into_an_empty_stand(tmp_path: Path) -> None:
    path = tmp_path / "new.gpkg"
    StandFile.create(path).close()
    brought(path, DAYS)
    assert len(told(path)) == 2


def test_another_station_of_a_file_that_came_before(wood: Path) -> None:
    text = DAYS + "B,2026-03-27,1,5\n"
    brought(wood, text, station="A")
    assert {station for station, *_ in told(wood)} == {"A"}
    report, _ = brought(wood, text, station="B")
    assert (report.sources[0].known, report.sources[0].added) == (False, 1)
    assert {station for station, *_ in told(wood)} == {"A", "B"}


def test_a_fault_anywhere_stores_nothing(wood: Path) -> None:
    before = rows(wood)
    with pytest.raises(UserError, match=r"w1.csv, line 3: a greatest temperature of 999.9 °C is not possible"):
        brought(wood, DAYS, DAYS.replace("0,7", "0,999.9"))
    assert rows(wood) == before


def test_a_proposal_writes_nothing_and_is_stored_as_it_was_shown(wood: Path, tmp_path: Path) -> None:
    before = rows(wood)
    path = tmp_path / "w.csv"
    path.write_text(DAYS)
    with StandFile.open(wood) as file:
        proposal = propose(file, [path], BringOptions(), NOW)
        assert rows(wood) == before
        assert proposal.items == ()
        report = store(file, proposal, {}, NOW)
    assert report.sources[0].added == 2
    assert len(told(wood)) == 2


SIGNS = "sign,date,note\nfirst sap,2025-03-23,\nleaf-out,2025-05-06,south slope\nleaf-out,2024-05-01,\n"


def test_signs_come_once_a_season(wood: Path) -> None:
    report, _ = brought(wood, SIGNS)
    assert report.sources[0].added == 3
    report, _ = brought(wood, "sign,date\nleaf-out,2025-05-06\nleaf-out,2025-05-09\nleaf-out,2026-05-01\n")
    assert [s.why for s in report.sources[0].skipped] == ["leaf-out was seen on 2025-05-06 already", "is after today"]
    assert sorted(s.seen_on for s in stand_of(wood).signs if s.what == "leaf-out") == [
        date(2024, 5, 1),
        date(2025, 5, 6),
    ]


def test_what_is_handed_on_comes_back_whole(wood: Path, tmp_path: Path) -> None:
    brought(
        wood,
        "station,name,lat,lon,elevation_m,date,tmin_c,tmean_c,tmax_c,rain_mm,wind_m_s\n"
        "A,Hill,62.1,27.2,104.5,2026-03-26,-1.25,2.1,6,0.3,4\nA,Hill,62.1,27.2,104.5,2026-03-27,,3,,,\n",
        SIGNS,
    )
    paths = export(stand_of(wood), tmp_path / "out", what=["weather", "signs"])
    assert [path.name for path in paths] == ["weather.csv", "signs.csv"]
    other = tmp_path / "other.gpkg"
    StandFile.create(other).close()
    with StandFile.open(other) as file:
        bring(file, paths, BringOptions(), NOW)
    here, there = stand_of(wood), stand_of(other)
    names = [field.name for field in fields(Weather) if field.name not in ("key", "source_key")]
    assert [[getattr(w, n) for n in names] for w in there.weather] == [
        [getattr(w, n) for n in names] for w in here.weather
    ]
    assert sorted((s.what, s.seen_on, s.note) for s in there.signs) == sorted(
        (s.what, s.seen_on, s.note) for s in here.signs
    )
    assert kept_stations(there.settings) == kept_stations(here.settings)


def test_no_weather_writes_no_file(wood: Path, tmp_path: Path) -> None:
    names = {path.name for path in export(stand_of(wood), tmp_path / "out")}
    assert not names & {"weather.csv", "signs.csv"}
    with pytest.raises(NothingToDo, match="holds no weather"):
        export(stand_of(wood), tmp_path / "out2", what=["weather"])
