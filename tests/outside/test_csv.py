"""Our tables against RFC 4180, byte by byte and by the csv module."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.formats.csv_writing import write_trees_csv
from standmap.formats.delimited import to_bytes
from standmap.formats.records_csv import write_records_csv
from standmap.formats.round_files import StopRow, TripLine, WalkFile, walk_csv
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Tree

NAMES = ["plain", "com,ma", 'say "oak"', "semi;colon", "=1+1", "+1", "-1", "@x", "'=1", "koivu 🌳", " spaces "]
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def trees() -> bytes:
    return write_trees_csv(
        Stand(trees=tuple(Tree(f"k{n}", name, (29.0 + n, 62.0), note="a\nb") for n, name in enumerate(NAMES)))
    )


def returns() -> bytes:
    kept = tuple(Tree(f"k{n}", name, (29.0, 62.0)) for n, name in enumerate(NAMES))
    holes = tuple(TapHole(f"h{t.key}", t.key, 1, Wound.HOLE, date(2025, 4, 1), note=t.name) for t in kept)
    return write_records_csv(Stand(trees=kept, holes=holes))


def walk() -> bytes:
    stops = tuple(StopRow(n, name, f"k{n}", (29.0, 62.0), 3.0, 3.0, 1.0, 2.0, 1.0) for n, name in enumerate(NAMES))
    return walk_csv(WalkFile("R", date(2025, 4, 2), (TripLine(1, 1, (), stops),)))


WRITERS = [trees, returns, walk]


def parsed(content: bytes) -> list[list[str]]:
    """Split a table by section 2 of the RFC, character by character; anything it does not allow fails."""
    text = content.decode("utf-8")
    records: list[list[str]] = []
    record: list[str] = []
    at = 0
    while at < len(text):
        if text[at] == '"':
            cell, at = "", at + 1
            while text[at] != '"' or text[at : at + 2] == '""':
                cell += text[at]
                at += 2 if text[at] == '"' else 1
            at += 1
        else:
            start = at
            while text[at] not in ',\r\n"':
                at += 1
            cell = text[start:at]
        record.append(cell)
        if text[at] == ",":
            at += 1
        else:
            assert text[at : at + 2] == "\r\n"
            at += 2
            records.append(record)
            record = []
    assert record == []
    return records


@pytest.mark.parametrize("writer", WRITERS)
def test_records_end_in_crlf_and_have_as_many_cells_as_the_header(writer: Callable[[], bytes]) -> None:
    content = writer()
    assert content.endswith(b"\r\n")
    assert not content.startswith(b"\xef\xbb\xbf")
    records = parsed(content)
    assert len(records) == 1 + len(NAMES)
    assert {len(record) for record in records} == {len(records[0])}
    assert len(set(records[0])) == len(records[0])


@pytest.mark.parametrize("writer", WRITERS)
def test_the_csv_module_reads_the_same(writer: Callable[[], bytes]) -> None:
    content = writer()
    assert list(csv.reader(io.StringIO(content.decode("utf-8"), newline=""), strict=True)) == parsed(content)


@pytest.mark.parametrize("writer", WRITERS)
def test_no_text_cell_starts_like_a_formula(writer: Callable[[], bytes]) -> None:
    header, *records = parsed(writer())
    for record in records:
        for name, cell in zip(header, record, strict=True):
            if name in {"name", "tree", "id", "note"}:
                assert not cell.startswith(FORMULA_STARTS)


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=8), min_size=2, max_size=4))
@settings(deadline=None)
def test_any_cells_survive(cells: list[str]) -> None:
    header = [f"c{n}" for n in range(len(cells))]
    assert parsed(to_bytes(header, [cells])) == [header, cells]
