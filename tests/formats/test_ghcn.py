"""Files of the public archive: written by a writer of our own and read back, and what cannot be."""

from __future__ import annotations

import calendar
import tempfile
from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.formats.content import Findings
from standmap.formats.door import read
from standmap.formats.ghcn import ELEMENTS
from standmap.progress import Progress

STATION = "FIE00142101"
Told = Mapping[tuple[date, str], tuple[int, str]]
"""Value and quality flag by day and element."""


MARCH: Told = {(date(2026, 3, 1), "TMAX"): (50, " ")}


def dly(told: Told, station: str = STATION) -> str:
    """Write months of fixed columns, as the archive's description has them."""
    months = sorted({(day.year, day.month, element) for day, element in told})
    lines = []
    for year, month, element in months:
        cells = []
        for n in range(1, 32):
            value, flag = -9999, " "
            if n <= calendar.monthrange(year, month)[1]:
                value, flag = told.get((date(year, month, n), element), (value, flag))
            cells.append(f"{value:5d} {flag}{' ' if value == -9999 else 'E'}")
        lines.append(f"{station}{year}{month:02d}{element}{''.join(cells)}")
    return "\n".join(lines) + "\n"


def by_year(told: Told, station: str = STATION) -> str:
    """Write one value a line."""
    lines = [f"{station},{d:%Y%m%d},{e},{value},,{flag.strip()},E," for (d, e), (value, flag) in sorted(told.items())]
    return "\n".join(lines) + "\n"


def access(told: Told, station: str = STATION) -> str:
    """Write one day a line, a column and one of attributes for each element."""
    elements = sorted({element for _, element in told})
    lines = ["STATION,DATE,LATITUDE,LONGITUDE,ELEVATION,NAME," + ",".join(f"{e},{e}_ATTRIBUTES" for e in elements)]
    for day in sorted({day for day, _ in told}):
        cells = [station, day.isoformat(), "62.1", "27.2", "104.0", '"KOIVULA, FI"']
        for element in elements:
            value, flag = told.get((day, element), (None, " "))
            cells += ["", ""] if value is None else [f"{value:5d}", f'",{flag.strip()},E"']
        lines.append(",".join(cells))
    return "\n".join(lines) + "\n"


def found(folder: Path, text: str, *, station: str | None = None, progress: Progress | None = None) -> Findings:
    path = folder / "station.dly"
    path.write_text(text)
    return read(path, station=station, progress=progress)


def refusal(folder: Path, text: str, *, station: str | None = None) -> str:
    with pytest.raises(UserError) as caught:
        found(folder, text, station=station)
    assert caught.value.remedy
    return f"{caught.value.what}; {caught.value.remedy}"


@st.composite
def months(draw: st.DrawFn) -> dict[tuple[date, str], tuple[int, str]]:
    """Return days whose temperatures do not contradict each other, some values flagged."""
    told = {}
    first = draw(st.dates(date(1880, 1, 1), date(2026, 1, 1)))
    for offset in draw(st.lists(st.integers(0, 100), min_size=1, max_size=12, unique=True)):
        day = first + timedelta(days=offset)
        low, mean, high = sorted(draw(st.tuples(*[st.integers(-600, 500)] * 3)))
        values = {"TMIN": low, "TMAX": high, "TAVG": mean}
        values |= {"PRCP": draw(st.integers(0, 3000)), "AWND": draw(st.integers(0, 400)), "SNWD": 120}
        for element in draw(st.sets(st.sampled_from(sorted(values)), min_size=1)):
            told[day, element] = (values[element], draw(st.sampled_from("    G")))
    return told


