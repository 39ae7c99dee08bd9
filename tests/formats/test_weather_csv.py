"""Tables of weather as archives and people write them: columns and units by their headings, and what cannot be."""

from __future__ import annotations

import tempfile
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.formats.content import Findings, FoundDay, FoundStation
from standmap.formats.door import read
from standmap.formats.weather_columns import is_weather
from standmap.formats.weather_writing import write_weather_csv
from standmap.stand.records import Weather
from standmap.stand.snapshot import Stand


def found(folder: Path, text: str | bytes, *, station: str | None = None) -> Findings:
    path = folder / "w.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read(path, station=station)


def one(folder: Path, text: str | bytes) -> FoundDay:
    (day,) = found(folder, text).weather
    return day


def refusal(folder: Path, text: str, *, station: str | None = None) -> str:
    with pytest.raises(UserError) as caught:
        found(folder, text, station=station)
    assert caught.value.remedy
    return f"{caught.value.what}; {caught.value.remedy}"


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("date,tmin,tmax\n2026-03-28,-2.5,7\n", (-2.5, None, 7.0, None, None)),
        ("Date;Mean temp °C;Rain (mm)\n28.3.2026;3,4;0,2\n", (None, 3.4, None, 0.2, None)),
        ("day\tTMIN_F\tTMAX_F\train_in\twind mph\n2026/03/28\t14\t50\t0.5\t10\n", (-10.0, None, 10.0, 12.7, 4.4704)),
        ("date,tmean (K),wind_km_h\n20260328,275.15,36\n", (None, 2.0, None, None, 10.0)),
        ("date,TMAX (0.1 °C),TMIN in tenths of °C\n2026-03-28,71,-25\n", (-2.5, None, 7.1, None, None)),
        ("Datum;Höchsttemperatur °C;Tiefsttemperatur °C;Niederschlag in mm\n28.03.2026;7;-2,5;1,5\n",
         (-2.5, None, 7.0, 1.5, None)),
        # The German and the Finnish national archives' headings (from memory).
        (("STATIONS_ID;MESS_DATUM;QN_3;  FX;  FM;QN_4; RSK; TMK; TXK; TNK; TGK;eor\n"
         "       3987;20260328;   10;   9.9;   4.1;    3;   0.6;   3.4;   7.1;  -2.5;  -6.0;eor\n"),
         (-2.5, 3.4, 7.1, 0.6, 4.1)),
        (("Havaintoasema,Vuosi,Kuukausi,Päivä,Aika [Paikallinen aika],Keskilämpötila [°C],Ylin lämpötila [°C],"
         "Alin lämpötila [°C],Tuulen nopeus [m/s]\nKoivula,2026,3,28,00:00,3.4,7.1,-2.5,4\n"),
         (-2.5, 3.4, 7.1, None, 4.0)),
        ("time,temperature_2m_max (°C),temperature_2m_min (°C),wind_speed_10m_max (km/h)\n2026-03-28,7.1,-2.5,40\n",
         (-2.5, None, 7.1, None, None)),
        ("date,high,low\n2026-03-28,7,-2.5\n", (-2.5, None, 7.0, None, None)),
        ("# read at the mill\nStation: Mill\n\ndate;tmin_c;tmax_c\n2026-03-28;-2,5;7\n", (-2.5, None, 7.0, None, None)),
        ("date,temp,rain\n2026-03-28,3.4,T\n", (None, 3.4, None, 0.0, None)),
    ],
)  # fmt: skip
def test_headings_tell_what_and_in_which_unit(tmp_path: Path, text: str, day: tuple[float | None, ...]) -> None:
    told = one(tmp_path, text)
    assert told.day == date(2026, 3, 28)
    for value, wanted in zip((told.least_c, told.mean_c, told.most_c, told.rain_mm, told.wind_m_s), day, strict=True):
        assert value == (None if wanted is None else pytest.approx(wanted, abs=1e-9))


@pytest.mark.parametrize(
    "headings",
    [
        ["tree", "date", "what", "litres"],
        ["name", "lon", "lat", "girth_cm"],
        ["date", "soil temperature (°C)"],
        ["date", "dew point °C"],
        ["station", "tmin", "tmax"],
        ["date", "min", "name"],
    ],
)
def test_other_tables_are_no_weather(headings: list[str]) -> None:
    assert not is_weather(headings)


