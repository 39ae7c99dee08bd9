"""What a night is expected to give, held against published figures where there are any."""

from __future__ import annotations

from datetime import date

import pytest

from standmap.sap.expected import DEFAULT_RUN_ML, SAP_KG_PER_L, VESSEL_ML, expected_runs
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Collection, TapHole, Wound
from standmap.stand.tree import Tree


def stand(*collections: tuple[str, int, float]) -> Stand:
    """Return two trees tapped on 20 March, with collections as hole, day of March and litres."""
    trees = (Tree("a", "B1", (27, 62)), Tree("b", "B2", (27, 62)))
    holes = tuple(TapHole(f"h{t.key}", t.key, 1, Wound.HOLE, date(2026, 3, 20)) for t in trees)
    taken = tuple(
        Collection(str(i), hole, date(2026, 3, day), None, litres * 1000, "", "l")
        for i, (hole, day, litres) in enumerate(collections)
    )
    return Stand(trees=trees, holes=holes, collections=taken)


def test_the_assumption_lies_between_published_daily_figures() -> None:
    """2.50-6.22 L a tree and day in warm sun (Gryazkin et al. 2023); 3.6 L at 35 years (a Polish study's abstract)."""
    assert 2500 < DEFAULT_RUN_ML < 3600
    assert DEFAULT_RUN_ML < VESSEL_ML
    run = expected_runs(stand(), ["a"])["a"]
    assert (run.volume_ml, run.basis) == (DEFAULT_RUN_ML, "assumed until there are records")


def test_density_is_that_of_a_thin_sugar_solution() -> None:
    """CRC Handbook: 998.2 kg/m3 at 0 %, 1002.1 at 1 %, 1006.0 at 2 % sucrose, 20 degrees."""
    assert pytest.approx(1002.1) == SAP_KG_PER_L * 1000
    # 20 L of 1 degree Brix weigh 20.04 kg.
    assert round(20 * SAP_KG_PER_L, 2) == 20.04


def test_three_nights_of_a_tree_outweigh_the_assumption() -> None:
    two = stand(("ha", 21, 1.0), ("ha", 22, 2.0))
    assert expected_runs(two, ["a"])["a"].volume_ml == DEFAULT_RUN_ML
    three = stand(("ha", 21, 1.0), ("ha", 22, 2.0), ("ha", 23, 6.0))
    assert expected_runs(three, ["a"])["a"].volume_ml == pytest.approx(3000)
    assert expected_runs(three, ["a"])["a"].basis == "mean of 3 recorded nights of this tree"
    assert expected_runs(three, ["b"])["b"].volume_ml == DEFAULT_RUN_ML


def test_a_collection_after_several_nights_is_spread_over_them() -> None:
    run = expected_runs(stand(("ha", 24, 8.0)), ["a"])["a"]
    assert run.volume_ml == pytest.approx(2000)
    assert run.basis.startswith("mean of 4")


def test_ten_nights_of_the_stand_speak_for_a_tree_without_records() -> None:
    rows = [("ha", day, 1.5) for day in range(21, 31)]
    run = expected_runs(stand(*rows), ["b"])["b"]
    assert run.volume_ml == pytest.approx(1500)
    assert run.basis == "mean of 10 recorded nights of this stand"
