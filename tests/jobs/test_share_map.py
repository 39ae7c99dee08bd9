from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.share_map import GATE_HIDDEN_M, ShareOptions, share, shared_page
from standmap.stand.ground import Area, AreaKind, Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Tree
from standmap.survey.frame import true_distance
from tests.jobs.phone.browser import CHROMIUM, DRIVER, LACKING, Phone
from tests.jobs.phone.walks import DAY, GATE, GROUND, NASTY, at

OWNED = Area(
    "owned", "Old Meadow Farm", AreaKind.PERMITTED,
    ((at(-60, -20), at(220, -20), at(220, 140), at(-60, -20)),),
    owner="Somebody", until_date=date(2026, 5, 1), most_trees=30, note="key under the stone",
)  # fmt: skip
WOOD = replace(
    GROUND,
    areas=(*GROUND.areas, OWNED),
    trees=(
        Tree("t1", "A1", at(20, 30), species="Betula pendula", note="wasps"),
        Tree("t2", "A2", at(20, 75)),
    ),
    holes=(TapHole("h1", "t1", 1, Wound.HOLE, DAY),),
    measurements=(Measurement("m1", "t1", DAY, 842.0, None, "84.2", "cm"),),
    places=(*GROUND.places, Place("drop", "undercut bank", PlaceKind.HAZARD, at(90, 48), note="deep")),
)
SECRETS = ("Old Meadow", "Somebody", "2026-05-01", "at most 30", "key under", "wasps", "deep")


def features(page: str) -> list[dict[str, Any]]:
    """Return the things of a map, each with its texts."""
    found = re.search(r"_add\((\{.*\})\);", page)
    texts = re.search(r'id="texts">(.*?)</script>', page)
    assert found
    assert texts
    told: list[dict[str, Any]] = json.loads(found[1])["features"]
    things = json.loads(texts[1])["things"]
    return [{**one, "properties": {**one["properties"], **things[one["properties"]["number"]]}} for one in told]


def positions(coordinates: Any) -> Iterator[tuple[float, float]]:
    if isinstance(coordinates[0], int | float):
        yield coordinates[0], coordinates[1]
    else:
        for part in coordinates:
            yield from positions(part)


def test_owner_gate_and_notes_stay_at_home() -> None:
    page = shared_page(WOOD, "wood", DAY, ShareOptions())
    assert [secret for secret in SECRETS if secret in page] == []
    assert "the gate is not shown" in page
    told = [f["properties"]["told"] for f in features(page)]
    assert ["A1", "Betula pendula", "girth 842 mm"] in told
    assert ["no-go area"] in told
    # Nothing ends at the gate either, for that would tell where it is; the outline that was permitted is no way there.
    near = [
        at
        for feature in features(page)
        if feature["geometry"]["type"] != "Polygon"
        for at in positions(feature["geometry"]["coordinates"])
        if true_distance(GATE.at, at) < GATE_HIDDEN_M - 0.1
    ]
    assert near == []
    assert "path" in [told[0] for told in told if told]


def test_each_is_told_when_asked_for() -> None:
    page = shared_page(WOOD, "wood", DAY, ShareOptions(owner=True, gate=True, notes=True))
    assert [secret for secret in SECRETS if secret not in page] == []
    assert "the gate is not shown" not in page
    shown = [at for feature in features(page) for at in positions(feature["geometry"]["coordinates"])]
    assert GATE.at in shown
    without_notes = shared_page(WOOD, "wood", DAY, ShareOptions(owner=True))
    assert "Somebody" in without_notes
    assert "key under" not in without_notes


def test_a_tree_with_its_tube_in_is_filled() -> None:
    fills = {f["properties"]["label"]: f["properties"]["style"]["fillColor"] for f in features(
        shared_page(WOOD, "wood", DAY, ShareOptions())
    ) if f["properties"]["label"] in ("A1", "A2")}  # fmt: skip
    assert fills["A1"] != fills["A2"]


def test_nothing_but_its_own_scripts_is_in_the_page() -> None:
    page = shared_page(WOOD, "wood", DAY, ShareOptions())
    tags = re.findall(r"<(?:script|link|img|iframe|style|base)\b[^>]*>", page)
    assert set(tags) == {"<script>", "<style>", '<script type="application/json" id="texts">'}
    policy = html.unescape(re.search(r'Content-Security-Policy" content="([^"]+)"', page)[1])  # type: ignore[index]
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe" not in policy
    assert "http" not in policy
    assert "Redistributions in binary form must reproduce" in page  # Leaflet's licence goes with it


def test_a_map_is_written_once_and_only_as_a_page(tmp_path: Path) -> None:
    path = share(WOOD, "wood", tmp_path / "map.html", DAY)
    assert path.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    with pytest.raises(UserError, match="is there already"):
        share(WOOD, "wood", path, DAY)
    share(WOOD, "other", path, DAY, replace=True)
    assert "<title>other</title>" in path.read_text(encoding="utf-8")
    with pytest.raises(UserError, match=r"ends in \.html"):
        share(WOOD, "wood", tmp_path / "map.pdf", DAY)
    with pytest.raises(NothingToDo):
        share(Stand(), "wood", tmp_path / "none.html", DAY)
    assert [file.name for file in tmp_path.iterdir()] == ["map.html"]


@pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason=LACKING)
def test_it_opens_without_a_network_and_names_pass_unharmed(tmp_path: Path) -> None:
    trees = tuple(Tree(f"t{i}", name, at(20 + 30 * i, 75)) for i, name in enumerate(NASTY))
    nasty = replace(WOOD, trees=trees, places=(GATE, Place("p", NASTY[0], PlaceKind.TANK, at(0, 10))))
    page = share(nasty, NASTY[0], tmp_path / "map.html", DAY)
    phone = Phone(tmp_path / "profile", tmp_path / "downloads")
    try:
        phone.asked_for()
        phone.driver.get(page.as_uri())
        phone.until(lambda: len(phone.all("path.leaflet-interactive")) > 5)
        assert phone.driver.title == NASTY[0]
        told = phone.js("return [...document.querySelectorAll('.leaflet-tooltip div')].map((e) => e.textContent)")
        assert set(NASTY) <= set(told)
        phone.js(
            "document.querySelector('path.leaflet-interactive:last-of-type')"
            ".dispatchEvent(new MouseEvent('click', {bubbles: true}))"
        )
        phone.until(lambda: phone.all(".leaflet-popup-content"))
        assert phone.js("return document.querySelector('.leaflet-popup-content div div').textContent") in NASTY
        assert [url for url in phone.asked_for() if not url.startswith(("file:", "data:"))] == []
        assert phone.complaints() == []
    finally:
        phone.close()