@pytest.mark.parametrize("codec", ["utf-8-sig", "utf-16", "cp1252"])
def test_any_encoding(tmp_path: Path, codec: str) -> None:
    day = one(tmp_path, "Datum;Höchsttemperatur °C\r\n28.3.2026;7,1\r\n".encode(codec))
    assert (day.day, day.most_c) == (date(2026, 3, 28), 7.1)


def test_readings_of_moments_become_days(tmp_path: Path) -> None:
    hours = [(hour, 4 + 6 * (hour >= 12), 0.1) for hour in range(24)]
    text = "date,time,temp_c,rain_mm,wind_kn\n" + "".join(
        f"2026-03-{day},{hour:02d}:00,{temp},{rain},10\n" for day in (27, 28) for hour, temp, rain in hours
    )
    text += "".join(f"2026-03-29,{hour:02d}:00,1,0,10\n" for hour in range(3))
    read_in = found(tmp_path, text)
    assert [(d.day.day, d.least_c, d.mean_c, d.most_c) for d in read_in.weather] == [(27, 4, 7, 10), (28, 4, 7, 10)]
    assert read_in.weather[0].rain_mm == pytest.approx(2.4)
    assert read_in.weather[0].wind_m_s == pytest.approx(10 * 1852 / 3600)
    (part,) = read_in.skipped
    assert part.why == "2026-03-29 has 3 of about 24 readings: no whole day"


def test_a_moment_may_stand_beside_its_day_in_one_cell(tmp_path: Path) -> None:
    rows = "".join(f"2026-03-28T{hour:02d}:00,{hour}\n" for hour in range(0, 24, 3))
    day = one(tmp_path, "Timestamp,Temperature (°C)\n" + rows)
    assert (day.least_c, day.mean_c, day.most_c) == (0, 10.5, 21)


def test_midnight_beside_a_day_tells_no_hour(tmp_path: Path) -> None:
    day = one(tmp_path, "date,temp_c\n2026-03-28 00:00,3\n")
    assert (day.least_c, day.mean_c, day.most_c) == (None, 3, None)


def test_one_temperature_a_day_is_its_mean_and_must_not_be_told_twice(tmp_path: Path) -> None:
    rows = "".join(f"2026-03-{day},{day}\n" for day in range(20, 29))
    assert {d.mean_c for d in found(tmp_path, "date,temp_c\n" + rows).weather} == set(range(20, 29))
    said = refusal(tmp_path, "date,temp_c\n" + rows + "2026-03-28,4\n")
    assert "w.csv, line 11: 2026-03-28 was told already on line 10, with other values" in said


