"""The sample woods: made again they are the same bytes, and they hold what their stories tell."""

from __future__ import annotations

import csv
import json
import math
import subprocess
import sys
from collections import Counter
from datetime import date, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from standmap.assets import sample_stand
from standmap.jobs.adjust import propose_adjustment, store_adjustment
from standmap.jobs.bring import BringOptions, BringReport, bring
from standmap.jobs.judge import judge
from standmap.jobs.record import record_file
from standmap.jobs.sample_wood import SEASON
from standmap.jobs.when import when
from standmap.messages import Collected
from standmap.rules.verdicts import Verdict
from standmap.season.answer import Phase
from standmap.stand.ground import AreaKind, LineKind, PlaceKind
from standmap.stand.records import Media
from standmap.stand.snapshot import Stand
from standmap.store.stand_file import StandFile
from standmap.survey.frame import true_distance

WOODS = ("alder-brook", "heron-ridge")
GROUND = ("ground.geojson", "trees.csv", "walk.gpx", "measurements.csv")
EVENING = date(2026, 3, 27)


def rows(wood: str, name: str) -> list[dict[str, str]]:
    with sample_stand(wood, name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def brought(request: pytest.FixtureRequest, stand_file: StandFile, now: datetime) -> tuple[Stand, BringReport]:
    sources = [path for name in GROUND if (path := sample_stand(request.param, name)).exists()]
    report = bring(stand_file, sources, BringOptions(), now)
    record_file(stand_file, sample_stand(request.param, "records.csv"), EVENING, now)
    return stand_file.stand(), report


both_woods = pytest.mark.parametrize("brought", WOODS, indirect=True)
the_small_wood = pytest.mark.parametrize("brought", WOODS[:1], indirect=True)


def test_made_again_they_are_the_same_bytes(tmp_path: Path) -> None:
    subprocess.run([sys.executable, sample_stand("make.py"), tmp_path], check=True, capture_output=True)
    made = {path.relative_to(tmp_path): path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    assert len(made) == 16
    for name, content in made.items():
        assert content == sample_stand(str(name)).read_bytes(), name


@pytest.mark.parametrize(("wood", "least", "most"), [("alder-brook", 38, 46), ("heron-ridge", 390, 410)])
def test_as_many_trees_as_the_story_says(wood: str, least: int, most: int) -> None:
    trees = rows(wood, "trees.csv")
    assert least <= len(trees) <= most
    assert len({t["name"] for t in trees}) == len(trees)
    assert all(t["species"].startswith("Betula") for t in trees if t["species"] not in {"", "Alnus glutinosa"})
    known = {t["name"] for t in trees}
    assert {r["tree"] for r in rows(wood, "records.csv")} <= known
    again = rows(wood, "measurements.csv")
    assert len(again) >= 3
    assert {m["name"] for m in again} <= known
    assert again[0].keys() == {"name", "girth_cm", "date"}


@pytest.mark.parametrize("wood", WOODS)
def test_trees_stand_as_far_apart_as_trees_do(wood: str) -> None:
    trees = [((float(t["lon"]), float(t["lat"])), t["rootstock"]) for t in rows(wood, "trees.csv")]
    close = [
        (a[1], b[1])
        for i, a in enumerate(trees)
        for b in trees[i + 1 :]
        # A degree of latitude is 111 km: a quick look before the exact one.
        if abs(a[0][1] - b[0][1]) < 5e-5 and true_distance(a[0], b[0]) < 4.5
    ]
    assert close
    assert all(a == b != "" for a, b in close)


@pytest.mark.parametrize("wood", WOODS)
def test_records_are_such_as_a_person_could_write(wood: str) -> None:
    records = rows(wood, "records.csv")
    assert {r["what"] for r in records} == {"tapped", "collected", "taken out", "plugged", "looked at"}
    assert [r["date"] for r in records] == sorted(r["date"] for r in records)
    assert {r["date"][:4] for r in records} == {"2022", "2023", "2024", "2025", "2026"}
    assert max(r["date"] for r in records) == EVENING.isoformat()
    litres = [float(r["litres"]) for r in records if r["what"] == "collected"]
    assert min(litres) >= 0.1
    assert max(litres) <= 4.5
    # Published means of a day: from 0.54 L when cool and damp up to 6.22 L when warm and sunny (Gryazkin et al. 2023).
    assert 0.54 <= sum(litres) / len(litres) <= 6.22
    holes = Counter((r["tree"], r["date"][:4]) for r in records if r["what"] == "tapped")
    assert set(holes.values()) == {1}


@pytest.mark.parametrize("wood", WOODS)
def test_holes_of_one_stem_are_far_from_each_other(wood: str) -> None:
    girth = {t["name"]: float(t["girth_mm"] or "nan") for t in rows(wood, "trees.csv")}
    sides: dict[str, list[float]] = {}
    for r in rows(wood, "records.csv"):
        if r["what"] == "tapped":
            sides.setdefault(r["tree"], []).append(float(r["side_deg"]))
    pairs = [(name, abs((a - b + 180) % 360 - 180)) for name, (a, *rest) in sides.items() for b in rest]
    assert pairs
    assert all(turned / 360 * girth[name] >= 200 for name, turned in pairs)


@both_woods
def test_every_verdict_is_there(brought: tuple[Stand, BringReport]) -> None:
    stand, report = brought
    assert [s.skipped for s in report.sources] == [()] * len(report.sources)
    judged = judge(stand, 2026)
    assert {v for v, count in judged.counts.items() if count} == set(Verdict)
    assert {j.back_in for _, j in judged.trees if j.verdict is Verdict.RESTING} == {2027, 2028, 2029}


@both_woods
def test_something_is_to_be_collected_the_next_morning(brought: tuple[Stand, BringReport]) -> None:
    stand, _ = brought
    waiting = stand.all_open_holes(date(2026, 3, 28))
    assert len(waiting) == judge(stand, 2026).counts[Verdict.GIVING]
    assert all(stand.collections_of[hole.key][-1].collected_on == EVENING for hole in waiting)


@both_woods
def test_the_ground_holds_every_kind(brought: tuple[Stand, BringReport]) -> None:
    stand, _ = brought
    # The brook of the small wood is crossed at its plank bridge only.
    ford = {PlaceKind.FORD} if len(stand.trees) > 100 else set()
    assert {p.kind for p in stand.places} == set(PlaceKind) - {PlaceKind.FORD} | ford
    assert {line.kind for line in stand.lines} == set(LineKind)
    assert {a.kind for a in stand.areas} == set(AreaKind)
    assert all(a.owner and a.most_trees and a.until_date for a in stand.areas if a.kind is AreaKind.PERMITTED)
    assert any(a.owner == "the commons board" for a in stand.areas)


@the_small_wood
def test_the_walk_halts_at_twelve_birches_of_no_list(brought: tuple[Stand, BringReport]) -> None:
    stand, report = brought
    stops = [stop for source in report.sources for stop in source.stops]
    proposed = [t for t in stand.trees if t.proposed]
    assert len(stops) == len(proposed) == 12
    listed = [t for t in stand.trees if not t.proposed]
    assert min(true_distance(p.at, t.at) for p in proposed for t in listed) > 5
    legs = [true_distance((a.lon, a.lat), (b.lon, b.lat)) for a, b in pairwise(stops)]
    assert min(legs) > 8
    assert all(30 <= (s.to_at - s.from_at).total_seconds() <= 60 for s in stops)
    assert all(math.isfinite(s.sigma_m) for s in stops)
    assert "upper gate" in {p.name for p in stand.places if p.kind is PlaceKind.GATE}


def test_a_survey_of_the_unlisted_slope_names_its_one_misread_tape(stand_file: StandFile, now: datetime) -> None:
    sources = [sample_stand("alder-brook", name) for name in ("walk.gpx", "notes.csv", "field-sheet.csv", "stem.jpg")]
    messages = Collected()
    report = bring(stand_file, sources, BringOptions(), now, messages)
    assert [s.skipped for s in report.sources] == [()] * 4
    assert any("3 h 00 min" in text for text in messages.told)
    stand = stand_file.stand()
    names = {t.name for t in stand.trees}
    noted = {f"N{n:02d}" for n in range(1, 13)}
    assert names == noted | {f"G{n}" for n in range(1, 8)} | {"W1"}
    girthed = {stand.by_key[m.tree_key].name for m in stand.measurements}
    assert girthed == names - {"W1"}
    found = propose_adjustment(stand_file)
    (wrong,) = found.disagreeing
    assert "the distance from G3 to G6" in wrong.text
    # Tape and compass tie two halts together: both become surer, and so does all that hangs on them.
    before = {s.tree: s.sigma_m for s in report.sources[0].stops}
    after = {p.name: p.sigma_m for p in found.points if p.sigma_m is not None}
    assert all(after[n] < 0.9 * before[n] for n in ("N05", "N06"))
    store_adjustment(stand_file, found, now)
    (picture,) = stand_file.rows(Media)
    assert picture.tree_key == next(t.key for t in stand.trees if t.name == "N07")


def test_the_picture_is_small() -> None:
    assert sample_stand("alder-brook", "stem.jpg").stat().st_size < 25_000


@the_small_wood
def test_a_tree_that_was_too_thin_has_grown(brought: tuple[Stand, BringReport]) -> None:
    stand, _ = brought
    before = {t["name"]: float(t["girth_mm"] or 0) for t in rows("alder-brook", "trees.csv")}
    grown = [t for t in rows("alder-brook", "measurements.csv") if before[t["name"]] < 718 < 10 * float(t["girth_cm"])]
    verdicts = {tree.name: judged.verdict for tree, judged in judge(stand, 2026).trees}
    assert [verdicts[t["name"]] for t in grown] == [Verdict.READY]


@pytest.mark.parametrize("wood", WOODS)
def test_ground_is_geojson_as_the_standard_has_it(wood: str) -> None:
    ground = json.loads(sample_stand(wood, "ground.geojson").read_text(encoding="utf-8"))
    for feature in ground["features"]:
        if feature["geometry"]["type"] == "Polygon":
            (ring,) = feature["geometry"]["coordinates"]
            turned = sum((b[0] - a[0]) * (b[1] + a[1]) for a, b in pairwise(ring))
            assert ring[0] == ring[-1]
            assert turned < 0  # counterclockwise


def test_the_weather_and_the_signs_tell_of_one_spring_after_another(stand_file: StandFile, now: datetime) -> None:
    """The models learn of the wood's own springs and do better than their mean day; this spring runs."""
    bring(stand_file, [sample_stand("alder-brook", name) for name in ("trees.csv", *SEASON)], BringOptions(), now)
    stand = stand_file.stand()
    assert max(day.day for day in stand.weather) == EVENING
    assert all(-40 < (day.least_c or 0) <= (day.most_c or 0) < 36 for day in stand.weather)
    tapped = {r["date"] for r in rows("alder-brook", "records.csv") if r["what"] == "tapped"}
    first = {year: min(date.fromisoformat(d) for d in tapped if d.startswith(str(year))) for year in range(2022, 2027)}
    for sign in stand.signs:
        after = (sign.seen_on - first[sign.seen_on.year]).days
        assert {"first sap": -2, "buds opening": 5, "leaf-out": 20}[sign.what] < after
        assert after <= {"first sap": 0, "buds opening": 25, "leaf-out": 45}[sign.what]
    answer = when(stand, date(2026, 3, 28))
    assert answer.phase is Phase.RUNNING
    assert answer.station_km == pytest.approx(6.1, abs=0.2)
    for model in answer.models:
        assert model.own_years == 4
        assert model.error_days is not None
        assert model.mean_error_days is not None
    assert min(m.error_days or 99 for m in answer.models) < (answer.models[0].mean_error_days or 0)
    assert {row.day for row in stand.weather if date(2023, 2, 6) <= row.day <= date(2023, 2, 9)} == set()
