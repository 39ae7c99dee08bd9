"""What a night is expected to give, as planning asks for it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from standmap.sap.expected import DEFAULT_RUN_ML, SAP_KG_PER_L, VESSEL_ML, expected_runs, learned, night_runs
from standmap.sap.spread import run_spreads
from standmap.stand.records import Weather
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Collection, TapHole, Wound
from standmap.stand.tree import Measurement, Tree


def stand(*collections: tuple[str, int, float]) -> Stand:
    """Return two trees tapped on 20 March, with collections as hole, day of March and litres."""
    trees = (Tree("a", "B1", (27, 62)), Tree("b", "B2", (27, 62)))
    holes = tuple(TapHole(f"h{t.key}", t.key, 1, Wound.HOLE, date(2026, 3, 20)) for t in trees)
    taken = tuple(
        Collection(str(i), hole, date(2026, 3, day), None, litres * 1000, "", "l")
        for i, (hole, day, litres) in enumerate(collections)
    )
    return Stand(trees=trees, holes=holes, collections=taken)


def test_density_is_that_of_a_thin_sugar_solution() -> None:
    """CRC Handbook: 998.2 kg/m3 at 0 %, 1002.1 at 1 %, 1006.0 at 2 % sucrose, 20 degrees."""
    assert pytest.approx(1002.1) == SAP_KG_PER_L * 1000
    # 20 L of 1 degree Brix weigh 20.04 kg.
    assert round(20 * SAP_KG_PER_L, 2) == 20.04


def test_without_records_a_usual_night_is_assumed_and_wide() -> None:
    run = expected_runs(stand(), ["a"])["a"]
    assert run.volume_ml == pytest.approx(DEFAULT_RUN_ML)
    assert (run.basis, run.assumed) == ("assumed until there are records", True)
    spread = run_spreads(stand(), ["a"])["a"]
    assert spread.low_ml < 1000 < VESSEL_ML < 10_000 < spread.high_ml
    assert spread.basis == "published daily figures for silver birch, until there are records"


def test_own_nights_draw_a_tree_towards_them_and_the_others_less() -> None:
    rows = [("ha", day, 1.0) for day in range(21, 31)] + [("hb", day, 2.0) for day in range(21, 31)]
    two = stand(*rows)
    two = replace(two, trees=(*two.trees, Tree("c", "B3", (27, 62))))
    runs = expected_runs(two, ["a", "b", "c"])
    assert 1000 < runs["a"].volume_ml < 1400 < runs["c"].volume_ml < DEFAULT_RUN_ML
    assert runs["a"].volume_ml < runs["c"].volume_ml < runs["b"].volume_ml
    assert runs["a"].basis == "10 recorded nights of this tree among 20 of this stand"
    assert runs["c"].basis == "20 recorded nights of this stand"
    assert not runs["c"].assumed


def test_one_night_is_told_in_the_singular() -> None:
    runs = expected_runs(stand(("ha", 21, 1.0)), ["a", "b"])
    assert runs["a"].basis == "1 recorded night of this tree among 1 of this stand"
    assert runs["b"].basis == "1 recorded night of this stand"


def test_a_thicker_stem_is_expected_to_give_more() -> None:
    girths = tuple(Measurement(f"m{k}", k, None, mm, None, "", "mm") for k, mm in (("a", 700.0), ("b", 1100.0)))
    runs = expected_runs(replace(stand(), measurements=girths), ["a", "b"])
    assert runs["a"].volume_ml < DEFAULT_RUN_ML < runs["b"].volume_ml


def test_a_day_is_told_under_its_own_weather() -> None:
    warm = Weather("w", date(2026, 4, 2), None, 9.0, None)
    cold = Weather("c", date(2026, 4, 5), 1.0, None, 3.0)
    with_weather = replace(stand(), weather=(warm, cold))
    model = learned(with_weather)
    usual = night_runs(with_weather, ["a"], model)["a"]
    on = {day: night_runs(with_weather, ["a"], model, date(2026, 4, day))["a"] for day in (2, 3, 4, 5, 6)}
    assert on[2] == on[3] == night_runs(with_weather, ["a"], model, date(2026, 4, 9), 9.0)["a"]
    assert on[5].median_ml < usual.median_ml < on[2].median_ml
    assert usual.spread > on[6].spread
    assert on[4].median_ml == usual.median_ml


def test_nobody_asked_about_is_nothing_learned() -> None:
    assert night_runs(stand(), []) == {}
