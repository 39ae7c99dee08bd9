from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.formats.phone_returns import (
    REASONS,
    PhoneReturns,
    is_phone_returns,
    phone_returns_of,
    read_phone_returns,
)
from standmap.stand.tapping import Act

AT = "2026-03-28T06:40:12+02:00"


def held() -> dict[str, Any]:
    return {
        "format": "standmap returns",
        "version": 1,
        "plan": "0196-plan",
        "page": "0123456789ab",
        "purpose": "collecting",
        "day": "2026-03-28",
        "collector": 1,
        "begun_at": AT,
        "written_at": "2026-03-28T08:00:00+02:00",
        "stops": [
            {"stop": "h1", "tree": "A1", "hole": 1, "trip": 1, "at": AT, "what": "done", "given": "3.5", "unit": "l"},
            {"stop": "h2", "tree": "A2", "hole": 2, "trip": 1, "at": AT, "what": "skipped", "reason": "no time"},
        ],
        "trips": [{"trip": 1, "given": "0.5", "unit": "us_gal", "at": AT}],
    }


def read(data: dict[str, Any]) -> PhoneReturns:
    return phone_returns_of(json.dumps(data), "returns.txt")


def test_everything_that_was_entered_is_read() -> None:
    data = held()
    data["stops"][0] |= {
        "overflowed": True, "note": "lid off\r\nwet", "acts": ["taken out", "plugged"], "tag_read": True,
        "height_mm": 950, "side_deg": 315, "depth_mm": 12.5, "bit_mm": 10, "a later page's own": [1],
    }  # fmt: skip
    first, second = read(data).entries
    assert first.volume is not None
    assert (first.volume.ml, first.volume.given, first.volume.unit) == (3500.0, "3.5", "l")
    assert (first.done, first.overflowed, first.note, first.tag_read) == (True, True, "lid off\nwet", True)
    assert first.acts == (Act.TAKEN_OUT, Act.PLUGGED)
    assert (first.height_mm, first.side_deg, first.depth_mm, first.bit_mm) == (950.0, 315.0, 12.5, 10.0)
    assert (second.done, second.reason, second.volume, second.hole) == (False, "no time", None, 2)
    (total,) = read(data).totals
    assert total.trip == 1
    assert total.volume.ml == pytest.approx(1892.705892)


def test_the_file_is_told_by_its_beginning(tmp_path: Path) -> None:
    text = json.dumps(held(), indent=1)
    assert is_phone_returns(text.encode())
    assert is_phone_returns(b"\xef\xbb\xbf " + text.encode())
    assert not is_phone_returns(b'{"type": "FeatureCollection"}')
    assert not is_phone_returns(b"tree,date,what")
    path = tmp_path / "returns.txt"
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())  # some mail programs put a mark in front
    assert read_phone_returns(path) == read(held())


Spoiling = Callable[[dict[str, Any]], object]


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (lambda d: d.update(format="x"), "is not a returns file"),
        (lambda d: d.update(version=2), "is written in layout 2"),
        (lambda d: d.update(plan=""), "'plan' is missing"),
        (lambda d: d.update(purpose="selling"), "'purpose' is none of collecting, tapping, closing"),
        (lambda d: d.update(day="28.3.2026"), "is not a day"),
        (lambda d: d.update(collector=0), "'collector' is not a whole number"),
        (lambda d: d.update(collector=True), "'collector' is not a whole number"),
        (lambda d: d.update(written_at="2026-03-28T08:00:00"), "does not say its offset"),
        (lambda d: d.update(stops={}), "its list 'stops' is missing"),
        (lambda d: d["stops"].append(7), "stop 3 holds nothing"),
        (lambda d: d["stops"].append(dict(d["stops"][0])), "stop 'h1' is in it twice"),
        (lambda d: d["trips"].append(dict(d["trips"][0])), "trip '1' is in it twice"),
        (lambda d: d["stops"][0].update(given="61"), "stop 1 (A1): 61 l cannot be: from 0 to 60 L"),
        (lambda d: d["stops"][0].update(given="-1"), "stop 1 (A1): -1 l cannot be"),
        (lambda d: d["stops"][0].update(given="much"), "stop 1 (A1): 'much' is not a volume"),
        (lambda d: d["stops"][0].update(unit="gal"), "stop 1 (A1): 'unit' is none of"),
        (lambda d: d["stops"][0].update(what="perhaps"), "stop 1 (A1): 'what' is none of"),
        (lambda d: d["stops"][1].update(reason="lazy"), "stop 2 (A2): 'reason' is none of"),
        (lambda d: d["stops"][0].update(acts=["felled"]), "what was done to the wound cannot be read"),
        (lambda d: d["stops"][0].update(note="x" * 2001), "its note is no text, or too long"),
        (lambda d: d["stops"][0].update(overflowed="yes"), "'overflowed' is neither true nor false"),
        (lambda d: d["stops"][0].update(depth_mm=1000), "'depth_mm' is not a number from 0 to 100"),
        (lambda d: d["stops"][0].update(side_deg=float("nan")), "'side_deg' is not a number from 0 to 360"),
        (lambda d: d["trips"][0].update(given="201", unit="l"), "total 1: 201 l cannot be: from 0 to 200 L"),
    ],
)
def test_what_cannot_be_true_is_refused_with_its_stop(spoil: Spoiling, told: str) -> None:
    data = held()
    spoil(data)
    with pytest.raises(UserError) as refused:
        read(data)
    assert str(refused.value).startswith("returns.txt: ")
    assert told in refused.value.what
    assert refused.value.remedy


def test_a_file_cut_off_on_the_way_is_refused(tmp_path: Path) -> None:
    text = json.dumps(held())
    path = tmp_path / "returns.txt"
    for end in (1, len(text) // 2, len(text) - 1):
        path.write_text(text[:end], encoding="utf-8")
        with pytest.raises(UserError, match="not a whole JSON text"):
            read_phone_returns(path)
    path.write_bytes(b"\xff\xfe{")
    with pytest.raises(UserError, match="is not UTF-8"):
        read_phone_returns(path)
    with pytest.raises(UserError, match="no such file"):
        read_phone_returns(tmp_path / "missing.txt")


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=10), inner, max_size=3),
    max_leaves=8,
)


@given(st.data())
def test_a_text_with_anything_in_any_place_is_read_or_refused(data: st.DataObject) -> None:
    spoiled = held()
    row = data.draw(st.sampled_from([spoiled, spoiled["stops"][0], spoiled["stops"][1], spoiled["trips"][0]]))
    row[data.draw(st.sampled_from(sorted(row)))] = data.draw(_JSON)
    try:
        found = phone_returns_of(json.dumps(spoiled))
    except UserError:
        return
    assert all(e.reason in ("", *REASONS) for e in found.entries)
    assert all(e.volume is None or 0 <= e.volume.ml <= 60_000.5 for e in found.entries)


@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    with pytest.raises(UserError):
        phone_returns_of(text)
