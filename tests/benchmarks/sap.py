"""How well nights are told on invented stands whose truth is known, and how long learning takes.

- cover: nights of a season to come, and tonight in a season with records: which part lies in the told intervals
- seasons: error of a tree's own level and width of the interval after so many seasons of records
- overflow: chances told of a vessel, put together, against how many ran over
- times: learning, and telling of many trees
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from standmap.sap.calibration import calibrated
from standmap.sap.model import SapModel, learn
from standmap.sap.priors import PUBLISHED
from standmap.sap.records import SapRecords, records_of
from standmap.stand.snapshot import Stand
from tests.sap.invented import FIRST_YEAR, Invented, Truth, invented, records

VESSEL_ML = 4500.0


def stands(
    count: int, seed: int, seasons: int, *, lasting: float = 0.0, wild: float | None = None
) -> Iterator[tuple[Truth, Invented]]:
    """Return stands of 20 trees and 15 nights a season, whose truth is drawn from what is believed of stands."""
    rng = np.random.default_rng(seed)
    beliefs = PUBLISHED
    for number in range(count):
        truth = Truth(
            median_ml=float(beliefs.run_ml.value * np.exp(rng.normal(0, beliefs.run_ml.spread))),
            girth=float(rng.normal(beliefs.girth.value, beliefs.girth.spread)),
            warmth=float(rng.normal(beliefs.warmth.value, beliefs.warmth.spread)),
            **{
                name: float(getattr(beliefs, name).value * np.exp(rng.normal(0, getattr(beliefs, name).spread)))
                for name in ("year", "day", "tree", "rest")
            },
            lasting=lasting,
            wild=wild,
        )
        yield truth, invented(truth, 20, seasons, 15, seed + number)


def shapes(made: Invented) -> dict[str, SapRecords]:
    """Return the same stand's records as different people would have written them down."""
    return {
        "every night, no overflow": records(made),
        "every night, vessel of 4.5 L": records(made, vessel_ml=VESSEL_ML),
        "every second night": records(made, every=2),
        "totals of five trees": records(made, total_of=5),
        "weather unknown": records(made, known_warmth=False),
    }


def _inside(model: SapModel, made: Invented, nights: list[int], *, weather: bool) -> dict[float, float]:
    keys = [f"t{k:05d}" for k in range(len(made.tree))]
    found: dict[float, list[float]] = {0.5: [], 0.9: []}
    for night in nights:
        warmth = float(made.warmth_c[night]) if weather else None
        runs = model.night_of_each(keys, made.girth_mm.tolist(), made.days[night], warmth)
        for run, true in zip(runs, made.run_ml[night].tolist(), strict=True):
            for part, inside in found.items():
                low, high = run.quantile_ml((1 - part) / 2), run.quantile_ml((1 + part) / 2)
                inside.append(float(low <= true <= high))
    return {part: float(np.mean(inside)) for part, inside in found.items()}


def cover(count: int, seed: int) -> list[dict[str, object]]:
    """Return the part of nights inside, for the next season and for later nights of a season with records."""
    found: dict[tuple[str, int, str], list[dict[float, float]]] = {}
    as_believed = ((made, shapes(made)) for _, made in stands(count, seed, 6))
    otherwise = (
        (made, {"nights lasting 0.7, rest wild": records(made)})
        for _, made in stands(count, seed, 6, lasting=0.7, wild=4.0)
    )
    for made, each in (*as_believed, *otherwise):
        for shape, known in each.items():
            weather = shape != "weather unknown"
            for seasons in (0, 1, 3, 5):
                model = learn(known.before(FIRST_YEAR + seasons))
                mine = np.flatnonzero(made.season == seasons)
                found.setdefault((shape, seasons, "next season"), []).append(
                    _inside(model, made, mine.tolist(), weather=weather)
                )
                begun = np.array([day < made.days[mine[8]] for day in known.days])
                early = np.ones(known.rows, np.bool_)
                np.logical_and.at(early, known.part_row, begun[known.part_day])
                model = learn(known.kept(early))
                found.setdefault((shape, seasons, "later this season"), []).append(
                    _inside(model, made, mine[8:].tolist(), weather=weather)
                )
    return [
        {
            "records": shape,
            "seasons": seasons,
            "told": told,
            "stands": len(rows),
            "inside_50": round(float(np.mean([row[0.5] for row in rows])), 3),
            "inside_90": round(float(np.mean([row[0.9] for row in rows])), 3),
        }
        for (shape, seasons, told), rows in found.items()
    ]