@pytest.mark.parametrize("missing", ["", "NA", "-9999", "-999", "nan", "--", "-999.0"])
def test_what_is_missing_is_missing(tmp_path: Path, missing: str) -> None:
    day = one(tmp_path, f"date,tmin_c,tmax_c\n2026-03-28,{missing},7\n")
    assert (day.least_c, day.most_c) == (None, 7.0)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("date,tmin_c,tmax_c\n2026-03-28,2,999.9\n", "line 2: a greatest temperature of 999.9 °C is not possible"),
        ("date,tmin_c,tmax_c\n2026-03-28,-91,1\n", "line 2: a least temperature of -91.0 °C is not possible"),
        ("date,tmin,tmax\n2026-03-28,1,1e400\n", "line 2: tmax '1e400' is not a number"),
        ("date,tmin,tmax\n2026-03-28,1,1_0\n", "line 2: tmax '1_0' is not a number"),
        ("date,tmin,tmax\n2026-03-27,0,5\n2026-03-28,warm,5\n", "line 3: tmin 'warm' is not a number"),
        ("date,tmin_c,tmax_c\n2026-03-28,8,7\n", "line 2: the least temperature, 8.0 °C, is above the greatest, 7.0"),
        ("date,tmin_c,tmean_c,tmax_c\n2026-03-28,1,40,7\n", "line 2: the mean temperature, 40.0 °C, lies far outside"),
        ("date,tmin,tmax\n2026-03-27,0,5\n2026-03-27,0,9\n", "line 3: 2026-03-27 was told already on line 2"),
        ("date,tmin,tmax\n2026-02-29,0,5\n", "line 2: date '2026-02-29' is not a day"),
        ("date,tmin,tmax\n20260230,0,5\n", "line 2: '20260230' is no day of the calendar"),
        ("year,month,day,tmin\n2025,2,29,0\n", "line 2: '2025-2-29' is no day of the calendar"),
        ("date,tmin,tmax\n3/4/2026,0,5\n", "line 2: date '3/4/2026' could be two days"),
        ("date,tmin,tmax\n2026-03-28,1,5,7,2\n", "line 2: 5 cells, but the header names 3"),
        ("date,tmax,rain_mm\n2026-03-28,5,3000\n", "line 2: rain of 3000 mm is not possible"),
        ("date,tmax,wind_m_s\n2026-03-28,5,-1\n", "line 2: wind of -1 m/s is not possible"),
        # Fahrenheit under a heading that does not say so: what cannot be °C, and what would be a heat never measured.
        ("date,tmin,tmax\n2026-03-28,30,68\n", "if it is Fahrenheit, call the column 'tmax_f'"),
        ("date,tmax,tmin\n2026-03-28,51,30\n", "51 is too warm for °C, and the heading tells no unit; say it"),
        ("date,tmin\n0202-03-28,1\n", "line 2: nobody measured on 0202-03-28; check the year"),
        ("date,tmax\n2026-07-28,58\n", "58 is too warm for °C, and the heading tells no unit; say it"),
        ("date,tmean\n2026-07-28,47\n", "47 is too warm for °C, and the heading tells no unit; say it"),
        ("date,tmin,tmax\n2026-03-28,,\n", "w.csv: tells no temperature of any day"),
        ("date,tmin,tmax\n", "w.csv: tells no temperature of any day"),
    ],
)
def test_what_cannot_be_is_one_clear_line(tmp_path: Path, rows: str, said: str) -> None:
    assert said in refusal(tmp_path, rows)


def test_a_leap_day_is_a_day(tmp_path: Path) -> None:
    assert one(tmp_path, "date,tmin\n2024-02-29,-3\n").day == date(2024, 2, 29)


def test_a_mean_a_little_outside_is_taken(tmp_path: Path) -> None:
    """Means from midnight to midnight beside extremes from evening to evening are so in good archives."""
    assert one(tmp_path, "date,tmin_c,tmean_c,tmax_c\n2026-03-28,1,-2,7\n").mean_c == -2


def test_the_same_day_told_twice_alike_is_one(tmp_path: Path) -> None:
    day = one(tmp_path, "date,tmin_c,tmax_c\n2026-03-28,1,7\n2026-03-28,1.04,7\n")
    assert (day.least_c, day.most_c) == (1.04, 7.0)


def test_days_written_month_first_are_told_by_the_others(tmp_path: Path) -> None:
    read_in = found(tmp_path, "date,tmin_c\n3/20/2026,1\n3/4/2026,2\n")
    assert {d.day: d.least_c for d in read_in.weather} == {date(2026, 3, 20): 1, date(2026, 3, 4): 2}
    assert "days are written month first" in read_in.told
    said = refusal(tmp_path, "date,tmin_c\n3/20/2026,1\n20/3/2026,2\n3/4/2026,2\n")
    assert "line 4: date '3/4/2026' could be two days" in said


def test_lines_above_the_headings_are_counted(tmp_path: Path) -> None:
    text = "# notes\n\ndate,tmin_c\n2026-03-20,1\n2026-03-21,999.9\n"
    assert "w.csv, line 5: a least temperature of 999.9 °C" in refusal(tmp_path, text)
    told = found(tmp_path, text.replace("999.9", "2")).told
    assert "the headings are in line 3" in told


STATIONS = (
    "station,name,lat,lon,elevation_ft,date,tmax_c\n"
    "A1,Alder,62.1,27.2,328,2026-03-27,4\nB2,Birch,61.0,27.0,,2026-03-27,5\nA1,Alder,62.1,27.2,328,2026-03-28,6\n"
)


def test_several_stations_are_kept_apart(tmp_path: Path) -> None:
    read_in = found(tmp_path, STATIONS)
    assert [(d.station, d.day.day, d.most_c) for d in read_in.weather] == [("A1", 27, 4), ("A1", 28, 6), ("B2", 27, 5)]
    alder, birch = read_in.stations
    assert (alder.name, alder.at) == ("Alder", (27.2, 62.1))
    assert alder.elevation_m == pytest.approx(99.9744)
    assert (birch.station, birch.elevation_m) == ("B2", None)


