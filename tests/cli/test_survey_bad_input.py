"""What a survey brings home may be wrong: it is named in one line, and the stand stays as it was until accepted."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from standmap.assets import sample_stand
from standmap.cli.main import run
from standmap.jobs.opening import open_stand
from standmap.stand.walks import Walk
from tests.jobs.stand_rows import rows

DATA = Path(__file__).parents[1] / "data"
OF_OTHERS = sorted([*(DATA / "gpx").glob("*.gpx"), *(DATA / "nmea").glob("*.log")])
TREES, WALK, NOTES = (sample_stand("alder-brook", name) for name in ("trees.csv", "walk.gpx", "notes.csv"))


@pytest.fixture
def wood(stand_path: Path, today: date, capsys: pytest.CaptureFixture[str]) -> Path:
    """Return a stand with the listed trees of the sample wood."""
    assert today == date(2026, 3, 28)
    assert run(["new", str(stand_path)]) == 0
    assert run(["bring", str(stand_path), str(TREES)]) == 0
    capsys.readouterr()
    return stand_path


def refusal(capsys: pytest.CaptureFixture[str], code: int, *words: str | Path) -> str:
    """Return the one line in which a command refuses; nothing else is an answer."""
    assert run([str(w) for w in words]) == code
    told = capsys.readouterr()
    assert told.out == ""
    (line,) = [text for text in told.err.splitlines() if text.startswith("standmap: ")]
    assert told.err.splitlines()[-1] == line
    assert line.isprintable()
    return line


def test_the_files_of_others_are_all_there() -> None:
    assert len(OF_OTHERS) == 18


@pytest.mark.parametrize("source", OF_OTHERS, ids=lambda path: path.name)
def test_a_file_of_others_is_brought_or_refused_in_one_line(
    source: Path, stand_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["new", str(stand_path)]) == 0
    before = rows(stand_path)
    capsys.readouterr()
    code = run(["bring", str(stand_path), str(source)])
    told = capsys.readouterr()
    if code == 0:
        assert told.out.startswith(f"{source.name} ({'nmea' if source.suffix == '.log' else 'gpx'}): read ")
        assert rows(stand_path) != before
        assert run(["undo", str(stand_path)]) == 0
    else:
        assert code in (1, 2)
        line = told.err.splitlines()[-1]
        assert re.match(rf"standmap: (nothing usable in )?{re.escape(source.name)}\b", line)
        assert told.err.count("standmap: ") == 1
    assert rows(stand_path) == before


def test_a_walk_in_another_country_is_refused(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = wood.read_bytes()
    line = refusal(capsys, 1, "bring", wood, DATA / "gpx" / "run.gpx")
    assert "7089.0 km from the stand's centre (more than 10 km)" in line
    assert "--anyway" in line
    assert wood.read_bytes() == before


def test_a_sheet_of_another_wood_hangs_on_nothing(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = wood.read_bytes()
    line = refusal(capsys, 1, "bring", wood, sample_stand("alder-brook", "field-sheet.csv"))
    assert "it hangs on nothing that is known" in line
    assert wood.read_bytes() == before


CLOCKS: dict[str, tuple[str, str | Callable[[re.Match[str]], str], str]] = {
    "an hour ahead": (r"(\d\d):(\d\d:\d\d)", lambda m: f"{int(m[1]) + 1:02d}:{m[2]}", "4 h 00 min 00 s ahead"),
    "an hour behind": (r"(\d\d):(\d\d:\d\d)", lambda m: f"{int(m[1]) - 1:02d}:{m[2]}", "2 h 00 min 00 s ahead"),
    "in Universal Time": (r"(\d\d):(\d\d:\d\d)", lambda m: f"{int(m[1]) - 3:02d}:{m[2]}", ""),
    "an hour off its own zone": (r"(2025-\S\S-\S\S),(\S{8})", r",\1T\2+02:00", "1 h 00 min 00 s ahead"),
}


@pytest.mark.parametrize("clock", CLOCKS)
def test_a_clock_that_is_off_by_a_zone_is_set_by_the_walk(
    clock: str, wood: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pattern, put, said = CLOCKS[clock]
    notes = tmp_path / "notes.csv"
    notes.write_text(re.sub(pattern, put, NOTES.read_text(encoding="utf-8")), encoding="utf-8")
    assert run(["bring", str(wood), str(WALK), str(notes), "--json"]) == 0
    told = capsys.readouterr()
    stops = json.loads(told.out)["sources"][0]["stops"]
    assert [s["tree"] for s in stops] == [f"N{n:02d}" for n in range(1, 13)]
    clocks = [line for line in told.err.splitlines() if line.startswith("the notes' clock")]
    assert [said in line for line in clocks] == [True] * bool(said)


def test_notes_of_another_day_are_left_out_and_told(
    wood: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    notes = tmp_path / "notes.csv"
    notes.write_text(NOTES.read_text(encoding="utf-8").replace("2025-09-20", "2025-07-01"), encoding="utf-8")
    assert run(["bring", str(wood), str(WALK), str(notes), "--json"]) == 0
    (walk, of_notes) = json.loads(capsys.readouterr().out)["sources"]
    assert len(walk["stops"]) == 12
    assert not any(s["tree"].startswith("N") for s in walk["stops"])
    assert (of_notes["added"], of_notes["updated"], len(of_notes["skipped"])) == (0, 0, 12)


def sheet(tmp_path: Path, *lines: str) -> Path:
    path = tmp_path / "sheet.csv"
    path.write_text("\n".join(("from,to,bearing (true),distance (m)", *lines)) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("B01,X1,370,12.5", "line 2: bearing 370 is not from 0 to 360 degrees"),
        ("B01,X1,45,-3", "line 2: distance -3 is negative"),
        ("B01,X1,45,", "it does not tell where X1 is"),
        ("B01,B01,45,3", "from and to are both 'B01'"),
        ("B01,X1,north,3", "line 2: bearing"),
    ],
)
def test_a_line_that_cannot_be_is_named(
    line: str, said: str, wood: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = wood.read_bytes()
    told = refusal(capsys, 1, "bring", wood, sheet(tmp_path, line))
    assert told.startswith("standmap: nothing usable in sheet.csv")
    assert said in told
    assert wood.read_bytes() == before


def test_one_bad_line_leaves_the_others(wood: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = sheet(tmp_path, "B01,X1,370,12.5", "B01,X2,45,-3", "B01,X3,20,5")
    assert run(["bring", str(wood), str(path), "--json"]) == 0
    (source,) = json.loads(capsys.readouterr().out)["sources"]
    assert [s["where"] for s in source["skipped"]] == ["line 2", "line 3"]
    with open_stand(wood, read_only=True) as file:
        assert {t.name for t in file.stand().trees if t.name.startswith("X")} == {"X3"}


def test_a_loop_that_closes_by_forty_metres_is_named_and_waits(
    wood: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = wood.read_bytes()
    path = sheet(tmp_path, "B01,X1,0,40", "X1,X2,90,40", "X2,X3,180,40", "X3,B01,270,80")
    line = refusal(capsys, 1, "bring", wood, path)
    assert "part of a loop that closes 40.0 m off (" in line
    assert "one line is wrong; give --anyway" in line
    review = tmp_path / "review.json"
    assert run(["bring", str(wood), str(path), "--review", str(review)]) == 0
    asked = json.loads(review.read_text(encoding="utf-8"))["items"]
    assert [(i["fate"], i["decision"]) for i in asked] == [("doubtful", "ignore")] * 4
    capsys.readouterr()
    assert wood.read_bytes() == before
    kept = rows(wood)
    assert run(["bring", str(wood), str(path), "--anyway"]) == 0
    taken = rows(wood)
    assert len(taken["sight"]) == 4
    capsys.readouterr()
    assert run(["adjust", str(wood), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    (loop,) = found["loops"]
    assert loop["gross"]
    assert loop["off_m"] == pytest.approx(40.0, abs=0.1)
    assert set(loop["points"]) == {"B01", "X1", "X2", "X3"}
    assert "one of its sights is wrong" in loop["text"]
    assert rows(wood) == taken  # shown, and nothing written
    assert run(["undo", str(wood)]) == 0
    assert rows(wood) == kept


UNDATED = """$GPGGA,060000.00,6154.0000,N,02736.0000,E,1,08,1.0,90.0,M,18.0,M,,*6D
$GPGGA,060001.00,6154.0000,N,02736.0000,E,1,08,1.0,90.0,M,18.0,M,,*6C
"""


def test_an_undated_log_is_dated_as_stated(
    stand_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["new", str(stand_path)]) == 0
    log = tmp_path / "walk.log"
    log.write_text(with_checksums(UNDATED))
    assert run(["bring", str(stand_path), str(log)]) == 0
    assert "--date can name the day" in capsys.readouterr().err
    assert run(["undo", str(stand_path)]) == 0
    assert run(["bring", str(stand_path), str(log), "--date", "2026-03-20"]) == 0
    with open_stand(stand_path, read_only=True) as file:
        (walk,) = file.rows(Walk)
    assert datetime.fromtimestamp(float(walk.fixes.time_s[0]), UTC) == datetime(2026, 3, 20, 6, tzinfo=UTC)


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--date", "yesterday", "is not a day"),
        ("--date", "2031-01-01", "is after today"),
        ("--pace-m", "7", "a pace of 7 m is not possible"),
    ],
)
def test_what_cannot_be_stated_is_refused(
    wood: Path, capsys: pytest.CaptureFixture[str], option: str, value: str, words: str
) -> None:
    assert words in refusal(capsys, 2, "bring", wood, WALK, option, value)


def test_a_picture_as_phones_keep_it_is_refused_with_what_to_do(
    wood: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    picture = tmp_path / "IMG_1.HEIC"
    picture.write_bytes(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(500))
    line = refusal(capsys, 2, "bring", wood, picture)
    assert "is a HEIC picture, which is not read" in line
    assert "save it as JPEG" in line


def with_checksums(text: str) -> str:
    lines = []
    for line in text.splitlines():
        body, total = line[1 : line.index("*")], 0
        for letter in body:
            total ^= ord(letter)
        lines.append(f"${body}*{total:02X}")
    return "\r\n".join(lines) + "\r\n"
