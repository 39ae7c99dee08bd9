from __future__ import annotations

import gzip
import io
import os
import sqlite3
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from standmap.errors import UserError
from standmap.formats import door
from standmap.formats.door import read

GPX = '<?xml version="1.0"?>\n<gpx version="1.1"><wpt lat="62" lon="29"/></gpx>'
GEOJSON = '{"type": "Point", "coordinates": [29, 62]}'
TABLE = "name,lon,lat\nA,29,62\n"
CONTENTS = {"gpx": GPX, "geojson": GEOJSON, "csv": TABLE}

MakeFile = Callable[..., Path]


@pytest.fixture
def file(tmp_path: Path) -> MakeFile:
    def made(content: str | bytes, name: str = "some.file") -> Path:
        path = tmp_path / name
        path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        return path

    return made


@pytest.mark.parametrize("name", ["a.gpx", "a.geojson", "a.csv", "a", "a.zip"])
@pytest.mark.parametrize("form", CONTENTS)
def test_content_tells_the_format_and_the_name_does_not(file: MakeFile, form: str, name: str) -> None:
    found = read(file(CONTENTS[form], name))
    assert found.format == form
    assert [tree.at for tree in found.trees] == [(29.0, 62.0)]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le-bom"])
@pytest.mark.parametrize("form", CONTENTS)
def test_byte_order_marks_are_understood(file: MakeFile, form: str, encoding: str) -> None:
    text = " \n" + CONTENTS[form] if form != "gpx" else CONTENTS[form]
    content = b"\xff\xfe" + text.encode("utf-16-le") if encoding == "utf-16-le-bom" else text.encode(encoding)
    assert read(file(content)).format == form


def test_a_long_run_of_blanks_hides_nothing(file: MakeFile) -> None:
    assert read(file(" " * 20_000 + GEOJSON)).format == "geojson"


def _zip() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("doc.kml", "<kml/>")
    return held.getvalue()


def _database(folder: Path) -> bytes:
    with sqlite3.connect(folder / "made.gpkg") as database:
        database.execute("CREATE TABLE t (a)")
    database.close()
    return (folder / "made.gpkg").read_bytes()


def test_binary_files_are_named_for_what_they_are(file: MakeFile, tmp_path: Path) -> None:
    for content, word in [
        (_zip(), "ZIP"),
        (_database(tmp_path), "SQLite"),
        (gzip.compress(b"name,lon\n"), "gzip"),
        (b"%PDF-1.7\n", "PDF"),
        (bytes(range(256)) * 8, "not a text file"),
    ]:
        with pytest.raises(UserError, match=rf"^rubbish\.bin: .*{word}"):
            read(file(content, "rubbish.bin"))


@pytest.mark.parametrize(
    ("content", "word"),
    [(b"", "empty"), (b" \n\t\r\n ", "blanks"), (b"\xef\xbb\xbf", "blanks"), (b"\xff\xfe", "blanks")],
)
def test_files_without_content_are_refused(file: MakeFile, content: bytes, word: str) -> None:
    with pytest.raises(UserError, match=rf"^some\.file: .*{word}"):
        read(file(content))


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for name, word in [("missing", "no such file"), ("pipe", "not a plain file"), ("nul\0", "no file name")]:
        with pytest.raises(UserError, match=word):
            read(tmp_path / name)
    with pytest.raises(UserError, match=rf"^{tmp_path.name}: is a folder"):
        read(tmp_path)


def test_an_unreadable_file_is_refused(file: MakeFile, monkeypatch: pytest.MonkeyPatch) -> None:
    path = file(TABLE)

    def denied(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", denied)
    with pytest.raises(UserError, match=r"^some\.file: cannot be read \(Permission denied\)"):
        read(path)


@pytest.mark.parametrize(
    ("form", "most", "remedy"),
    [("gpx", 512, "split it"), ("geojson", 64, "split it or convert to CSV"), ("csv", 512, "")],
)
def test_each_format_says_its_limit(file: MakeFile, form: str, most: int, remedy: str) -> None:
    path = file(CONTENTS[form] + " " * 5000)
    os.truncate(path, most * 1_000_000 + 1)  # a hole in the file, no bytes on disk
    with pytest.raises(UserError, match=rf"^some\.file: is {most}.0 MB, and at most {most} MB can be read; .*{remedy}"):
        read(path)


def test_a_message_stays_one_line_whatever_the_name(file: MakeFile) -> None:
    with pytest.raises(UserError) as refusal:
        read(file(b"", "two\nlines\x1b[31m.csv"))
    assert str(refusal.value).isprintable()


class _Impatient:
    def __init__(self) -> None:
        self.reports: list[tuple[float, float, str]] = []

    def at(self, done: float, total: float, what: str) -> None:
        self.reports.append((done, total, what))

    def stop_wanted(self) -> bool:
        return True


@pytest.mark.parametrize("form", CONTENTS)
def test_reading_can_be_stopped(file: MakeFile, form: str) -> None:
    watcher = _Impatient()
    with pytest.raises(UserError, match=r"^some\.file: reading was stopped; nothing was changed$"):
        door.read(file(CONTENTS[form]), progress=watcher)
    assert watcher.reports
    assert all("some.file" in what for _, _, what in watcher.reports)
