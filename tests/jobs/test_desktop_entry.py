"""The desktop entry: well-formed by the freedesktop specification, with the program's own path and icon."""

from __future__ import annotations

import configparser
import shlex
from pathlib import Path

import pytest
from lxml import etree

from standmap.assets import resource
from standmap.errors import UserError
from standmap.jobs.desktop_entry import install_entry, quoted


def entry_of(path: Path) -> configparser.SectionProxy:
    parser = configparser.RawConfigParser(delimiters=("=",), comment_prefixes=("#",), strict=True)
    setattr(parser, "optionxform", str)  # noqa: B010 - keys are told apart by case
    parser.read(path, encoding="utf-8")
    assert parser.sections() == ["Desktop Entry"]
    return parser["Desktop Entry"]


def test_the_entry_has_what_the_specification_asks_for() -> None:
    entry = entry_of(resource("standmap.desktop"))
    assert entry["Type"] == "Application"
    assert entry["Name"] == "standmap"
    assert entry["Exec"].split() == ["standmap", "open", "%f"]
    assert entry["Icon"] == "standmap"
    assert entry["Terminal"] in ("true", "false")
    for key in ("Categories", "MimeType", "Keywords", "Keywords[de]"):
        assert entry[key].endswith(";")


def test_the_icon_is_a_square_drawing_without_anything_from_outside() -> None:
    root = etree.parse(resource("icons", "standmap.svg")).getroot()
    assert root.get("viewBox") == "0 0 128 128"
    assert not any("href" in name for element in root.iter() for name in element.attrib)


def test_an_entry_is_written_for_this_person(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    command = tmp_path / "my programs" / "standmap"
    command.parent.mkdir()
    command.touch()
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    entry_path, icon_path = install_entry(command)
    assert entry_path == tmp_path / "data" / "applications" / "standmap.desktop"
    assert icon_path == tmp_path / "data" / "icons" / "hicolor" / "scalable" / "apps" / "standmap.svg"
    assert icon_path.read_bytes() == resource("icons", "standmap.svg").read_bytes()
    entry = entry_of(entry_path)
    assert shlex.split(entry["Exec"]) == [str(command), "open", "%f"]
    assert install_entry(command)[0].read_text() == entry_path.read_text()  # the same again


def test_only_a_program_is_listed(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="is not the program"):
        install_entry(tmp_path / "standmap", tmp_path)
    assert not (tmp_path / "applications").exists()


@pytest.mark.parametrize(
    ("path", "written"),
    [
        ("/opt/standmap", "/opt/standmap"),
        ("/my programs/standmap", '"/my programs/standmap"'),
        ("/100%/standmap", "/100%%/standmap"),
        ("/a$b/standmap", '"/a\\\\$b/standmap"'),
        ('/a"b/standmap', '"/a\\\\"b/standmap"'),
    ],
)
def test_paths_are_quoted_as_the_specification_says(path: str, written: str) -> None:
    assert quoted(path) == written
