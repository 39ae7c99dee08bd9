"""`standmap tags` as a person runs it."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from standmap.cli.main import run
from tests.formats.pdf_reading import pages, sizes_mm, text


@pytest.fixture
def wood(tmp_path: Path, today: date, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    assert today == date(2026, 3, 28)
    rows = "".join(f"B{k},{27.6 + k * 0.0001:.4f},61.9\n" for k in (10, 2, 1))
    (tmp_path / "trees.csv").write_text(f"name,lon,lat\n{rows}")
    monkeypatch.chdir(tmp_path)
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv"]) == 0
    capsys.readouterr()
    return "wood.gpkg"


def test_all_standing_trees_get_a_tag_in_the_order_of_their_names(
    wood: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["tags", wood, "--out", "tags.pdf"]) == 0
    said = capsys.readouterr()
    assert said.out == "tags.pdf: 3 tags\n"
    assert "a nail or a screw wounds the tree" in said.err
    content = Path("tags.pdf").read_bytes()
    assert [word for word in text(content).split() if word.startswith("B")] == ["B1", "B2", "B10"]
    assert "page 1 of 1" in pages(content)[0]
    assert "hang a tag loosely on wire or cord" in pages(content)[0]


def test_some_trees_a_size_and_another_paper(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["tags", wood, "--out", "out/tags.pdf", "--trees", "B10,B1", "--size", "80x50", "--paper", "letter",
                "--json"]) == 0  # fmt: skip
    assert json.loads(capsys.readouterr().out) == {"files": [str(Path("out/tags.pdf"))], "tags": 2}
    content = Path("out/tags.pdf").read_bytes()
    assert sizes_mm(content) == [(215.9, 279.4)]
    assert [word for word in text(content).split() if word.startswith("B")] == ["B10", "B1"]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--size", "huge"], "'huge' is no size of a tag; write width and height in millimetres, like 60x40"),
        (["--size", "5x5"], "a tag of 5 by 5 mm is out of bounds"),
        (["--paper", "A9"], "'A9' is no paper known here; choose A4 or Letter"),
        (["--trees", "B7"], "no tree is called 'B7'"),
        (["--trees", ","], "--trees names no tree"),
    ],
)
def test_what_makes_no_sense_is_refused_and_nothing_written(
    wood: str, capsys: pytest.CaptureFixture[str], arguments: list[str], message: str
) -> None:
    assert run(["tags", wood, "--out", "tags.pdf", *arguments]) == 2
    assert message in capsys.readouterr().err
    assert not Path("tags.pdf").exists()


def test_a_file_is_not_written_over_unasked(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path("tags.pdf").write_text("mine")
    assert run(["tags", wood, "--out", "tags.pdf"]) == 2
    assert "is there already" in capsys.readouterr().err
    assert Path("tags.pdf").read_text() == "mine"
    assert run(["tags", wood, "--out", "tags.pdf", "--replace"]) == 0
    assert run(["tags", wood, "--out", "tags.txt"]) == 2
    assert "name a file that ends in .pdf" in capsys.readouterr().err


def test_codes_too_fine_for_a_phone_are_told(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["tags", wood, "--out", "tags.pdf", "--size", "35x20"]) == 0
    assert "3 codes are finer than 0.4 mm a square" in capsys.readouterr().err


def test_an_empty_stand_has_no_tags(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["new", str(tmp_path / "empty.gpkg")]) == 0
    assert run(["tags", str(tmp_path / "empty.gpkg"), "--out", str(tmp_path / "tags.pdf")]) == 1
    assert "no standing tree" in capsys.readouterr().err
