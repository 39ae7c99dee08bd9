"""The reader of published route files: usual ways of writing them, and what it has to refuse."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.outside.route_files import DATA, best_known, read_file

SQUARE = """NAME : square
COMMENT : four corners (Optimal value: 40)
TYPE : TSP
DIMENSION : 4
EDGE_WEIGHT_TYPE : EUC_2D
NODE_COORD_SECTION
1 0 0
2 10 0
3 10 10
4 0 10
EOF
"""

TRIPS = """NAME: pairs
TYPE: CVRP
DIMENSION: 3
CAPACITY: 10
EDGE_WEIGHT_TYPE: EUC_2D
NODE_COORD_SECTION
7 3.0e0 4.0
8 0 0
9 6 8
DEMAND_SECTION
7 4
8 0
9 6
DEPOT_SECTION
8
-1
EOF
"""


def written(folder: Path, text: str, name: str = "case.tsp") -> Path:
    path = folder / name
    path.write_text(text)
    return path


@pytest.mark.parametrize(
    "change",
    [
        ("", ""),
        (" : ", ":"),
        (" : ", ":\t"),
        ("EOF\n", ""),
        ("\n", "\r\n"),
        ("NODE_COORD_SECTION", "NODE_COORD_SECTION : "),
        ("TYPE : TSP\n", ""),
        ("10 10", " 1.0E+01\t10.000 "),
        ("COMMENT", "COMMENT : drawn by hand\nCOMMENT"),
    ],
)
def test_usual_ways_of_writing_are_understood(tmp_path: Path, change: tuple[str, str]) -> None:
    path = written(tmp_path, SQUARE.replace(*change))
    found = read_file(path)
    assert found.nodes == (1, 2, 3, 4)
    assert found.cost.tolist()[0] == [0, 10, 14, 10]
    assert not found.in_trips
    assert best_known(path, found) == 40


@pytest.mark.parametrize(
    ("rule", "cost"), [("EUC_2D", 14), ("CEIL_2D", 15), ("MAN_2D", 20), ("MAX_2D", 10), ("ATT", 5)]
)
def test_legs_are_rounded_as_the_file_says(tmp_path: Path, rule: str, cost: int) -> None:
    assert read_file(written(tmp_path, SQUARE.replace("EUC_2D", rule))).cost[0, 2] == cost


def test_the_depot_comes_first_and_numbers_stay_as_written(tmp_path: Path) -> None:
    found = read_file(written(tmp_path, TRIPS))
    assert found.nodes == (8, 7, 9)
    assert found.loads.tolist() == [4, 6]
    assert (found.capacity, found.in_trips) == (10, True)
    assert found.cost.tolist() == [[0, 5, 10], [5, 0, 5], [10, 5, 0]]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("EUC_2D", "GEO"), "EDGE_WEIGHT_TYPE GEO"),
        (("TYPE: CVRP", "TYPE: ATSP"), "neither"),
        (("DIMENSION: 3", "DIMENSION: 4"), "3 places"),
        (("9 6 8", "9 6 east"), "line 9"),
        (("9 6 8\n", "7 6 8\n"), "number of its own"),
        (("CAPACITY: 10", "CAPACITY: 5"), "demands"),
        (("CAPACITY: 10\n", ""), "CAPACITY"),
        (("9 6\nDEPOT", "DEPOT"), "demand of every place"),
        (("9 6\nDEPOT", "9 6.5\nDEPOT"), "whole numbers"),
        (("\n-1", "\n7\n-1"), "2 depots"),
        (("CAPACITY: 10", "CAPACITY: 10\nDISTANCE: 100"), "longest trip"),
        (("DEPOT_SECTION", "TOUR_SECTION"), "not understood"),
    ],
)
def test_what_is_not_understood_is_named(tmp_path: Path, change: tuple[str, str], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        read_file(written(tmp_path, TRIPS.replace(*change)))


def test_the_best_known_cost_is_found_beside_in_the_comment_or_in_the_list(tmp_path: Path) -> None:
    for name, cost in (
        ("tsp/a280.tsp", 2579),
        ("cvrp/E-n22-k4.vrp", 375),
        ("cvrp/X-n101-k25.vrp", 27591),
        ("tsp/d657.tsp", 48912),
    ):
        assert best_known(DATA / name, read_file(DATA / name)) == cost
    path = written(tmp_path, TRIPS)
    assert best_known(path, read_file(path)) is None


def test_files_run_from_the_command_line_and_come_back_as_a_list(tmp_path: Path) -> None:
    pairs = written(tmp_path, TRIPS, "pairs.vrp")
    square = written(tmp_path, SQUARE, "square.tsp")
    command = [
        sys.executable,
        "tests/benchmarks/rounds.py",
        str(pairs),
        str(square),
        "--seconds",
        "2",
        "--seed",
        "4",
        "--json",
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=DATA.parents[1])
    first, second = json.loads(done.stdout)
    assert {"name", "cost", "best_known", "gap_percent", "seconds", "routes"} <= first.keys()
    assert (first["name"], first["cost"], first["best_known"], first["gap_percent"]) == ("pairs", 20, None, None)
    assert sorted(first["routes"][0]) == [7, 9]
    assert (second["cost"], second["best_known"], second["gap_percent"]) == (40, 40, 0)
    assert second["routes"] == [[1, 2, 3, 4]]
    refused = subprocess.run(
        [*command[:2], str(written(tmp_path, "EDGE_WEIGHT_TYPE: GEO"))],
        capture_output=True,
        text=True,
        cwd=DATA.parents[1],
    )
    assert refused.returncode == 2
    assert "GEO" in refused.stderr