@pytest.mark.parametrize("wanted", ["B2", "b2", "Birch"])
def test_one_station_can_be_asked_for(tmp_path: Path, wanted: str) -> None:
    read_in = found(tmp_path, STATIONS, station=wanted)
    assert [d.station for d in read_in.weather] == ["B2"]
    assert [s.station for s in read_in.stations] == ["B2"]


def test_a_station_that_is_not_there_is_told_with_those_that_are(tmp_path: Path) -> None:
    said = refusal(tmp_path, STATIONS, station="C3")
    assert said == "w.csv: holds no station 'C3'; there are A1 Alder, B2 Birch; name one of the file with --station"


def test_a_table_without_stations_takes_the_name_that_is_given(tmp_path: Path) -> None:
    (day,) = found(tmp_path, "date,tmin\n2026-03-28,-3\n", station="yard").weather
    assert day.station == "yard"


def test_a_whole_country_is_asked_about(tmp_path: Path) -> None:
    rows = "".join(f"S{n},2026-03-28,5\n" for n in range(40))
    said = refusal(tmp_path, "station,date,tmax_c\n" + rows)
    assert said.startswith("w.csv: holds more than 20 stations (S0, S1, S2, S3, S4, ...)")
    assert said.endswith("--station")
    assert len(found(tmp_path, "station,date,tmax_c\n" + rows, station="S33").weather) == 1


def test_what_was_found_out_is_told(tmp_path: Path) -> None:
    told = found(tmp_path, "Datum;tmax\n28.3.2026;7,5\n").told
    assert "the headings tell no unit: temperatures are taken to be °C" in told
    assert "numbers have a decimal comma" in told
    assert "temperatures are in °F" in found(tmp_path, "date,tmax_f\n2026-03-28,50\n").told


# --- written and read back ------------------------------------------------------------------------------------------

NAMES = st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), max_size=30).map(str.strip)
RAIN = st.none() | st.floats(0, 500)


@st.composite
def days(draw: st.DrawFn) -> Stand:
    stations = draw(st.lists(NAMES, min_size=1, max_size=3, unique_by=str.casefold))
    rows = []
    for station in stations:
        first = draw(st.dates(date(1900, 1, 1), date(2100, 1, 1)))
        for n in range(draw(st.integers(1, 5))):
            low, high = sorted(draw(st.tuples(st.floats(-60, 50), st.floats(-60, 50))))
            mean = draw(st.none() | st.floats(low, high))
            low_told, high_told = draw(st.none() | st.just(low)), draw(st.none() | st.just(high))
            rows.append(
                Weather(
                    f"{station} {n}", first + timedelta(days=n), low_told, mean, high_told, draw(RAIN),
                    draw(st.none() | st.floats(0, 60)), station=station,
                )
            )  # fmt: skip
    return Stand(weather=tuple(rows))


@given(stand=days(), at=st.tuples(st.floats(-180, 180), st.floats(-90, 90)), height=st.none() | st.floats(-400, 8000))
@settings(deadline=None, max_examples=60)
def test_what_is_written_comes_back_whole(stand: Stand, at: tuple[float, float], height: float | None) -> None:
    places = {w.station: FoundStation(w.station, "", at, height) for w in stand.weather}
    told = [
        (w.station, w.day, w.least_c, w.mean_c, w.most_c, w.rain_mm, w.wind_m_s)
        for w in sorted(stand.weather, key=lambda w: (w.station, w.day))
        if any(v is not None for v in (w.least_c, w.mean_c, w.most_c, w.rain_mm, w.wind_m_s))
    ]
    with tempfile.TemporaryDirectory() as folder:
        content = write_weather_csv(stand, places)
        if not told:
            with pytest.raises(UserError):
                found(Path(folder), content)
            return
        read_in = found(Path(folder), content)
    back = [(d.station, d.day, d.least_c, d.mean_c, d.most_c, d.rain_mm, d.wind_m_s) for d in read_in.weather]
    assert back == told
    assert {s.station: (s.at, s.elevation_m) for s in read_in.stations} == dict.fromkeys(places, (at, height))
