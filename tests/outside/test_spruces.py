"""Two real mapped stands: their verdicts follow from the numbers and names in the files alone.

Data: spatstat.data 3.0-0 (see tests/data/stand/README.md).
"""

import csv
from collections import Counter
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from standmap.rules.ruleset import load
from standmap.rules.verdicts import Verdict, judge_all
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Measurement, Tree
from standmap.units import to_mm

DATA = Path(__file__).parents[1] / "data" / "stand"


def rows_of(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def stand_of(rows: list[dict[str, str]], species: str | None = None) -> Stand:
    """A stand on the equator, where a degree of either kind is nearly the same length."""
    metre = 1 / 111_195
    trees, measurements = [], []
    for i, row in enumerate(rows):
        at = (float(row["x_m"]) * metre, float(row["y_m"]) * metre)
        trees.append(Tree(f"k{i}", f"S{i + 1}", at, species=species or row["species"]))
        if row["dbh_cm"]:
            diameter_mm = to_mm(Decimal(row["dbh_cm"]), "cm")
            on = date(2025, 9, 1)
            measurements.append(Measurement(f"m{i}", f"k{i}", on, None, diameter_mm, row["dbh_cm"], "cm"))
    return Stand(tuple(trees), tuple(measurements))


def counts(stand: Stand, rule_set: str) -> Counter[Verdict]:
    return Counter(j.verdict for j in judge_all(stand, 2026, load(rule_set)))


@pytest.mark.parametrize(
    ("rule_set", "species", "least_cm"),
    [
        ("cautious", "Betula pendula", 22.86),
        ("lithuania-state-land", "Betula pendula", 20.0),
        ("alaska", "paper birch", 20.32),
        ("maple-conservative", "sugar maple", 30.48),
    ],
)
def test_spruces_taken_for_birches_are_ready_as_their_diameters_say(
    rule_set: str, species: str, least_cm: float
) -> None:
    rows = rows_of("spruces.csv")
    thick = sum(float(row["dbh_cm"]) >= least_cm for row in rows)
    assert len(rows) == 134
    assert 0 < thick < 134
    assert counts(stand_of(rows, species), rule_set) == {Verdict.READY: thick, Verdict.GROWING_ON: 134 - thick}


def test_spruces_under_a_rule_that_wants_more_than_twenty() -> None:
    rows = rows_of("spruces.csv")
    thick = sum(float(row["dbh_cm"]) > 20 for row in rows)
    assert any(float(row["dbh_cm"]) == 20 for row in rows)
    assert counts(stand_of(rows, "silver birch"), "russia-own-use")[Verdict.READY] == thick


def test_holes_by_diameter_add_up() -> None:
    rows = rows_of("spruces.csv")
    whole = [float(row["dbh_cm"]) for row in rows]
    holes = sum((d >= 20) + (d >= 27) + (d >= 35) + (d >= 41) for d in whole)
    judged = judge_all(stand_of(rows, "Betula pubescens"), 2026, load("belarus"))
    assert sum(j.holes_allowed for j in judged) == holes


def test_spruces_are_not_birches() -> None:
    assert counts(stand_of(rows_of("spruces.csv")), "cautious") == {Verdict.UNFIT: 134}


def test_a_wood_without_diameters_is_unsure_where_the_species_fits() -> None:
    stand = stand_of(rows_of("lansing.csv"))
    assert counts(stand, "maple-conservative") == {Verdict.UNSURE: 514, Verdict.UNFIT: 2251 - 514}
    assert counts(stand, "cautious") == {Verdict.UNFIT: 2251}


def test_felling_half_a_wood_leaves_the_other_half() -> None:
    stand = stand_of(rows_of("spruces.csv"), "Betula pendula")
    later = replace(stand, trees=stand.trees[::2])
    assert sum(counts(later, "cautious").values()) == 67