def seasons_learned(count: int, seed: int) -> list[dict[str, object]]:
    """Return error and width after so many seasons, at the warmth of the usual night."""
    found: dict[int, list[tuple[float, float, float]]] = {}
    for truth, made in stands(count, seed, 5):
        keys = [f"t{k:05d}" for k in range(len(made.tree))]
        true = np.log(truth.median_ml) + truth.girth * np.log(made.girth_mm / 785) + made.tree
        known = records(made, vessel_ml=VESSEL_ML)
        for seasons in (0, 1, 3, 5):
            model = learn(known.before(FIRST_YEAR + seasons))
            middle, spread = model.logs(keys, made.girth_mm.tolist(), None, PUBLISHED.warmth_c.value)
            shared = float(np.abs((middle - true).mean()))
            own = float(np.std(middle - true))
            found.setdefault(seasons, []).append((shared, own, float(spread.mean())))
    return [
        {
            "seasons": seasons,
            "stands": len(rows),
            "level_off": round(float(np.mean([row[0] for row in rows])), 3),
            "tree_off": round(float(np.mean([row[1] for row in rows])), 3),
            "spread": round(float(np.mean([row[2] for row in rows])), 3),
        }
        for seasons, rows in found.items()
    ]


def overflow(count: int, seed: int) -> list[dict[str, object]]:
    """Return chances told and come, all stands together."""
    told: dict[tuple[float, float], list[tuple[int, float, float]]] = {}
    for _, made in stands(count, seed, 5):
        for chance in calibrated(records(made, vessel_ml=VESSEL_ML), VESSEL_ML).chances:
            told.setdefault((chance.least, chance.most), []).append((chance.collections, chance.told, chance.came))
    rows: list[dict[str, object]] = []
    for (least, most), parts in sorted(told.items()):
        weights = [n for n, _, _ in parts]
        rows.append(
            {
                "from": least,
                "to": most,
                "collections": sum(weights),
                "told": round(float(np.average([t for _, t, _ in parts], weights=weights)), 3),
                "came": round(float(np.average([c for _, _, c in parts], weights=weights)), 3),
            }
        )
    return rows


def times(seed: int) -> list[dict[str, object]]:
    """Return seconds of the wall clock and of the processor."""
    rows: list[dict[str, object]] = []
    for trees, seasons, nights, more in (
        (20, 5, 15, {}),
        (20, 5, 15, {"vessel_ml": VESSEL_ML}),
        (20, 5, 15, {"every": 3}),
        (200, 10, 20, {}),
        (200, 10, 20, {"vessel_ml": VESSEL_ML}),
        (200, 10, 20, {"every": 2, "vessel_ml": VESSEL_ML}),
        (1000, 10, 20, {"vessel_ml": VESSEL_ML}),
    ):
        known = records(invented(Truth(), trees, seasons, nights, seed), **more)
        wall, used = time.perf_counter(), time.process_time()
        learn(known)
        rows.append(
            {
                "trees": trees,
                "seasons": seasons,
                "nights": nights,
                **more,
                "rows": known.rows,
                "seconds": round(time.perf_counter() - wall, 3),
                "processor_seconds": round(time.process_time() - used, 3),
            }
        )
    model = learn(records_of(Stand()))
    keys = [f"t{k}" for k in range(100_000)]
    begun = time.perf_counter()
    model.night_of_each(keys, [900.0] * len(keys))
    return [*rows, {"told_trees": len(keys), "seconds": round(time.perf_counter() - begun, 3)}]


def main() -> None:
    """Run and print a JSON object."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--stands", type=int, default=40)
    parser.add_argument("--seed", type=int, default=20260401)
    parser.add_argument("--only", choices=["cover", "seasons", "overflow", "times"])
    parser.add_argument("--json", action="store_true", help="as always")
    options = parser.parse_args()
    parts = {
        "times": lambda: times(options.seed),
        "seasons": lambda: seasons_learned(options.stands, options.seed),
        "overflow": lambda: overflow(options.stands, options.seed),
        "cover": lambda: cover(options.stands, options.seed),
    }
    found = {name: part() for name, part in parts.items() if options.only in (None, name)}
    print(json.dumps({"seed": options.seed, **found}, indent=1))


if __name__ == "__main__":
    main()
