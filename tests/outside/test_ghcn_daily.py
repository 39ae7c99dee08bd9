"""The public archive of daily weather as its own description has it, and lines of it that others print.

Source of the facts: NOAA NCEI, "README FILE FOR DAILY GLOBAL HISTORICAL CLIMATOLOGY NETWORK (GHCN-DAILY)", version
3.00, section III (columns, elements with their units, the missing value, the quality flag); its
"readme-by_station.txt" (the fields of the form with one value a line). The lines are the archive's own, in the public
domain as works of the United States government, as parsers and articles quote them.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from standmap.formats.content import Findings, FoundDay
from standmap.formats.door import read
from standmap.formats.ghcn import ELEMENTS

MARCH_1944 = (
    "AE000041196194403TMAX"
    + "-9999   " * 19
    + "".join(f"{value:5d}  I" for value in (380, 346, 319, 302, 296, 308, 291, 296, 296, 335, 396, 313))
)
"""Sharjah, greatest temperatures of March 1944, as several programs print the line."""

JANUARY_1926 = (
    "USC00011084192601TMAX" + "-9999   " * 20
    + "  239  6  222  6   50  6   50  6  144  6  144  6  161  6  144  6  150  6  128  6  200  6"
)  # fmt: skip
"""Brewton, Alabama, greatest temperatures of January 1926."""

EL_GOLEA = """"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","PRCP","PRCP_ATTRIBUTES","SNWD",\
"SNWD_ATTRIBUTES","TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES","TAVG","TAVG_ATTRIBUTES"
"AG000060590","1892-01-01","30.5667","2.8667","397.0","EL GOLEA, AG","    0",",,E",,,,,"   34",",,E",,
"AG000060590","1892-01-02","30.5667","2.8667","397.0","EL GOLEA, AG","    0",",,E",,,,,"   36",",,E",,
"""
"""The first days of a station's table as it is handed out today, quoted in an article on the archive's format."""

CENTRAL_PARK = """USW00094728,20240715,TMAX,356,,,W,2400
USW00094728,20240715,TMIN,228,,,W,2400
USW00094728,20240715,PRCP,0,,,W,2400
"""
"""New York, Central Park, 15 July 2024, one value a line, quoted in the tests of a program that reads it."""


def found(folder: Path, text: str) -> Findings:
    path = folder / "from-the-archive"
    path.write_text(text)
    return read(path)


def days(folder: Path, text: str) -> dict[date, FoundDay]:
    return {day.day: day for day in found(folder, text).weather}


def test_a_line_of_fixed_columns_is_a_month(tmp_path: Path) -> None:
    assert len(MARCH_1944) == 269  # "SFLAG31 269-269"
    told = days(tmp_path, MARCH_1944 + "\n")
    assert [day.isoformat() for day in told] == [f"1944-03-{n}" for n in range(20, 32)]
    assert told[date(1944, 3, 20)].most_c == 38.0
    assert told[date(1944, 3, 30)].most_c == 39.6
    assert {(d.least_c, d.mean_c, d.rain_mm, d.station) for d in told.values()} == {(None, None, None, "AE000041196")}


def test_a_line_of_a_cold_month(tmp_path: Path) -> None:
    told = days(tmp_path, JANUARY_1926)
    assert [d.most_c for d in told.values()] == [23.9, 22.2, 5.0, 5.0, 14.4, 14.4, 16.1, 14.4, 15.0, 12.8, 20.0]
    assert min(told) == date(1926, 1, 21)


def test_the_table_of_one_station(tmp_path: Path) -> None:
    read_in = found(tmp_path, EL_GOLEA)
    first, second = read_in.weather
    assert (first.day, first.least_c, first.most_c, first.rain_mm) == (date(1892, 1, 1), 3.4, None, 0.0)
    assert second.least_c == 3.6
    (station,) = read_in.stations
    assert (station.name, station.at, station.elevation_m) == ("EL GOLEA, AG", (2.8667, 30.5667), 397.0)


@pytest.mark.parametrize("headings", ["", "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n"])
def test_one_value_a_line(tmp_path: Path, headings: str) -> None:
    (day,) = found(tmp_path, headings + CENTRAL_PARK).weather
    assert (day.station, day.day) == ("USW00094728", date(2024, 7, 15))
    assert (day.least_c, day.most_c, day.rain_mm) == (22.8, 35.6, 0.0)


@pytest.mark.parametrize(
    ("element", "unit"),
    [
        ("PRCP", "rain_mm"),  # "Precipitation (tenths of mm)"
        ("TMAX", "most_c"),  # "Maximum temperature (tenths of degrees C)"
        ("TMIN", "least_c"),  # "Minimum temperature (tenths of degrees C)"
        ("AWND", "wind_m_s"),  # "Average daily wind speed (tenths of meters per second)"
    ],
)
def test_elements_are_in_tenths(tmp_path: Path, element: str, unit: str) -> None:
    assert ELEMENTS[element] == unit
    (day,) = found(tmp_path, f"USW00094728,20240715,{element},123,,,W,\n").weather
    assert getattr(day, unit) == 12.3


@pytest.mark.parametrize("flag", list("DGIKLMNORSTWXZ"))
def test_a_value_that_failed_a_check_is_not_used(tmp_path: Path, flag: str) -> None:
    """The fourteen quality flags of the description; blank means "did not fail any quality assurance check"."""
    flagged = MARCH_1944.replace("  346  I", f"  346 {flag}I")
    read_in = found(tmp_path, flagged)
    assert len(read_in.weather) == 11
    assert date(1944, 3, 21) not in {day.day for day in read_in.weather}
    assert "1 value failed the archive's own checks: left out" in read_in.told


def test_a_measurement_flag_is_no_fault(tmp_path: Path) -> None:
    """ "T = trace of precipitation": a value of nought that was seen."""
    (day,) = found(tmp_path, "USW00094728,20240715,PRCP,0,T,,W,\n").weather
    assert day.rain_mm == 0.0