@pytest.mark.parametrize("writer", [dly, by_year, access])
@given(told=months())
@settings(deadline=None, max_examples=40)
def test_what_is_written_is_read(writer: object, told: dict[tuple[date, str], tuple[int, str]]) -> None:
    wanted: dict[date, dict[str, float]] = {}
    for (day, element), (value, flag) in told.items():
        if element in ELEMENTS and flag == " ":
            wanted.setdefault(day, {})[ELEMENTS[element]] = value / 10
    with tempfile.TemporaryDirectory() as folder:
        text = writer(told)  # type: ignore[operator]
        if not wanted:
            assert "tells no temperature" in refusal(Path(folder), text)
            return
        read_in = found(Path(folder), text)
    back = {
        day.day: {name: v for name in ELEMENTS.values() if (v := getattr(day, name)) is not None}
        for day in read_in.weather
    }
    assert back == wanted
    failed = sum(flag != " " and element in ELEMENTS for (_, element), (_, flag) in told.items())
    assert any(text.startswith(f"{failed} value") for text in read_in.told) == (failed > 0)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (dly({(date(2026, 3, 1), "TMAX"): (650, " ")}),
         "line 1: a greatest temperature of 65.0 °C is not possible"),
        (dly(MARCH)[:200], "line 1: is no line of a .dly file"),
        (dly(MARCH) + "and then this\n", "line 2: is no line of a .dly file"),
        (dly({(date(2026, 2, 28), "TMAX"): (50, " ")})[: 21 + 28 * 8] + "   60  E-9999   -9999   \n",
         "line 1: tells a value of 2026-02-29, which is no day"),
        (dly(MARCH).replace("-9999", "  5x0", 1), "line 1: '5x0' is no whole number"),
        (by_year(MARCH) + f"{STATION},20260431,TMAX,5,,,E,\n",
         "line 2: '20260431' is no day of the calendar"),
        (by_year(MARCH) + f"{STATION},20260301,TMAX,70,,,E,\n",
         "line 2: 2026-03-01 was told already on line 1"),
        (by_year(MARCH) + "bad,line\n",
         "line 2: is no line of the archive's table by year"),
        (access(MARCH).replace("   50", "5.0"),
         "line 2: '5.0' is not in tenths as the archive's own table is; call the columns tmax_c or tmax_f"),
        (access(MARCH).replace("   50", "41"),
         "line 2: '41' is not in tenths as the archive's own table is"),
        (access(MARCH) + f"{STATION},2026-03-02\n",
         "line 3: has fewer cells than headings"),
        (dly({(date(2026, 3, 1), "SNWD"): (50, " ")}), "tells no temperature, rain or wind of any day"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_one_clear_line(tmp_path: Path, text: str, said: str) -> None:
    assert said in refusal(tmp_path, text)


def test_leap_days_are_days(tmp_path: Path) -> None:
    (day,) = found(tmp_path, dly({(date(2024, 2, 29), "TMAX"): (12, " ")})).weather
    assert (day.day, day.most_c) == (date(2024, 2, 29), 1.2)


def test_temperatures_that_contradict_each_other_are_left_out_and_told(tmp_path: Path) -> None:
    told = {(date(2026, 3, 1), e): (v, " ") for e, v in (("TMIN", 90), ("TMAX", 50), ("TAVG", 60), ("PRCP", 3))}
    told |= {(date(2026, 3, 2), e): (v, " ") for e, v in (("TMIN", 0), ("TMAX", 50), ("TAVG", 250))}
    read_in = found(tmp_path, dly(told))
    first, second = read_in.weather
    assert (first.least_c, first.most_c, first.mean_c, first.rain_mm) == (None, None, 6.0, 0.3)
    assert (second.least_c, second.most_c, second.mean_c) == (0.0, 5.0, None)
    assert [skipped.why.split(": ")[0] for skipped in read_in.skipped] == ["2026-03-01", "2026-03-02"]


def test_blanks_at_the_end_of_a_line_may_be_lost(tmp_path: Path) -> None:
    text = "\r\n".join(line.rstrip() for line in dly({(date(2026, 4, 1), "TMAX"): (50, " ")}).splitlines())
    (day,) = found(tmp_path, text).weather
    assert day.most_c == 5.0


def test_one_station_of_a_whole_year(tmp_path: Path) -> None:
    told = {(date(2026, 3, n), "TMAX"): (n, " ") for n in range(1, 4)}
    text = "".join(by_year(told, f"FIE{n:08d}") for n in range(30))
    said = refusal(tmp_path, text)
    assert "holds more than 20 stations (FIE00000000, FIE00000001" in said
    assert said.endswith("name the one near your wood with --station")
    read_in = found(tmp_path, text, station="fie00000029")
    assert [(d.station, d.day.day) for d in read_in.weather] == [("FIE00000029", n) for n in (1, 2, 3)]
    assert "holds no station 'FIE99'" in refusal(tmp_path, text, station="FIE99")


class _Stopped(Progress):
    def at(self, done: float, total: float, what: str) -> None:
        """Hear nothing."""

    def stop_wanted(self) -> bool:
        """Return that it is enough."""
        return True


def test_reading_can_be_stopped(tmp_path: Path) -> None:
    text = by_year(MARCH)
    with pytest.raises(UserError, match="reading was stopped"):
        found(tmp_path, text, progress=_Stopped())


def test_a_table_without_the_archives_attributes_is_any_table(tmp_path: Path) -> None:
    text = "STATION,NAME,DATE,TMAX_F,TMIN_F\nX1,KOIVULA,2026-03-01,50,32\n"
    read_in = found(tmp_path, text)
    assert read_in.format == "weather"
    assert read_in.weather[0].most_c == pytest.approx(10.0)
